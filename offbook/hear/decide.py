"""Weighing one doubtful place: what an ear makes of its wordings, and what is decided from that.

An ear is asked about the sound of a place with wordings that differ in the place alone: the second one where
there is one, else the recogniser, with phrases. Each wording's log likelihood is compared with the script's,
and the chance that the script's was said is reckoned from that lead, from which hearings had it before, and
from how far apart the two sound. Wordings that the ear cannot tell apart are not told apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from rapidfuzz.distance import LCSseq, Levenshtein

from offbook.align import AlignedWord, nearest, partners
from offbook.hear.pace import PlacePace
from offbook.recognise import Alternative, HeardWord
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import TIE
from offbook.soundalike import alike, distance, joined, rivals, same_sound

_LIKE = 0.6  # likeness from which what was heard passes for a word outside the vocabulary
BEYOND = 12.0  # lead over a wording that did not come back at all
_BEHIND, _AHEAD = -8.0, 4.0  # leads that count: beyond them a wording does not come back, or is safe
_LEADS = 1.0  # lead of a rival that is worth a word
# Phone distance up to which two words are not told apart by sound (to/do, are/our); for wordings that share
# no word, so many times that as the script's has words (besiege thy brow/besieged eyebrow).
_TOO_NEAR = 0.2
_FAR = 2.0  # greatest phone distance that counts
_A_WORD = 1.5  # distance put for each word that one wording has more
# The chance that the script's wording was said, a logistic regression on what was found at the place;
# `bench/fit_weighing.py` fits it on readings with planted slips. In order: the constant, the lead, whether
# the free, the leaning and the contested hearing had the script's words, whether none had, whether the free
# and the contested hearing had the rival's, the phone distance of the two, and whether the script's wording
# has more words, or fewer.
_WEIGHTS = (2.62, 0.92, 2.12, 1.36, 0.23, -1.36, -0.25, -1.47, -0.64, 0.61, 0.35)
# The same where the second ear weighed the place: the constant, the script's lead, whether the script's
# wording has more words, or fewer, and how many of the hearings had the rival's. Fitted on 1,170 places by 40
# readers, 342 of them said, and rounded. By readers left out the log loss is 45.8; with the first ear's lead
# as one more number it is 46.8. The last counts where every hearing had a rival with more words: by how much
# better the time fits it. Set by hand on words cut into readings (`bench/spliced.py`): no such place of the
# fit is in doubt.
_WITH_SECOND = (4.15, 0.78, 0.8, -2.5, -0.95, 3.0)
# And where the script has nothing and a word was put in: the constant, the lead, whether every hearing had
# the rival, and whether that has so many letters that no cough or "um" was taken for it. Fitted on 284
# places: log loss 16.8 by readers left out, with the first ear's lead too. The last is set by hand on words
# cut into readings (`bench/spliced.py`), without which the second ear may be at ease.
_PUT_IN_WITH_SECOND = (0.5, 0.48, -1.3, -5.0)
_LONG = 5  # letters; set by hand
_HEARINGS = 3  # by the first ear
_MOST = 12.0  # lead by the second ear that counts
# What speaks for a rival beside its score, natural log units: each word that it has as the script has it,
# and each that the free and the contested hearing had.
_KEPT, _FREE_HAD, _CONTEST_HAD = 6.0, 1.0, 0.5
# The same where the second ear weighed: what a swap, a word left out and a word put in come to in its
# weights, and each word that a hearing had.
_SWAP, _LEFT_OUT, _WORD_PUT_IN, _HAD = 5.3, 6.3, 2.1, 1.2
# A word left out right behind another: who leaves out a phrase leaves out all of its words. Set by hand on
# phrases cut out of readings (`bench/spliced.py`), where from 2.7 on one of the words stays.
_LEFT_OUT_TOO = 2.0
# The same for a word swapped right behind another.
_SWAP_TOO = 4.0
# Natural log units by which the second ear may find another wording likelier than the one that is quoted as
# what was said. Set by hand: beyond it a wording is e^6, four hundred times, as likely.
_BEARABLE = 6.0
# Lead of what was heard over the script's word from which the second ear tells two words apart that sound
# nearly alike (has/have). Set by hand.
_TOLD_APART = 2.0
# Words that seem to be missing, from which on the time left for them is looked at, and by how much better it
# must fit the script's wording (`hear.pace`). Set by hand on words mumbled in spontaneous talk.
_SEVERAL, _TIME_LEFT = 3, 0.25
# Log probability, by the second ear, of a wording and what follows it, from which on it is at ease with it.
# Set by hand: phrases cut out of readings leave -0.1 to -2, words mumbled in talk -8 to -20.
_AT_EASE = -5.0
# The chance from which the script's wording is taken as said, and that up to which the rival is: by the first
# ear, and by the second. On places of readings left out in turn the second finds 2.5 slips in 659 more with
# 0.44 than with 0.33, and calls 0.2 words in 189 more wrong.
SAID, OTHER, _OTHER_BY_SECOND = 0.5, 0.33, 0.44
_AGREED = 0.9  # confidence where all hearings had the same and none could be compared; set by hand
_SAME_PHONES = 0.999  # likeness of the same phones, 1 but for rounding
_SURE = 0.96  # chance put where it is not reckoned
# Lead of no word, where the script has none, up to which what was heard there was put in: by how many of the
# hearings had nothing there.
_PUT_IN = (0.5, -3.0, -4.5, -4.5)

# The log likelihood of each wording of a place, natural log units, and its words.
Scores = Mapping[str, tuple[float, list[HeardWord]]]


@dataclass(frozen=True, slots=True)
class Weighed:
    """One place heard again: script words [script_from, script_to), and how the readings compared.

    script, rival: the script's wording and the best other; lead: the script's over it, natural log
    units. free, lean, contest: what each hearing had there. start, end: seconds. found: what the chance
    that the script's wording was said is reckoned from, one number for each weight; empty where it is not.
    chance: that chance. by_second: whether the second ear weighed it. pace: by how much better the time that
    the place took fits the script's wording (`hear.pace`). bearable: whether the ears can live with the
    rival, so that it may be quoted as what was said. contested: whether there was a contested hearing; else
    `contest` is what the leaning one had.
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
    found: tuple[float, ...] = ()
    chance: float = 1.0
    by_second: bool = False
    pace: float = 0.0
    bearable: bool = True
    contested: bool = True

    @property
    def other(self) -> float:
        """The chance of the script's wording up to which the rival is taken."""
        return _OTHER_BY_SECOND if self.by_second else OTHER

    def moved(self, words: int, seconds: float) -> Weighed:
        """The same, counted from an earlier beginning."""
        return replace(
            self,
            script_from=self.script_from + words,
            script_to=self.script_to + words,
            start=self.start + seconds,
            end=self.end + seconds,
        )


