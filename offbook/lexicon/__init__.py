"""The lexicon: how a word sounds. The CMU Pronouncing Dictionary first, then rules for what it lacks."""

from __future__ import annotations

from offbook.lexicon.cmudict_data import (
    Phones,
    dictionary_file,
    phones_of,
)
from offbook.lexicon.pronunciations import (
    Pronunciation,
    divide,
    plain,
    pronounce,
)

__all__ = [
    "Phones",
    "Pronunciation",
    "dictionary_file",
    "divide",
    "phones_of",
    "plain",
    "pronounce",
]
