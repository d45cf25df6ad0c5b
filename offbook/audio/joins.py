"""Is it one unbroken take? Places where picture and sound jump as they do where two pieces were joined.

A picture in which people move changes over several pictures; where two pieces were joined it changes once,
and much more than just before and just after. It is given as a likelihood with its place: a light that is
switched on, or a camera that dropped pictures, can look the same. A join that was faded over is seldom found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from offbook.audio.watching import WatchedFilm

# Set by hand; the possible ones from 1.5 times after films of bench/unbroken.py with seed 11, where nothing
# but cuts came above 1.4. How they did on fifty other films (seed 23) is in docs/sending.md.
_AROUND = 5  # pictures before and after that show how much moves there anyhow
_LIKELY_TIMES, _POSSIBLE_TIMES = 4.0, 1.5  # times as much as the most of those
_LEAST_CHANGE = 0.05  # share of black to white in the most changed twentieth
_GAP_STEPS = 3.5  # of the usual time between pictures, beyond which some are missing
_LEAST_GAP = 0.25  # s: a camera that drops pictures in the dark leaves shorter gaps

Likelihood = Literal["likely", "possible"]


@dataclass(frozen=True, slots=True)
class Join:
    """A place that looks like a join. at: s. why: what was seen, in words."""

    at: float
    likelihood: Likelihood
    why: str


def joins_in(
    film: WatchedFilm, edits: tuple[float, ...] = (), sound: tuple[float, float] | None = None
) -> tuple[Join, ...]:
    """The places that look like joins, in the order of the recording; empty where it looks unbroken.

    edits: s at which the file's own edit list goes over to another stretch. sound: where the sound jumps
    against the picture, s, and by how much it comes later from there on, s.
    """
    found = [*_jumps(film), *_gaps(film)]
    found += [Join(at, "likely", "the file's own edit list puts another stretch here") for at in edits]
    if sound is not None:
        way = "later" if sound[1] > 0 else "earlier"
        told = f"about here the sound begins to come {abs(sound[1]):.1f} s {way} against the picture"
        found.append(Join(sound[0], "possible", told))
    out: list[Join] = []
    for join in sorted(found, key=lambda j: (j.at, j.likelihood == "possible")):
        if not out or join.at - out[-1].at > _LEAST_GAP:
            out.append(join)
    return tuple(out)


def _jumps(film: WatchedFilm) -> list[Join]:
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
            told = f"the picture jumps, {times:.0f} times what moves around it"
            found.append(Join(float(film.at[k]), likelihood, told))
    return found


def _gaps(film: WatchedFilm) -> list[Join]:
    steps = np.diff(film.at)
    wide = np.flatnonzero((steps > _GAP_STEPS * film.step) & (steps > _LEAST_GAP))
    return [Join(float(film.at[k]), "possible", f"{steps[k]:.1f} s without a picture") for k in wide]
