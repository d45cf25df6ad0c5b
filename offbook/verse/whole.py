"""Choosing the metre for a whole passage, and the length of line for each place in the stanza."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from offbook.verse.beats import Reading, readings
from offbook.verse.metres import METRES, Foot
from offbook.verse.syllables import Token

_SAMPLE = 120
_OFF_LENGTH = 2.5


@dataclass(frozen=True, slots=True)
class Whole:
    """foot: the metre of the passage. lengths: the number of feet expected of each line (None: any)."""

    foot: Foot
    lengths: tuple[int | None, ...]
    cost: float


def _cheapest(found: dict[int, Reading], length: int | None) -> Reading | None:
    if not found:
        return None
    return min(
        found.values(),
        key=lambda r: r.cost + (_OFF_LENGTH * min(2, abs(r.beats - length)) if length else 0.0),
    )


def _lengths(chosen: Sequence[Reading | None], places: Sequence[int]) -> tuple[int | None, ...]:
    """The usual number of beats for each place in the stanza."""
    at: dict[int, Counter[int]] = {}
    for reading, place in zip(chosen, places, strict=True):
        if reading is not None:
            at.setdefault(place, Counter())[reading.beats] += 1
    usual: dict[int, int | None] = {}
    for place, counts in at.items():
        beats, n = counts.most_common(1)[0]
        usual[place] = beats if n >= 0.5 * sum(counts.values()) else None
    return tuple(usual.get(place) for place in places)


def places_in_stanza(paragraphs: Sequence[int]) -> tuple[int, ...]:
    """For each line its place in the stanza where all stanzas are alike, else 0 for every line."""
    sizes = Counter(paragraphs)
    if len(sizes) < 2 or len(set(sizes.values())) > 1 or len(paragraphs) // len(sizes) > 12:
        return (0,) * len(paragraphs)
    size = len(paragraphs) // len(sizes)
    return tuple(i % size for i in range(len(paragraphs)))


def choose(lines: Sequence[Sequence[Token]], places: Sequence[int]) -> tuple[Whole, list[Reading | None]]:
    """The metre that fits all `lines` best, and each line read in it."""
    best: tuple[Whole, list[Reading | None]] | None = None
    for foot in METRES:
        found = [readings(tokens, foot) for tokens in lines]
        chosen = [_cheapest(each, None) for each in found]
        lengths = _lengths(chosen, places)
        chosen = [_cheapest(each, length) for each, length in zip(found, lengths, strict=True)]
        cost = sum(r.cost if r else 30.0 for r in chosen)
        if best is None or cost < best[0].cost:
            best = (Whole(foot, lengths, cost), chosen)
    assert best is not None
    return best
