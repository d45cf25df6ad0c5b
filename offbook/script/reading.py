"""The script: what is on the page, and which of it is spoken.

A performer's script arrives as a file in one of several formats. This stage reads it unchanged and says
exactly which characters are words to say and which were left out, and why. `load_script` returns a `Script`;
every later stage works on it and its offsets, and never looks at the file again.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Literal

from offbook.errors import ScriptError, visible
from offbook.script.choices import Choices, apply_choices, read_choices
from offbook.script.finders.bare_directions import find_bare_directions
from offbook.script.finders.directions import find_brackets, find_italics
from offbook.script.finders.furniture import find_furniture, find_scene_headings
from offbook.script.finders.line_numbers import find_line_numbers
from offbook.script.finders.lone_speech import find_above_speech, find_source, find_sure_headings
from offbook.script.finders.opening import find_opening, find_title
from offbook.script.finders.pasted import TAG, TIME_CODE, find_pasted
from offbook.script.finders.speakers import find_speakers, folded, is_everybody, said_by, together
from offbook.script.finders.unmarked_directions import find_unmarked_directions
from offbook.script.formats import read_page
from offbook.script.language import other_language
from offbook.script.sheet import Page, Row, Sheet
from offbook.script.verse_or_prose import (
    COUPLE,
    ENDS_SENTENCE,
    MOST_CAPITALS,
    is_verse,
    is_wrapped,
    line_is_paragraph,
    shape,
    verse_lines,
)

Form = Literal["verse", "prose", "mixed"]


@dataclass(frozen=True, slots=True)
class Line:
    """One spoken line of verse, or one spoken line of prose as the file divides it.

    n: its number, counted from 1 over the spoken lines of the whole file. start, end: offsets in code points
    into `Script.text`, end exclusive; a stage direction inside the line is part of this range. text: what is
    spoken, without such directions. paragraph: the number of its stanza or paragraph, counted from 1.
    speaker: the part that says it, None if the script names no speakers. verse: whether the line is a line of
    verse.
    """

    n: int
    start: int
    end: int
    text: str
    paragraph: int
    speaker: str | None = None
    verse: bool = False


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A stretch of the text that is not spoken.

    start, end: offsets in code points into `Script.text`, end exclusive. reason: a short phrase that tells
    the performer why it was left out. sure: False if it might be spoken after all.
    """

    start: int
    end: int
    text: str
    reason: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Cue:
    """Another part's speech, kept as the cue for the performer's next line.

    start, end: offsets in code points into `Script.text`, end exclusive. before_line: `Line.n` of the
    performer's line that follows it, None if it comes after the performer's last line.
    """

    start: int
    end: int
    text: str
    speaker: str
    before_line: int | None


@dataclass(frozen=True, slots=True)
class Script:
    """A script as it was read.

    text: the whole text, without a byte-order mark and with LF as the line end; for a docx, odt or pdf the
    text that was extracted from it. parts: the names of those who speak. part: the one that the performer
    says, None if nobody was chosen. perhaps: stretches that are spoken but might be headings or directions.
    first_sentence: the number of the first sentence, greater than 1 in an excerpt from a longer speech.
    """

    title: str
    source: str
    text: str
    form: Form
    lines: tuple[Line, ...]
    left_out: tuple[LeftOut, ...] = ()
    cues: tuple[Cue, ...] = ()
    parts: tuple[str, ...] = ()
    part: str | None = None
    perhaps: tuple[LeftOut, ...] = ()
    first_sentence: int = 1

    @property
    def doubtful(self) -> tuple[LeftOut, ...]:
        """The stretches that were left out but might be spoken after all."""
        return tuple(out for out in self.left_out if not out.sure)


