"""The metres and the names of their lines."""

from __future__ import annotations

from dataclasses import dataclass

_DUPLE = 2  # syllables


@dataclass(frozen=True, slots=True)
class Foot:
    """One kind of metre: its adjective, and its foot as w and s."""

    name: str
    plain: str

    @property
    def rising(self) -> bool:
        """The foot ends on its beat."""
        return self.plain[-1] == "s"

    @property
    def duple(self) -> bool:
        """The foot has two syllables."""
        return len(self.plain) == _DUPLE


IAMBIC = Foot("iambic", "ws")
TROCHAIC = Foot("trochaic", "sw")
ANAPAESTIC = Foot("anapaestic", "wws")
DACTYLIC = Foot("dactylic", "sww")
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
