"""The teacher's sheet: feet divided, lines numbered, rhymes lettered, and no shifts.

The marks are those of prosody handbooks: x and / over the syllables, a bar between two feet, a letter at the
end of a line for its rhyme, and - for a line without a rhyme (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap

from offbook.errors import ScriptError
from offbook.markup.cells import VOWELS, cells
from offbook.markup.marked import MarkedLine, MarkedScript
from offbook.markup.marked_page import NARROWEST, PageSpan, Row, summary
from offbook.markup.sheet_templates import sheet_template
from offbook.verse import rhyme_letters

# Columns of a line's number, and of the letter of its rhyme, with their gaps; set by hand.
_NUMBER, _LETTER = 5, 4
_APART, _UNDER = "   ", " " * 7  # before a note beside its line, and before one below it; set by hand
_LEAST_LETTERED = 0.3  # share of the lines that must rhyme for the rhymes to get letters; set by hand


@dataclass(frozen=True, slots=True)
class ShownSyllable:
    """A syllable as shown. mark: x, / or "" where it is not scanned. ends_foot: a bar follows it."""

    text: str
    mark: str
    ends_foot: bool


@dataclass(frozen=True, slots=True)
class TaughtLine:
    """A verse line on the sheet. letter: of its rhyme, "" where the verse has none. notes: its variations."""

    number: int
    syllables: tuple[ShownSyllable, ...]
    letter: str
    notes: tuple[str, ...]
    new_stanza: bool


def taught(marked: MarkedScript) -> tuple[TaughtLine, ...]:
    """The verse lines of a speech for a teacher's sheet. Raises ScriptError where there is no verse."""
    lines = [m for m in marked.lines if m.line.verse and m.first is not None and m.last is not None]
    if not any(m.scansion is not None for m in lines):
        raise ScriptError(
            f"{marked.script.source or 'the text'} has no verse whose feet could be divided",
            "mark it without --feet, or name the form with --form verse",
        )
    ends = [marked.words[m.last].text for m in lines if m.last is not None]
    letters = rhyme_letters(ends, [m.line.paragraph for m in lines])
    blank = (marked.versification.metre or "").startswith("blank verse")  # where two ends rhyme by chance
    if blank or sum(letter != "-" for letter in letters) < _LEAST_LETTERED * len(letters):
        letters = ("",) * len(letters)
    return tuple(
        TaughtLine(
            m.line.n,
            _syllables(marked, m),
            letter,
            () if m.scansion is None else m.scansion.variations,
            bool(k) and m.line.paragraph != lines[k - 1].line.paragraph,
        )
        for k, (m, letter) in enumerate(zip(lines, letters, strict=True))
    )


def _syllables(marked: MarkedScript, line: MarkedLine) -> tuple[ShownSyllable, ...]:
    """The syllables of a line in order, each with the blanks and stops after it."""
    assert line.first is not None and line.last is not None
    feet = line.scansion.feet if line.scansion is not None else ()
    edges, at = set(), 0
    for foot in feet[:-1]:
        at += len(foot)
        edges.add(at)
    found: list[ShownSyllable] = []
    count = 0
    for cell in cells(marked, line.first, line.last):
        parts = cell.syllables
        if found and not cell.glued:
            last = found[-1]
            found[-1] = ShownSyllable(last.text + " ", last.mark, last.ends_foot)
        for k, part in enumerate(parts):
            mark = {"w": "x", "s": "/"}.get(cell.stress[k] if k < len(cell.stress) else "", "")
            count += bool(mark)
            text = (cell.before if k == 0 else "") + part + (cell.after if k == len(parts) - 1 else "")
            found.append(ShownSyllable(text, mark, bool(mark) and count in edges))
    return tuple(found)


def teaching_rows(marked: MarkedScript, width: int) -> Iterator[Row]:
    """The teacher's sheet for a terminal of `width` columns."""
    lines = taught(marked)
    room = max(width, NARROWEST)
    yield (PageSpan(marked.script.title or "untitled", "head"),)
    yield (PageSpan(summary(marked)[-2]),)
    yield ()
    longest = max(len(_printed(line)[1]) for line in lines)
    for line in lines:
        if line.new_stanza:
            yield ()
        above, said = _printed(line)
        letter = f"  {line.letter}" if line.letter else ""
        yield (PageSpan(" " * _NUMBER + above, "stress"),)
        note = ", ".join(line.notes)
        shown = said.ljust(min(longest, room - _NUMBER - _LETTER)) if letter else said
        row = [PageSpan(f"{line.number:>4} ", "clock"), PageSpan(shown), PageSpan(letter, "bar")]
        if note and _NUMBER + len(shown) + len(letter) + len(_APART) + len(note) <= room:
            row.append(PageSpan(_APART + note, "note"))
            note = ""
        yield tuple(row)
        for part in wrap(note, room - len(_UNDER)):
            yield (PageSpan(_UNDER), PageSpan(part, "note"))
    yield ()
    yield (PageSpan("/ stressed  x unstressed  | between two feet", "cue"),)
    if any(line.letter for line in lines):
        yield (PageSpan("Letters name the rhymes; - rhymes with no line near.", "cue"),)


def _printed(line: TaughtLine) -> tuple[str, str]:
    """The marks and the words of a line, each mark over the vowel of its syllable."""
    above, said = "", ""
    for s in line.syllables:
        vowel = next((k for k, c in enumerate(s.text) if c.lower() in VOWELS), 0)
        if s.mark:
            above = above.ljust(len(said) + vowel) + s.mark
        bar = "" if not s.ends_foot else "| " if s.text.endswith(" ") else "|"
        said += s.text + bar
        if bar:
            above = above.ljust(len(said) - len(bar)) + "|"
    return above, said.rstrip()


def teaching_sheet(marked: MarkedScript) -> str:
    """The teacher's sheet as a page of HTML that prints on A4."""
    lines = taught(marked)
    return sheet_template("feet.html").render(
        title=marked.script.title or "untitled",
        facts=summary(marked)[-2:-1],
        lines=lines,
        lettered=any(line.letter for line in lines),
    )  # fmt: skip
