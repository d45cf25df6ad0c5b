"""The score: a verdict for every word of the script, and what was heard beside it.

`Run` is the product of hearing: one `WordVerdict` for each script word, in order, and every heard
word that stands for no script word (`Extra`), not yet sorted into added words, fillers, restarts
and the rest: that is the work of `notes`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["said", "unsure", "changed", "dropped"]


@dataclass(frozen=True, slots=True)
class WordVerdict:
    """What became of script word `i`. start, end: seconds in the recording, None where not heard.

    heard: what was heard in its place (lower case), None where nothing was. confidence: 0 to 1.
    """

    i: int
    text: str
    verdict: Verdict
    heard: str | None
    start: float | None
    end: float | None
    confidence: float | None


@dataclass(frozen=True, slots=True)
class Extra:
    """One heard word that stands for no script word. before_word: the script word it comes before.

    before_word is len(words) for what is heard after the last one. Times in seconds.
    """

    before_word: int
    heard: str
    start: float
    end: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Run:
    """One run-through, scored. seconds: first to last word of the speech; speaking_seconds: voiced part."""

    words: tuple[WordVerdict, ...]
    extras: tuple[Extra, ...]
    seconds: float
    speaking_seconds: float

    @property
    def accuracy(self) -> float:
        """Words said / words of the script; an unsure word counts as said."""
        good = sum(w.verdict in ("said", "unsure") for w in self.words)
        return good / len(self.words) if self.words else 0.0

    @property
    def accuracy_low(self) -> float:
        """The same with unsure words counted as missed."""
        return sum(w.verdict == "said" for w in self.words) / len(self.words) if self.words else 0.0