def decide(
    places: Sequence[AlignedWord],
    script: Sequence[str],
    scores: Scores,
    as_leaned: list[HeardWord],
    blank: Weighed,
    pace: PlacePace | None = None,
) -> tuple[list[HeardWord], Weighed | None]:
    """The words to take at a place, from the scores of its wordings, by the ear that `blank` names.

    pace: how long the place took.
    """
    ours = {r: s for r, s in scores.items() if _passes(r, script, places, blank.by_second)}
    theirs = {r: s for r, s in scores.items() if r not in ours}
    if not scores:
        agreed = blank.free == blank.lean == blank.contest
        return [replace(w, confidence=_AGREED) if agreed else w for w in as_leaned], None
    best = max(ours, key=lambda r: ours[r][0]) if ours else script[0]
    likeliest = _likeliest({r: s[0] for r, s in theirs.items()}, script, blank)
    weighed = _weighed(blank, best, _rival(theirs, likeliest, blank), ours, theirs, pace)
    had = [_passes(h, script, places, blank.by_second) for h in (blank.free, blank.lean, blank.contest)]
    weighed = replace(weighed, found=_found(weighed, best, had))
    chance = _chance(weighed, had)
    weighed = replace(weighed, chance=chance)
    if chance <= blank.other and theirs:
        weighed = replace(weighed, rival=likeliest)
        if _mumbled(weighed, theirs[likeliest][0]):
            chance = (SAID + blank.other) / 2
            ours_there = _spread_over(script[0], theirs[likeliest][1], blank)
            return _in_doubt(ours_there, likeliest, chance), replace(weighed, chance=chance)
        words = _taken(places, likeliest, scores, blank.by_second)
        return [replace(w, confidence=1 - chance, weighed=True) for w in words], weighed
    if ours and best in script:
        words = ours[best][1]
    else:
        words = _spread_over(script[0], (ours[best] if ours else theirs[weighed.rival])[1], blank)
    sure = chance if chance >= SAID else min(chance, TIE)
    return [replace(w, confidence=sure) for w in words], weighed


