"""The marked script as a page that prints on A4, with room for a pencil.

One file that needs nothing else: no script, no picture, no font from elsewhere. Marks are black on white;
a screen reader hears the bars by name and the speech without the stress marks.
"""

from __future__ import annotations

from typing import Any

from offbook.markup.blocks import Block, block_notes, marked_blocks
from offbook.markup.cells import bar_of, cells
from offbook.markup.marked import MarkedScript
from offbook.markup.marked_page import legend, limit_in_words, look_up_rows, summary
from offbook.markup.sheet_templates import sheet_template
from offbook.phrasing import clock_time
from offbook.words import counted

NAMES = {"|": "phrase:", "||": "thought:", "|||": "turn:", "|||?": "open turn:"}


def sheet(marked: MarkedScript, limit: float | None = None, every_note: bool = False) -> str:
    """The page as HTML, one note a line unless `every_note`. limit: seconds."""
    return sheet_template("mark.html").render(
        title=marked.script.title or "untitled",
        facts=summary(marked),
        limit=limit_in_words(marked, limit) if limit is not None else "",
        names=NAMES,
        legend=legend(marked),
        blocks=[_block(marked, b, every_note) for b in marked_blocks(marked)],
        scanned=any(m.scansion is not None for m in marked.lines),
        look_up=look_up_rows(marked),
        counted=counted(marked.script),
        unplaced=[f"Pencil file, row {u.row}: {u.why}: {u.text}" for u in marked.pencil.unplaced],
    )  # fmt: skip


def _block(marked: MarkedScript, block: Block, every_note: bool) -> dict[str, Any]:
    bar = next((bar_of(s) for s in marked.shifts_from(block.first, block.first)), "")
    marks = str.maketrans("ws", "x/")
    return {
        "verse": block.line is not None,
        "new_paragraph": block.new_paragraph,
        "before": block.before,
        "count": block.count,
        "clock": clock_time(block.at),
        "bar": bar,
        "notes": block_notes(marked, block, every_note),
        "cells": [
            {
                "before": c.before,
                "text": c.text,
                "after": c.after,
                "stress": c.stress,
                "parts": list(zip(c.syllables, c.stress.translate(marks), strict=False)),
                "bar": c.bar,
                "glued": c.glued,
            }
            for c in cells(marked, block.first, block.last)
        ],
    }
