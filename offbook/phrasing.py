"""Times and counts as people read them: 1:05, 1:02.5, 3 thoughts. Each is written in this one place."""

from __future__ import annotations

MINUTE = 60  # seconds
PERCENT = 100
# Decimals of what is written for other programs. Set by hand: a share of words to a ten-thousandth, which is
# finer than one word of any speech; a chance and a time to a thousandth.
SHARE_DECIMALS, CHANCE_DECIMALS, SECONDS_DECIMALS = 4, 3, 3
# Characters of a row's random key that are shown, and that are enough to name the row. Set by hand: of
# 10,000 rows two begin with the same eight with a chance of about one in a hundred, and then offbook asks
# for more of the key.
KEY_SHOWN = 8
_TENTHS = 10  # of a second


def clock_time(seconds: float) -> str:
    """Seconds as people write them, rounded to a whole second: 0:58, 12:05."""
    return _clock(max(0, round(seconds)))


def jump_clock(seconds: float) -> str:
    """Where to jump to in a recording: rounded down to a whole second, so that nothing is missed."""
    return _clock(int(max(0.0, seconds)))


def clock_tenths(seconds: float) -> str:
    """Seconds as people write them, rounded to a tenth: 0:50, 1:02.5."""
    whole, tenths = divmod(round(_TENTHS * seconds), _TENTHS)
    return _clock(whole) + (f".{tenths}" if tenths else "")


def minutes_shown(minutes: float) -> str:
    """Minutes as a plan shows them, rounded; anything above 0 is at least 1 min."""
    return f"{max(1, round(minutes)) if minutes else 0} min"


def plural(count: int, noun: str) -> str:
    """A count with its noun: 1 thought, 2 thoughts."""
    return f"{count} {noun}{'s' * (count != 1)}"


def _clock(whole: int) -> str:
    return f"{whole // MINUTE}:{whole % MINUTE:02d}"
