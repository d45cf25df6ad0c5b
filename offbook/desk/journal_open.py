"""Opening the journal for one use case, with the clock of this process.

`OFFBOOK_NOW` sets the clock, for tests and demonstrations: an ISO 8601 moment with its offset, and
after a blank, where given, the seconds that pass at each look at the clock.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from offbook.errors import JournalError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from offbook.journal import Journal


# Clear of both ends of Python's calendar, so that no plan and no zone leads out of it.
_YEARS = range(1970, 3000)
_LONGEST_STEP = timedelta(days=366)


def process_clock() -> Callable[[], datetime]:
    """The clock of this process: the machine's, or the one that `OFFBOOK_NOW` sets."""
    named = os.environ.get("OFFBOOK_NOW", "").split()
    if not named:
        return lambda: datetime.now(UTC)
    try:
        at = datetime.fromisoformat(named[0])
        step = timedelta(seconds=float(named[1]) if len(named) > 1 else 0.0)
    except (ValueError, OverflowError) as e:
        raise JournalError(
            f"OFFBOOK_NOW is not a moment: {e}", "write it as 2026-03-02T18:00:00+00:00"
        ) from e
    if at.year not in _YEARS or abs(step) > _LONGEST_STEP:
        raise JournalError(
            f"OFFBOOK_NOW is too early or too late: {os.environ['OFFBOOK_NOW']}",
            f"give a moment from {_YEARS[0]} to {_YEARS[-1]}, and seconds that pass at each look",
        )
    if at.tzinfo is None:
        raise JournalError("OFFBOOK_NOW has no offset from UTC", "write it as 2026-03-02T18:00:00+00:00")
    looks = 0

    def look() -> datetime:
        nonlocal looks
        looks += 1
        return at + (looks - 1) * step

    return look


@contextmanager
def opened_journal() -> Iterator[Journal]:
    """The journal, open for the length of a command."""
    from offbook.journal import open_journal

    journal = open_journal(process_clock())
    try:
        yield journal
    finally:
        journal.close()
