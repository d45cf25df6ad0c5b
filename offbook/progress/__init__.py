"""Progress: what the run-throughs so far say, and how likely a speech is to be off book by its date."""

from __future__ import annotations

from offbook.progress.forecast import (
    Forecast,
)
from offbook.progress.history import (
    LATELY,
    OFF_BOOK,
    DayAccuracy,
    Mistake,
    StretchHistory,
    by_day,
    is_clean,
    off_book,
    often_wrong,
)
from offbook.progress.overview import (
    HABIT_DAYS,
    UNRATED,
    Detail,
    Kept,
    Standing,
    detail_of,
    forecast_for,
    recall_in,
    standing_from,
)

__all__ = [
    "HABIT_DAYS",
    "LATELY",
    "OFF_BOOK",
    "UNRATED",
    "DayAccuracy",
    "Detail",
    "Forecast",
    "Kept",
    "Mistake",
    "Standing",
    "StretchHistory",
    "by_day",
    "detail_of",
    "forecast_for",
    "is_clean",
    "off_book",
    "often_wrong",
    "recall_in",
    "standing_from",
]
