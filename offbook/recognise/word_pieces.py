"""Word pieces: how the model of a second ear writes a word.

The model has a list of pieces, from single letters to whole words. A word is written by byte pair encoding
(Sennrich, Haddow & Birch, ACL 2016): it begins as its letters, and then, again and again, the two neighbours
are joined that make the piece nearest to the beginning of the list, until no two neighbours make a piece.
"""

from __future__ import annotations

import itertools
from functools import lru_cache
from pathlib import Path

SPACE = "\u2581"  # stands for the space before a word
# The order of the model's list: marks, of which these begin and end a text; then a piece for each single
# byte, for letters that have no piece; then the pieces that are letters and words.
BEGIN, END = 1, 2
_FIRST_BYTE = 3
_FIRST_JOINED = 259
_MORE = 128  # the bit of a varint that says that another byte follows (Protocol Buffers, encoding)
_REMEMBERED = 20_000  # words whose pieces are kept in memory; set by hand, more than any play has


class WordPieces:
    """The pieces of one model, in its own order. Raises KeyError if there is none for the full stop."""

    def __init__(self, pieces: tuple[bytes, ...]) -> None:
        self.pieces = pieces
        self._number: dict[bytes, int] = {}
        for k in range(len(pieces) - 1, _FIRST_JOINED - 1, -1):
            self._number[pieces[k]] = k
        self.numbers_of = lru_cache(maxsize=_REMEMBERED)(self._numbers_of)
        self.full_stop = self._number[b"."]

    def _numbers_of(self, word: str) -> tuple[int, ...]:
        """The numbers of the pieces that write one word, with the space before it."""
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
        """What a piece stands for; a space is written as `SPACE`."""
        return self.pieces[number].decode("utf-8", "replace")


def read_pieces(file: Path) -> WordPieces:
    """Read the pieces of `file`, in which each piece is its length, followed by its bytes.

    A length below 128 is one byte. A longer one is two: the first has its low seven bits and the bit of 128,
    the second has the rest, divided by 128. Raises OSError if the file cannot be read, and ValueError if it
    is not of this kind.
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
            length = length - _MORE + _MORE * data[at]
            at += 1
        if at + length > len(data):
            raise ValueError("it ends in the middle of a piece")
        found.append(data[at : at + length])
        at += length
    if len(found) <= _FIRST_JOINED or b"." not in found:
        raise ValueError("it holds no word pieces")
    return WordPieces(tuple(found))
