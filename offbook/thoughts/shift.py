"""From signals to marks: each boundary weighed, graded and given its reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from offbook.script import Script
from offbook.thoughts.parse import Parsed, parse_words
from offbook.words import Word

Grade = Literal[1, 2, 3]


@dataclass(frozen=True, slots=True)
class Shift:
    """A mark before a word. grade: 1 a new phrase, 2 a new thought, 3 a turn.

    reason: the strongest signal in the performer's words; reasons: all of them, strongest first.
    source: "offbook" where it was computed, "performer" where it stands in the performer's file.
    """

    before_word: int
    grade: Grade
    reason: str
    reasons: tuple[str, ...]
    source: Literal["offbook", "performer"] = "offbook"


CONTRAST = {"but", "yet", "however", "although", "though", "nevertheless", "whereas", "instead"}


def shifts_of(script: Script, words: Sequence[Word]) -> tuple[Shift, ...]:
    """The shifts of the speech, in order, at most one before each word (never before the first)."""
    parsed = parse_words(script, words)
    found: list[Shift] = []
    for i in range(1, len(words)):
        shift = _at(parsed, words, i)
        if shift is not None:
            found.append(shift)
    return tuple(found)


def _at(parsed: Parsed, words: Sequence[Word], i: int) -> Shift | None:
    gap, word = parsed.gaps[i], words[i].text.lower()
    if i in parsed.paragraph_starts:
        return _shift(i, 3, "a new paragraph")
    if word in CONTRAST and (i in parsed.sentence_starts or gap.strip()):
        return _shift(i, 3, f"“{word}” turns against what was just said")
    if i in parsed.sentence_starts:
        return _shift(i, 2, "the sentence before is complete")
    if any(c in gap for c in ";:—–") or "--" in gap:
        return _shift(i, 2, "mid-line stop")
    tag, dep = parsed.tag(i), parsed.dep(i)
    if dep == "mark" and tag == "IN":
        return _shift(i, 2, f"“{word}” brings in the circumstance")
    if tag in ("WDT", "WP", "WRB", "WP$"):
        return _shift(i, 1, f"“{word}” says more about it")
    if dep == "cc" and "," in gap:
        return _shift(i, 2, "a list builds")
    return None


def _shift(i: int, grade: Grade, reason: str) -> Shift:
    return Shift(i, grade, reason, (reason,))
