"""What the hearing asks a second ear: how likely a wording is, given the sound.

A second ear is a recogniser of another make than the first one. It gives no times of words. It gets a few
seconds of sound with a text, and says how likely each word of the text is there, and how likely other words
would be in their place. The rest of the project only sees these two protocols; the tests have an ear of their
own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Rival:
    """A word that may have been said in the place of the expected one.

    word: as it is written; "" if the expected word may have been left out. lead: by how much the beginning of
    this word is likelier than that of the expected one, as a difference of natural logarithms; negative if it
    is less likely.
    """

    word: str
    lead: float


class Passage(Protocol):
    """A few seconds of sound, with the text that is assumed to be said in it."""

    @property
    def log_probabilities(self) -> tuple[float, ...]:
        """The natural logarithm of the probability of each word, given the sound and the words before it."""
        ...

    def rivals(self, word: int, most: int) -> tuple[Rival, ...]:
        """What may have been said in the place of word number `word`, the likeliest first, at most `most`."""
        ...

    def reworded(self, start: int, end: int, words: Sequence[str]) -> Passage:
        """The same sound, with other words in the place of the words [start, end) of the text."""
        ...

    def free_words(self, start: int, end: int, most: int) -> tuple[str, ...] | None:
        """What the ear itself would write in the place of the words [start, end), at most `most` words.

        In lower case, without punctuation. None if what it writes does not come back to the text after them.
        """
        ...

    def weigh(self, start: int, end: int, wordings: Sequence[Sequence[str]]) -> tuple[float, ...]:
        """How likely each wording is in the place of the words [start, end), with what follows.

        As natural logarithms; only their differences mean anything.
        """
        ...


class WordingScorer(Protocol):
    """A second ear."""

    @property
    def name(self) -> str:
        """The name of the model, for reports."""
        ...

    def follow(self, pcm: bytes, words: Sequence[str]) -> Passage:
        """Take in a sound (16-bit mono at `SAMPLE_RATE`), and the written words that may be said in it."""
        ...
