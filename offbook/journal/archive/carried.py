"""What an export or an import contained, and what it left out and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from offbook.phrasing import KEY_SHOWN

# What people call a row of these tables. The rows of the others are called by the name of their table.
_ROW_NAMES = {
    "version": "draft",
    "run": "run-through",
    "session": "sitting",
    "reading": "timed reading",
    "margin_note": "note in the margin",
}

# A function that raises ValueError if the text of a brief cannot be read; it is given that text and a time
# zone. The stages that know briefs come after the journal, so they hand it in.
FitsBrief = Callable[[str, str], None]


@dataclass(frozen=True, slots=True)
class NotCarried:
    """A row or a table that was left out. key: of the row; None for a table, or for a row without a key."""

    table: str
    key: str | None
    why: str

    def __str__(self) -> str:
        name = _ROW_NAMES.get(self.table, self.table)
        return f"{name} {self.key[:KEY_SHOWN]}: {self.why}" if self.key is not None else f"{name}: {self.why}"


@dataclass(frozen=True, slots=True)
class Differing:
    """A value that was different in the journal and in the archive.

    table, column, key: where the value is. name: of its row here, or of the piece or brief that the row
    belongs to. number: of a take or a note, else None. here, there: the two values before the import, in
    the journal and in the archive. taken: whether the journal now has the archive's value. later_there:
    whether the archive's was set later; even then it is not taken if it is a name that another row here
    has. together: it is not known which of them was set later. whole: for both sides, the values of all
    columns that change together with this one (`settling.SETTLED`).
    """

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
    """What an export or an import contained.

    rows: how many rows, by table. recordings: how many files. present: how many rows the journal had
    already. left: what was damaged and left out. differing: values that were different on the two sides.
    remembered: how many thoughts were asked later on the other side, so that its memory of them was taken.
    """

    rows: dict[str, int]
    recordings: int
    present: int = 0
    left: tuple[NotCarried, ...] = ()
    differing: tuple[Differing, ...] = ()
    remembered: int = 0
