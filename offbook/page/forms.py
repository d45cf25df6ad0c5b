"""Reading what people type into the fields of the page: a time limit, a day, a name."""

from __future__ import annotations

from datetime import date
from pathlib import PurePath

from offbook.errors import OffbookError
from offbook.phrasing import clock_time
from offbook.typed_times import seconds_in

_LONGEST_NAME = 120  # characters; set by hand, so that a name fits on a row or two


class FieldError(OffbookError):
    """A field of a form cannot be read."""


def limit_in(typed: str) -> float | None:
    """The time limit in seconds ("2:00", "2.00", "90", "2 min"), None if nothing was typed.

    Raises TypedTimeError.
    """
    return seconds_in(typed, "time limit", dot_for_colon=True) if typed.strip() else None


def limit_shown(seconds: float | None) -> str:
    """A time limit as a field shows it: 2:00, or empty for none."""
    return "" if seconds is None else clock_time(seconds)


def typed_day(typed: str) -> date | None:
    """The day in "2026-05-01", as the browser's date field gives it; None where nothing was typed."""
    text = typed.strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as e:
        raise FieldError(f"“{text}” is not a day", "write year, month and day, such as 2026-05-01") from e


def name_in(typed: str) -> str:
    """A name on one line, short enough to show."""
    return " ".join(typed.split())[:_LONGEST_NAME]


def title_of_file(name: str) -> str:
    """What to call a script that came in a file of this name. The name is only shown, never opened."""
    stem = PurePath(name.replace("\\", "/")).stem
    return name_in(stem.replace("_", " ").replace("-", " "))
