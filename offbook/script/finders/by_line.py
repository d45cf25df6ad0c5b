"""A line under the title that says who wrote the piece without a name: "by nobody in particular".

A verse may begin with the same word: "By the rude bridge that arched the flood". So a by-line is short, ends
no phrase, and stands right under the title; the speech after it begins with a capital; and the line is set
apart, or is in small letters where the speech is not. Under a line without the capitals of a title, which may
be a first line of verse, it has to say that a person wrote it. A by-line with a name is known by the name
(`heading_lines`).
"""

from __future__ import annotations

import re
from itertools import pairwise

from offbook.script.finders.heading_lines import is_title
from offbook.script.sheet import Row, Sheet

_BY_LINE = re.compile(r"by\s[\w\s.'’-]*[\w.]", re.IGNORECASE)
# Somebody without a name: what follows "by" in "by nobody in particular", "by an unknown hand".
_SOMEBODY = re.compile(
    r"by\s+(?:(?:nobody|no one|somebody|someone|anon|anonymous|me|myself|us|ourselves)\b"
    r"|(?:the|an?|my|our)\s+(?:\w+\s+)?(?:author|writer|poet|playwright|hand|friend|pupil|student|child|class)\b)",
    re.IGNORECASE,
)
# Set by hand.
_LONGEST = 7  # words of such a line, with "by"
_LOOKED_AT = 12  # rows of the speech that have to begin with capitals


def is_by_line(sheet: Sheet, row: Row, *, apart: bool) -> bool:
    """Whether a row is a by-line. apart: a blank line follows it."""
    said = row.text.strip(" *_")
    if _BY_LINE.fullmatch(said) is None or len(said.split()) > _LONGEST:
        return False
    above = [r for r in sheet.rows if r.end < row.start and not r.blank]
    below = [r for r in sheet.rows if r.start > row.end and sheet.spoken(r)][:_LOOKED_AT]
    if (
        len(above) != 1
        or not below
        or not _looks_like_title(above[0], by_somebody=bool(_SOMEBODY.match(said)))
    ):
        return False
    if not begins_with_capital(below[0]):
        return False
    if said[0].islower():
        return apart or all(map(begins_with_capital, below))
    return apart and rows_together_below(sheet, row)


def _looks_like_title(row: Row, *, by_somebody: bool) -> bool:
    """Whether a row is a title. by_somebody: the row below says that somebody wrote it."""
    text = row.text.strip(" *_")
    short = by_somebody and len(text.split()) <= _LONGEST and text[:1].isupper()
    return (short or is_title(row.text)) and text[-1:].isalnum()


def begins_with_capital(row: Row) -> bool:
    """Whether the first letter of a row, after any quotation mark, is a capital."""
    return row.text.lstrip("\"“‘'’([—")[:1].isupper()


def rows_together_below(sheet: Sheet, row: Row) -> bool:
    """Whether some rows below have no blank line between them; if none, the first row is like the others."""
    rows = sheet.rows
    place = next(k for k, r in enumerate(rows) if r.start == row.start)
    return any(not a.blank and not b.blank for a, b in pairwise(rows[place + 2 :]))