def load_script(path: str | Path, part: str | None = None) -> Script:
    """Read the script at `path` ("-" for standard input) for the performer of `part`.

    Where the page can be read in two ways, the choices that the performer saved beside it (`choices`) decide.
    The format (text, Markdown, Fountain, docx, odt or pdf) is recognised by the file's content, then by its
    name. Raises ScriptError if the file cannot be read, holds no words, is not English, or has no such part.
    """
    page = read_page(path)
    name = "the pasted text" if str(path) == "-" else str(path)
    title = page.title or ("pasted text" if str(path) == "-" else Path(path).stem)
    script = _script_of(page, title, name, part, read_choices(path))
    check_english(script, (line.text for line in script.lines))
    return script


def parse_script(text: str, title: str = "", source: str = "", part: str | None = None) -> Script:
    """`text` (plain text with LF line ends) as a `Script`.

    Raises ScriptError if it has no words or no such part.
    """
    return _script_of(Page(text), title, source, part)


def check_english(script: Script, words: Iterable[str]) -> None:
    """Raise ScriptError if `words` (words or lines of the script) are plainly not English."""
    language = other_language(words)
    if language is not None:
        raise ScriptError(
            f"{script.source or 'the text'} seems to be in {language}, and offbook understands only English",
            "give an English script; a text that is English can be read in smaller pieces",
        )


def _script_of(
    page: Page, title: str, source: str, part: str | None, choices: Choices | None = None
) -> Script:
    page, title = _without_control_characters(page), visible(title)
    sheet = Sheet(page)
    if choices is not None:
        apply_choices(sheet, choices)
    if not page.structured:
        find_pasted(sheet)
        find_furniture(sheet)
        find_sure_headings(sheet)
        find_title(sheet)
        find_speakers(sheet)
        if not sheet.names:
            find_above_speech(sheet)
            find_opening(sheet)
            find_source(sheet)
        find_scene_headings(sheet)
        find_brackets(sheet)
        find_italics(sheet)
        find_unmarked_directions(sheet)
        if sheet.lone:
            find_bare_directions(sheet)
        find_line_numbers(sheet)
    else:
        find_speakers(sheet)
        find_brackets(sheet)
    spoken = [row for row in sheet.rows if sheet.spoken(row)]
    if not spoken:
        why = "has no words to say" + (": all of it was left out" if sheet.marks else "")
        raise ScriptError(f"{source or 'the text'} {why}", "give a script with text in it")
    lines = _lines(sheet, spoken)
    parts = _parts(lines)
    cues: tuple[Cue, ...] = ()
    if part is not None:
        part = _find_part(part, parts, source)
        lines, cues = _split_by_part(lines, part, parts)
    return Script(
        title=title,
        source=source,
        text=page.text,
        form=form_of(lines),
        lines=lines,
        left_out=_left_out(sheet),
        cues=cues,
        parts=parts,
        part=part,
        perhaps=tuple(
            LeftOut(m.start, m.end, page.text[m.start : m.end], m.what, False)
            for m in sheet.perhaps
            if not any(sheet.gone[m.start : m.end]) and (m.start, m.end) not in sheet.kept
        ),
    )


# A terminal would obey these characters instead of showing them. Those that end a line or a page stay.
_CONTROL_CHARACTERS = {n: " " for n in (*range(0x20), *range(0x7F, 0xA0)) if chr(n) not in "\t\n\v\f\x85"}


def _without_control_characters(page: Page) -> Page:
    """The page with a blank in place of each control character, so that no offset changes."""
    text = page.text.translate(_CONTROL_CHARACTERS)
    if text == page.text:
        return page
    marks = tuple(replace(m, what=m.what.translate(_CONTROL_CHARACTERS)) for m in page.marks)
    return replace(page, text=text, marks=marks)


def form_of(lines: Iterable[Line]) -> Form:
    """Whether lines are verse, prose or both."""
    kinds = {line.verse for line in lines}
    if len(kinds) > 1:
        return "mixed"
    return "verse" if kinds == {True} else "prose"


