"""The pitch of a voice over time, by SwiftF0, a small published network (MIT licence) run with onnxruntime.

L. Nieradzik, "SwiftF0: Fast and Accurate Monophonic Pitch Detection" (2025). `bench/pitch.py` compared it
with YAAPT (Zahorian & Hu 2008, package `AMFM-decompy`) and Harvest (Morise 2017, package `pyworld`) on tones
and glides, and on people with Praat as the reference; docs/delivery.md has the figures. It calls fewer frames
voiced than the other two, but in those frames it agrees best with Praat. Semitones are those of equal
temperament: 12 times the logarithm to the base 2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

# The range that is searched, from the creak of a low male voice to a high shout. Speaking voices lie between
# about 65 and 400 Hz (Baken & Orlikoff, Clinical Measurement of Speech and Voice, 2nd ed. 2000, from memory).
LOWEST_HZ, HIGHEST_HZ = 60.0, 600.0
# Of the network's own confidence that a frame is voiced, 0 to 1. From here on Praat agrees on 95 % of the
# frames of each reader (bench/pitch.py).
VOICED_FROM = 0.75
_SEMITONES_AN_OCTAVE = 12.0
# The share of a period, on either side of it, in which the exact peak is looked for: less than a semitone;
# set by hand.
_REFINE_SHARE = 0.04
_FEWEST_LAGS = 2  # samples on either side, at least, so that a peak has neighbours
_REFINE_PERIODS = 3.0  # of sound that are compared with later sound; set by hand, the fewest that are steady
_SHORTEST_LAG = 2  # samples: a shorter period cannot be distinguished from noise
_VERTEX = 0.5  # in the formula for the vertex of a parabola through three points at equal steps


@dataclass(frozen=True, slots=True, eq=False)
class PitchTrack:
    """The pitch of a recording in n frames.

    at: the middle of each frame, s, shape (n,). semitones: above 1 Hz, NaN in frames without a voice, shape
    (n,).
    """

    at: NDArray[np.float64]
    semitones: NDArray[np.float64]

    def within(self, start: float, end: float) -> NDArray[np.float64]:
        """The pitch of the voiced frames between two times (s), in semitones above 1 Hz, shape (n,)."""
        low, high = np.searchsorted(self.at, (start, end))
        values = self.semitones[low:high]
        return values[np.isfinite(values)]


def pitch_track(samples: NDArray[np.float32], rate: int) -> PitchTrack:
    """The pitch of `samples` (mono, full scale 1.0, shape (n,)) at `rate` Hz, with a frame every 16 ms."""
    if samples.size == 0:
        return PitchTrack(np.zeros(0), np.zeros(0))
    found = _detector().detect(samples, rate, fmin=LOWEST_HZ, fmax=HIGHEST_HZ)
    voiced = found.confidence >= VOICED_FROM
    with np.errstate(divide="ignore", invalid="ignore"):
        semitones = np.where(voiced, _SEMITONES_AN_OCTAVE * np.log2(found.pitch_hz), np.nan)
    semitones = _refined(np.asarray(samples, np.float64), rate, found.timestamps, _without_jumps(semitones))
    return PitchTrack(found.timestamps, semitones)


def _without_jumps(semitones: NDArray[np.float64]) -> NDArray[np.float64]:
    """The track without single frames that are wrong by an octave: each voiced value is a median of three."""
    out = semitones.copy()
    for k in range(1, len(semitones) - 1):
        three = semitones[k - 1 : k + 2]
        if np.isfinite(three).all():
            out[k] = np.median(three)
    return out


def _refined(
    samples: NDArray[np.float64], rate: int, at: NDArray[np.float64], semitones: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The track with each voiced frame moved to the nearest peak of the sound's autocorrelation.

    The network only gives its answers in steps. The peak, found between samples with a parabola, is exact to
    a cent or two.
    """
    out = semitones.copy()
    for k in np.flatnonzero(np.isfinite(semitones)):
        period = rate / 2 ** (semitones[k] / _SEMITONES_AN_OCTAVE)
        reach = max(_FEWEST_LAGS, math.ceil(period * _REFINE_SHARE))
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
        lag = lags[top] + (_VERTEX * (left - right) / bend if bend < 0 else 0.0)
        out[k] = _SEMITONES_AN_OCTAVE * math.log2(rate / lag)
    return out


@lru_cache(maxsize=1)
def _detector() -> Any:
    """The network, loaded once."""
    from swift_f0 import SwiftF0

    return SwiftF0(threads=1, spin=False)
