"""Scripts from pdf files with a text layer: letters with their places are put together into lines again.

A pdf has no lines, only a place for each letter. What a reader sees from these places is kept in the text: an
indent and a wide gap become blanks (speakers' names are indented, and line numbers stand in the margin), a
wider space between lines becomes a blank line, and the end of a page becomes a form feed. The finders of
plain text then work on it as on any other text.
"""

from __future__ import annotations

import logging
import re
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import Any

from offbook.errors import ScriptError
from offbook.script.sheet import Mark, Page

# All set by hand, on printed scripts.
_SAME_LINE = 3.0  # points: letters whose lower edges differ by no more are on one line
_HEADING = 1.25  # times the size of most letters: a line of larger type is a heading
_JOINED = 0.15  # of the type's size: letters with a smaller gap between them are one word
_ASLANT = 0.05  # of a letter's width: one that rises by more is not part of the text
_OVERLAP = 0.6  # of the lower piece's height: pieces that overlap by more are on one line
_APART = 1.4  # times the usual distance between lines: where it is larger, a paragraph ends
_LEADING_RANK = 3  # the usual distance between lines is at a third of all of them, ordered by size
_WIDE = 2.5  # letters: a wider gap between words separates columns
# Of the line's type: a footnote mark is smaller than this and raised by more than this
_SMALL, _RAISED_BY = 0.8, 0.15
_USUAL_LEADING = 12.0  # points between lines, if the document has one line a page
# A letter that a pdf does not name is printed as (cid:N), about eight characters. If such letters make up
# more than this share of the text, it is of no use.
_UNNAMED_LENGTH, _UNNAMED_SHARE = 8, 0.3
# The errors that the library raises for a damaged file, besides its own.
_FAULTS = (
    *(TypeError, IndexError, AttributeError, EOFError, RecursionError, AssertionError, OverflowError),
    *(ZeroDivisionError, NotImplementedError, struct.error, zlib.error, OSError),
)


@dataclass(frozen=True, slots=True)
class _Piece:
    """One word as printed. x0, x1, top, bottom: points from the page's upper left corner."""

    text: str
    x0: float
    x1: float
    top: float
    bottom: float
    size: float
    italic: bool


