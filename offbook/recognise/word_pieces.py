"""Word pieces: how a second ear's model writes a word.

The model's alphabet is a list of pieces, from single letters to whole words. A word is written by byte pair
encoding (Sennrich, Haddow & Birch, ACL 2016): from its letters, the two neighbours that are together
earliest in the list are joined, again and again, until no two can be.
"""

from __future__ import annotations

import itertools
from functools import lru_cache
from pathlib import Path

SPACE = "\u2581"  # stands for the space before a word
BEGIN, END = 1, 2  # begins a text, ends it
_FIRST_BYTE = 3  # the pieces for single bytes, where a letter is none of the list
_FIRST_JOINED = 259  # what comes before are marks and single bytes
_MORE = 128  # the bit of a varint that says that another byte follows (Protocol Buffers, encoding)


class WordPieces:
    """The pieces of one model, in its own order."""

    def __init__(self, pieces: tuple[bytes, ...]) -> None:
        self.pieces = pieces
        self._number: dict[bytes, int] = {}
        for k in range(len(pieces) - 1, _FIRST_JOINED - 1, -1):
            self._number[pieces[k]] = k
        self.numbers_of = lru_cache(maxsize=20_000)(self._numbers_of)
        self.full_stop = self._number[b"."]

    def _numbers_of(self, word: str) -> tuple[int, ...]:
        """The numbers of the pieces of one word with the space before it."""
        parts: list[bytes] = []
        for letter in SPACE + word:
            coded = letter.encode()
            parts += [coded] if coded in self._number else [coded[k : k + 1] for k in range(len(coded))]
        while True:
            joins = ((self._number.get(a + b), k) for k, (a, b) in enumerate(itertools.pairwise(parts)))
            best = min(((n, k) for n, k in joins if n is not None), default=None)
            if best is None:
                return tuple(self._number.get(p, _FIRST_BYTE + p[0]) for p in parts)
            k = best[1]
            parts[k : k + 2] = [parts[k] + parts[k + 1]]

    def text_of(self, number: int) -> str:
        """What a piece stands for, with SPACE for a space."""
        return self.pieces[number].decode("utf-8", "replace")


def read_pieces(file: Path) -> WordPieces:
    """The pieces of `file`: one after another, each its length and its bytes.

    A length below 128 takes one byte; else its low seven bits are in the first, marked by 128, and how
    often 128 goes into it in the second. Raises OSError, and ValueError where the file is none of this kind.
    """
    data = file.read_bytes()
    found: list[bytes] = []
    at = 0
    while at < len(data):
        length = data[at]
        at += 1
        if length >= _MORE:
            if at == len(data):
                raise ValueError("it ends in the middle of a piece")
            length = length - 128 + 128 * data[at]
            at += 1
        if at + length > len(data):
            raise ValueError("it ends in the middle of a piece")
        found.append(data[at : at + length])
        at += length
    if len(found) <= _FIRST_JOINED or b"." not in found:
        raise ValueError("it holds no word pieces")
    return WordPieces(tuple(found))
