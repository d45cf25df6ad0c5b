"""A pace: how fast somebody speaks, how long they pause, and how sure that is.

A reader differs from the plain pace of the duration table in two ways, which research distinguishes
(articulation rate does not count pauses, speech rate does; Goldman-Eisler 1968; Laver 1994, from memory):
everything voiced is multiplied by one factor, every pause by another. Both are unknown until the performer
has been timed. Before that, only a preset for the kind of speech and a wide range can be given.

Each timed reading then moves both factors away from the preset, by as much as it is worth according to the
layers of `timing.spreads`: this is the best linear unbiased prediction of a random-effects model (Henderson,
Biometrics 31, 1975, from memory), found by Gauss-Newton steps, because the seconds are a sum of two parts
with a factor each. Readings of one day share that day's pace, so ten of them tell much about that day and
less about the next. The range is always that of another occasion.

The distribution of readers around the preset has longer tails than a normal distribution. A Student t is
used, by reweighting (Lange, Little & Taylor, Journal of the American Statistical Association 84, 1989, from
memory): so even one reading can show that somebody is twice as slow as usual.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from offbook.errors import OffbookError
from offbook.timing.spreads import Pair, Spreads, Symmetric, applied, inverse, plus, scaled, shared, through

Tempo = Literal["narration", "verse", "address", "conversation"]

# The factor on the plain pace for each kind of speech. Narration comes to about 150 words a minute in
# ordinary prose (audiobooks about 155, public speaking 125-150), verse to about 3 s for a pentameter
# line (Turner & Poeppel), a formal address to about 120 (US inaugural addresses 85-133 with
# silences), conversation to about 210 (Tauroza & Allison 1990, from memory).
PRESETS: dict[Tempo, float] = {"narration": 1.12, "verse": 1.20, "address": 1.32, "conversation": 0.80}

SPREADS = Spreads()
# If the earlier reading was another kind of speech: the spread that is added, as a standard deviation of a
# logarithm, and the part of the difference between the presets that is expected, because the kind is only
# guessed. Set by hand.
OTHER_TEMPO_SPREAD, OTHER_TEMPO_SHIFT = 0.06, 0.5
# How closely a performer keeps to a given rate, as a standard deviation of a logarithm; set by hand
GIVEN_RATE_SPREAD = 0.05
SLOWEST, FASTEST = 40.0, 400.0  # words a minute that may be asked for; set by hand
_STEPS, _NEAR = 60, 1e-9  # the fit ends after so many steps, or when a step is smaller than this
# Times the plain seconds: outside this range the reading is of another text; set by hand
_FASTEST, _SLOWEST = 1 / 3, 4
_LEAST_SECONDS = 1e-6  # of a text, so that nothing is divided by zero


class PaceError(OffbookError):
    """The rate or the earlier reading cannot be used."""


@dataclass(frozen=True, slots=True)
class EarlierReading:
    """An earlier timed reading: how long its text takes at the plain pace, and how long it really took.

    voiced, pauses: seconds at the plain pace. seconds: measured from the first word to the last. tempo: the
    kind of speech. speaking: the seconds without pauses, if a recording was measured. occasion: the same for
    all readings of one sitting, such as its day; readings without one are taken as one sitting.
    """

    voiced: float
    pauses: float
    seconds: float
    tempo: Tempo
    speaking: float | None = None
    occasion: str | None = None


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a performer speaks.

    voice, pause: factors on the plain pace. covariance: of the logarithms of both on another occasion
    (variance of the voice, covariance, variance of the pauses). name: what it is based on, in words.
    readings, timed: how many earlier readings it is based on, and the sum of their seconds. rate: the words a
    minute that were asked for; then it decides the total, and the factors only divide it between voice and
    pauses. spreads: the layers used.
    """

    voice: float
    pause: float
    covariance: Symmetric
    name: str
    readings: int = 0
    timed: float = 0.0
    rate: float | None = None
    spreads: Spreads = SPREADS

    def spread(self, voiced: float, pauses: float) -> float:
        """The standard deviation of the logarithm of a text's seconds. voiced, pauses: at the plain pace."""
        v, p = self.voice * voiced, self.pause * pauses
        total = max(v + p, _LEAST_SECONDS)
        return math.sqrt(through(self.covariance, (v / total, p / total)) + self.spreads.noise(total))


