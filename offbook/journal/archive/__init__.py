"""Archives: the whole journal in one file, which an import checks as if a stranger had sent it.

`writing` exports the journal and checks the file that it wrote; `reading` imports one. `rows` says what a
row must look like, `references` which rows it may refer to, `merging` what happens to rows that both sides
have, and `members` reads the zip file within limits. The library for the schemas takes a fifth of a second
to load, so these modules are only imported when they are needed.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from offbook.journal.archive.carried import Carried, Differing, FitsBrief, NotCarried

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from offbook.journal.connection import Journal

__all__ = ["Carried", "Differing", "FitsBrief", "NotCarried", "export", "read_in", "set_other_value"]


def export(journal: Journal, target: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Write the whole journal to the new file `target`, and read it back to check it.

    Only its owner can read the file. fits_brief: see `FitsBrief`. Returns what was written, and what an
    import would leave out and why. Raises JournalError if it cannot be written; then there is no
    half-written file.
    """
    from offbook.journal.archive import writing

    return writing.write_archive(journal, target, fits_brief)


def read_in(journal: Journal, source: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Import an archive into the journal in one transaction, except for what is damaged.

    fits_brief: see `FitsBrief`. Returns what came in, and what was left out and why. Raises JournalError if
    nothing of the archive can be read, or if something here already has a name that is in it; then nothing
    was changed.
    """
    from offbook.journal.archive import reading

    return reading.read_archive(journal, source, fits_brief)


def set_other_value(journal: Journal, conn: Connection, found: Differing) -> None:
    """After an import, set a value that differed to the other one of its two values.

    Raises JournalError if its row was deleted, or if another row has the name by now.
    """
    from offbook.journal.archive import merging

    merging.change_to_other(journal, conn, found)
