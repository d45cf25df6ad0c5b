"""Line notes: a scored run-through told in the performer's words."""

from __future__ import annotations

from offbook.notes.asides import (
    cue_words,
)
from offbook.notes.in_place import (
    Cell,
    Row,
    dropped_rows,
    marks_used,
    rows,
)
from offbook.notes.kinds import (
    SAID_BEFORE,
    Aside,
    Dry,
    Kind,
    Note,
    Pause,
    Place,
    Review,
)
from offbook.notes.line_notes import (
    review,
)
from offbook.notes.quoting import (
    SMALL,
    Page,
    shorten,
)
from offbook.notes.slips import (
    holds_a_line,
    named_there,
)
from offbook.notes.to_work_on import (
    CARE,
)

__all__ = [
    "CARE",
    "SAID_BEFORE",
    "SMALL",
    "Aside",
    "Cell",
    "Dry",
    "Kind",
    "Note",
    "Page",
    "Pause",
    "Place",
    "Review",
    "Row",
    "cue_words",
    "dropped_rows",
    "holds_a_line",
    "marks_used",
    "named_there",
    "review",
    "rows",
    "shorten",
]
