"""What the rows of an archive say of each other, compared with what is in the journal by then.

Rows come in parents first, so whatever a row names is in the journal's transaction when its turn comes,
or it was left out and the row with it. A row may only hang on rows of its own piece or performer: a
run-through on a draft of the same piece, a take on a recording of it.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, select

from offbook.journal import tables as t
from offbook.journal.archive.rows import Misfit

# Drafts of which the words are kept at hand while their run-throughs come in.
_DRAFTS = 64
_MOST_OWNERS = 100_000  # remembered at once: enough for any journal, a bound for any other; set by hand


@dataclass(frozen=True, slots=True)
class _Draft:
    piece_id: str
    texts: tuple[str, ...]
    keys: frozenset[int]
    units: int


class References:
    """Checks rows against what is in the journal. fits_brief: raises ValueError for a brief's text and zone
    that cannot be read."""

    def __init__(self, conn: Connection, fits_brief: Callable[[str, str], None] | None = None) -> None:
        self._conn = conn
        self._fits_brief = fits_brief
        self._drafts: OrderedDict[str, _Draft | None] = OrderedDict()
        self._owners: dict[tuple[str, str], tuple[Any, ...] | None] = {}
        self._keys: dict[str, frozenset[int]] = {}

    def check(self, table: str, row: dict[str, Any]) -> None:
        """Raise Misfit where `row` hangs on nothing or does not fit what it hangs on.

        A recording, run-through or brief that a row may do without and that is not there is set to None.
        """
        for parent in ("performer", "piece", "run", "session", "brief"):
            key = f"{parent}_id"
            if row.get(key) is None or key in _LOOSE.get(table, {}):
                continue
            if self._owner(parent, row[key]) is None:
                raise Misfit(f"the {_TOLD[parent]} it belongs to is not there")
        self._loose(table, row)
        check = _CHECKS.get(table)
        if check is not None:
            check(self, row)

    def _loose(self, table: str, row: dict[str, Any]) -> None:
        for key, parent in _LOOSE.get(table, {}).items():
            if row.get(key) is None:
                continue
            found = self._owner(parent, row[key])
            if found is None:
                row[key] = None
            elif parent == "brief":
                owner = self._owner("piece", row["piece_id"])
                if owner is None or found[0] != owner[0]:
                    raise Misfit("its brief is another performer's")
            elif found[0] != row["piece_id"]:
                raise Misfit(f"its {_TOLD[parent]} is of another piece")

    def _owner(self, table: str, key: str) -> tuple[Any, ...] | None:
        """What a row belongs to and, of a run-through, its words; None where it is not there."""
        at = (table, key)
        if at not in self._owners:
            if len(self._owners) > _MOST_OWNERS:
                self._owners.clear()
            found = self._conn.execute(select(*_OWNED[table]).where(_TABLES[table].c.id == key)).one_or_none()
            self._owners[at] = None if found is None else tuple(found)
        return self._owners[at]

    def forget(self) -> None:
        """Look everything up again: rows came in, or were taken back."""
        self._owners.clear()
        self._drafts.clear()
        self._keys.clear()

    def _draft(self, key: str) -> _Draft | None:
        if key not in self._drafts:
            columns = (t.version.c.piece_id, t.version.c.words, t.version.c.units)
            row = self._conn.execute(select(*columns).where(t.version.c.id == key)).one_or_none()
            self._drafts[key] = None if row is None else _draft(*row)
            if len(self._drafts) > _DRAFTS:
                self._drafts.popitem(last=False)
        return self._drafts[key]

    def _of_its_piece(self, row: Mapping[str, Any]) -> _Draft:
        draft = self._draft(row["version_id"])
        if draft is None:
            raise Misfit("the draft it belongs to is not there")
        if draft.piece_id != row["piece_id"]:
            raise Misfit("its draft is of another piece")
        return draft

    def _run(self, row: dict[str, Any]) -> None:
        draft = self._of_its_piece(row)
        if tuple(row.pop("texts")) != draft.texts:
            raise Misfit("its words are not those of its draft")
        if len(row["ratings"]) != draft.units:
            raise Misfit("its ratings do not fit the thoughts of its draft")

    def _correction(self, row: dict[str, Any]) -> None:
        run = self._owner("run", row["run_id"])
        if run is not None and row["word"] >= run[1]:
            raise Misfit("it corrects a word that the run-through has not")

    def _answer(self, row: dict[str, Any]) -> None:
        draft = self._of_its_piece(row)
        session = self._owner("session", row["session_id"])
        if session is not None and session[0] != row["piece_id"]:
            raise Misfit("its sitting is of another piece")
        if row["last"] >= len(draft.texts) or row["unit"] not in draft.keys:
            raise Misfit("it is of words that its draft has not")

    def _memory(self, row: dict[str, Any]) -> None:
        piece = row["piece_id"]
        if piece not in self._keys:
            drafts = self._conn.execute(select(t.version.c.units).where(t.version.c.piece_id == piece))
            self._keys[piece] = frozenset(u[1] for units in drafts.scalars() for u in json.loads(units))
        if row["unit"] not in self._keys[piece]:
            raise Misfit("it is of a thought that the piece has not")

    def _brief(self, row: dict[str, Any]) -> None:
        if self._fits_brief is None:
            return
        owner = self._owner("performer", row["performer_id"])
        try:
            self._fits_brief(row["text"], "UTC" if owner is None else owner[1])
        except ValueError as e:
            raise Misfit("it cannot be read as a brief") from e


def _draft(piece_id: str, words: str, units: str) -> _Draft:
    keys = [u[1] for u in json.loads(units)]
    return _Draft(piece_id, tuple(w[0] for w in json.loads(words)), frozenset(keys), len(keys))


_CHECKS: Mapping[str, Callable[[References, dict[str, Any]], None]] = {
    "run": References._run,
    "correction": References._correction,
    "answer": References._answer,
    "memory": References._memory,
    "brief": References._brief,
}
# What a row may name and do without, as the tables say with ON DELETE SET NULL.
_LOOSE: Mapping[str, Mapping[str, str]] = {
    "run": {"recording_id": "recording"},
    "take": {"recording_id": "recording", "run_id": "run", "brief_id": "brief"},
}
_TOLD = {
    "performer": "performer",
    "piece": "piece",
    "run": "run-through",
    "session": "sitting",
    "recording": "recording",
    "brief": "brief",
}
_TABLES: Mapping[str, Table] = {name: getattr(t, name) for name in _TOLD}
_OWNED: Mapping[str, tuple[Any, ...]] = {
    "performer": (t.performer.c.id, t.performer.c.zone),
    "piece": (t.piece.c.performer_id,),
    "run": (t.run.c.piece_id, t.run.c.words),
    "session": (t.session.c.piece_id,),
    "recording": (t.recording.c.piece_id,),
    "brief": (t.brief.c.performer_id,),
}
