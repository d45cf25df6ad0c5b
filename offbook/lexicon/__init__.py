"""The lexicon: how a word sounds, from the CMU Pronouncing Dictionary, or by rules for other words."""

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
