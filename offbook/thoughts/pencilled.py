"""The thoughts of a speech, with the performer's own marks in place of computed ones.

Everything that needs thoughts (the marked script, the drills, the cuts, the running time, the plan) asks
here, so that a speech has the same thoughts everywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, Protocol

from offbook import pencil as pencils
from offbook.pencil import Pencil
from offbook.script import Script
from offbook.thoughts.shift import THOUGHT_GRADE, TURN_GRADE, Shift, shifts_of
from offbook.words import Word

PERFORMERS_OWN = "your own mark"


class GradedMark(Protocol):
    """The part of a shift that shows where a thought begins."""

    @property
    def before_word(self) -> int:
        """The index of the word after it."""

    @property
    def grade(self) -> int:
        """1 for a phrase, 2 for a thought, 3 for a turn."""


@dataclass(frozen=True, slots=True)
class Thought:
    """The words from one thought or turn to the next.

    first, last: the indices of its words, both included. grade: of the shift at its beginning.
    """

    first: int
    last: int
    grade: Literal[2, 3]


def pencil_beside(script: Script, words: Sequence[Word]) -> Pencil:
    """The pencil file beside `script`; an empty one if there is none."""
    path = pencils.pencil_path(script)
    return Pencil() if path is None else pencils.load_pencil(path, words)


def marks_of(script: Script, words: Sequence[Word], pencil: Pencil | None = None) -> tuple[Shift, ...]:
    """The shifts of the speech as the performer wants them. pencil: None for the file beside the script."""
    own = pencil if pencil is not None else pencil_beside(script, words)
    return with_pencil(() if own.only else shifts_of(script, words), own)


def with_pencil(computed: Sequence[Shift], pencil: Pencil) -> tuple[Shift, ...]:
    """The computed shifts, with those replaced that the performer has marked differently."""
    shifts = {s.before_word: s for s in computed}
    for own in pencil.shifts:
        was = shifts.pop(own.before_word, None)
        if own.grade != 0:
            reason = own.reason or (
                was.reason if was is not None and was.grade == own.grade else PERFORMERS_OWN
            )
            shifts[own.before_word] = Shift(own.before_word, own.grade, reason, (reason,), "performer")
    return tuple(shifts[i] for i in sorted(shifts))


def thoughts_of(script: Script, words: Sequence[Word], marks: Iterable[GradedMark]) -> tuple[Thought, ...]:
    """The thoughts of the speech. A new one begins at every mark of grade 2 or 3, and after every cue."""
    grades = {
        m.before_word: m.grade for m in marks if m.grade >= THOUGHT_GRADE and 0 < m.before_word < len(words)
    }
    cues = {_first_word(words, cue.before_line) for cue in script.cues} - {None, 0}
    firsts = sorted({0} | grades.keys() | {i for i in cues if i is not None})
    edges = [*firsts, len(words)] if words else []
    return tuple(
        Thought(a, b - 1, TURN_GRADE if grades.get(a) == TURN_GRADE else THOUGHT_GRADE)
        for a, b in pairwise(edges)
    )


def _first_word(words: Sequence[Word], line: int | None) -> int | None:
    return next((w.i for w in words if line is not None and w.line >= line), None)
