"""Verdicts in the light of the whole run-through: who seldom slips is believed more readily.

A doubtful place is decided as soon as it is heard, with the odds of somebody who says another word at one
place in twelve. Where the whole run-through has fewer swaps than that, a doubtful one in it was more likely
said as written, and what was held against the speaker there is softened, never the other way about.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from offbook.hear_settle import Settled
from offbook.hear_weigh import OTHER, SAID, Weighed
from offbook.score import TIE, Extra, Run, WordVerdict

_SLIP = 0.1  # chance of the script's wording from which on a place counts as a slip
_USUAL = 0.08  # slips a word that the odds of a place suppose
# Slips and words put to those counted, so that a short run-through does not count as one without slips,
# and what the logarithm of the rate weighs: fitted along with the odds.
_SLIPS, _WORDS, _WEIGHT = 0.5, 30, 0.96


def believed(run: Run, settled: Sequence[Settled], words: int) -> Run:
    """`run` with the doubtful places seen again by how often the speaker slips.

    settled: what was weighed on the way. words: how many were heard.
    """
    places = [w for each in settled for w in each.weighed if w.found]
    seen: dict[int, tuple[float, Weighed]] = {}
    for place, rarer in zip(places, how_much_rarer(places, words), strict=True):
        chance = _again(place.chance, rarer)
        softer = place.chance < SAID and chance > OTHER and _swap(place)
        for i in range(place.script_from, place.script_to):
            seen.pop(i, None)  # a place said once more counts as it was said last
            if softer:
                seen[i] = chance, place
    here = {w.i for w in run.words if w.i in seen and _heard_there(w, seen[w.i][1], run.extras)}
    taken_back = [seen[i][1] for i in here if seen[i][0] >= SAID]
    return replace(
        run,
        words=tuple(_seen(w, *seen[w.i]) if w.i in here else w for w in run.words),
        extras=tuple(x for x in run.extras if not any(_within(x, place) for place in taken_back)),
    )


def how_much_rarer(places: Sequence[Weighed], words: int) -> list[float]:
    """For each place, how much rarer than supposed the others were swapped: the difference of logarithms."""
    slips = sum(map(_slipped, places))
    rates = [(slips - _slipped(place) + _SLIPS) / (words + _WORDS) for place in places]
    return [math.log(_USUAL / rate) for rate in rates]


def _again(chance: float, rarer: float) -> float:
    """The chance that a place was said as written, where swaps are so much rarer."""
    if rarer <= 0 or not 0 < chance < 1:
        return chance
    return 1 / (1 + math.exp(-math.log(chance / (1 - chance)) - _WEIGHT * rarer))


def _heard_there(word: WordVerdict, place: Weighed, extras: Sequence[Extra]) -> bool:
    """Whether what was weighed at `place` was said where the script has the word, and not elsewhere in it."""
    beside = (x for x in extras if x.before_word - 1 <= word.i <= x.before_word)
    return word.heard is not None or any(_within(x, place) for x in beside)


def _within(extra: Extra, place: Weighed) -> bool:
    return place.start <= (extra.start + extra.end) / 2 <= place.end


def _swap(place: Weighed) -> bool:
    """Whether the rival has words in the place of the script's, one for one."""
    return len(place.rival.split()) == place.script_to - place.script_from


def _slipped(place: Weighed) -> bool:
    return place.chance <= _SLIP and _swap(place)


def _seen(word: WordVerdict, chance: float, place: Weighed) -> WordVerdict:
    if word.verdict == "said":
        return word
    if chance < SAID:
        return replace(word, verdict="unsure", confidence=None if word.heard is None else min(chance, TIE))
    start, end = (place.start, place.end) if word.start is None else (word.start, word.end)
    heard = word.text.lower()
    return replace(word, verdict="said", heard=heard, start=start, end=end, confidence=chance)
