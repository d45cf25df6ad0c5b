"""Over longer stretches: rushed and dragged thoughts, flat ones, line ends that drop away, a tune said again.

Every value is set against the same speaker's own thoughts in the same recording. With fewer than four
thoughts nothing is compared: there is no habit to compare with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from offbook.delivery.edges import EdgeCues, SpokenWord
from offbook.delivery.level import LevelTrack
from offbook.delivery.pitch import PitchTrack

StretchKind = Literal[
    "rushed",
    "dragged",
    "flat",
    "line end drops",
    "same tune",
    "pause inside a phrase",
    "stress on a small word",
]

# All set by hand, so that a reading by an experienced narrator shows few of them.
_FEWEST_THOUGHTS = 4
_FEWEST_SYLLABLES = 6  # of a thought whose rate or tune is reported
_FASTER, _SLOWER = 1.3, 0.7  # times the speaker's own middle rate
_FLAT_SHARE = 0.5  # of the speaker's own middle range of pitch, and of loudness
_FALL_LU = 6.0  # by which the last word of a line is softer than the line, beyond the speaker's own habit
_TUNE_POINTS = 12  # points of a thought's tune
_TUNE_ALIKE = 0.9  # correlation from which two tunes are the same
_TUNE_RANGE = 3.0  # semitones: flatter tunes have no shape to repeat
_IN_A_ROW = 3
_INSIDE_PAUSE = 0.4  # s
_LOW, _HIGH = 10, 90  # percentiles between which a range is taken


@dataclass(frozen=True, slots=True)
class ThoughtDelivery:
    """How one thought was said. first, last: script words; start, end: s.

    rate: syllables a second while speaking, pauses left out. pitch_range: semitones, loudness_range: LU,
    between the 10th and the 90th percentile; None where too little was voiced. level: LUFS.
    """

    first: int
    last: int
    start: float
    end: float
    rate: float
    pitch_range: float | None
    loudness_range: float
    level: float


@dataclass(frozen=True, slots=True)
class StretchFinding:
    """Something over a stretch that is worth a listen. told: what was measured, in words."""

    kind: StretchKind
    first: int
    last: int
    at: float
    told: str


def thought_deliveries(
    words: Sequence[SpokenWord], bounds: Sequence[tuple[int, int]], pitch: PitchTrack, level: LevelTrack
) -> tuple[ThoughtDelivery, ...]:
    """How each thought was said. bounds: first and last script word of each; those not heard are left out."""
    found = []
    for first, last in bounds:
        said = [w for w in words if first <= w.i <= last]
        speaking = sum(w.end - w.start for w in said)
        if not said or speaking <= 0 or said[-1].end <= said[0].start:
            continue
        start, end = said[0].start, said[-1].end
        tones = pitch.within(start, end)
        loud = np.concatenate([level.frames(w.start, w.end) for w in said])
        found.append(
            ThoughtDelivery(
                first,
                last,
                start,
                end,
                rate=sum(w.syllables for w in said) / speaking,
                pitch_range=_range(tones) if len(tones) >= _TUNE_POINTS else None,
                loudness_range=_range(loud) if loud.size else 0.0,
                level=level.lufs(start, end),
            )
        )
    return tuple(found)


def _range(values: NDArray[np.float64]) -> float:
    low, high = np.percentile(values, [_LOW, _HIGH])
    return float(high - low)


def findings_of(
    thoughts: Sequence[ThoughtDelivery],
    words: Sequence[SpokenWord],
    edges: Sequence[EdgeCues],
    marked: frozenset[int],
    line_ends: Sequence[tuple[int, int]],
    pitch: PitchTrack,
    level: LevelTrack,
) -> tuple[StretchFinding, ...]:
    """What stands out over longer stretches, in the order of the recording.

    marked: script words before which a shift of any grade, a stop or a line begins. line_ends: first and last
    script word of each verse line; empty in prose.
    """
    found = [
        *_rates(thoughts, words),
        *_flat(thoughts, words),
        *_drops(words, line_ends, level),
        *_tunes(thoughts, pitch),
        *_inside(edges, marked),
    ]
    return tuple(sorted(found, key=lambda f: f.at))


def _long(thoughts: Sequence[ThoughtDelivery], words: Sequence[SpokenWord]) -> list[ThoughtDelivery]:
    """The thoughts long enough to have a rate and a tune of their own."""
    size = {w.i: w.syllables for w in words}
    return [
        t for t in thoughts if sum(size.get(i, 0) for i in range(t.first, t.last + 1)) >= _FEWEST_SYLLABLES
    ]


def _rates(thoughts: Sequence[ThoughtDelivery], words: Sequence[SpokenWord]) -> list[StretchFinding]:
    long = _long(thoughts, words)
    if len(long) < _FEWEST_THOUGHTS:
        return []
    middle = float(np.median([t.rate for t in long]))
    found = []
    for t in long:
        share = t.rate / middle
        if share >= _FASTER or share <= _SLOWER:
            kind: StretchKind = "rushed" if share > 1 else "dragged"
            told = f"{t.rate:.1f} syllables a second; your usual here is {middle:.1f}"
            found.append(StretchFinding(kind, t.first, t.last, t.start, told))
    return found


def _flat(thoughts: Sequence[ThoughtDelivery], words: Sequence[SpokenWord]) -> list[StretchFinding]:
    able = [(t, t.pitch_range) for t in _long(thoughts, words) if t.pitch_range is not None]
    if len(able) < _FEWEST_THOUGHTS:
        return []
    tone = float(np.median([r for _, r in able]))
    loud = float(np.median([t.loudness_range for t, _ in able]))
    return [
        StretchFinding(
            "flat",
            t.first,
            t.last,
            t.start,
            f"pitch moves over {r:.1f} semitones and loudness over {t.loudness_range:.0f} LU; "
            f"your usual here is {tone:.1f} and {loud:.0f}",
        )
        for t, r in able
        if r <= _FLAT_SHARE * tone and t.loudness_range <= loud
    ]


def _drops(
    words: Sequence[SpokenWord], lines: Sequence[tuple[int, int]], level: LevelTrack
) -> list[StretchFinding]:
    """Verse lines whose last word is much softer than the line, beyond what this speaker does anyway."""
    said = {w.i: w for w in words}
    falls = []
    for first, last in lines:
        if last in said and first in said and last > first:
            body = level.lufs(said[first].start, said[last].start)
            falls.append((first, last, body - level.lufs(said[last].start, said[last].end)))
    if len(falls) < _FEWEST_THOUGHTS:
        return []
    usual = float(np.median([fall for _, _, fall in falls]))
    return [
        StretchFinding(
            "line end drops",
            first,
            last,
            said[last].start,
            f"the last word is {fall:.0f} LU softer than its line",
        )
        for first, last, fall in falls
        if fall - max(usual, 0.0) >= _FALL_LU
    ]


def tune_of(thought: ThoughtDelivery, pitch: PitchTrack) -> NDArray[np.float64] | None:
    """The pitch of a thought at equal steps, semitones from its middle; None where flat or unvoiced."""
    low, high = np.searchsorted(pitch.at, (thought.start, thought.end))
    at, tones = pitch.at[low:high], pitch.semitones[low:high]
    voiced = np.isfinite(tones)
    if voiced.sum() < _TUNE_POINTS:
        return None
    steps = np.linspace(at[voiced][0], at[voiced][-1], _TUNE_POINTS)
    tune = np.interp(steps, at[voiced], tones[voiced])
    return tune - np.median(tune) if float(np.ptp(tune)) >= _TUNE_RANGE else None


def _tunes(thoughts: Sequence[ThoughtDelivery], pitch: PitchTrack) -> list[StretchFinding]:
    tunes = [tune_of(t, pitch) for t in thoughts]
    same = [
        a is not None and b is not None and float(np.corrcoef(a, b)[0, 1]) >= _TUNE_ALIKE
        for a, b in pairwise(tunes)
    ]
    found, k = [], 0
    while k < len(same):
        end = k
        while end < len(same) and same[end]:
            end += 1
        if end - k + 1 >= _IN_A_ROW:
            first, last = thoughts[k], thoughts[end]
            told = f"{end - k + 1} thoughts running rise and fall in the same way"
            found.append(StretchFinding("same tune", first.first, last.last, first.start, told))
        k = max(end, k + 1)
    return found


def _inside(edges: Sequence[EdgeCues], marked: frozenset[int]) -> list[StretchFinding]:
    return [
        StretchFinding(
            "pause inside a phrase",
            e.before_word - 1,
            e.before_word,
            e.at - e.pause,
            f"a pause of {e.pause:.1f} s",
        )
        for e in edges
        if e.pause >= _INSIDE_PAUSE and e.before_word not in marked
    ]
