"""The review of a take against the text: was each shift played so that it can be heard, and what stands out.

`review_delivery` takes the samples, the words with their times and the marks, and gives a `TakeReview`. It
measures and never marks out of ten: what it cannot know is in `CANNOT_KNOW`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from offbook.delivery.edges import EdgeCues, SpokenWord, cues_at_edges
from offbook.delivery.level import HOP_SECONDS, LevelTrack, level_track
from offbook.delivery.pitch import PitchTrack, pitch_track
from offbook.delivery.small_words import stressed_small_words
from offbook.delivery.statement import ShiftStatement, SpeakerUsual, boundary_chance, statement_at, usual_of
from offbook.delivery.stretches import StretchFinding, ThoughtDelivery, findings_of, thought_deliveries

CANNOT_KNOW = (
    "This sheet tells what can be measured in the sound: silence, length, pitch and loudness. It does not "
    "know what you meant, what your face and body did, or whether it moved anybody. A shift that is not "
    "heard may be a choice. Nothing here judges a voice or an accent."
)
FEWEST_SNR_DB = 10.0  # below this ratio pitch and pauses are guesses; set by hand after bench/delivery.py
# Hz: what every recording has, a telephone's too: 8,000 samples a second end at 4,000 Hz, less the slope of
# a filter. When recordings were saved again at that rate, 4 of 85 shifts came out otherwise; with
# this bound 2 do (bench/delivery.py).
TOP_HZ = 3_800.0
_CURVE_POINTS = 60  # of the line of energy over the whole recording
_THOUGHT = 2  # grade of a shift from which on it begins a thought


@dataclass(frozen=True, slots=True)
class MarkedShift:
    """A shift as the marked script has it. grade: 1 phrase, 2 thought, 3 turn."""

    before_word: int
    grade: int
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class TakeReview:
    """Everything measured of one recording.

    shifts: a statement for each marked shift, in order. thoughts: how each was said. findings: what went
    wrong over longer stretches. worth_a_look: up to three places, the most telling first. pitch, level: the
    tracks. energy: level, LUFS, at equal steps over the whole. usual: the speaker's own habit.
    """

    shifts: tuple[ShiftStatement, ...]
    thoughts: tuple[ThoughtDelivery, ...]
    findings: tuple[StretchFinding, ...]
    worth_a_look: tuple[ShiftStatement | StretchFinding, ...]
    edges: tuple[EdgeCues, ...]
    usual: SpeakerUsual
    pitch: PitchTrack
    level: LevelTrack
    energy: tuple[float, ...]

    def count(self, audible: str, least: int = 2) -> int:
        """How many shifts of at least this grade were judged so."""
        return sum(s.audible == audible and s.grade >= least for s in self.shifts)


def review_delivery(
    samples: NDArray[np.float32],
    rate: int,
    words: Sequence[SpokenWord],
    shifts: Sequence[MarkedShift],
    *,
    word_count: int,
    stops: frozenset[int] = frozenset(),
    lines: Sequence[tuple[int, int]] = (),
    snr_db: float = math.inf,
    between: Mapping[int, str] | None = None,
    light: Set[int] = frozenset(),
) -> TakeReview:
    """Review a recording. samples: mono, full scale 1.0, shape (n,), at `rate` Hz.

    words: those that were said, in the order of the script. word_count: of the script. stops: script words
    before which a stop or comma is. lines: first and last word of each verse line. snr_db: how far
    the voice is above the background. between: by script word, what came before it that is not of the
    speech, such as a prompt; a shift there is not measured, as its silence is not the speaker's choice.
    light: the script words that hardly ever carry a thought, such as articles and prepositions.
    """
    hindered = dict(between or {})
    noisy = "the background is too loud" if snr_db < FEWEST_SNR_DB else ""
    pitch, level = pitch_track(samples, rate), level_track(samples, rate, TOP_HZ)
    edges = cues_at_edges(words, pitch, level)
    marked = frozenset({s.before_word for s in shifts} | stops | {first for first, _ in lines})
    usual = usual_of(edges, marked)
    by_word = {e.before_word: e for e in edges}
    starts = [0, *(s.before_word for s in shifts if s.grade >= _THOUGHT and s.before_word > 0)]
    bounds = [(a, b - 1) for a, b in zip(starts, [*starts[1:], word_count], strict=True) if b > a]
    thoughts = thought_deliveries(words, bounds, pitch, level)
    rates = {t.first: t.rate for t in thoughts}
    statements = tuple(
        statement_at(
            s.before_word,
            s.grade,
            by_word.get(s.before_word),
            usual,
            rate_change=_change(rates, bounds, s.before_word),
            hindered=noisy or hindered.get(s.before_word, ""),
        )
        for s in shifts
        if s.before_word > 0
    )
    found = [
        *findings_of(thoughts, words, edges, marked, lines, pitch, level),
        *stressed_small_words(words, light, bounds, marked, pitch, level),
    ]
    findings = tuple(sorted(found, key=lambda f: f.at))
    return TakeReview(
        statements,
        thoughts,
        findings,
        _worth_a_look(statements, findings),
        edges,
        usual,
        pitch,
        level,
        _energy(level),
    )


def _change(rates: dict[int, float], bounds: Sequence[tuple[int, int]], before: int) -> float | None:
    """The rate of the thought that begins at `before` over the one that ends there, natural logarithm."""
    k = next((k for k, (first, _) in enumerate(bounds) if first == before), None)
    if k is None or k == 0 or before not in rates or bounds[k - 1][0] not in rates:
        return None
    return math.log(rates[before] / rates[bounds[k - 1][0]])


_MOST_PLACES = 3


def _worth_a_look(
    shifts: Sequence[ShiftStatement], findings: Sequence[StretchFinding]
) -> tuple[ShiftStatement | StretchFinding, ...]:
    """The places most worth a listen: turns that are not heard, then thoughts, then what stands out."""
    lost = sorted(
        (s for s in shifts if s.audible == "not heard" and s.grade >= _THOUGHT),
        key=lambda s: (-s.grade, -s.confidence, s.at),
    )
    places: tuple[ShiftStatement | StretchFinding, ...] = (*lost, *findings)
    return places[:_MOST_PLACES]


def _energy(level: LevelTrack) -> tuple[float, ...]:
    if level.power.size < _CURVE_POINTS:
        return ()
    whole = level.power.size * HOP_SECONDS
    steps = np.linspace(0.0, whole, _CURVE_POINTS + 1)
    return tuple(round(level.lufs(a, b), 1) for a, b in itertools.pairwise(steps))


__all__ = [
    "CANNOT_KNOW",
    "FEWEST_SNR_DB",
    "TOP_HZ",
    "MarkedShift",
    "TakeReview",
    "boundary_chance",
    "review_delivery",
]
