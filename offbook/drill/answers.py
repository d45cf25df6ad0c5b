"""Recording a drill answer: what was asked, what was given, and what it does to the memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from offbook.drill.judging import Judged
from offbook.drill.sitting import Exercise, help_after
from offbook.journal import (
    Answer,
    Journal,
    Memory,
    Piece,
    Session,
    Version,
    add_answer,
    local_day,
    memories,
    save_memories,
)
from offbook.schedule import recall_at, review


@dataclass(frozen=True, slots=True)
class Given:
    """An answer as it came. text is None for "don't know"; seconds in all, pick_up until it began."""

    text: str | None
    at: datetime
    seconds: float
    pick_up: float | None
    spoken: bool = False


def record_answer(
    journal: Journal,
    piece: Piece,
    version: Version,
    session: Session,
    exercise: Exercise,
    given: Given,
    judged: Judged | None,
    ratings: Mapping[int, int],
) -> dict[int, Memory]:
    """Commit an answer for every thought it touched; gives what is known of these thoughts now."""
    whole = exercise.last - exercise.first + 1
    out: dict[int, Memory] = {}
    with journal.writing() as conn:
        known = memories(conn, [piece.id])[piece.id]
        for u in version.units:
            if u.key not in ratings:
                continue
            first, last = max(u.first, exercise.first), min(u.last, exercise.last)
            right, words = (0, last - first + 1) if judged is None else judged.within(first, last)
            before = known.get(u.key)
            add_answer(
                conn,
                Answer(
                    id=journal.key(),
                    piece_id=piece.id,
                    version_id=version.id,
                    session_id=session.id,
                    at=given.at,
                    day=local_day(given.at, piece.zone),
                    zone=piece.zone,
                    kind=exercise.kind,
                    unit=u.key,
                    help=exercise.help,
                    first=first,
                    last=last,
                    given=given.text,
                    right=right,
                    words=words,
                    seconds=given.seconds * words / whole,
                    pick_up=given.pick_up,
                    spoken=given.spoken,
                    rating=ratings[u.key],
                    predicted=None if before is None else recall_at(before, given.at),
                ),
            )
            after = _after(before, piece, u.key, ratings[u.key], exercise, given.at, right == words)
            if after is not None:
                out[u.key] = after
        save_memories(conn, list(out.values()))
    return out


def _after(
    before: Memory | None,
    piece: Piece,
    key: int,
    rating: int,
    exercise: Exercise,
    at: datetime,
    right: bool,
) -> Memory | None:
    if rating:
        return review(before, piece.id, key, rating, at)
    if before is None:
        return None
    help_ = help_after(before.help, 0, exercise, right)
    return replace(before, help=help_) if help_ != before.help else None
