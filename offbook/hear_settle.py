"""Settling a stretch: what was said there, after a second hearing and, where in doubt, a third.

Second hearing: the stretch is decoded leaning to the script's words around it, and once more with every
small word contested by those that sound like it. Where either hearing differs from the script, the
place is doubtful. Third hearing: the sound of a doubtful place with two words on either side is weighed
between the ways it may have been: the script's, those of the hearings, the rivals of a small word. The
difference of their log likelihoods decides; too small a difference stays a doubt.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from offbook.align import Place, Step, align_part, nearest
from offbook.align_gaps import partners
from offbook.hear_phrases import contesting, leaning
from offbook.hear_stretch import Stretch
from offbook.recognise import BYTES_PER_SECOND, UNKNOWN, Alternative, HeardWord, Recogniser
from offbook.soundalike import alike, family, joined, rivals, same_sound
from offbook.soundalike_phones import distance

_MARGIN = 0.2  # s of sound on either side of a place heard again and its context
_CONTEXT = 2  # words on either side
_WARM = 2.0  # s of speech before the place, for the recogniser to adapt to the voice
_WAKE, _WAKE_WORDS = 2.2, 8  # s, and words, settled before that are heard along with a stretch
_WAKE_MARGIN = 0.1  # s of sound before them
_CLOSED = 0.25  # s of silence after which the last words of a stretch are complete
_HELD = 2  # words left for the next stretch where there is none
_BREATH = 0.4  # s of silence that the context behind does not reach over
_SURE = 0.8  # confidence below which a contested word is heard again
_MOST = 12  # alternatives asked for
_FEW = 4  # script words of a place up to which single small words of it are swapped
_LIKE = 0.6  # likeness from which what was heard passes for a word outside the vocabulary
_BEYOND = 2.5  # lead of a reading over one that did not come back at all: the recogniser's beam
_LEADS = 1.0  # lead of a rival that is worth a word
_TOO_NEAR = 0.35  # phone distance up to which two wordings are not told apart by sound (as/has, is/his)
# By how many of the three hearings (free, leaning, contested) had the script's words: the lead from which
# the script is taken as said, and the lead up to which the rival is. A free hearing that has the script's
# words without knowing the script is strong evidence.
_ALL = 3
_AGAINST = -2.2  # the second of these where the one hearing against is the free one
_THRESHOLDS = ((1.0, 0.0), (-0.6, -1.9), (-1.5, -99.0), (-1.3, -1.8))
# The same for words put in where the script has none.
_PUT_IN = ((0.0, 0.0), (-1.9, -1.9), (-2.2, -2.2), (-99.0, -99.0))


@dataclass(frozen=True, slots=True)
class Weighed:
    """One place heard again: script words [script_from, script_to), and how the readings compared.

    script, rival: the script's wording and the best other; lead: the script's over it, natural log
    units. free, lean, contest: what each hearing had there. start, end: seconds.
    """

    script_from: int
    script_to: int
    script: str
    rival: str
    lead: float
    free: str
    lean: str
    contest: str
    start: float
    end: float

    def moved(self, words: int, seconds: float) -> Weighed:
        """The same, counted from an earlier beginning."""
        return replace(
            self,
            script_from=self.script_from + words,
            script_to=self.script_to + words,
            start=self.start + seconds,
            end=self.end + seconds,
        )


@dataclass(frozen=True, slots=True)
class Settled:
    """A stretch settled: its words, times from the beginning of the recording, and what was weighed.

    A word's confidence is the probability that it is what was said; 0.5 marks a tie.
    """

    words: tuple[HeardWord, ...]
    weighed: tuple[Weighed, ...]


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Script words [script_from, script_to) of the region against leaning words [heard_from, heard_to)."""

    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


