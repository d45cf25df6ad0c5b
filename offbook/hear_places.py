"""The script as the hearing sees it, and the part of it around what is being said."""

from __future__ import annotations

from collections.abc import Sequence

from offbook.align import Place, align_part
from offbook.recognise import HeardWord
from offbook.script import Line
from offbook.soundalike import Knows, known_forms
from offbook.words import Word

_MOST_FORMS = 8
_AROUND = 14  # script words taken in before the first and after the last that was heard
_MEMORY = 40  # heard words before the stretch that help to find the place
_NEAR = 600  # script words on either side of the last settled place that are searched first
_AHEAD = 40  # script words ahead that are taken in where nothing tells the place


def places_of(words: Sequence[Word], knows: Knows, lines: Sequence[Line]) -> tuple[Place, ...]:
    """One `Place` for each word: the forms the recogniser can hear it as, and whether it opens a line."""
    found: list[Place] = []
    line = None
    for word in words:
        forms: list[tuple[str, ...]] = []
        for spoken in word.spoken:
            ways: list[tuple[str, ...]] = [()]
            for token in spoken:
                ways = [(*w, *f) for w in ways for f in known_forms(token, knows)][:_MOST_FORMS]
            forms += [w for w in ways if w and w not in forms]
        known = all(knows(t) for spoken in word.spoken for t in spoken)
        found.append(Place(tuple(forms[:_MOST_FORMS]), word.line != line, word.spoken[0], known))
        line = word.line
    return tuple(found)


def region_around(
    places: Sequence[Place], before: Sequence[HeardWord], words: Sequence[HeardWord], last: int
) -> tuple[range, int]:
    """The script places among which `words`, heard after `before`, are to be looked for.

    last: the place after the last settled word as it was found then. Also gives that place as found now.
    """
    memory = before[-_MEMORY:]
    near = range(max(0, last - _NEAR), min(len(places), last + _NEAR))
    spots, here = _spots(places, near, memory, words, last)
    if len(spots) < len(words) // 2 and len(near) < len(places):
        spots, here = _spots(places, range(len(places)), memory, words, last)
    if len(spots) < max(2, len(words) // 3):
        spots += [here, min(len(places) - 1, here + len(words) + _AHEAD)]
    region = range(max(0, min(spots) - _AROUND), min(len(places), max(spots) + 1 + _AROUND))
    return region, here


def _spots(
    places: Sequence[Place],
    among: range,
    memory: Sequence[HeardWord],
    words: Sequence[HeardWord],
    last: int,
) -> tuple[list[int], int]:
    """The script places that `words` hit within `among`, and the place after what `memory` hit."""
    expected = max(0, last - len(memory) - among.start)
    found = align_part(places[among.start : among.stop], [*memory, *words], expected)
    hits = [s for s in found.steps if s.kind == "hit"]
    spots = [
        among.start + i for s in hits if s.heard_to > len(memory) for i in range(s.script_from, s.script_to)
    ]
    settled = (among.start + s.script_to for s in reversed(hits) if s.heard_to <= len(memory))
    return spots, next(settled, last)
