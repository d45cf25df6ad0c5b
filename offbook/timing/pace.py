"""A pace: how fast somebody speaks, how long they pause, and how sure that is.

A reader differs from the plain pace of the duration table in two ways, which research keeps apart
(articulation rate leaves pauses out, speech rate counts them; Goldman-Eisler 1968; Laver 1994, from
memory): everything voiced is stretched by one factor, every pause by another. Both are unknown
until the performer has been timed. Before that, a preset for the kind of speech and a wide range
are all that can honestly be said; each timed reading then moves both factors, the longer ones more,
and narrows the range (a normal prior on the logarithms of both, updated in closed form around the
best fit: Laplace's approximation).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from offbook.errors import OffbookError

Tempo = Literal["narration", "verse", "address", "conversation"]

# The factor on the plain pace for each kind of speech. Narration comes to about 150 words a minute in
# ordinary prose (audiobooks about 155, public speaking 125-150), verse to about 3 s for a pentameter
# line (Turner & Poeppel), a formal address to about 120 (US inaugural addresses 85-133 with
# silences), conversation to about 210 (Tauroza & Allison 1990, from memory).
PRESETS: dict[Tempo, float] = {"narration": 1.12, "verse": 1.20, "address": 1.32, "conversation": 0.80}

# Spread of readers around a preset, as standard deviations of a natural logarithm: the voiced part, the
# pauses, and how far slow speakers are also long pausers.
VOICE_SPREAD, PAUSE_SPREAD, TOGETHER = 0.14, 0.35, 0.4
# The same reader on another text: a part that stays however long the text is, and a part that averages
# out over its seconds. Measured on readers with several pieces (docs/timing.md).
TEXT_SPREAD, MOMENT_SPREAD = 0.03, 0.15
OTHER_TEMPO_SPREAD = 0.06  # more, where the earlier reading was another kind of speech
OTHER_TEMPO_SHIFT = 0.5  # the part of the presets' difference that is expected then: the kind is a guess
GIVEN_RATE_SPREAD = 0.05  # how near a performer keeps to the rate that was asked for
SLOWEST, FASTEST = 40.0, 400.0  # words a minute that anyone could mean


class PaceError(OffbookError):
    """The rate or the earlier reading cannot be used."""


@dataclass(frozen=True, slots=True)
class Reading:
    """An earlier timed reading: what the table makes of its text, and how long it really took.

    voiced, pauses: seconds at the plain pace. seconds: first word to last word, as timed. tempo: the
    kind of speech. speaking: seconds without pauses, where a recording has measured them.
    """

    voiced: float
    pauses: float
    seconds: float
    tempo: Tempo
    speaking: float | None = None


@dataclass(frozen=True, slots=True)
class Pace:
    """How a performer speaks. voice, pause: factors on the plain pace.

    covariance: of the logarithms of both (voice variance, both together, pause variance).
    readings, timed: how many earlier readings it rests on, and their seconds together. rate: words a
    minute that were asked for; it then decides the total, and the factors only how it is shared out.
    name: what it rests on, in words for people.
    """

    voice: float
    pause: float
    covariance: tuple[float, float, float]
    name: str
    readings: int = 0
    timed: float = 0.0
    rate: float | None = None

    def spread(self, voiced: float, pauses: float) -> float:
        """Standard deviation of the logarithm of the seconds of a text, given its plain seconds."""
        v, p = self.voice * voiced, self.pause * pauses
        total = max(v + p, 1e-6)
        known = (
            (v * v * self.covariance[0] + 2 * v * p * self.covariance[1] + p * p * self.covariance[2])
            / total**2
        )  # fmt: skip
        return math.sqrt(known + _noise(total))


def _noise(seconds: float) -> float:
    return TEXT_SPREAD**2 + MOMENT_SPREAD**2 / max(seconds, 0.5)


_PRIOR = (VOICE_SPREAD**2, TOGETHER * VOICE_SPREAD * PAUSE_SPREAD, PAUSE_SPREAD**2)


def preset(tempo: Tempo) -> Pace:
    """The pace of an unknown reader of this kind of speech."""
    k = PRESETS[tempo]
    return Pace(k, k, _PRIOR, f"a usual pace for {_KINDS[tempo]}")


_KINDS: dict[Tempo, str] = {
    "narration": "prose read aloud",
    "verse": "verse",
    "address": "a formal address",
    "conversation": "conversation",
}


def at_rate(rate: float, tempo: Tempo) -> Pace:
    """A pace of `rate` words a minute, pauses counted. Raises PaceError outside what can be spoken."""
    if not math.isfinite(rate) or not SLOWEST <= rate <= FASTEST:
        raise PaceError(
            f"{rate:g} words a minute is no rate anyone speaks at",
            f"give a rate between {SLOWEST:g} and {FASTEST:g}, or leave it out for a usual pace",
        )
    k = PRESETS[tempo]
    return Pace(
        k, k, (GIVEN_RATE_SPREAD**2, 0.0, GIVEN_RATE_SPREAD**2), f"{rate:g} words a minute", rate=rate
    )


def calibrate(readings: Sequence[Reading], tempo: Tempo) -> Pace:
    """The pace of the reader of `readings` in a speech of `tempo`.

    Raises PaceError where a reading's seconds cannot be those of its text.
    """
    if not readings:
        return preset(tempo)
    for r in readings:
        _believe(r)
    return _settled(readings, tempo)


def _believe(r: Reading) -> None:
    ratio = r.seconds / max(r.voiced + r.pauses, 1e-6)
    if not math.isfinite(ratio) or not 1 / 3 <= ratio <= 4:
        raise PaceError(
            f"an earlier reading of {r.seconds:g} s cannot be of a text that takes about "
            f"{(r.voiced + r.pauses) * PRESETS[r.tempo]:.0f} s",
            "check the seconds, and that the text is the one that was read",
        )


def _settled(readings: Sequence[Reading], tempo: Tempo) -> Pace:
    """Best fit by Gauss-Newton steps on (log voice, log pause) around the preset, and its covariance."""
    a = b = 0.0  # offsets from each reading's own preset, on the logarithm
    for _ in range(12):
        hessian, slope = _normal_equations(readings, tempo, a, b)
        covariance = _inverse(hessian)
        da = covariance[0] * slope[0] + covariance[1] * slope[1]
        db = covariance[1] * slope[0] + covariance[2] * slope[1]
        a, b = a + da, b + db
        if abs(da) + abs(db) < 1e-9:
            break
    k, n = PRESETS[tempo], len(readings)
    name = "one earlier reading of your own" if n == 1 else f"{n} earlier readings of your own"
    timed = sum(r.seconds for r in readings)
    return Pace(k * math.exp(a), k * math.exp(b), covariance, name, n, timed)


Symmetric = tuple[float, float, float]


def _normal_equations(
    readings: Sequence[Reading], tempo: Tempo, a: float, b: float
) -> tuple[Symmetric, tuple[float, float]]:
    prior = _inverse(_PRIOR)
    h, g = list(prior), [-(prior[0] * a + prior[1] * b), -(prior[1] * a + prior[2] * b)]
    for r in readings:
        k = PRESETS[tempo] * (PRESETS[r.tempo] / PRESETS[tempo]) ** OTHER_TEMPO_SHIFT
        v, p = k * math.exp(a) * r.voiced, k * math.exp(b) * r.pauses
        variance = _noise(r.seconds) + (OTHER_TEMPO_SPREAD**2 if r.tempo != tempo else 0.0)
        seen = [(math.log(r.seconds / (v + p)), v / (v + p), p / (v + p))]
        if r.speaking is not None and 0 < r.speaking < r.seconds and p > 0:
            seen = [
                (math.log(r.speaking / v), 1.0, 0.0),
                (math.log((r.seconds - r.speaking) / p), 0.0, 1.0),
            ]
        for miss, jv, jp in seen:
            # A few pauses vary more than a voice does: their share carries the wider spread.
            w = 1 / (variance * (1 if jv else (PAUSE_SPREAD / VOICE_SPREAD) ** 2))
            h[0] += w * jv * jv
            h[1] += w * jv * jp
            h[2] += w * jp * jp
            g[0] += w * jv * miss
            g[1] += w * jp * miss
    return (h[0], h[1], h[2]), (g[0], g[1])


def _inverse(m: Symmetric) -> Symmetric:
    determinant = m[0] * m[2] - m[1] * m[1]
    return m[2] / determinant, -m[1] / determinant, m[0] / determinant