def _spread_over(wording: str, heard: list[HeardWord], place: Weighed) -> list[HeardWord]:
    """The script's words over the times of what was heard; over the whole place where nothing was."""
    return spread(wording.split(), heard or [HeardWord("", place.start, place.end, 1.0)])


def _rival(theirs: Scores, likeliest: str, blank: Weighed) -> str:
    """The wording that the script's is compared with: where the script has no word, the best by its score."""
    put_in = blank.script_from == blank.script_to and not blank.by_second
    return max(theirs, key=lambda r: theirs[r][0], default="") if put_in else likeliest


def _weighed(
    blank: Weighed, best: str, rival: str, ours: Scores, theirs: Scores, pace: PlacePace | None
) -> Weighed:
    """How the best wording of the script compares with its rival, by sound and by the time that it took."""
    lead = BEYOND if ours else -BEYOND
    if ours and theirs:
        lead = ours[best][0] - theirs[rival][0]
    likeliest = max(s for s, _ in (*ours.values(), *theirs.values()))
    bearable = not theirs or likeliest - theirs[rival][0] <= _BEARABLE
    timed = pace.speaks_for(best, rival) if pace is not None else 0.0
    return replace(blank, rival=rival, lead=lead, pace=timed, bearable=bearable)


def _passes(reading: str, script: Sequence[str], places: Sequence[AlignedWord], told_apart: bool) -> bool:
    """True where a reading is the script's wording by ear.

    Words outside the vocabulary only need to sound like what they were heard as; the others are the same.
    told_apart: an ear that knows those words by their spelling tells them from the same with more words.
    """
    if any(same(reading, s) for s in script):
        return True
    if told_apart and any(s and f" {s} " in f" {reading} " for s in script):
        return False
    if not reading or all(p.known for p in places):
        return False
    if not any(p.known for p in places):
        return alike(" ".join(w for p in places for w in p.spoken), reading) >= _LIKE
    words = reading.split()
    pairs = partners(places, words)
    if len(pairs) < len(places) or sum(b - a for _, a, b in pairs) < len(words):
        return False
    return all(
        same(places[i].text, " ".join(words[a:b]))
        if places[i].known
        else nearest(places[i], " ".join(words[a:b])) >= _LIKE
        for i, a, b in pairs
    )


def _taken(
    places: Sequence[AlignedWord],
    rival: str,
    scores: Scores,
    by_second: bool,
) -> list[HeardWord]:
    """A rival's words, with those that can't be told from their script word by sound taken for it.

    The second ear may tell them apart all the same: then what was heard is taken.
    """
    heard = scores[rival][1]
    found = list(heard)
    for i, a, b in partners(places, [w.word for w in heard]):
        if b == a + 1 and places[i].forms and len(places[i].forms[0]) == 1:
            form = places[i].forms[0][0]
            if heard[a].word != form and _apart(form, heard[a].word) <= _TOO_NEAR:
                found[a] = replace(heard[a], word=form)
    forgiven = " ".join(w.word for w in found)
    if by_second and forgiven in scores and scores[rival][0] - scores[forgiven][0] >= _TOLD_APART:
        return heard
    return found


