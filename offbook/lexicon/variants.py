"""Other lengths of a word in verse: elided (heaven in one syllable) and expanded (lovèd in two).

Poets count syllables by ear, and the print shows only some of these changes. Each pronunciation is given with
the shorter and longer forms that handbooks of English metre list (syncope, synaeresis, synaloepha, sounded
-ed; Bridges, "Milton's Prosody", 1921, from memory); the metre decides which one a line needs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from offbook.lexicon.cmudict_data import Phones

Variant = tuple[str, Phones]

_DIPHTHONGS = frozenset({"AY", "AW", "OY"})
_GLIDES = {"IY": "Y", "IH": "Y", "UW": "W", "OW": "W", "ER": "R"}
_LIQUID = frozenset({"R", "L", "N"})
_VEN = re.compile(
    r"(?:ea|e|i|o|y)(?:ven|vens|ven's|v'n)$|(?:fall|stol|swoll|op|tak|ris|chos|froz|oft|ev)en(?:'?s)?$"
)
_LIGHT = re.compile(
    r"(?:spirit|devil|evil|whether|either|neither|hither|thither|whither|rather|never|ever|over|seven)s?$"
)
_DISYLLABLE = 2  # syllables of the words that these contractions shorten to one: heaven, being, goest
_LEAST_PHONES = 3  # of a word in -ed: the ending alone has two
_EST = ("IH0", "S", "T")


def variants(word: str, phones: Phones) -> Iterator[Variant]:
    """For each other length of `word` said as `phones`: the name of the change, and its phones."""
    places = [i for i, p in enumerate(phones) if p[-1].isdigit()]
    yield from _diphthong_and_r(phones, places)
    yield from _hiatus(phones, places)
    yield from _syncope(phones, places)
    if len(places) == _DISYLLABLE and _VEN.search(word) and phones[places[1]][-1] == "0":
        yield "syncope of -en", phones[: places[1]] + phones[places[1] + 1 :]
    if _LIGHT.search(word) and len(places) == _DISYLLABLE:
        yield "old contraction", phones[: places[1]] + phones[places[1] + 1 :]
    if (
        re.search(r"[^e]ed$", word)
        and len(phones) >= _LEAST_PHONES
        and phones[-1] in ("D", "T")
        and not phones[-2][-1].isdigit()
    ) or (re.search(r"[aeiouy]ed$", word) and phones[-1] == "D" and phones[-2][-1] in "12"):
        yield "sounded -ed", (*phones[:-1], "IH0", "D")
    if re.search(r"[tscx]ion(?:s|'s)?$|ocean$", word) and len(places) > 1:
        yield "diaeresis of -ion", _split_ion(phones, places)
    if re.search(r"(?:e|ne)st$", word) and len(places) == _DISYLLABLE and phones[-len(_EST) :] == _EST:
        yield "syncope of -est", (*phones[: -len(_EST)], "S", "T")


def _diphthong_and_r(phones: Phones, places: list[int]) -> Iterator[Variant]:
    """fire, hour, power: one syllable or two."""
    for i, at in enumerate(places):
        base = phones[at][:-1]
        if base not in _DIPHTHONGS:
            continue
        after = phones[at + 1] if at + 1 < len(phones) else ""
        if after == "ER0":
            if i + 2 < len(places) and at + 2 == places[i + 2]:
                continue
            yield "power in one", (*phones[: at + 1], "R", *phones[at + 2 :])
        elif after == "R" and (at + 2 == len(phones) or not phones[at + 2][-1].isdigit()):
            yield "fire in two", (*phones[: at + 1], "ER0", *phones[at + 2 :])


def _hiatus(phones: Phones, places: list[int]) -> Iterator[Variant]:
    """Two vowels side by side said as one syllable: glorious, virtuous, being, violet."""
    for first, second in pairwise(places):
        if second != first + 1 or phones[second][-1] != "0":
            continue
        base, weak = phones[first][:-1], phones[first][-1] == "0"
        if weak and base in _GLIDES:
            yield "synaeresis", (*phones[:first], _GLIDES[base], *phones[second:])
        elif not weak and not (base in _DIPHTHONGS and phones[second] == "ER0"):
            name = "synaeresis after stress"
            if phones[second] == "ER0":
                name = "synaeresis of -er"  # player, lower: hardly ever one syllable
            elif phones[second : second + 2] == ("IH0", "NG"):
                name = "synaeresis of -ing"
            yield name, phones[:second] + phones[second + 1 :]


def _syncope(phones: Phones, places: list[int]) -> Iterator[Variant]:
    """An unstressed vowel before r, l or n and another unstressed vowel: wandering, every, reverence."""
    for before, at, after in zip(places, places[1:], places[2:], strict=False):
        if phones[at][-1] != "0" or phones[after][-1] != "0" or at == before + 1:
            continue
        if phones[at] == "ER0" and after == at + 1:
            yield "syncope", (*phones[:at], "R", *phones[at + 1 :])
        elif phones[at] != "ER0" and after == at + 2 and phones[at + 1] in _LIQUID:
            yield "syncope", phones[:at] + phones[at + 1 :]


def _split_ion(phones: Phones, places: list[int]) -> Phones:
    return (*phones[: places[-1]], "IY0", *phones[places[-1] :])
