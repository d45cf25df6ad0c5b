"""The weights of a reading: how likely each word class is to be on a beat, and what each variation costs.

Each weight has a name, so that it can be looked at and discussed. `LEANING` has log odds (0: as often on a
beat as off it); the costs are natural log units. There are two sets: those here choose the metre of a passage
(first set by hand, then adjusted on hand-scanned verse), those in `learnt` read a line if its metre is known.
To fit one set for both, many more poems would be needed: with one set the right metre was chosen for 75 of
100 passages instead of 90 (see docs/verse.md).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from offbook.verse import learnt

LEANING: dict[str, float] = {
    "article": -3.4,
    "and": -2.3,
    "of, to": -2.0,
    "preposition": -1.6,
    "heavy preposition": -0.6,
    "particle": 1.0,
    "conjunction": -1.4,
    "that": -1.2,
    "question word": -0.6,
    "be": -0.8,
    "auxiliary": -1.1,
    "subject": -0.6,
    "it": -2.2,
    "object": -0.7,
    "possessive": -1.8,
    "demonstrative": -0.1,
    "quantity": 0.4,
    "no": 0.2,
    "not": 0.0,
    "adverb": 0.2,
    "interjection": 0.0,
    "number": 0.2,
    "light verb": 0.6,
    "content": 1.8,
    # added for the place in the line of a word of one syllable
    "at the line's end": 1.5,
    "before a pause": 1.1,
    "after a pause": 0.2,
    "at the line's start": 0.0,
    "function word before a strong one": -0.3,
    "function word before a weak one": 0.5,
    "function word after a strong one": 0.0,
    "content word before a strong one": -0.1,
    "content word after a strong one": 0.0,
    # syllables of longer words
    "main stress": 2.0,
    "main stress of a light word": 1.1,
    "secondary stress": 0.0,
    "secondary stress beside main": -0.4,
    "unstressed beside stress": -2.2,
    "unstressed apart": -0.3,
    "unstressed last": -1.2,
}

_DUPLE_RISING = {
    "start 0": 1.0,
    "start 1": 0.0,
    "start 2": 2.2,
    "start 3": 6.0,
    "inversion": 0.9,
    "headless": 0.8,
    "between 0": 3.2,
    "between 1": 0.0,
    "between 2": 0.82,
    "between 3": 6.0,
    "clash after double": 4.0,
    "double after clash": 0.6,
    "clash again": 1.6,
    "clash at pause": -1.3,
    "end 0": 0.0,
    "end 1": 0.5,
    "end 2": 3.0,
}
_TRIPLE = {"between 0": 4.0, "between 1": 1.3, "between 2": 0.1, "between 3": 3.0}
STEP: dict[str, dict[str, float]] = {
    "iambic": _DUPLE_RISING,
    "trochaic": _DUPLE_RISING
    | {
        "start 0": 0.2,
        "start 1": 3.0,
        "start 2": 4.0,
        "inversion": 2.0,
        "headless": 0.0,
        "between 2": 1.8,
        "end 0": 0.8,
        "end 1": 0.1,
        "end 2": 2.0,
    },
    "anapaestic": _DUPLE_RISING
    | _TRIPLE
    | {
        "start 0": 1.2,
        "start 1": 0.5,
        "start 2": 0.2,
        "start 3": 4.0,
        "inversion": 0.3,
        "headless": 0.5,
        "end 1": 1.1,
        "end 2": 2.0,
    },
    "dactylic": _DUPLE_RISING
    | _TRIPLE
    | {
        "start 0": 0.0,
        "start 1": 1.6,
        "start 2": 2.2,
        "inversion": 0.0,
        "headless": 0.0,
        "end 0": 0.3,
        "end 1": 0.2,
        "end 2": 0.2,
    },
}

# the cost of an elision, an expansion or a second pronunciation, without the metre
VARIANT: dict[str, float] = {
    "another pronunciation": 1.2,
    "an old stress": 1.0,
    "a shorter pronunciation": 0.3,
    "synaeresis": 1.3,
    "syncope": 1.5,
    "syncope of -en": 1.8,
    "old contraction": 3.2,
    "fire in two": 0.9,
    "power in one": 0.4,
    "synaeresis of -ing": 2.0,
    "synaeresis of -er": 3.0,
    "synaeresis after stress": 1.8,
    "sounded -ed": 3.6,
    "diaeresis of -ion": 4.0,
    "syncope of -est": 1.0,
    "synaloepha": 3.0,
    "synaloepha of to": 2.8,
    "synaloepha of -y": 3.0,
    "stress against the word": 1.2,
    "stress turned at the line's end": 2.5,
}

Purpose = Literal[0, 1]
CHOOSING: Purpose = 0
READING: Purpose = 1


@dataclass(frozen=True, slots=True)
class Costs:
    """One set of weights. freedom: the factor on a poem's freedom (`whole`)."""

    leaning: Mapping[str, float]
    step: Mapping[str, Mapping[str, float]]
    variant: Mapping[str, float]
    freedom: float


# by purpose: choosing the metre, reading in it
COSTS = (
    Costs(LEANING, STEP, VARIANT, 1.0),
    Costs(learnt.LEANING, learnt.STEP, learnt.VARIANT, learnt.FREEDOM),
)
