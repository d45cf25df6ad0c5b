"""Guesses how a word that is in no dictionary may sound, from its letters.

It uses letter-to-sound rules of English spelling, the longest first (the approach of Elovitz, Johnson, McHugh
and Shore, Naval Research Laboratory report 7948, 1976; the few rules here are our own). The guess need not be
right, only similar, because it is compared with other sounds later.
"""

from __future__ import annotations

import re

from offbook.soundalike.phone_distance import distance_of_phones

Phones = tuple[str, ...]

# The phones of letters, set by hand; at each place the longest rule that fits is used. "^" is the beginning
# of a word and "$" its end.
_RULES: dict[str, str] = {
    "tch": "CH", "dge": "JH", "igh": "AY", "eigh": "EY", "ough": "AO", "augh": "AO", "tion": "SH AH N",
    "sion": "ZH AH N", "cian": "SH AH N", "ture": "CH ER", "sch": "SH", "^kn": "N", "^gn": "N",
    "^wr": "R", "^ps": "S", "^x": "Z", "mb$": "M", "ph": "F", "ch": "CH", "sh": "SH", "th": "TH", "wh": "W",
    "ck": "K", "qu": "K W", "ng$": "NG", "ng": "NG G", "nk": "NG K", "gh": "G", "rh": "R", "sc": "S K",
    "ce$": "S", "ge$": "JH", "se$": "Z", "ve$": "V", "ces$": "S IH Z", "ges$": "JH IH Z", "ses$": "S IH Z",
    "ches$": "CH IH Z", "shes$": "SH IH Z", "zes$": "Z IH Z", "xes$": "K S IH Z", "ted$": "T IH D",
    "ded$": "D IH D", "cious$": "SH AH S", "tious$": "SH AH S", "ious$": "IY AH S", "ous$": "AH S",
    "us$": "AH S", "ful$": "F AH L", "less$": "L AH S", "ness$": "N AH S", "en$": "AH N", "ens$": "AH N Z",
    "an$": "AH N", "al$": "AH L", "el$": "AH L", "on$": "AH N", "ia": "IY AH", "io": "IY OW", "eo": "IY OW",
    "uni": "Y UW N IH", "i$": "IY", "chr": "K R", "mc": "M AH K", "wor": "W ER", "ue": "UW",
    "eau": "OW", "ment": "M AH N T", "tial": "SH AH L", "cial": "SH AH L", "ea$": "IY AH", "ough$": "OW",
    "ai": "EY", "ay": "EY", "au": "AO", "aw": "AO", "ea": "IY", "ee": "IY", "ei": "EY", "ey$": "IY",
    "ys$": "IY Z", "ey": "EY", "eu": "UW", "ew": "UW", "ie": "IY", "oa": "OW", "oe": "OW", "oi": "OY",
    "oy": "OY", "oo": "UW", "ou": "AW", "ow": "OW", "ue$": "UW", "ui": "UW",
    "ar": "AA R", "er": "ER", "ir": "ER", "or": "AO R", "ur": "ER", "yr": "IH R", "ear": "IH R",
    "air": "EH R", "are$": "EH R", "ere$": "IH R", "ire$": "AY ER", "ore$": "AO R", "ure$": "UH R",
    "oor": "AO R", "our": "AW ER", "eer": "IH R", "ier": "IH R",
    "a": "AE", "b": "B", "c": "K", "d": "D", "e": "EH", "f": "F", "g": "G", "h": "HH", "i": "IH", "j": "JH",
    "k": "K", "l": "L", "m": "M", "n": "N", "o": "AA", "p": "P", "r": "R", "s": "S", "t": "T", "u": "AH",
    "v": "V", "w": "W", "x": "K S", "y": "IY", "z": "Z", "^y": "Y", "a$": "AH", "o$": "OW", "y$": "IY",
    "es$": "Z", "e$": "", "'": "", "le$": "AH L", "ed$": "D",
}  # fmt: skip
# The long vowels: a vowel before one consonant and a silent e is said as its name.
_LONG = {"a": "EY", "e": "IY", "i": "AY", "o": "OW", "u": "UW", "y": "AY"}
_LONGEST = max(len(k.strip("^$")) for k in _RULES)


def _fit(word: str, at: int) -> tuple[int, str]:
    """The longest rule that fits at letter `at`: how many letters it has, and their phones."""
    for size in range(min(_LONGEST, len(word) - at), 0, -1):
        piece = word[at : at + size]
        ends = at + size == len(word)
        for key in (("^" + piece) if at == 0 else "", (piece + "$") if ends else "", piece):
            if key and key in _RULES:
                return size, _RULES[key]
    return 1, ""


_SOFT = {"c": "S", "g": "JH"}  # before e, i and y
_VOICELESS = "pktfcsxh"


def _by_neighbours(word: str, at: int) -> list[str] | None:
    """The phones of a single letter whose sound its neighbours change; None if they do not."""
    letter, before, after = word[at], word[at - 1 : at], word[at + 1 : at + 2]
    if letter in _SOFT and after and after in "eiy":
        return [_SOFT[letter]]
    if letter == "s" and before and not after:
        return ["S" if before in _VOICELESS else "Z"]
    if letter in _OPEN and re.match(r"[bcdfgklmnprstvz][aeiouy]", word[at + 1 :]):
        return [_OPEN[letter]]
    return None


_OPEN = {"o": "OW", "u": "UW"}  # before one consonant and a vowel


def guessed_sounds(word: str) -> tuple[Phones, ...]:
    """One or two guesses how `word` (lower case) sounds; empty if it has no letters.

    There are two if a final e may be silent or not: stove, Thisbe; groves, Leontes.
    """
    first = _guess(word)
    if not first:
        return ()
    sounded = re.sub(r"(?<=[^aeiouy'])e(s?)$", r"y\1", word)
    return (first,) if sounded == word else (first, _guess(sounded))


def _guess(word: str) -> Phones:
    """The phones of a word by the rules."""
    word = re.sub(r"(.)\1", lambda m: m[0] if m[1] in "eo" else m[1], re.sub(r"[^a-z']", "", word))
    phones: list[str] = []
    at = 0
    while at < len(word):
        silent_e = re.match(r"([aeiouy])([bcdfgklmnpstvz])e(?:s|d)?$", word[at:])
        if silent_e and at:
            phones.append(_LONG[silent_e[1]])
            at += 1
            continue
        size, said = _fit(word, at)
        phones += (_by_neighbours(word, at) if size == 1 else None) or said.split()
        at += size
    kept = [p for k, p in enumerate(phones) if k == 0 or distance_of_phones(p, phones[k - 1]) > 0]
    return tuple(kept)
