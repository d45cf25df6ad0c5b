"""Restarts: words of the script said over again, from one place or several, perhaps not quite heard.

A performer who stumbles goes back a little and takes another run at it. What is heard beside the
script then is the script itself, a few words back ("and sleep in, and sleep in dull cold marble").
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from offbook.notes.quoting import SpokenScript

_REACH = 60  # words that a performer may go back, about half a minute of speech
_ALIKE = 0.5  # least likeness in letters of a word that the recogniser half heard
_HALF_HEARD = 0.4  # price of a word that the recogniser half heard; that of another word is 1; set by hand
_PRICE = 0.34  # greatest mean price of a retraced word: one stranger in three
_JUMPED = 4  # words of a stretch from far away; fewer are there by chance
_OF_JUMP = 0.7  # of them at least must be word for word
_TRIES = 3
_BACK = 0.25  # price of going back again within one restart
_LEAST_NEAR, _LEAST_ANYWHERE = (
    3,
    4,
)  # words said again that are known for such near the place, and anywhere; by hand


@dataclass(frozen=True, slots=True)
class Retrace:
    """Script words first to last were said over again. exact: every one of them word for word.

    ahead: they lie after the place, so that the performer had jumped ahead and came back.
    """

    first: int
    last: int
    exact: bool
    ahead: bool = False


def retrace(page: SpokenScript, place: int, said: Sequence[str]) -> Retrace | None:
    """How `said`, heard before script word `place`, repeats the script about there; None if it does not.

    One or two words must be exactly those just before or just after the place; three or more may
    hold a stranger in three, and must lead up to the place again or be a longer stretch from elsewhere.
    """
    count = len(said)
    if not count:
        return None
    if page.same(place, said):
        return Retrace(place, place + count - 1, True)
    if page.same(place - count, said):
        return Retrace(place - count, place - 1, True)
    if page.about(place, said):
        return Retrace(place, place + count - 1, False)
    if page.about(place - count, said):
        return Retrace(place - count, place - 1, False)
    if count < _LEAST_NEAR:
        return None
    for start in range(max(0, place - _REACH), min(len(page), place + _REACH)):
        near = start <= place <= start + count + 1
        if page.same(start, said) and (near or count >= _LEAST_ANYWHERE):
            return Retrace(start, start + count - 1, True, ahead=start > place)
    pieces = _in_pieces(page, place, said)
    return pieces if pieces is not None else _elsewhere(page, place, said)


def _elsewhere(page: SpokenScript, place: int, said: Sequence[str]) -> Retrace | None:
    """`said` as a stretch of the script far from the place, most of it word for word: a jump."""
    if len(said) < _JUMPED:
        return None
    votes = Counter(i - k for k, token in enumerate(said) for i in page.spots.get(token, ()))
    likely = sorted(votes, key=lambda start: (-votes[start], abs(start - place)))[:_TRIES]
    best, most = None, _OF_JUMP
    for start in likely:
        first, last = max(0, start), min(len(page), start + len(said)) - 1
        like = Levenshtein.normalized_similarity(page.forms[first : last + 1], list(said))
        if like > most:
            best, most = Retrace(first, last, like == 1.0, ahead=first > place), like
    return best


@dataclass(frozen=True, slots=True)
class _Path:
    price: float
    pointer: int  # the script word expected next
    first: int
    last: int


def _in_pieces(page: SpokenScript, place: int, said: Sequence[str]) -> Retrace | None:
    """`said` as several runs at the place, each beginning no later than the one before had come."""
    lowest = max(0, place - _REACH)
    paths = {place: _Path(-_BACK, place, len(page), -1)}
    for token in said:
        step: dict[int, _Path] = {}
        reached = range(lowest, min(max(paths), len(page) - 1) + 1)
        unlike = {start: _unlike(page, start, token) for start in reached}
        for path in paths.values():
            for start in range(lowest, min(path.pointer, len(page) - 1) + 1):
                jump = _BACK if start < path.pointer else 0.0
                price = path.price + jump + unlike[start]
                if start + 1 not in step or price < step[start + 1].price:
                    step[start + 1] = _Path(price, start + 1, min(path.first, start), max(path.last, start))
        paths = step
    arrived = [p for p in paths.values() if p.pointer >= place - 1 and p.price <= _PRICE * len(said)]
    if not arrived:
        return None
    best = min(arrived, key=lambda p: (p.price, -p.pointer))
    return Retrace(best.first, best.last, False)


def _unlike(page: SpokenScript, i: int, token: str) -> float:
    """The price of a word: 0 for the word itself, `_HALF_HEARD`, or 1 for another word."""
    if page.says(i, token):
        return 0.0
    form = page.forms[i]
    alike = form[:1] == token[:1] and Levenshtein.normalized_similarity(form, token) >= _ALIKE
    return _HALF_HEARD if alike else 1.0
