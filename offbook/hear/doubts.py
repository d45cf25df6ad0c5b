"""Doubtful places of a stretch, and which of them are weighed as one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from offbook.recognise import HeardWord

_BEGUN = 2  # words from which on the same words twice running are a phrase begun twice; set by hand


@dataclass(frozen=True, slots=True)
class Doubt:
    """Script words [script_from, script_to) of the region against leaning words [heard_from, heard_to)."""

    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


def places_to_weigh(doubts: Iterable[Doubt], lean: Sequence[HeardWord]) -> list[Doubt]:
    """The places in the order of the leaning words `lean`, those that meet taken together."""
    found: list[Doubt] = []
    for d in sorted(doubts, key=lambda d: (d.heard_from, d.heard_to)):
        last = found[-1] if found else None
        if last is not None and _one_place(last, d, lean):
            found[-1] = Doubt(
                min(last.script_from, d.script_from),
                max(last.script_to, d.script_to),
                last.heard_from,
                max(last.heard_to, d.heard_to),
            )
        else:
            found.append(d)
    return found


def _one_place(a: Doubt, b: Doubt, lean: Sequence[HeardWord]) -> bool:
    """Whether a place and the one behind it meet. A phrase begun twice is weighed with no neighbour."""
    if b.heard_from > a.heard_to or b.script_from > a.script_to:
        return False
    return b.heard_from < a.heard_to or not (said_again(a, lean) or said_again(b, lean))


def said_again(doubt: Doubt, lean: Sequence[HeardWord]) -> bool:
    """Whether a place without script words has several words that were heard twice running.

    A phrase begun twice: which of the two sayings the words of the place belong to cannot be known.
    """
    count = doubt.heard_to - doubt.heard_from
    if doubt.script_from < doubt.script_to or count < _BEGUN:
        return False
    heard = [w.word for w in lean]
    starts = range(max(0, doubt.heard_from - count), doubt.heard_from + 1)
    return any(heard[k : k + count] == heard[k + count : k + 2 * count] for k in starts)
