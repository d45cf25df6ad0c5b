"""Restarts: words of the script that were said again, from one place or several, perhaps heard only in part.

A performer who stumbles goes back a little and begins again. What is heard beside the script then is the
script itself, from some words before: "and sleep in, and sleep in dull cold marble".
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from offbook.notes.quoting import SpokenScript

# All set by hand.
_REACH = 60  # words that a performer may go back, about half a minute of speech
_ALIKE = 0.5  # two words of at least this likeness in letters, with the same first letter, may be one word
# What a repeated word costs if the recogniser half heard it; another word costs 1, the word itself nothing.
_HALF_HEARD = 0.4
_GOING_BACK = 0.25  # what it costs to go back once more within one restart
_MOST_COST = 0.34  # a restart costs at most this for each word, so one word in three may be another one
# Repeated words, at least: those that end at the place or go on from there, and those from anywhere about.
_FEWEST_NEAR, _FEWEST_ANYWHERE = 3, 4
# Words from far away: at least so many, because fewer are there by chance; at least so much of them must be
# word for word; and so many places are tried.
_FEWEST_JUMPED, _JUMPED_SHARE, _PLACES_TRIED = 4, 0.7, 3


@dataclass(frozen=True, slots=True)
class Restart:
    """Script words first to last were said again.

    exact: every one of them was said word for word. ahead: they lie behind the place, so the performer had
    jumped ahead and came back.
    """

    first: int
    last: int
    exact: bool
    ahead: bool = False


def find_restart(page: SpokenScript, place: int, said: Sequence[str]) -> Restart | None:
    """Which words of the script `said` repeats, if it was heard before script word `place`.

    One or two words must be those just before the place, or those from the place on. Of three or more, one
    in three may be another word, but they must lead up to the place again, or be a longer part of the script
    from elsewhere. None where nothing is repeated.
    """
    count = len(said)
    if not count:
        return None
    if page.is_word_for_word(place, said):
        return Restart(place, place + count - 1, True)
    if page.is_word_for_word(place - count, said):
        return Restart(place - count, place - 1, True)
    if page.is_roughly(place, said):
        return Restart(place, place + count - 1, False)
    if page.is_roughly(place - count, said):
        return Restart(place - count, place - 1, False)
    if count < _FEWEST_NEAR:
        return None
    for start in range(max(0, place - _REACH), min(len(page), place + _REACH)):
        near = start <= place <= start + count + 1
        if page.is_word_for_word(start, said) and (near or count >= _FEWEST_ANYWHERE):
            return Restart(start, start + count - 1, True, ahead=start > place)
    from_several = _from_several_places(page, place, said)
    return from_several if from_several is not None else _from_far_away(page, place, said)


def _from_far_away(page: SpokenScript, place: int, said: Sequence[str]) -> Restart | None:
    """`said` as a part of the script far from the place, most of it word for word; None if it is none."""
    if len(said) < _FEWEST_JUMPED:
        return None
    votes = Counter(i - k for k, token in enumerate(said) for i in page.words_with_form.get(token, ()))
    likely = sorted(votes, key=lambda start: (-votes[start], abs(start - place)))[:_PLACES_TRIED]
    best, most = None, _JUMPED_SHARE
    for start in likely:
        first, last = max(0, start), min(len(page), start + len(said)) - 1
        like = Levenshtein.normalized_similarity(page.forms[first : last + 1], list(said))
        if like > most:
            best, most = Restart(first, last, like == 1.0, ahead=first > place), like
    return best


@dataclass(frozen=True, slots=True)
class _Path:
    """A way to read what was said as words of the script, up to one of its words.

    cost: of its words so far. next_word: the script word that is expected next. first, last: the first and
    last script word that it has had.
    """

    cost: float
    next_word: int
    first: int
    last: int


def _from_several_places(page: SpokenScript, place: int, said: Sequence[str]) -> Restart | None:
    """`said` as several parts of the script near the place, one after the other; None if it costs too much.

    Each part begins no later than where the one before it ended, and the last one leads up to the place.
    """
    lowest = max(0, place - _REACH)
    paths = {place: _Path(-_GOING_BACK, place, len(page), -1)}
    for token in said:
        step: dict[int, _Path] = {}
        reached = range(lowest, min(max(paths), len(page) - 1) + 1)
        costs = {start: _cost_of(page, start, token) for start in reached}
        for path in paths.values():
            for start in range(lowest, min(path.next_word, len(page) - 1) + 1):
                back = _GOING_BACK if start < path.next_word else 0.0
                cost = path.cost + back + costs[start]
                if start + 1 not in step or cost < step[start + 1].cost:
                    step[start + 1] = _Path(cost, start + 1, min(path.first, start), max(path.last, start))
        paths = step
    arrived = [p for p in paths.values() if p.next_word >= place - 1 and p.cost <= _MOST_COST * len(said)]
    if not arrived:
        return None
    best = min(arrived, key=lambda p: (p.cost, -p.next_word))
    return Restart(best.first, best.last, False)


def _cost_of(page: SpokenScript, i: int, token: str) -> float:
    """What it costs to take a heard word for script word `i`: 0, `_HALF_HEARD`, or 1 for another word."""
    if page.says(i, token):
        return 0.0
    form = page.forms[i]
    alike = form[:1] == token[:1] and Levenshtein.normalized_similarity(form, token) >= _ALIKE
    return _HALF_HEARD if alike else 1.0
