"""Thought shifts: where a speech moves to a new phrase, thought or turn, and why.

A performer marks a script before learning it. `shifts_of` does the same: it reads the punctuation as
a script uses it, finds the clauses with a parse, looks for contrast, question and answer, people
addressed and changes of time, and says for each mark in plain words what makes it one.
"""

from __future__ import annotations

from offbook.thoughts.parse import Parsed, Token, parse_words
from offbook.thoughts.reasons import is_seen
from offbook.thoughts.shift import Grade, Shift, shifts_of

__all__ = ["Grade", "Parsed", "Shift", "Token", "is_seen", "parse_words", "shifts_of"]
