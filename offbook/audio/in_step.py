"""Whether sound and picture are in step, where that can be told: a mouth moves when a voice begins.

The loudness of the voice is set against the motion of each part of the picture at every shift of up to a
second. Where one part moves with the voice clearly best at one shift, that shift is told. Mostly it cannot
be told: a small face, a still one, hands that move to other words.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from offbook.audio.watching import WatchedFilm

# ITU-R BT.1359-1: acceptable are 90 ms of sound early to 185 ms late; from memory.
EARLIEST, LATEST = -0.09, 0.185  # s
_FARTHEST = 1.0  # s
_LEAST_SECONDS = 8.0
_LEAST_ALIKE = 0.35  # correlation; set by hand on films made by bench/unbroken.py
_CLEARLY = 1.5  # times the best one farther off
_APART = 0.25  # s
_SMOOTH = 0.08  # s
_STILL = 1e-6  # of the way from black to white
_STILL = 1e-6  # standard deviation, full scale 1: below it a part is silence and is like nothing


def sound_late(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> float | None:
    """By how many seconds the sound comes late (early: negative); None where that cannot be told.

    levels: of the sound, dB, one each `hop` seconds.
    """
    step = film.step
    if step <= 0 or len(film.at) * step < _LEAST_SECONDS or len(levels) * hop < _LEAST_SECONDS:
        return None
    at = np.arange(film.at[0], min(film.at[-1], len(levels) * hop), step)
    voice = _even(np.interp(at, np.arange(len(levels)) * hop, np.maximum(levels, levels.max() - 40)), step)
    parts = [_even(np.interp(at, film.at, part), step) for part in film.motion.T]
    reach = round(_FARTHEST / step)
    lags = np.arange(-reach, reach + 1)
    alike = np.max(
        [[_alike(part, voice, int(lag)) for lag in lags] for part in parts if part.std() > _STILL] or [[0.0]],
        axis=0,
    )
    if len(alike) != len(lags):
        return None
    top = int(np.argmax(alike))
    far = np.abs(lags - lags[top]) * step >= _APART
    if alike[top] < _LEAST_ALIKE or alike[top] < _CLEARLY * max(0.0, float(alike[far].max())):
        return None
    return float(lags[top] * step)


def _even(values: NDArray[np.float64], step: float) -> NDArray[np.float64]:
    """Smoothed over a syllable's rise, without its middle and its slow changes."""
    width = max(1, round(_SMOOTH / step))
    smooth = np.convolve(values, np.ones(width) / width, "same")
    slow = max(3, round(1.0 / step))
    kernel = np.ones(slow) / slow
    weight = np.convolve(np.ones(len(values)), kernel, "same")
    return np.asarray(smooth - np.convolve(smooth, kernel, "same") / weight)


def _alike(part: NDArray[np.float64], voice: NDArray[np.float64], lag: int) -> float:
    """The correlation of motion with the voice `lag` pictures later."""
    a, b = (part[: len(part) - lag], voice[lag:]) if lag >= 0 else (part[-lag:], voice[:lag])
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 else 0.0
