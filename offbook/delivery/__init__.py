"""Delivery: what the voice does where the thought shifts, measured and compared with the marked script."""

from __future__ import annotations

from offbook.delivery.edges import EdgeCues, SpokenWord
from offbook.delivery.picture_line import delivery_picture
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
    "delivery_picture",
    "review_delivery",
]
