"""Is it one unbroken take? Finds the places that look as if two pieces were joined there.

When people move, several pictures in a row change. Where two pieces were joined, there is one change, much
larger than those just before and just after it. But a light that is switched on, or a camera that dropped
pictures, can look the same, so every place comes with a likelihood. A join with a fade is seldom found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from offbook.audio.watching import WatchedFilm

# All set by hand. `_POSSIBLE_TIMES` was chosen on films of bench/unbroken.py with seed 11, on which only cuts
# came above 1.4. What came of it on fifty other films (seed 23) is in docs/sending.md.
_AROUND = 5  # pictures before and after a change, which show how much the picture moves there anyway
# A change is a likely, or a possible, join if it is so many times as large as the largest of those.
_LIKELY_TIMES, _POSSIBLE_TIMES = 4.0, 1.5
_LEAST_CHANGE = 0.05  # of the way from black to white, in the twentieth of the picture that changed most
_GAP_STEPS = 3.5  # times the usual time between two pictures: after a longer time pictures are missing
_LEAST_GAP = 0.25  # s: a camera that drops pictures in the dark leaves shorter gaps; joins nearer are one

Likelihood = Literal["likely", "possible"]


@dataclass(frozen=True, slots=True)
class Join:
    """A place that looks like a join. at: s from the beginning. why: what was seen there, in words."""

    at: float
    likelihood: Likelihood
    why: str


def joins_in(
    film: WatchedFilm, edits: tuple[float, ...] = (), sound: tuple[float, float] | None = None
) -> tuple[Join, ...]:
    """The places that look like joins, in the order of the recording; empty if it looks unbroken.

    edits: the times, s, at which the file's edit list goes on with another part of what was recorded. sound:
    the time, s, at which the sound jumps against the picture, and by how many seconds it is later after that.
    """
    found = [*_jumps(film), *_gaps(film)]
    found += [Join(at, "likely", "the file's own edit list puts another stretch here") for at in edits]
    if sound is not None:
        way = "later" if sound[1] > 0 else "earlier"
        why = f"about here the sound begins to come {abs(sound[1]):.1f} s {way} against the picture"
        found.append(Join(sound[0], "possible", why))
    out: list[Join] = []
    for join in sorted(found, key=lambda j: (j.at, j.likelihood == "possible")):
        if not out or join.at - out[-1].at > _LEAST_GAP:
            out.append(join)
    return tuple(out)


def _jumps(film: WatchedFilm) -> list[Join]:
    """The pictures that differ from the one before far more than their neighbours do."""
    found = []
    change = film.change
    for k in np.flatnonzero(change >= _LEAST_CHANGE):
        if k == 0:
            continue
        around = np.concatenate([change[max(1, k - _AROUND) : k], change[k + 1 : k + 1 + _AROUND]])
        usual = float(around.max()) if len(around) else 0.0
        if usual <= 0 and len(around) <= 1:
            continue
        times = float(change[k]) / max(usual, _LEAST_CHANGE / _LIKELY_TIMES)
        if times >= _POSSIBLE_TIMES:
            likelihood: Likelihood = "likely" if times >= _LIKELY_TIMES else "possible"
            why = f"the picture jumps, {times:.0f} times what moves around it"
            found.append(Join(float(film.at[k]), likelihood, why))
    return found


def _gaps(film: WatchedFilm) -> list[Join]:
    """The places at which pictures are missing."""
    steps = np.diff(film.at)
    wide = np.flatnonzero((steps > _GAP_STEPS * film.step) & (steps > _LEAST_GAP))
    return [Join(float(film.at[k]), "possible", f"{steps[k]:.1f} s without a picture") for k in wide]
