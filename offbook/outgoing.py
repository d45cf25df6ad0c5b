"""Files that go out, such as a page, a calendar or an archive, are written completely or not at all.

A file is written beside its final place under a temporary name, synchronised to the disk, and renamed. So
there is always either the old file or the new one, even after the process was killed or the power failed. The
temporary name has the number of the process in it; if the process was killed, the next one that writes there
deletes the file. Only the owner may read a new file, whatever the umask is; an existing file keeps its
permissions, and a link stays a link.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from offbook.errors import OffbookError
from offbook.scratch import left_behind

FILE_MODE = 0o600  # only the owner may read and write
_RANDOM_BYTES = 4  # in a temporary name, for two files of one process in one folder; set by hand
_PART = re.compile(r"\.offbook-(\d+)-[0-9a-f]+\.part")


def write_whole(path: Path | str, data: bytes | str, *, new: bool = False) -> None:
    """Write `data` to `path`, text as UTF-8. new: whether it must not replace an existing file.

    Raises FileExistsError for `new`, OSError if the file cannot be written, ValueError for a name that no
    file can have.
    """
    with whole_file(path, new=new) as out:
        out.write(data if isinstance(data, bytes) else data.encode("utf-8", "replace"))


def write_named(path: Path | str, data: bytes | str, *, new: bool = False) -> None:
    """Write a file that a person has named, as `write_whole` does. Raises OffbookError if that fails."""
    try:
        write_whole(path, data, new=new)
    except FileExistsError as e:
        raise OffbookError(f"{path} already exists", "name a new file: nothing is overwritten") from e
    except OSError as e:
        raise OffbookError(
            f"cannot write {path}: {e.strerror}", "name a file in a folder you can write to"
        ) from e


@contextmanager
def whole_file(path: Path | str, *, new: bool = False) -> Iterator[IO[bytes]]:
    """A file open for writing, which appears at `path` when the block ends without an error.

    Until then its `name` is the temporary one. A device or a pipe is written to directly. Raises as
    `write_whole` does.
    """
    if new and os.path.lexists(path):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    target = Path(os.path.realpath(path))
    there = _status(target)
    if there is not None and not stat.S_ISREG(there.st_mode):
        with _as_it_is(target) as out:
            yield out
        return
    if there is not None and not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    _clear_left(target.parent)
    part = target.with_name(f".offbook-{os.getpid()}-{secrets.token_hex(_RANDOM_BYTES)}.part")
    try:
        with open(part, "x+b", opener=lambda name, flags: os.open(name, flags, FILE_MODE)) as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        if there is not None:
            with suppress(OSError):  # a memory card has no file permissions
                os.chmod(part, stat.S_IMODE(there.st_mode))
        if new:
            _link(part, target)
        else:
            part.replace(target)
        _synchronise(target.parent)
    finally:
        part.unlink(missing_ok=True)


def _status(target: Path) -> os.stat_result | None:
    try:
        return os.stat(target)
    except FileNotFoundError:
        return None


@contextmanager
def _as_it_is(target: Path) -> Iterator[IO[bytes]]:
    """A device or a pipe, open for writing; opening it does not wait until somebody reads it."""
    handle = os.open(target, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(handle, "wb") as out:
        os.set_blocking(handle, True)
        yield out


def _link(part: Path, target: Path) -> None:
    """Give the part its final name. Raises FileExistsError if there is a file with that name."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links, such as a memory card
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        part.rename(target)


def _clear_left(folder: Path) -> None:
    """Delete the parts that this person's processes left behind when they were killed."""
    for entry in left_behind(folder, _PART):
        with suppress(OSError):
            if entry.is_file(follow_symlinks=False):
                os.unlink(entry.path)


def _synchronise(folder: Path) -> None:
    """Save the new name in `folder` to the disk, so that it survives a power cut; only on POSIX systems."""
    if os.name != "posix":
        return
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
