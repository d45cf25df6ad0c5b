"""A whole class at once: every performer's pieces, those at risk first, from a few queries.

The order needs no forecast. It compares the days left with the days that a piece usually still takes, as a
coach would. A forecast takes some milliseconds, so only the pieces that are shown get one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from offbook.desk.briefs import BriefKept, briefs_read
from offbook.desk.standings import kept_by_piece
from offbook.journal import Connection, briefs, chosen_takes, performers, pieces_of, summaries
from offbook.moment import local_day
from offbook.plan import CLEAN_DAYS
from offbook.progress import OFF_BOOK, Forecast, is_clean, standing_from
from offbook.records import NOTHING_YET, Piece, RunRow, Summary

# Days that a piece usually still takes, by how well it is known. Set by hand: only their order matters here.
NOT_BEGUN, BEGUN, RUN_THROUGH, ONE_CLEAN, SLIPPED = 12, 8, 5, 2, 2
# Slack in days that comes before and after every real one: of a brief that was not sent in time, and of a
# piece that nobody needs on a day.
LATE, NO_DATE = -1000, 10_000


@dataclass(frozen=True, slots=True)
class ClassRow:
    """One piece of one performer.

    needed: its own date or the nearest open deadline; brief: the brief with that deadline, or the last one
    that was sent; sent, late: what became of that brief; chosen: a take is chosen for it; slack: the days
    left, less those that the piece usually still takes; seen: the share of its thoughts that a drill has
    asked for, 0 to 1.
    """

    piece: Piece
    today: date
    needed: date | None
    brief: BriefKept | None
    sent: bool
    late: bool
    chosen: bool
    stand: Summary
    slack: int
    forecast: Forecast | None = None
    seen: float | None = None

    @property
    def days_left(self) -> int | None:
        """Days until it is needed; None where it is needed on no day."""
        return None if self.needed is None else (self.needed - self.today).days

    @property
    def latest(self) -> RunRow | None:
        """The newest run-through."""
        return self.stand.runs[-1] if self.stand.runs else None

    @property
    def holds(self) -> bool:
        """Whether it is off book and the newest run-through was clean too."""
        latest = self.latest
        return self.off_book and latest is not None and is_clean(latest)

    @property
    def off_book(self) -> bool:
        """Whether it was clean on two days, whatever came after."""
        return self.stand.clean_days >= CLEAN_DAYS


def class_rows(
    conn: Connection, now: datetime, performer_id: str | None = None, *, past: bool = False
) -> list[ClassRow]:
    """Every piece of everybody, or of one performer, most at risk first.

    past: also those whose day is over and that nothing is to be sent of.
    """
    owned: dict[str, list[Piece]] = {}
    for piece in pieces_of(conn, performer_id):
        owned.setdefault(piece.performer_id, []).append(piece)
    stands = summaries(conn, performer_id, clean_percent=OFF_BOOK)
    chosen = chosen_takes(conn)
    rows_of: dict[str, list[BriefKept]] = {}
    everybody = {p.id: p for p in performers(conn)}
    for row in briefs(conn, performer_id):
        person = everybody[row.performer_id]
        rows_of.setdefault(person.id, []).extend(briefs_read([row], person, owned.get(person.id, ())))
    found = []
    for person_id, theirs in owned.items():
        today = local_day(now, everybody[person_id].zone)
        by_piece = _by_piece(rows_of.get(person_id, ()))
        for piece in theirs:
            stand = stands.get(piece.id, NOTHING_YET)
            found.append(_row(piece, today, by_piece.get(piece.id), stand, chosen, now))
    kept = [r for r in found if past or r.late or r.days_left is None or r.days_left >= 0]
    return sorted(kept, key=lambda r: (r.slack, r.piece.performer, r.piece.name))


def _by_piece(kept: Sequence[BriefKept]) -> dict[str, BriefKept]:
    """For each piece the brief that matters: the nearest open one, or the last one that was sent."""

    def rank(b: BriefKept) -> tuple[bool, float]:
        at = b.row.deadline.timestamp()
        return (b.row.sent_at is not None, at if b.row.sent_at is None else -at)

    found: dict[str, BriefKept] = {}
    for b in sorted(kept, key=rank):
        for piece in b.pieces:
            found.setdefault(piece.id, b)
    return found


def _row(
    piece: Piece,
    today: date,
    kept: BriefKept | None,
    stand: Summary,
    chosen: Mapping[str, set[str | None]],
    now: datetime,
) -> ClassRow:
    sent = kept is not None and kept.row.sent_at is not None
    late = kept is not None and not sent and kept.row.deadline < now
    dates = [] if piece.due_day is None or piece.due_day < today else [piece.due_day]
    if kept is not None and not sent:
        dates.append(local_day(kept.row.deadline, piece.zone))
    needed = min(dates, default=piece.due_day)
    takes = chosen.get(piece.id, set())
    have = kept is not None and bool(takes & {None, kept.row.id})
    slack = LATE if late else NO_DATE if needed is None else (needed - today).days - _still_takes(stand)
    return ClassRow(piece, today, needed, kept, sent, late, have, stand, slack)


def _still_takes(stand: Summary) -> int:
    """The days a piece usually still takes."""
    if stand.clean_days >= CLEAN_DAYS:
        return 0 if stand.runs and is_clean(stand.runs[-1]) else SLIPPED
    if stand.clean_days:
        return ONE_CLEAN
    if stand.runs:
        return RUN_THROUGH
    return BEGUN if stand.asked else NOT_BEGUN


def with_forecast(conn: Connection, rows: Sequence[ClassRow]) -> list[ClassRow]:
    """The same rows, each with its chance of being off book on its day, and how much of it has been asked."""
    if not rows:
        return []
    kept = kept_by_piece(conn, [row.piece for row in rows], min(row.today for row in rows))
    out = []
    for row in rows:
        its = kept[row.piece.id]
        aimed = replace(its, items=[i.aimed_at(row.needed) for i in its.items])
        stand = standing_from(replace(row.piece, due_day=row.needed), row.today, aimed)
        out.append(replace(row, forecast=stand.forecast, seen=stand.seen))
    return out
