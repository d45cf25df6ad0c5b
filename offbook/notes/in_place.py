"""The speech with its notes in place: what stands where, before it is drawn.

The terminal and the printed page draw the same thing: the lines of the script as cells, one for each
word with its punctuation, each cell carrying the note that stands on it. The marks follow the practice
of proof-reading (ISO 5776): what is not said is struck out, what is said instead stands above, what is
put in stands above a caret.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from offbook.notes.kinds import Kind, Note, Review
from offbook.script import Line, Script
from offbook.words import Word

# Where two notes stand on one word, the earlier in this list is drawn; both are in the list of notes.
_FIRST_DRAWN: tuple[Kind, ...] = ("swapped", "dropped", "changed", "prompted", "unsure", "repeated")


@dataclass
class Cell:
    """One word as printed, or a caret alone (text empty).

    glue: what stands between it and the cell before (a space, or nothing after a dash or hyphen).
    note: the note drawn on it. begins, ends: whether that note begins or ends here (on this line).
    above: what stands above it. word: the script word's index, None for a caret.
    """

    text: str
    glue: str = " "
    note: Note | None = None
    begins: bool = False
    ends: bool = False
    above: str = ""
    word: int | None = None


@dataclass
class Row:
    """One verse line, or one paragraph of prose. number: the line's number, None in prose."""

    number: int | None
    stanza: int
    cells: list[Cell] = field(default_factory=list)
    dropped: bool = False


def rows(script: Script, words: Sequence[Word], review: Review) -> list[Row]:
    """The whole speech as rows of cells."""
    drawn = _drawn(review.notes)
    carets: dict[int, list[Note]] = {}
    for note in review.notes:
        if note.before_word is not None:
            carets.setdefault(note.before_word, []).append(note)
    gone = {d.line for d in review.dropped_lines}
    by_line: dict[int, list[Word]] = {}
    for w in words:
        by_line.setdefault(w.line, []).append(w)
    out: list[Row] = []
    for line in script.lines:
        if line.n not in by_line:
            continue
        joined = bool(out) and not line.verse and out[-1].number is None and out[-1].stanza == line.paragraph
        if not joined:
            out.append(Row(line.n if line.verse else None, line.paragraph))
        row = out[-1]
        row.dropped = line.n in gone if line.verse else False
        for word, glue, text in _printed(script, line, by_line[line.n]):
            for note in carets.get(word.i, ()):
                row.cells.append(Cell("", glue, note, True, True, note.heard))
            seen = drawn.get(word.i)
            begins = seen is not None and (word.i == seen.first or not row.cells)
            above = _above(seen) if seen is not None and word.i == seen.first else ""
            ends = seen is not None and (word.i == seen.last or word is by_line[line.n][-1])
            row.cells.append(Cell(text, glue, seen, begins, ends, above, word.i))
    for note in carets.get(len(words), ()):
        out[-1].cells.append(Cell("", " ", note, True, True, note.heard))
    return out


def _drawn(notes: Sequence[Note]) -> dict[int, Note]:
    drawn: dict[int, Note] = {}
    for kind in reversed(_FIRST_DRAWN):
        for note in notes:
            if note.kind == kind:
                drawn.update(dict.fromkeys(range(note.first, note.last + 1), note))
    return drawn


def _above(note: Note) -> str:
    """What stands above the first word of a note: what was said instead, or what was asked for."""
    if note.kind in ("changed", "swapped"):
        return note.heard
    return "line?" if note.kind == "prompted" else ""


def _printed(script: Script, line: Line, words: Sequence[Word]) -> list[tuple[Word, str, str]]:
    """Each word of a line with the glue before it and its printed form, punctuation included."""
    hidden = [(x.start, x.end) for x in script.left_out if x.start < line.end and x.end > line.start]

    def between(start: int, end: int) -> str:
        kept = "".join(c for k, c in enumerate(script.text[start:end], start) if not _inside(hidden, k))
        return " ".join(kept.split()) if not kept[:1].isspace() else " " + " ".join(kept.split())

    out: list[tuple[Word, str, str]] = []
    lead = between(line.start, words[0].start).lstrip()
    glue = ""
    for k, word in enumerate(words):
        end = words[k + 1].start if k + 1 < len(words) else line.end
        gap = script.text[word.end : end]
        after = between(word.end, end)
        trail, space, next_lead = after.partition(" ")
        spaced = bool(space) or gap[-1:].isspace()
        out.append((word, glue, lead + script.text[word.start : word.end] + trail))
        lead, glue = next_lead, " " if spaced else ""
        if k + 1 == len(words) and lead:
            out[-1] = (word, out[-1][1], out[-1][2] + space + lead)
    first = out[0]
    out[0] = (first[0], " ", first[2])
    return out


def _inside(spans: Sequence[tuple[int, int]], k: int) -> bool:
    return any(a <= k < b for a, b in spans)


def marks_used(lines: Sequence[Row]) -> list[Kind]:
    """The kinds of note that are drawn on these rows, in the order of the contract's list."""
    order: tuple[Kind, ...] = ("dropped", "changed", "added", "swapped", "repeated", "prompted", "unsure")
    used = {c.note.kind for row in lines for c in row.cells if c.note is not None}
    return [k for k in order if k in used]
