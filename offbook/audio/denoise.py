"""Taking a steady background out of the voice, for the recogniser only.

A Wiener gain for each frequency: what lies at the level of the background is turned down, what is
over it is left (power spectral subtraction, Berouti, Schwartz & Makhoul, ICASSP 1979, from memory, with
a floor against "musical" noise). The background is the quiet end of the whole recording, measured by
`survey`, so nothing is guessed while the sound streams by. Used only where the room or the background is
heard to need it; figures in `docs/sound.md`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import Samples

SIZE, HOP = 512, 128  # samples: 32 ms windows, 8 ms apart
FLOOR = 0.15  # amplitude left of what is all background
_SMOOTH = 0.6  # of the level a moment ago, against gains that flutter
_QUIET_SHARE = 0.2  # of the frames hold the background alone
_BIAS = 1.6  # from the 20th percentile of a noise's power to its mean: 1 / -ln(0.8) would be 4.5 for
#              single frames, less where the background itself sways; 1.6 as measured
_BINS = 160  # 1 dB each, from -120 dB
_EDGE = SIZE - HOP


class Background:
    """How loud each frequency is in the quiet moments; fed power spectra of 257 bins."""

    def __init__(self) -> None:
        self._counts: NDArray[np.int64] = np.zeros(257 * _BINS, dtype=np.int64)
        self._rows = np.arange(257) * _BINS

    def feed(self, power: NDArray[np.float64]) -> None:
        """power: (frames, 257)."""
        level = 10 * np.log10(np.maximum(power, 1e-12)) + 120
        at = np.clip(level, 0, _BINS - 1).astype(np.int64) + self._rows
        self._counts += np.bincount(at.ravel(), minlength=len(self._counts))

    def power(self) -> tuple[float, ...]:
        """Power of the background in each bin."""
        sums = np.cumsum(self._counts.reshape(257, _BINS), axis=1)
        at = np.argmax(sums >= _QUIET_SHARE * sums[:, -1:], axis=1)
        return tuple(float(p) for p in _BIAS * 10 ** ((at + 0.5 - 120) / 10))


class Cleaner:
    """One channel in, the same number of samples out; what `feed` holds back, `flush` gives.

    background: power in each of the 257 bins of a `SIZE`-sample window of power `SIZE` / 2.
    """

    def __init__(self, background: tuple[float, ...]) -> None:
        self._noise = np.asarray(background)
        self._window = np.sqrt(np.hanning(SIZE + 1)[:-1])
        self._held = np.zeros(_EDGE)
        self._tail = np.zeros(_EDGE)
        self._level: NDArray[np.float64] | None = None
        self._skip = _EDGE

    def feed(self, mono: Samples) -> Samples:
        """The next samples, any number; as many come back sooner or later."""
        self._held = np.concatenate([self._held, mono])
        count = (len(self._held) - _EDGE) // HOP
        if count <= 0:
            return np.zeros(0, dtype=np.float32)
        windows = np.lib.stride_tricks.sliding_window_view(self._held, SIZE)[::HOP][:count]
        spectra = np.fft.rfft(windows * self._window, axis=1)
        waves = np.fft.irfft(spectra * self._gains(np.abs(spectra) ** 2), axis=1) * (self._window / 2)
        out = np.zeros(count * HOP + _EDGE)
        out[:_EDGE] = self._tail
        for quarter in range(SIZE // HOP):
            part = waves[:, quarter * HOP : (quarter + 1) * HOP].ravel()
            out[quarter * HOP : quarter * HOP + len(part)] += part
        self._held, self._tail = self._held[count * HOP :], out[count * HOP :]
        done = out[: count * HOP]
        skipped = min(self._skip, len(done))
        self._skip -= skipped
        return done[skipped:].astype(np.float32)

    def _gains(self, power: NDArray[np.float64]) -> NDArray[np.float64]:
        smooth = np.empty_like(power)
        level = power[0] if self._level is None else self._level
        for n, now in enumerate(power):
            level = _SMOOTH * level + (1 - _SMOOTH) * now
            smooth[n] = level
        self._level = level
        gains = np.maximum(1 - self._noise / np.maximum(smooth, 1e-12), FLOOR**2)
        return np.asarray(np.sqrt(gains))

    def flush(self) -> Samples:
        """What is still inside, after the last `feed`."""
        rest = len(self._held) - self._skip
        out = self.feed(np.zeros(SIZE + _EDGE, dtype=np.float32))
        return out[:rest]
