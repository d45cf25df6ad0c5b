"""The room, heard in the voice itself: how fast the sound dies away after a word.

Without a measuring signal the reverberation time can be read from free decays of speech (Ratnam et al.,
"Blind estimation of reverberation time", JASA 114(5), 2003, from memory): a voice stops at its own pace,
in a dry room mostly faster than the room, in an echoing one never faster. So the fastest decays of a
recording say how long the room rings. On six readings the tenth percentile lies between 0.16 and 0.22 s
as recorded (to 0.25 s with noise 20 dB down) and between 0.34 and 0.44 s in a room of RT60 0.6 s.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import Samples
from offbook.sampling import SAMPLE_RATE

STEP = SAMPLE_RATE // 100  # 10 ms
_DROP = 12.0  # dB: a shorter fall says little
_STEPS = 8  # a fall of fewer steps is a stop consonant, not a decay
_LOUD = 15.0  # dB below the voice's loud end: decays that start lower fall into the noise at once
_ENOUGH = 6
_FASTEST = 10.0  # percentile
_SEARCH_FROM = 200  # levels gathered before an echo can be looked for; set by hand


class DecayMeter:
    """Fed one channel at `SAMPLE_RATE`; knows how long the sound takes to die away by 60 dB."""

    def __init__(self) -> None:
        self._rest: Samples = np.zeros(0, dtype=np.float32)
        self._levels: NDArray[np.float64] = np.zeros(0)
        self._found: list[tuple[float, float]] = []  # level a decay starts at, dB; its time for 60 dB, s

    def feed(self, mono: Samples) -> None:
        """The next samples, any number of them."""
        data = np.concatenate([self._rest, mono])
        whole = len(data) // STEP
        parts = data[: whole * STEP].reshape(-1, STEP)
        self._rest = data[whole * STEP :]
        power = np.einsum("fn,fn->f", parts, parts).astype(np.float64) / STEP
        levels = 10 * np.log10(np.maximum(power, 1e-10))
        self._levels = np.concatenate([self._levels, levels])
        if len(self._levels) > _SEARCH_FROM:
            self._search()

    def _search(self) -> None:
        """Take the falls out of the levels; what may go on falling is kept for the next block."""
        smooth = np.convolve(self._levels, np.ones(3) / 3, "valid")
        rises = np.flatnonzero(np.diff(smooth) >= 0)
        if len(rises) == 0:
            return
        edges = np.concatenate([[-1], rises])
        for start, end in zip(edges[:-1] + 1, edges[1:], strict=True):
            fall = smooth[start : end + 1]
            if len(fall) > _STEPS and fall[0] - fall[-1] >= _DROP:
                inner = fall[1:-1]
                slope = float(np.polyfit(np.arange(len(inner)), inner, 1)[0])  # dB a step
                self._found.append((float(fall[0]), -60 / slope * STEP / SAMPLE_RATE))
        self._levels = self._levels[rises[-1] + 1 :]

    def seconds(self, loud: float) -> float | None:
        """Time to die away by 60 dB, s; None where too few decays were heard.

        loud: level of the voice's loud frames, dBFS.
        """
        times = [time for level, time in self._found if level > loud - _LOUD]
        return float(np.percentile(times, _FASTEST)) if len(times) >= _ENOUGH else None
