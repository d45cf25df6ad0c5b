"""Archives: the whole journal written into one file, and read back as if a stranger had sent it.

`writing` exports and proves what it wrote, `reading` imports, `rows` says what a row must look like,
`references` what rows may hang on, `members` reads the zip within bounds. The schemas' library takes a fifth
of a second to load, so nothing of it is imported before an archive is at hand.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from offbook.journal.archive.carried import Carried, Differing, FitsBrief, Left

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from offbook.journal.connection import Journal

__all__ = ["Carried", "Differing", "FitsBrief", "Left", "export", "read_in", "take_other"]


def export(journal: Journal, target: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Write the whole journal to `target` (a new file), and read it back.

    The file can be read by its owner alone. Raises JournalError; leaves no half file.
    """
    from offbook.journal.archive import writing

    return writing.write_archive(journal, target, fits_brief)


def read_in(journal: Journal, source: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Read what is whole of an archive into the journal, in one transaction.

    fits_brief: raises ValueError where a brief's text, meant in a zone, cannot be read. Raises JournalError
    where nothing of the archive can be read, or where a name in it is taken here: then nothing was changed.
    """
    from offbook.journal.archive import reading

    return reading.read_archive(journal, source, fits_brief)


def take_other(journal: Journal, conn: Connection, found: Differing) -> None:
    """Set what an import found to differ to the other one of its two values.

    Raises JournalError where that cannot be.
    """
    from offbook.journal.archive import meeting

    meeting.set_other_value(journal, conn, found)
