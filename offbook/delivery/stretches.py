"""What stands out over longer stretches: rushed, dragged and flat thoughts, line ends that drop, repeated
tunes.

Every value is compared with the other thoughts of the same speaker in the same recording. With fewer than
four thoughts nothing is compared, because there is nothing usual to compare with.
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

# All set by hand, so that a reading by an experienced narrator has few of these findings.
_FEWEST_THOUGHTS = 4  # or verse lines, without which nothing is compared
_FEWEST_SYLLABLES = 6  # of a thought whose rate or range is compared
_FASTER, _SLOWER = 1.3, 0.7  # times the speaker's own median rate
_FLAT_SHARE = 0.5  # of the speaker's own median range of pitch
_FALL_LU = 6.0  # by which the last word of a line is softer than the line, more than is usual for the speaker
_TUNE_POINTS = 12  # of a tune; also the fewest voiced frames of a thought that has one
_TUNE_ALIKE = 0.9  # the correlation from which two tunes are the same
_TUNE_RANGE = 3.0  # semitones: flatter tunes have no shape to repeat
_IN_A_ROW = 3  # thoughts with the same tune
_INSIDE_PAUSE = 0.4  # s
_LOW, _HIGH = 10, 90  # percentiles of pitch or loudness that are the ends of its range


@dataclass(frozen=True, slots=True)
class ThoughtDelivery:
    """How one thought was said. first, last: its script words. start, end: s from the beginning.

    rate: syllables a second without the pauses. pitch_range (semitones) and loudness_range (LU): from the
    10th to the 90th percentile; the first is None if too little was voiced. level: LUFS.
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
    """Something over a stretch that is worth a listen.

    first, last: script words. at: where it begins, s. told: what was measured, in words.
    """

    kind: StretchKind
    first: int
    last: int
    at: float
    told: str


def thought_deliveries(
    words: Sequence[SpokenWord], bounds: Sequence[tuple[int, int]], pitch: PitchTrack, level: LevelTrack
) -> tuple[ThoughtDelivery, ...]:
    """How each thought was said; thoughts of which nothing was heard are left out.

    bounds: the first and the last script word of each thought.
    """
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
    """From the 10th to the 90th percentile, in the unit of `values`."""
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

    marked: script words before which there is a shift of any grade, a stop or the beginning of a line.
    line_ends: the first and the last script word of each verse line; empty in prose.
    """
    found = [
        *_rushed_or_dragged(thoughts, words),
        *_flat_thoughts(thoughts, words),
        *_dropped_line_ends(words, line_ends, level),
        *_repeated_tunes(thoughts, pitch),
        *_pauses_inside_phrases(edges, marked),
    ]
    return tuple(sorted(found, key=lambda f: f.at))


def _long_thoughts(thoughts: Sequence[ThoughtDelivery], words: Sequence[SpokenWord]) -> list[ThoughtDelivery]:
    """The thoughts that are long enough to have a rate and a range of their own."""
    size = {w.i: w.syllables for w in words}
    return [
        t for t in thoughts if sum(size.get(i, 0) for i in range(t.first, t.last + 1)) >= _FEWEST_SYLLABLES
    ]


def _rushed_or_dragged(
    thoughts: Sequence[ThoughtDelivery], words: Sequence[SpokenWord]
) -> list[StretchFinding]:
    """Thoughts that are much faster or slower than the speaker's own median."""
    long = _long_thoughts(thoughts, words)
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


def _flat_thoughts(thoughts: Sequence[ThoughtDelivery], words: Sequence[SpokenWord]) -> list[StretchFinding]:
    """Thoughts with half the usual range of pitch, and no more than the usual range of loudness."""
    measured = [(t, t.pitch_range) for t in _long_thoughts(thoughts, words) if t.pitch_range is not None]
    if len(measured) < _FEWEST_THOUGHTS:
        return []
    tone = float(np.median([r for _, r in measured]))
    loud = float(np.median([t.loudness_range for t, _ in measured]))
    return [
        StretchFinding(
            "flat",
            t.first,
            t.last,
            t.start,
            f"pitch moves over {r:.1f} semitones and loudness over {t.loudness_range:.0f} LU; "
            f"your usual here is {tone:.1f} and {loud:.0f}",
        )
        for t, r in measured
        if r <= _FLAT_SHARE * tone and t.loudness_range <= loud
    ]


def _dropped_line_ends(
    words: Sequence[SpokenWord], lines: Sequence[tuple[int, int]], level: LevelTrack
) -> list[StretchFinding]:
    """Verse lines whose last word is much softer than the line, more than is usual for this speaker."""
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
    """The pitch of a thought at equal steps, in semitones from its median, shape (12,).

    None if it hardly moves, or if too little of the thought is voiced.
    """
    low, high = np.searchsorted(pitch.at, (thought.start, thought.end))
    at, tones = pitch.at[low:high], pitch.semitones[low:high]
    voiced = np.isfinite(tones)
    if voiced.sum() < _TUNE_POINTS:
        return None
    steps = np.linspace(at[voiced][0], at[voiced][-1], _TUNE_POINTS)
    tune = np.interp(steps, at[voiced], tones[voiced])
    return tune - np.median(tune) if float(np.ptp(tune)) >= _TUNE_RANGE else None


def _repeated_tunes(thoughts: Sequence[ThoughtDelivery], pitch: PitchTrack) -> list[StretchFinding]:
    """Three or more thoughts in a row with the same tune."""
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


def _pauses_inside_phrases(edges: Sequence[EdgeCues], marked: frozenset[int]) -> list[StretchFinding]:
    """Pauses where the script has neither a mark nor a stop nor the end of a line."""
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
