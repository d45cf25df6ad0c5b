"""The page between a file's format and the script made of it.

Every format reader (plain text, Markdown, Fountain, docx, odt, pdf) gives a `Page`: the text, and marks
on what the format itself says is not spoken or who speaks. What the format does not say, the finders of
plain text look for (`script.finders`), each adding its marks.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

# What ends a line in a text, beside the line feed: form feed, vertical tab, next line, separators.
_LINE = re.compile(r"[^\n\f\v\x85\u2028\u2029]*")


def word_set(words: str) -> frozenset[str]:
    """A list of words in one string, as a set."""
    return frozenset(words.split())


# The reason given to characters that only set the type: they part no words and are not reported.
MARK_UP = "mark-up"


# The reasons given to what is printed beside the speech: nothing happens where it is.
BESIDE_THE_TEXT = frozenset(
    (
        "line number", "page number", "page break note", "running head", "footnote mark", "footnote",
        "time mark", "time code", "tag", "subtitle number", "web page", "section number",
    )
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mark:
    """A stretch of text that is not spoken. what: the reason, or the speaker's name for a "speaker".

    sure: False where the stretch could as well be spoken, so that both readings are shown.
    """

    start: int
    end: int
    kind: Literal["out", "speaker"]
    what: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Page:
    """A script's text and what its format says about it.

    marks: what the format itself leaves out. italics: stretches in italic type, whose meaning depends
    on the rest. structured: the format marks speakers and directions itself (Fountain), so that the
    plain-text finders have nothing to look for.
    """

    text: str
    title: str = ""
    marks: tuple[Mark, ...] = ()
    italics: tuple[tuple[int, int], ...] = ()
    structured: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One physical line. start, end: of what is printed, blanks at both ends left off.

    indent: columns before it, a tab to the next multiple of 8. fed: a page ends just before it.
    """

    start: int
    end: int
    text: str
    indent: int
    fed: bool = False

    @property
    def blank(self) -> bool:
        """Whether nothing is printed on it."""
        return self.start == self.end


@dataclass
class Sheet:
    """A page being read: its rows, and the marks found so far.

    gone: for each character 0 where it is spoken, 1 where it is left out, 2 where it is mark-up. lone: the
    page holds one speech by itself. kept: stretches that the performer says are spoken, whatever they look
    like. perhaps: spoken stretches that could be left out, with the reason that would be given.
    """

    page: Page
    rows: list[Row] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    gone: bytearray = field(default_factory=bytearray)
    lone: bool = False
    kept: list[tuple[int, int]] = field(default_factory=list)
    perhaps: list[Mark] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.gone = bytearray(len(self.page.text))
        self.rows = text_rows(self.page.text)
        self.add(self.page.marks)

    def add(self, marks: Iterable[Mark]) -> None:
        """Put marks on the page."""
        for m in itertools.chain.from_iterable(map(self._beside_kept, marks)):
            self.marks.append(m)
            self.gone[m.start : m.end] = (b"\x02" if m.what == MARK_UP else b"\x01") * (m.end - m.start)

    def _beside_kept(self, mark: Mark) -> list[Mark]:
        """What is left of a mark beside the stretches that the performer keeps."""
        left = [mark]
        for start, end in self.kept:
            left = [
                replace(m, start=a, end=b)
                for m in left
                for a, b in ((m.start, min(m.end, start)), (max(m.start, end), m.end))
                if a < b
            ]
        return left

    def out(self, start: int, end: int, reason: str, *, sure: bool = True) -> None:
        """Leave text[start:end] out. sure: False where it could as well be spoken."""
        self.add([Mark(start, end, "out", reason, sure)])

    def left(self, row: Row) -> str:
        """What of a row is still to be spoken, marked stretches blanked, blanks at the ends kept."""
        gone = self.gone[row.start : row.end]
        kept = gone.count(0)
        if kept == len(gone):
            return row.text
        if kept == 0:
            return " " * len(gone)
        return "".join(" " if g else c for c, g in zip(row.text, gone, strict=True))

    def spoken(self, row: Row) -> bool:
        """Whether anything that can be said is left on a row."""
        return any(map(str.isalnum, self.left(row)))


def bracketed_stretches(
    text: str, opens: str, closes: str, begin: int = 0, *, to_the_end: bool = False
) -> list[tuple[int, int]]:
    """From each `opens` to the next `closes`, both counted in, in one pass over the text.

    to_the_end: one that is never closed reaches to the end; else it is passed over, as are all after it.
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
    """The physical lines of a text."""
    rows: list[Row] = []
    at, fed = 0, False
    while at <= len(text):
        m = _LINE.match(text, at)
        assert m is not None
        raw = m.group()
        stripped = raw.strip()
        lead = raw[: len(raw) - len(raw.lstrip())] if stripped else ""
        start = at + len(lead)
        indent = len(lead.expandtabs(8))
        rows.append(Row(start, start + len(stripped), stripped, indent, fed))
        fed = text[m.end() : m.end() + 1] == "\f"
        at = m.end() + 1
    return rows


def paragraphs(rows: Sequence[Row]) -> list[list[Row]]:
    """Rows in groups, as blank lines part them."""
    groups: list[list[Row]] = [[]]
    for row in rows:
        if row.blank:
            groups.append([])
        else:
            groups[-1].append(row)
    return [g for g in groups if g]
