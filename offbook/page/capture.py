"""Captures: what is being spoken into the page, on disk piece by piece while it is spoken.

The browser sends the sound in numbered pieces of one size. A piece is acknowledged only when it is on the
disk, so a closed tab, a crash or an empty battery loses only what was not acknowledged yet: less than a
second. A capture is a folder. `about.json` says whose it is, `partner.json` has the prompts that were given
and when the partner was heard, and each *spell* (the sound from one press of the button to the next
interruption) is a file of 16-bit little-endian mono samples. The number of a piece says where it belongs in
the file, so that a piece which is sent twice is written once, and a gap is noticed.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from offbook.errors import JournalError, RecordingError
from offbook.outgoing import write_whole
from offbook.sampling import LONGEST_SECONDS, SAMPLE_BYTES, whole_samples

if TYPE_CHECKING:
    from offbook.notes import Aside
    from offbook.partner import Played

PIECE_SECONDS = 0.25  # of a piece; set by hand: four writes a second are no work, and little can be lost
# Pieces in one request at most; set by hand: a browser that fell behind on a busy machine catches up 4 s at a
# time.
MOST_PIECES = 16
RATES = (8_000, 192_000)  # Hz that a microphone may have
_PARTNER = "partner.json"
_KEY_BYTES = 16  # random bytes of a key, which has twice as many digits
_KEY = re.compile(rf"[0-9a-f]{{{2 * _KEY_BYTES}}}")


@dataclass(frozen=True, slots=True)
class Spell:
    """One uninterrupted stretch of sound. rate: samples a second."""

    number: int
    rate: int

    @property
    def piece(self) -> int:
        """Bytes of a piece; only the last may be shorter."""
        return SAMPLE_BYTES * round(PIECE_SECONDS * self.rate)


@dataclass(frozen=True, slots=True)
class About:
    """What a capture is: a run-through of a draft of a piece, begun at `begun` (ISO 8601, UTC)."""

    key: str
    piece_id: str
    version_id: str
    begun: str
    spells: tuple[Spell, ...] = ()
    ended: bool = False

    @property
    def at(self) -> datetime:
        """When it was begun."""
        return datetime.fromisoformat(self.begun)


class Capture:
    """A capture on disk, to which more can be added; several threads may use it at once."""

    def __init__(self, folder: Path, about: About) -> None:
        self.folder, self.about = folder, about
        self._lock = Lock()

    @property
    def seconds(self) -> float:
        """How much sound is on the disk (s)."""
        return sum(self._size(s) / (2 * s.rate) for s in self.about.spells)

    def begin_spell(self, rate: int) -> Spell:
        """A new spell at `rate` samples a second. Raises RecordingError for a rate no microphone has."""
        if not RATES[0] <= rate <= RATES[1]:
            raise RecordingError(
                f"a microphone at {rate} samples a second cannot be used",
                "choose another microphone",
            )
        with self._lock:
            spell = Spell(len(self.about.spells), rate)
            self._path(spell).touch()
            self._write(replace(self.about, spells=(*self.about.spells, spell)))
        return spell

    def add(self, number: int, piece: int, sound: bytes, *, last: bool = False) -> tuple[int, bool]:
        """Write piece `piece` of spell `number`: the piece wanted next, and whether this one was written.

        sound: this piece, or up to `MOST_PIECES` from this one on; only the last of a spell may be short.
        A piece that is there already, or that comes too early, is not written: what is wanted next says so.
        Raises RecordingError for what is no piece, JournalError where the disk does not take it.
        """
        with self._lock:
            if not 0 <= number < len(self.about.spells):
                raise RecordingError("this recording has no such part", "load the page again")
            spell = self.about.spells[number]
            have, rest = divmod(self._size(spell), spell.piece)
            if piece != have or rest:
                return have + bool(rest), False
            count, short = divmod(len(sound), spell.piece)
            if not 0 < count + bool(short) <= MOST_PIECES or (short and not last) or len(sound) % 2:
                raise RecordingError("this is not a piece of sound", "load the page again")
            if self.seconds > LONGEST_SECONDS:
                raise RecordingError("a run-through takes up to 90 minutes", "stop, and hear what is there")
            self._append(spell, sound)
            if last:
                self._write(replace(self.about, ended=True))
            return have + count + bool(short), True

    def sound(self) -> Iterator[tuple[Spell, bytes]]:
        """All the sound, spell by spell and piece by piece."""
        for spell in self.about.spells:
            with self._path(spell).open("rb") as file:
                while data := file.read(spell.piece):
                    yield spell, whole_samples(data)

    def end(self) -> None:
        """Note that no more sound will come, so that only the hearing is left."""
        with self._lock:
            self._write(replace(self.about, ended=True))

    def keep_partner(self, prompts: Sequence[Aside], played: Sequence[Played]) -> None:
        """Write down what the partner did so far, so that it is known after a crash too.

        prompts: those that were given; played: what was said aloud, with its times in the sound. Of a capture
        that was thrown away in the meantime nothing is kept.
        """
        told = {"prompts": [asdict(each) for each in prompts], "played": [asdict(each) for each in played]}
        with self._lock:
            if self.folder.is_dir():
                write_whole(self.folder / _PARTNER, json.dumps(told))

    def partner(self) -> tuple[tuple[Aside, ...], tuple[Played, ...]]:
        """The prompts that were given, and what the partner said aloud. A line that nobody saw the end of,
        because offbook itself was gone, lasts as long as the sound that is there."""
        from offbook.notes import Aside
        from offbook.partner import Played

        try:
            told = json.loads((self.folder / _PARTNER).read_text(encoding="utf-8"))
        except FileNotFoundError:
            return (), ()
        prompts = (Aside(**p | {"words": p["words"] and tuple(p["words"])}) for p in told["prompts"])
        played = [Played(**p | {"words": tuple(p["words"])}) for p in told["played"]]
        for each in played:
            each.end = self.seconds if each.end is None else each.end
        return tuple(prompts), tuple(played)

    def drop(self) -> None:
        """Delete it, for good."""
        with self._lock:  # the partner's thread may be writing down what it did
            shutil.rmtree(self.folder, ignore_errors=True)
        with suppress(OSError):  # there is another one of this piece
            self.folder.parent.rmdir()

    def mend(self) -> None:
        """After a crash, cut off a piece that was only half written; it was never acknowledged."""
        with self._lock:
            for spell in self.about.spells:
                path, size = self._path(spell), self._size(spell)
                if size % spell.piece and not self.about.ended:
                    os.truncate(path, size - size % spell.piece)

    def _path(self, spell: Spell) -> Path:
        return self.folder / f"spell-{spell.number}.pcm"

    def _size(self, spell: Spell) -> int:
        try:
            return self._path(spell).stat().st_size
        except FileNotFoundError:
            return 0

    def _append(self, spell: Spell, sound: bytes) -> None:
        path, before = self._path(spell), self._size(spell)
        try:
            with path.open("ab") as file:
                file.write(sound)
                file.flush()
                os.fsync(file.fileno())
        except OSError as e:
            os.truncate(path, before)
            raise JournalError(
                f"the sound cannot be written to the disk: {e.strerror}",
                "free some space on it; what was said is kept",
            ) from e

    def _write(self, about: About) -> None:
        self.about = about
        write_whole(self.folder / "about.json", json.dumps(asdict(about)))


def begin(home: Path, piece_id: str, version_id: str, at: datetime) -> Capture:
    """A new, empty capture below `home`. Raises JournalError where no folder can be made."""
    key = secrets.token_hex(_KEY_BYTES)
    folder = home / piece_id / key  # a piece's folder goes with the piece
    try:
        folder.mkdir(parents=True)
        made = Capture(folder, About(key, piece_id, version_id, at.isoformat()))
        made._write(made.about)
    except OSError as e:
        raise JournalError(
            f"cannot keep what is spoken in {home}: {e.strerror}",
            "free some space there, and allow offbook to write to it",
        ) from e
    return made


def there(home: Path) -> list[Capture]:
    """The captures left on disk, oldest first, mended where a crash left them open."""
    found = []
    for folder in (*home.glob("*"), *home.glob("*/*")):  # before they had a folder for each piece, and since
        if _KEY.fullmatch(folder.name) is None:
            continue
        try:
            raw = json.loads((folder / "about.json").read_text(encoding="utf-8"))
            spells = tuple(Spell(**s) for s in raw.pop("spells"))
            capture = Capture(folder, About(**raw, spells=spells))
        except (OSError, ValueError, TypeError, KeyError):
            continue  # interrupted before it held any sound
        capture.mend()
        found.append(capture)
    return sorted(found, key=lambda c: c.about.begun)
