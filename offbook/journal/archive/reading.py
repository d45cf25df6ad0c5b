"""Import: an archive read into the journal, as if a stranger had sent it.

What is whole comes in, in one transaction; what is not is left out and named, with all that hangs on it.
A recording is unpacked beside its place before anything is written in the journal, compared with the hash
that its row has, and only then put where the journal wants it: a path in the archive is never followed,
and a file that is there already is never touched. Undoing removes what this import made and nothing else.
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
from offbook.journal.archive.carried import Carried, FitsBrief, Left
from offbook.journal.archive.meeting import Meeting
from offbook.journal.archive.members import FAULTS, WHOLE, Archive, Torn
from offbook.journal.archive.members import opened_archive as archive_in
from offbook.journal.archive.references import References
from offbook.journal.archive.rows import Misfit, row_of
from offbook.journal.files import SUFFIX_PART, ending, keep_part, write_part
from offbook.journal.private import make_private

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_AT_ONCE = 500  # rows that are inserted together
_MOST_MISFITS = 200  # in one table; one with more is no table of a journal


def read_archive(journal: Journal, source: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Read what is whole of an archive into the journal, in one transaction.

    fits_brief: raises ValueError where a brief's text, meant in a zone, cannot be read. Raises JournalError
    where nothing of the archive can be read, or where a name in it is taken here: then nothing was changed.
    """
    with open_input(source, ARCHIVE, JournalError) as (file, size):
        archive = archive_in(file, size)
        taking = _Taking(journal, archive)
        try:
            taking.unpack()
            with journal.writing() as conn:
                carried = taking.rows(conn, References(conn, fits_brief))
                if not sum(carried.rows.values()) and not carried.present and carried.left:
                    raise JournalError(f"nothing in {source.name} is whole: {carried.left[0]}", WHOLE)
        except BaseException:
            taking.undo()
            raise
        finally:
            taking.clear()
    return carried


@dataclass
class _Taking:
    """One import under way. parts: recordings unpacked, by key. made: files put in place by this import."""

    journal: Journal
    archive: Archive
    parts: dict[str, Path] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    made: list[Path] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)
    present: int = 0

    def unpack(self) -> None:
        """Unpack the recordings that the journal lacks, each into a part of its own."""
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
                    continue  # named when its turn comes
        except Torn:
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
        """Insert what is whole and hangs on something, table by table, and settle what is on both sides."""
        counts: dict[str, int] = {}
        meeting = Meeting(conn, references)
        for table in t.IN_ORDER:
            name = f"{table.name}.jsonl"
            if not self.archive.has(name) and name not in self.archive.manifest.members:
                counts[table.name] = 0  # written before there was such a table
                continue
            nested, before, seen = conn.begin_nested(), len(self.left), self.present
            told, known = len(meeting.differing), meeting.remembered
            try:
                counts[table.name] = self._table(conn, table, references, meeting)
                nested.commit()
            except Torn:
                nested.rollback()
                del self.left[before:], meeting.differing[told:]
                meeting.remembered = known
                self.present, counts[table.name] = seen, 0
                self.left.append(Left(table.name, None, "the whole table is damaged in the archive"))
            references.forget()
        kept = len(self.made)
        differing = tuple(meeting.differing)
        return Carried(counts, kept, self.present, tuple(self.left), differing, meeting.remembered)

    def _table(self, conn: Connection, table: Table, references: References, meeting: Meeting) -> int:
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
                    if "name" in meeting.meet(table, row):
                        unique.look_again(conn)
                    continue
                references.check(table.name, row)
                unique.take(row)
                if table is t.recording:
                    self._settle(row)
                elif table is t.take:
                    meeting.choose(row)
                elif table is t.correction:
                    meeting.corrected(row["run_id"])
            except Misfit as e:
                misfits += 1
                if misfits > _MOST_MISFITS:
                    raise Torn("it holds hardly a row of a journal") from e
                self.left.append(Left(table.name, key, str(e)))
                continue
            fresh.append(row)
            count += 1
            if len(fresh) >= _AT_ONCE:
                _insert(conn, table, fresh)
                fresh = []
        _insert(conn, table, fresh)
        meeting.recounted()
        return count

    def _settle(self, row: dict[str, Any]) -> None:
        """Put the recording of a row that goes in where the journal wants it."""
        part = self.parts.get(row["id"])
        if part is None:
            raise Misfit(self.refused.get(row["id"], "its file is not in the archive"))
        folder = self.journal.recordings / row["piece_id"]
        placed = keep_part(part, folder, row["id"], ending(row["path"]), self.journal.key)
        self.made.append(placed)
        row["path"] = f"{folder.name}/{placed.name}"

    def undo(self) -> None:
        """Remove the recordings that this import put in place, and no other file."""
        for path in self.made:
            path.unlink(missing_ok=True)
            if path.parent.is_dir() and not any(path.parent.iterdir()):
                path.parent.rmdir()

    def clear(self) -> None:
        """Remove what was unpacked: what is wanted has its place by now."""
        for part in self.parts.values():
            part.unlink(missing_ok=True)


class _Unique:
    """What must be unique in a table, such as a piece's name."""

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
        """See what is taken here, again after a row was given another name."""
        for names in self._taken:
            rows = conn.execute(select(*[self._table.c[n] for n in names]))
            self._here[names] = {tuple(row) for row in rows}

    def take(self, row: dict[str, Any]) -> None:
        """Raises JournalError for a name that another row here has, Misfit for what comes twice."""
        for names, here in self._here.items():
            value = tuple(row[n] for n in names)
            if value in here and names[-1] == "name":
                raise self._name_taken(row["name"])
            if value in here or value in self._taken[names]:
                raise Misfit("there is another one in its place")
        for names in self._here:
            self._taken[names].add(tuple(row[n] for n in names))

    def _name_taken(self, name: str) -> JournalError:
        kind = self._table.name
        if kind == "brief":
            do = f'take yours out with `offbook brief delete "{name}"`, or give it another name'
        else:
            do = f'rename yours with `offbook {kind} set "{name}" --name NEW`'
        what = f"a {kind} in the archive has the name of another one here: {name}"
        return JournalError(what, f"{do}; nothing was changed")


def _insert(conn: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    try:
        conn.execute(insert(table), rows)
    except IntegrityError as e:
        raise JournalError(f"rows of {table.name} in the archive do not fit this journal", WHOLE) from e