def settle(
    stretch: Stretch,
    places: Sequence[Place],
    region: range,
    recogniser: Recogniser,
    before: Sequence[HeardWord] = (),
    here: int = 0,
) -> Settled:
    """What was said in `stretch`, where the script around it is `region` of `places`.

    before: the words settled before it; nothing is heard before their end again, but the last of them
    are heard along, for the voice and the context. here: the place after them. Words at the very end of
    a stretch that no silence follows are left for the next one.
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
    lean = [w for w in recogniser.among(sound, leaning(around, said)) if w.word != UNKNOWN]
    contest = [
        w for w in recogniser.among(sound, contesting(around, said, recogniser.knows)) if w.word != UNKNOWN
    ]
    work = _Work(
        around,
        lean,
        contest,
        [replace(h, start=h.start - at, end=h.end - at) for h in free],
        sound,
        recogniser,
        here - region.start - len(wake),
        _open_part(lean, after - at, len(sound) / BYTES_PER_SECOND, stretch.last),
    )
    words, weighed = work.settle()
    return Settled(
        tuple(replace(w, start=w.start + at, end=w.end + at) for w in words),
        tuple(w.moved(region.start, at) for w in weighed),
    )


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
        region: Sequence[Place],
        lean: list[HeardWord],
        contest: list[HeardWord],
        free: list[HeardWord],
        sound: bytes,
        recogniser: Recogniser,
        expected: int,
        own: range,
    ) -> None:
        self.region, self.lean, self.contest, self.free = region, lean, contest, free
        self.sound, self.recogniser, self.own = sound, recogniser, own
        self.aligned = align_part(region, lean, expected)
        self.contested = align_part(region, contest, expected)
        hits = [s for s in self.contested.steps if s.kind == "hit"]
        self.contest_ends = {s.script_to: s.heard_to for s in hits}
        self.contest_starts = {s.script_from: s.heard_from for s in hits}

    def settle(self) -> tuple[list[HeardWord], list[Weighed]]:
        words: list[HeardWord] = []
        weighed: list[Weighed] = []
        at = self.own.start
        for doubt in self._doubts():
            if doubt.heard_to < at or doubt.heard_from < self.own.start or doubt.heard_to > self.own.stop:
                continue
            words += self.lean[at : doubt.heard_from]
            again, result = self._again(doubt)
            words += again
            if result is not None:
                weighed.append(result)
            at = doubt.heard_to
        return words + self.lean[at : self.own.stop], weighed

    def _doubts(self) -> list[_Doubt]:
        """The doubtful places in the order of the leaning words, neighbours joined."""
        hits = [s for s in self.aligned.steps if s.kind == "hit"]
        doubts = self._gaps(hits) + self._contested(hits)
        joined: list[_Doubt] = []
        for d in sorted(doubts, key=lambda d: (d.heard_from, d.heard_to)):
            last = joined[-1] if joined else None
            if last is not None and d.heard_from <= last.heard_to and d.script_from <= last.script_to:
                joined[-1] = _Doubt(
                    min(last.script_from, d.script_from),
                    max(last.script_to, d.script_to),
                    last.heard_from,
                    max(last.heard_to, d.heard_to),
                )
            else:
                joined.append(d)
        return joined

    def _gaps(self, hits: Sequence[Step]) -> list[_Doubt]:
        found: list[_Doubt] = []
        for a, b in itertools.pairwise(hits):
            if b.script_from < a.script_to:
                continue
            script, heard = b.script_from - a.script_to, b.heard_from - a.heard_to
            if (script or heard) and script <= max(4, heard + 3) and heard <= 8:
                found.append(_Doubt(a.script_to, b.script_from, a.heard_to, b.heard_from))
        return found + self._edges(hits)

    def _edges(self, hits: Sequence[Step]) -> list[_Doubt]:
        """Words heard before the first hit and after the last, where they stand in a script word's place."""
        if not hits:
            return []
        found: list[_Doubt] = []
        first, last = hits[0], hits[-1]
        before = [
            s for s in self.aligned.steps if s.kind == "substitution" and s.heard_to <= first.heard_from
        ]
        if before and before[-1].script_to == first.script_from and first.heard_from <= 4:
            found.append(
                _Doubt(before[0].script_from, first.script_from, before[0].heard_from, first.heard_from)
            )
        behind = [s for s in self.aligned.steps if s.kind == "substitution" and s.heard_from >= last.heard_to]
        if behind and behind[0].script_from == last.script_to and len(self.lean) - last.heard_to <= 4:
            found.append(_Doubt(last.script_to, behind[-1].script_to, last.heard_to, behind[-1].heard_to))
        return found

    def _contested(self, hits: Sequence[Step]) -> list[_Doubt]:
        other = self.contested
        sure = {
            i
            for s in other.steps
            if s.kind == "hit" and min(w.confidence for w in self.contest[s.heard_from : s.heard_to]) >= _SURE
            for i in range(s.script_from, s.script_to)
        }
        found = [
            _Doubt(s.script_from, s.script_to, s.heard_from, s.heard_to)
            for s in hits
            if not all(i in sure for i in range(s.script_from, s.script_to))
        ]
        return found + self._put_in(hits)

    def _put_in(self, hits: Sequence[Step]) -> list[_Doubt]:
        """Places between two script words where only the contest heard a word put in."""
        ends = {s.script_to: s for s in hits}
        starts = {s.script_from: s for s in hits}
        found: list[_Doubt] = []
        for s in self.contested.steps:
            if s.kind == "insertion" and s.script_from in ends and s.script_from in starts:
                a, b = ends[s.script_from], starts[s.script_from]
                if a.heard_to == b.heard_from:
                    found.append(_Doubt(s.script_from, s.script_from, a.heard_to, a.heard_to))
        return found

    def _context(self, doubt: _Doubt) -> tuple[list[HeardWord], list[HeardWord]]:
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

    def _hearings(self, doubt: _Doubt, start: float, end: float) -> tuple[str, str, str]:
        """What the free, the leaning and the contested hearing had between two times."""
        lean = " ".join(w.word for w in self.lean[doubt.heard_from : doubt.heard_to])
        free = " ".join(w.word for w in self.free if start < (w.start + w.end) / 2 < end)
        a, b = self.contest_ends.get(doubt.script_from), self.contest_starts.get(doubt.script_to)
        if a is not None and b is not None and a <= b:
            contest = " ".join(w.word for w in self.contest[a:b])
        else:
            contest = " ".join(w.word for w in self.contest if start < (w.start + w.end) / 2 < end)
        return free, lean, contest

    def _readings(self, doubt: _Doubt, hearings: Sequence[str]) -> tuple[list[str], list[str]]:
        """The script's wordings of a place, and the rival ones."""
        places = self.region[doubt.script_from : doubt.script_to]
        script = [""]
        for place in places:
            script = [f"{s} {' '.join(f)}".strip() for s in script for f in place.forms[:4]][:6]
        others = [" ".join(w for w in h.split() if self.recogniser.knows(w)) for h in hearings]
        kin = {p: (*rivals(p.text), *family(p.text)) for p in places}
        for i, place in enumerate(places):
            for rival in kin[place] if len(places) <= _FEW else ():
                if self.recogniser.knows(rival):
                    around = [p.text for p in places]
                    around[i] = rival
                    others.append(" ".join(filter(None, around)))
        if len(places) == 1:
            others.append("")
        kept = [o for o in dict.fromkeys(others) if not any(_same(o, s) for s in script)]
        return list(dict.fromkeys(script)), kept

    def _again(self, doubt: _Doubt) -> tuple[list[HeardWord], Weighed | None]:
        """Hear one place again: the words to take there, and how the readings compared."""
        as_leaned = self.lean[doubt.heard_from : doubt.heard_to]
        left, right = self._context(doubt)
        if not left and not right:
            return as_leaned, None
        inner_start = left[-1].end if left else 0.0
        inner_end = right[0].start if right else len(self.sound) / BYTES_PER_SECOND
        if as_leaned:
            inner_start = min(inner_start, as_leaned[0].start)
            inner_end = max(inner_end, as_leaned[-1].end)
        start = max(0.0, (left[0].start if left else inner_start) - _MARGIN)
        end = (right[-1].end if right else inner_end) + _MARGIN
        hearings = self._hearings(doubt, inner_start - 0.02, inner_end + 0.02)
        script, others = self._readings(doubt, hearings)
        if not script or not others:
            return as_leaned, None
        phrases = _phrases(script, others, [w.word for w in left], [w.word for w in right])
        found = self.recogniser.weigh(_slice(self.sound, start, end), phrases, _MOST)
        longest = 1 + max(len(r.split()) for r in (*script, *others))
        scores = {r: s for r, s in _scores(found, left, right).items() if len(r.split()) <= longest}
        blank = Weighed(
            doubt.script_from, doubt.script_to, script[0], "", _BEYOND, *hearings, inner_start, inner_end
        )
        places = self.region[doubt.script_from : doubt.script_to]
        words, result = _decide(places, script, scores, as_leaned, blank)
        if result is None:
            return words, None
        return [replace(w, start=w.start + start, end=w.end + start) for w in words], result


