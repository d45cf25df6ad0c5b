"""The light of a film: even, patchy, flickering or blown out.

It is measured on luma, the brightness that a viewer sees. Whether a face is well lit is left to people.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from offbook.audio.watching import WatchedFilm

# Set by hand, except the gamma, because no standard has such limits for a face in front of a wall.
_FLICKER_HZ = 3.0  # slower changes come from clouds, or from a camera that changes its exposure
# The standard deviation of the whole picture's brightness, as a share of the way from black to white, from
# which a flicker is reported.
_FLICKER_SHARE = 0.015
# The share of the power of all quick changes that lies at one frequency if it is a flicker and not people
# moving.
_RHYTHM = 0.5
_BLOWN = 0.15  # of the picture, in the median picture
_PATCHY = 2.0  # stops by which one half is darker than the other
_GAMMA = 2.2  # from luma to light: about what ITU-R BT.709 and BT.1886 give together; from memory
_BLACK = 0.02  # luma, 0 to 1: darker halves count as this, so that the stops stay finite
_FEWEST_PICTURES = 24  # without which no flicker can be found
_LEAK = 2  # places on either side into which a Hann window spreads a frequency
_HANN_POWER = 0.375  # the mean square of a Hann window: 3/8


@dataclass(frozen=True, slots=True)
class Light:
    """The light of a film.

    flicker: Hz, None if there is none. blown: the share of the picture that is white, 0 to 1. stops: by how
    much one half is darker than the other; one stop is half the light. darker: which half that is, left or
    right.
    """

    flicker: float | None
    blown: float
    stops: float
    darker: str

    @property
    def is_blown_out(self) -> bool:
        """Whether too much of the picture is white, so that nothing can be seen there."""
        return self.blown >= _BLOWN

    @property
    def is_patchy(self) -> bool:
        """Whether one half is much darker than the other."""
        return self.stops >= _PATCHY


def light_of(film: WatchedFilm) -> Light:
    """Measure the light of a film."""
    left, right = (max(_BLACK, float(np.median(side))) for side in film.sides.T)
    stops = abs(_GAMMA * float(np.log2(left / right)))
    return Light(
        _flicker(film.brightness, film.step),
        float(np.median(film.white)),
        stops,
        "left" if left < right else "right",
    )


def _flicker(brightness: NDArray[np.float64], step: float) -> float | None:
    """The frequency, Hz, at which the whole picture's brightness rises and falls evenly; None if it does not.

    brightness: of each picture, 0 to 1, shape (n,). step: the time between two pictures, s.
    """
    n = len(brightness)
    if n < _FEWEST_PICTURES or step <= 0:
        return None
    power = np.abs(np.fft.rfft((brightness - brightness.mean()) * np.hanning(n))) ** 2
    hz = np.fft.rfftfreq(n, step)
    quick = hz >= _FLICKER_HZ
    if not quick.any() or power[quick].sum() <= 0:
        return None
    top = int(np.flatnonzero(quick)[np.argmax(power[quick])])
    near = power[max(0, top - _LEAK) : top + _LEAK + 1].sum()
    # The variance of the quick changes, by Parseval's theorem.
    variance = 2 * float(power[quick].sum()) / (n * n * _HANN_POWER)
    if near < _RHYTHM * power[quick].sum() or np.sqrt(variance) < _FLICKER_SHARE:
        return None
    return float(hz[top])
