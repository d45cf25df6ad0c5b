"""Held values of what is shown of a marked script: cells, blocks, notes, and sheets without a title."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from offbook import pencil
from offbook.errors import ScriptError
from offbook.markup import (
    block_notes,
    head,
    mark,
    marked_blocks,
    marked_rows,
    summary,
    taught,
    teaching_rows,
    without_phrases,
)
from offbook.markup.cells import cells
from offbook.markup.marked import as_form
from offbook.markup.print_sheet import sheet
from offbook.script import parse_script
from offbook.words import words_of
from tests.held import Rows, told
from tests.test_verse import COUPLETS

ODD: dict[str, tuple[str, str, str | None]] = {
    "dashes and hyphens": (
        "The well-known lamp—the old one—was “lit” (at last). O'er the to-morrow -- perhaps ... he came!\n\n"
        "1603: no -- (he stops) -- yes.\n",
        "known || lamp\n",
        None,
    ),
    "a scene": (
        "ROSE: Who left the lamp unlit all night, and who was it that told you so, my love?\n\n"
        "TOM: (Low.) I did. (He sits.) I did not see it - the night-watch\nsaw it first. [A bell.]\n\n"
        "HOB: No.\nROSE: Was it?\n\nTOM: It was, and nobody else was there!\n",
        "I did ||| I did\n    here he turns\nsaw + it\n",
        "TOM",
    ),
    "verse with gaps": (
        "The lamp was lit\n    before the tide came in,\n\nAnd -- no one knew -- (not you) the violet\n"
        "Was blessèd then\n\nWhere power is, my love, and heav'n is high.\n",
        "blessèd [BLESS-ed]\nthe tide | came\nmetre: nonsense\n",
        None,
    ),
    "one word": ("Stay.\n", "", None),
    "couplets": (COUPLETS, "", None),
}


def shown(title: str) -> Iterator[str]:
    """The cells and notes of each block, and the rows in windows of several widths."""
    text, own, part = ODD[title]
    for form in (None, "verse", "prose") if title != "couplets" else (None,):
        script = as_form(parse_script(text, part=part), form)
        words = words_of(script)
        marked = mark(script, words, pencil.read_pencil(own, words))
        yield f"as {form}: {told(summary(marked))} {told(marked.pencil.unplaced)}"
        notes = ((marked, False), (marked, True), (without_phrases(marked), False))
        for block in marked_blocks(marked):
            line = block.line.line.n if block.line is not None else None
            numbers = f"{block.number} {block.count!r} {line} {block.new_paragraph:d}"
            yield f"{block.first}-{block.last} {numbers} {told(block.before)}"
            for cell in cells(marked, block.first, block.last):
                about = f"{cell.stress} {cell.bar} {cell.glued:d} {cell.above!r} {cell.syllables}"
                yield f"  {cell.word} {cell.before!r} {cell.text} {cell.after!r} {about}"
            yield f"  {told([block_notes(m, block, every) for m, every in notes])}"
        for width in (30, 72):
            yield from ("".join(p.text for p in row) for row in marked_rows(marked, width, width == 72))
        if form is None:
            yield from ("".join(p.text for p in row) for row in head(marked, 4.0, 40))
            yield told([m.line.n for m in marked.lines_from(0, len(words) - 1)])


def untitled(title: str) -> Iterator[str]:
    """The teacher's sheet and the page of a script without a title and with one."""
    text, own, part = ODD[title]
    for name in ("", "The lamp"):
        script = replace(parse_script(text, part=part), title=name)
        words = words_of(script)
        marked = mark(script, words, pencil.read_pencil(own, words))
        page = sheet(marked, None, False).split("\n")
        yield from (row for row in page if "title" in row or "<h1" in row)
        try:
            for width in (20, 64, 100):
                yield from (
                    "|".join(f"{p.kind}:{p.text}" for p in row) for row in teaching_rows(marked, width)
                )
            yield from map(told, taught(marked))
        except ScriptError as error:
            yield f"refused: {error.what} / {error.do}"


PARTS: dict[str, Rows] = {
    **{f"cells and blocks: {title}": partial(shown, title) for title in ODD},
    **{f"titles: {title}": partial(untitled, title) for title in ODD},
}
