"""The marked script: everything found about a speech, put together for the terminal, a page or JSON."""

from __future__ import annotations

from offbook.markup.cells import (
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
    rows,
)
from offbook.markup.print_sheet import (
    sheet,
)

__all__ = [
    "NARROWEST",
    "Marked",
    "Row",
    "as_form",
    "as_json",
    "clock",
    "foot",
    "head",
    "mark",
    "rows",
    "sheet",
    "with_metre",
    "without_phrases",
]
