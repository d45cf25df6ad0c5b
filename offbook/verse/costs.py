"""The weights of the reading: how much each word class leans to a beat, what each departure costs.

Named so that each can be argued with. The leanings are log odds (0: as often on a beat as off it); the
costs are natural log units. First set by hand, then adjusted on hand-scanned verse (see docs/verse.md).
"""

from __future__ import annotations

LEANING: dict[str, float] = {
    "article": -3.5,
    "and": -2.2,
    "of, to": -2.4,
    "preposition": -1.6,
    "heavy preposition": -0.8,
    "particle": 0.2,
    "conjunction": -1.1,
    "that": -1.0,
    "question word": -0.7,
    "be": -1.6,
    "auxiliary": -1.1,
    "subject": -1.1,
    "it": -2.0,
    "object": -1.0,
    "possessive": -1.7,
    "demonstrative": -0.4,
    "quantity": 0.0,
    "no": -0.3,
    "not": 0.0,
    "adverb": 0.2,
    "interjection": 0.0,
    "number": 0.4,
    "light verb": 0.8,
    "content": 1.9,
    # what the place in the line adds for a word of one syllable
    "at the line's end": 1.5,
    "before a pause": 0.5,
    "after a pause": 0.0,
    "at the line's start": 0.0,
    "function word before a strong one": -0.3,
    "function word before a weak one": 0.3,
    "function word after a strong one": 0.0,
    "content word before a strong one": -0.3,
    "content word after a strong one": -0.2,
    # syllables of longer words
    "main stress": 3.0,
    "main stress of a light word": 1.0,
    "secondary stress": 0.2,
    "secondary stress beside main": -0.6,
    "unstressed beside stress": -3.4,
    "unstressed apart": -0.7,
    "unstressed last": -0.4,
}

_DUPLE_RISING = {
    "start 0": 1.2,
    "start 1": 0.1,
    "start 2": 2.2,
    "start 3": 6.0,
    "inversion": 0.4,
    "headless": 1.2,
    "between 0": 2.0,
    "between 1": 0.0,
    "between 2": 2.0,
    "between 3": 6.0,
    "clash after double": 1.0,
    "double after clash": 0.3,
    "clash again": 1.0,
    "clash at pause": -0.8,
    "end 0": 0.0,
    "end 1": 1.0,
    "end 2": 3.0,
}
STEP: dict[str, dict[str, float]] = {
    "iambic": _DUPLE_RISING,
    "trochaic": _DUPLE_RISING
    | {"start 0": 0.0, "start 1": 1.6, "start 2": 3.5, "inversion": 2.0, "headless": 0.0, "end 0": 0.3, "end 1": 0.1, "end 2": 2.0},
    "anapaestic": _DUPLE_RISING
    | {"start 0": 1.2, "start 1": 0.5, "start 2": 0.2, "start 3": 4.0, "inversion": 0.3, "headless": 0.5,
       "between 0": 4.0, "between 1": 1.3, "between 2": 0.1, "between 3": 3.0, "end 1": 0.7, "end 2": 2.0},
    "dactylic": _DUPLE_RISING
    | {"start 0": 0.0, "start 1": 1.6, "start 2": 2.2, "inversion": 0.0, "headless": 0.0,
       "between 0": 4.0, "between 1": 1.3, "between 2": 0.1, "between 3": 3.0, "end 0": 0.3, "end 1": 0.2, "end 2": 0.2},
}  # fmt: skip

# what an elision, an expansion or a second pronunciation costs before the metre is asked
VARIANT: dict[str, float] = {
    "another pronunciation": 0.6,
    "a shorter pronunciation": 0.6,
    "synaeresis": 0.7,
    "syncope": 0.6,
    "syncope of -en": 0.8,
    "old contraction": 2.6,
    "fire in two": 1.0,
    "synaeresis of -ing": 1.0,
    "synaeresis after stress": 2.0,
    "sounded -ed": 3.0,
    "diaeresis of -ion": 4.0,
    "syncope of -est": 0.6,
    "synaloepha": 1.2,
    "synaloepha of to": 2.2,
    "synaloepha of -y": 0.8,
    "stress against the word": 2.5,
}
