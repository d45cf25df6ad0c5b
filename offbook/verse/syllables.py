"""A line as the metre sees it: for each word its possible syllables, and what each costs weak or strong."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from offbook.lexicon import Pronunciation, plain, pronounce
from offbook.verse.kinds import Fixes
from offbook.verse.prominence import LIGHT_LONGER, weight
from offbook.words import Word


@dataclass(frozen=True, slots=True)
class Syllable:
    """stress: the dictionary's digit. weak, strong: cost of reading it so. up: the syllable before it
    in the word is stressed less, down: stressed more."""

    stress: str
    weak: float
    strong: float
    rise: int


@dataclass(frozen=True, slots=True)
class Said:
    """One way a word is said in the line: what choosing it costs, its syllables, its elision's name."""

    cost: float
    syllables: tuple[Syllable, ...]
    variant: str


@dataclass(frozen=True, slots=True)
class Token:
    """A word of the line: the ways to say it. pause: 0 none, 1 a comma, 2 a longer stop before it."""

    word: Word
    ways: tuple[Said, ...]
    pause: int


# what an elision or expansion costs before the metre is asked
_VARIANT_COST = {
    "": 0.0,
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
    "synaloepha": 1.0,
}
_VOWEL_START = re.compile(
    r"[aeiou]|h(?:our|on|eir)|'?(?:t)?h?(?:un|in|im|en|ex|al|ad|ac|ap|ab|e)", re.IGNORECASE
)


def _costs(p: float) -> tuple[float, float]:
    return -math.log(1 - p), -math.log(p)


def _one(form: str, last: bool) -> Syllable:
    p = weight(form)
    if last:
        p = max(p, 0.5)
    weak, strong = _costs(p)
    return Syllable("1", weak, strong, 0)


def _longer(form: str, stress: str) -> tuple[Syllable, ...]:
    light = form in LIGHT_LONGER
    found = []
    for i, digit in enumerate(stress):
        before = stress[i - 1] if i else ""
        after = stress[i + 1] if i + 1 < len(stress) else ""
        if digit == "1":
            weak, strong = (1.2, 0.1) if light else (3.0, 0.05)
        elif digit == "2":
            weak, strong = (0.8, 0.5)
        elif "1" in (before, after) or "2" in (before, after):
            weak, strong = (0.05, 3.5)
        else:
            weak, strong = (0.4, 1.0)
        rank = {"0": 0, "2": 1, "1": 2}
        rise = 0 if not before else (rank[digit] > rank[before]) - (rank[digit] < rank[before])
        found.append(Syllable(digit, weak, strong, rise))
    return tuple(found)


@lru_cache(maxsize=50000)
def _ways(form: str, last: bool, before_vowel: bool) -> tuple[Said, ...]:
    said: list[Said] = []
    for k, p in enumerate(pronounce(form)):
        said.append(
            Said(
                _VARIANT_COST[p.variant] + (0.6 if k and not p.variant else 0.0),
                _syllables(form, p, last),
                p.variant,
            )
        )
    if before_vowel and form in ("the", "to"):
        said.append(Said(1.2 if form == "the" else 2.2, (), "synaloepha"))
    if before_vowel and form in ("many", "any", "every", "very"):
        said.append(Said(0.8, _longer(form, "1"), "synaloepha"))
    best: dict[str, Said] = {}
    for each in sorted(said, key=lambda s: s.cost):
        best.setdefault("".join(s.stress for s in each.syllables), each)
    return tuple(best.values())


def _syllables(form: str, p: Pronunciation, last: bool) -> tuple[Syllable, ...]:
    return (_one(form, last),) if p.syllables == 1 else _longer(form, p.stress)


def _fixed(stress: str) -> tuple[Said, ...]:
    return (
        Said(
            0.0,
            tuple(
                Syllable("1" if c == "s" else "0", 0.0 if c == "w" else 6.0, 0.0 if c == "s" else 6.0, 0)
                for c in stress
            ),
            "fixed",
        ),
    )


def tokens_of(words: Sequence[Word], text: str, fixes: Fixes) -> tuple[Token, ...]:
    """The words of one line (with the script's whole `text`) as tokens."""
    found = []
    for k, word in enumerate(words):
        gap = text[words[k - 1].end : word.start] if k else ""
        pause = 2 if re.search(r"[.;:?!—–]|--", gap) else 1 if re.search(r"[,()]", gap) else 0
        form = plain(word.text)
        fix = fixes.get(word.i, fixes.get(form))
        if fix is not None:
            found.append(Token(word, _fixed(fix), pause))
            continue
        following = plain(words[k + 1].text) if k + 1 < len(words) else ""
        last = k + 1 == len(words)
        vowel = bool(re.match(r"[aeiou]|h(?:our|onou?r|onest|eir)", following)) and not re.match(
            r"(?:uni|use|eu|one|once)", following
        )
        found.append(Token(word, _ways(form, last, vowel), pause))
    return tuple(found)
