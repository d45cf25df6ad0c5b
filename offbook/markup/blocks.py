"""The marked script in the order in which it is shown: verse line by line, prose thought by thought.

Between them is what a performer reads and does not say: the cues that they wait for, and the stage directions
that are not inside a line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from offbook.markup.cells import bar_of
from offbook.markup.marked import MarkedLine, MarkedScript
from offbook.script import DIRECTION
from offbook.thoughts import is_seen
from offbook.words import number_of

CUE_WORDS = 8  # last words of another speaker's line, which the performer listens for; set by hand


@dataclass(frozen=True, slots=True)
class Block:
    """A verse line, or a thought of prose.

    first, last: its words, inclusive; at: when it begins (s); number: of its first line; count: the number
    printed beside it, of its line or its sentence, empty where the block before has the same; line: the verse
    line, None for prose; before: the cues and directions before it, each a label and a text.
    """

    first: int
    last: int
    at: float
    number: int
    count: str
    line: MarkedLine | None
    new_paragraph: bool
    before: tuple[tuple[str, str], ...]


def marked_blocks(marked: MarkedScript) -> Iterator[Block]:
    """The blocks of the speech in order; every word is in exactly one."""
    lines = {m.line.n: m for m in marked.lines}
    words = marked.words
    edges = sorted(_edges(marked, lines))
    seen = paragraph = 0
    counted = ""
    for first, after in zip(edges, [*edges[1:], len(words)], strict=True):
        line = lines[words[first].line]
        start = words[first].start
        count = number_of(marked.script, words[first])
        yield Block(
            first,
            after - 1,
            marked.time.starts[first],
            line.line.n,
            count if count != counted else "",
            line if line.line.verse else None,
            paragraph not in (0, line.line.paragraph),
            tuple(_between(marked, seen, start, line.line.n)),
        )
        seen, paragraph = words[after - 1].end, line.line.paragraph
        counted = number_of(marked.script, words[after - 1]) if line.line.verse else count


def _edges(marked: MarkedScript, lines: dict[int, MarkedLine]) -> set[int]:
    """The words that open a block."""
    found = {0} if marked.words else set()
    for before, word in zip(marked.words, marked.words[1:], strict=False):
        was, now = lines[before.line].line, lines[word.line].line
        if before.line != word.line and (was.verse or now.verse or was.paragraph != now.paragraph):
            found.add(word.i)
    verse = {w.i for w in marked.words if lines[w.line].line.verse}
    return found | {t.first for t in marked.thoughts if t.first not in verse}


def _between(marked: MarkedScript, start: int, end: int, n: int) -> Iterator[tuple[str, str]]:
    """What a performer reads and does not say between `start` and `end`, in order."""
    script = marked.script
    found = [(x.start, "", " ".join(x.text.split())) for x in script.left_out
             if start <= x.start and x.end <= end and x.reason == DIRECTION]  # fmt: skip
    for cue in script.cues:
        if cue.before_line == n and start <= cue.end <= end:
            words = cue.text.split()
            tail = " ".join(words if len(words) <= CUE_WORDS else ["…", *words[-CUE_WORDS:]])
            found.append((cue.start, "cue", f"{cue.speaker}: {tail}"))
    return ((label, text) for _, label, text in sorted(found))


def block_notes(marked: MarkedScript, block: Block, every: bool = False) -> list[str]:
    """The notes on a block: the reasons for its marks, then its scansion; the best one, or `every` one.

    The best is on the performer's own mark, or else on a turn, or else on a thought. A bar whose reason can
    be seen on the page (a stop, the end of a line) needs no note.
    """
    found = []
    for shift in marked.shifts_from(block.first, block.last):
        own = shift.source == "performer"
        if own or not is_seen(shift.reason):
            place = "" if shift.before_word == block.first else f"{marked.words[shift.before_word].text}: "
            found.append((not own, -shift.grade, f"{bar_of(shift)} {place}{shift.reason}"))
    if not every:
        found.sort(key=lambda note: note[:2])
    notes = [note for _, _, note in found] + _scansion_notes(block)
    return notes if every else notes[:1]


def _scansion_notes(block: Block) -> list[str]:
    scansion = block.line.scansion if block.line is not None else None
    if scansion is None:
        return []
    marks = str.maketrans("ws", "x/")
    varied = ["scansion: " + ", ".join(scansion.variations)] if scansion.variations else []
    return varied + [f"open: {' '.join(o.stress.translate(marks))} ({o.why})" for o in scansion.open]
