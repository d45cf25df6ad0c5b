"""The gate: every file from outside is checked here before anything in it is read.

A script, a recording, a brief, a pencil file, an archive or a model may come from anybody. A file is accepted
only if it is a regular file (reading a pipe or a device might never end) and not larger than files of its
kind may be. It is opened only once, so that the file that was checked is the file that is read. Only the
person can raise the limits (`--largest`).
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from offbook.errors import OffbookError, RecordingError

MEGABYTE = 1_000_000
# The highest limit that can be set; set by hand, because no personal disk holds more
MOST_MEGABYTES = 10_000_000

# A zip file's records, after the .ZIP File Format Specification (PKWARE APPNOTE 6.3.10), 4.3.14 to 4.3.16.
# The record at the end: its size without the comment, the longest comment, and where it has the number of
# entries and the size of the table of contents (bytes).
_END, _LONGEST_COMMENT, _ENTRIES, _TABLE_SIZE = 22, 65_535, slice(10, 12), slice(12, 16)
# The locator of the 64-bit record, which is right before it: its size, and where it has that record's offset.
_LOCATOR, _ZIP64_OFFSET = 20, slice(8, 16)
# The 64-bit record: its size, and where it has the same two numbers.
_ZIP64, _ZIP64_ENTRIES, _ZIP64_TABLE_SIZE = 56, slice(32, 40), slice(40, 48)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file that comes in.

    most: the most bytes that it may have. inside: what to do if the path is a folder. gone: what to do if
    there is no such file.
    """

    name: str
    most: int
    inside: str
    gone: str = "check the name and the folder"


# Set by hand. A play as text has half a megabyte, a scanned one as pdf 50; ninety minutes of 4K film from a
# phone have 12 gigabytes; a journal of ten years may have two recordings of some minutes for every day.
SCRIPT = Kind("script", 100 * MEGABYTE, "name the script file inside it")
RECORDING = Kind("recording", 16_000 * MEGABYTE, "name the audio or video file inside it")
BRIEF = Kind(
    "brief",
    1 * MEGABYTE,
    "name the brief inside it, or begin one: offbook brief blank FILE",
    "name a brief that exists, or begin one: offbook brief blank FILE",
)
PENCIL = Kind("pencil file", 4 * MEGABYTE, "move it away")
CHOICES = Kind("file of what is spoken", 4 * MEGABYTE, "move it away")
TABLE = Kind("table", 20 * MEGABYTE, "name the table inside it", "name a folder, or a table saved as CSV")
ARCHIVE = Kind("archive", 250_000 * MEGABYTE, "name the archive inside it")
MODEL = Kind("model archive", 8_000 * MEGABYTE, "name the archive inside it")

_KINDS = (
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_raised: int | None = None  # bytes that this process lets in, where the person asked for more


@contextmanager
def allowing(megabytes: int | None) -> Iterator[None]:
    """Accept files of any kind up to `megabytes` inside the block.

    A higher limit of a kind is not lowered; None changes nothing.
    """
    global _raised
    before = _raised
    _raised = None if megabytes is None else megabytes * MEGABYTE
    try:
        yield
    finally:
        _raised = before


def most_of(kind: Kind) -> int:
    """The most bytes that a file of `kind` may have now."""
    return at_least(kind.most)


def at_least(usual: int) -> int:
    """The limit in bytes: `usual`, or the one that the person has set if that is higher."""
    return usual if _raised is None else max(usual, _raised)


def lifted() -> bool:
    """Whether the person has raised the limits of this process."""
    return _raised is not None


@contextmanager
def open_input(path: Path | str, kind: Kind, error: type[OffbookError]) -> Iterator[tuple[IO[bytes], int]]:
    """The file at `path`, open for reading, and its size in bytes. Raises `error` if it is not accepted."""
    file = _open(Path(path), kind, error)
    with file:
        yield file, os.fstat(file.fileno()).st_size


def read_bytes(path: Path | str, kind: Kind, error: type[OffbookError]) -> bytes:
    """All of the file at `path`. Raises `error` if it is not accepted."""
    with open_input(path, kind, error) as (file, _):
        most = most_of(kind)
        try:
            data = file.read(most + 1)
        except OSError as e:
            raise _unreadable(Path(path), e, error) from e
        if len(data) > most:  # it has grown since it was opened
            raise _too_large(str(path), None, kind, error)
    return data


def read_text(path: Path | str, kind: Kind, error: type[OffbookError]) -> str:
    """The text of the UTF-8 file at `path`, without a byte-order mark and with LF as the line end.

    Raises `error` if it is not accepted or is not UTF-8.
    """
    try:
        text = read_bytes(path, kind, error).decode("utf-8-sig")
    except UnicodeDecodeError as e:
        raise error(f"{path} is not text in UTF-8", f"save the {kind.name} as plain text in UTF-8") from e
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_standard_input(kind: Kind, error: type[OffbookError]) -> bytes:
    """All of standard input. Raises `error` if it is larger than a file of `kind` may be."""
    most = most_of(kind)
    data = sys.stdin.buffer.read(most + 1)
    if len(data) > most:
        raise _too_large("what came in", None, kind, error)
    return data


def check_contents(file: IO[bytes], size: int, most: int, most_bytes: int) -> None:
    """Raise BadZipFile if a zip file's table of contents is too large, before it is read.

    size: of the file in bytes. most, most_bytes: the most entries and bytes that the table may have; zipfile
    would read all of it into memory. The record at the end of the file has both numbers, or the 64-bit record
    before it if they do not fit.
    """
    file.seek(max(0, size - _END - _LONGEST_COMMENT - _LOCATOR))
    tail = file.read(_END + _LONGEST_COMMENT + _LOCATOR)
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) - at < _END:
        raise zipfile.BadZipFile("no end")
    count, length = _numbers(tail[at:], _ENTRIES, _TABLE_SIZE)
    locator = tail[at - _LOCATOR : at] if at >= _LOCATOR else b""
    if locator.startswith(b"PK\x06\x07"):
        (offset,) = _numbers(locator, _ZIP64_OFFSET)
        file.seek(min(size, offset))
        record = file.read(_ZIP64)
        if record.startswith(b"PK\x06\x06"):
            count, length = _numbers(record, _ZIP64_ENTRIES, _ZIP64_TABLE_SIZE)
    file.seek(0)
    if count > most or length > most_bytes:
        raise zipfile.BadZipFile("too many members")


