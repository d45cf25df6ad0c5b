"""Settling a stretch: what was said there, after a second hearing and, where in doubt, a third.

Second hearing: the stretch is decoded leaning to the script's words around it, and once more with every
small word contested by those that sound like it. Where either hearing differs from the script, or the
free one alone put a word in, the place is doubtful, and so it is where the second ear would rather have
another word. A doubtful place is weighed between the ways it may have been: the script's, those of the
hearings, what lies between them. The second ear does that; where there is none, the recogniser hears the
place a third time, with two words on either side, and with the rivals of its small words. The difference of
their log likelihoods decides; too small a difference stays a doubt.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

from offbook.align import AlignedWord, AlignmentStep, align_part, covered, nearest
from offbook.hear.blends import spelt
from offbook.hear.decide import (
    BEYOND,
    Scores,
    Weighed,
    decide,
    phrases_of,
    same,
    scores_of,
    slice_of,
    spread,
)
from offbook.hear.doubts import Doubt, places_to_weigh, said_again
from offbook.hear.grammar import contesting, leaning
from offbook.hear.pace import pace_of
from offbook.hear.place_wordings import PlaceWordings
from offbook.hear.second_ear import SecondEar, Suspicion, word_units
from offbook.hear.segments import Segment
from offbook.recognise import UNKNOWN, HeardWord, Recogniser, WordingScorer
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import Surely

_MARGIN = 0.1  # s of sound on either side of a place heard again and its context
_Around = tuple[list[HeardWord], list[HeardWord]]  # words before a place and behind it
_A = TypeVar("_A")
_B = TypeVar("_B")
_CONTEXT = 2  # words on either side
_WARM = 2.0  # s of speech before the place, for the recogniser to adapt to the voice
_WAKE, _WAKE_WORDS = 1.4, 8  # s, and words, settled before that are heard along with a stretch
_WAKE_MARGIN = 0.1  # s of sound before them
_CLOSED = 0.25  # s of silence after which the last words of a stretch are complete
_HELD = 2  # words left for the next stretch where there is none
_BREATH = 0.4  # s of silence that the context behind does not reach over
_AGREED = 0.9  # least confidence where no hearing had anything but the script's words
_SURE = 0.8  # confidence below which a word of either hearing is heard again
_MOST = 40  # alternatives asked for
_AT_EDGE = 4  # words before the first hit of a stretch, or after the last, that are heard again at most
_ALIKE = 0.5  # likeness from which one of them may be the script's word there
_MISSING = 8  # script words missing between two hits, up to which the second ear is asked about them
_FEW = 4  # the same with one ear
# Words heard in a place that is heard again: at the most, and how many more of the script may be missing.
# Set by hand: a longer place is a jump, and its wordings are too many to compare.
_MOST_HEARD, _MORE_MISSING = 8, 3


@dataclass(frozen=True, slots=True)
class Settled:
    """A stretch settled: its words, times from the beginning of the recording, and what was weighed.

    A word's confidence is the probability that it is what was said; 0.5 marks a tie. leaned: how many script
    words the leaning hearing had; contested: how many of them the contested one had too. surely: how likely
    the second ear found each word that the leaning hearing had, times from the beginning of the recording.
    """

    words: tuple[HeardWord, ...]
    weighed: tuple[Weighed, ...]
    leaned: int = 0
    contested: int = 0
    surely: tuple[Surely, ...] = ()


def settle(
    stretch: Segment,
    places: Sequence[AlignedWord],
    region: range,
    recogniser: Recogniser,
    before: Sequence[HeardWord] = (),
    here: int = 0,
    alone: Callable[[], bool] = lambda: True,
    scorer: WordingScorer | None = None,
    contested: bool = True,
) -> Settled:
    """What was said in `stretch`, where the script around it is `region` of `places`.

    before: the words settled before it; nothing is heard before their end again, but the last of them
    are heard along, for the voice and the context. here: the place after them. alone: tells when the free
    hearing does not need its core; then two things are done at a time. Words at the very end of a
    stretch that no silence follows are left for the next one. scorer: the second ear, where there is one.
    contested: whether the words are contested as well; else only where the leaning hearing departs from the
    script, and it stands for the contested one elsewhere.
    """
    free = [h for h in (*stretch.wake, *stretch.words) if h.word != UNKNOWN]
    after = before[-1].end if before else 0.0
    wake = [h for h in before[-_WAKE_WORDS:] if h.start >= stretch.at and after - h.start <= _WAKE]
    at = max(stretch.at, wake[0].start - _WAKE_MARGIN if wake else min(after, stretch.at + stretch.lead))
    fresh = [h for h in free if (h.start + h.end) / 2 > after]
    if not fresh:
        return Settled((), ())
    begin = int((at - stretch.at) * BYTES_PER_SECOND) // 2 * 2
    sound, at = stretch.pcm[begin:], stretch.at + begin / BYTES_PER_SECOND
    said = [h.word for h in (*wake, *free) if h.end > at and recogniser.knows(h.word)]
    around = places[region.start : region.stop]
    expected = here - region.start - len(wake)
    lean, contest = _second_hearings(sound, around, said, recogniser, alone, contested, expected)
    work = _Work(
        around,
        lean,
        contest,
        [replace(h, start=h.start - at, end=h.end - at) for h in free],
        sound,
        recogniser,
        here - region.start,
        len(wake),
        _open_part(lean, after - at, len(sound) / BYTES_PER_SECOND, stretch.last),
        stretch.last,
        scorer,
    )
    work.ending = stretch.last and region.stop == len(places)
    words, weighed = work.settle(alone)
    return Settled(
        tuple(replace(w, start=max(0.0, w.start + at), end=max(0.0, w.end + at)) for w in words),
        tuple(w.moved(region.start, at) for w in weighed),
        *(work.agreed() if contested else (0, 0)),  # stretches with slips alone say little of a voice
        tuple(work.ear.sure(work.own, at)) if work.ear is not None else (),
    )


def _second_hearings(
    sound: bytes,
    around: Sequence[AlignedWord],
    said: Sequence[str],
    recogniser: Recogniser,
    alone: Callable[[], bool],
    contested: bool,
    expected: int,
) -> tuple[list[HeardWord], list[HeardWord]]:
    """The leaning and the contested hearing of a stretch.

    Unless `contested`, a leaning hearing that is the script's words one after the other stands for both.
    expected: the place of `around` that the stretch probably begins at.
    """

    def among(phrases: Sequence[str]) -> list[HeardWord]:
        return [w for w in recogniser.among(sound, phrases) if w.word != UNKNOWN]

    if not contested:
        lean = among(leaning(around, said))
        if align_part(around, lean, expected).is_unbroken(len(lean)):
            return lean, lean
        return lean, among(contesting(around, said, recogniser.knows))
    lists = leaning(around, said), contesting(around, said, recogniser.knows)
    lean, contest = _each(among, lists, alone)
    return lean, contest


def _each(do: Callable[[_A], _B], items: Sequence[_A], alone: Callable[[], bool]) -> list[_B]:
    """`do` of every item in order: one after another, and two at a time once `alone` says so."""
    done: list[_B] = []
    while len(done) < len(items) and not alone():
        done.append(do(items[len(done)]))
    left = items[len(done) :]
    if len(left) <= 1:
        return done + [do(item) for item in left]
    with ThreadPoolExecutor(2, thread_name_prefix="no-free-hearing") as pool:
        return done + list(pool.map(do, left))


def _open_part(lean: Sequence[HeardWord], after: float, end: float, last: bool) -> range:
    """Which of the leaning words are this stretch's own to settle."""
    first = next((k for k, w in enumerate(lean) if (w.start + w.end) / 2 > after), len(lean))
    beyond = len(lean)
    if not last and lean and end - lean[-1].end < _CLOSED:
        beyond = max(first, beyond - _HELD)
    return range(first, beyond)


