"""Thought shifts: where a speech moves to a new phrase, thought or turn, and why.

A performer marks a script before learning it. `shifts_of` does the same: it reads the punctuation as a script
uses it, finds the clauses with a parser, joins and divides them into thoughts as they are played, and finds
the turns, where the aim, the subject, the person spoken to or the time changes. For each it gives the reason.
`marks_of` replaces computed marks by the performer's own; `thoughts_of` gives the thoughts between them.
"""

from __future__ import annotations

from offbook.thoughts.address import (
    YOU,
)
from offbook.thoughts.clauses import (
    SUBJECTS,
)
from offbook.thoughts.parse import (
    Parsed,
    ParsedToken,
    parse_words,
)
from offbook.thoughts.pencilled import (
    GradedMark,
    Thought,
    marks_of,
    pencil_beside,
    thoughts_of,
)
from offbook.thoughts.reasons import (
    is_seen,
)
from offbook.thoughts.shift import (
    THOUGHT_GRADE,
    TURN_GRADE,
    Grade,
    Shift,
    called_on,
    shifts_of,
)
from offbook.thoughts.wordlists import (
    CONTENT_LETTERS,
)

__all__ = [
    "CONTENT_LETTERS",
    "SUBJECTS",
    "THOUGHT_GRADE",
    "TURN_GRADE",
    "YOU",
    "Grade",
    "GradedMark",
    "Parsed",
    "ParsedToken",
    "Shift",
    "Thought",
    "called_on",
    "is_seen",
    "marks_of",
    "parse_words",
    "pencil_beside",
    "shifts_of",
    "thoughts_of",
]
