"""The one exception root of the project.

Every failure that a person can do something about is an `OffbookError`. It says what failed and what to do,
and the command line prints exactly these two lines. Any other exception is a bug and shows its traceback.
"""

from __future__ import annotations

import re

# Characters that do something in a terminal instead of being shown: control characters, ends of lines, halves
# of a surrogate pair (bytes of a file name that are not UTF-8), and marks that change the direction of
# writing.
_ACTS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def visible(text: str) -> str:
    """`text` on one line, with such characters written as escapes: \\x1b."""
    return _ACTS.sub(lambda m: m.group().encode("unicode_escape").decode("ascii"), text)


class OffbookError(Exception):
    """Something that the person can put right.

    what: what failed. do: what the person can do. Both are one line; control characters in them are made
    visible, because they may quote a file's name or somebody else's text.
    """

    def __init__(self, what: str, do: str) -> None:
        what, do = visible(what), visible(do)
        super().__init__(f"{what}\n{do}")
        self.what = what
        self.do = do


class ScriptError(OffbookError):
    """The script cannot be read, or has no words to say."""


class RecordingError(OffbookError):
    """The recording cannot be read, or cannot be judged."""


class ModelError(OffbookError):
    """The speech model is missing, damaged or cannot be fetched."""


class JournalError(OffbookError):
    """The journal cannot be opened, written or brought up to date."""
