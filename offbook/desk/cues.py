"""How soon cues were picked up: kept with the run-through, and told in the same words everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING

from offbook.records import CuePickedUp

if TYPE_CHECKING:
    from offbook.partner import Rehearsal

_SLOW = 3  # cues that were picked up late, named at the end
_LATE = 1.0  # s from which a cue is picked up late, where it also takes twice as long as usual; set by hand
_WORDS = 6  # of a cue that name it: the last ones, which are what is listened for


def picked_up(rehearsal: Rehearsal) -> tuple[CuePickedUp, ...]:
    """The cues that the performer picked up in a rehearsal, in order."""
    lines = rehearsal.scene.lines
    return tuple(
        CuePickedUp(_end_of(lines[p.line].text), p.word, round(p.seconds, 2)) for p in rehearsal.pick_ups
    )


def cues_told(found: Sequence[CuePickedUp]) -> list[str]:
    """How soon, in the middle, then the slowest; nothing where there were no cues."""
    if not found:
        return []
    middle = median(p.seconds for p in found)
    rows = [
        f"Cues picked up: {len(found)}, half of them within {middle:.1f} s."
        if len(found) > 1
        else f"The cue was picked up after {middle:.1f} s."
    ]
    slow = sorted((p for p in found if p.seconds >= max(_LATE, 2 * middle)), key=lambda p: -p.seconds)
    return rows + [f"{p.seconds:.1f} s after “{p.text}”" for p in slow[:_SLOW]]


def _end_of(text: str) -> str:
    words = text.split()
    return " ".join(words) if len(words) <= _WORDS else "… " + " ".join(words[-_WORDS:])
