"""Recordings on disk: copied in whole or not at all, and gone for good when they are deleted.

A recording is copied to a `.part` file and synchronised. It is linked into its place inside the transaction
that writes its row, so no row ever names half a file, and the part is deleted afterwards. If the process was
killed in between, its part is still there, and shows the next process which file has no row. Other files
without a row are never deleted: a journal may have been moved away, or put back from a copy, and that must
not cost anybody a recording. Deleting goes the other way: the same transaction that deletes a row writes its
path into `doomed` (for a piece, its folders), and the files are deleted after the commit; what a killed
process did not come to is done by the next.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from sqlalchemy import Connection, delete, insert, select

from offbook.errors import JournalError, RecordingError
from offbook.intake import RECORDING, open_input
from offbook.journal import tables as t
from offbook.journal.private import make_private, private_file
from offbook.scratch import is_running

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

SUFFIX_PART = ".part"  # of a file that is still being written, behind the number of its process
_PART = re.compile(r"\.(\d+)\.part$")
_STALE_SECONDS = 86_400.0  # where it cannot be asked whether a process runs, older parts are nobody's


class Readable(Protocol):
    """What gives its bytes in blocks: a file, or a member of an archive."""

    def read(self, most: int, /) -> bytes:
        """The next bytes, none at the end."""


def write_part(source: Readable, part: Path, most: int | None = None) -> tuple[str, int]:
    """Copy `source` into the new file `part` and synchronise it; gives its SHA-256 and its size.

    most: after so many bytes the copying stops, because the source is longer than it may be.
    """
    digest, size = hashlib.sha256(), 0
    try:
        with private_file(part) as out:
            while (block := source.read(1 << 20)) and (most is None or size <= most):
                digest.update(block)
                size += len(block)
                out.write(block)
            out.flush()
            os.fsync(out.fileno())
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return digest.hexdigest(), size


def keep_part(part: Path, folder: Path, stem: str, suffix: str, key: Callable[[], str]) -> Path:
    """Give a part a second name in `folder`, never that of another file; gives the path.

    stem: its name, unless there is such a file: then a fresh key. Done with the journal's write lock held;
    the part itself is unlinked when the row is committed.
    """
    make_private(folder)
    target = folder / f"{stem}{suffix}"
    while True:
        try:
            os.link(part, target)
            break
        except FileExistsError:
            target = folder / f"{key()}{suffix}"
        except OSError:  # a disk without links, such as a memory card's: after a kill here the file stays
            if target.exists():
                target = folder / f"{key()}{suffix}"
                continue
            part.rename(target)
            break
    _synchronise(folder)
    return target


def ending(path: Path | str) -> str:
    """The ending of a file's name in small letters, where it is a plain one; else none."""
    found = os.path.splitext(str(path))[1].lower()
    return found if re.fullmatch(r"\.[0-9a-z]{1,8}", found) else ""


def _synchronise(folder: Path) -> None:
    """Make a change of names in `folder` outlive a power cut, where the platform can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def copy_in(journal: Journal, source: Path) -> tuple[Path, str, int]:
    """Copy the recording `source` into the journal's folder; gives the part, its SHA-256 and its size.

    Raises RecordingError where it cannot be read, JournalError where it cannot be kept.
    """
    part = journal.recordings / f"{journal.key()}.{os.getpid()}{SUFFIX_PART}"
    with open_input(source, RECORDING, RecordingError) as (file, _):
        try:
            make_private(journal.recordings)
            return part, *write_part(file, part)
        except OSError as e:
            raise JournalError(
                f"cannot keep the recording in {journal.recordings}: {e.strerror}",
                "free some space there and allow writing to the folder, or run it again with --no-keep",
            ) from e


def doom(conn: Connection, paths: Iterable[str]) -> None:
    """Note that these recordings go once the transaction is committed."""
    rows = [{"path": p} for p in paths]
    if rows:
        conn.execute(insert(t.doomed), rows)


def doom_pieces(conn: Connection, piece_ids: Iterable[str]) -> None:
    """Note that everything on disk goes that lies under these pieces' keys."""
    doom(conn, [piece_id + _WHOLE for piece_id in piece_ids])


