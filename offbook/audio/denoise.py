"""Removes a steady background from the voice, only for the recogniser.

A Wiener gain for each frequency: what is as loud as the background is turned down, and what is louder is left
(power spectral subtraction, Berouti, Schwartz & Makhoul, ICASSP 1979, from memory, with a floor against
"musical" noise). The background is what the whole recording has in its quiet moments. `survey` measures it
beforehand, so that nothing has to be guessed while the sound streams through. It is only used if the room or
the background make it necessary; docs/sound.md has the figures.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import Samples
from offbook.sampling import COMMON_BASE, POWER_DB

SIZE, HOP = 512, 128  # samples: windows of 32 ms, 8 ms apart; set by hand, usual for speech
FLOOR = 0.15  # the amplitude that is left where there is nothing but background; set by hand
_SMOOTH = 0.6  # the share of the level 8 ms ago in the present one, against gains that flutter; set by hand
_QUIET_SHARE = 0.2  # of the frames hold nothing but the background; set by hand
# From the 20th percentile of a noise's power to its mean, as measured. For single frames of an even noise it
# would be 1 / -ln(0.8), which is 4.5; it is less where the background itself rises and falls.
_BIAS = 1.6
_FREQUENCIES = SIZE // 2 + 1  # of the Fourier transform of a window: 257
_BINS = 160  # of the histogram of levels, 1 dB each
_MIDDLE = 0.5  # of a bin
_LOWEST_DB = 120  # below a power of 1: where the first bin begins
_NO_POWER = 1e-12  # the power that silence counts as: that of the first bin
_EDGE = SIZE - HOP


class Background:
    """Measures how loud each frequency is in quiet moments."""

    def __init__(self) -> None:
        self._counts: NDArray[np.int64] = np.zeros(_FREQUENCIES * _BINS, dtype=np.int64)
        self._rows = np.arange(_FREQUENCIES) * _BINS

    def feed(self, power: NDArray[np.float64]) -> None:
        """Take in power spectra, shape (frames, 257)."""
        level = POWER_DB * np.log10(np.maximum(power, _NO_POWER)) + _LOWEST_DB
        at = np.clip(level, 0, _BINS - 1).astype(np.int64) + self._rows
        self._counts += np.bincount(at.ravel(), minlength=len(self._counts))

    def power(self) -> tuple[float, ...]:
        """The power of the background at each of the 257 frequencies."""
        sums = np.cumsum(self._counts.reshape(_FREQUENCIES, _BINS), axis=1)
        at = np.argmax(sums >= _QUIET_SHARE * sums[:, -1:], axis=1)
        return tuple(float(p) for p in _BIAS * COMMON_BASE ** ((at + _MIDDLE - _LOWEST_DB) / POWER_DB))


class Cleaner:
    """Takes in one channel at `SAMPLE_RATE` and returns it without the background.

    `feed` and `flush` together return as many samples as were taken in. background: the power at each of the
    257 frequencies, in a window of `SIZE` samples whose own power is `SIZE` / 2.
    """

    def __init__(self, background: tuple[float, ...]) -> None:
        self._noise = np.asarray(background)
        self._window = np.sqrt(np.hanning(SIZE + 1)[:-1])
        self._held = np.zeros(_EDGE)
        self._tail = np.zeros(_EDGE)
        self._level: NDArray[np.float64] | None = None
        self._skip = _EDGE

    def feed(self, mono: Samples) -> Samples:
        """Take in the next samples, shape (n,), and return those that are ready."""
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
        """The gain for each frame and frequency; it and the power spectra have the shape (frames, 257)."""
        smooth = np.empty_like(power)
        level = power[0] if self._level is None else self._level
        for n, now in enumerate(power):
            level = _SMOOTH * level + (1 - _SMOOTH) * now
            smooth[n] = level
        self._level = level
        gains = np.maximum(1 - self._noise / np.maximum(smooth, _NO_POWER), FLOOR**2)
        return np.asarray(np.sqrt(gains))

    def flush(self) -> Samples:
        """Return the samples that are still held back, after the last `feed`."""
        rest = len(self._held) - self._skip
        out = self.feed(np.zeros(SIZE + _EDGE, dtype=np.float32))
        return out[:rest]
