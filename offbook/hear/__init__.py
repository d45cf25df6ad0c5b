"""Hearing: a script and the sound of somebody saying it go in; what became of each word comes out."""

from __future__ import annotations

from offbook.hear.grammar import (
    phrases_to_follow,
)
from offbook.hear.listener import (
    Listener,
)
from offbook.hear.script_view import (
    places_of,
)
from offbook.hear.softening import (
    soften_for_poor_sound,
)
from offbook.hear.whole_run import (
    voice_difficulty,
)

__all__ = [
    "Listener",
    "phrases_to_follow",
    "places_of",
    "soften_for_poor_sound",
    "voice_difficulty",
]
