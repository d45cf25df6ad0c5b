"""Hearing: a script and the sound of somebody saying it go in; what became of each word comes out."""

from __future__ import annotations

from offbook.hear.grammar import (
    expecting,
)
from offbook.hear.listener import (
    Listener,
)
from offbook.hear.script_view import (
    places_of,
)
from offbook.hear.softening import (
    doubt,
)
from offbook.hear.speaker_habit import (
    how_hard,
)

__all__ = [
    "Listener",
    "doubt",
    "expecting",
    "how_hard",
    "places_of",
]
