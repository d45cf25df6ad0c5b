"""The review of a take against the text: can each shift be heard, and what stands out over longer stretches?

`review_delivery` takes the samples, the words with their times, and the marks, and returns a `TakeReview`. It
measures and never gives a mark out of ten. `CANNOT_KNOW` says what it cannot know.
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
# Below this ratio of the voice to the background, pitch and pauses would be guesses; set by hand after
# bench/delivery.py.
FEWEST_SNR_DB = 10.0
# The highest frequency that every recording has, even a telephone's: 8,000 samples a second end at 4,000 Hz,
# less the slope of a filter. When recordings were saved again at that rate, the statements at 4 of 85 shifts
# changed; with this limit 2 change (bench/delivery.py).
TOP_HZ = 3_800.0
_ENERGY_POINTS = 60  # of the line of loudness over the whole recording; set by hand
_ENERGY_DECIMALS = 1  # of a LUFS; set by hand, finer than can be heard
_THOUGHT = 2  # the grade of a shift that begins a thought; a turn, 3, begins one too
_MOST_PLACES = 3  # that are worth a look first; set by hand, as many as one can work on at once


@dataclass(frozen=True, slots=True)
class MarkedShift:
    """A shift of the marked script before the word `before_word`. grade: 1 phrase, 2 thought, 3 turn."""

    before_word: int
    grade: int
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class TakeReview:
    """Everything that was measured in one recording.

    shifts: a statement for each marked shift, in order. thoughts: how each was said. findings: what stands
    out over longer stretches. worth_a_look: up to three places, the most important first. edges: the cues at
    every edge between two words. usual: what is usual for the speaker. pitch, level: the whole tracks.
    energy: the level, LUFS, in 60 equal steps over the whole recording; empty if it is too short.
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
        """How many shifts of at least this grade were judged as `audible` says."""
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

    words: those that were said, in the order of the script. word_count: how many words the script has. stops:
    script words with a stop or a comma before them. lines: the first and the last word of each verse line.
    snr_db: how far the voice is above the background. between: for a script word, what came before it that is
    not part of the speech, such as a prompt; a shift there is not measured, because the silence is not the
    speaker's choice. light: the words that hardly ever carry a thought, such as articles and prepositions.
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
            rate_change=_rate_change(rates, bounds, s.before_word),
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


def _rate_change(rates: dict[int, float], bounds: Sequence[tuple[int, int]], before: int) -> float | None:
    """Natural logarithm of the rate of the thought that begins at `before` over that of the one before it.

    None if no thought begins there, or if one of the two was not heard.
    """
    k = next((k for k, (first, _) in enumerate(bounds) if first == before), None)
    if k is None or k == 0 or before not in rates or bounds[k - 1][0] not in rates:
        return None
    return math.log(rates[before] / rates[bounds[k - 1][0]])


def _worth_a_look(
    shifts: Sequence[ShiftStatement], findings: Sequence[StretchFinding]
) -> tuple[ShiftStatement | StretchFinding, ...]:
    """The places most worth a listen: turns that are not heard, then such thoughts, then other findings."""
    unheard = sorted(
        (s for s in shifts if s.audible == "not heard" and s.grade >= _THOUGHT),
        key=lambda s: (-s.grade, -s.confidence, s.at),
    )
    places: tuple[ShiftStatement | StretchFinding, ...] = (*unheard, *findings)
    return places[:_MOST_PLACES]


def _energy(level: LevelTrack) -> tuple[float, ...]:
    """The level, LUFS, in equal steps over the whole recording; empty if it is too short."""
    if level.power.size < _ENERGY_POINTS:
        return ()
    whole = level.power.size * HOP_SECONDS
    steps = np.linspace(0.0, whole, _ENERGY_POINTS + 1)
    return tuple(round(level.lufs(a, b), _ENERGY_DECIMALS) for a, b in itertools.pairwise(steps))


__all__ = [
    "CANNOT_KNOW",
    "FEWEST_SNR_DB",
    "TOP_HZ",
    "MarkedShift",
    "TakeReview",
    "boundary_chance",
    "review_delivery",
]
