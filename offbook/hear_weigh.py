"""Weighing one doubtful place: what the recogniser makes of its wordings, and what is decided from that.

The recogniser is asked about the sound of a place with phrases that differ in the place alone. Each
wording's best log likelihood is compared with the script's; how great a lead decides depends on which
hearings had the script's words before. Wordings that the ear cannot tell apart are not told apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from offbook.align import Place, nearest
from offbook.align_gaps import partners
from offbook.recognise import BYTES_PER_SECOND, Alternative, HeardWord
from offbook.soundalike import alike, joined, same_sound
from offbook.soundalike_phones import distance

_LIKE = 0.6  # likeness from which what was heard passes for a word outside the vocabulary
BEYOND = 2.5  # lead of a reading over one that did not come back at all: the recogniser's beam
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


def decide(
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
    lead = BEYOND
    if ours and theirs:
        lead = ours[best][0] - theirs[rival][0]
    elif theirs:
        lead = -BEYOND
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
    if any(same(reading, s) for s in script):
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
        same(places[i].text, " ".join(words[a:b]))
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


def same(a: str, b: str) -> bool:
    """True where two wordings can't be told apart by ear: word for word homophones, or the same phones."""
    if a == b:
        return True
    x, y = a.split(), b.split()
    if len(x) == len(y):
        return all(same_sound(p, q) for p, q in zip(x, y, strict=True))
    return bool(x) and bool(y) and alike(a, b) > 0.999


def slice_of(sound: bytes, start: float, end: float) -> bytes:
    """The sound between two times (s)."""
    return sound[int(start * BYTES_PER_SECOND) // 2 * 2 : int(end * BYTES_PER_SECOND) // 2 * 2]


def phrases_of(
    script: Sequence[str], others: Sequence[str], left: Sequence[str], right: Sequence[str]
) -> list[str]:
    """The wordings of a place as phrases: once with all the context, then each with the words next to it.

    The context stands only once, because what it has in common with a wording would weigh for it.
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
