"""Briefs and takes: what somebody asks for, and the recordings meant for them.

A take is written in two steps, as a run-through is: first that it was made, with its intention, before
anything is judged; then what was found. A take without checks is one that was never judged to the end.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, and_, delete, func, insert, or_, select, update

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.settling import change
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
    """Take a brief in; one of the same name is replaced. Gives it, and whether it was there before.

    file: the name of the file it came from; None where it came from none, which leaves the one it has.
    """
    query = select(*_BRIEF).where(t.brief.c.performer_id == owner.id, t.brief.c.name == name)
    row = conn.execute(query).one_or_none()
    if row is not None:
        before = BriefRow(*row)
        here = t.brief.c.id == before.id
        if (before.text, before.deadline) != (text, deadline):
            change(conn, t.brief, here, {"text": text, "deadline": deadline}, journal.clock())
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
    """Note when what a brief asks for was sent; None takes it back."""
    change(conn, t.brief, t.brief.c.id == brief_id, {"sent_at": at}, journal.clock())


def delete_brief(conn: Connection, brief_id: str) -> None:
    """Delete a brief; the takes made for it stay."""
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
    """Log a take, not judged yet. at: when it was spoken."""
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
    """Note what was found: the run-through its words were judged as, and the checks as JSON."""
    values = {"run_id": run_id, "checks": checks}
    change(conn, t.take, t.take.c.id == take_id, values, journal.clock())


def takes(conn: Connection, piece_id: str) -> tuple[TakeRow, ...]:
    """The takes of a piece, by number."""
    query = select(*_TAKE).where(t.take.c.piece_id == piece_id).order_by(t.take.c.n)
    return tuple(TakeRow(*row) for row in conn.execute(query))


def chosen_takes(conn: Connection) -> dict[str, set[str | None]]:
    """By the key of the piece, the briefs its chosen takes were made for; None for no brief in particular."""
    found: dict[str, set[str | None]] = {}
    query = select(t.take.c.piece_id, t.take.c.brief_id).where(t.take.c.chosen)
    for piece_id, brief_id in conn.execute(query):
        found.setdefault(piece_id, set()).add(brief_id)
    return found


def take_numbers(conn: Connection, piece_id: str) -> dict[str, int]:
    """By the key of its recording, the number of each take of a piece whose recording is kept."""
    return {take.recording_id: take.n for take in takes(conn, piece_id) if take.recording_id is not None}


def take_numbered(conn: Connection, piece: Piece, n: int) -> TakeRow:
    """Take `n` of a piece. Raises JournalError where there is none."""
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
    """Choose a take to be sent, in place of the one chosen before for the same brief.

    One that was made for no brief in particular takes the place of every other.
    """
    same = t.take.c.piece_id == take.piece_id
    if take.brief_id is not None:
        same = and_(same, or_(t.take.c.brief_id == take.brief_id, t.take.c.id == take.id))
    now = journal.clock()
    change(conn, t.take, and_(same, t.take.c.id != take.id), {"chosen": False}, now)
    change(conn, t.take, t.take.c.id == take.id, {"chosen": True}, now)


def delete_take(conn: Connection, take_id: str) -> None:
    """Delete a take from the log; its recording and run-through stay."""
    conn.execute(delete(t.take).where(t.take.c.id == take_id))


def run_of_take(conn: Connection, take: TakeRow) -> RunRow | None:
    """The run-through a take was judged as, or that was made of its recording; None where there is none."""
    from offbook.journal.run_throughs import run_of

    key = take.run_id
    if key is None and take.recording_id is not None:
        query = select(t.run.c.id).where(t.run.c.recording_id == take.recording_id)
        key = conn.execute(query).scalars().first()
    return None if key is None else run_of(conn, key)
