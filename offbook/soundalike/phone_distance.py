"""How alike two sounds are: a distance between phones, and between strings of phones.

Phones are the ARPAbet symbols of the CMU Pronouncing Dictionary. Consonants differ by place, manner
and voice, vowels by height and backness, roundly as the chart of the International Phonetic Association
lays them out; the weights are our own. 0 is the same sound, 1 two sounds with nothing in common. Stress
digits are ignored.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

# height (0 close, 1 open), backness (0 front, 1 back), glide at the end, r-colour
_VOWELS: dict[str, tuple[float, float, float, float]] = {
    "IY": (0.00, 0.00, 0, 0),
    "IH": (0.25, 0.15, 0, 0),
    "EY": (0.40, 0.05, 1, 0),
    "EH": (0.60, 0.15, 0, 0),
    "AE": (0.85, 0.20, 0, 0),
    "AA": (1.00, 0.80, 0, 0),
    "AO": (0.75, 1.00, 0, 0),
    "OW": (0.45, 1.00, 1, 0),
    "UH": (0.25, 0.85, 0, 0),
    "UW": (0.00, 1.00, 0, 0),
    "AH": (0.60, 0.55, 0, 0),
    "ER": (0.50, 0.55, 0, 1),
    "AY": (0.80, 0.35, 1, 0),
    "AW": (0.85, 0.65, 1, 0),
    "OY": (0.55, 0.70, 1, 0),
}

# place (0 lips to 7 glottis), manner, voiced
_CONSONANTS: dict[str, tuple[int, str, bool]] = {
    "P": (0, "stop", False),
    "B": (0, "stop", True),
    "M": (0, "nasal", True),
    "W": (0, "glide", True),
    "F": (1, "fricative", False),
    "V": (1, "fricative", True),
    "TH": (2, "fricative", False),
    "DH": (2, "fricative", True),
    "T": (3, "stop", False),
    "D": (3, "stop", True),
    "S": (3, "fricative", False),
    "Z": (3, "fricative", True),
    "N": (3, "nasal", True),
    "L": (3, "liquid", True),
    "R": (4, "liquid", True),
    "SH": (4, "fricative", False),
    "ZH": (4, "fricative", True),
    "CH": (4, "affricate", False),
    "JH": (4, "affricate", True),
    "Y": (5, "glide", True),
    "K": (6, "stop", False),
    "G": (6, "stop", True),
    "NG": (6, "nasal", True),
    "HH": (7, "fricative", False),
}
VOWELS = tuple(_VOWELS)
PHONES = (*VOWELS, *_CONSONANTS)
_NEAR_MANNERS = {
    frozenset(("stop", "affricate")): 0.25,
    frozenset(("fricative", "affricate")): 0.25,
    frozenset(("liquid", "glide")): 0.25,
    frozenset(("stop", "fricative")): 0.35,
    frozenset(("stop", "nasal")): 0.35,
    frozenset(("nasal", "liquid")): 0.4,
}
_VOICE = 0.15
_PLACE_STEP, _PLACE_MOST = 0.1, 0.4
_OFF = 0.5  # a sound left out or put in
_OFF_WEAK = {"HH": 0.3, "AH0": 0.3, "IH0": 0.3, "T": 0.35, "D": 0.35, "Y": 0.35, "R": 0.4, "ER0": 0.4}
_VOWEL_OFF = 0.7


def bare(phone: str) -> str:
    """The phone without its stress digit."""
    return phone.rstrip("012")


@cache
def apart(a: str, b: str) -> float:
    """How far apart two phones sound, 0 to 1."""
    a, b = bare(a), bare(b)
    if a == b:
        return 0.0
    if a in _VOWELS and b in _VOWELS:
        (h1, k1, g1, r1), (h2, k2, g2, r2) = _VOWELS[a], _VOWELS[b]
        far = math.hypot(h1 - h2, k1 - k2)
        return min(1.0, 0.1 + 0.7 * far + 0.1 * abs(g1 - g2) + 0.2 * abs(r1 - r2))
    if a in _CONSONANTS and b in _CONSONANTS:
        (p1, m1, v1), (p2, m2, v2) = _CONSONANTS[a], _CONSONANTS[b]
        manner = 0.0 if m1 == m2 else _NEAR_MANNERS.get(frozenset((m1, m2)), 0.55)
        return min(1.0, manner + _VOICE * (v1 != v2) + min(_PLACE_MOST, _PLACE_STEP * abs(p1 - p2)))
    pair = {a, b}
    if pair in ({"W", "UW"}, {"Y", "IY"}, {"R", "ER"}):
        return 0.3
    return 1.0


@cache
def missing(phone: str) -> float:
    """What it costs to leave a phone out, or put it in."""
    if phone in _OFF_WEAK:
        return _OFF_WEAK[phone]
    return _VOWEL_OFF if bare(phone) in _VOWELS else _OFF


def distance(a: Sequence[str], b: Sequence[str]) -> float:
    """The least sum of differences that turns phones `a` into phones `b` (weighted edit distance)."""
    row = [0.0]
    for y in b:
        row.append(row[-1] + missing(y))
    for x in a:
        above, row = row, [row[0] + missing(x)]
        for j, y in enumerate(b, 1):
            row.append(min(above[j] + missing(x), row[-1] + missing(y), above[j - 1] + apart(x, y)))
    return row[-1]


def likeness(a: Sequence[str], b: Sequence[str]) -> float:
    """1 where two strings of phones sound the same, 0 where they have nothing in common."""
    if not a or not b:
        return 0.0
    most = max(sum(map(missing, a)), sum(map(missing, b)))
    return max(0.0, 1.0 - distance(a, b) / most)
