"""What the whole run-through says of its doubtful places: somebody who seldom slips is believed more readily.

A doubtful place is decided as soon as it is heard. At that moment nothing is known of the rest, so the odds
are those of somebody who says another word at one place in twelve, in a voice that the recogniser follows
well. When the whole run-through is known, every place is looked at again, for two reasons:

- If there were fewer swapped words than that, a doubtful one among them was more likely said as written.
- If the voice is hard to follow (acted, accented or badly recorded), a wording that leads by much says less
  than it does in a clear voice, and the script is believed more, whatever the doubt is about.

Only slips are softened. A word that counts as said is never taken back.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from offbook.hear.decide import SAID_FROM, WeighedPlace, chance_from
from offbook.hear.rescore import SettledSegment
from offbook.score import SOMETHING_ELSE, TIE, Extra, Run, WordVerdict, decided

# The chance of the script's wording up to which a place counts as a slip when slips are counted; set by hand.
_SLIP_CHANCE = 0.1
_ASSUMED_RATE = 0.08  # swapped words for each word heard, as a place is decided: about one in twelve
# These are added to what is counted, so that a short run-through does not pass for one without slips, and
# this is the weight of the logarithm of the rate. Fitted along with the odds (`bench/fit_weighing.py`).
_PRIOR_SLIPS, _PRIOR_WORDS, _RARITY_WEIGHT = 0.5, 30, 0.96
# Where the second ear weighed a place, the weight is this. It errs elsewhere than the first ear, so a slip
# that both hear is one, however rare. Set by hand: the fitted weight is 1.6, but on readings with many slips
# or none, and with it the only slip of a run-through would be taken for said.
_RARITY_WEIGHT_BOTH_EARS = 0.5
# How hard a voice is to follow is told, with one ear, by the script words that the leaning hearing had: the
# share of them that the contested hearing, where other words were as likely, had as other words. Up to the
# first share a voice is clear, from the second on it is as hard as can be.
_CLEAR_LOSS, _HARD_LOSS = 0.10, 0.14
_PRIOR_LOST, _PRIOR_HITS = 1.5, 30  # added to what is counted, so that a few words decide nothing
# With both ears it is told by the mean log probability that the second ear gives to what was heard. From the
# first value down a voice is clear no more, from the second on it is as hard as can be. Set on 84 voices
# (readers, talk, actors): where the mean is under -0.9, 13 % of the swapped small words pass and 3.1 % of the
# words said are called wrong; elsewhere 2.6 and 0.4 %.
_CLEAR_CERTAINTY, _HARD_CERTAINTY = -0.6, -1.0
_PRIOR_CERTAINTY, _PRIOR_CERTAIN_WORDS = -0.4, 20  # added to what is averaged: six readings have this mean
# What changes where the voice is as hard as can be: how much is added to the log odds of the script's
# wording, and the share by which the evidence counts less. Fitted on voices of actors
# (`bench/fit_weighing.py`).
_HARD_BIAS, _HARD_DISCOUNT = 2.6, 0.43
_SMALLEST_SHOWN = 0.01  # smaller chances are shown as "under 1 %", to claim no more than is known; by hand
_SMALLEST_CHANCE = 1e-9  # smaller chances are put to this, so that their log odds are finite


def reconsider(run: Run, settled: Sequence[SettledSegment], words: int) -> Run:
    """`run` with its doubtful places judged again by how often the speaker slips and how clear the voice is.

    settled: the segments with the places that were weighed in them. words: how many words were heard. Each
    verdict also gets the step that says what the hearings of its place had.
    """
    places = [w for each in settled for w in each.weighed if w.evidence]
    difficulty = voice_difficulty(settled)
    softened: dict[int, tuple[float, WeighedPlace]] = {}
    weighed: dict[int, WeighedPlace] = {}
    for place, rarity in zip(places, swap_rarities(places, words), strict=True):
        if not _in_its_order(run.words, place):
            continue
        chance = chance_from(log_odds_in_run(place, rarity, difficulty))
        # Where a place was said twice, the later saying counts, and the whole of the earlier one does not.
        softened = {i: each for i, each in softened.items() if not _same_words(each[1], place)}
        for i in range(place.script_from, place.script_to):
            weighed[i] = place
            if place.chance < SAID_FROM and chance > place.rival_up_to:
                softened[i] = chance, place
    softened_places = [place for _, place in softened.values()]
    explained = [_with_hearings_told(w, weighed[w.i]) if w.i in weighed else w for w in run.words]
    return replace(
        run,
        words=tuple(_softened(w, *softened[w.i]) if w.i in softened else w for w in explained),
        extras=tuple(x for x in run.extras if not any(_falls_in(x, place) for place in softened_places)),
    )


def voice_difficulty(settled: Sequence[SettledSegment]) -> float:
    """How hard the voice is for the recogniser to follow, from 0 (clear) to 1."""
    sure = [s.log_probability for each in settled for s in each.likelihoods]
    if sure:
        mean = (sum(sure) + _PRIOR_CERTAINTY * _PRIOR_CERTAIN_WORDS) / (len(sure) + _PRIOR_CERTAIN_WORDS)
        return _share_of_way(mean, _CLEAR_CERTAINTY, _HARD_CERTAINTY)
    leaning, contested = sum(s.leaning_hits for s in settled), sum(s.contested_hits for s in settled)
    lost = (leaning - contested + _PRIOR_LOST) / (leaning + _PRIOR_HITS)
    return _share_of_way(lost, _CLEAR_LOSS, _HARD_LOSS)


def _share_of_way(value: float, start: float, end: float) -> float:
    """How far a value has come on the way from `start` to `end`, at least 0 and at most 1."""
    return min(1.0, max(0.0, (value - start) / (end - start)))


def swap_rarities(places: Sequence[WeighedPlace], words: int) -> list[float]:
    """For each place, how much rarer than assumed words were swapped elsewhere in the run-through.

    The difference of the natural logarithms of the two rates, above 0 where swaps are rarer. The same script
    words said once more are not elsewhere. words: how many words were heard.
    """
    slips = [place for place in places if _is_slip(place)]
    elsewhere = (sum(not _same_words(place, slip) for slip in slips) for place in places)
    return [math.log(_ASSUMED_RATE * (words + _PRIOR_WORDS) / (n + _PRIOR_SLIPS)) for n in elsewhere]


def log_odds_of(place: WeighedPlace) -> float:
    """The natural logarithm of the odds for the script's wording by which the place was decided."""
    chance = min(1 - _SMALLEST_CHANCE, max(_SMALLEST_CHANCE, place.chance))
    return math.log(chance / (1 - chance))


