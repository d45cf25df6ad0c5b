"""Whether a shift can be heard: one statement an edge, with its confidence and the cues that carried it.

The cues of an edge are set against the same speaker's edges inside phrases, and a logistic regression on
human readings says how likely a listener is to hear a boundary there. It tells what is in the sound and
leaves the judgement to people: a thought can be played in ways that no measure sees.
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

# Log odds of a boundary: a constant, then for each cue its weight. Fitted by `bench/delivery.py` on human
# readings, sentence ends, commas and line ends against the other word edges; each class weighs the same.
# Given the others, small resets of pitch say next to nothing there; a large one alone is heard all the same
# (a synthesiser's voice with nothing else), so beyond `_RESET_FROM` semitones it has a weight set by hand,
# the largest that costs no more than .01 of the area under the curve.
_CONSTANT = -3.06
_WEIGHTS: dict[CueName, float] = {"pause": 2.10, "lengthening": 1.01, "pitch": 0.5, "loudness": 0.147}
_RESET_FROM, _MOST_SEMITONES = 3.0, 10.0  # beyond the speaker's usual
_MOST_LU = 6.0  # beyond the speaker's usual, either way
_PAUSE_UNIT = 0.05  # s: a pause counts as the logarithm of 1 + pause / this; set by hand, a stop's closure
_MOST_SPREADS = (
    3.0  # spreads beyond which a cue counts no more, so that one slip of measuring decides nothing
)
_MAD_TO_SPREAD = 1.4826  # median absolute deviation to standard deviation, of a normal distribution
_LEAST_SPREAD = 1e-3
_HEARD_FROM, _SLIGHT_FROM = 0.75, 0.35  # chance of a boundary; set by hand, wide apart
_CARRIES = 0.8  # log odds from which a cue is named as carrying the shift; set by hand
# Cues as a listener notices them: below these a cue is not named. A pause of 0.2 s is the usual border
# in studies of pausing (Goldman-Eisler 1968, from memory: 0.25 s); 1.5 semitones for pitch is 't Hart 1981,
# from memory; the rest is set by hand.
_TOLD_PAUSE, _TOLD_PITCH, _TOLD_LEVEL, _TOLD_LENGTH, _TOLD_RATE = 0.2, 1.5, 2.0, 0.3, 0.2


@dataclass(frozen=True, slots=True)
class SpeakerUsual:
    """What this speaker does at word edges inside phrases: middle and spread of each cue."""

    lengthening: tuple[float, float]
    pitch_reset: tuple[float, float]
    level_reset: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ShiftStatement:
    """What can be heard at one marked shift.

    confidence: 0.5 to 1, how sure the word is. carried_by: the cues that speak for it, strongest first.
    rate_change: the rate of the thought after it over that before it, as a natural logarithm; None where it
    could not be told. told: the evidence in words.
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
    """The speaker's own habit, from the edges without a mark. marked: the words before which one is."""
    inside = [e for e in edges if e.before_word not in marked] or list(edges)
    return SpeakerUsual(
        _middle_and_spread([e.lengthening for e in inside]),
        _middle_and_spread([e.pitch_reset for e in inside if e.pitch_reset is not None]),
        _middle_and_spread([e.level_reset for e in inside if e.level_reset is not None]),
    )


def _middle_and_spread(values: Sequence[float]) -> tuple[float, float]:
    if not values:
        return 0.0, 1.0
    all_of: NDArray[np.float64] = np.asarray(values, np.float64)
    middle = float(np.median(all_of))
    spread = _MAD_TO_SPREAD * float(np.median(np.abs(all_of - middle)))
    return middle, max(spread, _LEAST_SPREAD)


def weight_of(cue: CueName) -> float:
    """The weight of a cue in the log odds; 0 for the rate, which is reported and does not decide."""
    return _WEIGHTS.get(cue, 0.0)


def evidence_of(edge: EdgeCues, usual: SpeakerUsual) -> dict[CueName, float]:
    """What each cue of an edge adds to the log odds of a boundary."""

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
    """How likely a listener is to hear a boundary at this edge, 0 to 1."""
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
    """The statement for a shift before script word `before_word`.

    edge: None where the words around it were not both heard. hindered: why its cues say nothing of the
    shift, as when the background is too loud or a prompt came there; empty where they do.
    """
    if edge is None or hindered:
        why = hindered or "the words around it were not both heard"
        at = 0.0 if edge is None else edge.at
        return ShiftStatement(
            before_word,
            grade,
            at,
            "not measured",
            0.5,
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
    carried = tuple(sorted((c for c in evidence if evidence[c] >= _CARRIES), key=lambda c: -evidence[c]))
    sure = max(chance, 1 - chance) if audible != "slight" else 0.5
    told = f"{', '.join(_noticed(edge, usual, rate_change)) or 'no pause, no change'}: {audible}"
    return ShiftStatement(before_word, grade, edge.at, audible, sure, carried, edge, rate_change, told)


def _noticed(edge: EdgeCues, usual: SpeakerUsual, rate_change: float | None) -> list[str]:
    """The cues that a listener would notice, in words."""
    found = []
    if edge.pause >= _TOLD_PAUSE:
        found.append(f"pause {edge.pause:.1f} s")
    reset = None if edge.pitch_reset is None else edge.pitch_reset - usual.pitch_reset[0]
    if reset is not None and abs(reset) >= _TOLD_PITCH:
        count = round(abs(reset))
        found.append(f"pitch {'up' if reset > 0 else 'down'} {count} semitone{'s' * (count != 1)}")
    louder = None if edge.level_reset is None else edge.level_reset - usual.level_reset[0]
    if louder is not None and abs(louder) >= _TOLD_LEVEL:
        found.append(f"{abs(louder):.0f} LU {'louder' if louder > 0 else 'softer'}")
    if edge.lengthening - usual.lengthening[0] >= _TOLD_LENGTH:
        found.append("last word drawn out")
    if rate_change is not None and abs(rate_change) >= _TOLD_RATE:
        found.append(f"{'faster' if rate_change > 0 else 'slower'} after it")
    return found