def preset(tempo: Tempo, spreads: Spreads = SPREADS) -> Pace:
    """The pace of an unknown reader of this kind of speech."""
    k = PRESETS[tempo]
    covariance = plus(spreads.readers, spreads.occasions(tempo == "address"))
    return Pace(k, k, covariance, f"a usual pace for {_KINDS[tempo]}", spreads=spreads)


_KINDS: dict[Tempo, str] = {
    "narration": "prose read aloud",
    "verse": "verse",
    "address": "a formal address",
    "conversation": "conversation",
}


def at_rate(rate: float, tempo: Tempo) -> Pace:
    """A pace of `rate` words a minute, pauses included. Raises PaceError if nobody can speak at that rate."""
    if not math.isfinite(rate) or not SLOWEST <= rate <= FASTEST:
        raise PaceError(
            f"nobody speaks at {rate:g} words a minute",
            f"give a rate between {SLOWEST:g} and {FASTEST:g}, or none for a usual pace",
        )
    k = PRESETS[tempo]
    return Pace(
        k, k, (GIVEN_RATE_SPREAD**2, 0.0, GIVEN_RATE_SPREAD**2), f"{rate:g} words a minute", rate=rate
    )


def calibrate(readings: Sequence[EarlierReading], tempo: Tempo, spreads: Spreads = SPREADS) -> Pace:
    """The pace of the reader of `readings` on another occasion, in a speech of the kind `tempo`.

    Raises PaceError if the seconds of a reading cannot be those of its text.
    """
    if not readings:
        return preset(tempo, spreads)
    for r in readings:
        _check(r)
    offset, covariance = _settled(readings, tempo, spreads)
    usual = spreads.occasions(tempo == "address")
    another = scaled(usual, _unsteady(readings, tempo, offset, spreads))
    k = PRESETS[tempo]
    return Pace(
        k * math.exp(offset[0]),
        k * math.exp(offset[1]),
        plus(covariance, another),
        _name(readings),
        len(readings),
        sum(r.seconds for r in readings),
        spreads=spreads,
    )


def _name(readings: Sequence[EarlierReading]) -> str:
    if len(readings) == 1:
        return "one earlier reading of your own"
    days = {r.occasion for r in readings}
    known = "" if None in days else " on one day" if len(days) == 1 else f" on {len(days)} days"
    return f"{len(readings)} earlier readings of your own{known}"


def _check(r: EarlierReading) -> None:
    """Raise PaceError if a reading's seconds cannot be those of its text."""
    ratio = r.seconds / max(r.voiced + r.pauses, _LEAST_SECONDS)
    if not math.isfinite(ratio) or not _FASTEST <= ratio <= _SLOWEST:
        raise PaceError(
            f"an earlier reading of {r.seconds:g} s cannot be of a text that takes about "
            f"{(r.voiced + r.pauses) * PRESETS[r.tempo]:.0f} s",
            "check the seconds, and that the text is the one that was read",
        )


