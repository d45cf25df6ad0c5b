"""Hearing: a script and the sound of somebody saying it, and what became of every word.

`hear(words, pcm, recogniser, lines=...)` drives the stages before it and gives a `Run`: the sound is
cut into stretches and freely decoded (`hear.segments`), each stretch is settled against the script
around it (`hear.rescore`), all that was settled is aligned with the whole script (`align.growing`) and
scored (`score`). A `Listener` is the same for sound that is still arriving: feed it, ask what it shows
so far, finish.
The second hearing runs on a thread of its own, behind the first; what it settles is aligned there too, so
that what a run-through shows so far can be said at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from threading import Event, Lock

from offbook.align import AlignedWord, Growing
from offbook.at_once import AtOnce
from offbook.audio import SoundReport
from offbook.hear.rescore import Settled, settle
from offbook.hear.script_view import places_of, region_around
from offbook.hear.segments import Segment, Stretcher
from offbook.hear.softening import doubt
from offbook.hear.speaker_habit import believed, easy_to_follow
from offbook.recognise import HeardWord, Recogniser, WordingScorer
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import Run, score
from offbook.script import Line
from offbook.words import Word

Progress = Callable[[float], None]


class Listener:
    """Hears a run-through as its sound arrives.

    words, lines: the script, as `words_of` and `Script` give them. recogniser: a loaded one. scorer: the
    second ear, where there is one. one_core: everything happens on the thread that feeds it, for machines
    whose other cores hear other recordings; what is heard is the same.
    """

    def __init__(
        self,
        words: Sequence[Word],
        recogniser: Recogniser,
        *,
        lines: Sequence[Line],
        scorer: WordingScorer | None = None,
        one_core: bool = False,
    ) -> None:
        self._words, self._recogniser, self._scorer = words, recogniser, scorer
        self._one_core = one_core
        self._lines = lines
        self._made: tuple[tuple[AlignedWord, ...], Growing] | None = None
        self._stretcher = Stretcher(recogniser)
        self._settled: list[Settled] = []
        self._passed = 0  # stretches that were passed on to be settled
        self._heard: list[HeardWord] = []
        self._here = 0  # the script place after the last settled word
        self._spare = Event()  # the free hearing does not need its core: between two feeds, and at the end
        self._spare.set()
        self._growing = Lock()  # held while settled words are taken in, and while they are scored
        self._second: Executor = (
            AtOnce() if one_core else ThreadPoolExecutor(1, thread_name_prefix="second-hearing")
        )
        self._waiting: list[Future[None]] = [self._second.submit(self._make)]

    def feed(self, pcm: bytes) -> None:
        """Take in sound: 16-bit mono PCM at 16 kHz, any length."""
        self._spare.clear()
        for stretch in self._stretcher.feed(pcm):
            self._pass_on(stretch)
        self._spare.set()

    def cut(self) -> None:
        """Settle what was said up to now: whoever feeds it knows that somebody has stopped speaking."""
        for stretch in self._stretcher.cut():
            self._pass_on(stretch)

    @property
    def share(self) -> float:
        """How much of what has ended up to now is settled: 0 to 1."""
        return len(self._settled) / self._passed if self._passed else 1.0

    def drop(self) -> None:
        """Nobody wants to know any more: what is not settled never is; `finish` raises CancelledError."""
        for each in self._waiting[1:]:
            each.cancel()

    def wait(self) -> None:
        """Return when every stretch that has ended is settled."""
        for each in self._waiting:
            each.result()
        self._waiting.clear()

    def finish(self, sound: SoundReport | None = None) -> Run:
        """No more sound comes: the run-through, scored.

        sound: what `audio.survey` said of the recording. Where it was poor, slips that only a bad sound
        speaks for become unsure.
        """
        for stretch in self._stretcher.finish():
            self._pass_on(stretch)
        self.wait()
        self._second.shutdown()
        run = self.so_far()
        return run if sound is None else doubt(run, self.settled, sound)

    def so_far(self) -> Run:
        """The run-through as settled up to now; words not reached yet count as dropped."""
        places, aligned = self._script
        with self._growing:
            heard, settled, alignment = list(self._heard), self.settled, aligned.alignment()
        run = believed(score(self._words, places, heard, alignment), settled, len(heard))
        return replace(run, surely=tuple(s for each in settled for s in each.surely))

    @property
    def _script(self) -> tuple[tuple[AlignedWord, ...], Growing]:
        """The places of the script, and the alignment of what was settled with them."""
        if self._made is None:
            self._waiting[0].result()
        assert self._made is not None
        return self._made

    def _make(self) -> None:
        # On the second thread: looking for sound-alikes takes about a second, and the sound need not wait.
        places = places_of(self._words, self._recogniser.knows, self._lines)
        self._made = places, Growing(places)

    @property
    def settled(self) -> tuple[Settled, ...]:
        """What was settled, stretch by stretch: for measuring."""
        return tuple(self._settled)

    def _pass_on(self, stretch: Segment) -> None:
        self._passed += 1
        self._waiting.append(self._second.submit(self._settle, stretch))

    def _two_at_a_time(self) -> bool:
        """Whether a core is free for a second thread of settling."""
        return self._spare.is_set() and not self._one_core

    def _settle(self, stretch: Segment) -> None:
        places, aligned = self._script
        region, self._here = region_around(places, self._heard, stretch.words, self._here)
        found = settle(
            stretch,
            places,
            region,
            self._recogniser,
            self._heard,
            self._here,
            self._two_at_a_time,
            self._scorer,
            # A second ear finds nearly all that it would; besides, it tells how clear a voice is.
            contested=self._scorer is None or not easy_to_follow(self._settled),
        )
        with self._growing:
            self._settled.append(found)
            self._heard.extend(found.words)
            aligned.take(w.word for w in found.words)


def hear(
    words: Sequence[Word],
    pcm: Iterable[bytes],
    recogniser: Recogniser,
    *,
    lines: Sequence[Line],
    sound: SoundReport | None = None,
    scorer: WordingScorer | None = None,
    progress: Progress | None = None,
) -> Run:
    """Hear `pcm` (16-bit mono, 16 kHz, in chunks of any length) as somebody saying `words`.

    lines: the script's lines, for where they begin. sound: how good the recording is, as `audio.survey` says
    it; without it no verdict is softened for a poor one. scorer: the second ear. progress is told the seconds
    taken in so far.
    """
    listener = Listener(words, recogniser, lines=lines, scorer=scorer)
    taken = 0
    for chunk in pcm:
        listener.feed(chunk)
        taken += len(chunk)
        if progress is not None:
            progress(taken / BYTES_PER_SECOND)
    return listener.finish(sound)
