"""The units in which a speech is learnt: its thoughts, not its pages.

Actors learn thought by thought, by the intention of each, and not by rote (Noice & Noice 1999 and their
earlier work). They are the same thoughts that the marked script shows, with the performer's own marks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz

from offbook.records import Unit
from offbook.script import Script
from offbook.thoughts import GradedMark, thoughts_of
from offbook.words import Word, as_written

# Set by hand.
ALIKE = 70.0  # rapidfuzz's token ratio, 0 to 100, from which two thoughts count as alike
OPENING = 5  # words of a thought that name it in lists
_OPENING = 4  # first words that are enough to mix two lines up


def units_of(script: Script, words: Sequence[Word], marks: Iterable[GradedMark]) -> tuple[Unit, ...]:
    """The thoughts that `marks` make of `words`, to be learnt. Keys are their numbers in order."""
    return tuple(
        Unit(n, n, t.first, t.last, opening_of(script, words, t.first, t.last))
        for n, t in enumerate(thoughts_of(script, words, marks))
    )


def opening_of(script: Script, words: Sequence[Word], first: int, last: int) -> str:
    """The first words of a thought as they are in the script, without a stop at the end."""
    return as_written(script, words, first, min(last, first + OPENING - 1)).rstrip(" .,;:–—-")


@dataclass(frozen=True, slots=True)
class Lookalike:
    """Two thoughts that are easily taken for each other. likeness: 0 to 100."""

    one: int
    other: int
    likeness: float


def lookalikes(units: Sequence[Unit], words: Sequence[Word]) -> tuple[Lookalike, ...]:
    """Pairs of thoughts, by their keys, alike in their words or their openings; the most alike first."""
    texts = [" ".join(w.text.lower() for w in words[u.first : u.last + 1]) for u in units]
    found = []
    for i, one in enumerate(texts):
        for j in range(i + 1, len(texts)):
            whole = fuzz.token_sort_ratio(one, texts[j])
            opening = _opening(one, texts[j])
            likeness = max(whole, opening)
            if likeness >= ALIKE and one != texts[j]:
                found.append(Lookalike(units[i].key, units[j].key, round(likeness, 1)))
    return tuple(sorted(found, key=lambda p: (-p.likeness, p.one, p.other)))


def _opening(one: str, other: str) -> float:
    """Likeness of the first words, 0 to 100: that is where a performer slips from one line into another."""
    a, b = one.split()[:_OPENING], other.split()[:_OPENING]
    return fuzz.ratio(" ".join(a), " ".join(b)) if len(a) == len(b) == _OPENING else 0.0
