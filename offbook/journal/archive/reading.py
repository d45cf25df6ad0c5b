"""Import: an archive is read into the journal, and checked as if a stranger had sent it.

Everything that is whole comes in, in one transaction. What is damaged is left out and reported, together
with the rows that refer to it. A recording is first unpacked into a part file and compared with the hash
that its row has. Only then it is put into its place, which the journal decides: a path in the archive is
never followed, and a file that is there already is never changed. If the import fails, the files that it
made are removed, and no others.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, UniqueConstraint, insert, select
from sqlalchemy.exc import IntegrityError

from offbook.errors import JournalError
from offbook.intake import ARCHIVE, MEGABYTE, open_input
from offbook.journal import tables as t
from offbook.journal.archive.carried import Carried, FitsBrief, NotCarried
from offbook.journal.archive.members import FAULTS, GIVE_WHOLE, Archive, DamagedTable
from offbook.journal.archive.members import opened_archive as archive_in
from offbook.journal.archive.merging import RowMerge
from offbook.journal.archive.references import References
from offbook.journal.archive.rows import Misfit, row_of
from offbook.journal.files import SUFFIX_PART, keep_part, plain_suffix, write_part
from offbook.journal.private import make_private

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_AT_ONCE = 500  # rows that are inserted together; set by hand
# rows of one table that are left out one by one; with more, it is not a journal's. Set by hand
_MOST_MISFITS = 200


def read_archive(journal: Journal, source: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Import an archive; see `archive.read_in`."""
    with open_input(source, ARCHIVE, JournalError) as (file, size):
        archive = archive_in(file, size)
        importing = _Import(journal, archive)
        try:
            importing.unpack()
            with journal.writing() as conn:
                carried = importing.rows(conn, References(conn, fits_brief))
                if not sum(carried.rows.values()) and not carried.present and carried.left:
                    raise JournalError(f"nothing in {source.name} is whole: {carried.left[0]}", GIVE_WHOLE)
        except BaseException:
            importing.undo()
            raise
        finally:
            importing.clear()
    return carried


