"""Progress: what the run-throughs so far say, and how likely a speech is to be off book by its date."""

from __future__ import annotations

from offbook.progress.forecast import (
    Forecast,
)
from offbook.progress.history import (
    LATELY,
    OFF_BOOK,
    DayAccuracy,
    Going,
    StretchHistory,
    by_day,
    is_clean,
    keeps_going,
    off_book,
)
from offbook.progress.overview import (
    HABIT_DAYS,
    Detail,
    Kept,
    Standing,
    detail_of,
    forecast_for,
    standing_from,
)

__all__ = [
    "HABIT_DAYS",
    "LATELY",
    "OFF_BOOK",
    "DayAccuracy",
    "Detail",
    "Forecast",
    "Going",
    "Kept",
    "Standing",
    "StretchHistory",
    "by_day",
    "detail_of",
    "forecast_for",
    "is_clean",
    "keeps_going",
    "off_book",
    "standing_from",
]
