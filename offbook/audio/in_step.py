"""Whether sound and picture are in step: a mouth moves when a voice begins.

The loudness of the voice is compared with the motion of each part of the picture, at every shift of up to a
second either way. If one part moves with the voice clearly best at one of these shifts, that shift is
reported. Mostly it cannot be found: the face is small or hardly moves, or hands move at other moments.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from offbook.audio.watching import WatchedFilm

# s by which the sound may come late (negative: early) and still be acceptable (ITU-R BT.1359-1, from memory).
EARLIEST, LATEST = -0.09, 0.185
# The rest is set by hand; `_LEAST_ALIKE` on films made by bench/unbroken.py.
_FARTHEST = 1.0  # s: the largest shift that is tried
_LEAST_SECONDS = 8.0  # of sound and picture, without which nothing is found
_LEAST_ALIKE = 0.35  # the correlation at the best shift
_CLEARLY = 1.5  # times the best correlation at other shifts, which are at least so far away:
_APART = 0.25  # s
_SMOOTH = 0.08  # s, about the rise of a syllable: quicker changes are smoothed away
_SLOW = 1.0  # s over which a mean is taken and removed, so that slower changes do not count
_FEWEST_SLOW = 3  # pictures for that mean, in films with few pictures a second
_RANGE_DB = 40  # below the loudest: softer sound counts as silence
_WINDOW, _STRIDE = 12.0, 3.0  # s in which one shift is looked for, and from one such window to the next
_JUMP = 0.16  # s: four pictures of 25 a second, twice the error of a shift that was found
_STILL = 1e-6  # of the way from black to white: a part of the picture that changes less does not move at all


def sound_late(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> float | None:
    """By how many seconds the sound comes late (negative: early); None if that cannot be found.

    levels: of the sound, dB, one every `hop` seconds, shape (n,).
    """
    both = _at_same_times(film, levels, hop)
    return None if both is None else _best_shift(both[1], both[2], film.step)


def sound_jump(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> tuple[float, float] | None:
    """Where the sound jumps against the picture (s), and by how many seconds it is later after that.

    If sound was cut out or put in while the picture ran on, voice and mouth are in step at another shift
    after that. The shifts are looked for in windows of 12 s, so a short film has none. None if no jump can be
    found.

    levels: of the sound, dB, one every `hop` seconds, shape (n,).
    """
    both = _at_same_times(film, levels, hop)
    if both is None:
        return None
    at, voice, parts = both
    width, stride = round(_WINDOW / film.step), round(_STRIDE / film.step)
    shifts = []
    for k in range(0, len(at) - width + 1, stride):
        late = _best_shift(voice[k : k + width], parts[:, k : k + width], film.step)
        if late is not None:
            shifts.append((k, late))
    for n, (before, was) in enumerate(shifts):
        after = next(((k, late) for k, late in shifts[n + 1 :] if k >= before + width - stride), None)
        if after is not None and abs(after[1] - was) >= _JUMP:
            return float(at[(before + width + after[0]) // 2]), after[1] - was
    return None


_Both = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _at_same_times(film: WatchedFilm, levels: NDArray[np.float64], hop: float) -> _Both | None:
    """Sound and picture at the same times; None if one of them is too short.

    The times, s, shape (n,); the voice, shape (n,); the motion of each part of the picture, shape (parts, n).
    """
    step = film.step
    if step <= 0 or len(film.at) * step < _LEAST_SECONDS or len(levels) * hop < _LEAST_SECONDS:
        return None
    at = np.arange(film.at[0], min(film.at[-1], len(levels) * hop), step)
    heard = np.maximum(levels, levels.max() - _RANGE_DB)
    voice = _changes_only(np.interp(at, np.arange(len(levels)) * hop, heard), step)
    return at, voice, np.array([_changes_only(np.interp(at, film.at, part), step) for part in film.motion.T])


def _best_shift(voice: NDArray[np.float64], parts: NDArray[np.float64], step: float) -> float | None:
    """The shift (s) at which one part of the picture moves clearly best with the voice; None if none is."""
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


def _changes_only(values: NDArray[np.float64], step: float) -> NDArray[np.float64]:
    """The values smoothed over `_SMOOTH`, without their mean over `_SLOW`: only how they change is left."""
    width = max(1, round(_SMOOTH / step))
    smooth = np.convolve(values, np.ones(width) / width, "same")
    slow = max(_FEWEST_SLOW, round(_SLOW / step))
    kernel = np.ones(slow) / slow
    weight = np.convolve(np.ones(len(values)), kernel, "same")
    return np.asarray(smooth - np.convolve(smooth, kernel, "same") / weight)


def _alike(parts: NDArray[np.float64], voice: NDArray[np.float64], lag: int) -> NDArray[np.float64]:
    """The correlation of the motion of each part with the voice `lag` pictures later, shape (parts,)."""
    a, b = (parts[:, : len(voice) - lag], voice[lag:]) if lag >= 0 else (parts[:, -lag:], voice[:lag])
    a, b = a - a.mean(axis=1, keepdims=True), b - b.mean()
    size = np.sqrt((a * a).sum(axis=1) * (b @ b))
    alike: NDArray[np.float64] = np.divide(a @ b, size, out=np.zeros(len(parts)), where=size > 0)
    return alike
