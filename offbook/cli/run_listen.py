"""What the commands that hear a recording share: from two file names to a review, with progress shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from offbook import audio, models, notes, words
from offbook.audio import SoundReport
from offbook.cli.common import console, speech
from offbook.errors import ModelError, RecordingError
from offbook.hear import Listener
from offbook.hear_sound import doubt
from offbook.notes_kinds import Review
from offbook.recognise import VoskRecogniser
from offbook.script import Script
from offbook.words import Word

_BYTES_A_SECOND = 2 * audio.RATE


@dataclass(frozen=True)
class Heard:
    """A script, a recording of it, and the review. recorded_at: when the file was last written, UTC."""

    script: Script
    words: tuple[Word, ...]
    recording: Path
    recorded_at: datetime
    model: str
    sound: SoundReport
    review: Review


def listen(script_path: str, recording: str, part: str | None = None, model: str | None = None) -> Heard:
    """Hear `recording` as somebody saying the script, and review it.

    Raises ScriptError, RecordingError or ModelError, in this order where several things are wrong;
    nothing is printed but a progress bar.
    """
    script = speech(script_path, part)
    spoken = words.words_of(script)
    path = Path(recording)
    folder = _model(model, path, len(spoken))
    audio.probe(path)  # what is no recording is refused before a model is read for it
    with _progress() as step:
        # The model is read (about a second) while the sound is measured: each leaves a core idle.
        with ThreadPoolExecutor(1) as beside:
            loading = beside.submit(VoskRecogniser, folder)
            sound = _measured(path, len(spoken))
            recogniser = loading.result()
        stream = _counted(audio.pcm(path, sound=sound), sound.seconds, step)
        listener = Listener(spoken, recogniser, lines=script.lines)
        for chunk in stream:
            listener.feed(chunk)
        run = doubt(listener.finish(), listener.settled, sound)
    return Heard(
        script=script,
        words=spoken,
        recording=path,
        recorded_at=_written_at(path),
        model=recogniser.name,
        sound=sound,
        review=notes.review(script, spoken, run),
    )


def _model(name: str | None, path: Path, spoken: int) -> Path:
    """The model's folder. Where there is none, what is wrong with the recording is told before that."""
    try:
        return models.model_folder(name)
    except ModelError:
        _measured(path, spoken)
        raise


def _measured(path: Path, spoken: int) -> SoundReport:
    """What the recording is like. Raises RecordingError, also where it can't hold `spoken` words."""
    sound = audio.survey(path)
    audio.check_length(path, sound.seconds, spoken, sound.claimed)
    return sound


def _written_at(path: Path) -> datetime:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except OSError as e:
        raise RecordingError(f"{path} has gone while it was heard", "put it back and run again") from e


def _counted(chunks: Iterable[bytes], seconds: float, step: Callable[[float], None]) -> Iterator[bytes]:
    done = 0.0
    for chunk in chunks:
        yield chunk
        done += len(chunk) / _BYTES_A_SECOND
        step(min(1.0, done / seconds) if seconds > 0 else 1.0)


@contextmanager
def _progress() -> Iterator[Callable[[float], None]]:
    """A progress bar on standard error where somebody is looking; gives how to move it (0 to 1)."""
    out = console(err=True)
    if not out.is_terminal:
        yield lambda share: None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=out, transient=True) as bar:
        task = bar.add_task("listening", total=1.0)
        yield lambda share: bar.update(task, completed=share)
