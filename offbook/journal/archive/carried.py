"""What an export or an import carried, and what it left out and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

# What people call a row of a table; the others are called as their table is.
_TOLD = {
    "version": "draft",
    "run": "run-through",
    "session": "sitting",
    "reading": "timed reading",
    "margin_note": "note in the margin",
}

# Raises ValueError where a brief's text, meant in a time zone, cannot be read. The journal stands before
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


# What a person settles of a row, and may settle otherwise on two machines: by table, the columns that are
# compared where a row is on both sides. Nobody's clock says which was settled later, so both are shown.
SETTLED: dict[str, tuple[str, ...]] = {
    "performer": ("name", "zone", "minutes_a_day", "voice_minutes"),
    "piece": ("name", "part", "limit_seconds", "due_day"),
    "brief": ("text", "sent_at"),
}


@dataclass(frozen=True, slots=True)
class Differing:
    """Something that the archive has otherwise than the journal, which keeps its own. name: of the row here;
    column: of the table; here, there: the two values."""

    table: str
    name: str
    column: str
    here: object
    there: object


@dataclass(frozen=True, slots=True)
class Carried:
    """What an export or import carried: rows by table, and recordings.

    present: rows that the journal had already. left: what is not whole and was left out. differing: what the
    archive has otherwise than the journal.
    """

    rows: dict[str, int]
    recordings: int
    present: int = 0
    left: tuple[Left, ...] = ()
    differing: tuple[Differing, ...] = ()
