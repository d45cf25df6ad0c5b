"""Recordings made elsewhere, on their way in: slice by slice, into a file whose name is ours."""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path, PurePath

from offbook.errors import JournalError, RecordingError
from offbook.intake import MEGABYTE, at_least
from offbook.outgoing import write_whole
from offbook.page.app import RAISE

ENDINGS = frozenset(
    {
        ".wav",
        ".mp3",
        ".m4a",
        ".aac",
        ".ogg",
        ".oga",
        ".opus",
        ".webm",
        ".flac",
        ".mp4",
        ".mov",
        ".m4v",
        ".3gp",
    }
)
LARGEST = 4_000_000_000  # bytes, where no more was asked for: an hour of a phone's film
_KEY = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Upload:
    """A recording that is coming in. name: what it was called, to be shown; path: where it lies here."""

    key: str
    folder: Path
    piece: str
    name: str
    path: Path

    @property
    def slices(self) -> int:
        """How many slices have come."""
        return int((self.folder / "slices").read_text() or 0)

    def add(self, number: int, data: bytes) -> int:
        """Write slice `number` where it is the one wanted; gives the one wanted next. Raises OffbookError."""
        wanted = self.slices
        if number != wanted:
            return wanted
        try:
            most = at_least(LARGEST)
            if self.path.stat().st_size + len(data) > most:
                raise RecordingError(
                    f"this recording is larger than {most // MEGABYTE:,} MB",
                    f"cut out the speech and give that, or begin the page with {RAISE}",
                )
            with self.path.open("ab") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            write_whole(self.folder / "slices", str(wanted + 1))
        except OSError as e:
            raise JournalError(
                f"cannot keep the recording: {e.strerror}", "free some space on the disk"
            ) from e
        return wanted + 1

    def drop(self) -> None:
        """Throw it away."""
        shutil.rmtree(self.folder, ignore_errors=True)


def begin_upload(home: Path, piece: str, name: str) -> Upload:
    """A new, empty one. name: the file's own; only a known ending of it is used."""
    ending = PurePath(name.lower().replace("\\", "/")).suffix
    key = secrets.token_hex(16)
    folder = home / key
    shown = PurePath(name.replace("\\", "/")).name[:120] or "the recording"
    path = folder / f"recording{ending if ending in ENDINGS else ''}"
    try:
        folder.mkdir(parents=True)
        path.touch()
        write_whole(folder / "slices", "0")
        told = {"piece": piece, "name": shown, "file": path.name}
        write_whole(folder / "upload.json", json.dumps(told))
    except OSError as e:
        raise JournalError(f"cannot keep the recording: {e.strerror}", "free some space on the disk") from e
    return Upload(key, folder, piece, shown, path)


def open_upload(home: Path, key: str) -> Upload:
    """The one with this key. Raises RecordingError where there is none."""
    if _KEY.fullmatch(key) is None:
        raise RecordingError("there is no such recording", "choose it again")
    folder = home / key
    try:
        told = json.loads((folder / "upload.json").read_text(encoding="utf-8"))
    except OSError as e:
        raise RecordingError("this recording was already received, or is gone", "choose it again") from e
    return Upload(key, folder, told["piece"], told["name"], folder / told["file"])
