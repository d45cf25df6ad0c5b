"""Minutes and seconds as people type them, read in this one place: 2:00, 90, 90s, 1:30.5, 2 min, 1m30."""

from __future__ import annotations

import re

from offbook.errors import OffbookError
from offbook.phrasing import MINUTE

# Six figures are enough for eleven days in seconds, and few enough for Python to read at once.
_WHOLE = r"[0-9]{1,6}"
_NUMBER = rf"{_WHOLE}(?:\.[0-9]{{1,6}})?"
_SECONDS_UNIT = r"(?:s|secs?|seconds?)"
_MINUTES_UNIT = r"(?:m|mins?|minutes?)"
_ONLY_SECONDS = re.compile(rf"()({_NUMBER})\s*{_SECONDS_UNIT}?")
_ONLY_MINUTES = re.compile(rf"({_NUMBER})\s*{_MINUTES_UNIT}()")
_BOTH = re.compile(rf"({_WHOLE})\s*(?::|{_MINUTES_UNIT})\s*({_NUMBER})\s*{_SECONDS_UNIT}?")
_BOTH_WITH_A_DOT = re.compile(rf"({_WHOLE})\s*\.\s*({_WHOLE})")


class TypedTimeError(OffbookError):
    """What was typed is not a time, or not a possible one."""


def typed_seconds(typed: str, *, dot_for_colon: bool = False) -> float | None:
    """The seconds that `typed` stands for, 0 included; None if it is not a time.

    A time is seconds ("90", "90.5", "90 s"), minutes ("2 min", "1.5m") or both ("1:30", "1:30.5", "1m30");
    then the seconds must be less than 60. dot_for_colon: "1.30" stands for one minute and thirty seconds,
    as many people write it in a form, and not for 1.3 seconds.
    """
    text = typed.strip().lower()
    if dot_for_colon and (dotted := _BOTH_WITH_A_DOT.fullmatch(text)) is not None:
        return _sum(dotted[1], dotted[2])
    found = _ONLY_SECONDS.fullmatch(text) or _ONLY_MINUTES.fullmatch(text) or _BOTH.fullmatch(text)
    return None if found is None else _sum(found[1], found[2])


def seconds_in(typed: str, what: str = "time", *, dot_for_colon: bool = False) -> float:
    """The seconds that `typed` stands for, more than 0; see `typed_seconds`.

    what: the kind of time that it is, for the message, such as "limit". Raises TypedTimeError if it is not a
    time, or if it is 0.
    """
    seconds = typed_seconds(typed, dot_for_colon=dot_for_colon)
    if seconds is None:
        raise TypedTimeError(
            f"“{_in_letters(typed.strip())}” is not a {what}",
            "write minutes and seconds as 2:00, or seconds as 120",
        )
    if seconds == 0:
        raise TypedTimeError(
            f"a {what} of {typed.strip()} leaves no time to speak", "give a time above 0, such as 2:00"
        )
    return seconds


def _in_letters(typed: str) -> str:
    """What was typed, with a code in place of each character that a terminal would not show, or obey."""
    return typed if typed.isprintable() else repr(typed)[1:-1]


def _sum(minutes: str, seconds: str) -> float | None:
    """Minutes and seconds together, in seconds; either may be "". None for "1:60" and above."""
    if minutes and seconds and float(seconds) >= MINUTE:
        return None
    return MINUTE * float(minutes or 0) + float(seconds or 0)
