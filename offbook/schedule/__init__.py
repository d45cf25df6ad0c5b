"""The schedule: what to work on each day, so that a speech is safe on its date."""

from __future__ import annotations

from offbook.schedule.due import (
    Today,
    items_of,
    today_for,
)
from offbook.schedule.remember import (
    correct_word,
    record_run,
)
from offbook.schedule.spacing import (
    CAUTION,
    FIRST_HELP,
    MOST_HELP,
    DayLoad,
    Item,
    day_due,
    faded,
    plan,
    rating_of,
    recall_after,
    recall_at,
    review,
    review_on,
    voice_note,
)

__all__ = [
    "CAUTION",
    "FIRST_HELP",
    "MOST_HELP",
    "DayLoad",
    "Item",
    "Today",
    "correct_word",
    "day_due",
    "faded",
    "items_of",
    "plan",
    "rating_of",
    "recall_after",
    "recall_at",
    "record_run",
    "review",
    "review_on",
    "today_for",
    "voice_note",
]
