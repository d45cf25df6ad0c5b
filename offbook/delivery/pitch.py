"""The pitch of a voice over time, by SwiftF0, a small published network (MIT licence) run with onnxruntime.

L. Nieradzik, "SwiftF0: Fast and Accurate Monophonic Pitch Detection" (2025). It was measured beside YAAPT
(Zahorian & Hu 2008, package `AMFM-decompy`) and Harvest (Morise 2017, package `pyworld`) on tones and glides
and, with Praat as the judge, on people: `bench/pitch.py`, figures in docs/delivery.md. It calls fewer frames
voiced than they do, and those it calls voiced agree with Praat best. Semitones are those of equal
temperament: 12 times the logarithm to the base of 2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Range searched, Hz: from a low male creak to a high shout. Baken & Orlikoff, Clinical Measurement of
# Speech and Voice (2nd ed. 2000), from memory: speaking voices lie between about 65 and 400 Hz.
LOWEST_HZ, HIGHEST_HZ = 60.0, 600.0
# Of the network's own measure of voicing; from here on Praat agrees on 95 % of the frames of each reader.
VOICED_FROM = 0.75
_SEMITONES_AN_OCTAVE = 12.0
_REFINE_SHARE = (
    0.04  # of a period, to either side, searched for the exact peak: under a semitone; set by hand
)
_REFINE_PERIODS = 3.0  # length of the sound compared with itself; set by hand, the fewest that are steady
_SHORTEST_LAG = 2  # samples: a shorter period is above what can be told from noise


@dataclass(frozen=True, slots=True, eq=False)
class PitchTrack:
    """The pitch of a recording, one value a frame.

    at: s, the middle of each frame, shape (n,). semitones: above 1 Hz, NaN where no voice is, shape (n,).
    """

    at: NDArray[np.float64]
    semitones: NDArray[np.float64]

    def within(self, start: float, end: float) -> NDArray[np.float64]:
        """The voiced values, semitones above 1 Hz, of the frames between two times (s)."""
        low, high = np.searchsorted(self.at, (start, end))
        values = self.semitones[low:high]
        return values[np.isfinite(values)]


def pitch_track(samples: NDArray[np.float32], rate: int) -> PitchTrack:
    """The pitch of `samples` (mono, full scale 1.0, shape (n,)) at `rate` Hz; one frame every 16 ms."""
    if samples.size == 0:
        return PitchTrack(np.zeros(0), np.zeros(0))
    found = _detector().detect(samples, rate, fmin=LOWEST_HZ, fmax=HIGHEST_HZ)
    voiced = found.confidence >= VOICED_FROM
    with np.errstate(divide="ignore", invalid="ignore"):
        semitones = np.where(voiced, _SEMITONES_AN_OCTAVE * np.log2(found.pitch_hz), np.nan)
    semitones = _refined(np.asarray(samples, np.float64), rate, found.timestamps, _without_jumps(semitones))
    return PitchTrack(found.timestamps, semitones)


def _without_jumps(semitones: NDArray[np.float64]) -> NDArray[np.float64]:
    """The track without single frames an octave off: each voiced value is the median of three."""
    out = semitones.copy()
    for k in range(1, len(semitones) - 1):
        three = semitones[k - 1 : k + 2]
        if np.isfinite(three).all():
            out[k] = np.median(three)
    return out


def _refined(
    samples: NDArray[np.float64], rate: int, at: NDArray[np.float64], semitones: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The track with each voiced frame moved to the nearest peak of the sound's correlation with itself.

    The network answers in steps; the peak, between samples by a parabola, is exact to a cent or two.
    """
    out = semitones.copy()
    for k in np.flatnonzero(np.isfinite(semitones)):
        period = rate / 2 ** (semitones[k] / _SEMITONES_AN_OCTAVE)
        reach = max(2, math.ceil(period * _REFINE_SHARE))
        lags = np.arange(round(period) - reach, round(period) + reach + 1)
        size = round(_REFINE_PERIODS * period)
        begin = round(at[k] * rate) - (size + lags[-1]) // 2
        if lags[0] < _SHORTEST_LAG or begin < 0 or begin + size + lags[-1] > samples.size:
            continue
        one = samples[begin : begin + size]
        others = np.lib.stride_tricks.sliding_window_view(
            samples[begin + lags[0] : begin + lags[-1] + size], size
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            alike = (others @ one) / np.sqrt((one @ one) * np.einsum("ij,ij->i", others, others))
        top = int(np.argmax(alike))
        if not 0 < top < len(alike) - 1 or not np.isfinite(alike[top - 1 : top + 2]).all():
            continue
        left, peak, right = alike[top - 1 : top + 2]
        bend = left - 2 * peak + right
        lag = lags[top] + (0.5 * (left - right) / bend if bend < 0 else 0.0)
        out[k] = _SEMITONES_AN_OCTAVE * math.log2(rate / lag)
    return out


@lru_cache(maxsize=1)
def _detector() -> Any:
    from swift_f0 import SwiftF0

    return SwiftF0(threads=1, spin=False)
