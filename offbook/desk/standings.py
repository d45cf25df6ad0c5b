"""How well pieces are known, from the journal: for `progress`, `class` and the plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from offbook.desk.agendas import items_of
from offbook.journal import (
    Connection,
    day_totals,
    newest_runs,
    newest_version,
    practice_days,
    slots_by_version,
    units_by_version,
)
from offbook.moment import local_day
from offbook.progress import HABIT_DAYS, LATELY, OFF_BOOK, Detail, Kept, Standing, detail_of, standing_from
from offbook.records import Piece
from offbook.schedule import Item


def kept_by_piece(
    conn: Connection, wanted: Sequence[Piece], today: date, items: Sequence[Item] | None = None
) -> dict[str, Kept]:
    """For each piece's key, what its standing near the local day `today` is worked out from.

    items: the thoughts of all these pieces as the schedule sees them; None to read them here.
    """
    ids = [p.id for p in wanted]
    mine: dict[str, list[Item]] = {key: [] for key in ids}
    for item in items_of(conn, wanted) if items is None else items:
        mine[item.piece_id].append(item)
    totals, newest = day_totals(conn, ids, OFF_BOOK), newest_runs(conn, ids, LATELY)
    units = units_by_version(conn, ids)
    # This is one day more than is used: between two time zones the local day differs by one at most.
    days = practice_days(conn, ids, today - timedelta(days=HABIT_DAYS))
    return {
        key: Kept(totals[key], newest[key].rated, newest[key].marked, units, mine[key], frozenset(days[key]))
        for key in ids
    }


def standing(conn: Connection, piece: Piece, now: datetime) -> Standing:
    """How well `piece` is known at the moment `now`."""
    today = local_day(now, piece.zone)
    return standing_from(piece, today, kept_by_piece(conn, [piece], today)[piece.id])


def detail(conn: Connection, piece: Piece, last: int = LATELY) -> Detail | None:
    """The newest `last` run-throughs by line and by thought; None while the piece has no script."""
    version = newest_version(conn, piece.id)
    if version is None:
        return None
    lately = newest_runs(conn, [piece.id], last)[piece.id].marked
    return detail_of(version, lately, slots_by_version(conn, piece.id))
