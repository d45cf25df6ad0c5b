"""Briefs and takes: what somebody asks for, and the recordings that are meant for them.

A take is written in two steps, like a run-through. First it is logged with its intention, before anything
is judged; then the results are added. A take without checks is one whose judging was interrupted.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, and_, delete, func, insert, or_, select, update

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.settling import change_and_note
from offbook.moment import local_day
from offbook.records import BriefRow, Performer, Piece, RunRow, TakeRow

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_BRIEF, _TAKE = t.columns_of(t.brief, BriefRow), t.columns_of(t.take, TakeRow)


def keep_brief(
    journal: Journal,
    conn: Connection,
    owner: Performer,
    name: str,
    text: str,
    deadline: datetime,
    file: str | None = None,
) -> tuple[BriefRow, bool]:
    """Write a brief into the journal; a brief of the same name is replaced.

    deadline: the moment in UTC, worked out from `text`. file: the name of the file that it came from; None if
    it came from none, which leaves the name that is noted. Returns the brief, and whether there was one
    already.
    """
    query = select(*_BRIEF).where(t.brief.c.performer_id == owner.id, t.brief.c.name == name)
    row = conn.execute(query).one_or_none()
    if row is not None:
        before = BriefRow(*row)
        here = t.brief.c.id == before.id
        if (before.text, before.deadline) != (text, deadline):
            change_and_note(conn, t.brief, here, {"text": text, "deadline": deadline}, journal.clock())
        if file is not None:
            conn.execute(update(t.brief).where(here).values(file=file))
        return replace(before, text=text, deadline=deadline, file=file or before.file), True
    made = BriefRow(journal.key(), owner.id, name, text, deadline, journal.clock(), None, file)
    conn.execute(insert(t.brief).values(**asdict(made)))
    return made, False


def briefs(conn: Connection, performer_id: str | None = None) -> tuple[BriefRow, ...]:
    """The briefs of one performer, or of everybody, the nearest deadline first."""
    query = select(*_BRIEF).order_by(t.brief.c.deadline, t.brief.c.name)
    if performer_id is not None:
        query = query.where(t.brief.c.performer_id == performer_id)
    return tuple(BriefRow(*row) for row in conn.execute(query))


def mark_sent(journal: Journal, conn: Connection, brief_id: str, at: datetime | None) -> None:
    """Write down when what a brief asks for was sent; None means that it was not sent after all."""
    change_and_note(conn, t.brief, t.brief.c.id == brief_id, {"sent_at": at}, journal.clock())


def delete_brief(conn: Connection, brief_id: str) -> None:
    """Delete a brief; the takes that were made for it stay."""
    conn.execute(delete(t.brief).where(t.brief.c.id == brief_id))


def add_take(
    journal: Journal,
    conn: Connection,
    piece: Piece,
    *,
    at: datetime,
    intention: str,
    file: str,
    recording_id: str | None,
    brief_id: str | None,
) -> TakeRow:
    """Log a take that is not judged yet. at: when it was spoken; file: where the recording is."""
    last = conn.execute(select(func.max(t.take.c.n)).where(t.take.c.piece_id == piece.id)).scalar()
    made = TakeRow(
        id=journal.key(),
        piece_id=piece.id,
        recording_id=recording_id,
        run_id=None,
        brief_id=brief_id,
        at=at,
        day=local_day(at, piece.zone),
        zone=piece.zone,
        n=(last or 0) + 1,
        intention=intention,
        file=file,
        checks=None,
        chosen=False,
    )
    conn.execute(insert(t.take).values(**asdict(made)))
    return made


def judge_take(journal: Journal, conn: Connection, take_id: str, run_id: str | None, checks: str) -> None:
    """Add the results of judging a take: its run-through, and the checks as JSON."""
    values = {"run_id": run_id, "checks": checks}
    change_and_note(conn, t.take, t.take.c.id == take_id, values, journal.clock())


def takes(conn: Connection, piece_id: str) -> tuple[TakeRow, ...]:
    """The takes of a piece, by number."""
    query = select(*_TAKE).where(t.take.c.piece_id == piece_id).order_by(t.take.c.n)
    return tuple(TakeRow(*row) for row in conn.execute(query))


def chosen_takes(conn: Connection) -> dict[str, set[str | None]]:
    """The briefs that have a chosen take, by the key of the piece; None for a take made for no brief."""
    found: dict[str, set[str | None]] = {}
    query = select(t.take.c.piece_id, t.take.c.brief_id).where(t.take.c.chosen)
    for piece_id, brief_id in conn.execute(query):
        found.setdefault(piece_id, set()).add(brief_id)
    return found


def take_numbers(conn: Connection, piece_id: str) -> dict[str, int]:
    """The numbers of the takes of a piece whose recordings are kept, by the key of the recording."""
    return {take.recording_id: take.n for take in takes(conn, piece_id) if take.recording_id is not None}


def take_numbered(conn: Connection, piece: Piece, n: int) -> TakeRow:
    """The take of a piece with the number `n`. Raises JournalError if there is none."""
    query = select(*_TAKE).where(t.take.c.piece_id == piece.id, t.take.c.n == n)
    row = conn.execute(query).one_or_none()
    if row is None:
        raise JournalError(f"{piece.name} has no take {n}", f'see `offbook take list "{piece.name}"`')
    return TakeRow(*row)


def takes_on(conn: Connection, piece_id: str, day: date) -> int:
    """How many takes of a piece were made on a local day."""
    query = select(func.count()).where(t.take.c.piece_id == piece_id, t.take.c.day == day)
    return int(conn.execute(query).scalar_one())


def choose_take(journal: Journal, conn: Connection, take: TakeRow) -> None:
    """Choose the take to be sent. The one that was chosen for the same brief is no longer chosen.

    If the take was made for no brief, no other take of the piece stays chosen.
    """
    same = t.take.c.piece_id == take.piece_id
    if take.brief_id is not None:
        same = and_(same, or_(t.take.c.brief_id == take.brief_id, t.take.c.id == take.id))
    now = journal.clock()
    change_and_note(conn, t.take, and_(same, t.take.c.id != take.id), {"chosen": False}, now)
    change_and_note(conn, t.take, t.take.c.id == take.id, {"chosen": True}, now)


def delete_take(conn: Connection, take_id: str) -> None:
    """Delete a take; its recording and its run-through stay."""
    conn.execute(delete(t.take).where(t.take.c.id == take_id))


def run_of_take(conn: Connection, take: TakeRow) -> RunRow | None:
    """The run-through of a take, or one that was made from the same recording; None if there is none."""
    from offbook.journal.run_throughs import run_of

    key = take.run_id
    if key is None and take.recording_id is not None:
        query = select(t.run.c.id).where(t.run.c.recording_id == take.recording_id)
        key = conn.execute(query).scalars().first()
    return None if key is None else run_of(conn, key)