def _settled(readings: Sequence[EarlierReading], tempo: Tempo, spreads: Spreads) -> tuple[Pair, Symmetric]:
    """The reader's (log voice, log pause) around the preset, and the covariance of its error."""
    offset, prior = (0.0, 0.0), inverse(spreads.readers)
    covariance = spreads.readers
    for _ in range(_STEPS):
        # Far from the preset, the preset counts less: a Student t, as a normal distribution with another
        # width.
        weight = (spreads.tails + 2) / (spreads.tails + through(prior, offset))
        near = scaled(prior, weight)
        precision, back = near, applied(near, offset)
        slope = (-back[0], -back[1])
        for day in _by_occasion(readings):
            said = _normal_equations(day, tempo, offset, spreads)
            h, g = shared(*said, spreads.occasions(day[0].tempo == "address"))
            precision, slope = plus(precision, h), (slope[0] + g[0], slope[1] + g[1])
        covariance = inverse(precision)
        step = applied(covariance, slope)
        offset = (offset[0] + step[0], offset[1] + step[1])
        if abs(step[0]) + abs(step[1]) < _NEAR:
            break
    return offset, covariance


def _by_occasion(readings: Sequence[EarlierReading]) -> list[list[EarlierReading]]:
    """The readings of each occasion; another kind of speech is another occasion."""
    days: dict[tuple[str | None, Tempo], list[EarlierReading]] = {}
    for r in readings:
        days.setdefault((r.occasion, r.tempo), []).append(r)
    return list(days.values())


def _foreseen(r: EarlierReading, tempo: Tempo, offset: Pair) -> Pair:
    """The predicted voiced seconds and pauses of a reading, at `offset` from the preset of its own kind."""
    k = PRESETS[tempo] * (PRESETS[r.tempo] / PRESETS[tempo]) ** OTHER_TEMPO_SHIFT
    return k * math.exp(offset[0]) * r.voiced, k * math.exp(offset[1]) * r.pauses


def _variance(r: EarlierReading, tempo: Tempo, spreads: Spreads) -> float:
    return spreads.noise(r.seconds) + (OTHER_TEMPO_SPREAD**2 if r.tempo != tempo else 0.0)


def _normal_equations(
    readings: Sequence[EarlierReading], tempo: Tempo, offset: Pair, spreads: Spreads
) -> tuple[Symmetric, Pair]:
    """The precision and the slope at `offset` of the readings of one occasion."""
    h, g = [0.0, 0.0, 0.0], [0.0, 0.0]
    for r in readings:
        v, p = _foreseen(r, tempo, offset)
        seen = [(math.log(r.seconds / (v + p)), v / (v + p), p / (v + p))]
        if r.speaking is not None and 0 < r.speaking < r.seconds and p > 0:
            seen = [
                (math.log(r.speaking / v), 1.0, 0.0),
                (math.log((r.seconds - r.speaking) / p), 0.0, 1.0),
            ]
        for miss, jv, jp in seen:
            # Pauses vary more than the voice, so they count less.
            wider = 1 if jv else (spreads.pause / spreads.voice) ** 2
            w = 1 / (_variance(r, tempo, spreads) * wider)
            h[0] += w * jv * jv
            h[1] += w * jv * jp
            h[2] += w * jp * jp
            g[0] += w * jv * miss
            g[1] += w * jp * miss
    return (h[0], h[1], h[2]), (g[0], g[1])


def _unsteady(readings: Sequence[EarlierReading], tempo: Tempo, offset: Pair, spreads: Spreads) -> float:
    """How much more than usual this reader's occasions differ, as a factor on their variance; 1 is usual.

    This is the mean of an inverse gamma distribution: the usual spread counts as `habit` occasions, and the
    reader's own occasions are added, without the degree of freedom that their mean uses.
    """
    days = _by_occasion(readings)
    if len(days) == 1:
        return 1.0
    squares = 0.0
    for day in days:
        weights, misses, known = 0.0, 0.0, 0.0
        usual = spreads.occasions(day[0].tempo == "address")
        for r in day:
            v, p = _foreseen(r, tempo, offset)
            w = 1 / _variance(r, tempo, spreads)
            weights, misses = weights + w, misses + w * math.log(r.seconds / (v + p))
            known += w * through(usual, (v / (v + p), p / (v + p)))
        squares += (misses / weights) ** 2 / (known / weights + 1 / weights)
    return (spreads.habit + squares) / (spreads.habit + len(days) - 1)
