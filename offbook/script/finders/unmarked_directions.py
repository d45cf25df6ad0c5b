"""Directions without brackets in a play: entrances, exits, and action between two speeches.

A play shows who speaks, so nobody says what comes before the first name of a paragraph, or what is indented
less than the speeches. A single speech has no such names; see `bare_directions`.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Set

from offbook.script.finders.directions import DIRECTION, PEOPLE, WORDS, second_word_acts
from offbook.script.sheet import Row, Sheet, paragraphs

# Set by hand, on plays as they are printed and copied (bench/copied.py).
_LEAST_TALK_INDENT = 4  # columns that speeches are indented by at least, if the names are indented more
_LEAST_NAMES = 2  # with fewer names that have a line below them, the indents show nothing

_UNMARKED = re.compile(
    r"(?:\d+[A-Z]?\s+(?=INT|EXT))?"
    r"(?:enter|re-enter|exit|exeunt|they (?:fight|kiss|embrace|dance|sing|draw|freeze|hug|drink|exit"
    r"|look|sit|stand|turn|stare|wait|laugh)|curtain"
    r"|blackout|lights (?:up|down|fade|rise|out)|fade (?:in|out|to)"
    r"|cut to|end of (?:play|scene|act|excerpt|sides?)|dissolve to|smash cut|(?:int|ext)[./])(?!\w)",
    re.IGNORECASE,
)


def find_unmarked_directions(sheet: Sheet) -> None:
    """Mark the directions without brackets in a play: entrances, exits, and action between speeches."""
    if not sheet.names or sheet.lone:
        return
    starts = sorted(m.start for m in sheet.marks if m.kind == "speaker")
    talk, heads = _talk_indent(sheet, starts), set(starts)
    people = PEOPLE | {n.lower() for n in sheet.names}
    for group in paragraphs(sheet.rows):
        for row in group:
            left = sheet.remaining(row).strip(" .:-–—")
            capital = left.lstrip("0123456789 ")[:1].isupper()  # a scene of a film may have its number first
            if _UNMARKED.match(left) and capital and row.start not in heads and sheet.spoken(row):
                sheet.leave_out(row.start, row.end, DIRECTION)
        rows = _before_any_name(sheet, group, starts)
        if rows:
            _leave_out_action(sheet, rows, people, rows[0].start < starts[0], talk)


def _before_any_name(sheet: Sheet, group: list[Row], starts: list[int]) -> list[Row]:
    """The spoken rows of a paragraph before the first name in it; all of them if there is no name."""
    n = bisect_left(starts, group[0].start)
    first = starts[n] if n < len(starts) and starts[n] <= group[-1].end else None
    return [r for r in group if (first is None or r.end <= first) and sheet.spoken(r)]


def _leave_out_action(
    sheet: Sheet, rows: list[Row], people: Set[str], before_all: bool, talk: int | None
) -> None:
    """Mark the rows above a name that nobody says.

    people: who may act, in small letters. before_all: whether the rows come before the first speech of the
    page. talk: the indent of the speeches in columns, None if it shows nothing (`_talk_indent`).
    """
    said = " ".join(r.text for r in rows)
    words = WORDS.findall(said)
    if not words:
        if re.fullmatch(r"\d{1,4}", said) and _after_speech(sheet, rows[0]):
            sheet.leave_out(rows[0].start, rows[0].end, "page number")
        return
    outdented = talk is not None and max(r.indent for r in rows) < talk
    if outdented or before_all or _somebody_acts(words, people):
        reason = "before the first speech" if before_all and not outdented else DIRECTION
        for r in rows:
            sheet.leave_out(r.start, r.end, reason)


def _somebody_acts(words: list[str], people: Set[str]) -> bool:
    """Whether the words begin with one of the people (given in small letters) and what that person does."""
    who = words[0]
    small = words[1:] != [] and words[1].endswith("s")  # a word in capitals may be part of a name
    return small and who[:1].isupper() and who.lower() in people and second_word_acts(words)


def _after_speech(sheet: Sheet, row: Row) -> bool:
    """Whether the printed row before this one is spoken: a number right under a name would be the speech."""
    before = [r for r in sheet.rows if r.end <= row.start and not r.blank and r.start != row.start]
    return bool(before) and sheet.spoken(before[-1])


def _talk_indent(sheet: Sheet, starts: list[int]) -> int | None:
    """The smallest indent in columns of the lines under the names; None if the names are not further in."""
    at = {r.start: k for k, r in enumerate(sheet.rows)}
    names, talk = [], []
    for s in starts:
        k = at.get(s)
        if k is None or sheet.spoken(sheet.rows[k]):
            continue
        follow = [r for r in sheet.rows[k + 1 : k + 2] if not r.blank]
        if follow:
            names.append(sheet.rows[k].indent)
            talk.append(follow[0].indent)
    if len(talk) < _LEAST_NAMES or min(talk) < _LEAST_TALK_INDENT or min(names) <= max(talk) - 1:
        return None
    return min(talk)
