"""The gate: every file that comes in from outside passes here before anything is read of it.

A script, a recording, a brief, a pencil file, an archive or a model may come from anybody. Only a regular
file is let in (a pipe would be waited for without end, a device has no end), no larger than its kind may
be, and it is opened once: what was checked is what is read. The limits can be raised by the person
(`--largest`), and by nobody else.
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
MOST_MEGABYTES = 10_000_000  # the most that can be asked for: no personal disk holds more
_END, _LOCATOR = (
    22,
    20,
)  # bytes of a zip file's last record and of the 64-bit one before it (APPNOTE 4.3.15, 4.3.16)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file that comes in. most: bytes it may have. gone: what to do where there is no such file."""

    name: str
    most: int
    inside: str
    gone: str = "check the name and the folder"


# Set by hand. A play in text has half a megabyte, a scan of one as pdf 50; an hour and a half of film from a
# phone in 4K has 12 gigabytes; a journal of ten years has two daily recordings of some minutes.
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
    """Let in files of any kind up to `megabytes`. A limit is never lowered; None leaves them as they are."""
    global _raised
    before = _raised
    _raised = None if megabytes is None else megabytes * MEGABYTE
    try:
        yield
    finally:
        _raised = before


def most_of(kind: Kind) -> int:
    """Bytes that a file of `kind` may have."""
    return at_least(kind.most)


def at_least(usual: int) -> int:
    """Bytes that may come in where `usual` is the limit, and the person may have raised it."""
    return usual if _raised is None else max(usual, _raised)


def lifted() -> bool:
    """Whether the person has raised the limits of this process."""
    return _raised is not None


@contextmanager
def open_input(path: Path | str, kind: Kind, error: type[OffbookError]) -> Iterator[tuple[IO[bytes], int]]:
    """The file at `path`, open for reading, and its size in bytes. Raises `error` where it is kept out."""
    file = _open(Path(path), kind, error)
    with file:
        yield file, os.fstat(file.fileno()).st_size


def read_bytes(path: Path | str, kind: Kind, error: type[OffbookError]) -> bytes:
    """All of the file at `path`. Raises `error` where it may not come in."""
    with open_input(path, kind, error) as (file, _):
        most = most_of(kind)
        try:
            data = file.read(most + 1)
        except OSError as e:
            raise _unreadable(Path(path), e, error) from e
        if len(data) > most:  # it grew since it was opened
            raise _too_large(str(path), None, kind, error)
    return data


def read_text(path: Path | str, kind: Kind, error: type[OffbookError]) -> str:
    """The text of the UTF-8 file at `path`, a byte-order mark left off, line ends as LF. Raises `error`."""
    try:
        text = read_bytes(path, kind, error).decode("utf-8-sig")
    except UnicodeDecodeError as e:
        raise error(f"{path} is not text in UTF-8", f"save the {kind.name} as plain text in UTF-8") from e
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_standard_input(kind: Kind, error: type[OffbookError]) -> bytes:
    """All of standard input, up to the size a file of `kind` may have. Raises `error` beyond it."""
    most = most_of(kind)
    data = sys.stdin.buffer.read(most + 1)
    if len(data) > most:
        raise _too_large("what came in", None, kind, error)
    return data


def check_contents(file: IO[bytes], size: int, most: int, most_bytes: int) -> None:
    """Raise BadZipFile where a zip's table of contents is beyond bounds, before any of it is read.

    most, most_bytes: members, and bytes of the table. zipfile reads the whole of it into memory. After the
    .ZIP File Format Specification (PKWARE APPNOTE 6.3.10), 4.3.14 to 4.3.16: the record that ends the table
    has its size and count, or the zip64 record before it where they do not fit.
    """
    file.seek(max(0, size - 22 - 65_535 - 20))
    tail = file.read(22 + 65_535 + 20)
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) - at < _END:
        raise zipfile.BadZipFile("no end")
    count = int.from_bytes(tail[at + 10 : at + 12], "little")
    length = int.from_bytes(tail[at + 12 : at + 16], "little")
    if at >= _LOCATOR and tail[at - _LOCATOR : at - 16] == b"PK\x06\x07":
        file.seek(min(size, int.from_bytes(tail[at - 12 : at - 4], "little")))
        record = file.read(56)
        if record[:4] == b"PK\x06\x06":
            count = int.from_bytes(record[32:40], "little")
            length = int.from_bytes(record[40:48], "little")
    file.seek(0)
    if count > most or length > most_bytes:
        raise zipfile.BadZipFile("too many members")


def _with_its_ending(path: Path) -> str:
    """The advice for a file named without its ending, if exactly one file fits; otherwise empty."""
    try:
        near = [each.name for each in os.scandir(path.parent) if os.path.splitext(each.name)[0] == path.name]
    except OSError:
        return ""
    return f"give its whole name: {path.parent / near[0]}" if len(near) == 1 else ""


def _open(path: Path, kind: Kind, error: type[OffbookError]) -> IO[bytes]:
    try:
        _check(path, os.stat(path), kind, error)
        # Opened without waiting: between the look and the opening a file may have become a pipe.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError as e:
        raise error(f"there is no file {path}", _with_its_ending(path) or kind.gone) from e
    except PermissionError as e:
        raise error(
            f"{path} may not be read: permission denied",
            "give yourself the right to read it, or copy it",
        ) from e
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
            raise error(f"{path} is {name}, not a file", "write what it gives into a file, and name that")
    if found.st_size > most_of(kind):
        raise _too_large(str(path), found.st_size, kind, error)


def _too_large(name: str, size: int | None, kind: Kind, error: type[OffbookError]) -> OffbookError:
    most = most_of(kind) // MEGABYTE
    has = "more" if size is None else f"{-(-size // MEGABYTE):,} MB"
    need = most * 2 if size is None else -(-size // MEGABYTE)
    return error(
        f"{name} has {has}; a {kind.name} may have up to {most:,} MB",
        f"give a smaller one, or allow it: offbook --largest {need} …",
    )


def _unreadable(path: Path, e: OSError | ValueError, error: type[OffbookError]) -> OffbookError:
    why = (e.strerror if isinstance(e, OSError) else None) or str(e)
    return error(f"{path} cannot be read: {why}", "copy it to this machine's own disk and try again")


def digest_of(path: Path) -> str:
    """SHA-256 of a recording, in hexadecimal. Raises RecordingError where it may not come in."""
    with open_input(path, RECORDING, RecordingError) as (file, _):
        return hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type]
