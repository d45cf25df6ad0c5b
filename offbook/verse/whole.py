"""Choosing the metre for a whole passage, and the foot and length of line for each place in the stanza.

A stanza form is a repeating list of lines, each with its foot and its number of feet: one line of five
iambs (blank verse), four and three in turn (ballad measure), four short trochaic lines and a long iambic
one. The form with the least cost over all lines is taken; every freedom it uses has its price, so that a
simpler form wins where it fits nearly as well. A block (a stanza, a song in a play) that keeps clearly to
a form of its own gets it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from offbook.verse.beats import MetricalReading, metrical_readings
from offbook.verse.costs import CHOOSING, READING, Purpose
from offbook.verse.metres import ANAPAESTIC, IAMBIC, METRES, TROCHAIC, Foot
from offbook.verse.syllables import VerseWord

LONGEST_STANZA = 26
# a longer line than this, in words, is no verse line
LONGEST_LINE = 45
# so many lines settle the form of a long text
SAMPLE = 160
_NO_READING = 40.0
_OTHER_LENGTH = 3.0
_OTHER_FOOT = 7.0
_OFF_LENGTH = 2.2
# what it may cost, natural log units, to sound a word in full so that the line fills its place; set by hand
# after "temperate" (3.9); no line of the hand-scanned verse is read otherwise for it
_IN_FULL = 4.5
_ALEXANDRINE = 1.4
# How much dearer than blank verse another metre is, whatever the lines: the rarer, the more (set by hand).
_RARER = {"iambic": 0.0, "trochaic": 0.5, "anapaestic": 1.0, "dactylic": 2.5}
_OTHER_THAN_FIVE = 0.5
# Stanzas that everybody uses, as feet and lengths, and what taking one costs: hymns and ballads, short
# measure, poulter's measure, the limerick.
_USUAL_STANZAS: tuple[tuple[Foot, tuple[int, ...], float], ...] = (
    (IAMBIC, (4, 3), 2.0),
    (IAMBIC, (3, 3, 4, 3), 2.0),
    (IAMBIC, (6, 7), 4.0),
    (ANAPAESTIC, (3, 3, 2, 2, 3), 2.0),
)
_OWN_FORM = 8.0
_OWN_FORM_A_LINE = 1.2
# When a block of lines is read in a form of its own: it has so many lines, and each costs so much in the form
# of the whole passage. Set by hand.
_LEAST_BLOCK, _UNFIT = 4, 3.0


class LineReadings:
    """A line and its readings, each metre read when it is first asked for."""

    def __init__(self, tokens: Sequence[VerseWord]) -> None:
        self.tokens = tokens
        self._found: dict[tuple[str, Purpose, float], dict[int, MetricalReading]] = {}

    def read(
        self, foot: Foot, purpose: Purpose = CHOOSING, freedom: float = 0.0
    ) -> dict[int, MetricalReading]:
        """The cheapest reading for each number of beats; empty for what is no verse line."""
        key = (foot.name, purpose, freedom if foot.duple else 0.0)
        if key not in self._found:
            long = len(self.tokens) > LONGEST_LINE
            self._found[key] = {} if long else metrical_readings(self.tokens, foot, purpose, key[2])
        return self._found[key]


@dataclass(frozen=True, slots=True)
class StanzaLine:
    """One line of the stanza form."""

    foot: Foot
    beats: int


@dataclass(frozen=True, slots=True)
class Whole:
    """The form of the passage: the places of the stanza, in order, and the cost of all lines in it."""

    places: tuple[StanzaLine, ...]
    cost: float

    def at(self, k: int) -> StanzaLine:
        """The place of line `k`, counted from 0."""
        return self.places[k % len(self.places)]


def _off(reading: MetricalReading, place: StanzaLine) -> float:
    if place.foot is IAMBIC and (place.beats, reading.beats) == (5, 6):
        return reading.cost + _ALEXANDRINE
    return reading.cost + _OFF_LENGTH * min(2, abs(reading.beats - place.beats))


def line_cost(line: LineReadings, place: StanzaLine) -> float:
    """The cost of a line at a place: its best reading there, another number of beats costing more."""
    return min((_off(r, place) for r in line.read(place.foot).values()), default=_NO_READING)


def turned(chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine]) -> list[StanzaLine]:
    """The places, iambic or trochaic by the poem as a whole; its lines as they were read.

    A line of seven syllables that begins and ends on a beat can be called either. Among the lines of one
    length, the metre is trochaic where more of them begin on the beat than off it.
    """
    found = list(places)
    for beats in {place.beats for place in places if place.foot in (IAMBIC, TROCHAIC)}:
        held = [k for k, p in enumerate(places) if p.beats == beats and p.foot in (IAMBIC, TROCHAIC)]
        read = [r.labels for k in held if (r := chosen[k]) is not None]
        falling = sum(x.startswith("sws") for x in read)
        rising = sum(x.startswith(("ws", "wws", "sww")) for x in read)
        if falling != rising:
            for k in held:
                found[k] = StanzaLine(TROCHAIC if falling > rising else IAMBIC, beats)
    return found


def best_reading(
    line: LineReadings, place: StanzaLine, purpose: Purpose, freedom: float = 0.0
) -> MetricalReading | None:
    """The line read at a place; None where no reading was found.

    A word is not elided to lose the line a foot ("temperate" in two) where sounded in full the line fills its
    place at little more cost.
    """
    found = line.read(place.foot, purpose, freedom)
    best = min(found.values(), key=lambda r: _off(r, place), default=None)
    full = found.get(place.beats)
    if best is None or full is None or best.beats >= place.beats:
        return best
    fills = len(full.labels) == len(place.foot.plain) * place.beats > len(best.labels)
    return full if fills and full.cost - best.cost <= _IN_FULL else best


def _candidates(lines: Sequence[LineReadings]) -> list[StanzaLine]:
    """The places worth trying: the foot and length that some lines take of themselves."""
    counts: Counter[tuple[int, int]] = Counter()
    for line in lines:
        for f, foot in enumerate(METRES):
            if each := line.read(foot):
                counts[f, min(each.values(), key=lambda r: r.cost).beats] += 1
    return [StanzaLine(METRES[f], beats) for (f, beats), n in counts.items() if n >= max(1, len(lines) // 40)]


def fitting_form(lines: Sequence[LineReadings], stanza: int | None = None, rhymed: bool = True) -> Whole:
    """The form that fits `lines` best.

    stanza: the number of lines in a printed stanza, if all agree. rhymed: whether the lines rhyme; lines of
    unlike length in a fixed order are not looked for where they do not.
    """
    candidates = _candidates(lines) or [StanzaLine(IAMBIC, 5)]
    table = [[line_cost(line, place) for place in candidates] for line in lines]
    single = [sum(row[k] for row in table) + _rare(place) for k, place in enumerate(candidates)]
    main = min(range(len(candidates)), key=single.__getitem__)
    best = Whole((candidates[main],), single[main])
    for foot, lengths, price in _USUAL_STANZAS:
        form = _usual(lines, tuple(StanzaLine(foot, beats) for beats in lengths), price)
        if rhymed and form.cost < best.cost:
            best = form
    periods = range(2, min(LONGEST_STANZA, len(lines) // 2) + 1)
    for period in periods if rhymed or stanza else ():
        form = _form(table, candidates, main, period)
        if form.cost + (0.0 if period == stanza else 1.0) < best.cost:
            best = form
    return best


def _rare(place: StanzaLine) -> float:
    return _RARER[place.foot.name] + (0.0 if place == StanzaLine(IAMBIC, 5) else _OTHER_THAN_FIVE)


def _usual(lines: Sequence[LineReadings], places: tuple[StanzaLine, ...], price: float) -> Whole:
    """The lines in a stanza of these places."""
    cost = sum(line_cost(line, places[k % len(places)]) for k, line in enumerate(lines))
    return Whole(places, cost + price)


def _form(
    table: Sequence[Sequence[float]], candidates: Sequence[StanzaLine], main: int, period: int
) -> Whole:
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


def forms_by_block(lines: Sequence[LineReadings], blocks: Sequence[int], main: Whole) -> list[StanzaLine]:
    """The place of every line: in the passage's form `main`, or in a block's own where it fits far better."""
    places = [main.at(k) for k in range(len(lines))]
    starts = [k for k in range(len(lines)) if k == 0 or blocks[k] != blocks[k - 1]]
    if len(starts) <= 1 or len(lines) <= len(main.places):
        return places
    for a, b in zip(starts, [*starts[1:], len(lines)], strict=True):
        held = [main.at(k - a) for k in range(a, b)] if len(main.places) > 1 else places[a:b]
        if len(main.places) > 1 and _cost(lines[a:b], held) <= _cost(lines[a:b], places[a:b]):
            places[a:b] = held
        cost = _cost(lines[a:b], places[a:b])
        if not _LEAST_BLOCK <= b - a <= SAMPLE or cost < _UNFIT * (b - a):
            continue
        own = fitting_form(lines[a:b])
        if own.cost + _OWN_FORM + _OWN_FORM_A_LINE * (b - a) < cost:
            places[a:b] = [own.at(k) for k in range(b - a)]
    return places


def _cost(lines: Sequence[LineReadings], places: Sequence[StanzaLine]) -> float:
    return sum(line_cost(line, place) for line, place in zip(lines, places, strict=True))


def read_at_places(
    lines: Sequence[LineReadings], places: Sequence[StanzaLine]
) -> list[MetricalReading | None]:
    """Each line read at its place, with the freedom that the whole passage shows."""
    freedom = _freedom(lines[:SAMPLE], places[:SAMPLE])
    return [best_reading(line, place, READING, freedom) for line, place in zip(lines, places, strict=True)]


# of a hundred feet of two syllables, how many usually have a third
_USUAL = 0.02
_PRIOR = 80
_LEAST = -0.2


# how unwilling the reading is that finds them
_STRICT = -1.5


def _freedom(lines: Sequence[LineReadings], places: Sequence[StanzaLine]) -> float:
    """How much more often than usual two weak syllables are together in these lines, as log odds.

    Counted where no elision can part them, in a reading that takes every elision there is.
    """
    chosen = [
        best_reading(line, place, CHOOSING, _STRICT)
        for line, place in zip(lines, places, strict=True)
        if place.foot.duple
    ]
    read = [r for r in chosen if r is not None]
    doubles = sum(len(re.findall("(?<=s)ww(?=s)", r.labels[1:])) + r.labels.startswith("wws") for r in read)
    feet = sum(r.beats for r in read)
    rate = (doubles + _USUAL * _PRIOR) / (feet + _PRIOR)
    return round(max(_LEAST, min(1.0, math.log(rate / _USUAL))), 2)