def _decide(
    places: Sequence[Place],
    script: Sequence[str],
    scores: Mapping[str, tuple[float, list[HeardWord]]],
    as_leaned: list[HeardWord],
    blank: Weighed,
) -> tuple[list[HeardWord], Weighed | None]:
    """The words to take at a place, from the scores of its wordings."""
    ours = {r: s for r, s in scores.items() if _passes(r, script, places)}
    theirs = {r: s for r, s in scores.items() if r not in ours}
    if not ours and not theirs:
        agreed = blank.free == blank.lean == blank.contest
        return [replace(w, confidence=0.9) if agreed else w for w in as_leaned], None
    best = max(ours, key=lambda r: ours[r][0]) if ours else script[0]
    rival = max(theirs, key=lambda r: theirs[r][0]) if theirs else ""
    lead = _BEYOND
    if ours and theirs:
        lead = ours[best][0] - theirs[rival][0]
    elif theirs:
        lead = -_BEYOND
    votes = sum(_passes(h, script, places) for h in (blank.free, blank.lean, blank.contest))
    verdict = _verdict(lead, best, rival, votes, _passes(blank.free, script, places))
    if verdict < 0:
        words = _forgiven(places, theirs[rival][1])
        return [replace(w, confidence=0.95) for w in words], replace(blank, rival=rival, lead=lead)
    if ours and best in script:
        words = ours[best][1]
    else:
        words = _spread(script[0].split(), ours[best][1] if ours else theirs[rival][1])
    sure = 0.95 if verdict else 0.5
    return [replace(w, confidence=sure) for w in words], replace(blank, rival=rival, lead=lead)


