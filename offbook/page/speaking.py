"""What is being spoken into the page: captures and their live hearing, from the first piece to the notes.

The recording is in the journal before it is judged, and the run-through is committed before anything is
shown. A sound that is too poor for the live hearing is heard once more as a whole, levelled and cleaned.
"""

from __future__ import annotations

import time
import wave
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Protocol

from offbook import journal as journals
from offbook.desk import Heard, Loading
from offbook.errors import JournalError, OffbookError, RecordingError
from offbook.journal import Journal
from offbook.page import capture as captures
from offbook.page.capture import PIECE_SECONDS, Capture, Spell
from offbook.page.live import Live
from offbook.page.turns import Job, Turns
from offbook.records import Piece, Recording, Version
from offbook.sampling import SAMPLE_BYTES

if TYPE_CHECKING:
    from offbook.audio import SoundReport
    from offbook.notes import Aside
    from offbook.partner import Manners

# Set by hand.
ALIVE_SECONDS = 4.0  # after the last piece of sound: then nobody speaks into a capture any more
_ON_ITS_WAY = 1.0  # s in which the last pieces of a window that was closed may still arrive
HELD_SECONDS = 20.0  # for which an answer waits while somebody speaks into a capture, so that few are needed
_STEPS = 0.25  # s between two looks at how far the hearing has come
_LOOKS = 0.05  # s between two looks at whether another window has gone
LOUDEST_GAIN_DB = 28.0  # the live hearing gives no more: a softer voice is heard once more as a whole


@dataclass
class OpenCapture:
    """A capture that is open in this process."""

    capture: Capture
    piece: Piece
    version: Version
    live: Live
    last: float = field(default_factory=time.monotonic)
    job: Job | None = None
    _gone: int = -1  # the last spell whose window has said that it is being closed

    def note_piece(self, spell: int) -> None:
        """Note that a piece of `spell` was written, unless it was on its way when its window was closed."""
        if spell > self._gone:
            self.last = time.monotonic()

    def leave(self) -> None:
        """Note that the window is being closed, so that another can go on at once."""
        self._gone = len(self.capture.about.spells) - 1
        self.last = 0.0

    @property
    def alive(self) -> bool:
        """Whether a window is sending sound now."""
        return self.job is None and time.monotonic() - self.last < ALIVE_SECONDS

    @property
    def being_judged(self) -> bool:
        """Whether its notes are being made."""
        return self.job is not None and not self.job.over.is_set()


class SpeakingRoom(Protocol):
    """What speaking needs from the room: the journal, the model, the queue, and how a run-through is kept."""

    journal: Journal
    loading: Loading
    turns: Turns

    def keep(self, piece: Piece, source: Path, at: datetime) -> Recording | None:
        """Keep a recording in the journal before it is judged."""

    def commit(self, piece: Piece, version: Version, heard: Heard, stored: Recording | None) -> str:
        """Commit a run-through; returns its key."""

    def hear_again(
        self,
        job: Job,
        piece: Piece,
        version: Version,
        path: Path,
        stored: Recording | None,
        sound: SoundReport | None = None,
        prompts: Sequence[Aside] = (),
    ) -> str:
        """Hear a recording from its file, whole, and commit it."""


