"""Recordings made elsewhere that are coming in, slice by slice, into a file under a name of our own."""

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
# Bytes, set by hand.
LARGEST = 4_000_000_000  # of a recording, where no more was asked for: an hour of a phone's film
SLICE = 4 << 20  # of a slice
LARGEST_FORM = 250 << 20  # of a recording that is sent as a plain form
_KEY_BYTES = 16  # random bytes of a key: not to be guessed, and twice as many digits
_LONGEST_NAME = 120  # characters of a file's name that are shown; set by hand
_KEY = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Upload:
    """A recording that is coming in. name: the name of its file, to be shown; path: where it is kept here."""

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
        """Write slice `number` if it is wanted now; returns the number wanted next. Raises OffbookError."""
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
        """Throw the upload away."""
        shutil.rmtree(self.folder, ignore_errors=True)


def begin_upload(home: Path, piece: str, name: str) -> Upload:
    """A new upload. name: of the file; only its ending is used, and only a known one."""
    ending = PurePath(name.lower().replace("\\", "/")).suffix
    key = secrets.token_hex(_KEY_BYTES)
    folder = home / key
    shown = PurePath(name.replace("\\", "/")).name[:_LONGEST_NAME] or "the recording"
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
    """The upload with this key. Raises RecordingError where there is none."""
    if _KEY.fullmatch(key) is None:
        raise RecordingError("there is no such recording", "choose it again")
    folder = home / key
    try:
        told = json.loads((folder / "upload.json").read_text(encoding="utf-8"))
    except OSError as e:
        raise RecordingError("this recording was already received, or is gone", "choose it again") from e
    return Upload(key, folder, told["piece"], told["name"], folder / told["file"])
