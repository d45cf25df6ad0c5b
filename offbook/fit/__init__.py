"""Fitting: does a speech fit its limit, and which whole thoughts could go if it does not."""

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