class Speaking:
    """All captures of this journal, those on disk and those that are open."""

    def __init__(self, room: SpeakingRoom) -> None:
        self._room = room
        self._open: dict[str, OpenCapture] = {}
        self._lock = Lock()

    @property
    def home(self) -> Path:
        """The folder of all captures."""
        return self._room.journal.home / "spoken"

    def left(self, piece_id: str | None = None) -> list[Capture]:
        """The captures that nobody is speaking into and that were not heard to the end, oldest first."""
        with self._lock:
            busy = {
                k for k, s in self._open.items() if s.alive or (s.job is not None and not s.job.over.is_set())
            }
        return [
            c for c in captures.there(self.home)
            if c.about.key not in busy and (piece_id is None or c.about.piece_id == piece_id)
        ]  # fmt: skip

    def open_now(self) -> list[OpenCapture]:
        """What is being spoken into now."""
        return [s for s in list(self._open.values()) if s.alive]

    def begin(
        self, piece: Piece, version: Version, rate: int, manners: Manners | None = None
    ) -> tuple[OpenCapture, Spell]:
        """A new capture. Raises RecordingError where another window is being spoken into."""
        self._wait_until_free()
        with self._lock:
            self._check_free()
            made = captures.begin(self.home, piece.id, version.id, self._room.journal.clock())
            spell = made.begin_spell(rate)
            live = Live(version, self._room.loading, manners, made.keep_partner)
            spoken = OpenCapture(made, piece, version, live)
            self._open[made.about.key] = spoken
        return spoken, spell

    def go_on(self, key: str, rate: int, manners: Manners | None = None) -> tuple[OpenCapture, Spell]:
        """A new spell of an interrupted capture. manners: of the partner from now on, None for no partner."""
        spoken = self.spoken(key, manners)
        self._wait_until_free()
        if spoken.live.with_partner != (manners is not None):
            self._let_go(spoken)
            spoken = self.spoken(key, manners)
        spoken.live.tell(lambda p: p.rehearsal.cut_off())
        with self._lock:
            self._check_free()
            spell = spoken.capture.begin_spell(rate)
            spoken.last = time.monotonic()
        return spoken, spell

    def still_open(self, piece_id: str) -> str | None:
        """The key of the capture of this piece into which somebody seems to speak; None without one."""
        return next((s.capture.about.key for s in self.open_now() if s.piece.id == piece_id), None)

    def closed(self, key: str) -> bool:
        """Wait until nobody speaks into this capture; False where somebody still does after `HELD_SECONDS`.

        A page that is loaded again is often asked for while the old one is still sending.
        """
        until = time.monotonic() + HELD_SECONDS
        return _waited(
            lambda: all(s.capture.about.key != key for s in self.open_now()),
            lambda: time.monotonic() > until,
        )

    def _wait_until_free(self) -> None:
        """Wait until nobody is speaking any more, or it is certain that somebody is.

        A window that was closed a moment ago looks as if somebody still spoke into it, until its next piece
        of sound does not come. A performer who presses Begin in another window should not have to press it
        again.
        """
        began = time.monotonic()
        _waited(
            lambda: not self.open_now(),
            lambda: any(s.last > began + _ON_ITS_WAY for s in self.open_now()),
        )

    def _check_free(self) -> None:
        if self.open_now():
            raise RecordingError(
                "another window of this page is recording", "stop there first, or wait a few seconds"
            )

    def piece_in(self, key: str) -> str:
        """The key of the piece that is spoken in a capture. Raises RecordingError."""
        with self._lock:
            if key in self._open:
                return self._open[key].piece.id
            return self._found(key).about.piece_id

    def _found(self, key: str) -> Capture:
        found = next((c for c in captures.there(self.home) if c.about.key == key), None)
        if found is None:
            raise RecordingError("this recording no longer exists", "begin a new one")
        return found

    def spoken(self, key: str, manners: Manners | None = None) -> OpenCapture:
        """The capture with this key; one that an earlier process left behind is heard as far as it goes."""
        with self._lock:
            if key in self._open:
                return self._open[key]
            found = self._found(key)
            with self._room.journal.reading() as conn:
                piece = next((p for p in journals.pieces_of(conn) if p.id == found.about.piece_id), None)
                if piece is None:
                    raise JournalError("the piece of this recording was deleted", "delete the recording too")
                version = journals.version_of(conn, found.about.version_id)
            prompts, played = found.partner()
            live = Live(
                version, self._room.loading, manners, found.keep_partner, found.seconds, prompts, played
            )
            for spell, sound in found.sound():
                live.feed(spell.rate, sound)
            spoken = OpenCapture(found, piece, version, live, last=0.0)
            self._open[key] = spoken
            return spoken

    def add(
        self, key: str, number: int, piece: int, sound: bytes, *, last: bool, unsent: int = 0
    ) -> tuple[OpenCapture, int]:
        """Write pieces and pass them on to be heard; returns the number of the piece that is wanted next.

        number: of the spell; piece: of the first piece; unsent: how many pieces still wait in the browser.
        """
        spoken = self.spoken(key)
        spoken.live.unsent = unsent * PIECE_SECONDS
        wanted, written = spoken.capture.add(number, piece, sound, last=last)
        if written and spoken.job is None:
            spoken.note_piece(number)
            spell = spoken.capture.about.spells[number]
            for at in range(0, len(sound), spell.piece):
                spoken.live.feed(spell.rate, sound[at : at + spell.piece])
        return spoken, wanted

    def end(self, key: str) -> Job:
        """Note that nothing more will be said; returns the job that makes the notes.

        Asked again, even when the job is done, it returns the same one: the first answer may have been lost.
        """
        begun = self._room.turns.job(key)
        if begun is not None and begun.problem is None:
            return begun
        spoken = self.spoken(key)
        with self._lock:
            if spoken.job is None:
                spoken.capture.end()
                spoken.live.end()
                piece, file = spoken.piece, spoken.capture.folder / "spoken.wav"
                work = self._work(spoken, file)
                spoken.job = self._room.turns.now(
                    Job(piece.performer_id, piece.id, piece.name, work, file=file, key=key)
                )
            return spoken.job

    def drop(self, key: str) -> None:
        """Throw a capture away."""
        self._forget(self.spoken(key))

    def close(self) -> None:
        """The server stops: what is being spoken stays on the disk, and is offered when it starts again."""
        for spoken in list(self._open.values()):
            if spoken.job is None:
                spoken.live.drop()

    def _work(self, spoken: OpenCapture, recording: Path) -> Callable[[Job], str]:
        room = self._room

        def work(job: Job) -> str:
            write_wav(spoken.capture, recording)
            heard = spoken.live.judge(recording)
            stored = room.keep(spoken.piece, recording, spoken.capture.about.at)
            try:
                result = self._awaited(job, spoken, heard)
            except OffbookError:
                if stored is not None:  # it can be heard again from the journal's copy
                    self._forget(spoken)
                else:  # it can be heard again from the capture, which stays
                    self._let_go(spoken)
                raise
            poor = result.sound.background is not None or result.sound.gain > LOUDEST_GAIN_DB
            # A recording with the partner's voice in it is not the performer's alone, and is not heard again.
            if poor and not spoken.live.partner_spoke:
                prompts = spoken.live.prompts
                run = room.hear_again(
                    job, spoken.piece, spoken.version, recording, stored, result.sound, prompts
                )
            else:
                run = room.commit(spoken.piece, spoken.version, result, stored)
            self._forget(spoken)
            return run

        return work

    def _awaited(self, job: Job, spoken: OpenCapture, heard: Future[Heard]) -> Heard:
        """What was heard, as soon as it is; until then the job learns how far it has come. Raises Stopped."""
        while True:
            try:
                return heard.result(timeout=_STEPS)
            except TimeoutError:
                job.step(max(job.share, spoken.live.share))

    def _let_go(self, spoken: OpenCapture) -> None:
        spoken.live.drop()
        with self._lock:
            self._open.pop(spoken.capture.about.key, None)

    def _forget(self, spoken: OpenCapture) -> None:
        self._let_go(spoken)
        spoken.capture.drop()


def _waited(over: Callable[[], bool], hopeless: Callable[[], bool]) -> bool:
    """Wait until `over`, and return True; return False as soon as waiting is `hopeless`."""
    while not over():
        if hopeless():
            return False
        time.sleep(_LOOKS)
    return True


def write_wav(capture: Capture, target: Path) -> None:
    """All the sound of a capture as one WAV file, at the rate of its first spell."""
    rate = capture.about.spells[0].rate
    with wave.open(str(target), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(SAMPLE_BYTES)
        out.setframerate(rate)
        for spell, sound in capture.sound():
            out.writeframes(sound if spell.rate == rate else _at_rate(sound, spell.rate, rate))


def _at_rate(sound: bytes, was: int, wanted: int) -> bytes:
    """The sound of another microphone at the rate of the first one, by straight lines between its samples."""
    import numpy as np

    samples = np.frombuffer(sound, "<i2").astype(np.float32)
    at = np.arange(round(len(samples) * wanted / was)) * (was / wanted)
    resampled = np.rint(np.interp(at, np.arange(len(samples)), samples)).astype("<i2")
    return bytes(resampled.tobytes())
