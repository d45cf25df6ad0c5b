"""Recordings on disk: copied in whole or not at all, and gone for good when they are deleted.

A recording is copied to a `.part` file, synchronised and renamed before its row is written, so a row
never speaks of half a file. Deleting goes the other way: the row leaves its path in `doomed` in the
same transaction, and the file is unlinked after it; a killed process leaves work for the next.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path
from typing import IO, TYPE_CHECKING

from sqlalchemy import Connection, delete, insert, select

from offbook.errors import JournalError, RecordingError
from offbook.journal import tables as t

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_STALE_SECONDS = 86_400.0  # a `.part` file older than a day belongs to no living process


def store(source: IO[bytes], target: Path) -> tuple[str, int]:
    """Copy `source` to `target` whole; gives its SHA-256 and its size in bytes."""
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    digest, size = hashlib.sha256(), 0
    try:
        with open(part, "wb") as out:
            while block := source.read(1 << 20):
                digest.update(block)
                size += len(block)
                out.write(block)
            out.flush()
            os.fsync(out.fileno())
        part.replace(target)
        _synchronise(target.parent)
    finally:
        part.unlink(missing_ok=True)
    return digest.hexdigest(), size


def _synchronise(folder: Path) -> None:
    """Make a rename in `folder` outlive a power cut, where the platform can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def keep(source: Path, target: Path) -> tuple[str, int]:
    """Copy the recording `source` into the journal at `target`. Raises RecordingError, JournalError."""
    try:
        opened = open(source, "rb")  # noqa: SIM115  (its failure is another error than the copy's)
    except OSError as e:
        raise RecordingError(
            f"cannot read {source}: {e.strerror}", "name a recording that exists and can be read"
        ) from e
    with opened:
        try:
            return store(opened, target)
        except OSError as e:
            raise JournalError(
                f"cannot keep the recording in {target.parent}: {e.strerror}",
                "make room there and let the folder be written, or run it again with --no-keep",
            ) from e


def doom(conn: Connection, paths: Iterable[str]) -> None:
    """Note that these recordings go once the transaction is committed."""
    rows = [{"path": p} for p in paths]
    if rows:
        conn.execute(insert(t.doomed), rows)


def sweep(journal: Journal) -> None:
    """Unlink what is doomed, and the halves that killed processes left long ago."""
    with journal.reading() as conn:
        doomed = list(conn.execute(select(t.doomed.c.path)).scalars())
    for path in doomed:
        file = journal.recordings / path
        try:
            file.unlink(missing_ok=True)
            if file.parent.is_dir() and not any(file.parent.iterdir()):
                file.parent.rmdir()
        except OSError:
            continue  # still doomed: the next opening tries again
        with journal.writing() as conn:
            conn.execute(delete(t.doomed).where(t.doomed.c.path == path))
    now = journal.clock().timestamp()
    if journal.recordings.is_dir():
        for part in journal.recordings.rglob("*.part"):
            if now - part.stat().st_mtime > _STALE_SECONDS:
                part.unlink(missing_ok=True)


def erase_copies(journal: Journal) -> None:
    """Delete the copies kept before migrations and empty the write-ahead log: both may hold the deleted."""
    copies = journal.home / "copies"
    if copies.is_dir():
        for copy in copies.iterdir():
            copy.unlink(missing_ok=True)
    if journal.engine.dialect.name == "sqlite":
        with journal.engine.connect() as conn:
            conn.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
