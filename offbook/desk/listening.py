"""Hearing a recording: from a script and a sound file to a review of what was said.

Nothing is printed: how far the hearing has come goes to a callback, as a share from 0 to 1.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from queue import Empty, Queue
from threading import Event
from typing import TYPE_CHECKING

from offbook.desk.model_loading import Loading
from offbook.desk.speech_of import speech
from offbook.errors import RecordingError
from offbook.sampling import BYTES_PER_SECOND

if TYPE_CHECKING:
    from offbook.audio import SoundReport
    from offbook.notes import Aside, Review
    from offbook.records import CuePickedUp
    from offbook.script import Script, Selection
    from offbook.words import Word

Progress = Callable[[float], None]  # called with the share of the recording heard so far, 0 to 1

_TURN = 0.0005  # s of Python that a thread has to itself
_AHEAD = 120  # chunks of a quarter of a second: decoded while the model is read, and no more than that


@dataclass(frozen=True)
class Heard:
    """A script, a recording of it, and the review.

    recorded_at: when the file was last written, UTC. hard: how hard the voice was to follow, 0 to 1.
    second_ear: whether a second ear heard it as well. pick_ups: how soon each cue of a partner was picked up.
    """

    script: Script
    words: tuple[Word, ...]
    recording: Path
    recorded_at: datetime
    model: str
    sound: SoundReport
    review: Review
    hard: float = 0.0
    second_ear: bool = True
    pick_ups: tuple[CuePickedUp, ...] = ()


def listen(
    script_path: str,
    recording: str,
    wanted: Selection | str | None = None,
    model: str | Loading | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Hear `recording` as somebody saying the script, and review it.

    model: a name, a folder, or one already on its way. Raises ScriptError, RecordingError or ModelError, in
    this order where several things are wrong.
    """
    loading = model if isinstance(model, Loading) else Loading(model)
    return listen_to(speech(script_path, wanted), recording, loading, progress=progress)


def listen_to(
    script: Script,
    recording: str | Path,
    loading: Loading,
    sound: SoundReport | None = None,
    progress: Progress | None = None,
    *,
    one_core: bool = False,
    prompts: Sequence[Aside] = (),
) -> Heard:
    """Hear `recording` as somebody saying `script`, and review it. Raises RecordingError or ModelError.

    sound: what `audio.survey` said of it; measured here where it is not given. one_core: on this thread
    alone, as the other cores hear other recordings. prompts: those that were given on the way, unheard.
    """
    from offbook import audio, notes, words
    from offbook.hear import Listener, how_hard

    spoken = words.words_of(script)
    path = Path(recording)
    audio.probe(path)  # what is no recording is refused before anything is waited for
    step = progress or (lambda share: None)
    with _short_turns():
        sound = _measured(path, len(spoken), sound)
        chunks = audio.pcm(path, sound=sound)
        with nullcontext(chunks) if one_core else _ahead(chunks) as stream:
            ears = loading.result()
            listener = Listener(spoken, ears.first, lines=script.lines, scorer=ears.second, one_core=one_core)
            for chunk in _counted(stream, sound.seconds, step):
                listener.feed(chunk)
        run = listener.finish(sound)
    return Heard(
        script=script,
        words=spoken,
        recording=path,
        recorded_at=_written_at(path),
        model=ears.name,
        second_ear=ears.second is not None,
        sound=sound,
        review=notes.notes_on(script, spoken, run, prompts),
        hard=how_hard(listener.settled),
    )


@contextmanager
def _short_turns() -> Iterator[None]:
    """Threads take shorter turns in Python than its 5 ms.

    The free hearing is in Python for a tenth of a millisecond at a time, some seventy times a second: waiting
    for whole turns of the second hearing's thread would cost it a quarter of its speed.
    """
    usual = sys.getswitchinterval()
    sys.setswitchinterval(_TURN)
    try:
        yield
    finally:
        sys.setswitchinterval(usual)


@contextmanager
def _ahead(chunks: Iterator[bytes]) -> Iterator[Iterator[bytes]]:
    """The same chunks, made on a thread of its own, `_AHEAD` of them at most before they are asked for."""
    made: Queue[bytes | None] = Queue(_AHEAD)
    left = Event()  # nobody takes any more of them

    def make() -> None:
        try:
            for chunk in chunks:
                made.put(chunk)
                if left.is_set():
                    return
        finally:
            made.put(None)

    with ThreadPoolExecutor(1, thread_name_prefix="decoding") as thread:
        making = thread.submit(make)
        try:
            yield iter(made.get, None)
            making.result()
        finally:
            left.set()
            while not making.done():
                with suppress(Empty):
                    made.get(timeout=0.01)


def _measured(path: Path, spoken: int, sound: SoundReport | None) -> SoundReport:
    """What the recording is like. Raises RecordingError, also where it can't hold `spoken` words."""
    from offbook import audio

    if sound is None:
        sound = audio.survey(path)
    audio.check_length(path, sound.seconds, spoken, sound.claimed)
    return sound


def _written_at(path: Path) -> datetime:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except OSError as e:
        raise RecordingError(
            f"{path} disappeared while it was being heard", "put it back and run again"
        ) from e


def _counted(chunks: Iterable[bytes], seconds: float, step: Callable[[float], None]) -> Iterator[bytes]:

    done = 0.0
    for chunk in chunks:
        yield chunk
        done += len(chunk) / BYTES_PER_SECOND
        step(min(1.0, done / seconds) if seconds > 0 else 1.0)
