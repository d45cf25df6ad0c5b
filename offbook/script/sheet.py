"""The page: what a format reader returns, and what the script is made from.

Every format reader (plain text, Markdown, Fountain, docx, odt, pdf) returns a `Page`: the text, and marks
where the format itself says who speaks or that something is not spoken. The finders (`script.finders`) then
look for the rest in the plain text, and each adds its marks.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

# A line ends at a line feed, form feed, vertical tab, next line, line separator or paragraph separator.
_LINE = re.compile(r"[^\n\f\v\x85\u2028\u2029]*")
# A tab reaches to the next multiple of these, as on terminals (POSIX.1-2017, the utility `tabs`)
_TAB_COLUMNS = 8
_ROMAN_DIGITS = {"i": 1, "v": 5, "x": 10, "l": 50, "c": 100, "d": 500, "m": 1000}


def word_set(words: str) -> frozenset[str]:
    """The words of one string, separated by blanks, as a set."""
    return frozenset(words.split())


# The reason for leaving out characters that only set the type: they do not separate words and are not
# reported.
MARK_UP = "mark-up"


# The reasons for leaving out what is printed beside the speech: unlike a stage direction, nobody acts there.
BESIDE_THE_TEXT = frozenset(
    (
        "line number", "page number", "page break note", "running head", "footnote mark", "footnote",
        "time mark", "time code", "tag", "subtitle number", "web page", "section number",
    )
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mark:
    """A stretch of text that is not spoken.

    start, end: offsets in code points into `Page.text`, end exclusive. what: the reason, or for a "speaker"
    the name. sure: False if the stretch might be spoken, so that both readings are shown.
    """

    start: int
    end: int
    kind: Literal["out", "speaker"]
    what: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Page:
    """A script's text and what its format says about it.

    marks: what the format itself leaves out. italics: stretches in italic type, as pairs of offsets; whether
    they are stress or stage directions depends on the rest of the page. structured: whether the format marks
    speakers and directions itself (Fountain), so that most finders are not needed.
    """

    text: str
    title: str = ""
    marks: tuple[Mark, ...] = ()
    italics: tuple[tuple[int, int], ...] = ()
    structured: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the text as it is in the file.

    start, end: offsets in code points of what is printed, without blanks at both ends. text: what is printed.
    indent: columns before it; a tab reaches to the next multiple of 8. fed: whether a form feed, which ends a
    page, is just before it.
    """

    start: int
    end: int
    text: str
    indent: int
    fed: bool = False

    @property
    def blank(self) -> bool:
        """Whether the row is empty."""
        return self.start == self.end


@dataclass
class Sheet:
    """A page while it is being read: its rows, and the marks found so far.

    names: the speakers, with how many speeches each has. gone: for each character 0 if it is spoken, 1 if it
    is left out, 2 if it is mark-up. lone: whether the page holds a single speech instead of a scene. kept:
    stretches that the performer says are spoken, whatever they look like. perhaps: stretches that are spoken
    but might be left out, with the reason that would be given.
    """

    page: Page
    rows: list[Row] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    gone: bytearray = field(default_factory=bytearray)
    lone: bool = False
    kept: list[tuple[int, int]] = field(default_factory=list)
    perhaps: list[Mark] = field(default_factory=list)
    # What `spoken` said of the row at an offset since the last mark; every finder asks about every row.
    _spoken: dict[int, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.gone = bytearray(len(self.page.text))
        self.rows = text_rows(self.page.text)
        self.add(self.page.marks)

    def add(self, marks: Iterable[Mark]) -> None:
        """Put marks on the page, except where the performer says that the text is spoken."""
        for m in itertools.chain.from_iterable(map(self._beside_kept, marks)):
            self.marks.append(m)
            self._spoken.clear()
            self.gone[m.start : m.end] = (b"\x02" if m.what == MARK_UP else b"\x01") * (m.end - m.start)

    def _beside_kept(self, mark: Mark) -> list[Mark]:
        """The parts of a mark outside the stretches that the performer says are spoken."""
        left = [mark]
        for start, end in self.kept:
            left = [
                replace(m, start=a, end=b)
                for m in left
                for a, b in ((m.start, min(m.end, start)), (max(m.start, end), m.end))
                if a < b
            ]
        return left

    def leave_out(self, start: int, end: int, reason: str, *, sure: bool = True) -> None:
        """Leave text[start:end] out. sure: False if it might be spoken."""
        self.add([Mark(start, end, "out", reason, sure)])

    def remaining(self, row: Row) -> str:
        """The row's text with a blank in place of each character that is marked; as long as before."""
        gone = self.gone[row.start : row.end]
        kept = gone.count(0)
        if kept == len(gone):
            return row.text
        if kept == 0:
            return " " * len(gone)
        return "".join(" " if g else c for c, g in zip(row.text, gone, strict=True))

    def spoken(self, row: Row) -> bool:
        """Whether a row still has a letter or figure that is spoken."""
        known = self._spoken.get(row.start)
        if known is None:
            known = self._spoken[row.start] = any(map(str.isalnum, self.remaining(row)))
        return known


def bracketed_stretches(
    text: str, opens: str, closes: str, begin: int = 0, *, to_the_end: bool = False
) -> list[tuple[int, int]]:
    """The stretches from each `opens` to the next `closes`, both included, found in one pass over the text.

    begin: the offset to start at. to_the_end: whether one that is never closed reaches to the end of the
    text; otherwise it and all later ones are ignored.
    """
    found: list[tuple[int, int]] = []
    while (start := text.find(opens, begin)) >= 0:
        end = text.find(closes, start + len(opens))
        if end < 0:
            return [*found, (start, len(text))] if to_the_end else found
        begin = end + len(closes)
        found.append((start, begin))
    return found


def text_rows(text: str) -> list[Row]:
    """The rows of a text."""
    rows: list[Row] = []
    at, fed = 0, False
    while at <= len(text):
        m = _LINE.match(text, at)
        assert m is not None
        raw = m.group()
        stripped = raw.strip()
        lead = raw[: len(raw) - len(raw.lstrip())] if stripped else ""
        start = at + len(lead)
        indent = len(lead.expandtabs(_TAB_COLUMNS))
        rows.append(Row(start, start + len(stripped), stripped, indent, fed))
        fed = text[m.end() : m.end() + 1] == "\f"
        at = m.end() + 1
    return rows


def roman_value(numeral: str) -> int:
    """The value of letters read as a Roman numeral: a smaller digit before a larger one is subtracted.

    Raises KeyError for a letter that is not a Roman digit.
    """
    values = [_ROMAN_DIGITS[c] for c in numeral.lower()]
    return sum(-v if v < w else v for v, w in zip(values, [*values[1:], 0], strict=True))


def paragraphs(rows: Sequence[Row]) -> list[list[Row]]:
    """The rows that are not blank, in groups that blank rows separate."""
    groups: list[list[Row]] = [[]]
    for row in rows:
        if row.blank:
            groups.append([])
        else:
            groups[-1].append(row)
    return [g for g in groups if g]
