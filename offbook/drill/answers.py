"""An answer as it came, and what it does to the memory of a thought."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from offbook.drill.sitting import Exercise, help_after
from offbook.records import Memory
from offbook.schedule import review


@dataclass(frozen=True, slots=True)
class GivenAnswer:
    """An answer as it came. text is None for "don't know"; seconds in all, pick_up until it began."""

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
    """What is known of a thought after an answer rated `rating`; None where that is what was known before.

    right: every word of it was given.
    """
    if rating:
        return review(before, piece_id, key, rating, at)
    if before is None:
        return None
    help_ = help_after(before.help, 0, exercise, right)
    return replace(before, help=help_) if help_ != before.help else None
