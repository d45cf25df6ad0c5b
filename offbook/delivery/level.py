"""How loud a voice is over time: K-weighted levels after ITU-R BS.1770, frame by frame.

The standard has two filters, a high shelf for the effect of the head and a high pass. Here the spectrum of
each short frame is multiplied by their power response, which gives the same for sound that lasts longer than
a frame. The difference of two such levels is in LU.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from offbook.sampling import POWER_DB, amplitude_ratio, power_ratio

HOP_SECONDS = 0.01  # from one frame to the next; set by hand, finer than any pause that is reported
_FRAME_SECONDS = 0.032  # set by hand: two periods of the lowest voice
_OFFSET_LUFS = -0.691  # ITU-R BS.1770-5, equation 2
_FLOOR_POWER = 1e-12  # the power that silence counts as, so that it has a logarithm
# The background, all set by hand. Its power is that of the frame below which the quiet share of all frames
# lies; the voice's power is found with the loud share. More than the background's power is removed, because
# single frames of noise are louder than its mean by so many times. What is removed is never louder than so
# many dB below the voice, so that soft sounds of the voice stay.
_QUIET_SHARE, _LOUD_SHARE, _REMOVED_TIMES, _BELOW_VOICE_DB = 0.05, 0.9, 1.5, 12.0
# The standard gives its filters as coefficients at 48 kHz. These are the analogue filters behind them,
# derived from its tables 1 and 2 by the bilinear transform (several open implementations have the same
# values): frequency in Hz, gain in dB and quality of the shelf; frequency and quality of the high pass.
_SHELF_HZ, _SHELF_DB, _SHELF_Q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
_PASS_HZ, _PASS_Q = 38.13547087602444, 0.5003270373238773
_SHELF_EXPONENT = 0.4996667741545416  # the power of the shelf's gain that is the gain in its middle
# Frames whose spectra are in memory at once, so that an hour needs no more than a minute; set by hand.
_BLOCK = 2048


@dataclass(frozen=True, slots=True, eq=False)
class LevelTrack:
    """The K-weighted power of a recording: one value every `HOP_SECONDS`, shape (n,), full scale 1.0."""

    power: NDArray[np.float64]

    def lufs(self, start: float, end: float) -> float:
        """The level between two times (s), LUFS; -inf if there is no frame."""
        low, high = round(start / HOP_SECONDS), round(end / HOP_SECONDS)
        part = self.power[max(0, low) : max(0, high)]
        if part.size == 0:
            return -math.inf
        return _OFFSET_LUFS + POWER_DB * math.log10(max(_FLOOR_POWER, float(part.mean())))

    def frames(self, start: float, end: float) -> NDArray[np.float64]:
        """The levels of the frames between two times (s), LUFS, shape (n,)."""
        low, high = round(start / HOP_SECONDS), round(end / HOP_SECONDS)
        part = self.power[max(0, low) : max(0, high)]
        return _OFFSET_LUFS + POWER_DB * np.log10(np.maximum(_FLOOR_POWER, part))

    def above_background(self) -> LevelTrack:
        """The same track without the power of a steady background, so that pauses are quiet.

        The background is what the quietest frames have, but never so much that soft sounds of the voice go.
        """
        if self.power.size == 0:
            return self
        loud = float(np.quantile(self.power, _LOUD_SHARE))
        quiet = float(np.quantile(self.power, _QUIET_SHARE))
        background = _REMOVED_TIMES * min(quiet, loud * power_ratio(-_BELOW_VOICE_DB))
        return LevelTrack(np.maximum(self.power - background, 0.0))


def level_track(samples: NDArray[np.float32], rate: int, top_hz: float = math.inf) -> LevelTrack:
    """The K-weighted power of `samples` (mono, full scale 1.0, shape (n,)) at `rate` Hz.

    top_hz: higher frequencies are left out, so that recordings with and without them can be compared.
    """
    hop, size = round(HOP_SECONDS * rate), round(_FRAME_SECONDS * rate)
    if samples.size < size:
        return LevelTrack(np.zeros(0))
    padded = np.concatenate([np.zeros(size // 2, np.float32), samples, np.zeros(size, np.float32)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[: samples.size : hop]
    window = np.hanning(size)
    weight = k_weighting(np.asarray(np.fft.rfftfreq(size, 1 / rate), np.float64), rate)
    weight[np.fft.rfftfreq(size, 1 / rate) > top_hz] = 0.0
    weight[1:-1] *= 2  # for the negative frequencies, which `rfft` leaves out
    power = np.empty(len(frames))
    for at in range(0, len(frames), _BLOCK):
        spectrum = np.abs(np.fft.rfft(frames[at : at + _BLOCK] * window, axis=1)) ** 2
        power[at : at + _BLOCK] = (spectrum @ weight) / (size * float((window**2).sum()))
    return LevelTrack(power)


def k_weighting(hz: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    """The power response of the standard's two filters at the frequencies `hz`, for a signal at `rate` Hz.

    It has the shape of `hz`.
    """
    z = np.exp(-2j * np.pi * hz / rate)
    k = math.tan(math.pi * _SHELF_HZ / rate)
    high = amplitude_ratio(_SHELF_DB)
    middle = high**_SHELF_EXPONENT
    a = (1 + k / _SHELF_Q + k * k, 2 * (k * k - 1), 1 - k / _SHELF_Q + k * k)
    b = (high + middle * k / _SHELF_Q + k * k, 2 * (k * k - high), high - middle * k / _SHELF_Q + k * k)
    shelf = (b[0] + b[1] * z + b[2] * z * z) / (a[0] + a[1] * z + a[2] * z * z)
    k = math.tan(math.pi * _PASS_HZ / rate)
    a = (1 + k / _PASS_Q + k * k, 2 * (k * k - 1), 1 - k / _PASS_Q + k * k)
    # In the standard, only the denominator is divided by its first coefficient; the numerator is (1, -2, 1).
    high_pass = (1 - 2 * z + z * z) / (1 + a[1] / a[0] * z + a[2] / a[0] * z * z)
    return np.asarray(np.abs(shelf * high_pass) ** 2)
