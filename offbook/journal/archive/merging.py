"""Rows that both the journal and the archive have: of two values, the one that was changed later is taken.

Each value is compared by itself. If the date was changed here and the limit there, both changes are kept.
If it is not known which value is later, the one in the journal stays. Every value that was different is
reported, whichever was taken, so that nothing changes without the person being told.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, select, update
from sqlalchemy.exc import IntegrityError

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.archive.carried import Differing
from offbook.journal.archive.references import References
from offbook.journal.run_throughs import recount
from offbook.journal.sending import choose_take, takes
from offbook.journal.settling import SETTLED, change_and_note, moments_as_text, settled_at, unchanged_since

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

# Columns that take the other side's value while they are empty: the take may have been judged there.
_EMPTY_GIVES_WAY = {"checks"}


def _later_side(here: datetime, there: datetime) -> int:
    """1 if `there` is later, -1 if `here` is, 0 if they are the same moment."""
    return (there > here) - (there < here)


class RowMerge:
    """Merges the rows that both sides have, within one transaction.

    differing: the values that were different so far. remembered: how many memories of thoughts were taken
    from the archive.
    """

    def __init__(self, conn: Connection, references: References) -> None:
        self.differing: list[Differing] = []
        self.remembered = 0
        self._conn = conn
        self._references = references
        self._ratings: dict[str, str] = {}
        self._corrected: set[str] = set()
        self._put_right: set[str] = set()
        self._let_in: set[tuple[str, str | None]] = set()
        chosen = select(t.take).where(t.take.c.chosen)
        rows = [dict(row) for row in conn.execute(chosen).mappings()]
        self._chosen = {(row["piece_id"], row["brief_id"]): row for row in rows}

    def merge_row(self, table: Table, row: dict[str, Any]) -> dict[str, Any]:
        """Merge a row of the archive with the row here that has the same key.

        Returns the columns that were changed here. Raises Misfit if the text of a brief cannot be read.
        """
        if table is t.memory:
            self._remember(row)
        elif table is t.run:
            self._ratings[row["id"]] = row["ratings"]
        elif table.name in SETTLED:
            return self._settle(table, row)
        return {}

    def _settle(self, table: Table, row: dict[str, Any]) -> dict[str, Any]:
        here = dict(self._conn.execute(select(table).where(table.c.id == row["id"])).mappings().one())
        ours, theirs = settled_at(here), settled_at(row)
        moments, values = dict(ours), {}
        for group in SETTLED[table.name]:
            first = group[0]
            at_here, at_there = unchanged_since(here, first, ours), unchanged_since(row, first, theirs)
            later = at_there > at_here or (first in _EMPTY_GIVES_WAY and here[first] is None)
            if any(here[name] != row[name] for name in group):
                if first == "text":
                    self._references.check(table.name, dict(row))
                taken = later and self._can_be(table, here, row, first)
                if taken:
                    values.update({name: row[name] for name in group})
                self._tell(table, here, row, first, taken=taken, ahead=_later_side(at_here, at_there))
                later = taken
            if later and first in theirs:
                moments[first] = at_there
        if values or moments != ours:
            changed = {**values, "settled": moments_as_text(moments)}
            self._conn.execute(update(table).where(table.c.id == row["id"]).values(**changed))
        return values

    def _can_be(self, table: Table, here: Mapping[str, Any], row: dict[str, Any], column: str) -> bool:
        """Whether the journal can take this value."""
        if column == "name":
            same = [table.c.name == row["name"], table.c.id != row["id"]]
            if table is t.piece:
                same.append(table.c.performer_id == here["performer_id"])
            return self._conn.execute(select(table.c.id).where(*same)).first() is None
        if column == "checks" and row["run_id"] is not None:
            run = self._conn.execute(select(t.run.c.id).where(t.run.c.id == row["run_id"])).first()
            row["run_id"] = None if run is None else row["run_id"]
        elif column == "chosen" and row["chosen"]:
            self._give_up_chosen(row)
        return True

    def choose(self, row: dict[str, Any]) -> None:
        """Decide whether a take that only the archive has stays chosen: only if ours was chosen earlier."""
        if not row["chosen"]:
            return
        place = (row["piece_id"], row["brief_id"])
        if place in self._let_in:  # the archive has two that are chosen; the first one counts
            row["chosen"] = False
            return
        self._let_in.add(place)
        here = self._chosen.get(place)
        if here is None:
            return
        at_here = unchanged_since(here, "chosen", settled_at(here))
        at_there = unchanged_since(row, "chosen", settled_at(row))
        taken = at_there > at_here
        self._tell(t.take, here, row, "chosen", taken=taken, ahead=_later_side(at_here, at_there))
        row["chosen"] = taken
        if taken:
            self._give_up_chosen(row)

    def _give_up_chosen(self, row: Mapping[str, Any]) -> None:
        """Unchoose the other takes here for the same brief, with the moment at which `row` was chosen."""
        same = (t.take.c.piece_id == row["piece_id"], t.take.c.id != row["id"], t.take.c.chosen)
        of_brief = t.take.c.brief_id.is_not_distinct_from(row["brief_id"])
        at = unchanged_since(row, "chosen", settled_at(row))
        for other in self._conn.execute(select(t.take).where(*same, of_brief)).mappings().all():
            settled = moments_as_text({**settled_at(dict(other)), "chosen": at})
            which = t.take.c.id == other["id"]
            self._conn.execute(update(t.take).where(which).values(chosen=False, settled=settled))

    def _tell(
        self,
        table: Table,
        here: Mapping[str, Any],
        row: Mapping[str, Any],
        column: str,
        *,
        taken: bool,
        ahead: int,
    ) -> None:
        """Report a value that differs.

        ahead: 1 if the archive's was set later, -1 if ours was, 0 if neither was. If different takes are
        chosen on the two sides, one report, of the take that is chosen there, stands for both.
        """
        name, number, values = self._named(table, here), here.get("n"), (here[column], row[column])
        if column == "name" and taken:
            name = row[column]
        if column == "chosen":
            if not row["chosen"]:
                return
            before = self._chosen.get((row["piece_id"], row["brief_id"]))
            number, values = row["n"], (None if before is None else before["n"], row["n"])
        [group] = (g for g in SETTLED[table.name] if g[0] == column)
        whole = ({each: here[each] for each in group}, {each: row[each] for each in group})
        self.differing.append(
            Differing(
                table.name, name, column, *values, taken, ahead > 0, ahead == 0, number, row["id"], whole
            )
        )

    def _named(self, table: Table, here: Mapping[str, Any]) -> str:
        """The name of the row, or of the brief or piece that it belongs to."""
        if "name" in here:
            return str(here["name"])
        parent = t.brief if table is t.parcel else t.piece
        key = here[f"{parent.name}_id"]
        return str(self._conn.execute(select(parent.c.name).where(parent.c.id == key)).scalar_one())

    def _remember(self, row: dict[str, Any]) -> None:
        """Take the memory of a thought from the side that asked it later.

        If both asked it last at the same moment, it is the archive's if corrections of the piece came from
        there.
        """
        m = t.memory.c
        which = (m.piece_id == row["piece_id"], m.unit == row["unit"])
        last, theirs = (
            self._conn.execute(select(m.last_review).where(*which)).scalar_one(),
            row["last_review"],
        )
        corrected = last == theirs and row["piece_id"] in self._put_right
        if theirs is None or (last is not None and last >= theirs and not corrected):
            return
        self._conn.execute(update(t.memory).where(*which).values(**row))
        self.remembered += 1

    def corrected(self, run_id: str) -> None:
        """A correction of this run-through came in, so `recounted` will count it again."""
        self._corrected.add(run_id)

    def recounted(self) -> None:
        """Count the run-throughs with new corrections again, and give them the ratings of the archive."""
        for key in self._corrected:
            recount(self._conn, key)
            if key in self._ratings:
                ratings = {"ratings": self._ratings[key]}
                self._conn.execute(update(t.run).where(t.run.c.id == key).values(**ratings))
            piece = select(t.run.c.piece_id).where(t.run.c.id == key)
            self._put_right.add(self._conn.execute(piece).scalar_one())
        self._corrected.clear()


def change_to_other(journal: Journal, conn: Connection, found: Differing) -> None:
    """Set a value that differed to the other one of its two values, as a change that is made now.

    Raises JournalError if another row has the name by now, or if the row was deleted.
    """
    other = found.whole[0] if found.taken else found.whole[1]
    table = t.metadata.tables[found.table]
    if conn.execute(select(table.c.id).where(table.c.id == found.key)).first() is None:
        raise JournalError(
            f"{found.name} is no longer in the journal",
            "it was deleted after the import; there is nothing to do",
        )
    if found.column == "chosen":
        _choose_other(journal, conn, found)
    else:
        try:
            change_and_note(conn, table, table.c.id == found.key, other, journal.clock())
        except IntegrityError as e:
            raise JournalError(
                f"something here is already called {found.here if found.taken else found.there}",
                "give that another name first",
            ) from e


def _choose_other(journal: Journal, conn: Connection, found: Differing) -> None:
    """Choose the other one of two takes for the same brief; none if none was chosen here before."""
    theirs = t.take.c.id == found.key
    number = found.here if found.taken else found.there
    if number is None:
        change_and_note(conn, t.take, theirs, {"chosen": False}, journal.clock())
        return
    piece = select(t.take.c.piece_id).where(theirs).scalar_subquery()
    [take] = [each for each in takes(conn, conn.execute(select(piece)).scalar_one()) if each.n == number]
    choose_take(journal, conn, take)
