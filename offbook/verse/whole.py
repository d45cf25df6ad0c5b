"""Choosing the metre for a whole passage: the foot and the length of the line at each place in the stanza.

A stanza form is a list of lines that is repeated, each with its foot and its number of feet: one line of five
iambs (blank verse), four and three in turn (ballad measure), four short trochaic lines and a long iambic one.
The form with the lowest cost over all lines is chosen. Every freedom that a form takes has a price, so that a
simpler form is chosen if it fits nearly as well. A block (a stanza, a song in a play) that clearly has its
own form gets it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from offbook.verse.beats import MetricalReading, metrical_readings
from offbook.verse.costs import CHOOSING, READING, Purpose
from offbook.verse.metres import ANAPAESTIC, HEXAMETER, IAMBIC, METRES, PENTAMETER, TROCHAIC, Foot
from offbook.verse.syllables import VerseWord

# Set by hand: the most lines of a stanza, the most words of a line of verse, and how many lines of a long
# text are used to choose its form.
LONGEST_STANZA, LONGEST_LINE, SAMPLE = 26, 45, 160
# Costs in natural log units, set by hand on the hand-scanned poems (docs/verse.md).
_NO_READING = 40.0  # of a line that cannot be read in the foot
_OTHER_LENGTH = 3.0  # of a place in the stanza with a length that no place before has
# Of a place with another foot than the main one: the first, and a further one
_OTHER_FOOT, _OTHER_FOOT_AGAIN = 7.0, 3.0
_NOT_MAIN = 1.0  # of each place that is not like the main one
_OTHER_STANZA = 1.0  # of a form whose stanza is not as long as the printed one
_OFF_LENGTH = 2.2  # of each beat more or less than the place has, up to two
_MOST_OFF = 2  # beats
# What it may cost to say a word in full so that the line has all its syllables. "temperate" costs 3.9; no
# line of the hand-scanned verse is read differently because of it.
_IN_FULL = 4.5
_ALEXANDRINE = 1.4  # of six feet in a line of five, instead of _OFF_LENGTH
# How much more than blank verse another metre costs, for any lines: the rarer it is, the more.
_RARER = {"iambic": 0.0, "trochaic": 0.5, "anapaestic": 1.0, "dactylic": 2.5}
_OTHER_THAN_FIVE = 0.5
_CANDIDATE_SHARE = 40  # a foot and length is tried if at least one in so many lines has it by itself
# Common stanzas: their foot, their lengths, and the cost of using one: hymns and ballads, short measure,
# poulter's measure, the limerick.
_USUAL_STANZAS: tuple[tuple[Foot, tuple[int, ...], float], ...] = (
    (IAMBIC, (4, 3), 2.0),
    (IAMBIC, (3, 3, 4, 3), 2.0),
    (IAMBIC, (6, 7), 4.0),
    (ANAPAESTIC, (3, 3, 2, 2, 3), 2.0),
)
_OWN_FORM = 8.0  # of a block with its own form
_OWN_FORM_A_LINE = 1.2  # and for each of its lines
# A block may have its own form if it has so many lines, and if each costs so much in the form of the whole
# passage.
_LEAST_BLOCK, _UNFIT = 4, 3.0


class LineReadings:
    """A line with its readings in each metre, which are worked out when they are first needed."""

    def __init__(self, tokens: Sequence[VerseWord]) -> None:
        self.tokens = tokens
        self._found: dict[tuple[str, Purpose, float], dict[int, MetricalReading]] = {}

    def read(
        self, foot: Foot, purpose: Purpose = CHOOSING, freedom: float = 0.0
    ) -> dict[int, MetricalReading]:
        """The cheapest reading for each number of beats; empty for a line that is too long for verse."""
        key = (foot.name, purpose, freedom if foot.duple else 0.0)
        if key not in self._found:
            long = len(self.tokens) > LONGEST_LINE
            self._found[key] = {} if long else metrical_readings(self.tokens, foot, purpose, key[2])
        return self._found[key]


@dataclass(frozen=True, slots=True)
class StanzaLine:
    """One line of a stanza form: its foot and its number of beats."""

    foot: Foot
    beats: int


_BLANK_VERSE = StanzaLine(IAMBIC, PENTAMETER)


@dataclass(frozen=True, slots=True)
class Whole:
    """The form of a passage: the lines of its stanza in order, and the cost of the whole passage in it."""

    places: tuple[StanzaLine, ...]
    cost: float

    def at(self, k: int) -> StanzaLine:
        """The place of line `k`, counted from 0, in the stanza."""
        return self.places[k % len(self.places)]


def _cost_at_place(reading: MetricalReading, place: StanzaLine) -> float:
    """The cost of a reading at a place, with what it costs if its number of beats is not the place's."""
    if place.foot is IAMBIC and (place.beats, reading.beats) == (PENTAMETER, HEXAMETER):
        return reading.cost + _ALEXANDRINE
    return reading.cost + _OFF_LENGTH * min(_MOST_OFF, abs(reading.beats - place.beats))


def line_cost(line: LineReadings, place: StanzaLine) -> float:
    """The cost of a line at a place: that of its best reading there, if its number of beats may differ."""
    return min((_cost_at_place(r, place) for r in line.read(place.foot).values()), default=_NO_READING)


