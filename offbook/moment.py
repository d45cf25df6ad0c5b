"""Moments and days: UTC for the machine, the performer's own day for the person.

Every record keeps three things: the moment in UTC, the zone the performer was in, and the local day there.
The day is worked out once, when something happens, and never again. So yesterday's work stays on its day,
even if the performer travels or the rules of the zone change. The rules come from the IANA time zone database
through `zoneinfo`.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from offbook.errors import JournalError

# Local days that are remembered: a plan for many weeks asks for the same moments many times. Set by hand.
_DAYS_REMEMBERED = 8192


@lru_cache(maxsize=_DAYS_REMEMBERED)
def local_day(at: datetime, zone: str) -> date:
    """The local day in `zone` (an IANA name) at the moment `at`. Raises ValueError if `at` has no zone."""
    if at.tzinfo is None:
        raise ValueError("a moment needs its time zone; give an aware datetime")
    return at.astimezone(zone_named(zone)).date()


def zone_named(zone: str) -> ZoneInfo:
    """The zone called `zone`. Raises JournalError if there is no such zone."""
    try:
        return ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as e:
        raise JournalError(
            f"there is no time zone called {zone!r}",
            "give an IANA name such as Europe/London or Asia/Kolkata",
        ) from e


def system_zone() -> str:
    """The IANA name of the zone that this machine is set to; "UTC" if it cannot be found out."""
    import tzlocal

    try:
        name = tzlocal.get_localzone_name()
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError, LookupError):
        return "UTC"
    return str(name)


def utc_text(at: datetime) -> str:
    """`at` as it is stored: ISO 8601 in UTC with microseconds, so that sorted texts are in order of time.

    Raises ValueError if `at` has no zone.
    """
    if at.tzinfo is None:
        raise ValueError("a moment needs its time zone; give an aware datetime")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def utc_from(text: str) -> datetime:
    """The moment in UTC that a text written by `utc_text` stands for. Raises ValueError if it is not one."""
    return datetime.fromisoformat(text).astimezone(UTC)
