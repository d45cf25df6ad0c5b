"""Alignment: the words of the script set against the words that were heard, by time and by sound."""

from __future__ import annotations

from offbook.align.alignment import (
    FILLERS,
    AlignedWord,
    Alignment,
    AlignmentStep,
    Finder,
    align_part,
    covered,
    finder_of,
    nearest,
)
from offbook.align.gaps import (
    partners,
)
from offbook.align.growing import (
    Growing,
)

__all__ = [
    "FILLERS",
    "AlignedWord",
    "Alignment",
    "AlignmentStep",
    "Finder",
    "Growing",
    "align_part",
    "covered",
    "finder_of",
    "nearest",
    "partners",
]
