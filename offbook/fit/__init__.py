"""Fitting: whether a speech keeps to its time limit, and which whole thoughts could be cut if it does not."""

from __future__ import annotations

from offbook.fit.proposals import (
    LIKELY,
    Fitting,
    Pins,
    Proposal,
    chosen_proposal,
    fit,
)
from offbook.fit.shortened import (
    passage,
    spoken,
    without,
)

__all__ = [
    "LIKELY",
    "Fitting",
    "Pins",
    "Proposal",
    "chosen_proposal",
    "fit",
    "passage",
    "spoken",
    "without",
]
