"""Gaps of an alignment: the places between two hits, with the script's words and the heard words there.

Verdicts and further hearings do not look at single steps but at gaps: runs of steps that are not hits. Which
heard word in a gap stands for which script word is decided here, by the likeness of their sounds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from offbook.align.alignment import AlignedWord, Alignment, sound_likeness

# The likeness of sound, 0 to 1, from which several heard words together stand for one script word; set by
# hand.
_JOINED_KNOWN = 0.75  # for a word that the recogniser knows
_JOINED_UNKNOWN = 0.62  # for one that it does not know, or one that is said in several words (2024)
# How many heard words may stand for one that the recogniser knows, or does not know; set by hand.
_MOST_KNOWN, _MOST_UNKNOWN = 2, 3
_EACH_HEARD_WORD = 0.05  # cost of each heard word: of two equal ways the one with fewer is taken; set by hand
_NO_HEARD, _NO_SCRIPT = -1, -2  # moves: a script word without a heard one, a heard one without a script word
_UNPAIRED = 0.6  # cost of a word without a partner; set by hand


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap: the script words [script_from, script_to) and the heard words [heard_from, heard_to)."""

    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


def gaps(alignment: Alignment) -> tuple[Gap, ...]:
    """The gaps of an alignment in which the speaker does not jump, in order."""
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


def pair_by_sound(places: Sequence[AlignedWord], heard: Sequence[str]) -> list[tuple[int, int, int]]:
    """Pair the script words and the heard words of one gap by their sound.

    Returns the index of the script word with the first heard word and the end of the heard words (exclusive),
    in rising order. A script word may have one heard word, two that together sound like it (I am / I'm),
    three if the recogniser does not know it, or as many as it is said in (2024). Words without a partner are
    left out. The time grows with the product of both lengths, so this is only for the few words of one gap.
    """
    rows, cols = len(places), len(heard)
    cost = [[0.0] * (cols + 1) for _ in range(rows + 1)]
    back: list[list[int]] = [[0] * (cols + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(cols + 1):
            ways: list[tuple[float, int]] = []
            if i:
                ways.append((cost[i - 1][j] + _UNPAIRED, _NO_HEARD))
                fits = _fits(places[i - 1], heard[:j])
                ways += [(cost[i - 1][j - k] + (1.0 - like) + _EACH_HEARD_WORD * k, k) for k, like in fits]
            if j:
                ways.append((cost[i][j - 1] + _UNPAIRED, _NO_SCRIPT))
            if ways:
                cost[i][j], back[i][j] = min(ways)
    return _traced_back(back)


def _fits(place: AlignedWord, heard: Sequence[str]) -> Iterator[tuple[int, float]]:
    """How many of the last heard words may stand for a script word, with the likeness of their sound."""
    most = max([_MOST_KNOWN if place.known else _MOST_UNKNOWN, *map(len, place.forms)])
    alone = place.known and all(len(form) == 1 for form in place.forms)
    for k in range(1, min(len(heard), most) + 1):
        like = sound_likeness(place, " ".join(heard[-k:]))
        if k == 1 or like > (_JOINED_KNOWN if alone else _JOINED_UNKNOWN):
            yield k, like


def _traced_back(back: list[list[int]]) -> list[tuple[int, int, int]]:
    """The pairs on the cheapest way, found from its end."""
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
