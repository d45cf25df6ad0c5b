"""The speech with its notes in place: which note is on which word, before anything is drawn.

The terminal and the pages draw the same thing: the lines of the script as cells, one for each word with its
punctuation, and each cell with the note that is on it. The marks are those of proof-reading (ISO 5776): what
was not said is struck out, what was said instead stands above it, and what was added stands above a caret.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from offbook.notes.kinds import Kind, Note, Review
from offbook.script import Line, Script
from offbook.words import Word, numbered

# Where two notes are on one word, the kind that comes first here is drawn. The list of notes has both.
_FIRST_DRAWN: tuple[Kind, ...] = ("swapped", "dropped", "changed", "prompted", "unsure", "repeated")


@dataclass
class NotedWord:
    """One word as it is printed, or a caret alone (then the text is empty).

    glue: what stands between it and the cell before: a space, or nothing after a dash or hyphen. note: the
    note that is drawn on it. begins, ends: whether this note begins or ends here, on this line. above: what
    stands above it. word: the number of the script word, None for a caret.
    """

    text: str
    glue: str = " "
    note: Note | None = None
    begins: bool = False
    ends: bool = False
    above: str = ""
    word: int | None = None


@dataclass
class NotedLine:
    """One verse line, or one sentence of prose.

    number: as it stands beside it (see `numbered`). stanza: the number of its paragraph. dropped: no word of
    it was said, here or elsewhere.
    """

    number: str
    stanza: int
    cells: list[NotedWord] = field(default_factory=list)
    dropped: bool = False

    @property
    def text(self) -> str:
        """Its words as printed."""
        return "".join(c.glue + c.text for c in self.cells if c.word is not None).strip()

    def within(self, first: int, last: int) -> bool:
        """Whether all its words are among script words `first` to `last`."""
        return all(first <= c.word <= last for c in self.cells if c.word is not None)


def noted_lines(script: Script, words: Sequence[Word], review: Review) -> list[NotedLine]:
    """The whole speech as rows of cells, each with the note on it."""
    drawn = _drawn(review.notes)
    carets: dict[int, list[Note]] = {}
    for note in review.notes:
        if note.before_word is not None:
            carets.setdefault(note.before_word, []).append(note)
    moved = {i for n in review.notes if n.kind == "swapped" for i in range(n.first, n.last + 1)}
    lines = {line.n: line for line in script.lines}
    printed = _all_printed(script, words)
    out: list[NotedLine] = []
    for each in numbered(script, words):
        row = NotedLine(each.number, lines[words[each.first].line].paragraph)
        row.dropped = all(review.run.words[i].verdict == "dropped" and i not in moved for i in each.span)
        out.append(row)
        for i in each.span:
            glue, text = printed[i]
            for note in carets.get(i, ()):
                row.cells.append(NotedWord("", glue, note, True, True, note.heard))
            seen = drawn.get(i)
            begins = seen is not None and (i == seen.first or not row.cells)
            above = _above(seen) if seen is not None and i == seen.first else ""
            ends = seen is not None and i in (seen.last, each.last)
            row.cells.append(NotedWord(text, glue, seen, begins, ends, above, i))
    for note in carets.get(len(words), ()):
        out[-1].cells.append(NotedWord("", " ", note, True, True, note.heard))
    return out


def _drawn(notes: Sequence[Note]) -> dict[int, Note]:
    """For each word with a note, the one that is drawn on it."""
    drawn: dict[int, Note] = {}
    for kind in reversed(_FIRST_DRAWN):
        for note in notes:
            if note.kind == kind:
                drawn.update(dict.fromkeys(range(note.first, note.last + 1), note))
    return drawn


def _above(note: Note) -> str:
    """What stands above the first word of a note: what was said instead, or that the line was asked for."""
    if note.kind in ("changed", "swapped"):
        return note.heard
    return "line?" if note.kind == "prompted" else ""


def _all_printed(script: Script, words: Sequence[Word]) -> dict[int, tuple[str, str]]:
    """For each word what stands between it and the one before, and its printed form."""
    by_line: dict[int, list[Word]] = {}
    for w in words:
        by_line.setdefault(w.line, []).append(w)
    found: dict[int, tuple[str, str]] = {}
    for line in script.lines:
        if line.n in by_line:
            found |= {w.i: (glue, text) for w, glue, text in _printed(script, line, by_line[line.n])}
    return found


def dropped_rows(script: Script, words: Sequence[Word], review: Review) -> list[NotedLine]:
    """The verse lines and sentences of prose of which no word was said, here or elsewhere."""
    return [row for row in noted_lines(script, words, review) if row.dropped]


def _printed(script: Script, line: Line, words: Sequence[Word]) -> list[tuple[Word, str, str]]:
    """Each word of a line with what stands before it, and its printed form with the punctuation."""
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


def marks_used(lines: Sequence[NotedLine]) -> list[Kind]:
    """The kinds of note that are drawn on these rows, in the order of `Kind`."""
    order: tuple[Kind, ...] = ("dropped", "changed", "added", "swapped", "repeated", "prompted", "unsure")
    used = {c.note.kind for row in lines for c in row.cells if c.note is not None}
    return [k for k in order if k in used]
