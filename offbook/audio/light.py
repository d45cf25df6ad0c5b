"""The light of a film: even, patchy, flickering, dark or blown out.

Measured on luma, which is what a viewer sees; whether a face is well lit is for the eye.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from offbook.audio.watching import WatchedFilm

# Set by hand, because no standard names them for a face before a wall.
_FLICKER_HZ = 3.0  # slower changes are clouds and a camera that sets its exposure
_FLICKER_SHARE = 0.015  # of the way from black to white, standard deviation of the whole picture's brightness
_RHYTHM = 0.5  # of the quick changes' power lies at one frequency in a flicker; in people moving it does not
_BLOWN = 0.15  # of the picture, most of the time
_PATCHY = 2.0  # stops by which one half is darker than the other
_GAMMA = 2.2  # luma to light, about what ITU-R BT.709 and BT.1886 give together; from memory
_BLACK = 0.02
_LEAST_PICTURES = 24


@dataclass(frozen=True, slots=True)
class Light:
    """What of the light can be told. flicker: Hz, None where there is none. blown: share of the picture
    that is white. stops: by how much the darker half is darker than the other. darker: which half that
    is."""

    flicker: float | None
    blown: float
    stops: float
    darker: str

    @property
    def is_blown_out(self) -> bool:
        """Whether so much is white that nothing can be seen in it."""
        return self.blown >= _BLOWN

    @property
    def is_patchy(self) -> bool:
        """Whether one half is much darker than the other."""
        return self.stops >= _PATCHY


def light_of(film: WatchedFilm) -> Light:
    """The light of a film that was watched."""
    left, right = (max(_BLACK, float(np.median(side))) for side in film.sides.T)
    stops = abs(_GAMMA * float(np.log2(left / right)))
    return Light(
        _flicker(film.brightness, film.step),
        float(np.median(film.white)),
        stops,
        "left" if left < right else "right",
    )


def _flicker(brightness: NDArray[np.float64], step: float) -> float | None:
    """The frequency at which the whole picture's brightness beats, Hz; None where it does not."""
    n = len(brightness)
    if n < _LEAST_PICTURES or step <= 0:
        return None
    power = np.abs(np.fft.rfft((brightness - brightness.mean()) * np.hanning(n))) ** 2
    hz = np.fft.rfftfreq(n, step)
    quick = hz >= _FLICKER_HZ
    if not quick.any() or power[quick].sum() <= 0:
        return None
    top = int(np.flatnonzero(quick)[np.argmax(power[quick])])
    near = power[max(0, top - 2) : top + 3].sum()  # a window spreads one frequency over five places
    # Parseval, with the window's mean square of 3/8: the variance that lies in the quick changes
    variance = 2 * float(power[quick].sum()) / (n * n * 0.375)
    if near < _RHYTHM * power[quick].sum() or np.sqrt(variance) < _FLICKER_SHARE:
        return None
    return float(hz[top])
