"""Delivery: what the voice does where the thought shifts, measured and set against the marked script."""

from __future__ import annotations

from offbook.delivery.edges import EdgeCues, SpokenWord
from offbook.delivery.picture_line import picture_of
from offbook.delivery.statement import Audible, ShiftStatement
from offbook.delivery.stretches import StretchFinding, ThoughtDelivery
from offbook.delivery.take_review import CANNOT_KNOW, MarkedShift, TakeReview, review_delivery

__all__ = [
    "CANNOT_KNOW",
    "Audible",
    "EdgeCues",
    "MarkedShift",
    "ShiftStatement",
    "SpokenWord",
    "StretchFinding",
    "TakeReview",
    "ThoughtDelivery",
    "picture_of",
    "review_delivery",
]
