"""A capture heard while it is spoken: the notes are nearly ready when the last word is.

The sound goes from the disk's acknowledgement straight to a thread of its own, which levels and measures it
(`audio.Arriving`) and feeds it to the listener. How far the performer is in the text comes from what is
settled; the speech is over when its last word was heard and it has been quiet since.
"""

from __future__ import annotations

from concurrent.futures import Future
from datetime import UTC, datetime
from pathlib import Path
from queue import Queue
from threading import Event, Thread
from typing import TYPE_CHECKING

from offbook.desk import Heard, Loading
from offbook.errors import OffbookError, RecordingError
from offbook.page.capture import PIECE_SECONDS
from offbook.records import Version

if TYPE_CHECKING:
    from offbook.hear import Listener

QUIET_SECONDS = 0.5  # of quiet after the last word; set by hand: shorter than a breath before a last phrase
QUIET_SHARE_DB = 18.0  # so far below the loudest of the last seconds a piece counts as quiet
_ENOUGH = 0.5  # of the words, before the last word can be the end: a word may stand at the beginning too
_LAST = 3  # of the last words of the speech one must be heard with the very last


class Live:
    """One capture being heard. place: words reached; done: the last word was said, and it is quiet since.

    level, peak: of the newest piece, dBFS. behind: seconds of sound that are still to be heard.
    """

    def __init__(self, version: Version, loading: Loading) -> None:
        self.place, self.done = 0, Event()
        self.level = self.peak = -100.0
        self.fed = self.seconds = 0.0
        self._version, self._loading = version, loading
        self._pieces: Queue[tuple[int, bytes] | None] = Queue()
        self._over: Future[Path] = Future()
        self.result: Future[Heard] = Future()
        self._levels: list[float] = []
        Thread(target=self._run, name="live hearing", daemon=True).start()

    @property
    def behind(self) -> float:
        """Seconds that are still to be heard."""
        return self.fed - self.seconds

    def feed(self, rate: int, sound: bytes) -> None:
        """Take in a piece. Returns at once."""
        self.fed += len(sound) / (2 * rate)
        self._pieces.put((rate, sound))

    def end(self) -> None:
        """No more sound comes."""
        self._pieces.put(None)

    def judge(self, recording: Path) -> Future[Heard]:
        """What it came to, once `end` was called and the recording is written at `recording`."""
        self._over.set_result(recording)
        return self.result

    def _run(self) -> None:
        try:
            self.result.set_result(self._hear())
        except OffbookError as e:
            self.result.set_exception(e)
        except BaseException as e:  # whoever waits must hear of it
            self.result.set_exception(e)
            raise

    def _hear(self) -> Heard:
        from offbook import notes
        from offbook.audio import Arriving
        from offbook.hear import Listener, doubt, how_hard

        recogniser = self._loading.result()
        script, words = self._version.script, self._version.words
        arriving = Arriving()
        listener = Listener(words, recogniser, lines=script.lines)
        settled = 0
        while (piece := self._pieces.get()) is not None:
            rate, heard = piece
            listener.feed(arriving.feed(heard, rate))
            self.seconds += len(heard) / (2 * rate)
            self.level, self.peak = arriving.level, arriving.peak
            self._levels.append(arriving.level)
            if len(listener.settled) != settled:
                settled = len(listener.settled)
                self._follow(listener)
            elif self.place == len(words) and not self.done.is_set() and self._is_quiet():
                self.done.set()
        listener.feed(arriving.finish())
        run = listener.finish()
        recording = self._over.result()
        sound = arriving.report(recording)
        if not any(w.start is not None for w in run.words):
            raise RecordingError(
                "nothing of the speech was heard",
                "choose another microphone, come closer, and watch the level while you speak",
            )
        run = doubt(run, listener.settled, sound)
        return Heard(
            script=script,
            words=words,
            recording=recording,
            recorded_at=datetime.fromtimestamp(recording.stat().st_mtime, UTC),
            model=recogniser.name,
            sound=sound,
            review=notes.review(script, words, run),
            hard=how_hard(listener.settled),
        )

    def _follow(self, listener: Listener) -> None:
        words = listener.so_far().words
        heard = [w.i for w in words if w.start is not None]
        if not heard:
            return
        near_the_end = any(len(words) - _LAST <= i < len(words) - 1 for i in heard)
        if heard[-1] == len(words) - 1 and (len(heard) < _ENOUGH * len(words) or not near_the_end):
            heard.pop()  # the last word may stand elsewhere too, and be heard for another
        self.place = heard[-1] + 1 if heard else 0

    def _is_quiet(self) -> bool:
        pieces = round(QUIET_SECONDS / PIECE_SECONDS)
        loud = max(self._levels[-round(10 / PIECE_SECONDS) :])
        return len(self._levels) > pieces and max(self._levels[-pieces:]) < loud - QUIET_SHARE_DB