def _lines(sheet: Sheet, spoken: list[Row]) -> tuple[Line, ...]:
    """The spoken rows as lines: who says each, which paragraph it is in, and whether it is verse."""
    speakers = sorted((m.start, m.what) for m in sheet.marks if m.kind == "speaker")
    starts = [s for s, _ in speakers]
    bounds = [_spoken_bounds(sheet, row) for row in spoken]
    owners = [bisect_right(starts, end - 1) - 1 for _, end in bounds]
    blocks = _blocks(_paragraph_breaks(sheet, spoken, owners))
    texts = [_spoken_text(sheet, start, end) for start, end in bounds]
    grouped = [[texts[k] for k in block] for block in blocks]
    titled = _is_of_subtitles(sheet, texts)
    verse = [v and not titled for v in verse_lines(grouped, speeches=bool(speakers))]
    wrapped = any(len(block) > COUPLE and is_wrapped(shape(block)) for block in grouped)
    lines: list[Line] = []
    paragraph = 0
    for block, said, in_verse in zip(blocks, grouped, verse, strict=True):
        apart = not in_verse and not titled and line_is_paragraph(said, wrapped)
        paragraph += 1
        for k in block:
            paragraph += apart and k != block[0] and not _continues_sentence(texts[k])
            owner = speakers[owners[k]][1] if owners[k] >= 0 else None
            lines.append(Line(len(lines) + 1, *bounds[k], texts[k], paragraph, owner, in_verse))
    return tuple(lines)


def _is_of_subtitles(sheet: Sheet, texts: list[str]) -> bool:
    """Whether the page is subtitles: their lines end where the screen was full, so they show no verse."""
    timed = any(m.what == TIME_CODE for m in sheet.marks)
    return timed and (shape(texts).capital or 0.0) < MOST_CAPITALS


def _continues_sentence(text: str) -> bool:
    """Whether a line of prose continues the sentence before it, and so does not begin a paragraph."""
    return text[:1].islower()


def _blocks(breaks: list[bool]) -> list[list[int]]:
    """The indices of the rows, block by block. breaks: for each row whether a block begins there."""
    blocks: list[list[int]] = []
    for k, broken in enumerate(breaks):
        if broken:
            blocks.append([])
        blocks[-1].append(k)
    return blocks


_LEADING = ">•‣◦▪●"  # quotation marks of e-mails and bullets, which are printed before the spoken text


def _spoken_bounds(sheet: Sheet, row: Row) -> tuple[int, int]:
    """Where the spoken text of a row begins and ends, as offsets into the page's text, end exclusive."""
    text, gone = sheet.page.text, sheet.gone
    if text[row.start] not in _LEADING and not gone.count(1, row.start, row.end) + gone.count(
        2, row.start, row.end
    ):
        return row.start, row.end
    said = [k for k in range(row.start, row.end) if not gone[k] and not text[k].isspace()]
    first = 0
    if any(gone[row.start : said[0]]) or text[said[0]] in _LEADING:
        # skip the stop or dash that separated a name or a direction from the speech
        while not text[said[first]].isalnum() and text[said[first]] in ".,:;)]-–—" + _LEADING:
            first += 1
    return said[first], said[-1] + 1


def _spoken_text(sheet: Sheet, start: int, end: int) -> str:
    """The spoken part of text[start:end], without the directions inside it."""
    text = sheet.page.text[start:end]
    if not any(sheet.gone[start:end]):
        return text
    return close_gaps("".join((c, " ", "")[sheet.gone[start + k]] for k, c in enumerate(text)))


def close_gaps(text: str) -> str:
    """The text with single blanks, and none before a stop: what was left out had blanks on both sides."""
    return re.sub(r"\s+([,.;:!?])", r"\1", " ".join(text.split()))


_OPENS_BLOCK = re.compile(r"<(?:p|div|li|blockquote)\b", re.IGNORECASE)
_ENDS_CLAUSE = re.compile(r"[.?!…:][\"'”’)\]]*$")