def delete_doomed(journal: Journal) -> None:
    """Unlink what is doomed, and what killed processes left."""
    with journal.reading() as conn:
        doomed = list(conn.execute(select(t.doomed.c.path)).scalars())
    if any(path.endswith(_WHOLE) for path in doomed):  # where it was killed before it came to them
        erase_copies(journal)
    for path in doomed:
        with journal.writing() as conn:
            if not _is_back(conn, path) and not _unlink_doomed(journal, path):
                continue  # still doomed: the next opening tries again
            conn.execute(delete(t.doomed).where(t.doomed.c.path == path))
    now = journal.clock().timestamp()
    files = _files(journal.recordings)
    left = [f for f in files if f.name.endswith(SUFFIX_PART) and _is_left(f, now)]
    if left:
        with journal.writing() as conn:
            named = set(conn.execute(select(t.recording.c.path)).scalars())
            for part in left:
                for file in files:
                    # The same file by another name: put in its place, and perhaps never acknowledged.
                    if file != part and _path(journal, file) not in named and _is_same(file, part):
                        _unlink(journal, file)
                _unlink(journal, part)


_WHOLE = "/"  # ends a doomed path that is a piece's key: its folders go with all that is in them
# Where a piece has a folder of its own: its recordings, its script and pencil file, what was spoken into the
# page and not ended.
_FOLDERS = ("recordings", "scripts", "spoken")
# What the page has taken in and not kept yet, and where each says for which piece it came.
_COMING_IN = "coming-in"
_CAME_FOR = (("upload.json", "piece"), ("draft.json", "revises"))


def _is_back(conn: Connection, path: str) -> bool:
    """Whether an import has brought back what was doomed."""
    piece = select(t.piece.c.id).where(t.piece.c.id == path.rstrip(_WHOLE))
    recording = select(t.recording.c.id).where(t.recording.c.path == path)
    return conn.execute(piece.union(recording)).first() is not None


def _unlink_doomed(journal: Journal, path: str) -> bool:
    if not path.endswith(_WHOLE):
        return _unlink(journal, journal.recordings / path)
    key = path.rstrip(_WHOLE)
    found = [journal.home / name / key for name in _FOLDERS]
    found += _coming_in_for(journal.home / _COMING_IN, key)
    for folder in found:
        shutil.rmtree(folder, ignore_errors=True)
    return not any(folder.exists() for folder in found)


def _coming_in_for(folder: Path, piece_id: str) -> list[Path]:
    """The recordings and scripts on their way in that came for a piece."""
    found: list[Path] = []
    for name, field in _CAME_FOR:
        for about in folder.glob(f"*/{name}"):
            with suppress(OSError, ValueError):
                told = json.loads(about.read_text(encoding="utf-8"))
                if isinstance(told, dict) and told.get(field) == piece_id:
                    found.append(about.parent)
    return found


def _is_same(file: Path, other: Path) -> bool:
    with suppress(OSError):
        return file.samefile(other)
    return False


def _files(folder: Path) -> list[Path]:
    """The files of the recordings folder and of the folder of each piece."""
    found: list[Path] = []
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                with suppress(OSError), os.scandir(entry.path) as inside:
                    found += [Path(e.path) for e in inside if e.is_file(follow_symlinks=False)]
            elif entry.is_file(follow_symlinks=False):
                found.append(Path(entry.path))
    return found


def _path(journal: Journal, file: Path) -> str:
    return file.relative_to(journal.recordings).as_posix()


def _is_left(part: Path, now: float) -> bool:
    found = _PART.search(part.name)
    if os.name == "posix" and found is not None:
        return not is_running(int(found[1]))
    with suppress(OSError):
        return now - part.stat().st_mtime > _STALE_SECONDS
    return False


def _unlink(journal: Journal, file: Path) -> bool:
    try:
        file.unlink(missing_ok=True)
        if file.parent != journal.recordings and file.parent.is_dir() and not any(file.parent.iterdir()):
            file.parent.rmdir()
    except OSError:
        return False
    return True


def erase_copies(journal: Journal) -> None:
    """Delete the copies kept before migrations and empty the write-ahead log: both may hold the deleted."""
    copies = journal.home / "copies"
    if copies.is_dir():
        for copy in copies.iterdir():
            copy.unlink(missing_ok=True)
    if journal.engine.dialect.name == "sqlite":
        with journal.engine.connect() as conn:
            conn.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
