"""Line notes: a scored run-through told in the performer's words."""

from __future__ import annotations

from offbook.notes.asides import (
    cue_words,
)
from offbook.notes.in_place import (
    NotedLine,
    NotedWord,
    dropped_rows,
    marks_used,
    noted_lines,
)
from offbook.notes.kinds import (
    SAID_BEFORE,
    Aside,
    Dry,
    Kind,
    Note,
    Pause,
    PlaceToWorkOn,
    Review,
)
from offbook.notes.line_notes import (
    notes_on,
)
from offbook.notes.quoting import (
    SMALL,
    SpokenScript,
    shorten,
)
from offbook.notes.to_work_on import (
    CARE,
)

__all__ = [
    "CARE",
    "SAID_BEFORE",
    "SMALL",
    "Aside",
    "Dry",
    "Kind",
    "Note",
    "NotedLine",
    "NotedWord",
    "Pause",
    "PlaceToWorkOn",
    "Review",
    "SpokenScript",
    "cue_words",
    "dropped_rows",
    "marks_used",
    "noted_lines",
    "notes_on",
    "shorten",
]
