"""Drill sessions and answers, the scheduler's memory of each thought, and timed readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, delete, func, insert, select, update

from offbook.journal import tables as t
from offbook.moment import local_day
from offbook.records import Answer, Memory, Performer, Piece, Session, TimedReading

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

# How many of the newest a performer's pace is worked out from: drill answers, timed readings. Set by hand:
# older ones say little about the pace of today.
_ANSWERS_FOR_PACE, _READINGS_FOR_PACE = 60, 10


def start_session(journal: Journal, conn: Connection, piece: Piece, minutes: float) -> Session:
    """Begin a sitting of drills. minutes: how long it is meant to take."""
    now = journal.clock()
    found = Session(journal.key(), piece.id, now, local_day(now, piece.zone), piece.zone, minutes, None)
    conn.execute(insert(t.session).values(**asdict(found)))
    return found


def end_session(journal: Journal, conn: Connection, session_id: str) -> None:
    """Write down that a sitting was finished and not interrupted."""
    conn.execute(update(t.session).where(t.session.c.id == session_id).values(ended_at=journal.clock()))


def sessions(conn: Connection, piece_id: str) -> tuple[Session, ...]:
    """The sittings of a piece, oldest first."""
    query = select(t.session).where(t.session.c.piece_id == piece_id).order_by(t.session.c.at)
    return tuple(Session(*row) for row in conn.execute(query))


def add_answer(conn: Connection, answer: Answer) -> None:
    """Write one drill answer."""
    conn.execute(insert(t.answer).values(**asdict(answer)))


def answers(
    conn: Connection, piece_id: str, *, last: int | None = None, unit: int | None = None
) -> tuple[Answer, ...]:
    """The drill answers of a piece, oldest first.

    last: only so many of the newest. unit: only those for the thought with this key.
    """
    query = select(t.answer).where(t.answer.c.piece_id == piece_id)
    if unit is not None:
        query = query.where(t.answer.c.unit == unit)
    query = query.order_by(*_newest_first(t.answer.c))
    rows = conn.execute(query if last is None else query.limit(last)).all()
    return tuple(Answer(*row) for row in reversed(rows))


def _newest_first(answer: Any) -> tuple[Any, ...]:
    """The order of answers. All answers to one question have the same moment, and then their words decide.

    If their random keys decided, two journals with the same answers could give different ones as the newest.
    """
    return answer.at.desc(), answer.first.desc(), answer.id


def drill_seconds(conn: Connection, performer_id: str, day: date) -> float:
    """How many seconds a performer drilled on a local day, all pieces together."""
    owned = select(t.piece.c.id).where(t.piece.c.performer_id == performer_id)
    query = select(func.coalesce(func.sum(t.answer.c.seconds), 0.0)).where(
        t.answer.c.piece_id.in_(owned), t.answer.c.day == day
    )
    return float(conn.execute(query).scalar_one())


def seconds_a_word(
    conn: Connection, piece_ids: Sequence[str], last: int = _ANSWERS_FOR_PACE
) -> dict[str, float]:
    """The mean seconds for a word in the newest `last` answers, by the key of the piece.

    Pieces without answers are left out.
    """
    a = t.answer.c
    place = func.row_number().over(partition_by=a.piece_id, order_by=_newest_first(a)).label("place")
    ranked = select(a.piece_id, a.seconds, a.words, place).where(a.piece_id.in_(piece_ids)).subquery().c
    sums = select(ranked.piece_id, func.sum(ranked.seconds), func.sum(ranked.words))
    query = sums.where(ranked.place <= last).group_by(ranked.piece_id)
    return {key: float(seconds) / float(words) for key, seconds, words in conn.execute(query) if words}


def memories(conn: Connection, piece_ids: Sequence[str]) -> dict[str, dict[int, Memory]]:
    """For each piece, what the scheduler knows about its thoughts, by the key of the thought."""
    found: dict[str, dict[int, Memory]] = {p: {} for p in piece_ids}
    for row in conn.execute(select(t.memory).where(t.memory.c.piece_id.in_(piece_ids))).all():
        memory = Memory(*row)
        found[memory.piece_id][memory.unit] = memory
    return found


def save_memories(conn: Connection, changed: Sequence[Memory]) -> None:
    """Write what the scheduler knows now about these thoughts, in place of what it knew before."""
    if not changed:
        return
    for m in changed:
        conn.execute(delete(t.memory).where(t.memory.c.piece_id == m.piece_id, t.memory.c.unit == m.unit))
    conn.execute(insert(t.memory), [asdict(m) for m in changed])


def add_reading(
    journal: Journal, conn: Connection, performer: Performer, title: str, text: str, seconds: float
) -> TimedReading:
    """Add a timed reading: the performer read `text` in `seconds`."""
    now = journal.clock()
    zone = performer.zone
    found = TimedReading(journal.key(), performer.id, now, local_day(now, zone), zone, title, text, seconds)
    conn.execute(insert(t.reading).values(**asdict(found)))
    return found


def timed_readings(
    conn: Connection, performer_id: str, last: int = _READINGS_FOR_PACE
) -> tuple[TimedReading, ...]:
    """The newest `last` timed readings of a performer, oldest first."""
    query = select(t.reading).where(t.reading.c.performer_id == performer_id).order_by(t.reading.c.at.desc())
    return tuple(TimedReading(*row) for row in reversed(conn.execute(query.limit(last)).all()))