def _paragraph_breaks(sheet: Sheet, spoken: list[Row], owners: list[int]) -> list[bool]:
    """For each spoken row whether a paragraph, stanza or speech begins there.

    owners: for each row which speaker it belongs to.
    """
    at = {row.start: k for k, row in enumerate(sheet.rows)}
    places = [at[row.start] for row in spoken]
    single = _double_spaced(sheet, spoken, places)
    tags, codes = ({m.start for m in sheet.marks if m.what == what} for what in (TAG, TIME_CODE))
    printed = _furniture_starts(sheet)
    found = [True]
    for k in range(1, len(spoken)):
        between = sheet.rows[places[k - 1] + 1 : places[k]]
        if owners[k] != owners[k - 1] or (spoken[k].start in tags and _OPENS_BLOCK.match(spoken[k].text)):
            found.append(True)
            continue
        blanks = sum(not any(c.isalnum() for c in row.text) for row in between)
        furniture = any(not row.blank and row.start in printed for row in between)
        if any(row.start in codes for row in between):
            found.append(False)  # a subtitle ends when its time is over, often inside a sentence
        elif furniture and not _ENDS_CLAUSE.search(
            _spoken_text(sheet, *_spoken_bounds(sheet, spoken[k - 1]))
        ):
            found.append(False)
        else:
            found.append(blanks > 1 if single else blanks > 0)
    return _with_indented_breaks(spoken, found)


def _with_indented_breaks(spoken: list[Row], breaks: list[bool]) -> list[bool]:
    """The breaks, with those added that only an indent shows: an indented row after the end of a sentence."""
    starts = [k for k, broken in enumerate(breaks) if broken]
    found = list(breaks)
    for a, b in pairwise([*starts, len(spoken)]):
        edge = min(row.indent for row in spoken[a:b])
        further = [k for k in range(a, b) if spoken[k].indent >= edge + _PARAGRAPH_INDENT]
        # an indented stanza, or a stanza with every other line indented
        if len(further) > _MOST_INDENTED * (b - a):
            continue
        inner = set(further)
        for k in further:
            found[k] = found[k] or (
                k - 1 not in inner and ENDS_SENTENCE.search(spoken[k - 1].text) is not None
            )
    return found


# Set by hand, on typed scripts: columns that the first row of a paragraph is indented by, and the largest
# share of the rows that may be such first rows.
_PARAGRAPH_INDENT, _MOST_INDENTED = 2, 0.4
_FURNITURE = {"page number", "running head"}


def _furniture_starts(sheet: Sheet) -> set[int]:
    """The offsets at which the page numbers and running heads begin."""
    starts = [row.start for row in sheet.rows]
    found: set[int] = set()
    for m in sheet.marks:
        if m.kind == "out" and m.what in _FURNITURE:
            found.update(starts[bisect_left(starts, m.start) : bisect_left(starts, m.end)])
    return found


# Set by hand, on typed scripts: the fewest rows, and the smallest share of them with a blank line after them,
# that show double spacing. Below that a blank line may separate stanzas.
_LEAST_SPACED, _MOSTLY_SPACED = 6, 0.7
_ONE_BLANK_BETWEEN = 2  # the distance in rows of two printed rows with a blank row between them


def _double_spaced(sheet: Sheet, spoken: list[Row], places: list[int]) -> bool:
    """Whether the whole page is typed with a blank line after every line."""
    if len(spoken) < _LEAST_SPACED or any(m.kind == "speaker" for m in sheet.marks):
        return False
    gaps = [b - a for a, b in pairwise(places)]
    spaced = sum(g == _ONE_BLANK_BETWEEN for g in gaps)
    if spaced < _MOSTLY_SPACED * len(gaps) or any(g == 1 for g in gaps):
        return False
    texts = [row.text for row in spoken]
    return is_wrapped(shape(texts)) or is_verse(texts)


