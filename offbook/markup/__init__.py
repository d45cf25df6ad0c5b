"""The marked script: everything found about a speech, put together for the terminal, a page or JSON."""

from __future__ import annotations

from offbook.markup.blocks import (
    Block,
    block_notes,
    marked_blocks,
)
from offbook.markup.cells import (
    BARS,
    Cell,
    bar_of,
    cells,
)
from offbook.markup.marked import (
    MarkedScript,
    as_form,
    mark,
    with_metre,
    without_phrases,
)
from offbook.markup.marked_json import (
    marked_as_json,
)
from offbook.markup.marked_page import (
    NARROWEST,
    Row,
    foot,
    head,
    limit_in_words,
    look_up_rows,
    marked_rows,
    summary,
)
from offbook.markup.print_sheet import (
    sheet,
)
from offbook.markup.teaching import (
    taught,
    teaching_rows,
    teaching_sheet,
)

__all__ = [
    "BARS",
    "NARROWEST",
    "Block",
    "Cell",
    "MarkedScript",
    "Row",
    "as_form",
    "bar_of",
    "block_notes",
    "cells",
    "foot",
    "head",
    "limit_in_words",
    "look_up_rows",
    "mark",
    "marked_as_json",
    "marked_blocks",
    "marked_rows",
    "sheet",
    "summary",
    "taught",
    "teaching_rows",
    "teaching_sheet",
    "with_metre",
    "without_phrases",
]
