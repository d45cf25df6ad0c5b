"""Recordings on disk: each is copied in whole or not at all, and a deleted one is gone for good.

A recording is copied to a `.part` file and synchronised. It is linked into its place inside the transaction
that writes its row, so no row ever names half a file, and the part is deleted afterwards. If the process was
killed in between, its part is still there, and shows the next process which file has no row. Other files
without a row are never deleted: a journal may have been moved away, or put back from a copy, and that must
not cost anybody a recording.

Deleting works the other way round. The transaction that deletes a row also writes the path of its file (or
the key of a piece, for all its folders) into the table `doomed`, the list of what is to be deleted. The
files are deleted after the commit. If the process is killed before that, the next one deletes them.
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

SUFFIX_PART = ".part"  # ends the name of a file that is still being written, after its process's number
_PART = re.compile(r"\.(\d+)\.part$")
# A part that is older than this (seconds: a day) is deleted on a system that does not tell whether the
# process that wrote it still runs. Set by hand.
_STALE_SECONDS = 86_400.0
BLOCK = 1 << 20  # bytes that are copied at a time; set by hand


class Readable(Protocol):
    """Anything that can be read in blocks of bytes: a file, or a member of an archive."""

    def read(self, most: int, /) -> bytes:
        """The next bytes, `most` of them or fewer; none at the end."""


def write_part(source: Readable, part: Path, most: int | None = None) -> tuple[str, int]:
    """Copy `source` into the new file `part` and synchronise it.

    most: copying stops after so many bytes, because the source is larger than it should be; None for no
    limit. Returns the SHA-256 in hexadecimal and the size in bytes of what was copied. If copying fails,
    `part` is deleted and the error is raised again.
    """
    digest, size = hashlib.sha256(), 0
    try:
        with private_file(part) as out:
            while (block := source.read(BLOCK)) and (most is None or size <= most):
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

    stem: the name that the file gets, without its suffix; if there is a file with that name, a new key is
    used instead. The caller holds the journal's write lock, and deletes the part once the row is committed.
    """
    make_private(folder)
    target = folder / f"{stem}{suffix}"
    while True:
        try:
            os.link(part, target)
            break
        except FileExistsError:
            target = folder / f"{key()}{suffix}"
        except OSError:  # no hard links, as on a memory card: a file whose process is killed now stays
            if target.exists():
                target = folder / f"{key()}{suffix}"
                continue
            part.rename(target)
            break
    _synchronise(folder)
    return target


def plain_suffix(path: Path | str) -> str:
    """The suffix of a file's name in small letters, such as ".wav".

    It is "" if the name has none, or one with other signs than letters and digits or longer than eight.
    """
    found = os.path.splitext(str(path))[1].lower()
    return found if re.fullmatch(r"\.[0-9a-z]{1,8}", found) else ""


def _synchronise(folder: Path) -> None:
    """Write the names of the files in `folder` to the disk, so that a power cut cannot undo a change."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def copy_in(journal: Journal, source: Path) -> tuple[Path, str, int]:
    """Copy the recording `source` into the journal's folder.

    Returns the new part, its SHA-256 in hexadecimal and its size in bytes. Raises RecordingError if the
    recording cannot be read, JournalError if it cannot be kept.
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


def mark_for_deletion(conn: Connection, paths: Iterable[str]) -> None:
    """List these recordings for deletion after the transaction. paths: from the folder of recordings."""
    rows = [{"path": p} for p in paths]
    if rows:
        conn.execute(insert(t.doomed), rows)


def mark_pieces_for_deletion(conn: Connection, piece_ids: Iterable[str]) -> None:
    """List all folders of these pieces for deletion after the transaction."""
    mark_for_deletion(conn, [piece_id + _WITH_ALL_IN_IT for piece_id in piece_ids])


def delete_marked_files(journal: Journal) -> None:
    """Delete the files that are listed for deletion, and the parts that killed processes left."""
    with journal.reading() as conn:
        doomed = list(conn.execute(select(t.doomed.c.path)).scalars())
    # The process that deleted a piece may have been killed before it erased the copies.
    if any(path.endswith(_WITH_ALL_IN_IT) for path in doomed):
        erase_copies(journal)
    for path in doomed:
        with journal.writing() as conn:
            if not _is_back(conn, path) and not _unlink_doomed(journal, path):
                continue  # it stays listed, and the next opening tries again
            conn.execute(delete(t.doomed).where(t.doomed.c.path == path))
    now = journal.clock().timestamp()
    files = _files(journal.recordings)
    left = [f for f in files if f.name.endswith(SUFFIX_PART) and _is_left(f, now)]
    if left:
        with journal.writing() as conn:
            named = set(conn.execute(select(t.recording.c.path)).scalars())
            for part in left:
                for file in files:
                    # The same file under another name: it was put in its place, but its row was not
                    # committed.
                    if file != part and _path(journal, file) not in named and _is_same(file, part):
                        _unlink(journal, file)
                _unlink(journal, part)


# at the end of a listed path: it is the key of a piece, and all its folders are deleted
_WITH_ALL_IN_IT = "/"
# In each of these a piece has a folder of its own: for its recordings, for its script and pencil file, and
# for sound that was recorded on the page and not finished.
_FOLDERS = ("recordings", "scripts", "spoken")
# What was uploaded to the page and is not kept yet, and the file and the field in it that name the piece.
_COMING_IN = "coming-in"
_CAME_FOR = (("upload.json", "piece"), ("draft.json", "revises"))


def _is_back(conn: Connection, path: str) -> bool:
    """Whether an import has brought back a piece or a recording that is listed for deletion."""
    piece = select(t.piece.c.id).where(t.piece.c.id == path.rstrip(_WITH_ALL_IN_IT))
    recording = select(t.recording.c.id).where(t.recording.c.path == path)
    return conn.execute(piece.union(recording)).first() is not None


def _unlink_doomed(journal: Journal, path: str) -> bool:
    if not path.endswith(_WITH_ALL_IN_IT):
        return _unlink(journal, journal.recordings / path)
    key = path.rstrip(_WITH_ALL_IN_IT)
    found = [journal.home / name / key for name in _FOLDERS]
    found += _coming_in_for(journal.home / _COMING_IN, key)
    for folder in found:
        shutil.rmtree(folder, ignore_errors=True)
    return not any(folder.exists() for folder in found)


def _coming_in_for(folder: Path, piece_id: str) -> list[Path]:
    """The folders of the uploads for a piece that are not kept yet."""
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
    """All files in the folder of recordings and in the folders of the pieces below it."""
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
    """Delete the copies made before migrations, and empty the write-ahead log.

    Both may still have rows that were deleted from the journal.
    """
    copies = journal.home / "copies"
    if copies.is_dir():
        for copy in copies.iterdir():
            copy.unlink(missing_ok=True)
    if journal.engine.dialect.name == "sqlite":
        with journal.engine.connect() as conn:
            conn.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
