"""Hearing: a script and the sound of somebody saying it, and what became of every word.

`hear(words, pcm, recogniser, lines=...)` runs the stages before this one and gives a `Run`. The sound is cut
into segments and freely decoded (`hear.segments`); each segment is settled against the script around it
(`hear.rescore`); everything that was settled is aligned with the whole script (`align.growing`) and scored
(`score`).
A `Listener` does the same for sound that is still arriving: feed it, ask it for the run-through so far, and
finish.

The free hearing runs on the thread that feeds the listener. Segments are settled on a thread of their own, so
that the sound never waits for them. What is settled is aligned there at once, so that the run-through so far
can be shown without a delay.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from threading import Event, Lock

from offbook.align import AlignedWord, GrowingAlignment
from offbook.at_once import AtOnce
from offbook.audio import SoundReport
from offbook.hear.mumbling import doubt_mumbled
from offbook.hear.rescore import SettledSegment, settle
from offbook.hear.script_view import places_of, region_around
from offbook.hear.segments import Segment, Segmenter
from offbook.hear.softening import soften_for_poor_sound
from offbook.hear.whole_run import reconsider
from offbook.recognise import HeardWord, Recogniser, WordingScorer
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import Run, score
from offbook.script import Line
from offbook.words import Word

Progress = Callable[[float], None]


class Listener:
    """Hears a run-through as its sound arrives.

    words, lines: the script, as `words_of` and `Script` give them. recogniser: a loaded one. scorer: the
    second ear, where there is one. one_core: everything happens on the thread that feeds it, because the
    other cores hear other recordings; the result is the same.
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
        self._script_read: tuple[tuple[AlignedWord, ...], GrowingAlignment] | None = None
        self._segmenter = Segmenter(recogniser)
        self._settled: list[SettledSegment] = []
        self._passed_on = 0  # how many segments were passed on to be settled
        self._heard: list[HeardWord] = []
        self._script_at = 0  # the script place after the last settled word
        self._between_feeds = Event()  # set while the free hearing does not need its core
        self._between_feeds.set()
        self._lock = Lock()  # held while settled words are added and while they are read for a score
        self._second_thread: Executor = (
            AtOnce() if one_core else ThreadPoolExecutor(1, thread_name_prefix="second-hearing")
        )
        self._waiting: list[Future[None]] = [self._second_thread.submit(self._read_script)]

    def feed(self, pcm: bytes) -> None:
        """Take in sound: 16-bit mono PCM at 16 kHz, any length."""
        self._between_feeds.clear()
        for segment in self._segmenter.feed(pcm):
            self._pass_on(segment)
        self._between_feeds.set()

    def cut(self) -> None:
        """Settle what was said up to now, because the caller knows that somebody has stopped speaking."""
        for segment in self._segmenter.cut():
            self._pass_on(segment)

    @property
    def share(self) -> float:
        """The share of the segments so far that are settled, 0 to 1; 1 where there are none yet."""
        return len(self._settled) / self._passed_on if self._passed_on else 1.0

    def drop(self) -> None:
        """Stop, because nobody needs the result any more.

        Segments that are not settled yet never will be, and `finish` raises CancelledError.
        """
        for each in self._waiting[1:]:
            each.cancel()

    def wait(self) -> None:
        """Wait until every segment so far is settled."""
        for each in self._waiting:
            each.result()
        self._waiting.clear()

    def finish(self, sound: SoundReport | None = None) -> Run:
        """The whole run-through, scored; no more sound comes.

        sound: what `audio.survey` says of the recording. Where it is poor, slips for which the poor sound
        may be to blame become unsure. Raises CancelledError after `drop`.
        """
        for segment in self._segmenter.finish():
            self._pass_on(segment)
        self.wait()
        self._second_thread.shutdown()
        run = self.so_far()
        return run if sound is None else soften_for_poor_sound(run, self.settled, sound)

    def so_far(self) -> Run:
        """The run-through as far as it is settled; words that are not reached yet count as dropped."""
        places, aligned = self._script
        with self._lock:
            heard, settled, alignment = list(self._heard), self.settled, aligned.alignment()
        run = reconsider(score(self._words, places, heard, alignment), settled, len(heard))
        likelihoods = tuple(s for each in settled for s in each.likelihoods)
        return doubt_mumbled(replace(run, likelihoods=likelihoods))

    @property
    def _script(self) -> tuple[tuple[AlignedWord, ...], GrowingAlignment]:
        """The script's words as the hearing sees them, and the alignment with them, which grows."""
        if self._script_read is None:
            self._waiting[0].result()
        assert self._script_read is not None
        return self._script_read

    def _read_script(self) -> None:
        # This runs on the second thread: looking for words that sound alike takes about a second.
        places = places_of(self._words, self._recogniser.knows, self._lines)
        self._script_read = places, GrowingAlignment(places)

    @property
    def settled(self) -> tuple[SettledSegment, ...]:
        """What was settled, segment by segment."""
        return tuple(self._settled)

    def _pass_on(self, segment: Segment) -> None:
        self._passed_on += 1
        self._waiting.append(self._second_thread.submit(self._settle, segment))

    def _core_is_free(self) -> bool:
        """Whether a processor core is free for a second thread that settles."""
        return self._between_feeds.is_set() and not self._one_core

    def _settle(self, segment: Segment) -> None:
        places, aligned = self._script
        region, self._script_at = region_around(places, self._heard, segment.words, self._script_at)
        found = settle(
            segment,
            places,
            region,
            self._recogniser,
            self._heard,
            self._script_at,
            self._core_is_free,
            self._scorer,
        )
        with self._lock:
            self._settled.append(found)
            self._heard.extend(found.words)
            aligned.add(w.word for w in found.words)


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

    lines: the script's lines, for where they begin. sound: how good the recording is, as `audio.survey` says;
    without it no verdict is softened for poor sound. scorer: the second ear. progress: called with the
    seconds of sound taken in so far, after each chunk.
    """
    listener = Listener(words, recogniser, lines=lines, scorer=scorer)
    taken = 0
    for chunk in pcm:
        listener.feed(chunk)
        taken += len(chunk)
        if progress is not None:
            progress(taken / BYTES_PER_SECOND)
    return listener.finish(sound)
