"""The references between the rows of an archive, checked against the rows that are in the journal so far.

A row comes after the rows that it refers to. So when its turn comes, these are in the journal's
transaction, or they were left out, and then the row is left out too. A row may only refer to rows of its
own piece or performer: a run-through to a draft of the same piece, a take to a recording of it.
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

_DRAFTS = 64  # drafts whose words are remembered while their run-throughs come in; set by hand
_MOST_OWNERS = 100_000  # rows whose owner is remembered at once: enough for any real journal; set by hand


@dataclass(frozen=True, slots=True)
class _Draft:
    piece_id: str
    texts: tuple[str, ...]
    keys: frozenset[int]
    units: int


class References:
    """Checks what rows refer to. fits_brief: see `carried.FitsBrief`; None to accept every brief."""

    def __init__(self, conn: Connection, fits_brief: Callable[[str, str], None] | None = None) -> None:
        self._conn = conn
        self._fits_brief = fits_brief
        self._drafts: OrderedDict[str, _Draft | None] = OrderedDict()
        self._owners: dict[tuple[str, str], tuple[Any, ...] | None] = {}
        self._keys: dict[str, frozenset[int]] = {}

    def check(self, table: str, row: dict[str, Any]) -> None:
        """Raise Misfit if a row that `row` needs is missing, or if the two do not belong together.

        If `row` can do without it (a recording, run-through or brief), the reference is set to None instead.
        """
        for parent in ("performer", "piece", "run", "session", "brief"):
            key = f"{parent}_id"
            if row.get(key) is None or key in _LOOSE.get(table, {}):
                continue
            if self._owner(parent, row[key]) is None:
                raise Misfit(f"the {_ROW_NAMES[parent]} it belongs to is missing")
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
                    raise Misfit("its brief belongs to another performer")
            elif found[0] != row["piece_id"]:
                raise Misfit(f"its {_ROW_NAMES[parent]} belongs to another piece")

    def _owner(self, table: str, key: str) -> tuple[Any, ...] | None:
        """The columns of `_OWNED` for the row with this key: whose it is. None if there is no such row."""
        at = (table, key)
        if at not in self._owners:
            if len(self._owners) > _MOST_OWNERS:
                self._owners.clear()
            found = self._conn.execute(select(*_OWNED[table]).where(_TABLES[table].c.id == key)).one_or_none()
            self._owners[at] = None if found is None else tuple(found)
        return self._owners[at]

    def forget(self) -> None:
        """Forget all that was looked up, because rows came in or were rolled back."""
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
            raise Misfit("the draft it belongs to is missing")
        if draft.piece_id != row["piece_id"]:
            raise Misfit("its draft belongs to another piece")
        return draft

    def _run(self, row: dict[str, Any]) -> None:
        draft = self._of_its_piece(row)
        if tuple(row.pop("texts")) != draft.texts:
            raise Misfit("its words are not those of its draft")
        if len(row["ratings"]) != draft.units:
            raise Misfit("it does not have one rating for each thought of its draft")

    def _correction(self, row: dict[str, Any]) -> None:
        run = self._owner("run", row["run_id"])
        if run is not None and row["word"] >= run[1]:
            raise Misfit("it corrects a word that the run-through does not have")

    def _answer(self, row: dict[str, Any]) -> None:
        draft = self._of_its_piece(row)
        session = self._owner("session", row["session_id"])
        if session is not None and session[0] != row["piece_id"]:
            raise Misfit("its sitting belongs to another piece")
        if row["last"] >= len(draft.texts) or row["unit"] not in draft.keys:
            raise Misfit("it is about words that its draft does not have")

    def _memory(self, row: dict[str, Any]) -> None:
        piece = row["piece_id"]
        if piece not in self._keys:
            drafts = self._conn.execute(select(t.version.c.units).where(t.version.c.piece_id == piece))
            self._keys[piece] = frozenset(u[1] for units in drafts.scalars() for u in json.loads(units))
        if row["unit"] not in self._keys[piece]:
            raise Misfit("it is about a thought that the piece does not have")

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
# The references that a row can do without: in the tables they are ON DELETE SET NULL.
_LOOSE: Mapping[str, Mapping[str, str]] = {
    "run": {"recording_id": "recording"},
    "take": {"recording_id": "recording", "run_id": "run", "brief_id": "brief"},
}
_ROW_NAMES = {
    "performer": "performer",
    "piece": "piece",
    "run": "run-through",
    "session": "sitting",
    "recording": "recording",
    "brief": "brief",
}
_TABLES: Mapping[str, Table] = {name: getattr(t, name) for name in _ROW_NAMES}
_OWNED: Mapping[str, tuple[Any, ...]] = {
    "performer": (t.performer.c.id, t.performer.c.zone),
    "piece": (t.piece.c.performer_id,),
    "run": (t.run.c.piece_id, t.run.c.words),
    "session": (t.session.c.piece_id,),
    "recording": (t.recording.c.piece_id,),
    "brief": (t.brief.c.performer_id,),
}