@dataclass
class _Import:
    """An import that is going on.

    parts: the recordings that were unpacked, by key; refused: why the others were not. made: the files that
    this import has put into their places. left: what is left out. present: how many rows the journal had
    already.
    """

    journal: Journal
    archive: Archive
    parts: dict[str, Path] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    made: list[Path] = field(default_factory=list)
    left: list[NotCarried] = field(default_factory=list)
    present: int = 0

    def unpack(self) -> None:
        """Unpack the recordings that the journal does not have, each into a part file.

        Raises JournalError if the disk has no room for them.
        """
        with self.journal.reading() as conn:
            there = set(conn.execute(select(t.recording.c.id)).scalars())
        wanted = [row for row in self._recordings() if row["id"] not in there]
        room = sum(row["bytes"] for row in wanted if self._why_not(row) is None)
        try:
            make_private(self.journal.recordings)
            if wanted and room > shutil.disk_usage(self.journal.recordings).free:
                raise JournalError(
                    f"the archive's recordings need {room / MEGABYTE:,.0f} MB, more than the disk has free",
                    "free some space and import it again; nothing was changed",
                )
            for row in wanted:
                self._unpack(row)
        except OSError as e:
            raise JournalError(
                f"cannot unpack the recordings into {self.journal.recordings}: {e.strerror or e}",
                "free some space there and allow writing to the folder; nothing was changed",
            ) from e

    def _recordings(self) -> Iterator[dict[str, Any]]:
        try:
            for line in self.archive.lines("recording.jsonl"):
                try:
                    yield row_of("recording", line)
                except Misfit:
                    continue  # it is reported later, with the other rows of its table
        except DamagedTable:
            return

    def _why_not(self, row: dict[str, Any]) -> str | None:
        name = f"recordings/{row['path']}"
        if not self.archive.has(name):
            return "its file is not in the archive"
        facts = self.archive.facts(name)
        if (facts.sha256, facts.bytes) != (row["sha256"], row["bytes"]):
            return "its file was damaged before it was exported"
        return None

    def _unpack(self, row: dict[str, Any]) -> None:
        if row["id"] in self.parts:
            return
        why = self._why_not(row)
        if why is None:
            part = self.journal.recordings / f"{self.journal.key()}.{os.getpid()}{SUFFIX_PART}"
            try:
                found = write_part(self.archive.open(f"recordings/{row['path']}"), part, row["bytes"])
                why = None if found == (row["sha256"], row["bytes"]) else "its file is damaged in the archive"
            except FAULTS as e:
                part.unlink(missing_ok=True)
                if isinstance(e, OSError) and e.errno is not None:  # the disk, not the archive
                    raise
                why = "its file is damaged in the archive"
            if why is None:
                self.parts[row["id"]] = part
                return
            part.unlink(missing_ok=True)
        self.refused[row["id"]] = why

    def rows(self, conn: Connection, references: References) -> Carried:
        """Insert the rows that are whole, table by table, and merge those that both sides have."""
        counts: dict[str, int] = {}
        merge = RowMerge(conn, references)
        for table in t.IN_ORDER:
            name = f"{table.name}.jsonl"
            if not self.archive.has(name) and name not in self.archive.manifest.members:
                counts[table.name] = 0  # the archive is older than this table
                continue
            nested, before, seen = conn.begin_nested(), len(self.left), self.present
            told, known = len(merge.differing), merge.remembered
            try:
                counts[table.name] = self._table(conn, table, references, merge)
                nested.commit()
            except DamagedTable:
                nested.rollback()
                del self.left[before:], merge.differing[told:]
                merge.remembered = known
                self.present, counts[table.name] = seen, 0
                self.left.append(NotCarried(table.name, None, "the whole table is damaged in the archive"))
            references.forget()
        kept = len(self.made)
        differing = tuple(merge.differing)
        return Carried(counts, kept, self.present, tuple(self.left), differing, merge.remembered)

    def _table(self, conn: Connection, table: Table, references: References, merge: RowMerge) -> int:
        there = {tuple(row) for row in conn.execute(select(*table.primary_key.columns))}
        unique = _Unique(conn, table)
        fresh: list[dict[str, Any]] = []
        count = misfits = 0
        for line in self.archive.lines(f"{table.name}.jsonl"):
            key = None
            try:
                row = row_of(table.name, line)
                key = row.get("id")
                if tuple(row[c.name] for c in table.primary_key.columns) in there:
                    self.present += 1
                    if "name" in merge.merge_row(table, row):
                        unique.look_again(conn)
                    continue
                references.check(table.name, row)
                unique.take(row)
                if table is t.recording:
                    self._settle(row)
                elif table is t.take:
                    merge.choose(row)
                elif table is t.correction:
                    merge.corrected(row["run_id"])
            except Misfit as e:
                misfits += 1
                if misfits > _MOST_MISFITS:
                    raise DamagedTable("most of its rows are not those of a journal") from e
                self.left.append(NotCarried(table.name, key, str(e)))
                continue
            fresh.append(row)
            count += 1
            if len(fresh) >= _AT_ONCE:
                _insert(conn, table, fresh)
                fresh = []
        _insert(conn, table, fresh)
        merge.recounted()
        return count

    def _settle(self, row: dict[str, Any]) -> None:
        """Put the recording of a row into its place, and write that place into the row.

        Raises Misfit if there is no file for it.
        """
        part = self.parts.get(row["id"])
        if part is None:
            raise Misfit(self.refused.get(row["id"], "its file is not in the archive"))
        folder = self.journal.recordings / row["piece_id"]
        placed = keep_part(part, folder, row["id"], plain_suffix(row["path"]), self.journal.key)
        self.made.append(placed)
        row["path"] = f"{folder.name}/{placed.name}"

    def undo(self) -> None:
        """Remove the recordings that this import has put into their places, and no other file."""
        for path in self.made:
            path.unlink(missing_ok=True)
            if path.parent.is_dir() and not any(path.parent.iterdir()):
                path.parent.rmdir()

    def clear(self) -> None:
        """Remove the part files. The recordings that came in are in their places by now."""
        for part in self.parts.values():
            part.unlink(missing_ok=True)


class _Unique:
    """The values that must be unique in a table, such as the name of a piece."""

    def __init__(self, conn: Connection, table: Table) -> None:
        self._table = table
        keys = [tuple(c.name for c in table.primary_key.columns)]
        keys += [
            tuple(c.name for c in u.columns) for u in table.constraints if isinstance(u, UniqueConstraint)
        ]
        keys += [(c.name,) for c in table.columns if c.unique]
        self._taken: dict[tuple[str, ...], set[tuple[Any, ...]]] = {names: set() for names in keys}
        self._here: dict[tuple[str, ...], set[tuple[Any, ...]]] = {}
        self.look_again(conn)

    def look_again(self, conn: Connection) -> None:
        """Read from the journal which values are taken; needed again after a row got another name."""
        for names in self._taken:
            rows = conn.execute(select(*[self._table.c[n] for n in names]))
            self._here[names] = {tuple(row) for row in rows}

    def take(self, row: dict[str, Any]) -> None:
        """Take the values of a row.

        Raises JournalError if another row here has its name, Misfit if it comes twice.
        """
        for names, here in self._here.items():
            value = tuple(row[n] for n in names)
            if value in here and names[-1] == "name":
                raise self._name_taken(row["name"])
            if value in here or value in self._taken[names]:
                raise Misfit("another row has the same key or number")
        for names in self._here:
            self._taken[names].add(tuple(row[n] for n in names))

    def _name_taken(self, name: str) -> JournalError:
        kind = self._table.name
        if kind == "brief":
            do = f'delete yours with `offbook brief delete "{name}"`, or give it another name'
        else:
            do = f'rename yours with `offbook {kind} set "{name}" --name NEW`'
        what = f"a {kind} in the archive has the same name as a different one here: {name}"
        return JournalError(what, f"{do}; nothing was changed")


def _insert(conn: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    try:
        conn.execute(insert(table), rows)
    except IntegrityError as e:
        raise JournalError(f"rows of {table.name} in the archive do not fit this journal", GIVE_WHOLE) from e
