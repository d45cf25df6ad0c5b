"""The marked script: everything found about a speech, put together for the terminal, a page or JSON."""

from __future__ import annotations

from offbook.markup.blocks import (
    Block,
    blocks,
    notes_of,
)
from offbook.markup.cells import (
    BARS,
    Cell,
    bar_of,
    cells,
    clock,
)
from offbook.markup.marked import (
    Marked,
    as_form,
    mark,
    with_metre,
    without_phrases,
)
from offbook.markup.marked_json import (
    as_json,
)
from offbook.markup.marked_page import (
    NARROWEST,
    Row,
    foot,
    head,
    limit_in_words,
    look_up_rows,
    rows,
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
    "Marked",
    "Row",
    "as_form",
    "as_json",
    "bar_of",
    "blocks",
    "cells",
    "clock",
    "foot",
    "head",
    "limit_in_words",
    "look_up_rows",
    "mark",
    "notes_of",
    "rows",
    "sheet",
    "summary",
    "taught",
    "teaching_rows",
    "teaching_sheet",
    "with_metre",
    "without_phrases",
]
