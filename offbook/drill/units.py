"""The pieces in which a speech is learnt: its thoughts, not its pages.

Actors learn by the thought and its intention, not by rote (Noice & Noice 1999 and their earlier
work). A thought runs from one thought shift to the next; scraps of one or two words are joined to
their neighbour, and a long one is divided where a new phrase begins, so that every piece can be
tried in one breath of attention.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from rapidfuzz import fuzz

from offbook.records import Unit
from offbook.script import Script
from offbook.words import Word

FEWEST, FEW, MOST = 3, 5, 24  # words in a thought; more than about two lines of verse is divided
ALIKE = 70.0  # rapidfuzz's token ratio, 0 to 100, from which two thoughts are taken for alike


class Mark(Protocol):
    """What is needed of a thought shift: the word it stands before and its grade (1 to 3)."""

    @property
    def before_word(self) -> int:
        """The word it stands before."""

    @property
    def grade(self) -> int:
        """1 a phrase, 2 a thought, 3 a turn."""


def units_of(script: Script, words: Sequence[Word], marks: Iterable[Mark]) -> tuple[Unit, ...]:
    """The thoughts of `words`, divided at `marks` of grade 2 and 3. Keys are their numbers in order."""
    marks = list(marks)
    hard = {_first_word(words, c.before_line) for c in script.cues}
    edges = {0, *(m.before_word for m in marks if m.grade >= 2), *hard}
    phrases = {m.before_word for m in marks} | _line_starts(words)
    starts = sorted(e for e in edges if e is not None and 0 <= e < len(words))
    spans = [(a, b - 1) for a, b in zip(starts, [*starts[1:], len(words)], strict=True)]
    whole = [part for span in _joined(spans, words, hard) for part in _divided(span, phrases)]
    return tuple(
        Unit(n, n, a, b, " ".join(w.text for w in words[a : min(b + 1, a + 5)]))
        for n, (a, b) in enumerate(whole)
    )


def _first_word(words: Sequence[Word], line: int | None) -> int | None:
    return next((w.i for w in words if line is not None and w.line >= line), None)


def _line_starts(words: Sequence[Word]) -> set[int]:
    return {w.i for k, w in enumerate(words) if k and w.line != words[k - 1].line}


def _joined(
    spans: list[tuple[int, int]], words: Sequence[Word], hard: set[int | None]
) -> list[tuple[int, int]]:
    """Join scraps to a neighbour, to the one of the same sentence if there is one; never across a cue.

    One or two words always join, up to four only inside their own sentence.
    """
    out: list[tuple[int, int]] = []
    for k, (a, b) in enumerate(spans):
        last = out[-1] if out else None
        follows = spans[k + 1] if k + 1 < len(spans) and spans[k + 1][0] not in hard else None
        if last is None or a in hard:
            out.append((a, b))
            continue
        same = words[last[1]].sentence == words[a].sentence
        before, here = last[1] - last[0] + 1, b - a + 1
        waits = follows is not None and (
            not same
            or (
                words[follows[0]].sentence == words[b].sentence
                and follows[1] - follows[0] + 1 < before  # the shorter neighbour takes it
            )
        )
        small = FEW if same else FEWEST
        if before < small or (here < small and not waits):
            out[-1] = (last[0], b)
        else:
            out.append((a, b))
    return out


def _divided(span: tuple[int, int], phrases: set[int]) -> list[tuple[int, int]]:
    a, b = span
    if b - a + 1 <= MOST:
        return [span]
    inside = [p for p in phrases if a + FEWEST < p <= b - FEWEST]
    if not inside:
        return [span]
    middle = (a + b + 1) / 2
    cut = min(inside, key=lambda p: (abs(p - middle), p))
    return _divided((a, cut - 1), phrases) + _divided((cut, b), phrases)


@dataclass(frozen=True, slots=True)
class Lookalike:
    """Two thoughts that are easily taken for each other. likeness: 0 to 100."""

    one: int
    other: int
    likeness: float


def lookalikes(units: Sequence[Unit], words: Sequence[Word]) -> tuple[Lookalike, ...]:
    """Pairs of thoughts alike in their words or their openings, the likest first (by `Unit.key`)."""
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
    """Likeness of the first four words: that is where one line slides into another."""
    a, b = one.split()[:4], other.split()[:4]
    return fuzz.ratio(" ".join(a), " ".join(b)) if len(a) == len(b) == 4 else 0.0