def _parts(lines: tuple[Line, ...]) -> tuple[str, ...]:
    """The parts in the order in which they first speak, as first printed; "ANNA & BEN" is not a part."""
    first: dict[str, str] = {}
    for line in lines:
        if line.speaker is not None:
            first.setdefault(line.speaker.casefold(), line.speaker)
    names = tuple(first.values())
    known = folded(names)
    single = tuple(n for n in names if not is_everybody(n) and not together(n, known))
    return single or names


def _find_part(part: str, parts: tuple[str, ...], source: str) -> str:
    """The part that was asked for, spelt as the script prints it. Raises ScriptError if there is none."""
    wanted = " ".join(part.split()).casefold()
    for name in parts:
        if name.casefold() == wanted:
            return name
    near = [name for name in parts if wanted and wanted in re.split(r"[\s.]+", name.casefold())]
    if len(near) == 1:
        return near[0]
    where = source or "the text"
    if not parts:
        raise ScriptError(f"{where} names no parts, so it has no part {part!r}", "leave the part out")
    raise ScriptError(f"{where} has no part {part!r}", f"choose one of its parts: {part_names(parts)}")


# Names of parts or scenes listed in a message; set by hand, because more are hard to look through
MOST_LISTED = 12


def part_names(parts: tuple[str, ...]) -> str:
    """The names of the parts in one line; if there are many, the first twelve and how many more."""
    more = len(parts) - MOST_LISTED
    return ", ".join(parts[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def _split_by_part(
    lines: tuple[Line, ...], part: str, parts: tuple[str, ...]
) -> tuple[tuple[Line, ...], tuple[Cue, ...]]:
    """The performer's lines, numbered from 1, and the other parts' speeches as cues."""
    mine: list[Line] = []
    speeches: list[tuple[list[Line], int]] = []
    known, wanted = folded(parts), part.casefold()
    speaks = {name: wanted in said_by(name, known) for name in {line.speaker for line in lines} if name}
    for line in lines:
        if line.speaker is not None and speaks[line.speaker]:
            mine.append(replace(line, n=len(mine) + 1))
        elif speeches and _one_speech(speeches[-1], line, len(mine)):
            speeches[-1][0].append(line)
        elif line.speaker is not None:
            speeches.append(([line], len(mine)))
    cues = tuple(
        Cue(
            start=said[0].start,
            end=said[-1].end,
            text=("\n" if said[0].verse else " ").join(x.text for x in said),
            speaker=said[0].speaker or "",
            before_line=before + 1 if before < len(mine) else None,
        )
        for said, before in speeches
    )
    return tuple(mine), cues


def _one_speech(speech: tuple[list[Line], int], line: Line, before: int) -> bool:
    return speech[1] == before and speech[0][-1].speaker == line.speaker


def _left_out(sheet: Sheet) -> tuple[LeftOut, ...]:
    """The marks in order, with those that touch joined and those without letters or figures dropped."""
    text = sheet.page.text
    found: list[LeftOut] = []
    for m in sorted(sheet.marks, key=lambda m: (m.start, -m.end)):
        reason = "speaker name" if m.kind == "speaker" else m.what
        last = found[-1] if found else None
        if (
            last is not None
            and last.reason == reason
            and not text[last.end : m.start].strip(" ")
            and last.end <= m.start
        ):
            found[-1] = LeftOut(last.start, m.end, text[last.start : m.end], reason, last.sure and m.sure)
        elif found and m.start < found[-1].end:
            if m.end > found[-1].end:  # keep the part that does not overlap
                found.append(LeftOut(found[-1].end, m.end, text[found[-1].end : m.end], reason, m.sure))
        else:
            found.append(LeftOut(m.start, m.end, text[m.start : m.end], reason, m.sure))
    return tuple(_trimmed(out) for out in found if any(c.isalnum() for c in out.text))


def _trimmed(out: LeftOut) -> LeftOut:
    text = out.text.strip(" \t\n*_,:")
    start = out.start + out.text.index(text)
    return LeftOut(start, start + len(text), text, out.reason, out.sure)
