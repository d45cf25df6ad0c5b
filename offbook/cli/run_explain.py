"""`offbook run --explain`: what decided the verdict of a word, step by step, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.cli.screen import seconds_shown, wrapped
from offbook.desk import words_asked
from offbook.words import where

if TYPE_CHECKING:
    from offbook.desk import Heard


def explained(heard: Heard, asked: str) -> str:
    """The screen for the words that `asked` names. Raises OffbookError where there is none."""
    lines: list[str] = []
    for word in words_asked(heard, asked):
        at = "" if word.start is None else f" at {seconds_shown(word.start)}"
        there = where(heard.script, heard.words, word.i, word.i)
        lines.append(f"“{word.text}”, word {word.i + 1}, {there}{at}: {word.verdict}")
        for n, step in enumerate(word.steps, 1):
            lines.append(wrapped(f"{n}. {step.by}: {step.told} ({step.verdict})", "  ", "     "))
    return "\n".join(lines)