def _passes(reading: str, script: Sequence[str], places: Sequence[Place]) -> bool:
    """True where a reading is the script's wording by ear.

    Words outside the vocabulary only need to sound like what they were heard as; the others are the same.
    """
    if any(_same(reading, s) for s in script):
        return True
    if not reading or all(p.known for p in places):
        return False
    if not any(p.known for p in places):
        return alike(" ".join(w for p in places for w in p.spoken), reading) >= _LIKE
    words = reading.split()
    pairs = partners(places, words)
    if len(pairs) < len(places) or sum(b - a for _, a, b in pairs) < len(words):
        return False
    return all(
        _same(places[i].text, " ".join(words[a:b]))
        if places[i].known
        else nearest(places[i], " ".join(words[a:b])) >= _LIKE
        for i, a, b in pairs
    )


def _forgiven(places: Sequence[Place], words: list[HeardWord]) -> list[HeardWord]:
    """A rival's words, with those that can't be told from their script word by sound taken for it."""
    found = list(words)
    for i, a, b in partners(places, [w.word for w in words]):
        if b == a + 1 and places[i].forms and len(places[i].forms[0]) == 1:
            form = places[i].forms[0][0]
            if words[a].word != form and _apart(form, words[a].word) <= _TOO_NEAR:
                found[a] = replace(words[a], word=form)
    return found


