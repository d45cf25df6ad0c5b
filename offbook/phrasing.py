"""Times and counts as people read them: 1:05, 1:02.5, 3 thoughts. Each is written in this one place."""

from __future__ import annotations

MINUTE = 60  # seconds


def clock_time(seconds: float) -> str:
    """Seconds for people, rounded: 0:58, 12:05."""
    return _clock(max(0, round(seconds)))


def jump_clock(seconds: float) -> str:
    """Where to jump to in a recording: whole seconds, never past the place."""
    return _clock(int(max(0.0, seconds)))


def clock_tenths(seconds: float) -> str:
    """Seconds for people, to the tenth: 0:50, 1:02.5."""
    whole, tenths = divmod(round(10 * seconds), 10)
    return _clock(whole) + (f".{tenths}" if tenths else "")


def plural(count: int, noun: str) -> str:
    """A count for people: 1 thought, 2 thoughts."""
    return f"{count} {noun}{'s' * (count != 1)}"


def _clock(whole: int) -> str:
    return f"{whole // MINUTE}:{whole % MINUTE:02d}"
