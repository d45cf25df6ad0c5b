"""Fountain scripts: the open plain-text mark-up for screenplays and plays.

Follows the published Fountain syntax (fountain.io/syntax, from memory): what a line is depends on its
capitals, on the blank lines around it, and on marks that force it (`.` heading, `@` character, `!` action,
`~` lyric, `>` transition). Only dialogue and lyrics under a character's name are spoken.
"""

from __future__ import annotations

import re

from offbook.script.sheet import MARK_UP, Mark, Page, Row, bracketed_stretches, text_rows

_TITLE_KEY = re.compile(r"[A-Za-z][A-Za-z \-]*:")
_SCENE = re.compile(r"(?:int|ext|est|int\.?/ext|i/e|e/i)[. ]", re.IGNORECASE)
_CHARACTER = re.compile(
    r"(?P<name>[^a-z()]*[^\W\d_a-z][^a-z()]*?)(?P<more>(?:\s*\([^)]*\))*)\s*(?P<dual>\^?)"
)
_FORCED_CHARACTER = re.compile(r"@(?P<name>[^()^]+?)(?P<more>(?:\s*\([^)]*\))*)\s*(?P<dual>\^?)")
_LONGEST_NAME = 200  # characters of a row that names a character, with what is beside the name
_EMPHASIS = re.compile(r"(?<!\\)(\*{1,3}|_)(?=\S)(?=[^\n]{0,500}?(?<=\S)\1)|(?<=\S)(?<!\\)(\*{1,3}|_)")
_ESCAPE = re.compile(r"\\(?=[*_])")


def read_fountain(text: str) -> Page:
    """The page of a Fountain text, with marks for its speakers and for everything that is not spoken."""
    marks: list[Mark] = []
    cut = bracketed_stretches(text, "/*", "*/", to_the_end=True)
    marks += [Mark(*span, "out", "cut by the writer") for span in cut]
    marks += [Mark(*span, "out", "writer's note") for span in bracketed_stretches(text, "[[", "]]")]
    gone = bytearray(len(text))
    for m in marks:
        gone[m.start : m.end] = b"\x01" * (m.end - m.start)
    title, begin = _title_page(text, marks)
    rows = [_without(row, gone, text) for row in text_rows(text)]
    rows = [row for row in rows if row.start >= begin or row.blank]
    k = 0
    spoken = False
    while k < len(rows):
        if _opens_speech(rows, k):
            spoken = True
            k = _speech(rows, k, marks, text)
        else:
            if not rows[k].blank:
                marks.append(Mark(rows[k].start, rows[k].end, "out", _kind(rows, k)))
            k += 1
    if not spoken:  # no character is named: all of the text is the speech
        return Page(text, title=title, marks=tuple(m for m in marks if m.what in _ASIDE))
    marks += _emphasis(text)
    return Page(text, title=title, marks=tuple(marks), structured=True)


_ASIDE = ("cut by the writer", "writer's note", "title page")


def _title_page(text: str, marks: list[Mark]) -> tuple[str, int]:
    """The title, and the offset at which the script itself begins: the title page ends at a blank line."""
    if not _TITLE_KEY.match(text):
        return "", 0
    end = text.find("\n\n")
    end = len(text) if end < 0 else end
    head = text[:end]
    if not all(_TITLE_KEY.match(line) or line[:1] in " \t" for line in head.split("\n") if line.strip()):
        return "", 0
    marks.append(Mark(0, end, "out", "title page"))
    m = re.search(r"^title:[ \t]*(.*(?:\n[ \t]+\S.*)*)", head, re.IGNORECASE | re.MULTILINE)
    title = " ".join(re.sub(r"[*_]", "", m[1]).split()) if m is not None else ""
    return title, end


def _without(row: Row, gone: bytearray, text: str) -> Row:
    """The row without the notes and cut passages on it; a row with nothing else on it becomes blank."""
    if not any(gone[row.start : row.end]):
        return row
    left = "".join(" " if gone[k] else text[k] for k in range(row.start, row.end))
    if not left.strip():
        return Row(row.end, row.end, "", 0)
    lead = len(left) - len(left.lstrip())
    return Row(row.start + lead, row.start + len(left.rstrip()), left.strip(), row.indent)


def _blank(rows: list[Row], k: int) -> bool:
    return k < 0 or k >= len(rows) or rows[k].blank


def _opens_speech(rows: list[Row], k: int) -> bool:
    """Whether row k is a character's name: capitals or `@`, a blank line before, none after."""
    row = rows[k]
    if row.blank or not _blank(rows, k - 1) or _blank(rows, k + 1) or len(row.text) > _LONGEST_NAME:
        return False
    if row.text.startswith("@"):
        return _FORCED_CHARACTER.fullmatch(row.text) is not None
    if row.text[0] in ".!>~=#(" or _SCENE.match(row.text) or row.text.endswith("TO:"):
        return False
    return _CHARACTER.fullmatch(row.text) is not None


def _speech(rows: list[Row], k: int, marks: list[Mark], text: str) -> int:
    """Mark the name and the parentheticals of the speech at row k. Returns the index of the row after it."""
    row = rows[k]
    m = _FORCED_CHARACTER.fullmatch(row.text) or _CHARACTER.fullmatch(row.text)
    assert m is not None
    marks.append(Mark(row.start, row.end, "speaker", " ".join(m["name"].strip(" ^").split())))
    k += 1
    while k < len(rows) and (not rows[k].blank or _held_open(rows, k, text)):
        said = rows[k]
        if said.text.startswith("(") and said.text.endswith(")"):
            marks.append(Mark(said.start, said.end, "out", "stage direction"))
        elif said.text.startswith("~"):
            marks.append(Mark(said.start, said.start + 1, "out", MARK_UP))
        k += 1
    return k


def _held_open(rows: list[Row], k: int, text: str) -> bool:
    """Whether row k has two blanks on it: the speech then continues, while an empty line would end it."""
    before = rows[k - 1].end
    line = text[before : rows[k].end + 2]
    printed = re.match(r"[ \t]*\n( {2,})(?=\n|\Z)", line)
    return printed is not None and k + 1 < len(rows) and not rows[k + 1].blank


def _kind(rows: list[Row], k: int) -> str:
    text = rows[k].text
    if re.match(r"\.[^.\s]", text) or (_SCENE.match(text) and _blank(rows, k + 1)):
        return "scene heading"
    if text.startswith(">"):
        return "centred text" if text.endswith("<") else "transition"
    if text.endswith("TO:") and text == text.upper() and _blank(rows, k - 1) and _blank(rows, k + 1):
        return "transition"
    if text.startswith("#"):
        return "section"
    if text.startswith("=") and not text.startswith("==="):
        return "synopsis"
    if text.startswith("~"):
        return "lyric with no singer named"
    return "page break" if text.startswith("===") else "action"


def _emphasis(text: str) -> list[Mark]:
    found = [Mark(m.start(), m.end(), "out", MARK_UP) for m in _EMPHASIS.finditer(text)]
    return found + [Mark(m.start(), m.end(), "out", MARK_UP) for m in _ESCAPE.finditer(text)]
