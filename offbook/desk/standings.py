"""Where a piece stands, read from the journal: for `progress`, `class` and the plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from offbook.desk.agendas import items_of
from offbook.journal import (
    Connection,
    day_totals,
    marked,
    newest_version,
    practice_days,
    recalls,
    slots_by_version,
    units_by_version,
)
from offbook.moment import local_day
from offbook.progress import HABIT_DAYS, LATELY, OFF_BOOK, Detail, Kept, Standing, detail_of, standing_from
from offbook.records import Piece
from offbook.schedule import Item


def kept_of(conn: Connection, piece: Piece, today: date, items: Sequence[Item] | None = None) -> Kept:
    """What the journal keeps of a piece, for its standing on the local day `today`.

    items: its thoughts as the schedule sees them, where they are at hand.
    """
    return Kept(
        day_totals(conn, piece.id, OFF_BOOK),
        recalls(conn, piece.id, LATELY),
        marked(conn, piece.id, LATELY),
        units_by_version(conn, piece.id),
        items_of(conn, [piece]) if items is None else items,
        frozenset(practice_days(conn, piece.id, today - timedelta(days=HABIT_DAYS - 1))),
    )


def standing(conn: Connection, piece: Piece, now: datetime) -> Standing:
    """Where `piece` stands at the moment `now`."""
    today = local_day(now, piece.zone)
    return standing_from(piece, today, kept_of(conn, piece, today))


def detail(conn: Connection, piece: Piece, last: int = LATELY) -> Detail | None:
    """The `last` run-throughs laid on the newest draft; None while the piece has no script."""
    version = newest_version(conn, piece.id)
    if version is None:
        return None
    return detail_of(version, marked(conn, piece.id, last), slots_by_version(conn, piece.id))
