"""Whether sound and picture are in step, where that can be told: a mouth moves when a voice begins.

The loudness of the voice is set against the motion of each part of the picture at every shift of up to a
second. Where one part moves with the voice clearly best at one shift, it is reported. Mostly it cannot
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
_WINDOW, _STRIDE = 12.0, 3.0  # s in which the shift is found by itself, and from one such stretch to the next
_JUMP = 0.16  # s; set by hand: four pictures of 25 a second, twice what a shift found may be off by
_STILL = 1e-6  # standard deviation, of the way from black to white: below it a part does not move at all


def sound_late(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> float | None:
    """By how many seconds the sound comes late (early: negative); None where that cannot be told.

    levels: of the sound, dB, one each `hop` seconds.
    """
    both = _together(film, levels, hop)
    return None if both is None else _late(both[1], both[2], film.step)


def sound_jump(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> tuple[float, float] | None:
    """Where the sound jumps against the picture: s, and by how much it comes later from there on.

    Where sound was cut out or put in while the picture runs on, voice and mouth are in step at another shift
    afterwards. Looked for in windows, so only in films of some length; None where none can be told.
    """
    both = _together(film, levels, hop)
    if both is None:
        return None
    at, voice, parts = both
    width, stride = round(_WINDOW / film.step), round(_STRIDE / film.step)
    told = []
    for k in range(0, len(at) - width + 1, stride):
        late = _late(voice[k : k + width], parts[:, k : k + width], film.step)
        if late is not None:
            told.append((k, late))
    for n, (before, was) in enumerate(told):
        after = next(((k, late) for k, late in told[n + 1 :] if k >= before + width - stride), None)
        if after is not None and abs(after[1] - was) >= _JUMP:
            return float(at[(before + width + after[0]) // 2]), after[1] - was
    return None


_Both = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _together(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> _Both | None:
    """The seconds of each picture, the voice there, the motion of each part (a row of the third); None for a
    film too short."""
    step = film.step
    if step <= 0 or len(film.at) * step < _LEAST_SECONDS or len(levels) * hop < _LEAST_SECONDS:
        return None
    at = np.arange(film.at[0], min(film.at[-1], len(levels) * hop), step)
    voice = _even(np.interp(at, np.arange(len(levels)) * hop, np.maximum(levels, levels.max() - 40)), step)
    return at, voice, np.array([_even(np.interp(at, film.at, part), step) for part in film.motion.T])


def _late(voice: NDArray[np.float64], parts: NDArray[np.float64], step: float) -> float | None:
    """The shift, s, at which one part of the picture moves with the voice clearly best; None without one."""
    reach = round(_FARTHEST / step)
    lags = np.arange(-reach, reach + 1)
    moving = parts[parts.std(axis=1) > _STILL]
    if not len(moving):
        return None
    alike = np.array([_alike(moving, voice, int(lag)).max() for lag in lags])
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


def _alike(parts: NDArray[np.float64], voice: NDArray[np.float64], lag: int) -> NDArray[np.float64]:
    """The correlation of each part's motion with the voice `lag` pictures later."""
    a, b = (parts[:, : len(voice) - lag], voice[lag:]) if lag >= 0 else (parts[:, -lag:], voice[:lag])
    a, b = a - a.mean(axis=1, keepdims=True), b - b.mean()
    size = np.sqrt((a * a).sum(axis=1) * (b @ b))
    alike: NDArray[np.float64] = np.divide(a @ b, size, out=np.zeros(len(parts)), where=size > 0)
    return alike