def _numbers(record: bytes, *places: slice) -> tuple[int, ...]:
    """The numbers at these places of a record; the lowest byte comes first."""
    return tuple(int.from_bytes(record[place], "little") for place in places)


def _with_its_ending(path: Path) -> str:
    """What to do if a name has no ending and exactly one file would fit; otherwise ""."""
    try:
        near = [each.name for each in os.scandir(path.parent) if os.path.splitext(each.name)[0] == path.name]
    except OSError:
        return ""
    return f"give its whole name: {path.parent / near[0]}" if len(near) == 1 else ""


def _open(path: Path, kind: Kind, error: type[OffbookError]) -> IO[bytes]:
    try:
        _check(path, os.stat(path), kind, error)
        # Without waiting, because the file may have been replaced by a pipe since it was looked at.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError as e:
        raise error(f"there is no file {path}", _with_its_ending(path) or kind.gone) from e
    except PermissionError as e:
        raise error(f"you do not have permission to read {path}", "change its permissions, or copy it") from e
    except (OSError, ValueError) as e:  # ValueError: a NUL in the name
        raise _unreadable(path, e, error) from e
    file = os.fdopen(handle, "rb")
    try:
        _check(path, os.fstat(handle), kind, error)
    except OffbookError:
        file.close()
        raise
    return file


def _check(path: Path, found: os.stat_result, kind: Kind, error: type[OffbookError]) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise error(f"{path} is a folder, not a {kind.name}", kind.inside)
    for is_kind, name in _KINDS:
        if is_kind(found.st_mode):
            raise error(f"{path} is {name}, not a file", "save what it gives to a file, and give that file")
    if found.st_size > most_of(kind):
        raise _too_large(str(path), found.st_size, kind, error)


def _too_large(name: str, size: int | None, kind: Kind, error: type[OffbookError]) -> OffbookError:
    most = most_of(kind) // MEGABYTE
    has = "more" if size is None else f"{-(-size // MEGABYTE):,} MB"
    need = most * 2 if size is None else -(-size // MEGABYTE)
    return error(
        f"{name} has {has}; a {kind.name} may have up to {most:,} MB",
        f"give a smaller one, or raise the limit: offbook --largest {need} …",
    )


def _unreadable(path: Path, e: OSError | ValueError, error: type[OffbookError]) -> OffbookError:
    why = (e.strerror if isinstance(e, OSError) else None) or str(e)
    return error(f"{path} cannot be read: {why}", "copy it to this machine's own disk and try again")


def digest_of(path: Path) -> str:
    """The SHA-256 of a recording, in hexadecimal. Raises RecordingError if it is not accepted."""
    with open_input(path, RECORDING, RecordingError) as (file, _):
        return hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type]