def spread(words: Sequence[str], over: Sequence[HeardWord]) -> list[HeardWord]:
    """`words` in the time of `over`, in equal shares."""
    if not over:
        return []
    start, step = over[0].start, (over[-1].end - over[0].start) / max(1, len(words))
    return [HeardWord(w, start + k * step, start + (k + 1) * step, 1.0) for k, w in enumerate(words)]


def _likeliest(scores: Mapping[str, float], script: Sequence[str], place: Weighed) -> str:
    """Of the wordings that are not the script's, the one to compare it with and to take where it loses.

    Each word as the script has it speaks for a wording as much as it would for the script's own, and so,
    less, does each word that another hearing had: a word slipped in or out leaves the others of its place
    as they were, and of wordings alike in score the one that was heard is meant.
    """
    forms = [s.split() for s in script]
    hearings = [h.split() for h in (place.free, place.lean, place.contest)]
    had = (_HAD, _HAD, _HAD) if place.by_second else (_FREE_HAD, 0.0, _CONTEST_HAD)

    def worth(wording: str) -> float:
        words = wording.split()
        as_heard = sum(w * LCSseq.similarity(h, words) for w, h in zip(had, hearings, strict=True))
        if place.by_second:
            return scores[wording] + as_heard - min(_departs(form, words) for form in forms)
        kept = LCSseq.similarity(forms[0], words) - max(0, len(words) - len(forms[0]))
        return scores[wording] + as_heard + _KEPT * kept

    put_in = place.by_second and place.script_from == place.script_to
    return max((_heard_alike(scores, place) if put_in else ()) or scores, key=worth, default="")


def _heard_alike(scores: Mapping[str, float], place: Weighed) -> list[str]:
    """Of the wordings put in between two script words, those that a hearing had, or a small word like it.

    Nothing else was there for a hearing to take them for. Only those that the second ear can live with.
    """
    hearings = [place.free, place.lean, place.contest]
    heard = {*hearings, *(w for h in hearings for w in rivals(h))}
    least = max(scores.values(), default=0.0) - _BEARABLE
    return [w for w in scores if w and w in heard and scores[w] >= least]


def _departs(script: Sequence[str], words: Sequence[str]) -> float:
    """How unlikely it is that somebody who has the script says these words, natural log units."""
    odds = 0.0
    for c in Levenshtein.opcodes(script, words):
        ours, theirs = c.src_end - c.src_start, c.dest_end - c.dest_start
        if c.tag != "equal":
            swapped = min(ours, theirs)
            left_out = ours - swapped
            odds += _SWAP * min(1, swapped) + _SWAP_TOO * max(0, swapped - 1)
            odds += _LEFT_OUT * min(1, left_out) + _LEFT_OUT_TOO * max(0, left_out - 1)
            odds += _WORD_PUT_IN * (theirs - swapped)
    return odds


def _found(place: Weighed, ours: str, had: Sequence[bool]) -> tuple[float, ...]:
    """What speaks for and against the script's wording `ours`, in the order of the weights."""
    theirs, lead = place.rival, place.lead
    more = len(ours.split()) - len(theirs.split())
    if place.by_second:
        lead = max(-_MOST, min(_MOST, lead))
        agreed = sum(same(h, theirs) for h in (place.free, place.lean, place.contest))
        time = min(0.0, place.pace) if more < 0 and agreed == _HEARINGS else 0.0
        if place.script_from == place.script_to:
            return (
                1.0,
                lead,
                float(agreed == _HEARINGS),
                float(agreed == _HEARINGS and len(theirs) >= _LONG),
            )
        return (1.0, lead, float(more > 0), float(more < 0), float(agreed), time)
    apart = _apart(ours, theirs)
    if place.script_from == place.script_to or apart <= _too_near(ours, theirs):
        return ()
    return (
        1.0,
        max(_BEHIND, min(_AHEAD, lead)),
        *map(float, (*had, not any(had), same(place.free, theirs), same(place.contest, theirs))),
        min(_FAR, apart if math.isfinite(apart) else _A_WORD * abs(more)),
        float(more > 0),
        float(more < 0),
    )


