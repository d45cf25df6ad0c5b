"""How long the sounds of a word last, before anybody's own pace is known.

Syllables are a poor clock: "strength" and "a" count the same. The duration rules of D. H. Klatt ("Synthesis
by rule of segmental durations in English sentences", in Lindblom & Öhman, Frontiers of Speech Communication
Research, 1979; also Allen, Hunnicutt & Klatt, From Text to Speech, 1987, ch. 9) give every sound an inherent
and a shortest duration, and shorten it according to its place: shortest + (inherent - shortest) x the product
of the rules that apply. The rules are from memory; the table of durations was checked against a published
copy.
"""

from __future__ import annotations

import re
from functools import lru_cache

from offbook.lexicon import Phones, pronounce

# Inherent and shortest duration of each sound, milliseconds (Klatt's table, ARPAbet names).
_DURATIONS: dict[str, tuple[int, int]] = {
    "AA": (240, 100), "AE": (230, 80), "AH": (140, 60), "AO": (240, 130), "AW": (240, 100),
    "AY": (250, 150), "EH": (150, 70), "ER": (180, 80), "EY": (180, 100), "IH": (135, 40),
    "IY": (155, 55), "OW": (220, 80), "OY": (280, 150), "UH": (160, 60), "UW": (210, 70),
    "B": (85, 60), "CH": (70, 50), "D": (75, 50), "DH": (50, 30), "F": (100, 80), "G": (80, 60),
    "HH": (80, 20), "JH": (70, 50), "K": (80, 60), "L": (80, 40), "M": (70, 60), "N": (60, 50),
    "NG": (95, 60), "P": (90, 50), "R": (80, 30), "S": (105, 60), "SH": (105, 80), "T": (75, 50),
    "TH": (90, 60), "V": (60, 40), "W": (80, 60), "Y": (80, 40), "Z": (75, 40), "ZH": (70, 40),
}  # fmt: skip

_NOT_PHRASE_FINAL = 0.6  # Klatt's rule 3, vowels
_PHRASE_FINAL = 1.4  # rule 2, the last vowel before a pause and what follows it
_NOT_WORD_FINAL = 0.85  # rule 4, vowels
_POLYSYLLABLE = 0.8  # rule 5, vowels
_NOT_INITIAL = 0.85  # rule 6, consonants
_UNSTRESSED = 0.7  # rule 7; the shortest duration is halved with it
_UNSTRESSED_MEDIAL = 0.5  # rule 7, a vowel neither first nor last
# Not Klatt's: when people read aloud, the last word before a pause is even slower than in his sentences. Five
# readers of public-domain texts, measured for offbook (docs/timing.md), need about this much more.
_BEFORE_A_PAUSE = 80  # milliseconds
_MILLISECONDS = 1000  # in a second
_BETWEEN_CONSONANTS, _BESIDE_CONSONANT = 0.5, 0.7  # rule 10

# Small words that are unstressed in a phrase: the closed classes of English, listed by hand.
_REDUCED = """a an the of to in on at by for from with and but or nor as if that than so this his her its my
    thy your our their he she it we they you i thou ye me him us them thee is was were be been are am
    art had has have hath hast do does did doth shall will should would could can may might must not
    then when where who whom which what there some any into upon within unto i'm it's he's she's we're
    you're they're i've we've you've i'll we'll you'll he'll she'll i'd we'd you'd 'tis 'twas o'er
    th' o' i' 't"""
REDUCED = frozenset(_REDUCED.split())

_VOWEL_GROUP = re.compile(r"[aeiouyàâäéèêëîïôöùûü]+")
_UNKNOWN_VOWEL, _UNKNOWN_CONSONANT = "AH", "T"


def _guessed(token: str) -> Phones:
    """Phones for a word that no dictionary has: a vowel for each group of vowel letters, else a consonant."""
    bare = re.sub(r"(?<=[^aeiou])e[sd]?$", "", token) or token
    found: list[str] = []
    for piece in re.findall(r"[aeiouyàâäéèêëîïôöùûü]+|[^\W\d_aeiouyàâäéèêëîïôöùûü]", bare):
        first = not any(p[-1].isdigit() for p in found)
        found.append(
            _UNKNOWN_VOWEL + ("1" if first else "0") if _VOWEL_GROUP.match(piece) else _UNKNOWN_CONSONANT
        )
    if not any(p[-1].isdigit() for p in found):
        found.append(_UNKNOWN_VOWEL + "1")
    return tuple(found)


def sounds_of(token: str) -> Phones:
    """The likeliest phones of one spoken token (lower case, straight apostrophes)."""
    return pronounce(token)[0].phones or _guessed(token)


def token_syllables(token: str) -> int:
    """How many syllables one spoken token has in its likeliest form; 0 only for a clitic such as th'."""
    return pronounce(token)[0].syllables


_TOKENS_KEPT = 50_000  # tokens that are remembered, each with and without a pause after it; set by hand


@lru_cache(maxsize=_TOKENS_KEPT)
def seconds_of(token: str, final: bool) -> float:
    """How long `token` lasts in seconds at the pace of Klatt's table. final: whether a pause follows."""
    phones = sounds_of(token)
    vowels = [j for j, p in enumerate(phones) if p[-1].isdigit()]
    reduced = token in REDUCED
    total = float(_BEFORE_A_PAUSE) if final else 0.0
    for j, phone in enumerate(phones):
        inherent, shortest = _DURATIONS[phone.rstrip("012")]
        vowel = next((v for v in vowels if v >= j), vowels[-1] if vowels else j)
        stressed = phones[vowel][-1] in "12" and not reduced
        factor = _factor(phones, j, vowels, final, stressed)
        least = float(shortest) if stressed else shortest / 2
        total += least + (inherent - least) * factor
    return total / _MILLISECONDS


def _factor(phones: Phones, j: int, vowels: list[int], final: bool, stressed: bool) -> float:
    """The product of Klatt's rules for the sound at `j`."""
    last = vowels[-1] if vowels else 0
    factor = _PHRASE_FINAL if final and j >= last else 1.0
    if j in vowels:
        if not (final and j == last):
            factor *= _NOT_PHRASE_FINAL
        if j != last:
            factor *= _NOT_WORD_FINAL
        if len(vowels) > 1:
            factor *= _POLYSYLLABLE
        if not stressed:
            factor *= _UNSTRESSED_MEDIAL if j not in (vowels[0], last) else _UNSTRESSED
        return factor
    if j > 0:
        factor *= _NOT_INITIAL
    if not stressed:
        factor *= _UNSTRESSED
    beside = (j > 0 and j - 1 not in vowels) + (j + 1 < len(phones) and j + 1 not in vowels)
    return factor * (1.0, _BESIDE_CONSONANT, _BETWEEN_CONSONANTS)[beside]
