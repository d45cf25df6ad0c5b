"""Verse: the metre of a passage, the feet of each line, and where a reader puts the stress."""

from __future__ import annotations

from offbook.verse.kinds import (
    Scansion,
    Versification,
)
from offbook.verse.prominence import (
    hardly_stressed,
)
from offbook.verse.rhyme import (
    rhyme_letters,
)
from offbook.verse.scansion import (
    scan,
)
from offbook.verse.setting import (
    MetreError,
    set_metre,
)

__all__ = [
    "MetreError",
    "Scansion",
    "Versification",
    "hardly_stressed",
    "rhyme_letters",
    "scan",
    "set_metre",
]
