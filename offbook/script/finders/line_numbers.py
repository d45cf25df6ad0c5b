"""Line numbers that were copied with the lines: at their ends, before them, or on rows of their own.

A number is a line number if another one agrees with it: between 25 and 30 there are five lines. A single
multiple of five, with no other figures on the page, is taken for one if there is a gap before it, in verse,
or in the prose of a play. `furniture` finds the columns of numbers that run through a whole page; this module
looks at what is left.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass

from offbook.script.finders.heading_lines import heading_pieces, is_reference
from offbook.script.finders.opening import HEADING
from offbook.script.sheet import Row, Sheet

_OWN = re.compile(r"[(\[]?(\d{1,4})[)\]]?")
_AFTER = re.compile(r"(?<=[^\s\d])(?P<gap>\s+)[(\[]?(?P<n>\d{1,4})[)\]]?$")
_BEFORE = re.compile(r"(?:FTLN\s+)?[(\[]?(?P<n>\d{1,4})[)\].:]?(?=\s+\S)")
_REASON = "line number"
# All set by hand, on poems and plays as people copy them (bench/copied.py).
_EVERY = 5  # editions number every fifth or tenth line
_LONGEST_VERSE = 80  # characters of a row that may be a line of verse
_LONGEST_LINE = 100  # characters of a line that an edition numbers
_CAPITAL = 0.8  # the smallest share of the rows that begin with a capital in verse
_LEAST_AGREEING = 2  # numbers nearby that agree with a number before a line; one may be chance
_LEAST_VERSE = 4  # the fewest lines that show whether a page is verse
_NEARBY = 3  # numbers before and after a number that are compared with it
# An edition may count a line that is printed over two rows as one: two numbers agree if they differ from the
# count of the rows between them by one, and by one more for every twenty lines.
_LINES_A_DIFFERENCE = 20


@dataclass(frozen=True, slots=True)
class _Number:
    """A number and the line it is at.

    n: its value. line: how many lines are before it. start, end: offsets into the page's text. gap: whether
    more than a blank is between the line and the number.
    """

    n: int
    line: int
    start: int
    end: int
    gap: bool


def find_line_numbers(sheet: Sheet) -> None:
    """Mark the line numbers that are still among the spoken rows."""
    rows = [r for r in sheet.rows if sheet.spoken(r)]
    if not any(c.isdigit() for r in rows for c in r.text):
        return
    _counting(sheet, _numbers_before(sheet, rows))
    rows = [r for r in rows if sheet.spoken(r)]
    found = _numbers_after(sheet, rows)
    for k, f in enumerate(found):
        if any(_agree(f, other) for other in found[max(0, k - _NEARBY) : k + _NEARBY + 1]):
            sheet.leave_out(f.start, f.end, _REASON)
    if len(found) == 1:
        _alone(sheet, rows, found[0])


def _alone(sheet: Sheet, rows: list[Row], number: _Number) -> None:
    """Mark the only number on the page, as unsure, if it is more likely a line number than spoken."""
    figures = sum(c.isdigit() for r in rows for c in sheet.remaining(r))
    believed = number.gap or _looks_like_verse(sheet, rows) or _of_a_play(sheet)
    if figures == len(str(number.n)) and believed:
        sheet.leave_out(number.start, number.end, _REASON, sure=False)


def _agree(one: _Number, other: _Number) -> bool:
    """Whether there are about as many lines between two numbers as they say."""
    lines, numbers = other.line - one.line, other.n - one.n
    allowed = 1 + abs(numbers) // _LINES_A_DIFFERENCE
    return numbers != 0 and abs(lines - numbers) <= allowed


def _numbers_after(sheet: Sheet, rows: list[Row]) -> list[_Number]:
    """The multiples of five at the ends of rows and on rows of their own."""
    found: list[_Number] = []
    line = 0
    for row in rows:
        text = sheet.remaining(row).rstrip()
        own = _OWN.fullmatch(text.strip())
        m = None if own is not None else _AFTER.search(text)
        if own is not None:
            if int(own[1]) % _EVERY == 0:
                found.append(_Number(int(own[1]), line, row.start, row.end, False))
            continue
        line += row.text[:1] not in "(["
        if m is not None and int(m["n"]) % _EVERY == 0 and int(m["n"]) > 0:
            gap = len(m["gap"]) > 1 or "\t" in m["gap"]
            found.append(_Number(int(m["n"]), line, row.start + m.end("gap"), row.start + m.end(), gap))
    return found


def _numbers_before(sheet: Sheet, rows: list[Row]) -> list[_Number]:
    found: list[_Number] = []
    line = 0
    for row in rows:
        if row.text[:1] in "([" and not _BEFORE.match(row.text):
            continue
        line += 1
        if len(row.text) > _LONGEST_LINE:
            continue  # a paragraph: its number may be said
        text = sheet.remaining(row)
        lead = len(text) - len(text.lstrip())
        m = _BEFORE.match(text.lstrip())
        if m is not None:
            start = row.start + lead
            found.append(_Number(int(m["n"]), line, start, start + m.end(), False))
    return found


def _counting(sheet: Sheet, found: list[_Number]) -> None:
    """Mark the numbers that number every line, row by row."""
    marked = sorted((m.start, sheet.page.text[m.start : m.end]) for m in sheet.marks if m.what == _REASON)
    for k, f in enumerate(found):
        near = [*found[max(0, k - _NEARBY) : k], *found[k + 1 : k + 1 + _NEARBY]]
        agreeing = sum(o.n - f.n == o.line - f.line for o in near)
        after = bisect_right(marked, (f.end, ""))
        following = re.sub(r"\D", "", marked[after][1]) if after < len(marked) else ""
        # the first number may be printed beside the speaker's name, above a column that was found before
        if agreeing >= _LEAST_AGREEING or (k == 0 and following and int(following) == f.n + 1):
            sheet.leave_out(f.start, f.end, _REASON)


def _of_a_play(sheet: Sheet) -> bool:
    """Whether the heading of an act or a scene was left out: in a play a figure is hardly ever spoken."""
    above = (sheet.page.text[m.start : m.end] for m in sheet.marks if m.kind == "out" and m.what == HEADING)
    return any(is_reference(part) for text in above for part in heading_pieces(text))


def _looks_like_verse(sheet: Sheet, rows: list[Row]) -> bool:
    """Whether enough rows begin with a capital and none is too long. The numbers are still on them."""
    lines = [sheet.remaining(r).strip() for r in rows]
    lines = [t for t in lines if any(c.isalpha() for c in t)]
    capital = sum(next(c for c in t if c.isalpha()).isupper() for t in lines)
    return (
        len(lines) >= _LEAST_VERSE
        and capital >= _CAPITAL * len(lines)
        and max(map(len, lines)) <= _LONGEST_VERSE
    )
