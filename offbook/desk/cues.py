"""How soon cues were picked up, as the journal keeps it, and in the same words everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING

from offbook.records import CuePickedUp

if TYPE_CHECKING:
    from offbook.partner import Rehearsal

# Set by hand.
_SLOW = 3  # late cues that are named at the end
_LATE, _TIMES_USUAL = 1.0, 2  # s, and times the median, after both of which a cue counts as picked up late
_DECIMALS = 2  # of the seconds that are kept: nobody's reaction is measured more exactly
_WORDS = 6  # of a cue that are quoted: the last ones, which the performer listens for


def cues_picked_up(rehearsal: Rehearsal) -> tuple[CuePickedUp, ...]:
    """The cues that the performer picked up in a rehearsal, in order."""
    lines = rehearsal.scene.lines
    return tuple(
        CuePickedUp(_end_of(lines[p.line].text), p.word, round(p.seconds, _DECIMALS))
        for p in rehearsal.pick_ups
    )


def cues_in_words(found: Sequence[CuePickedUp]) -> list[str]:
    """The median time, then the slowest cues; nothing where there were no cues."""
    if not found:
        return []
    middle = median(p.seconds for p in found)
    rows = [
        f"Cues picked up: {len(found)}, half of them within {middle:.1f} s."
        if len(found) > 1
        else f"The cue was picked up after {middle:.1f} s."
    ]
    slow = sorted(
        (p for p in found if p.seconds >= max(_LATE, _TIMES_USUAL * middle)), key=lambda p: -p.seconds
    )
    return rows + [f"{p.seconds:.1f} s after “{p.text}”" for p in slow[:_SLOW]]


def _end_of(text: str) -> str:
    words = text.split()
    return " ".join(words) if len(words) <= _WORDS else "… " + " ".join(words[-_WORDS:])
