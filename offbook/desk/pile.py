"""A pile of recordings: whose each one is, and of which piece, before anything is heard or stored.

A pile is a folder in which the files' names follow a pattern, or a table (CSV with the columns performer,
piece and recording). A recording whose performer is not known is listed with the reason, and not stored.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.errors import JournalError, OffbookError
from offbook.intake import TABLE, read_text

if TYPE_CHECKING:
    from offbook.journal import Connection
    from offbook.records import Piece

USUAL_PATTERN = "{performer}/{piece}"
_COLUMNS = ("performer", "piece", "recording")
_FIELD = re.compile(r"\{(performer|piece)\}")
# In a folder, files with these endings are taken for recordings. What a file really is, its content decides.
_SOUNDS = {".wav", ".mp3", ".m4a", ".ogg", ".opus", ".oga", ".webm", ".flac", ".mp4", ".mov", ".aac", ".mka"}
_NUMBER_BEHIND = re.compile(r"[ _-]*\d+$")  # a counter after the piece's name, as in "the_lamp_2"


class PileError(OffbookError):
    """A pile that cannot be read: what is wrong with it, and what to do."""


@dataclass(frozen=True, slots=True)
class PileEntry:
    """One recording of a pile. performer, piece: from the file's name or the table; empty where not given."""

    recording: Path
    performer: str
    piece: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A recording whose performer is known. piece: None where only hearing tells which of `among` it is."""

    entry: PileEntry
    piece: Piece | None
    among: tuple[Piece, ...] = ()


@dataclass(frozen=True, slots=True)
class NotPlaced:
    """A recording that was not heard: why, and what to do."""

    recording: Path
    what: str
    do: str


def pile_of(source: Path, pattern: str = USUAL_PATTERN) -> tuple[PileEntry, ...]:
    """The recordings of a folder or a table, in the order of their names. Raises PileError."""
    found = tuple(_folder(source, pattern) if source.is_dir() else _table(source))
    if not found:
        raise PileError(
            f"{source} holds no recording", "name a folder of recordings, or a table that lists them"
        )
    return found


def _folder(folder: Path, pattern: str) -> Iterator[PileEntry]:
    reader = _reader(pattern)
    for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in _SOUNDS and p.is_file()):
        name = path.relative_to(folder).with_suffix("").as_posix()
        match = reader.fullmatch(name)
        groups = {} if match is None else match.groupdict()
        piece = _NUMBER_BEHIND.sub("", groups.get("piece") or "").strip(" _-")
        yield PileEntry(path, (groups.get("performer") or "").replace("_", " ").strip(), piece)


def _reader(pattern: str) -> re.Pattern[str]:
    """The pattern as a regular expression over a file's name below the folder, without its ending."""
    if "{performer}" not in pattern:
        raise PileError(
            f"the pattern {pattern!r} has no {{performer}}",
            f"write it as {USUAL_PATTERN} or {{performer}}_{{piece}}",
        )
    parts, at = [], 0
    for field in _FIELD.finditer(pattern):
        parts += [re.escape(pattern[at : field.start()]), f"(?P<{field[1]}>[^/]+?)"]
        at = field.end()
    try:
        return re.compile("".join([*parts, re.escape(pattern[at:])]))
    except re.error as e:  # a field named twice
        raise PileError(f"the pattern {pattern!r} names a field twice", "name each field once") from e


def _table(path: Path) -> Iterator[PileEntry]:
    text = read_text(path, TABLE, PileError)
    rows = csv.DictReader(text.splitlines())
    missing = [c for c in _COLUMNS if c not in (rows.fieldnames or ())]
    if missing:
        raise PileError(
            f"the table {path} has no column {', '.join(missing)}",
            f"give it the columns {', '.join(_COLUMNS)} in its first line",
        )
    for row in rows:
        recording = Path((row["recording"] or "").strip())
        if recording.name:
            at = recording if recording.is_absolute() else path.parent / recording
            yield PileEntry(at, (row["performer"] or "").strip(), (row["piece"] or "").strip())


def match_recordings(conn: Connection, entries: Sequence[PileEntry]) -> tuple[list[Placed], list[NotPlaced]]:
    """Find the performer and the piece of each recording in the journal. Nothing is changed."""
    from offbook.journal import performers, pieces_of

    people = {p.name.casefold(): p for p in performers(conn)}
    owned: dict[str, tuple[Piece, ...]] = {}
    placed: list[Placed] = []
    lost: list[NotPlaced] = []
    seen: dict[tuple[Path, str], PileEntry] = {}
    for entry in entries:
        person = people.get(entry.performer.casefold())
        if person is None:
            what = (
                f"no performer is called {entry.performer!r}"
                if entry.performer
                else "its name does not say whose it is"
            )
            lost.append(
                NotPlaced(entry.recording, what, "add the performer, or correct the name or --pattern")
            )
            continue
        key = (entry.recording.resolve(), person.id)
        if key in seen:
            lost.append(NotPlaced(entry.recording, "it is in the pile twice", "one of the two was taken"))
            continue
        seen[key] = entry
        mine = owned.setdefault(person.id, pieces_of(conn, person.id))
        if not mine:
            lost.append(
                NotPlaced(entry.recording, f"{person.name} has no piece", "add one: offbook piece add SCRIPT")
            )
            continue
        placed.append(_placed(entry, mine))
    return placed, lost


def _placed(entry: PileEntry, mine: tuple[Piece, ...]) -> Placed:
    """The piece that the file is named after, or the only one, or all of them for hearing to choose from."""
    from offbook.journal import piece_among

    if entry.piece:
        try:
            return Placed(entry, piece_among(mine, entry.piece))
        except JournalError:
            pass  # the name says something else, such as a date: hearing finds the piece
    return Placed(entry, mine[0]) if len(mine) == 1 else Placed(entry, None, mine)