class _Work:
    """One stretch under work; times from the beginning of its sound."""

    def __init__(
        self,
        region: Sequence[AlignedWord],
        lean: list[HeardWord],
        contest: list[HeardWord],
        free: list[HeardWord],
        sound: bytes,
        recogniser: Recogniser,
        here: int,
        wake: int,
        own: range,
        last: bool,
        scorer: WordingScorer | None,
    ) -> None:
        self.is_contested = contest is not lean
        self.region, self.lean, self.contest, self.free = region, lean, contest, free
        self.sound, self.recogniser, self.own, self.last = sound, recogniser, own, last
        expected = here - wake
        self.aligned = align_part(region, lean, expected)
        self.contested = align_part(region, contest, expected)
        self.freely = align_part(region, free, expected)
        hits = self.contested.hits
        self.contest_ends = {s.script_to: s.heard_to for s in hits}
        self.contest_starts = {s.script_from: s.heard_from for s in hits}
        self.ear: SecondEar | None = None
        self.suspicions: list[Suspicion] = []
        self.most_missing = _FEW if scorer is None else _MISSING
        self.ending = False  # nothing of the script can be behind the region
        self.here = max(0, here)
        if scorer is not None and lean:
            units = word_units(self.aligned.steps, region, lean)
            self.ear = SecondEar(scorer, units, lean, sound, own)
            self.suspicions = self.ear.suspicions(recogniser.knows)
        self.wordings = PlaceWordings(region, recogniser.knows, self.ear, self.suspicions)

    def settle(self, alone: Callable[[], bool]) -> tuple[list[HeardWord], list[Weighed]]:
        doubts: list[Doubt] = []
        at, stop = self.own.start, self._closed_part()
        for doubt in self._doubts():
            if doubt.heard_from < stop < doubt.heard_to and self._heard_again(doubt.heard_from):
                stop = max(at, doubt.heard_from)
            elif at <= doubt.heard_to <= stop:
                doubts.append(doubt)
                at = doubt.heard_to
        words: list[HeardWord] = []
        weighed: list[Weighed] = []
        at = self.own.start
        for doubt, (again, result) in zip(doubts, _each(self._again, doubts, alone), strict=True):
            words += [*self.lean[at : doubt.heard_from], *again]
            if result is not None:
                weighed.append(result)
            at = doubt.heard_to
        return words + self.lean[at:stop], weighed

    def agreed(self) -> tuple[int, int]:
        """How many script words of its own the leaning hearing had, and of them the contested one."""
        own = {
            i
            for s in self.aligned.hits
            if self.own.start <= s.heard_from and s.heard_to <= self.own.stop
            for i in range(s.script_from, s.script_to)
        }
        return len(own), len(own.intersection(covered(self.contested)))

    def _heard_again(self, first: int) -> bool:
        """Whether the leaning words from `first` on are heard whole along with the next stretch."""
        end = len(self.sound) / BYTES_PER_SECOND
        return not self.last and first < len(self.lean) and end - self.lean[first].start < _WAKE

    def _closed_part(self) -> int:
        """Up to where this stretch settles: what no hit follows waits for the next one, if that hears it."""
        hits = self.aligned.hits
        tail = max(self.own.start, hits[-1].heard_to if hits else 0)
        return tail if tail < self.own.stop and self._heard_again(tail) else self.own.stop

    def _doubts(self) -> list[Doubt]:
        """The doubtful places in the order of the leaning words, neighbours joined."""
        hits = self.aligned.hits
        found = self._gaps(hits) + self._contested(hits) + self._suspected()
        own = [d for d in found if d.heard_from >= self.own.start]  # the others are settled
        return places_to_weigh(own, self.lean)

    def _suspected(self) -> list[Doubt]:
        """Words that the second ear would rather have otherwise, whatever the first one's hearings say."""
        units = [s.unit for s in self.suspicions]
        return [Doubt(u.script.start, u.script.stop, u.heard.start, u.heard.stop) for u in units]

    def _gaps(self, hits: Sequence[AlignmentStep]) -> list[Doubt]:
        found: list[Doubt] = []
        for a, b in itertools.pairwise(hits):
            if b.script_from < a.script_to:
                continue
            script, heard = b.script_from - a.script_to, b.heard_from - a.heard_to
            if (
                (script or heard)
                and script <= max(self.most_missing, heard + _MORE_MISSING)
                and heard <= _MOST_HEARD
            ):
                found.append(Doubt(a.script_to, b.script_from, a.heard_to, b.heard_from))
        return found + self._edges(hits) + self._missing_at_ends(hits)

    def _edges(self, hits: Sequence[AlignmentStep]) -> list[Doubt]:
        """Words heard before the first hit and after the last, where they take the places of script words.

        A part of the script is aligned without what lies around it, and so such a word may stand for none
        there, however like the next one of the script it sounds.
        """
        if not hits:
            return []
        found: list[Doubt] = []
        first, last = hits[0], hits[-1]
        steps = [s for s in self.aligned.steps if s.kind == "substitution"]
        before = [s for s in steps if s.heard_to <= first.heard_from]
        behind = [s for s in steps if s.heard_from >= last.heard_to]
        count, start = first.heard_from, first.script_from
        if count <= _AT_EDGE:
            if before and before[-1].script_to == start:
                found.append(Doubt(before[0].script_from, start, before[0].heard_from, count))
            elif self._alike(start - count, 0, count):
                found.append(Doubt(start - count, start, 0, count))
        count, start = len(self.lean) - last.heard_to, last.script_to
        if count <= _AT_EDGE:
            if behind and behind[0].script_from == start:
                found.append(Doubt(start, behind[-1].script_to, last.heard_to, behind[-1].heard_to))
            elif self._alike(start, last.heard_to, count):
                found.append(Doubt(start, start + count, last.heard_to, last.heard_to + count))
        return found

    def _missing_at_ends(self, hits: Sequence[AlignmentStep]) -> list[Doubt]:
        """Script words missing at the beginning of a stretch or at its end: there the first ear is poor.

        The second one is asked about them, and how far the script goes on at the end.
        """
        if not hits or self.ear is None:
            return []
        found: list[Doubt] = []
        first = next((s for s in hits if s.heard_from >= self.own.start), None)
        if first is not None and hits[0] is first:
            missing = first.script_from - self.here
            if 0 < missing <= _MISSING and first.heard_from - self.own.start <= _AT_EDGE:
                found.append(Doubt(self.here, first.script_from, self.own.start, first.heard_from))
        last = hits[-1]
        strange = range(last.heard_to, len(self.lean))
        if 0 < len(strange) <= _AT_EDGE and last.script_to < len(self.region):
            count = self._said_at_end(self.ear, last.script_to, strange)
            if count:
                found.append(Doubt(last.script_to, last.script_to + count, strange.start, strange.stop))
        elif self.ending and not strange and last.script_to < len(self.region) <= last.script_to + _AT_EDGE:
            found.append(Doubt(last.script_to, len(self.region), len(self.lean), len(self.lean)))
        return found

    def _said_at_end(self, ear: SecondEar, script: int, strange: range) -> int:
        """How many script words the second ear would rather have than the strange words heard at the end."""
        most = min(_MISSING, len(self.region) - script)
        following = [w for p in self.region[script : script + most] for w in p.written]
        heard = ear.in_writing(" ".join(self.lean[h].word for h in strange))
        wordings: dict[str, Sequence[str]] = {"": heard}
        wordings |= {str(n): following[:n] for n in range(1, most + 1)}
        scores = ear.weigh(strange, wordings)
        best = max(scores, key=lambda n: scores[n], default="")
        return int(best) if best else 0

    def _alike(self, script: int, heard: int, count: int) -> bool:
        """Whether the few script words from here are like the leaning words from there, one at least."""
        if script < 0 or script + count > len(self.region):
            return False
        pairs = zip(self.region[script : script + count], self.lean[heard : heard + count], strict=True)
        return any(nearest(place, word.word) >= _ALIKE for place, word in pairs)

    def _contested(self, hits: Sequence[AlignmentStep]) -> list[Doubt]:
        other = self.contested
        sure = {
            i
            for s in other.hits
            if min(w.confidence for w in self.contest[s.heard_from : s.heard_to]) >= _SURE
            for i in range(s.script_from, s.script_to)
        }
        found = [
            Doubt(s.script_from, s.script_to, s.heard_from, s.heard_to)
            for s in hits
            if not all(i in sure for i in range(s.script_from, s.script_to))
            or min(w.confidence for w in self.lean[s.heard_from : s.heard_to]) < _SURE
        ]
        return found + self._put_in(hits)

    def _put_in(self, hits: Sequence[AlignmentStep]) -> list[Doubt]:
        """Places between two script words where the leaning hearing has nothing and another a word put in."""
        ends = {s.script_to: s for s in hits}
        starts = {s.script_from: s for s in hits}
        found: list[Doubt] = []
        for s in (*self.contested.steps, *self.freely.steps):
            if s.kind == "insertion" and s.script_from in ends and s.script_from in starts:
                a, b = ends[s.script_from], starts[s.script_from]
                if a.heard_to == b.heard_from:
                    found.append(Doubt(s.script_from, s.script_from, a.heard_to, a.heard_to))
        return found

    def _context(self, doubt: Doubt) -> tuple[list[HeardWord], list[HeardWord]]:
        """Leaning words before and behind a place.

        Before it enough of them that the recogniser has found the voice when the place comes.
        """
        first = self.lean[doubt.heard_from].start if doubt.heard_from < len(self.lean) else math.inf
        low = doubt.heard_from
        while low > 0 and (doubt.heard_from - low < _CONTEXT or first - self.lean[low].start < _WARM):
            low -= 1
        left = self.lean[low : doubt.heard_from]
        right: list[HeardWord] = []
        edge = self.lean[doubt.heard_to - 1].end if doubt.heard_to else 0.0
        for w in self.lean[doubt.heard_to : doubt.heard_to + _CONTEXT]:
            if w.start - edge > _BREATH and right:
                break
            right.append(w)
            edge = w.end
        return left, right

    def _hearings(self, doubt: Doubt, start: float, end: float) -> tuple[list[HeardWord], ...]:
        """What the free, the leaning and the contested hearing had between two times."""
        lean = self.lean[doubt.heard_from : doubt.heard_to]
        free = [w for w in self.free if start < (w.start + w.end) / 2 < end]
        a, b = self.contest_ends.get(doubt.script_from), self.contest_starts.get(doubt.script_to)
        if a is not None and b is not None and a <= b:
            contest = self.contest[a:b]
        else:
            contest = [w for w in self.contest if start < (w.start + w.end) / 2 < end]
        return free, lean, contest

    def _by_second(
        self,
        doubt: Doubt,
        script: Sequence[str],
        others: Sequence[str],
        hearings: Sequence[Sequence[HeardWord]],
        over: Sequence[HeardWord],
    ) -> Scores:
        """How likely the second ear finds the wordings of a place, each with its words in time.

        Those that a hearing had as it had them, the others in the time of `over`. Nothing where it is not
        asked.
        """
        if self.ear is None:
            return {}
        places = self.region[doubt.script_from : doubt.script_to]
        there = range(doubt.heard_from, doubt.heard_to)
        timed = {_text(h): list(h) for h in hearings}
        here = range(doubt.script_from, doubt.script_to)
        asked = self.wordings.for_second(here, there, script, others, list(timed))
        written: dict[str, tuple[str, ...]] = {script[0]: tuple(w for p in places for w in p.written)}
        written |= {wording: self.ear.in_writing(spelt(wording, places)) for wording in asked}
        scores = self.ear.weigh(there, written)
        return {w: (s, timed[w] if w in timed else spread(w.split(), over)) for w, s in scores.items()}

    def _by_first(
        self, script: Sequence[str], others: Sequence[str], span: tuple[float, float], around: _Around
    ) -> Scores:
        """How likely the recogniser finds the wordings of the place in `span`, heard a third time."""
        phrases = phrases_of(script, others, *([w.word for w in side] for side in around))
        found = self.recogniser.weigh(slice_of(self.sound, *span), phrases, _MOST)
        longest = 1 + max(len(r.split()) for r in (*script, *others))
        scores = {r: s for r, s in scores_of(found, *around).items() if len(r.split()) <= longest}
        return {r: (score, _later(words, span[0])) for r, (score, words) in scores.items()}

    def _again(self, doubt: Doubt) -> tuple[list[HeardWord], Weighed | None]:
        """Hear one place again: the words to take there, and how the readings compared."""
        as_leaned = self.lean[doubt.heard_from : doubt.heard_to]
        left, right = self._context(doubt)
        if not left and not right:
            return as_leaned, None
        pace = pace_of(self.sound, self.lean, left, right)
        if said_again(doubt, self.lean) and pace is not None and pace.speaks_for("", _text(as_leaned)) < 0:
            # Neither ear is asked: a model of text finds the same words twice unlikely, whatever the sound.
            return as_leaned, None
        inner_start = left[-1].end if left else 0.0
        inner_end = right[0].start if right else len(self.sound) / BYTES_PER_SECOND
        if as_leaned:
            inner_start = min(inner_start, as_leaned[0].start)
            inner_end = max(inner_end, as_leaned[-1].end)
        heard = self._hearings(doubt, inner_start - 0.02, inner_end + 0.02)
        hearings = (_text(heard[0]), _text(heard[1]), _text(heard[2]))
        here = range(doubt.script_from, doubt.script_to)
        script, others = self.wordings.of(here, hearings)
        if not script:
            return as_leaned, None
        suspected = self.wordings.suspected(here)
        if not suspected and (
            not others or (script[0] and all(any(same(h, s) for s in script) for h in hearings))
        ):
            # Every hearing had the script's words: weighed, such a place was never decided otherwise.
            return [replace(w, confidence=max(w.confidence, _AGREED)) for w in as_leaned], None
        blank = Weighed(
            doubt.script_from, doubt.script_to, script[0], "", BEYOND, *hearings, inner_start, inner_end
        )
        over = as_leaned or [HeardWord("", inner_start, inner_end, 1.0)]
        scores = self._by_second(doubt, script, others, heard, over)
        blank = replace(blank, by_second=bool(scores), contested=self.is_contested)
        if not scores:
            start = max(0.0, (left[0].start if left else inner_start) - _MARGIN)
            end = (right[-1].end if right else inner_end) + _MARGIN
            scores = self._by_first(script, others, (start, end), (left, right))
        places = self.region[doubt.script_from : doubt.script_to]
        return decide(places, script, scores, as_leaned, blank, pace)


def _text(words: Sequence[HeardWord]) -> str:
    return " ".join(w.word for w in words)


def _later(words: Sequence[HeardWord], seconds: float) -> list[HeardWord]:
    return [replace(w, start=w.start + seconds, end=w.end + seconds) for w in words]
