"""The marked script: everything found about a speech, put together in one place.

`mark` asks every stage before this one (the performer's pencil, thought shifts, verse, running time, words
worth a look) and returns a `MarkedScript`. The terminal (`markup.marked_page`), the printed page
(`markup.print_sheet`) and the JSON (`markup.marked_json`) only show it. Where the pencil file and a computed
shift differ, the pencil file wins.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from offbook import glossary, thoughts, verse
from offbook.pencil import Pencil, Unplaced
from offbook.script import Line, Script
from offbook.thoughts import Shift
from offbook.timing import Pace, RunningTime, Tempo, TimedStretch, plain_of, running_time
from offbook.verse import Scansion, Versification
from offbook.words import Word


@dataclass(frozen=True, slots=True)
class TimedThought:
    """A thought, and when it is spoken.

    first, last: its words, inclusive; grade: of the shift that it begins with; time: where it is in the
    running time.
    """

    first: int
    last: int
    grade: Literal[2, 3]
    time: TimedStretch


@dataclass(frozen=True, slots=True)
class MarkedLine:
    """One line with what was found about it. first, last: its words, inclusive; None without words.

    scansion: None for prose and for verse that is not to be scanned.
    """

    line: Line
    first: int | None
    last: int | None
    scansion: Scansion | None
    time: TimedStretch | None


@dataclass(frozen=True, slots=True)
class MarkedScript:
    """A marked script."""

    script: Script
    words: tuple[Word, ...]
    lines: tuple[MarkedLine, ...]
    versification: Versification
    shifts: tuple[Shift, ...]
    thoughts: tuple[TimedThought, ...]
    time: RunningTime
    look_up: tuple[glossary.LookUp, ...]
    pencil: Pencil

    def shifts_from(self, first: int, last: int) -> tuple[Shift, ...]:
        """The shifts that come before the words `first` to `last`, inclusive."""
        a = bisect_left(self.shifts, first, key=lambda s: s.before_word)
        return self.shifts[a : bisect_right(self.shifts, last, a, key=lambda s: s.before_word)]

    def lines_from(self, first: int, last: int) -> tuple[MarkedLine, ...]:
        """The lines in which the words `first` to `last`, inclusive, are."""
        a = bisect_left(self.lines, self.words[first].line, key=lambda m: m.line.n)
        return self.lines[a : bisect_right(self.lines, self.words[last].line, a, key=lambda m: m.line.n)]


def without_phrases(marked: MarkedScript) -> MarkedScript:
    """`marked` as it is shown by default: thoughts and turns, and all marks of the performer's own."""
    return replace(marked, shifts=tuple(s for s in marked.shifts if s.grade > 1 or s.source == "performer"))


def as_form(script: Script, form: str | None) -> Script:
    """`script` as "verse" or as "prose", whatever it looks like; unchanged where `form` is None."""
    if form is None:
        return script
    lines = tuple(replace(line, verse=form == "verse") for line in script.lines)
    return replace(script, form="verse" if form == "verse" else "prose", lines=lines)


def mark(
    script: Script,
    words: tuple[Word, ...],
    pencil: Pencil | None = None,
    pace: Pace | None = None,
    tempo: Tempo | None = None,
    metre: str | None = None,
) -> MarkedScript:
    """Everything that is found about `words` of `script`.

    pace: None for the usual pace of its kind; metre: its name; None for the one in the pencil file, or else
    the one that fits the lines. Raises MetreError where `metre` is not the name of a metre; in the pencil
    file such a name is reported with its row.
    """
    pencilled, set_by_hand = with_metre(pencil if pencil is not None else Pencil())
    time = running_time(plain_of(script, words, tempo), pace)
    shifts = thoughts.marks_of(script, words, pencilled)
    versification = verse.scan(script, words, pencilled.fixes, metre or set_by_hand)
    return MarkedScript(
        script=script,
        words=words,
        lines=_lines(script, words, versification, time),
        versification=versification,
        shifts=shifts,
        thoughts=tuple(
            TimedThought(t.first, t.last, t.grade, time.stretch(t.first, t.last))
            for t in thoughts.thoughts_of(script, words, shifts)
        ),
        time=time,
        look_up=glossary.words_worth_a_look(script, words),
        pencil=pencilled,
    )


def with_metre(pencil: Pencil) -> tuple[Pencil, str | None]:
    """The pencil file, and the metre that it sets.

    A name that no metre has is put among the unplaced rows.
    """
    if pencil.metre is None:
        return pencil, None
    name, row = pencil.metre
    try:
        verse.set_metre(name)
    except verse.MetreError as error:
        lost = Unplaced(row, f"metre: {name}", error.what)
        unplaced = tuple(sorted((*pencil.unplaced, lost), key=lambda u: u.row))
        return replace(pencil, unplaced=unplaced, metre=None), None
    return pencil, name


def _lines(
    script: Script, words: Sequence[Word], versification: Versification, time: RunningTime
) -> tuple[MarkedLine, ...]:
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for w in words:
        first.setdefault(w.line, w.i)
        last[w.line] = w.i
    found = []
    for line, scansion in zip(script.lines, versification.lines, strict=True):
        if line.n in first:
            a, b = first[line.n], last[line.n]
            found.append(MarkedLine(line, a, b, scansion, time.stretch(a, b)))
        else:
            found.append(MarkedLine(line, None, None, scansion, None))
    return tuple(found)
