"""The one exception root of the project.

Every failure that a person can do something about is an `OffbookError`: it carries what failed and
what to do, and the command line prints exactly these two lines. Anything else that escapes is a bug
and keeps its traceback.
"""

from __future__ import annotations


class OffbookError(Exception):
    """Something the person can mend. `what` failed, `do` says how to go on; both are one line."""

    def __init__(self, what: str, do: str) -> None:
        super().__init__(f"{what}\n{do}")
        self.what = what
        self.do = do


class ScriptError(OffbookError):
    """The script cannot be read, or holds no words to say."""


class RecordingError(OffbookError):
    """The recording cannot be read, or cannot be judged."""


class ModelError(OffbookError):
    """The speech model is missing, damaged or cannot be fetched."""


class JournalError(OffbookError):
    """The journal cannot be opened, written or brought up to date."""
