"""Held values of marked-up texts and documents: each kind of mark alone, at its limits, and among others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from io import BytesIO
from itertools import product
from typing import Any

from offbook.script.formats.docx import read_docx
from offbook.script.formats.fountain import read_fountain
from offbook.script.formats.markdown import read_markdown
from offbook.script.formats.odt import read_odt
from offbook.script.formats.pdf import _Piece, _Printed, _Setter, _shares_line
from offbook.script.sheet import Page
from tests.held import Rows
from tests.held_pages import cut_short, without_a_row

MARKDOWN = """---
title: "The *lamp*"
author: nobody
---

# The lamp #

## MARA
> - I *kept* it, **every** night. [^1]
> 1. And _so_ did she, ~~or not~~, &amp; he &#8212; too\\.

## BEN
See [the harbour](harbour.html) and ![a boat](boat.png), <!-- a slip --> or <br> not.

## MARA
***
It was late
===

Last words
---
[^1]: a note
[home]: https://example.org
"""
BOLD = "**Mara:**\nWho is there?\n\n**Ben** (low)\nIt is I.\n\n**Mara.**\nCome in.\n"
FOUNTAIN = """Title: _The_ lamp
    by night
Author: nobody

INT. A LIGHTHOUSE - NIGHT

The lamp goes *out*.

MARA (O.S.) (low)
(to herself)
I kept it _every_ night. [[or not]]
TWO BLANKS
And so did he.

/* cut
BEN
Nothing. */

@McBen ^
~The tide came in
\\*Stay\\*.

> THE END <

> FADE TO:

CUT TO:

.AT SEA

# One
= What happens
===
~Alone
!MARA
EXT. QUAY
She waits.

