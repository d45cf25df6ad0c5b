"""The lexicon: how a word sounds. The CMU Pronouncing Dictionary first, then rules for what it lacks."""

from __future__ import annotations

from offbook.lexicon.cmudict_data import (
    Phones,
    dictionary_file,
    phones_of,
)
from offbook.lexicon.pronunciations import (
    Pronunciation,
    dictionary_form,
    divide,
    pronounce,
)

__all__ = [
    "Phones",
    "Pronunciation",
    "dictionary_file",
    "dictionary_form",
    "divide",
    "phones_of",
    "pronounce",
]
