"""An answer as it was given, and what it changes in the memory of a thought."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from offbook.drill.sitting import Exercise, help_after
from offbook.records import Memory
from offbook.schedule import review


@dataclass(frozen=True, slots=True)
class GivenAnswer:
    """An answer as it was given.

    text: None for "I don't know"; seconds: how long it took; pick_up: seconds until it began, None where
    unknown.
    """

    text: str | None
    at: datetime
    seconds: float
    pick_up: float | None
    spoken: bool = False


def remembered_after(
    before: Memory | None,
    piece_id: str,
    key: int,
    rating: int,
    exercise: Exercise,
    at: datetime,
    right: bool,
) -> Memory | None:
    """The memory of a thought after an answer; None where it did not change.

    rating: of the answer, 0 for not rated; right: every word of the thought was given.
    """
    if rating:
        return review(before, piece_id, key, rating, at)
    if before is None:
        return None
    help_ = help_after(before.help, 0, exercise, right)
    return replace(before, help=help_) if help_ != before.help else None
