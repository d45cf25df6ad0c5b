"""The fitted weights as their fits wrote them: a slip of the hand in one of them is seen nowhere else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from offbook.thoughts import turn_weights, weights
from offbook.verse import costs, learnt, spoken_weights
from tests.held import Rows

TABLES: dict[str, Mapping[str, object]] = {
    "a phrase begins (bench/fit_shift_weights.py)": weights.PHRASE,
    "a thought begins (bench/fit_shift_weights.py)": weights.THOUGHT,
    "a performer turns (bench/fit_turn_weights.py)": turn_weights.TURN,
    "a syllable is said strong (docs/verse.md)": spoken_weights.SINGLE,
    "two syllables follow one another (docs/verse.md)": spoken_weights.PAIR,
    "a word leans to the beat, choosing a metre (set by hand)": costs.LEANING,
    "a step of the metre, choosing a metre (set by hand)": costs.STEP,
    "a word said otherwise, choosing a metre (set by hand)": costs.VARIANT,
    "a word leans to the beat, reading (bench/fit_scansion.py)": learnt.LEANING,
    "a step of the metre, reading (bench/fit_scansion.py)": learnt.STEP,
    "a word said otherwise, reading (bench/fit_scansion.py)": learnt.VARIANT,
}


def table(name: str) -> Iterator[str]:
    """Each weight of a table on a row."""
    for key, value in TABLES[name].items():
        inner = value.items() if isinstance(value, Mapping) else [("", value)]
        yield from (f"{key} {part}: {weight}" for part, weight in inner)


PARTS: dict[str, Rows] = {name: partial(table, name) for name in TABLES}