def _chance(place: Weighed, had: Sequence[bool]) -> float:
    """The chance that a place was said as the script has it."""
    if place.found:
        with_second = _WITH_SECOND if place.script_from < place.script_to else _PUT_IN_WITH_SECOND
        weights = with_second if place.by_second else _WEIGHTS
        return chance_of(sum(w * x for w, x in zip(weights, place.found, strict=True)))
    if place.script_from == place.script_to:
        return _SURE if place.lead > _PUT_IN[sum(had)] else 1 - _SURE
    return _SURE if any(had) or place.lead > -_LEADS else (SAID + place.other) / 2


def _mumbled(place: Weighed, score: float) -> bool:
    """Whether several words seem to be missing and the time that they take is there: then nobody can say.

    score: of the wording without them. Where the second ear is at ease with it, nothing else was said.
    """
    missing = len(place.script.split()) - len(place.rival.split())
    at_ease = place.by_second and score >= _AT_EASE
    return missing >= _SEVERAL and place.pace >= _TIME_LEFT and not at_ease


def _in_doubt(words: Sequence[HeardWord], rival: str, sure: float) -> list[HeardWord]:
    """The script's words with those in doubt that the rival has not."""
    ours = [w.word for w in words]
    kept = {
        k
        for c in Levenshtein.opcodes(ours, rival.split())
        if c.tag == "equal"
        for k in range(c.src_start, c.src_end)
    }
    return [replace(w, confidence=_SURE if k in kept else sure) for k, w in enumerate(words)]


def chance_of(odds: float) -> float:
    """The chance whose odds have this logarithm."""
    return 1 / (1 + math.exp(-odds))


def _too_near(ours: str, theirs: str) -> float:
    words = ours.split()
    return _TOO_NEAR * (1 if set(words) & set(theirs.split()) else max(1, len(words)))


@lru_cache(maxsize=10_000)
def _apart(a: str, b: str) -> float:
    """Phone distance between two short wordings; of many ways to say them the nearest."""
    if not a or not b:
        return math.inf
    return min((distance(x, y) for x in joined(a) for y in joined(b)), default=math.inf)


def same(a: str, b: str) -> bool:
    """True where two wordings can't be told apart by ear: word for word homophones, or the same phones."""
    if a == b:
        return True
    x, y = a.split(), b.split()
    if len(x) == len(y):
        return all(same_sound(p, q) for p, q in zip(x, y, strict=True))
    return bool(x) and bool(y) and alike(a, b) > _SAME_PHONES


def slice_of(sound: bytes, start: float, end: float) -> bytes:
    """The sound between two times (s)."""
    return sound[int(start * BYTES_PER_SECOND) // 2 * 2 : int(end * BYTES_PER_SECOND) // 2 * 2]


def phrases_of(
    script: Sequence[str], others: Sequence[str], left: Sequence[str], right: Sequence[str]
) -> list[str]:
    """The wordings of a place as phrases: once with all the context, then each with the words next to it.

    All the context is given only once, because what it shares with a wording would speak for that wording.
    """
    found = [" ".join(filter(None, (*left, script[0], *right)))]
    for wording in (*script[1:], *others):
        found.append(" ".join(filter(None, (*left[-1:], wording, *right[:1]))))
    return [f for f in found if f]


def scores_of(
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
