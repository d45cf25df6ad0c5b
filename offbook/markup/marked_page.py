"""The marked script for a terminal: columns of plain characters, as wide as the terminal is.

From left to right: the number of the line or sentence, the running clock, the bar with which the line or
thought begins, the speech with its stress marks above and its bars in place, and, where there is room, the
reasons in the margin; in a narrow terminal they are below the line. Nothing is said by colour alone: each
piece of a row says what it is, and the command line may colour it or not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Literal

from offbook.markup.blocks import Block, block_notes, marked_blocks
from offbook.markup.cells import Cell, bar_of, cells
from offbook.markup.marked import MarkedScript
from offbook.phrasing import PERCENT, clock_time
from offbook.script import other_language
from offbook.words import counted, numbered, where_each

Kind = Literal["text", "bar", "stress", "clock", "note", "cue", "head", "warning"]
# Columns, set by hand.
NARROWEST = 40  # in a narrower window the page is laid out for so many
_TEXT_AT_MOST, _TEXT_PERCENT = 62, 60  # of the speech beside a margin: at most, and of what there is
_LONGEST_WORD, _LEAST_NOTE = 24, 20  # of a word worth a look, and of what is said of it
_AROUND_WORD = "  " + "  "  # the gaps before and after such a word
MARGIN_FROM = 96  # of a window in which the reasons have a margin of their own
NUMBER, CLOCK, GUTTER, GAP = 4, 6, 5, 3  # of the number, the running clock and the bar, and before the margin


@dataclass(frozen=True, slots=True)
class PageSpan:
    """A stretch of one row and what it is."""

    text: str
    kind: Kind = "text"


Row = tuple[PageSpan, ...]


def marked_rows(marked: MarkedScript, width: int, every_note: bool = False) -> Iterator[Row]:
    """The speech, row by row, for a terminal of `width` columns; one note a line unless `every_note`."""
    page = _Page(marked, max(width, NARROWEST), every_note)
    for block in marked_blocks(marked):
        if block.new_paragraph:
            yield ()
        for label, text in block.before:
            yield from page.aside(label, text)
        yield from page.block(block)


class _Page:
    def __init__(self, marked: MarkedScript, width: int, every_note: bool) -> None:
        self.marked, self.every_note = marked, every_note
        self.margin = width >= MARGIN_FROM
        room = width - NUMBER - CLOCK - GUTTER
        self.text_width = min(_TEXT_AT_MOST, room * _TEXT_PERCENT // PERCENT) if self.margin else room
        self.note_width = room - self.text_width - GAP if self.margin else room - 2
        self.shifts = {s.before_word: s for s in marked.shifts}

    def aside(self, label: str, text: str) -> Iterator[Row]:
        """A cue, shortened to its end, or a direction: not spoken by the performer."""
        for k, part in enumerate(wrap(text, self.text_width) or [""]):
            yield (
                PageSpan((label if k == 0 else "").rjust(NUMBER + CLOCK + GUTTER - 1) + " ", "cue"),
                PageSpan(part, "cue"),
            )

    def block(self, block: Block) -> Iterator[Row]:
        """A verse line or a thought with its marks and notes."""
        yield from self._block(
            block.first, block.last, block.at, block.count, block_notes(self.marked, block, self.every_note)
        )

    def _block(self, first: int, last: int, at: float, count: str, notes: Sequence[str]) -> Iterator[Row]:
        lines = self._wrapped(cells(self.marked, first, last))
        shift = self.shifts.get(first)
        gutter = bar_of(shift) if shift is not None else ""
        margin = [part for note in notes for part in wrap(note, self.note_width, subsequent_indent="  ")]
        body: list[tuple[list[PageSpan], int]] = []
        for stress, text, used in lines:
            if stress.strip():
                body.append(([PageSpan(stress, "stress")], len(stress)))
            body.append((text, used))
        said_at = next((k for k, (pieces, _) in enumerate(body) if pieces[0].kind != "stress"), 0)
        for k in range(max(len(body), len(margin) if self.margin else 0)):
            pieces, used = body[k] if k < len(body) else ([], 0)
            opening = k == said_at
            row = [
                PageSpan((count if opening else "").rjust(NUMBER - 1) + " ", "clock"),
                PageSpan((clock_time(at) if opening else "").rjust(CLOCK - 1) + " ", "clock"),
                PageSpan((gutter if opening else "").rjust(GUTTER - 1) + " ", "bar"),
                *pieces,
            ]
            if self.margin and k < len(margin):
                row.append(PageSpan(" " * max(GAP, self.text_width + GAP - used)))
                row.append(PageSpan(margin[k], "note"))
            yield tuple(row)
        if not self.margin:
            for part in margin:
                yield (PageSpan(" " * (NUMBER + CLOCK + GUTTER + 2)), PageSpan(part, "note"))

    def _wrapped(self, found: Sequence[Cell]) -> list[tuple[str, list[PageSpan], int]]:
        """Rows of (stress, text, columns used) no wider than the text column where words allow it."""
        done: list[tuple[str, list[PageSpan], int]] = []
        stress, pieces, used = "", list[PageSpan](), 0
        for cell in found:
            bar = f"{cell.bar} " if cell.bar else ""
            space = "" if not used or (cell.glued and not cell.bar) else " "
            if used and used + len(space) + len(bar) + len(cell.printed) > self.text_width and space:
                done.append((stress, pieces, used))
                stress, pieces, used, space = "", [], 0, ""
            if space or bar:
                pieces.append(PageSpan(space + bar, "bar"))
            used += len(space) + len(bar)
            stress = stress.ljust(used) + cell.above
            pieces.append(PageSpan(cell.printed))
            used += len(cell.printed)
        done.append((stress, pieces, used))
        return done


def summary(marked: MarkedScript) -> list[str]:
    """What the speech is and how long it runs, in two sentences for people."""
    t = marked.time
    kind = marked.versification.metre or marked.script.form
    if marked.script.form == "verse" and not any(m.scansion is not None for m in marked.lines):
        kind += " (no line of it can be scanned)"
    if marked.versification.open:
        kind += f" (or {marked.versification.open})"
    numbers = numbered(marked.script, marked.words)
    prose = marked.script.form == "prose"
    first = (len(numbers), "sentence") if prose else (len(marked.lines), "line")
    counts = (first, (len(marked.words), "word"), (len(marked.thoughts), "thought"))
    language = other_language(w.text for w in marked.words)
    warned = [] if language is None else [
        f"This seems to be in {language}. offbook knows only how English sounds and is built: take marks, "
        "stress and times below as guesses."
    ]  # fmt: skip
    return [
        *warned,
        ", ".join([kind, *(f"{n} {noun}" if n == 1 else f"{n} {noun}s" for n, noun in counts)]),
        f"Running time {clock_time(t.seconds)}, likely between {clock_time(t.low)} and {clock_time(t.high)}: "
        f"{t.voiced:.0f} s of speaking, {t.pauses:.0f} s of pauses, {t.rate_wpm:.0f} words a minute, "
        f"{t.articulation:.1f} syllables a second, at {t.pace.name}.",
    ]


def limit_in_words(marked: MarkedScript, limit: float) -> str:
    """Whether the speech keeps to `limit` seconds, for people."""
    over = marked.time.seconds - limit
    fits = f"{clock_time(-over)} to spare" if over <= 0 else f"{clock_time(over)} over"
    chance = f"{PERCENT * marked.time.chance(limit):.0f} in 100 chance of ending in time"
    return f"Limit {clock_time(limit)}: {fits}, {chance}."


def head(marked: MarkedScript, limit: float | None, width: int) -> Iterator[Row]:
    """Title, form, running time and limit."""
    yield (PageSpan(marked.script.title or "untitled", "head"),)
    for fact in summary(marked):
        for part in wrap(fact, max(width, NARROWEST)):
            yield (PageSpan(part),)
    if limit is not None:
        late = marked.time.seconds > limit
        for part in wrap(limit_in_words(marked, limit), max(width, NARROWEST)):
            yield (PageSpan(part, "warning" if late else "head"),)


def legend(marked: MarkedScript) -> str:
    """What the bars that are shown stand for."""
    phrases = "| phrase  " if any(s.grade == 1 for s in marked.shifts) else ""
    open_turns = "  |||? a turn some would make" if any(s.open for s in marked.shifts) else ""
    return f"{phrases}|| thought  ||| turn{open_turns}"


def foot(marked: MarkedScript, width: int) -> Iterator[Row]:
    """The legend, the words worth a look, and the rows of the pencil file that found no place."""
    room = max(width, NARROWEST)
    for part in wrap(legend(marked), room):
        yield (PageSpan(part, "cue"),)
    if any(m.scansion is not None for m in marked.lines):
        yield (PageSpan("/ stressed  x unstressed", "cue"),)
    yield (PageSpan(counted(marked.script), "cue"),)
    found = look_up_rows(marked)
    if found:
        yield ()
        yield (PageSpan("Words worth a look", "head"),)
    longest = min(_LONGEST_WORD, max((len(x["shown"]) for x in found), default=0))
    for x in found:
        note = f"{x['why']} ({x['where']})"
        for k, part in enumerate(wrap(note, max(_LEAST_NOTE, room - longest - len(_AROUND_WORD)))):
            yield (
                PageSpan("  " + (x["shown"] if k == 0 else "").ljust(longest) + "  ", "head"),
                PageSpan(part),
            )
    for u in marked.pencil.unplaced:
        for part in wrap(f"Pencil file, row {u.row}: {u.why}: {u.text}", room):
            yield (PageSpan(part, "warning"),)


def look_up_rows(marked: MarkedScript) -> list[dict[str, str]]:
    """The words worth a look as text: shown, stress, why and where."""
    found = []
    for x in marked.look_up:
        where = where_each(marked.script, marked.words, x.places)
        sure = "" if x.sure else "; said like this by rule, not from a dictionary"
        why = f"{', '.join(x.kinds)}: {x.note}{sure}"
        found.append({"shown": x.shown, "stress": " ".join(x.stress), "why": why, "where": where})
    return found
