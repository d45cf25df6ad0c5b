"""How similar two sounds are: the distance between two phones, and between two sequences of phones.

Phones are the ARPAbet symbols of the CMU Pronouncing Dictionary. Consonants differ in place, manner and
voice, vowels in height and backness, approximately as in the chart of the International Phonetic Association;
the weights are our own, set by hand. 0 means the same sound, 1 two sounds with nothing in common. Stress
digits are ignored.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

# The weights and positions below are all set by hand, the positions approximately from the vowel and
# consonant charts of the International Phonetic Association. Of each vowel: its height (0 close, 1 open) and
# backness (0 front, 1 back), and whether it ends in a glide and has an r-colour (1) or not (0).
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

# Of each consonant: its place (from 0 for the lips to 7 for the glottis), its manner, and whether it is
# voiced.
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
_OTHER_MANNER = 0.55  # of two consonants whose manners are not near
_VOICE = 0.15  # added if only one of them is voiced
_PLACE_STEP, _PLACE_MOST = 0.1, 0.4  # added for each step between their places, and the most that is added
# Of two vowels: any two; times the distance on the vowel chart; if only one has a glide; if only one has an
# r-colour.
_OTHER_VOWEL, _CHART, _GLIDE, _R_COLOUR = 0.1, 0.7, 0.1, 0.2
_HALF_VOWEL = 0.3  # of a vowel and the consonant that is nearly the same: W and UW
_CONSONANT_GAP = 0.5  # the cost of a consonant that is left out or added
# The same for sounds that are weak in running speech; vowels with their stress digit.
_WEAK_GAPS = {"HH": 0.3, "AH0": 0.3, "IH0": 0.3, "T": 0.35, "D": 0.35, "Y": 0.35, "R": 0.4, "ER0": 0.4}
_VOWEL_GAP = 0.7  # the cost of a vowel that is left out or added


def bare(phone: str) -> str:
    """The phone without its stress digit."""
    return phone.rstrip("012")


@cache
def distance_of_phones(a: str, b: str) -> float:
    """The distance between two phones, from 0 for the same to 1; stress digits are ignored."""
    a, b = bare(a), bare(b)
    if a == b:
        return 0.0
    if a in _VOWELS and b in _VOWELS:
        (h1, k1, g1, r1), (h2, k2, g2, r2) = _VOWELS[a], _VOWELS[b]
        far = math.hypot(h1 - h2, k1 - k2)
        return min(1.0, _OTHER_VOWEL + _CHART * far + _GLIDE * abs(g1 - g2) + _R_COLOUR * abs(r1 - r2))
    if a in _CONSONANTS and b in _CONSONANTS:
        (p1, m1, v1), (p2, m2, v2) = _CONSONANTS[a], _CONSONANTS[b]
        manner = 0.0 if m1 == m2 else _NEAR_MANNERS.get(frozenset((m1, m2)), _OTHER_MANNER)
        return min(1.0, manner + _VOICE * (v1 != v2) + min(_PLACE_MOST, _PLACE_STEP * abs(p1 - p2)))
    pair = {a, b}
    if pair in ({"W", "UW"}, {"Y", "IY"}, {"R", "ER"}):
        return _HALF_VOWEL
    return 1.0


@cache
def cost_of_gap(phone: str) -> float:
    """The cost of leaving a phone out or adding it."""
    if phone in _WEAK_GAPS:
        return _WEAK_GAPS[phone]
    return _VOWEL_GAP if bare(phone) in _VOWELS else _CONSONANT_GAP


def distance(a: Sequence[str], b: Sequence[str]) -> float:
    """The smallest cost of changing phones `a` into phones `b` (weighted edit distance)."""
    row = [0.0]
    for y in b:
        row.append(row[-1] + cost_of_gap(y))
    for x in a:
        above, row = row, [row[0] + cost_of_gap(x)]
        for j, y in enumerate(b, 1):
            row.append(
                min(
                    above[j] + cost_of_gap(x),
                    row[-1] + cost_of_gap(y),
                    above[j - 1] + distance_of_phones(x, y),
                )
            )
    return row[-1]


def likeness(a: Sequence[str], b: Sequence[str]) -> float:
    """How similar two sequences of phones sound: 1 for the same, 0 for nothing in common or an empty one."""
    if not a or not b:
        return 0.0
    most = max(sum(map(cost_of_gap, a)), sum(map(cost_of_gap, b)))
    return max(0.0, 1.0 - distance(a, b) / most)