def turned(chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine]) -> list[StanzaLine]:
    """The places, with iambic or trochaic decided for the whole poem. The readings do not change.

    A line of seven syllables that begins and ends with a beat can be called either. Lines of one length are
    called trochaic if more of them begin with a beat than without.
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
    """The best reading of the line at a place; None if there is none.

    If the best reading elides a word ("temperate" in two syllables) and so has too few feet, the word is said
    in full, provided that this costs only a little more.
    """
    found = line.read(place.foot, purpose, freedom)
    best = min(found.values(), key=lambda r: _cost_at_place(r, place), default=None)
    full = found.get(place.beats)
    if best is None or full is None or best.beats >= place.beats:
        return best
    fills = len(full.labels) == len(place.foot.plain) * place.beats > len(best.labels)
    return full if fills and full.cost - best.cost <= _IN_FULL else best


def _candidates(lines: Sequence[LineReadings]) -> list[StanzaLine]:
    """The places worth trying: the foot and length with which some lines are cheapest."""
    counts: Counter[tuple[int, int]] = Counter()
    for line in lines:
        for f, foot in enumerate(METRES):
            if each := line.read(foot):
                counts[f, min(each.values(), key=lambda r: r.cost).beats] += 1
    enough = max(1, len(lines) // _CANDIDATE_SHARE)
    return [StanzaLine(METRES[f], beats) for (f, beats), n in counts.items() if n >= enough]


def fitting_form(lines: Sequence[LineReadings], stanza: int | None = None, rhymed: bool = True) -> Whole:
    """The form that fits `lines` best.

    stanza: the number of lines in a printed stanza, if all have the same. rhymed: whether the lines rhyme; if
    not, forms with lines of different lengths are not tried.
    """
    candidates = _candidates(lines) or [_BLANK_VERSE]
    table = [[line_cost(line, place) for place in candidates] for line in lines]
    single = [sum(row[k] for row in table) + _price_of_metre(place) for k, place in enumerate(candidates)]
    main = min(range(len(candidates)), key=single.__getitem__)
    best = Whole((candidates[main],), single[main])
    for foot, lengths, price in _USUAL_STANZAS:
        form = _usual_stanza(lines, tuple(StanzaLine(foot, beats) for beats in lengths), price)
        if rhymed and form.cost < best.cost:
            best = form
    periods = range(2, min(LONGEST_STANZA, len(lines) // 2) + 1)
    for period in periods if rhymed or stanza else ():
        form = _best_stanza(table, candidates, main, period)
        if form.cost + (0.0 if period == stanza else _OTHER_STANZA) < best.cost:
            best = form
    return best


def _price_of_metre(place: StanzaLine) -> float:
    """What it costs to take this metre for a passage: the rarer the metre, the more."""
    return _RARER[place.foot.name] + (0.0 if place == _BLANK_VERSE else _OTHER_THAN_FIVE)


def _usual_stanza(lines: Sequence[LineReadings], places: tuple[StanzaLine, ...], price: float) -> Whole:
    """The form with these places. price: of using it."""
    cost = sum(line_cost(line, places[k % len(places)]) for k, line in enumerate(lines))
    return Whole(places, cost + price)


def _best_stanza(
    table: Sequence[Sequence[float]], candidates: Sequence[StanzaLine], main: int, period: int
) -> Whole:
    """The best form with a stanza of `period` lines. table: the cost of each line at each candidate.

    main: the index of the candidate for the whole passage; places that differ from it have a price.
    """
    places, cost = [], math.log(period)
    known = {main}
    for at in range(period):
        rows = table[at::period]
        price = [0.0 if k in known else _OTHER_LENGTH for k in range(len(candidates))]
        for k, place in enumerate(candidates):
            if place.foot != candidates[main].foot:
                price[k] += _OTHER_FOOT if k not in known else _OTHER_FOOT_AGAIN
            price[k] += 0.0 if k == main else _NOT_MAIN
        sums = [sum(row[k] for row in rows) + price[k] for k in range(len(candidates))]
        k = min(range(len(candidates)), key=sums.__getitem__)
        known.add(k)
        places.append(candidates[k])
        cost += sums[k]
    return Whole(tuple(places), cost)


def forms_by_block(lines: Sequence[LineReadings], blocks: Sequence[int], main: Whole) -> list[StanzaLine]:
    """The place of every line, in the form of the passage or of its block.

    main: the form of the passage. A block has its own only if that is much better. blocks: the number of the
    block (stanza) of each line.
    """
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
    """The best reading of each line at its place, with the freedom that the whole passage has."""
    freedom = _freedom(lines[:SAMPLE], places[:SAMPLE])
    return [best_reading(line, place, READING, freedom) for line, place in zip(lines, places, strict=True)]


# The freedom of a passage, set by hand on the hand-scanned poems. The usual share of feet of two syllables
# that have a third one, which counts as much as so many feet of the passage; the least and the most freedom
# (log odds), and its decimals.
_USUAL, _PRIOR, _LEAST, _MOST_FREEDOM, _DECIMALS = 0.02, 80, -0.2, 1.0, 2
# The freedom (log odds) with which such feet are counted: negative, so that a word is elided wherever it can
# be.
_STRICT = -1.5


def _freedom(lines: Sequence[LineReadings], places: Sequence[StanzaLine]) -> float:
    """How much more often than usual two weak syllables follow one another in these lines, as log odds.

    They are counted in a reading with as many elisions as possible.
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
    return round(max(_LEAST, min(_MOST_FREEDOM, math.log(rate / _USUAL))), _DECIMALS)
