"""How loud a voice is over time: K-weighted levels after ITU-R BS.1770, frame by frame.

The standard's two filters (a high shelf for the head, a high pass) are applied as their power response to
the spectrum of each short frame, which is the same as filtering for sound that lasts longer than the frame.
A difference of two such levels is in LU.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

HOP_SECONDS = 0.01  # set by hand: finer than any pause that is reported
_FRAME_SECONDS = 0.032  # set by hand: two periods of the lowest voice
_OFFSET_LUFS = -0.691  # ITU-R BS.1770-5, equation 2
_FLOOR_POWER = 1e-12  # power taken for silence, so that its logarithm is finite
# The background: the frames taken for it and for the voice, how much more of it is taken off, since single
# frames of noise stray by that much, and how far below the voice it must lie; set by hand.
_QUIET_SHARE, _LOUD_SHARE, _OVER, _LEAST_DB = 0.05, 0.9, 1.5, 12.0
# The analogue prototypes of the standard's filters, which it gives as coefficients at 48 kHz: frequency Hz,
# gain dB and quality of the shelf, frequency and quality of the high pass (derived from the standard's
# table 1 and 2 by the bilinear transform; the same values are in several open implementations).
_SHELF_HZ, _SHELF_DB, _SHELF_Q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
_PASS_HZ, _PASS_Q = 38.13547087602444, 0.5003270373238773
_SHELF_EXPONENT = 0.4996667741545416  # how the shelf's middle gain follows from its height


@dataclass(frozen=True, slots=True, eq=False)
class LevelTrack:
    """K-weighted power of a recording. power: one value each `HOP_SECONDS`, shape (n,), full scale 1.0."""

    power: NDArray[np.float64]

    def lufs(self, start: float, end: float) -> float:
        """The level between two times (s), LUFS; -inf where there is no frame."""
        low, high = round(start / HOP_SECONDS), round(end / HOP_SECONDS)
        part = self.power[max(0, low) : max(0, high)]
        if part.size == 0:
            return -math.inf
        return _OFFSET_LUFS + 10 * math.log10(max(_FLOOR_POWER, float(part.mean())))

    def frames(self, start: float, end: float) -> NDArray[np.float64]:
        """The levels of the frames between two times (s), LUFS, shape (n,)."""
        low, high = round(start / HOP_SECONDS), round(end / HOP_SECONDS)
        return _OFFSET_LUFS + 10 * np.log10(np.maximum(_FLOOR_POWER, self.power[max(0, low) : max(0, high)]))

    def above_background(self) -> LevelTrack:
        """The same without the power of a steady background, so that it fills no pause.

        The background is what the quietest frames hold, and never more than a voice's soft sounds have.
        """
        if self.power.size == 0:
            return self
        loud = float(np.quantile(self.power, _LOUD_SHARE))
        quiet = float(np.quantile(self.power, _QUIET_SHARE))
        background = _OVER * min(quiet, loud * 10 ** (-_LEAST_DB / 10))
        return LevelTrack(np.maximum(self.power - background, 0.0))


def level_track(samples: NDArray[np.float32], rate: int, top_hz: float = math.inf) -> LevelTrack:
    """The K-weighted power of `samples` (mono, full scale 1.0, shape (n,)) at `rate` Hz.

    top_hz: what lies above it is left out, so that recordings with and without it can be compared.
    """
    hop, size = round(HOP_SECONDS * rate), round(_FRAME_SECONDS * rate)
    if samples.size < size:
        return LevelTrack(np.zeros(0))
    padded = np.concatenate([np.zeros(size // 2, np.float32), samples, np.zeros(size, np.float32)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[: samples.size : hop]
    window = np.hanning(size)
    weight = k_weighting(np.asarray(np.fft.rfftfreq(size, 1 / rate), np.float64), rate)
    weight[np.fft.rfftfreq(size, 1 / rate) > top_hz] = 0.0
    weight[1:-1] *= 2  # the other half of a real signal's spectrum
    power = np.empty(len(frames))
    for at in range(0, len(frames), 2048):  # in blocks, so that an hour needs no more memory than a minute
        spectrum = np.abs(np.fft.rfft(frames[at : at + 2048] * window, axis=1)) ** 2
        power[at : at + 2048] = (spectrum @ weight) / (size * float((window**2).sum()))
    return LevelTrack(power)


def k_weighting(hz: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    """The power response of the standard's two filters at frequencies `hz`, for a signal at `rate` Hz."""
    z = np.exp(-2j * np.pi * hz / rate)
    k = math.tan(math.pi * _SHELF_HZ / rate)
    high = 10 ** (_SHELF_DB / 20)
    middle = high**_SHELF_EXPONENT
    a = (1 + k / _SHELF_Q + k * k, 2 * (k * k - 1), 1 - k / _SHELF_Q + k * k)
    b = (high + middle * k / _SHELF_Q + k * k, 2 * (k * k - high), high - middle * k / _SHELF_Q + k * k)
    shelf = (b[0] + b[1] * z + b[2] * z * z) / (a[0] + a[1] * z + a[2] * z * z)
    k = math.tan(math.pi * _PASS_HZ / rate)
    a = (1 + k / _PASS_Q + k * k, 2 * (k * k - 1), 1 - k / _PASS_Q + k * k)
    # the standard's numerator, (1, -2, 1), is not divided by the first coefficient as the denominator is
    high_pass = (1 - 2 * z + z * z) / (1 + a[1] / a[0] * z + a[2] / a[0] * z * z)
    return np.asarray(np.abs(shelf * high_pass) ** 2)
