"""Whether a shift can be heard: one statement for each shift, with its confidence and the cues that carry it.

The cues of an edge are compared with those that the same speaker has inside phrases. A logistic regression on
human readings then says how likely a listener is to hear a boundary there. It describes what is in the sound
and leaves the judgement to people, because a thought can be played in ways that nothing here measures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from offbook.delivery.edges import EdgeCues

Audible = Literal["heard", "slight", "not heard", "not measured"]
CueName = Literal["pause", "lengthening", "pitch", "loudness", "rate"]

# The log odds of a boundary: a constant, and a weight for each cue. Fitted by `bench/delivery.py` on human
# readings, for sentence ends, commas and line ends against the other word edges, each class with the same
# weight. Next to the other cues, a small reset of the pitch tells almost nothing there. But a large one is
# heard even alone (in a synthesiser's voice that had nothing else), so beyond `_RESET_FROM` semitones it has
# a weight set by hand: the largest one with which the area under the curve falls by no more than .01.
_CONSTANT = -3.06
_WEIGHTS: dict[CueName, float] = {"pause": 2.10, "lengthening": 1.01, "pitch": 0.5, "loudness": 0.147}
# Semitones beyond the speaker's usual from which a reset of pitch counts, and how many more count at most.
_RESET_FROM, _MOST_SEMITONES = 3.0, 10.0
_MOST_LU = 6.0  # of a change of loudness, beyond the speaker's usual, that count at most; set by hand
_PAUSE_UNIT = 0.05  # s: a pause counts as log(1 + pause / this); set by hand, the closure of a stop consonant
# Up to how many spreads lengthening counts, so that one error of measurement decides nothing; set by hand.
_MOST_SPREADS = 3.0
# From the median absolute deviation to the standard deviation, for a normal distribution.
_MAD_TO_SPREAD = 1.4826
_LEAST_SPREAD = 1e-3  # so that nothing is divided by zero; set by hand
_HEARD_FROM, _SLIGHT_FROM = 0.75, 0.35  # chances of a boundary; set by hand, far apart
_HALF_SURE = 0.5  # the confidence of a statement that could just as well be another one
_CARRIES_FROM = 0.8  # log odds from which a cue carries the shift; set by hand
# Smaller cues are not named, because a listener would not notice them. A pause of 0.2 s is the usual limit in
# studies of pausing (Goldman-Eisler 1968, from memory: 0.25 s); 1.5 semitones of pitch are from 't Hart 1981,
# from memory. The rest is set by hand: 2 LU, and natural logarithms of a length and of a rate.
_NAMED_PAUSE, _NAMED_PITCH, _NAMED_LEVEL, _NAMED_LENGTH, _NAMED_RATE = 0.2, 1.5, 2.0, 0.3, 0.2


@dataclass(frozen=True, slots=True)
class SpeakerUsual:
    """What this speaker does at word edges inside phrases: the median and the spread of each cue.

    The units are those of `EdgeCues`.
    """

    lengthening: tuple[float, float]
    pitch_reset: tuple[float, float]
    level_reset: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ShiftStatement:
    """What can be heard at one marked shift.

    before_word: the script word that the shift is before. grade: 1 phrase, 2 thought, 3 turn. at: when that
    word begins, s; 0 if it was not measured. audible: whether the shift can be heard. confidence: how sure
    that is, 0.5 to 1. carried_by: the cues that speak for a boundary, the strongest first. rate_change:
    natural logarithm of the rate of the thought after it over that of the thought before it; None if they
    were not measured. told: the evidence in words.
    """

    before_word: int
    grade: int
    at: float
    audible: Audible
    confidence: float
    carried_by: tuple[CueName, ...]
    cues: EdgeCues | None
    rate_change: float | None
    told: str


def usual_of(edges: Sequence[EdgeCues], marked: Set[int]) -> SpeakerUsual:
    """What is usual for this speaker, from the edges without a mark. marked: the words with a mark before
    them.

    If every edge has a mark, all of them are used.
    """
    inside = [e for e in edges if e.before_word not in marked] or list(edges)
    return SpeakerUsual(
        _middle_and_spread([e.lengthening for e in inside]),
        _middle_and_spread([e.pitch_reset for e in inside if e.pitch_reset is not None]),
        _middle_and_spread([e.level_reset for e in inside if e.level_reset is not None]),
    )


def _middle_and_spread(values: Sequence[float]) -> tuple[float, float]:
    """The median, and the spread as a standard deviation; 0 and 1 if there are no values."""
    if not values:
        return 0.0, 1.0
    all_of: NDArray[np.float64] = np.asarray(values, np.float64)
    middle = float(np.median(all_of))
    spread = _MAD_TO_SPREAD * float(np.median(np.abs(all_of - middle)))
    return middle, max(spread, _LEAST_SPREAD)


def weight_of(cue: CueName) -> float:
    """The weight of a cue in the log odds; 0 for the rate, which is only reported."""
    return _WEIGHTS.get(cue, 0.0)


def evidence_of(edge: EdgeCues, usual: SpeakerUsual) -> dict[CueName, float]:
    """What each cue of an edge adds to the log odds of a boundary, against what is usual for the speaker."""
    middle, spread = usual.lengthening
    longer = min(_MOST_SPREADS, max(-_MOST_SPREADS, (edge.lengthening - middle) / spread))
    reset = 0.0 if edge.pitch_reset is None else edge.pitch_reset - usual.pitch_reset[0]
    louder = 0.0 if edge.level_reset is None else edge.level_reset - usual.level_reset[0]
    return {
        "pause": _WEIGHTS["pause"] * math.log1p(edge.pause / _PAUSE_UNIT),
        "lengthening": _WEIGHTS["lengthening"] * longer,
        "pitch": _WEIGHTS["pitch"] * min(_MOST_SEMITONES, max(0.0, reset - _RESET_FROM)),
        "loudness": _WEIGHTS["loudness"] * min(_MOST_LU, max(-_MOST_LU, louder)),
    }


def boundary_chance(edge: EdgeCues, usual: SpeakerUsual) -> float:
    """The probability that a listener hears a boundary at this edge, 0 to 1."""
    return 1 / (1 + math.exp(-_CONSTANT - sum(evidence_of(edge, usual).values())))


def statement_at(
    before_word: int,
    grade: int,
    edge: EdgeCues | None,
    usual: SpeakerUsual,
    *,
    rate_change: float | None = None,
    hindered: str = "",
) -> ShiftStatement:
    """The statement for the shift before the script word `before_word`.

    edge: its cues, None if the words on both sides of it were not both heard. rate_change: as in
    `ShiftStatement`. hindered: why the cues tell nothing about the shift (the background is too loud, or a
    prompt came there); empty if they do.
    """
    if edge is None or hindered:
        why = hindered or "the words around it were not both heard"
        at = 0.0 if edge is None else edge.at
        return ShiftStatement(
            before_word,
            grade,
            at,
            "not measured",
            _HALF_SURE,
            (),
            edge,
            rate_change,
            f"{why}: could not be measured",
        )
    evidence = evidence_of(edge, usual)
    chance = boundary_chance(edge, usual)
    audible: Audible = (
        "heard" if chance >= _HEARD_FROM else "slight" if chance >= _SLIGHT_FROM else "not heard"
    )
    carrying = (c for c in evidence if evidence[c] >= _CARRIES_FROM)
    carried = tuple(sorted(carrying, key=lambda c: -evidence[c]))
    sure = max(chance, 1 - chance) if audible != "slight" else _HALF_SURE
    told = f"{', '.join(_noticeable(edge, usual, rate_change)) or 'no pause, no change'}: {audible}"
    return ShiftStatement(before_word, grade, edge.at, audible, sure, carried, edge, rate_change, told)


def _noticeable(edge: EdgeCues, usual: SpeakerUsual, rate_change: float | None) -> list[str]:
    """The cues that a listener would notice, in words."""
    found = []
    if edge.pause >= _NAMED_PAUSE:
        found.append(f"pause {edge.pause:.1f} s")
    reset = None if edge.pitch_reset is None else edge.pitch_reset - usual.pitch_reset[0]
    if reset is not None and abs(reset) >= _NAMED_PITCH:
        found.append(f"pitch {'up' if reset > 0 else 'down'} {abs(reset):.0f} semitones")
    louder = None if edge.level_reset is None else edge.level_reset - usual.level_reset[0]
    if louder is not None and abs(louder) >= _NAMED_LEVEL:
        found.append(f"{abs(louder):.0f} LU {'louder' if louder > 0 else 'softer'}")
    if edge.lengthening - usual.lengthening[0] >= _NAMED_LENGTH:
        found.append("last word drawn out")
    if rate_change is not None and abs(rate_change) >= _NAMED_RATE:
        found.append(f"{'faster' if rate_change > 0 else 'slower'} after it")
    return found
