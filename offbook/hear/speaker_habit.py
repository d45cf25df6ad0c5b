"""Verdicts in the light of the whole run-through: who seldom slips is believed more readily.

A doubtful place is decided as soon as it is heard, with the odds of somebody who says another word at one
place in twelve, and of a voice that the recogniser follows well. Where the whole run-through has fewer swaps
than that, a doubtful one in it was more likely said as written. Where the voice is hard to follow, acted,
accented, or recorded badly, a wording that leads by much leads by little: there the script is believed more,
whatever the doubt is about. What was counted against the speaker is softened, never the other way about.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from offbook.hear.decide import SAID, Weighed, chance_of
from offbook.hear.rescore import Settled
from offbook.score import SOMETHING_ELSE, TIE, Extra, Run, WordVerdict, decided

_SLIP = 0.1  # chance of the script's wording from which on a place counts as a slip
_USUAL = 0.08  # slips a word that the odds of a place suppose
# Slips and words put to those counted, so that a short run-through does not count as one without slips,
# and what the logarithm of the rate weighs: fitted along with the odds.
_SLIPS, _WORDS, _WEIGHT = 0.5, 30, 0.96
# How hard a voice is to follow: of the script words that were heard leaning to the script, the share that
# were heard as other ones where these were as likely. Up to the first share a voice is clear, from the second
# on it is as hard as can be; so many words at this share are put to those counted.
_CLEAR, _HARD = 0.10, 0.14
_LOST, _OF = 1.5, 30
# Script words from which on that tells that a voice is clear. Set by hand: one that loses a word in four
# passes for clear over sixty words once in a hundred times (binomial).
_TOLD = 60
# The same weight where a second ear was asked: it errs elsewhere than the first, and a slip that both hear is
# one, however rare. Set by hand, because fitted it is 1.6, on readings with many slips or none: an only slip
# would be taken for said.
_WEIGHT_WITH_SECOND = 0.5
# What that changes where it is as hard as can be: what was put to the logarithm of the odds for the script's
# wording, and by how much less counts what was found. Fitted on voices of actors, `bench/fit_weighing.py`.
_BIAS, _LESS = 2.6, 0.43
_SMALLEST_SHOWN = 0.01  # chance below which only that bound is shown; set by hand, to claim no more
_LEAST = 1e-9  # chance that is as good as none


def believed(run: Run, settled: Sequence[Settled], words: int) -> Run:
    """`run` with the doubtful places seen again by how often the speaker slips and how clear the voice is.

    settled: what was weighed on the way. words: how many were heard.
    """
    places = [w for each in settled for w in each.weighed if w.found]
    hard = how_hard(settled)
    seen: dict[int, tuple[float, Weighed]] = {}
    heard_again: dict[int, Weighed] = {}
    for place, rarer in zip(places, how_much_rarer(places, words), strict=True):
        if not _in_its_place(run.words, place):
            continue
        chance = chance_of(again(place, rarer, hard))
        for i in range(place.script_from, place.script_to):
            seen.pop(i, None)  # a place said once more counts as it was said last
            heard_again[i] = place
            if place.chance < SAID and chance > place.other:
                seen[i] = chance, place
    softened = [place for _, place in seen.values()]
    words_told = [_heard_again(w, heard_again[w.i]) if w.i in heard_again else w for w in run.words]
    return replace(
        run,
        words=tuple(_seen(w, *seen[w.i]) if w.i in seen else w for w in words_told),
        extras=tuple(x for x in run.extras if not any(_within(x, place) for place in softened)),
    )


def how_hard(settled: Sequence[Settled]) -> float:
    """How hard the voice is to follow, from 0, clear, to 1."""
    leaned, contested = sum(s.leaned for s in settled), sum(s.contested for s in settled)
    lost = (leaned - contested + _LOST) / (leaned + _OF)
    return min(1.0, max(0.0, (lost - _CLEAR) / (_HARD - _CLEAR)))


def easy_to_follow(settled: Sequence[Settled]) -> bool:
    """Whether enough words were contested to know that the voice is clear."""
    return sum(s.leaned for s in settled) >= _TOLD and how_hard(settled) == 0.0


def how_much_rarer(places: Sequence[Weighed], words: int) -> list[float]:
    """For each place, how much rarer than supposed the others were swapped: the difference of logarithms.

    The same words of the script said once more are no others.
    """
    slips = [place for place in places if _slipped(place)]
    others = (sum(not _overlap(place, slip) for slip in slips) for place in places)
    return [math.log(_USUAL * (words + _WORDS) / (n + _SLIPS)) for n in others]


def odds_of(place: Weighed) -> float:
    """The logarithm of the odds by which a place was decided, for the script's wording."""
    chance = min(1 - _LEAST, max(_LEAST, place.chance))
    return math.log(chance / (1 - chance))


