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

from offbook.desk.model_loading import Ears, Loading
from offbook.desk.speech_of import speech
from offbook.errors import RecordingError
from offbook.sampling import BYTES_PER_SECOND

if TYPE_CHECKING:
    from offbook.audio import SoundReport
    from offbook.hear import Listener
    from offbook.notes import Aside, Review
    from offbook.records import CuePickedUp
    from offbook.score import Run
    from offbook.script import Script, Selection
    from offbook.words import Word

Progress = Callable[[float], None]  # called with the share of the recording heard so far, 0 to 1

# Both set by hand; bench/run_cost.py measures what they do.
_TURN = 0.0005  # s for which a thread may run Python before another gets its turn
_AHEAD = 120  # chunks of a quarter of a second that are decoded ahead at most, while the model is loading
_GIVING_UP = 0.01  # s between two looks at whether the decoding thread has stopped


@dataclass(frozen=True)
class Heard:
    """A script, a recording of it, and the review of the recording.

    recorded_at: when the file was last written, UTC; hard: how hard the voice was to follow, 0 to 1;
    second_ear: whether a second ear heard it too; pick_ups: how soon each of a partner's cues was picked up.
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
    """Hear `recording` as a run-through of the script, and review it.

    model: a name, a folder, or models that are already loading. Raises ScriptError, RecordingError or
    ModelError; where several things are wrong, the first of these.
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
    """Hear `recording` as a run-through of `script`, and review it. Raises RecordingError or ModelError.

    sound: what `audio.survey` found; None to measure it here. one_core: everything on this thread, because
    the other cores hear other recordings. prompts: those that were shown during the run-through, and so
    cannot be heard.
    """
    from offbook import audio, words
    from offbook.hear import Listener

    spoken = words.words_of(script)
    path = Path(recording)
    audio.probe(path)  # a file that is not a recording is refused before anything is waited for
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
    return reviewed(script, spoken, path, sound, run, listener, ears, prompts)


def reviewed(
    script: Script,
    spoken: tuple[Word, ...],
    recording: Path,
    sound: SoundReport,
    run: Run,
    listener: Listener,
    ears: Ears,
    prompts: Sequence[Aside] = (),
    pick_ups: tuple[CuePickedUp, ...] = (),
) -> Heard:
    """The review of a recording that was heard to its end. Raises RecordingError if its file is gone.

    spoken: the words of the script. run: what `listener.finish` gave. ears: the models that heard it.
    prompts: those that were shown, or heard in the partner's voice.
    """
    from offbook import notes
    from offbook.hear import voice_difficulty

    return Heard(
        script=script,
        words=spoken,
        recording=recording,
        recorded_at=_written_at(recording),
        model=ears.name,
        second_ear=ears.second is not None,
        sound=sound,
        review=notes.notes_on(script, spoken, run, prompts),
        hard=voice_difficulty(listener.settled),
        pick_ups=pick_ups,
    )


@contextmanager
def _short_turns() -> Iterator[None]:
    """Let threads take shorter turns than Python's usual 5 ms.

    The first, free hearing needs Python for a tenth of a millisecond, about seventy times a second. If it had
    to wait for a whole turn of the other hearing's thread each time, it would lose a quarter of its speed.
    """
    usual = sys.getswitchinterval()
    sys.setswitchinterval(_TURN)
    try:
        yield
    finally:
        sys.setswitchinterval(usual)


@contextmanager
def _ahead(chunks: Iterator[bytes]) -> Iterator[Iterator[bytes]]:
    """The same chunks, made on a thread of their own; at most `_AHEAD` of them wait to be asked for."""
    made: Queue[bytes | None] = Queue(_AHEAD)
    left = Event()  # nobody will ask for more

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
                    made.get(timeout=_GIVING_UP)


def _measured(path: Path, spoken: int, sound: SoundReport | None) -> SoundReport:
    """How good the sound is.

    Raises RecordingError, also where the recording is too short for `spoken` words.
    """
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
            f"{path} disappeared while it was being heard", "put it back, and run the command again"
        ) from e


def _counted(chunks: Iterable[bytes], seconds: float, step: Callable[[float], None]) -> Iterator[bytes]:
    """The same chunks; `step` is told the share that has been passed on, 0 to 1. seconds: of all of them."""
    done = 0.0
    for chunk in chunks:
        yield chunk
        done += len(chunk) / BYTES_PER_SECOND
        step(min(1.0, done / seconds) if seconds > 0 else 1.0)
