"""Spoken answers in a drill: recorded, heard offline, judged word by word.

The microphone is read with `sounddevice` (the `mic` extra), or with a recording program of your own:
`--record-with "arecord -q -f S16_LE -r 16000 FILE"` is run for each answer with the name of a new file in the
place of FILE, and is stopped (as by Ctrl-C) when the person is done.
"""

from __future__ import annotations

import shlex
import signal
import subprocess
import wave
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.desk.live_sound import microphone_library, open_microphone
from offbook.errors import RecordingError
from offbook.sampling import SAMPLE_BYTES, SAMPLE_RATE
from offbook.scratch import scratch

if TYPE_CHECKING:
    from offbook.drill import ComparedWord, JudgedAnswer, Kind
    from offbook.recognise import Recogniser, WordingScorer
    from offbook.records import Version
    from offbook.score import Run
    from offbook.words import Word

# Set by hand.
_NOTHING = 4_000  # bytes, an eighth of a second: in a shorter recording Enter was pressed at once
_STOPPING = 5.0  # s that a recording program may take to finish its file
_KIND: dict[str, Kind] = {"said": "right", "unsure": "right", "changed": "changed", "dropped": "lost"}

Recorder = Callable[[Path], bool]  # records an answer into the file; returns False where the person leaves
Done = Callable[[], bool]  # waits until the answer has been said; returns False where the person leaves


@dataclass(frozen=True, slots=True)
class SpokenAnswer:
    """A spoken answer.

    text: what was heard, None for nothing; pick_up: seconds until the first word; seconds: of the whole
    recording.
    """

    text: str | None
    judged: JudgedAnswer | None
    pick_up: float | None
    seconds: float


class AnswerListener:
    """Records and hears the spoken answers of a sitting.

    scorer: the second ear, None where there is none.
    """

    def __init__(
        self, recorder: Recorder, recogniser: Recogniser, scorer: WordingScorer | None = None
    ) -> None:
        self._recorder = recorder
        self._recogniser, self._scorer = recogniser, scorer

    def answer(self, version: Version, first: int, last: int) -> SpokenAnswer | None:
        """Record an answer and hear it as the words first to last; None where the person leaves."""
        from offbook import audio
        from offbook.hear import Listener

        with scratch() as folder:
            path = Path(folder) / "answer.wav"
            if not self._recorder(path):
                return None
            if not path.is_file() or path.stat().st_size < _NOTHING:
                return SpokenAnswer(None, None, None, 0.0)
            sound = audio.survey(path)
            words = tuple(replace(w, i=k) for k, w in enumerate(version.words[first : last + 1]))
            numbers = {w.line for w in words}
            lines = [line for line in version.script.lines if line.n in numbers]
            listener = Listener(words, self._recogniser, lines=lines, scorer=self._scorer)
            for chunk in audio.pcm(path, sound=sound):
                listener.feed(chunk)
            run = listener.finish(sound)
        return said_from(run, words, first, sound.seconds)


def said_from(run: Run, words: tuple[Word, ...], first: int, seconds: float) -> SpokenAnswer:
    """The spoken answer that `run` shows. words: those asked for, from script word `first` on."""
    from offbook.drill import ComparedWord, JudgedAnswer

    heard = [(w.start, w.heard) for w in run.words if w.heard is not None and w.start is not None]
    heard += [(e.start, e.heard) for e in run.extras]
    if not heard:
        return SpokenAnswer(None, None, None, seconds)
    places: list[ComparedWord] = []
    for w in run.words:
        for e in run.extras:
            if e.before_word == w.i and w.i > 0:  # before the first word people clear their throat
                places.append(ComparedWord("added", None, "", e.heard))
        given = "" if w.verdict == "dropped" else (w.heard or w.text)
        places.append(ComparedWord(_KIND[w.verdict], first + w.i, w.text, given))
    heard.sort()
    return SpokenAnswer(" ".join(h for _, h in heard), JudgedAnswer(tuple(places)), heard[0][0], seconds)


def ear_for(command: str | None, model: str | None, done: Done) -> AnswerListener:
    """A listener at the microphone, or with the recording program `command`. Raises OffbookError.

    done: called while an answer is being recorded; it returns when the answer has been said.
    """
    from offbook.desk.model_loading import Loading

    loading = Loading(model)
    recorder = _microphone(done) if command is None else _program(command, done)
    ears = loading.result()
    return AnswerListener(recorder, ears.first, ears.second)


def _program(command: str, done: Done) -> Recorder:
    words = shlex.split(command)
    if not any("FILE" in w for w in words):
        raise RecordingError(
            f"the recording program has no FILE in it: {command}",
            'write FILE where its file is named, as in "arecord -q -f S16_LE -r 16000 FILE"',
        )

    def record(path: Path) -> bool:
        call = [w.replace("FILE", str(path)) for w in words]
        try:
            child = subprocess.Popen(call, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        except OSError as e:
            raise RecordingError(
                f"cannot start {call[0]}: {e.strerror}", "name a recording program that is installed"
            ) from e
        stay = done()
        if child.poll() is None:
            child.send_signal(signal.SIGINT)
        try:
            child.wait(_STOPPING)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
        return stay

    return record


def _microphone(done: Done) -> Recorder:
    library = microphone_library()

    def record(path: Path) -> bool:
        with wave.open(str(path), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(SAMPLE_BYTES)
            out.setframerate(SAMPLE_RATE)
            with closing(open_microphone(library, out.writeframes)):
                return done()

    return record