def log_odds_in_run(place: WeighedPlace, rarity: float, difficulty: float) -> float:
    """The same, with what the whole run-through says.

    rarity: by how much swaps are rarer than assumed (`swap_rarities`); difficulty: how hard the voice is to
    follow (`voice_difficulty`).
    """
    odds, weight = log_odds_of(place), _RARITY_WEIGHT
    if not place.by_second:
        odds += difficulty * (_HARD_BIAS - _HARD_DISCOUNT * odds)
    else:  # how well the first ear follows the voice matters little where the second one decided
        weight = _RARITY_WEIGHT_BOTH_EARS
    return odds + weight * max(0.0, rarity) if _is_swap(place) else odds


def _in_its_order(words: Sequence[WordVerdict], place: WeighedPlace) -> bool:
    """Whether `place` was said between the words that the script has around it."""
    ends = (words[i].end for i in range(place.script_from - 1, -1, -1))
    starts = (words[i].start for i in range(place.script_to, len(words)))
    before = next((end for end in ends if end is not None), 0.0)
    after = next((start for start in starts if start is not None), math.inf)
    return before <= place.end and place.start <= after


def _falls_in(extra: Extra, place: WeighedPlace) -> bool:
    """Whether the middle of a word beside the script was said within the place."""
    return place.start <= (extra.start + extra.end) / 2 <= place.end


def _same_words(a: WeighedPlace, b: WeighedPlace) -> bool:
    """Whether two places share script words."""
    return a.script_from < b.script_to and b.script_from < a.script_to


def _is_swap(place: WeighedPlace) -> bool:
    """Whether the rival has as many words as the script has there."""
    return len(place.rival.split()) == place.script_to - place.script_from


def _is_slip(place: WeighedPlace) -> bool:
    """Whether words were almost certainly swapped at the place."""
    return place.chance <= _SLIP_CHANCE and _is_swap(place)


def _with_hearings_told(word: WordVerdict, place: WeighedPlace) -> WordVerdict:
    """The same verdict with one step more: what each hearing of its place had, and what the chance was."""
    told = f"{_hearings_told(place)} {_comparison_told(place)}"
    if word.verdict == "changed" and not place.quotable:
        told += ". The two ears do not agree on what was said instead, so it is not quoted"
        return decided(word, "place heard again", told, heard=SOMETHING_ELSE)
    return decided(word, "place heard again", told)


def _hearings_told(place: WeighedPlace) -> str:
    """How often the recogniser listened to the place, in which ways, and what it heard each time."""
    twice = (
        f"with no help from the script it heard {_quoted(place.free)}; expecting the script's words, "
        f"{_quoted(place.lean)}"
    )
    if place.was_contested:
        return (
            f"the recogniser listened three times: {twice}; with every small word competing against words "
            f"that sound like it, {_quoted(place.contest)}."
        )
    return (
        f"the recogniser listened twice: {twice}. Expecting the script, it heard the script here, so it did "
        "not listen a third time, with small words competing against others that sound like them."
    )


def _comparison_told(place: WeighedPlace) -> str:
    """Which ear compared the wordings of the place, and the chance that came of it."""
    how = (
        "Then the second ear compared the wordings on that sound"
        if place.by_second
        else "Then it listened to these words alone and compared the wordings"
    )
    otherwise = f"and not {_quoted(place.rival)}" if place.rival else "and not left out"
    return f"{how}: the chance that “{place.script}” was said, {otherwise}, is {_percent(place.chance)}"


def _quoted(wording: str) -> str:
    return f"“{wording}”" if wording else "nothing"


def _percent(chance: float) -> str:
    """A chance in words that never claim to be certain: under 1 %, 43 %, over 99 %."""
    if chance < _SMALLEST_SHOWN:
        return "under 1 %"
    return "over 99 %" if chance > 1 - _SMALLEST_SHOWN else f"{chance:.0%}".replace("%", " %")


def _softened(word: WordVerdict, chance: float, place: WeighedPlace) -> WordVerdict:
    """The verdict as unsure, or as said where the chance is high enough.

    chance: of the script's wording, with what the whole run-through says.
    """
    if word.verdict == "said":
        return word
    told = (
        "in the whole run-through few words were swapped, or the voice was hard to follow; taking that into "
        f"account, the chance that this one was said is {_percent(chance)}"
    )
    if chance < SAID_FROM:
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
