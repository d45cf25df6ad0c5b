"""A small word that stands out of its thought: how far above the others, and where it never counts."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from offbook.delivery.edges import SpokenWord
from offbook.delivery.small_words import stressed_small_words

THE = 3  # the small word


def said(count: int = 6) -> list[SpokenWord]:
    return [SpokenWord(i, i / 2, i / 2 + 0.4, 0.3, 1) for i in range(count)]


def told(
    louder: float = 2.0,
    higher: float = 1.0,
    *,
    words: list[SpokenWord] | None = None,
    bounds: tuple[int, int] = (0, 5),
    marked: frozenset[int] = frozenset(),
    light: frozenset[int] = frozenset({THE}),
    voiced: dict[int, int] | None = None,
) -> list[tuple[int, float, str]]:
    """The words that are reported, where word 3 is so much louder (LU) and higher (semitones) than the rest.

    voiced: how many frames of a word have a pitch, 5 where nothing is said.
    """
    levels = SimpleNamespace(frames=lambda a, b: np.full(9, -20.0 + louder * (round(2 * a) == THE)))
    tones = SimpleNamespace(
        within=lambda a, b: np.full(
            (voiced or {}).get(round(2 * a), 5), 90.0 + higher * (round(2 * a) == THE)
        )
    )
    spoken = said() if words is None else words
    pitch: Any = tones
    level: Any = levels
    found = stressed_small_words(spoken, light, [bounds], marked, pitch, level)
    assert all((f.kind, f.first) == ("stress on a small word", f.last) for f in found)
    return [(f.first, f.at, f.told) for f in found]


STRONGEST = "the strongest word of its thought, 2 LU louder and 1 semitone higher than the next"


def test_a_small_word_is_reported_from_two_lu_and_a_semitone_above_all_others() -> None:
    assert told() == [(THE, 1.5, STRONGEST)]
    assert told(1.99) == told(2.0, 0.99) == told(-2.0) == told(2.0, -1.0) == []
    assert told(4.0, 2.6)[0][2].endswith("4 LU louder and 3 semitones higher than the next")
    assert told(light=frozenset({2, 4})) == told(light=frozenset()) == []


@pytest.mark.parametrize("marked", [THE, THE + 1])
def test_beside_a_mark_or_a_stop_a_small_word_is_louder_anyway(marked: int) -> None:
    assert told(marked=frozenset({marked})) == []
    assert told(marked=frozenset({THE - 1, THE + 2})) == [(THE, 1.5, STRONGEST)]


@pytest.mark.parametrize(
    ("bounds", "counts"), [((0, 3), False), ((3, 9), False), ((0, 4), True), ((1, 5), True)]
)
def test_the_first_and_the_last_word_of_a_thought_are_never_reported(
    bounds: tuple[int, int], counts: bool
) -> None:
    assert bool(told(bounds=bounds)) == counts


def test_a_thought_has_four_words_that_were_said_and_voiced_or_none_is_reported() -> None:
    """A word is voiced with three frames that have a pitch."""
    five = said()
    assert told(words=[w for w in five if w.i in (0, 2, 3, 5)]) == [(THE, 1.5, STRONGEST)]
    assert told(words=[w for w in five if w.i in (0, 3, 5)]) == []
    assert told(voiced={0: 2, 1: 0}) == [(THE, 1.5, STRONGEST)]
    assert told(voiced={0: 2, 1: 2, 5: 2}) == [] and told(voiced={0: 3, 1: 2, 5: 2}) != []
    assert told(voiced={THE: 2}) == []
