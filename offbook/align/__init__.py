"""Alignment: which heard word stands for which word of the script, by their order and their sound."""

from __future__ import annotations

from offbook.align.alignment import (
    FILLERS,
    AlignedWord,
    Alignment,
    AlignmentStep,
    Finder,
    align_part,
    finder_of,
    last_hits,
    sound_likeness,
)
from offbook.align.gaps import (
    pair_by_sound,
)
from offbook.align.growing import (
    GrowingAlignment,
)

__all__ = [
    "FILLERS",
    "AlignedWord",
    "Alignment",
    "AlignmentStep",
    "Finder",
    "GrowingAlignment",
    "align_part",
    "finder_of",
    "last_hits",
    "pair_by_sound",
    "sound_likeness",
]