BEN
""".replace("TWO BLANKS", "  ")
FOUNTAIN_ROWS = (
    "MARA", "MARA ^", "MARA (V.O.)", "MARA (V.O.) (CONT'D)", "Mara", "@Mara", "@Mara (low) ^", "R2D2",
    "1999", "(MARA)", ".MARA", "..MARA", "!MARA", ">MARA", "~MARA", "=MARA", "===", "#MARA", "CUT TO:",
    "Cut to:", "INT. HOUSE", "est house", "i/e. CAR", "intro", "M" * 200, "M" * 201, "> MARA <",
)  # fmt: skip


def _said(page: Page) -> str:
    marks = "; ".join(
        f"{m.what if m.kind == 'out' else f'{m.kind} {m.what}'} {m.start}-{m.end}" for m in page.marks
    )
    return f"{page.title!r} [{marks}] {list(page.italics)}{' structured' * page.structured}"


def shortened(read: Callable[[str], Page], *texts: str) -> Iterator[str]:
    """A text as a whole, without each of its rows, and up to each of them."""
    for text in texts:
        for each in (text, *without_a_row(text), *cut_short(text)):
            yield f"{len(each)}: {_said(read(each))}"


def marks_in_a_line() -> Iterator[str]:
    """Each mark of Markdown between words, directly beside a word, before a space, and not closed."""
    for mark in (
        "*",
        "_",
        "**",
        "__",
        "***",
        "~~",
        "`",
        "<b>",
        "[x](y)",
        "[x][y]",
        "[^2]",
        "&lt;",
        "&#65;",
        "\\*",
    ):
        for text in (
            f"I {mark}kept{mark} it",
            f"I{mark}kept{mark}it",
            f"I {mark} kept {mark} it",
            f"{mark}kept it",
        ):
            yield f"{text}: {_said(read_markdown(text + chr(10)))}"
    for row in ("#", "# A", "####### A", "   # A", "    # A", "#A", "- a", "-a", "+ a", "* a", "12. a",
                "1234. a", "3) a", "> > a", "***", "* * *", "**", "```", "~~~ x", "[a]: b",
                "[^a]: b"):  # fmt: skip
        yield f"{row}: {_said(read_markdown(f'Stay.{chr(10) * 2}{row}{chr(10)}and go.{chr(10)}'))}"
    for names in product(("MARA", "Ben", "A very long heading of six"), repeat=3):
        text = "".join(f"## {name}\n\nStay here.\n\n" for name in names)
        yield f"{names}: {_said(read_markdown(text))}"


def rows_of_a_screenplay() -> Iterator[str]:
    """Each kind of row with a row above, below, both or neither."""
    for row, above, below in product(FOUNTAIN_ROWS, ("", "Rain."), ("", "Stay a while.")):
        text = f"INT. A\n\n{above}\n{row}\n{below}\n\nMARA\nSo.\n"
        yield f"“{row[:30]}” {above} {below}: {_said(read_fountain(text))}"


def _line(
    words: str, x: float, foot: float, size: float = 12.0, slant: bool = False, gap: float = 3.0
) -> _Printed:
    pieces, at = [], x
    for word in words.split():
        pieces.append(_Piece(word, at, at + 6.0 * len(word), foot - size, foot, size, slant))
        at += 6.0 * len(word) + gap
    return _Printed(tuple(pieces))


def printed_pages() -> Iterator[str]:
    """Lines by their places: their distances, margins, gaps in a line, sizes and raised marks."""
    plain = [_line("The lamp was lit before the tide", 72, 100 + 14 * k) for k in range(6)]
    for apart, margin, size, slant in product((14, 19, 20, 40), (72, 75, 108), (12, 14.9, 15), (False, True)):
        last = _line("And still he counted", margin, 170 + apart, size, slant)
        page = _Setter([[*plain, last], plain[:1]]).page()
        yield f"{apart} {margin} {size} {slant}: {page.text[190:]!r} {_said(page)}"
    for gap in (0.5, 14.9, 15.1, 31):
        page = _Setter([[*plain, _line("Mara Stay here", 72, 190, gap=gap)]]).page()
        yield f"gap {gap}: {page.text[190:]!r}"
    for mark, small, foot, near in product(("1", "*", "a"), (8, 9.5, 9.7), (188, 188.3, 190), (0.5, 1.5)):
        line = _line("every boat", 72, 190)
        raised = _Piece(
            mark, line.pieces[-1].x1 + near, line.pieces[-1].x1 + near + 4, foot - small, foot, small, False
        )
        page = _Setter([[*plain, _Printed((*line.pieces, raised))]]).page()
        yield f"{mark} {small} {foot} {near}: {page.text[190:]!r} {_said(page)}"
    for foot, height in product((100, 103, 103.1, 95, 92), (4, 6, 12)):
        piece = _Piece("x", 0, 6, foot - height, foot, height, False)
        yield f"foot {foot}, {height} high: {_shares_line(plain[0].pieces, piece)}"


def word_documents() -> Iterator[str]:
    """Stretches of a Word document by their properties, in upright and italic paragraphs and in cells."""
    from docx import Document

    made: Any = Document()
    for style, italic in product(("Normal", "Heading 1", "Intense Quote"), (None, True, False)):
        paragraph = made.add_paragraph("He ", style=style)
        paragraph.add_run("leans").italic = italic
        for what in ("strike", "double_strike", "hidden", "superscript", "subscript"):
            setattr(paragraph.add_run("7").font, what, True)
        paragraph.add_run("up").font.superscript = True
        paragraph.add_run("\tnow\n").add_break()
    for row in made.add_table(2, 2).rows:
        for n, cell in enumerate(row.cells):
            cell.text = f"cell {n}\nbelow"
    file = BytesIO()
    made.save(file)
    page = read_docx(file.getvalue(), "a.docx")
    yield from (repr(row) for row in page.text.split("\n"))
    yield _said(page)


def open_documents() -> Iterator[str]:
    """Stretches of an OpenDocument text by their styles, some inherited; spaces, breaks, cells and lists."""
    from odf.opendocument import OpenDocumentText
    from odf.style import Style, TextProperties
    from odf.table import Table, TableCell, TableRow
    from odf.text import H, LineBreak, List, ListItem, Note, P, S, Span, Tab

    made: Any = OpenDocumentText()
    given: dict[str, dict[str, str]] = {
        "leans": {"fontstyle": "italic"}, "slants": {"fontstyle": "oblique"},
        "upright": {"fontstyle": "normal"},
        "struck": {"textlinethroughstyle": "solid"}, "whole": {"textlinethroughstyle": "none"},
        "up": {"textposition": "super 58%"}, "raised": {"textposition": "33% 58%"},
        "down": {"textposition": "sub 58%"},
    }  # fmt: skip
    for name, properties in given.items():
        style = Style(name=name, family="text")
        style.addElement(TextProperties(**properties))
        made.styles.addElement(style)
    made.automaticstyles.addElement(Style(name="T1", family="text", parentstylename="leans"))
    made.styles.addElement(
        Style(name="Stage_20_Direction", family="paragraph", displayname="Stage Direction")
    )
    made.automaticstyles.addElement(
        Style(name="P1", family="paragraph", parentstylename="Stage_20_Direction")
    )
    for name in (*given, "T1", "none"):
        paragraph = P(text="He ")
        for text in ("7", "went"):
            paragraph.addElement(Span(stylename=name, text=text))
        for count in (None, 3, 201):
            paragraph.addElement(S() if count is None else S(c=count))
        paragraph.addElement(LineBreak())
        paragraph.addElement(Tab())
        paragraph.addElement(Span(stylename="struck", text="out"))
        made.text.addElement(paragraph)
    made.text.addElement(H(outlinelevel=1, text="The lamp"))
    made.text.addElement(P(stylename="P1", text="She waits."))
    table, row, listed, note = Table(), TableRow(), List(), Note(noteclass="footnote")
    for n in range(2):
        cell = TableCell()
        for said in ("first", "second"):
            cell.addElement(P(text=f"{said} {n}"))
        row.addElement(cell)
        item = ListItem()
        item.addElement(P(text=f"item {n}"))
        listed.addElement(item)
    table.addElement(row)
    for element in (table, listed):
        made.text.addElement(element)
    last = P(text="The end")
    last.addElement(note)
    made.text.addElement(last)
    file = BytesIO()
    made.write(file)
    page = read_odt(file.getvalue(), "a.odt")
    yield from (repr(row) for row in page.text.split("\n"))
    yield _said(page)


PARTS: dict[str, Rows] = {
    "Markdown": partial(shortened, read_markdown, MARKDOWN, BOLD),
    "marks in a line of Markdown": marks_in_a_line,
    "Fountain": partial(shortened, read_fountain, FOUNTAIN),
    "rows of a screenplay": rows_of_a_screenplay,
    "printed pages": printed_pages,
    "a Word document": word_documents,
    "an OpenDocument text": open_documents,
}
