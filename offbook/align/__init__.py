"""Alignment: the words of the script set against the words that were heard, by time and by sound."""

from __future__ import annotations

from offbook.align.alignment import (
    FILLERS,
    Alignment,
    Place,
    Step,
    align_part,
    covered,
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
    "Alignment",
    "Growing",
    "Place",
    "Step",
    "align_part",
    "covered",
    "nearest",
    "partners",
]
