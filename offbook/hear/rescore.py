"""Settling a segment: deciding what was said in it, after two more hearings and a closer look at the doubts.

The segment is decoded again, leaning to the script's words around it, and where needed once more with every
small word contested (`hear.hearings`). Where the hearings differ, or an ear is not sure, the place is
doubtful (`hear.doubtful_places`). The possible wordings of a doubtful place (`hear.place_wordings`) are then
compared on its sound. The second ear does that where there is one; otherwise the recogniser hears the place
once more, with the words around it, and its wordings as the only choices. The difference of their log
likelihoods decides (`hear.decide`); where it is too small, the word stays in doubt.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from offbook.align import AlignedWord, align_part
from offbook.hear.decide import (
    LEAD_IF_ABSENT,
    Scores,
    WeighedPlace,
    decide,
    leading_rival,
    same,
    slice_of,
    spread,
)
from offbook.hear.doubtful_places import DoubtfulPlace, doubtful_places, is_phrase_begun_twice
from offbook.hear.hearings import SegmentHearings, in_order, leaning_and_contested
from offbook.hear.pace import pace_of
from offbook.hear.place_phrases import phrases_of, scores_of
from offbook.hear.place_wordings import PlaceWordings
from offbook.hear.second_ear import SecondEar, word_units
from offbook.hear.segments import Segment
from offbook.recognise import UNKNOWN, HeardWord, Recogniser, WordingScorer
from offbook.sampling import BYTES_PER_SECOND, byte_at
from offbook.score import HeardLikelihood

_WordsAround = tuple[list[HeardWord], list[HeardWord]]  # the words before a place and those behind it
# All set by hand, where nothing else is said.
_MARGIN_SECONDS = 0.1  # of sound before and behind a place that is heard once more, with its context
_CONTEXT_WORDS = 2  # words on either side of such a place that are heard along with it
_ADAPTING_SECONDS = 2.0  # of speech before the place, in which the recogniser adapts to the voice
# Words settled before that are heard along with a segment: at most so long, and so many; and s of sound
# before them.
_REHEARD_SECONDS, _REHEARD_WORDS = 1.4, 8
_REHEARD_MARGIN_SECONDS = 0.1
_CLOSING_SECONDS = 0.25  # of silence after which the last words of a segment are complete
_WORDS_KEPT_BACK = 2  # words left for the next segment where there is no such silence
_BREATH_SECONDS = 0.4  # a longer silence ends the context behind a place
_EDGE_SECONDS = 0.02  # a hearing's word counts as in the place though its middle is so far outside
_AGREED = 0.9  # confidence at least where no hearing had anything but the script's words
_MOST_ALTERNATIVES = 40  # that the recogniser is asked for at a place


@dataclass(frozen=True, slots=True)
class SettledSegment:
    """A segment after it was settled. All times are seconds from the beginning of the recording.

    words: what was said in it. A word's confidence is the chance that it is what was said; 0.5 is a tie.
    weighed: the doubtful places whose wordings were compared, in order. leaning_hits: how many script words
    the leaning hearing had; contested_hits: how many of these the contested one had too; both are 0 where
    there is a second ear. likelihoods: how likely the second ear finds each word of the leaning
    hearing.
    """

    words: tuple[HeardWord, ...]
    weighed: tuple[WeighedPlace, ...]
    leaning_hits: int = 0
    contested_hits: int = 0
    likelihoods: tuple[HeardLikelihood, ...] = ()


def settle(
    segment: Segment,
    places: Sequence[AlignedWord],
    region: range,
    recogniser: Recogniser,
    before: Sequence[HeardWord] = (),
    script_at: int = 0,
    core_is_free: Callable[[], bool] = lambda: True,
    scorer: WordingScorer | None = None,
) -> SettledSegment:
    """What was said in `segment`, where the script around it is `region` of `places`.

    before: the words settled so far. Nothing before their end is settled again, but the last of them are
    heard along, so that the recogniser knows the voice and the first words have a context. script_at: the
    script word after them. core_is_free: says when the free hearing does not need its processor core; then
    two things are done at a time. scorer: the second ear, where there is one. It finds nearly everything that
    contesting would, so with it there is a contested hearing only where the leaning one departs from the
    script. Words at the very end of a segment that no silence follows are left for the next one.
    """
    free = [h for h in (*segment.lead_in_words, *segment.words) if h.word != UNKNOWN]
    settled_to = before[-1].end if before else 0.0
    if all((h.start + h.end) / 2 <= settled_to for h in free):
        return SettledSegment((), ())
    reheard, skipped = _heard_along(segment, before, settled_to)
    sound, at = segment.pcm[skipped:], segment.at + skipped / BYTES_PER_SECOND
    said = [h.word for h in (*reheard, *free) if h.end > at and recogniser.knows(h.word)]
    around = places[region.start : region.stop]
    expected = script_at - region.start - len(reheard)
    (lean, leaning), (contest, contested) = leaning_and_contested(
        sound, around, said, recogniser, core_is_free, scorer is None, expected
    )
    free = [replace(h, start=h.start - at, end=h.end - at) for h in free]
    hearings = SegmentHearings(
        around,
        free,
        lean,
        contest,
        own=_own_words(lean, settled_to - at, len(sound) / BYTES_PER_SECOND, segment.last),
        script_at=max(0, script_at - region.start),
        at_script_end=segment.last and region.stop == len(places),
        leaning=leaning,
        contested=contested,
        freely=align_part(around, free, expected),
    )
    settling = _Settling(hearings, sound, segment.last, recogniser, scorer)
    words, weighed = settling.settle(core_is_free)
    return SettledSegment(
        tuple(replace(w, start=max(0.0, w.start + at), end=max(0.0, w.end + at)) for w in words),
        tuple(w.moved(region.start, at) for w in weighed),
        # Where only segments with slips are contested, they say little of how clear the voice is.
        *(hearings.script_words_had() if scorer is None else (0, 0)),
        tuple(settling.ear.certainties(hearings.own, at)) if settling.ear is not None else (),
    )


def _heard_along(
    segment: Segment, before: Sequence[HeardWord], settled_to: float
) -> tuple[list[HeardWord], int]:
    """The settled words that are heard along with a segment, and the bytes of its sound before them.

    before: the words settled so far; settled_to: the time at which they end (s).
    """
    reheard = [
        h
        for h in before[-_REHEARD_WORDS:]
        if h.start >= segment.at and settled_to - h.start <= _REHEARD_SECONDS
    ]
    own = min(settled_to, segment.at + segment.lead_in)
    begins = max(segment.at, reheard[0].start - _REHEARD_MARGIN_SECONDS if reheard else own)
    return reheard, byte_at(begins - segment.at)


def lies_between(words: Sequence[HeardWord], first: int, stop: int, start: float, end: float) -> bool:
    """Whether the words from `first` up to `stop` may have been said between two times (s).

    Where the words of a place were said twice, the alignment may have taken the other saying.
    """
    if any(w.end <= start or w.start >= end for w in words[first:stop]):
        return False
    is_later = first > 0 and words[first - 1].start >= end
    is_earlier = stop < len(words) and words[stop].end <= start
    return not is_later and not is_earlier


def _own_words(lean: Sequence[HeardWord], settled_to: float, end: float, last: bool) -> range:
    """Which of the leaning words this segment settles: those behind the words that are settled already.

    Without the last ones where no silence follows them. settled_to and end (of the sound): seconds, as the
    times of the words. last: no sound follows.
    """
    first = next((k for k, w in enumerate(lean) if (w.start + w.end) / 2 > settled_to), len(lean))
    beyond = len(lean)
    if not last and lean and end - lean[-1].end < _CLOSING_SECONDS:
        beyond = max(first, beyond - _WORDS_KEPT_BACK)
    return range(first, beyond)


class _Settling:
    """One segment while it is settled. Times are seconds from the beginning of its sound."""

    def __init__(
        self,
        hearings: SegmentHearings,
        sound: bytes,
        last: bool,
        recogniser: Recogniser,
        scorer: WordingScorer | None,
    ) -> None:
        self.hearings, self.region, self.lean = hearings, hearings.region, hearings.lean
        self.sound, self.seconds, self.last = sound, len(sound) / BYTES_PER_SECOND, last
        self.recogniser = recogniser
        hits = hearings.contested.hits
        self.contest_ends = {s.script_to: s.heard_to for s in hits}
        self.contest_starts = {s.script_from: s.heard_from for s in hits}
        self.ear: SecondEar | None = None
        if scorer is not None and self.lean:
            units = word_units(hearings.leaning.steps, self.region, self.lean)
            self.ear = SecondEar(scorer, units, self.lean, sound, hearings.own)
        self.suspicions = self.ear.suspicions(recogniser.knows) if self.ear is not None else []
        self.wordings = PlaceWordings(self.region, recogniser.knows, self.ear, self.suspicions)

    def settle(self, core_is_free: Callable[[], bool]) -> tuple[list[HeardWord], list[WeighedPlace]]:
        """The words of the segment, and its doubtful places as they were weighed."""
        doubts: list[DoubtfulPlace] = []
        at, stop = self.hearings.own.start, self._settled_up_to()
        for doubt in doubtful_places(self.hearings, self.ear, self.suspicions):
            if doubt.heard_from < stop < doubt.heard_to and self._is_heard_with_the_next(doubt.heard_from):
                stop = max(at, doubt.heard_from)
            elif at <= doubt.heard_to <= stop:
                doubts.append(doubt)
                at = doubt.heard_to
        words: list[HeardWord] = []
        weighed: list[WeighedPlace] = []
        at = self.hearings.own.start
        for doubt, (taken, result) in zip(doubts, in_order(self._weigh, doubts, core_is_free), strict=True):
            words += [*self.lean[at : doubt.heard_from], *taken]
            if result is not None:
                weighed.append(result)
            at = doubt.heard_to
        return words + self.lean[at:stop], weighed

    def _is_heard_with_the_next(self, first: int) -> bool:
        """Whether the leaning words from `first` on are heard along with the next segment as well."""
        if self.last or first >= len(self.lean):
            return False
        return self.seconds - self.lean[first].start < _REHEARD_SECONDS

    def _settled_up_to(self) -> int:
        """The leaning word before which this segment settles.

        Words behind the last hit wait for the next segment, if they are heard along with it.
        """
        hits, own = self.hearings.leaning.hits, self.hearings.own
        tail = max(own.start, hits[-1].heard_to if hits else 0)
        return tail if tail < own.stop and self._is_heard_with_the_next(tail) else own.stop

    def _context(self, doubt: DoubtfulPlace) -> _WordsAround:
        """The leaning words before and behind a place that are heard along with it.

        Those before it are enough for the recogniser to have adapted to the voice when the place comes.
        """
        first = self.lean[doubt.heard_from].start if doubt.heard_from < len(self.lean) else math.inf
        low = doubt.heard_from
        while low > 0 and (
            doubt.heard_from - low < _CONTEXT_WORDS or first - self.lean[low].start < _ADAPTING_SECONDS
        ):
            low -= 1
        left = self.lean[low : doubt.heard_from]
        right: list[HeardWord] = []
        edge = self.lean[doubt.heard_to - 1].end if doubt.heard_to else 0.0
        for w in self.lean[doubt.heard_to : doubt.heard_to + _CONTEXT_WORDS]:
            if w.start - edge > _BREATH_SECONDS and right:
                break
            right.append(w)
            edge = w.end
        return left, right

    def _heard_at(self, doubt: DoubtfulPlace, start: float, end: float) -> tuple[list[HeardWord], ...]:
        """What the free, the leaning and the contested hearing had at a place between two times."""
        lean = self.lean[doubt.heard_from : doubt.heard_to]
        free = [w for w in self.hearings.free if start < (w.start + w.end) / 2 < end]
        a, b = self.contest_ends.get(doubt.script_from), self.contest_starts.get(doubt.script_to)
        if (
            a is not None
            and b is not None
            and a <= b
            and lies_between(self.hearings.contest, a, b, start, end)
        ):
            contest = self.hearings.contest[a:b]
        else:
            contest = [w for w in self.hearings.contest if start < (w.start + w.end) / 2 < end]
        return free, lean, contest

    def _scores_by_second_ear(
        self,
        doubt: DoubtfulPlace,
        script: Sequence[str],
        others: Sequence[str],
        hearings: Sequence[Sequence[HeardWord]],
        over: Sequence[HeardWord],
    ) -> Scores:
        """How likely the second ear finds the wordings of a place, each with its words in time.

        A wording that a hearing had keeps that hearing's times; the others share the time of `over`. Empty
        where there is no second ear.
        """
        if self.ear is None:
            return {}
        places = self.region[doubt.script_from : doubt.script_to]
        there = range(doubt.heard_from, doubt.heard_to)
        timed = {_text(h): list(h) for h in hearings}
        here = range(doubt.script_from, doubt.script_to)
        asked = self.wordings.for_second_ear(here, there, script, others, list(timed))
        written: dict[str, tuple[str, ...]] = {script[0]: tuple(w for p in places for w in p.written)}
        written |= {wording: self.wordings.written(here, wording) for wording in asked}
        scores = self.ear.weigh(there, written)
        return {w: (s, timed[w] if w in timed else spread(w.split(), over)) for w, s in scores.items()}

    def _scores_near_the_rival(
        self,
        doubt: DoubtfulPlace,
        script: Sequence[str],
        scores: Scores,
        blank: WeighedPlace,
        over: Sequence[HeardWord],
    ) -> Scores:
        """The second ear's scores of further wordings, which differ in one word from the rival that leads.

        Empty where the script's wording leads. Their words share the time of `over`.
        """
        places = self.region[doubt.script_from : doubt.script_to]
        rival = leading_rival(places, script, scores, blank)
        if self.ear is None or not rival:
            return {}
        there = range(doubt.heard_from, doubt.heard_to)
        here = range(doubt.script_from, doubt.script_to)
        further = (w for w in self.wordings.near_rival(here, there, rival) if w not in scores)
        written = {w: self.wordings.written(here, w) for w in further}
        return {w: (s, spread(w.split(), over)) for w, s in self.ear.weigh(there, written).items()}

    def _scores_by_recogniser(
        self, script: Sequence[str], others: Sequence[str], span: tuple[float, float], around: _WordsAround
    ) -> Scores:
        """How likely the recogniser finds the wordings of a place, which it hears once more.

        span: the seconds of sound that it hears; around: the words in it before the place and behind it.
        """
        phrases = phrases_of(script, others, *([w.word for w in side] for side in around))
        found = self.recogniser.weigh(slice_of(self.sound, *span), phrases, _MOST_ALTERNATIVES)
        longest = 1 + max(len(r.split()) for r in (*script, *others))
        scores = {r: s for r, s in scores_of(found, *around).items() if len(r.split()) <= longest}
        return {r: (score, _later(words, span[0])) for r, (score, words) in scores.items()}

    def _weigh(self, doubt: DoubtfulPlace) -> tuple[list[HeardWord], WeighedPlace | None]:
        """Compare the wordings of one place: the words to take there, and how the wordings compared.

        None for the second where they are not compared; then the leaning hearing's words are taken.
        """
        as_leaned = self.lean[doubt.heard_from : doubt.heard_to]
        left, right = self._context(doubt)
        if not left and not right:
            return as_leaned, None
        pace = pace_of(self.sound, self.lean, left, right)
        begun_twice = is_phrase_begun_twice(doubt, self.lean)
        if begun_twice and pace is not None and pace.time_lead("", _text(as_leaned)) < 0:
            # No ear is asked: the second one is a model of text too, and finds the same words twice in a row
            # unlikely, whatever the sound.
            return as_leaned, None
        inner_start = left[-1].end if left else 0.0
        inner_end = right[0].start if right else self.seconds
        if as_leaned:
            inner_start = min(inner_start, as_leaned[0].start)
            inner_end = max(inner_end, as_leaned[-1].end)
        heard = self._heard_at(doubt, inner_start - _EDGE_SECONDS, inner_end + _EDGE_SECONDS)
        hearings = (_text(heard[0]), _text(heard[1]), _text(heard[2]))
        here = range(doubt.script_from, doubt.script_to)
        script, others = self.wordings.script_and_rivals(here, hearings)
        if not script:
            return as_leaned, None
        all_as_written = script[0] and all(any(same(h, s) for s in script) for h in hearings)
        if not self.wordings.suspected(here) and (not others or all_as_written):
            # Every hearing had the script's words: when such places were weighed, none was decided otherwise.
            return [replace(w, confidence=max(w.confidence, _AGREED)) for w in as_leaned], None
        places = self.region[doubt.script_from : doubt.script_to]
        blank = WeighedPlace(
            doubt.script_from,
            doubt.script_to,
            script[0],
            rival="",
            lead=LEAD_IF_ABSENT,
            free=hearings[0],
            lean=hearings[1],
            contest=hearings[2],
            start=inner_start,
            end=inner_end,
        )
        over = as_leaned or [HeardWord("", inner_start, inner_end, 1.0)]
        scores = self._scores_by_second_ear(doubt, script, others, heard, over)
        blank = replace(blank, by_second=bool(scores), was_contested=self.hearings.was_contested)
        if scores:
            scores = {**scores, **self._scores_near_the_rival(doubt, script, scores, blank, over)}
        else:
            start = max(0.0, (left[0].start if left else inner_start) - _MARGIN_SECONDS)
            end = (right[-1].end if right else inner_end) + _MARGIN_SECONDS
            scores = self._scores_by_recogniser(script, others, (start, end), (left, right))
        return decide(places, script, scores, as_leaned, blank, pace)


def _text(words: Sequence[HeardWord]) -> str:
    """The words with a space between them."""
    return " ".join(w.word for w in words)


def _later(words: Sequence[HeardWord], seconds: float) -> list[HeardWord]:
    """The words with their times moved by so many seconds."""
    return [replace(w, start=w.start + seconds, end=w.end + seconds) for w in words]