@dataclass(frozen=True, slots=True)
class _Printed:
    """One printed line."""

    pieces: tuple[_Piece, ...]

    @property
    def bottom(self) -> float:
        return max(p.bottom for p in self.pieces)

    @property
    def size(self) -> float:
        return sorted(p.size for p in self.pieces)[len(self.pieces) // 2]


def read_pdf(data: bytes, name: str) -> Page:
    """The page of a pdf. Raises ScriptError if it is protected or damaged, or holds only pictures."""
    pages = _pages(data, name)
    letters = "".join(p.text for page in pages for line in page for p in line.pieces)
    if not any(c.isalnum() for c in letters):
        raise ScriptError(
            f"{name} has no text in it, only pictures of pages",
            "have it read by text recognition (OCR) first, or type the speech into a text file",
        )
    if len(re.findall(r"\(cid:\d+\)", letters)) * _UNNAMED_LENGTH > _UNNAMED_SHARE * len(letters):
        raise ScriptError(
            f"{name} shows letters but does not say which they are",
            "ask for the script as docx or text, or have the pdf read by text recognition (OCR)",
        )
    return _Setter(pages).page()


def _pages(data: bytes, name: str) -> list[list[_Printed]]:
    import pdfplumber  # heavy: imported where a pdf is met
    from pdfminer.pdfdocument import PDFPasswordIncorrect
    from pdfminer.pdfexceptions import PDFException
    from pdfminer.psexceptions import PSException
    from pdfplumber.utils.exceptions import MalformedPDFException, PdfminerException

    logging.getLogger("pdfminer").setLevel(logging.CRITICAL)  # it reports even faults that it can work around
    faults = (PDFException, PSException, PdfminerException, MalformedPDFException, ValueError, KeyError)
    try:
        with pdfplumber.open(BytesIO(data)) as document:
            return [_lines(page) for page in document.pages]
    except (*faults, *_FAULTS) as e:
        if isinstance(e, PDFPasswordIncorrect) or any(isinstance(a, PDFPasswordIncorrect) for a in e.args):
            raise ScriptError(
                f"{name} is protected by a password", "save a copy without the password, and give that"
            ) from e
        raise ScriptError(
            f"{name} is a damaged pdf: it breaks off or its parts do not fit",
            "fetch or save it again, or copy its text into a text file",
        ) from e


def _lines(page: Any) -> list[_Printed]:
    upright = page.filter(_level)
    words = upright.dedupe_chars().extract_words(
        x_tolerance_ratio=_JOINED, y_tolerance=_SAME_LINE, extra_attrs=["fontname", "size"]
    )
    pieces = [
        _Piece(
            w["text"],
            float(w["x0"]),
            float(w["x1"]),
            float(w["top"]),
            float(w["bottom"]),
            float(w["size"]),
            bool(re.search("ital|obliq|slant", w["fontname"], re.IGNORECASE)),
        )
        for w in words
    ]
    lines: list[list[_Piece]] = []
    for piece in sorted(pieces, key=lambda p: (p.bottom, p.x0)):
        if lines and _shares_line(lines[-1], piece):
            lines[-1].append(piece)
        else:
            lines.append([piece])
    return [_Printed(tuple(sorted(line, key=lambda p: p.x0))) for line in lines]


def _level(thing: dict[str, Any]) -> bool:
    """Whether a letter stands upright: text that runs diagonally over a page is a watermark."""
    if thing["object_type"] != "char":
        return True
    a, b, *_ = thing["matrix"]
    return bool(thing.get("upright", True)) and abs(b) <= _ASLANT * abs(a)


def _shares_line(line: Sequence[_Piece], piece: _Piece) -> bool:
    """Whether a piece is on a line: its lower edge is level with the line's, or it is a small raised mark."""
    feet = max(p.bottom for p in line)
    head = min(p.top for p in line)
    overlap = min(feet, piece.bottom) - max(head, piece.top)
    return abs(feet - piece.bottom) <= _SAME_LINE or overlap > _OVERLAP * min(
        piece.bottom - piece.top, feet - head
    )


class _Setter:
    """Writes printed lines as text, with blanks and blank lines for the gaps between them."""

    def __init__(self, pages: list[list[_Printed]]) -> None:
        self.pages = pages
        every = [line for page in pages for line in page]
        pieces = [p for line in every for p in line.pieces]
        widths = sorted((p.x1 - p.x0) / len(p.text) for p in pieces)
        sizes = sorted(p.size for p in pieces for _ in p.text)
        self.body = sizes[len(sizes) // 2]
        self.letter = max(1.0, widths[len(widths) // 2])
        self.left = min(line.pieces[0].x0 for line in every)
        gaps = sorted(
            b.bottom - a.bottom for page in pages for a, b in pairwise(page) if b.bottom - a.bottom > 1
        )
        # below the middle, because lines of different paragraphs are further apart, never nearer
        self.leading = gaps[len(gaps) // _LEADING_RANK] if gaps else _USUAL_LEADING
        self.text: list[str] = []
        self.size = 0
        self.marks: list[Mark] = []
        self.italics: list[tuple[int, int]] = []

    def page(self) -> Page:
        for n, lines in enumerate(self.pages):
            if n:
                self._put("\f")
            for k, line in enumerate(lines):
                if k:
                    apart = line.bottom - lines[k - 1].bottom > _APART * max(self.leading, 1.0)
                    self._put("\n\n" if apart else "\n")
                self._line(line)
        heading = next((m for m in self.marks if m.what == "heading"), None)
        text = "".join(self.text)
        title = "" if heading is None else " ".join(text[heading.start : heading.end].split())
        return Page(text, title=title, marks=tuple(self.marks), italics=tuple(self.italics))

    def _line(self, line: _Printed) -> None:
        self._put(" " * round((line.pieces[0].x0 - self.left) / self.letter))
        start = self.size
        for k, piece in enumerate(line.pieces):
            if k:
                gap = piece.x0 - line.pieces[k - 1].x1
                wide = gap > _WIDE * self.letter
                raised = self._raised(line, piece)
                self._put(
                    " " * max(2, round(gap / self.letter)) if wide else "" if raised and gap < 1 else " "
                )
            at = self.size
            self._put(piece.text)
            if self._raised(line, piece):
                self.marks.append(Mark(at, self.size, "out", "footnote mark"))
            elif piece.italic:
                if k and line.pieces[k - 1].italic and self.italics:
                    at = self.italics.pop()[0]
                self.italics.append((at, self.size))
        if min(p.size for p in line.pieces) >= _HEADING * self.body:
            self.marks.append(Mark(start, self.size, "out", "heading"))

    def _raised(self, line: _Printed, piece: _Piece) -> bool:
        small = piece.size < _SMALL * line.size and len(line.pieces) > 1
        return (
            small
            and piece.bottom < line.bottom - _RAISED_BY * line.size
            and bool(re.fullmatch(r"\d+|[*†‡]", piece.text))
        )

    def _put(self, text: str) -> None:
        self.text.append(text)
        self.size += len(text)
