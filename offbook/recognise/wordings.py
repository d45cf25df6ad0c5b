"""What the hearing asks of a second ear: how likely a wording is, given the sound.

A second ear is a recogniser of another make than the first. It keeps no word times and is never asked to
write down what it hears; it is given a few seconds of sound and a text, and says how likely each word of the
text is there, and how likely other wordings would be in the place of some of them. The project sees only
these two protocols; the tests bring an ear of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Rival:
    """A word that might be where another one was expected.

    word: as it is written, "" where the expected word would be left out. lead: natural log units by which the
    beginning of the word is likelier than that of the expected one; below zero where it is less likely.
    """

    word: str
    lead: float


class Passage(Protocol):
    """A few seconds of sound and the text that is taken to be said in it."""

    @property
    def sure(self) -> tuple[float, ...]:
        """For each word its log probability, natural units, given the sound and the words before it."""
        ...

    def rivals(self, word: int, most: int) -> tuple[Rival, ...]:
        """What might be in the place of a word of the text, the likeliest beginnings first."""
        ...

    def reworded(self, start: int, end: int, words: Sequence[str]) -> Passage:
        """The same sound with other words in the place of words [start, end) of the text."""
        ...

    def freely(self, start: int, end: int, most: int) -> tuple[str, ...] | None:
        """What it would write by itself in the place of words [start, end), of `most` words at most.

        In lower case, without stops. None where it does not come back to the text behind them.
        """
        ...

    def weigh(self, start: int, end: int, wordings: Sequence[Sequence[str]]) -> tuple[float, ...]:
        """The log probability of each wording in the place of words [start, end), what follows included.

        Natural units; only their differences mean anything.
        """
        ...


class WordingScorer(Protocol):
    """A second ear."""

    @property
    def name(self) -> str:
        """The model's name, for reports."""
        ...

    def follow(self, pcm: bytes, words: Sequence[str]) -> Passage:
        """Take in sound (16-bit mono at `SAMPLE_RATE`) in which `words`, as they are written, may be said."""
        ...
