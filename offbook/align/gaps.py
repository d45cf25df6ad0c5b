"""Stretches of an alignment between two hits, as places: what the script has there, what was heard.

Verdicts and second hearings do not look at single steps but at places: a run of steps that are not
hits, with the hits on either side. Which heard word of a place stands for which script word is settled
here by likeness of sound, because only there it matters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from offbook.align.alignment import AlignedWord, Alignment, nearest

_JOINT = 0.75  # likeness from which two heard words stand for one of the script
# The same, and for more, where the recogniser does not know the word or it is said in several (2024).
_JOINT_STRANGE = 0.62
_MOST_KNOWN, _MOST_STRANGE = 2, 3  # heard words for one that the recogniser knows, or does not know
_EACH_MORE = 0.05  # cost of each heard word, set by hand: of two equal ways the one with fewer is taken
_NO_HEARD, _NO_SCRIPT = -1, -2  # moves: a script word without a heard one, a heard one without a script word
_GAP = 0.6  # cost of leaving one word of a place without a partner


@dataclass(frozen=True, slots=True)
class Gap:
    """Script words [script_from, script_to) stood against heard words [heard_from, heard_to)."""

    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


def gaps(alignment: Alignment) -> tuple[Gap, ...]:
    """The places of an alignment without jumps, in order: runs of steps that are not hits."""
    found: list[Gap] = []
    open_at: tuple[int, int] | None = None
    script = heard = 0
    for step in alignment.steps:
        if step.kind == "hit":
            if open_at is not None:
                found.append(Gap(open_at[0], step.script_from, open_at[1], step.heard_from))
                open_at = None
        elif open_at is None:
            open_at = (step.script_from, step.heard_from)
        script, heard = step.script_to, step.heard_to
    if open_at is not None:
        found.append(Gap(open_at[0], script, open_at[1], heard))
    return tuple(found)


def partners(places: Sequence[AlignedWord], heard: Sequence[str]) -> list[tuple[int, int, int]]:
    """Pair the words of one place by sound: (script index, heard from, heard to), rising, ends exclusive.

    One heard word, or two that together sound like it (I am / I'm), for one script word, or three for one
    that the recogniser does not know, or as many as it is said in (2024); unpaired words of either side are
    left out. Small: meant for the few words of one place.
    """
    rows, cols = len(places), len(heard)
    cost = [[0.0] * (cols + 1) for _ in range(rows + 1)]
    back: list[list[int]] = [[0] * (cols + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(cols + 1):
            ways: list[tuple[float, int]] = []
            if i:
                ways.append((cost[i - 1][j] + _GAP, _NO_HEARD))
                fits = _fits(places[i - 1], heard[:j])
                ways += [(cost[i - 1][j - k] + (1.0 - like) + _EACH_MORE * k, k) for k, like in fits]
            if j:
                ways.append((cost[i][j - 1] + _GAP, _NO_SCRIPT))
            if ways:
                cost[i][j], back[i][j] = min(ways)
    return _traced(back)


def _fits(place: AlignedWord, heard: Sequence[str]) -> Iterator[tuple[int, float]]:
    """How many of the last heard words may stand for a script word, each with the likeness of its sound."""
    most = max([_MOST_KNOWN if place.known else _MOST_STRANGE, *map(len, place.forms)])
    alone = place.known and all(len(form) == 1 for form in place.forms)
    for k in range(1, min(len(heard), most) + 1):
        like = nearest(place, " ".join(heard[-k:]))
        if k == 1 or like > (_JOINT if alone else _JOINT_STRANGE):
            yield k, like


def _traced(back: list[list[int]]) -> list[tuple[int, int, int]]:
    """The pairs on the cheapest way, followed from its end."""
    found: list[tuple[int, int, int]] = []
    i, j = len(back) - 1, len(back[0]) - 1
    while i or j:
        move = back[i][j]
        if move == _NO_HEARD:
            i -= 1
        elif move == _NO_SCRIPT:
            j -= 1
        else:
            found.append((i - 1, j - move, j))
            i, j = i - 1, j - move
    return found[::-1]
