"""The metres, and the names of lines by their number of feet."""

from __future__ import annotations

from dataclasses import dataclass

_DUPLE = 2  # syllables


@dataclass(frozen=True, slots=True)
class Foot:
    """One kind of metre. name: its adjective. plain: its foot as w and s."""

    name: str
    plain: str

    @property
    def rising(self) -> bool:
        """Whether the foot ends with its beat."""
        return self.plain[-1] == "s"

    @property
    def duple(self) -> bool:
        """Whether the foot has two syllables."""
        return len(self.plain) == _DUPLE


IAMBIC = Foot("iambic", "ws")
TROCHAIC = Foot("trochaic", "sw")
ANAPAESTIC = Foot("anapaestic", "wws")
DACTYLIC = Foot("dactylic", "sww")
METRES = (IAMBIC, TROCHAIC, ANAPAESTIC, DACTYLIC)
PENTAMETER, HEXAMETER = 5, 6  # feet
LEAST_REVERSED = 3  # feet of a line that keeps the opposite metre: in one of two, both feet are inversions
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
