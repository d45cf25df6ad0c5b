"""The metres: what each foot allows between one beat and the next, and at what cost.

A line is heard as beats with weak syllables before, between and after them (Attridge, "Poetic Rhythm",
1995, from memory). A metre says how many weak syllables it likes in each place; everything else is a
named departure with a cost: the less usual in handbooks, the dearer. Costs are in natural log units, so
that they add to the costs of the syllables.
"""

from __future__ import annotations

from dataclasses import dataclass

FAR = 9.0


@dataclass(frozen=True, slots=True)
class Foot:
    """One kind of metre. start, between, end: cost of 0, 1, 2, 3 weak syllables there."""

    name: str
    plain: str
    start: tuple[float, float, float, float]
    between: tuple[float, float, float, float]
    end: tuple[float, float, float, float]
    inversion: float
    clash: float


IAMBIC = Foot("iambic", "ws", (1.2, 0.0, 2.0, 6.0), (2.0, 0.0, 2.0, 6.0), (0.0, 1.0, 3.0, 9.0), 0.4, 1.0)
TROCHAIC = Foot("trochaic", "sw", (0.0, 1.6, 3.5, 9.0), (3.0, 0.0, 1.9, 6.0), (0.2, 0.0, 2.0, 9.0), 1.5, 2.0)
ANAPAESTIC = Foot(
    "anapaestic", "wws", (1.5, 0.3, 0.1, 4.0), (4.0, 1.3, 0.0, 3.0), (0.0, 0.7, 2.0, 9.0), 0.5, 2.0
)
DACTYLIC = Foot("dactylic", "sww", (0.0, 1.6, 2.2, 6.0), (4.0, 1.3, 0.0, 4.0), (0.3, 0.2, 0.2, 9.0), 1.5, 2.0)
METRES = (IAMBIC, TROCHAIC, ANAPAESTIC, DACTYLIC)
LENGTHS = (
    "",
    "monometer",
    "dimeter",
    "trimeter",
    "tetrameter",
    "pentameter",
    "hexameter",
    "heptameter",
    "octameter",
)
