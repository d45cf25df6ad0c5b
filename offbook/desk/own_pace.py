"""A performer's own pace, from what the journal has timed: their readings and whole run-throughs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook import timing
from offbook.desk.journal_open import opened_journal
from offbook.errors import JournalError

if TYPE_CHECKING:
    from offbook.journal import Connection

# Set by hand.
NEWEST = 8  # newest readings that the pace is taken from: enough to know it, few enough to follow a change
_WHOLE = 0.03  # share of the words that a run-through may drop and still be a reading of its text


def readings_of(performer: str) -> list[timing.EarlierReading]:
    """The newest timed readings of `performer`, oldest first. Raises JournalError where there is none."""
    from offbook.journal import performer_named

    with opened_journal() as journal, journal.reading() as conn:
        found = readings_in(conn, performer_named(conn, performer).id)
    if not found:
        raise JournalError(
            f"{performer} has no timed reading yet",
            f'run a piece through, or: offbook performer timed "{performer}" TEXT 1:30',
        )
    return found


def readings_in(conn: Connection, performer_id: str) -> list[timing.EarlierReading]:
    """The newest timed readings of a performer, oldest first."""
    from offbook import script as scripts
    from offbook.journal import pieces_of, runs, timed_readings, version_of
    from offbook.words import words_of

    found: list[tuple[object, timing.EarlierReading]] = []
    for r in timed_readings(conn, performer_id, NEWEST):
        script = scripts.parse_script(r.text, title=r.title)
        day = r.day.isoformat()
        found.append((r.at, timing.reading_of(script, words_of(script), r.seconds, occasion=day)))
    for piece in pieces_of(conn, performer_id):
        for run in runs(conn, piece.id, NEWEST):
            if run.seconds > 0 and run.dropped <= _WHOLE * run.words and not run.prompts:
                version = version_of(conn, run.version_id)
                speaking = run.speaking_seconds or None
                reading = timing.reading_of(
                    version.script, version.words, run.seconds, speaking, run.day.isoformat()
                )
                found.append((run.at, reading))
    found.sort(key=lambda f: str(f[0]))
    return [reading for _, reading in found[-NEWEST:]]
