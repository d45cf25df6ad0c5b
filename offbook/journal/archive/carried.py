"""What an export or an import carried, and what it left out and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

# What people call a row of a table; the others are called as their table is.
_TOLD = {
    "version": "draft",
    "run": "run-through",
    "session": "sitting",
    "reading": "timed reading",
    "margin_note": "note in the margin",
}

# Raises ValueError where a brief's text, meant in a time zone, cannot be read. The journal comes before
# whoever knows briefs, and is given it.
FitsBrief = Callable[[str, str], None]


@dataclass(frozen=True, slots=True)
class Left:
    """Something that was left out. key: of the row, None for a whole table or for a row without one."""

    table: str
    key: str | None
    why: str

    def __str__(self) -> str:
        name = _TOLD.get(self.table, self.table)
        return f"{name} {self.key[:8]}: {self.why}" if self.key is not None else f"{name}: {self.why}"


@dataclass(frozen=True, slots=True)
class Differing:
    """Something that was settled otherwise on the two sides. name: of the row here, or of what it belongs to;
    column: of the table; here, there: the two values, as they were before the import. taken: theirs is
    what the journal has now. later_there: theirs is the later one; it is not taken where another row here has
    the name. together: neither is later, as far as is known. number: of a take or a note. key: of the row.
    whole: here and there, the values of all columns that go together with this one (`settling.SETTLED`)."""

    table: str
    name: str
    column: str
    here: object
    there: object
    taken: bool = False
    later_there: bool = False
    together: bool = False
    number: int | None = None
    key: str = ""
    whole: tuple[Mapping[str, object], Mapping[str, object]] = ({}, {})


@dataclass(frozen=True, slots=True)
class Carried:
    """What an export or import carried: rows by table, and recordings.

    present: rows that the journal had already. left: what is not whole and was left out. differing: what was
    settled otherwise on the two sides. remembered: thoughts that were asked later there.
    """

    rows: dict[str, int]
    recordings: int
    present: int = 0
    left: tuple[Left, ...] = ()
    differing: tuple[Differing, ...] = ()
    remembered: int = 0
