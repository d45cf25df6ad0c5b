"""A script that is being added: what was taken as spoken is shown, and can be corrected, before it is kept.

The file is kept in a folder of our own, under a name of our own. Of the name it came with only a known ending
is used, and only to know its format.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from offbook import script as scripts
from offbook.errors import JournalError, ScriptError
from offbook.intake import MEGABYTE, at_least
from offbook.outgoing import write_whole
from offbook.page.app import RAISE
from offbook.script import RespokenStretch, Script

ENDINGS = frozenset({".txt", ".md", ".markdown", ".fountain", ".docx", ".odt", ".pdf"})
LARGEST_SCRIPT = 20_000_000  # bytes, where no more was asked for: a whole play as a pdf with pictures
_KEY_BYTES = 12  # random bytes of a key, which has twice as many digits
_KEY = re.compile(rf"[0-9a-f]{{{2 * _KEY_BYTES}}}")


@dataclass(frozen=True, slots=True)
class Draft:
    """A script that is not kept yet. file: its name in the draft's folder; revises: a piece's key, or ""."""

    key: str
    folder: Path
    file: str
    title: str
    part: str | None = None
    choices: tuple[RespokenStretch, ...] = ()
    revises: str = ""
    limit: str = ""
    day: str = ""
    problem: tuple[str, str] | None = field(default=None, compare=False)

    def script(self) -> Script:
        """The script as it would be kept. Raises ScriptError."""
        read = scripts.load_script(self.folder / self.file, self.part)
        return scripts.respoken(replace(read, title=self.title or read.title), self.choices)


def save(home: Path, data: bytes, name: str, title: str, revises: str = "") -> Draft:
    """A new draft from the bytes of a file. name: what it was called, "" for pasted text."""
    most = at_least(LARGEST_SCRIPT)
    if len(data) > most:
        raise ScriptError(
            f"this file is larger than {most // MEGABYTE:,} MB",
            f"give the script alone, without pictures, or begin the page with {RAISE}",
        )
    ending = Path(name.lower()).suffix
    file = f"script{ending if ending in ENDINGS else '.txt'}"
    key = secrets.token_hex(_KEY_BYTES)
    folder = home / key
    try:
        folder.mkdir(parents=True)
        write_whole(folder / file, data)
    except OSError as e:
        raise _no_room(e) from e
    draft = Draft(key, folder, file, title, revises=revises)
    write(draft)
    return draft


def write(draft: Draft) -> None:
    """Write down what was chosen so far. Raises JournalError."""
    told = {k: v for k, v in asdict(draft).items() if k not in ("folder", "key", "problem")}
    try:
        write_whole(draft.folder / "draft.json", json.dumps(told, ensure_ascii=False))
    except OSError as e:
        raise _no_room(e) from e


def _no_room(e: OSError) -> JournalError:
    return JournalError(f"cannot keep the script: {e.strerror}", "free some space on the disk")


def load_draft(home: Path, key: str) -> Draft:
    """The draft with this key. Raises ScriptError where it does not exist any more."""
    if _KEY.fullmatch(key) is None:
        raise ScriptError("there is no such script", "add it again")
    folder = home / key
    try:
        raw = json.loads((folder / "draft.json").read_text(encoding="utf-8"))
    except OSError as e:
        raise ScriptError("this script was kept or thrown away already", "add it again") from e
    choices = tuple(RespokenStretch(**c) for c in raw.pop("choices"))
    return Draft(key=key, folder=folder, choices=choices, **raw)


def drop(draft: Draft) -> None:
    """Throw a draft away."""
    shutil.rmtree(draft.folder, ignore_errors=True)
