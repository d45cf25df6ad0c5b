"""The speech with its notes, drawn for a terminal: three rows where there is a note, one where there is none.

Above the line is what was said, and below it the mark, so that it can be read without colour, in any width.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rich.text import Text

from offbook.notes import Kind, NotedLine, NotedWord, marks_used

# The mark under a word, repeated to its width; the caret stands alone.
MARKS: dict[Kind, str] = {
    "dropped": "-",
    "changed": "~",
    "added": "^",
    "swapped": "=",
    "repeated": ":",
    "prompted": "!",
    "unsure": "?",
}
_MEANING: dict[Kind, str] = {
    "dropped": "not said",
    "changed": "other words were said, shown above",
    "added": "added",
    "swapped": "said in another order or place",
    "repeated": "said twice",
    "prompted": "prompted",
    "unsure": "not sure",
}
_STYLE: dict[Kind, str] = {
    "dropped": "strike red",
    "changed": "bold yellow",
    "added": "bold yellow",
    "swapped": "bold magenta",
    "repeated": "cyan",
    "prompted": "bold red",
    "unsure": "dim",
}
_LEAST_WIDTH = 24  # columns for the words; a narrower terminal wraps on its own


@dataclass
class _Drawing:
    """Three rows of text being drawn side by side."""

    above: Text = field(default_factory=Text)
    line: Text = field(default_factory=Text)
    below: Text = field(default_factory=Text)

    def rows(self) -> list[Text]:
        """The rows that are not empty."""
        out = []
        for row in (self.above, self.line, self.below):
            row.rstrip()
            if row.plain.strip():
                out.append(row)
        return out


# Set by hand.
_WHOLE_KEY = 200  # columns in which the key is one row
_SAMPLE = 3  # times that a mark is repeated in the key, as it is under a short word
_APART = "   "  # between two items of the key
_AROUND_NUMBER = "  " + "  "  # before and after the number in the gutter


def key(lines: Sequence[NotedLine], width: int = _WHOLE_KEY) -> list[str]:
    """The meaning of the marks that were used, in rows no wider than `width`; none for no marks."""
    shown = {kind: mark * _SAMPLE for kind, mark in MARKS.items()} | {"added": "^", "swapped": "<==>"}
    out: list[str] = []
    for item in (f"{shown[k]} {_MEANING[k]}" for k in marks_used(lines)):
        if out and len(out[-1]) + len(_APART) + len(item) <= width:
            out[-1] += f"{_APART}{item}"
        else:
            out.append(item)
    return out


def draw(lines: Sequence[NotedLine], width: int) -> list[Text]:
    """The rows of the speech for a terminal of `width` columns, an empty one between paragraphs."""
    gutter = max((len(row.number) for row in lines), default=0) + len(_AROUND_NUMBER)
    room = max(_LEAST_WIDTH, width - gutter - 1)
    out: list[Text] = []
    marked = False  # whether the last row drawn is a row of marks
    for k, row in enumerate(lines):
        if k and lines[k - 1].stanza != row.stanza:
            out.append(Text())
        label = f"{row.number:>{gutter - 2}}  "
        for n, drawing in enumerate(_wrapped(row.cells, room)):
            drawn = drawing.rows()
            if marked and drawn[0] is drawing.above and out[-1].plain:
                out.append(Text())  # or the marks would seem to belong to the words below them
            marked = drawn[-1] is drawing.below
            for text in drawn:
                first = n == 0 and text is drawing.line
                indent = label if first else " " * (gutter + 2 * bool(n))
                out.append(Text.assemble((indent, "dim"), text))
    return out


def _wrapped(cells: Sequence[NotedWord], room: int) -> list[_Drawing]:
    drawings = [_Drawing()]
    for cell in cells:
        if not _place(drawings[-1], cell, room):
            drawings.append(_Drawing())
            _place(drawings[-1], cell, room)
    return drawings


def _place(to: _Drawing, cell: NotedWord, room: int) -> bool:
    """Add a cell at the end of a drawing; False, without adding it, where it does not fit."""
    empty = not to.line.plain
    column = len(to.line) + (0 if empty else len(cell.glue))
    above = cell.above if len(cell.above) <= room else cell.above[: room - 1] + "…"
    if above and to.above.plain.strip():
        column = max(column, len(to.above) + 1)
    if not cell.text:  # a caret takes the room of what was put in
        column = max(column, len(to.below) + 1) if to.below.plain.strip() else column
    needed = column + max(len(cell.text), len(above) if not cell.text else 0)
    if not empty and max(needed, column + len(above)) > room:
        return False
    if cell.note is not None and not cell.begins and not empty and cell.glue:
        to.below.append(MARKS[cell.note.kind] * (column - len(to.below)), "bold")
    to.line.append(" " * (column - len(to.line)))
    style = _STYLE[cell.note.kind] if cell.note is not None and cell.text else ""
    to.line.append(cell.text, style)
    if above:
        to.above.append(" " * (column - len(to.above)))
        to.above.append(above, "bold")
    if cell.note is not None:
        to.below.append(" " * (column - len(to.below)))
        to.below.append(_mark(cell), "bold")
    if not cell.text:
        to.line.append(" " * (column + len(above) - len(to.line)))
    return True


def _mark(cell: NotedWord) -> str:
    """The mark under a cell: a caret, or its kind's mark as wide as the word, with arrow heads for a swap."""
    assert cell.note is not None
    if not cell.text:
        return "^"
    mark = MARKS[cell.note.kind] * len(cell.text)
    if cell.note.kind == "swapped":
        mark = ("<" if cell.begins else mark[0]) + mark[1:]
        mark = mark[:-1] + (">" if cell.ends else mark[-1])
    return mark