def again(place: Weighed, rarer: float, hard: float) -> float:
    """The same where swaps are so much rarer than supposed, and the voice so hard to follow."""
    odds, weight = odds_of(place), _WEIGHT
    if not place.by_second:
        odds += hard * (_BIAS - _LESS * odds)
    else:  # how well the first ear follows the voice matters little beside a second one
        weight = _WEIGHT_WITH_SECOND
    return odds + weight * max(0.0, rarer) if _swap(place) else odds


def _in_its_place(words: Sequence[WordVerdict], place: Weighed) -> bool:
    """Whether `place` was said between the words the script has around it, and not out of its order."""
    ends = (words[i].end for i in range(place.script_from - 1, -1, -1))
    starts = (words[i].start for i in range(place.script_to, len(words)))
    before = next((end for end in ends if end is not None), 0.0)
    after = next((start for start in starts if start is not None), math.inf)
    return before <= place.end and place.start <= after


def _within(extra: Extra, place: Weighed) -> bool:
    return place.start <= (extra.start + extra.end) / 2 <= place.end


def _overlap(a: Weighed, b: Weighed) -> bool:
    return a.script_from < b.script_to and b.script_from < a.script_to


def _swap(place: Weighed) -> bool:
    """Whether the rival has words in the place of the script's, one for one."""
    return len(place.rival.split()) == place.script_to - place.script_from


def _slipped(place: Weighed) -> bool:
    return place.chance <= _SLIP and _swap(place)


def _heard_again(word: WordVerdict, place: Weighed) -> WordVerdict:
    """The same verdict, with what each hearing of its place had and what the odds were."""
    hearings = {
        "with no help from the script": place.free,
        "leaning to the script": place.lean,
    }
    if place.contested:
        hearings["with every small word contested"] = place.contest
    had = "; ".join(f"{how}, “{what}”" if what else f"{how}, nothing" for how, what in hearings.items())
    rival = f"“{place.rival}”" if place.rival else "nothing"
    told = (
        f"heard {'three' if place.contested else 'two'} ways: {had}. Compared once more, the chance that "
        f"“{place.script}” was said rather than {rival} is {_percent(place.chance)}"
    )
    if word.verdict == "changed" and not place.bearable:
        told += ". What was said instead, the two ears do not agree on"
        return decided(word, "place heard again", told, heard=SOMETHING_ELSE)
    return decided(word, "place heard again", told)


def _percent(chance: float) -> str:
    """A chance in words that never claim certainty: under 1 %, 43 %, over 99 %."""
    if chance < _SMALLEST_SHOWN:
        return "under 1 %"
    return "over 99 %" if chance > 1 - _SMALLEST_SHOWN else f"{chance:.0%}".replace("%", " %")


def _seen(word: WordVerdict, chance: float, place: Weighed) -> WordVerdict:
    if word.verdict == "said":
        return word
    told = (
        "seen with the whole run-through, where other words were seldom swapped or the voice was hard to "
        f"follow, the chance that it was said is {_percent(chance)}"
    )
    if chance < SAID:
        sure = None if word.heard is None else min(chance, TIE)
        return decided(word, "whole run-through", told, verdict="unsure", confidence=sure)
    start, end = (place.start, place.end) if word.start is None else (word.start, word.end)
    changes = {
        "verdict": "said",
        "heard": word.text.lower(),
        "start": start,
        "end": end,
        "confidence": chance,
    }
    return decided(word, "whole run-through", told, **changes)