def _spread(words: Sequence[str], over: Sequence[HeardWord]) -> list[HeardWord]:
    """`words` in the time of `over`, in equal shares."""
    if not over:
        return []
    start, step = over[0].start, (over[-1].end - over[0].start) / max(1, len(words))
    return [HeardWord(w, start + k * step, start + (k + 1) * step, 1.0) for k, w in enumerate(words)]


def _verdict(lead: float, ours: str, theirs: str, votes: int, free: bool) -> int:
    """1 the script was said, -1 the rival was, 0 undecided.

    votes: hearings that had the script's words; free: the free one was among them.
    """
    if _apart(ours, theirs) <= _TOO_NEAR:
        return 1 if votes or lead > -_LEADS else 0
    holds, leads = _THRESHOLDS[votes] if ours else _PUT_IN[votes]
    if votes == 2 and ours and not free:
        leads = _AGAINST
    if lead <= leads and votes == _ALL and len(ours.split()) != len(theirs.split()):
        return 0  # small words run together are no evidence against all three hearings
    return 1 if lead >= holds else -1 if lead <= leads else 0


@lru_cache(maxsize=10_000)
def _apart(a: str, b: str) -> float:
    """Phone distance between two short wordings; of many ways to say them the nearest."""
    if not a or not b:
        return math.inf
    return min((distance(x, y) for x in joined(a) for y in joined(b)), default=math.inf)


def _same(a: str, b: str) -> bool:
    if a == b:
        return True
    x, y = a.split(), b.split()
    if len(x) == len(y):
        return all(same_sound(p, q) for p, q in zip(x, y, strict=True))
    return bool(x) and bool(y) and alike(a, b) > 0.999


def _slice(sound: bytes, start: float, end: float) -> bytes:
    return sound[int(start * BYTES_PER_SECOND) // 2 * 2 : int(end * BYTES_PER_SECOND) // 2 * 2]


def _phrases(
    script: Sequence[str], others: Sequence[str], left: Sequence[str], right: Sequence[str]
) -> list[str]:
    """The wordings of a place as phrases: once with all the context, then each with the words next to it.

    The context stands only once, because what it has in common with a wording would weigh for it.
    """
    found = [" ".join(filter(None, (*left, script[0], *right)))]
    for wording in (*script[1:], *others):
        found.append(" ".join(filter(None, (*left[-1:], wording, *right[:1]))))
    return [f for f in found if f]


def _scores(
    found: Sequence[Alternative], left: Sequence[HeardWord], right: Sequence[HeardWord]
) -> dict[str, tuple[float, list[HeardWord]]]:
    """For each wording of the place among the alternatives, its best score and its words.

    The word pairs let an alternative put a word in or out around the place too; only what lies between
    the neighbours counts, and each wording by its best alternative.
    """
    scores: dict[str, tuple[float, list[HeardWord]]] = {}
    for each in found:
        words = [w.word for w in each.words]
        begin = _after(words, left[-1].word, len(left)) if left else 0
        end = _before(words, right[0].word, len(right)) if right else len(words)
        if begin is None or end is None or end < begin:
            continue
        reading = " ".join(words[begin:end])
        if reading not in scores or scores[reading][0] < each.score:
            scores[reading] = (each.score, list(each.words[begin:end]))
    return scores


def _after(words: list[str], anchor: str, near: int) -> int | None:
    """The place after the anchor, searched around where it should be."""
    spots = [k for k, w in enumerate(words) if w == anchor]
    return min(spots, key=lambda k: abs(k + 1 - near)) + 1 if spots else None


def _before(words: list[str], anchor: str, near: int) -> int | None:
    spots = [k for k, w in enumerate(words) if w == anchor]
    return min(spots, key=lambda k: abs(len(words) - k - near)) if spots else None
