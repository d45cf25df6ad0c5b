"""Progress: what the run-throughs so far say, and how likely a speech is to be off book by its date."""

from __future__ import annotations

from offbook.progress.forecast import (
    Forecast,
)
from offbook.progress.history import (
    OFF_BOOK,
    DayAccuracy,
    Going,
    Stretch,
    by_day,
    keeps_going,
    off_book,
)
from offbook.progress.overview import (
    Detail,
    Standing,
    detail,
    forecast_for,
    standing,
)

__all__ = [
    "OFF_BOOK",
    "DayAccuracy",
    "Detail",
    "Forecast",
    "Going",
    "Standing",
    "Stretch",
    "by_day",
    "detail",
    "forecast_for",
    "keeps_going",
    "off_book",
    "standing",
]
