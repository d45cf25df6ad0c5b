"""Choosing the metre for a whole passage, and the foot and length of line for each place in the stanza.

A stanza form is a repeating list of lines, each with its foot and its number of feet: one line of five
iambs (blank verse), four and three in turn (ballad measure), four short trochaic lines and a long iambic
one. The form with the least cost over all lines is taken; every freedom it uses has its price, so that a
simpler form wins where it fits nearly as well.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from offbook.verse.beats import MOST_BEATS, Reading, readings
from offbook.verse.metres import METRES, Foot
from offbook.verse.syllables import Token

LONGEST_STANZA = 26
_NO_READING = 40.0
_OTHER_LENGTH = 3.0
_OTHER_FOOT = 7.0
_OFF_LENGTH = 2.2

Found = dict[str, dict[int, Reading]]


@dataclass(frozen=True, slots=True)
class Place:
    """One line of the stanza form."""

    foot: Foot
    beats: int


@dataclass(frozen=True, slots=True)
class Whole:
    """The form of the passage: the places of the stanza, in order, and the cost of all lines in it."""

    places: tuple[Place, ...]
    cost: float


def line_cost(found: Found, place: Place) -> float:
    """The cost of a line at a place: its best reading there, another number of beats costing more."""
    return min(
        (r.cost + _OFF_LENGTH * min(2, abs(r.beats - place.beats)) for r in found[place.foot.name].values()),
        default=_NO_READING,
    )


def best_reading(found: Found, place: Place) -> Reading | None:
    """The line read at a place; None where no reading was found."""
    return min(
        found[place.foot.name].values(),
        key=lambda r: r.cost + _OFF_LENGTH * min(2, abs(r.beats - place.beats)),
        default=None,
    )


def read_all(lines: Sequence[Sequence[Token]]) -> list[Found]:
    """Every line read in every metre."""
    return [{foot.name: readings(tokens, foot) for foot in METRES} for tokens in lines]


def _candidates(lines: Sequence[Found]) -> list[Place]:
    """The places worth trying: the foot and length that some lines take of themselves."""
    counts: Counter[tuple[str, int]] = Counter()
    for found in lines:
        for name, each in found.items():
            if each:
                counts[name, min(each.values(), key=lambda r: r.cost).beats] += 1
    feet = {foot.name: foot for foot in METRES}
    return [Place(feet[name], beats) for (name, beats), n in counts.items() if n >= max(1, len(lines) // 40)]


def choose(lines: Sequence[Found], stanza: int | None = None) -> Whole:
    """The form that fits `lines` best; `stanza`: the number of lines in a printed stanza, if all agree."""
    candidates = _candidates(lines) or [Place(METRES[0], min(5, MOST_BEATS))]
    table = [[line_cost(found, place) for place in candidates] for found in lines]
    single = [sum(row[k] for row in table) for k in range(len(candidates))]
    main = min(range(len(candidates)), key=single.__getitem__)
    best = Whole((candidates[main],), single[main])
    periods = range(2, min(LONGEST_STANZA, len(lines) // 2) + 1)
    for period in periods:
        form = _form(table, candidates, main, period)
        if form.cost + (0.0 if period == stanza else 1.0) < best.cost:
            best = form
    return best


def _form(table: Sequence[Sequence[float]], candidates: Sequence[Place], main: int, period: int) -> Whole:
    """The best stanza form of `period` lines, each departure from the `main` place priced."""
    places, cost = [], math.log(period)
    known = {main}
    for at in range(period):
        rows = table[at::period]
        price = [0.0 if k in known else _OTHER_LENGTH for k in range(len(candidates))]
        for k, place in enumerate(candidates):
            if place.foot != candidates[main].foot:
                price[k] += _OTHER_FOOT if k not in known else 3.0
            price[k] += 0.0 if k == main else 1.0
        sums = [sum(row[k] for row in rows) + price[k] for k in range(len(candidates))]
        k = min(range(len(candidates)), key=sums.__getitem__)
        known.add(k)
        places.append(candidates[k])
        cost += sums[k]
    return Whole(tuple(places), cost)


def read_in(lines: Sequence[Sequence[Token]], found: Sequence[Found], whole: Whole) -> list[Reading | None]:
    """Each line read at its place, with the freedom that the whole passage shows."""
    chosen = [best_reading(each, whole.places[k % len(whole.places)]) for k, each in enumerate(found)]
    freedom = _freedom([r for k, r in enumerate(chosen) if r and whole.places[k % len(whole.places)].foot.duple])
    if not freedom:
        return chosen
    again: list[Reading | None] = []
    for k, tokens in enumerate(lines):
        place = whole.places[k % len(whole.places)]
        if place.foot.duple:
            again.append(best_reading({place.foot.name: readings(tokens, place.foot, freedom)}, place))
        else:
            again.append(chosen[k])
    return again


_USUAL = 0.03


def _freedom(chosen: Sequence[Reading]) -> float:
    """How much more often than usual two weak syllables stand together in these lines, as log odds."""
    doubles = sum(len(re.findall("(?<=s)ww(?=s)", r.labels[1:])) + r.labels.startswith("wws") for r in chosen)
    feet = sum(r.beats for r in chosen)
    rate = (doubles + _USUAL * 30) / (feet + 30)
    return round(max(-0.5, min(1.0, math.log(rate / _USUAL))), 2)
