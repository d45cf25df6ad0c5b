"""How much timed readings differ: between readers, between one reader's occasions, and within an occasion.

An earlier reading tells about the next one only what both have in common. People differ from one another a
lot, one person differs less from day to day, and on one day a short text differs more from the reader's usual
pace than a long one. These layers make a random-effects model (Searle, Casella & McCulloch, Variance
Components, 1992, from memory). `bench/fit_pace.py FOLDER` fits them and prints how well they predict readers
who were left out. It finds values that are a fifth smaller (voice 0.094, pause 0.24, moment 0.12; occasion,
audience and text as here). Its twelve readers are few, and none of them is unusual, so the larger values are
used. tails and habit were set by hand, because hundreds of readers would be needed to fit them.

A pace has two logarithms, of the voiced part and of the pauses, so that every spread here is a
covariance of the two: (variance of the voice, covariance, variance of the pauses).
"""

from __future__ import annotations

from dataclasses import dataclass

_SHORTEST_READING = 0.5  # seconds: a shorter one is treated as if it had so many; set by hand

Pair = tuple[float, float]
Symmetric = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Spreads:
    """The layers, as standard deviations of natural logarithms if nothing else is said.

    voice, pause: between readers, of the voiced part and of the pauses. together: the correlation of the two:
    how much slow speakers also make long pauses. occasion: the variance between occasions of one reader, as a
    share of the variance between readers. audience: the same for a formal address, whose audience may laugh
    and clap. text: between texts on one occasion, of any length. moment: what averages out in a reading, for
    one second of it. tails: the degrees of freedom of the distribution of readers (a Student t; a small
    number means that very slow readers do occur). habit: the usual spread between occasions counts as much as
    so many of the reader's own occasions.
    """

    voice: float = 0.12
    pause: float = 0.30
    together: float = 0.4
    occasion: float = 0.2
    audience: float = 0.4
    text: float = 0.03
    moment: float = 0.13
    tails: float = 4.0
    habit: float = 6.0

    @property
    def readers(self) -> Symmetric:
        """The covariance between readers."""
        return self.voice**2, self.together * self.voice * self.pause, self.pause**2

    def occasions(self, address: bool) -> Symmetric:
        """The covariance between the occasions of one reader. address: whether it is a formal address."""
        return scaled(self.readers, self.audience if address else self.occasion)

    def noise(self, seconds: float) -> float:
        """The variance of the logarithm of a reading of `seconds` whose reader and occasion are known."""
        return self.text**2 + self.moment**2 / max(seconds, _SHORTEST_READING)


def plus(m: Symmetric, n: Symmetric) -> Symmetric:
    """The sum of two symmetric matrices of two rows."""
    return m[0] + n[0], m[1] + n[1], m[2] + n[2]


def scaled(m: Symmetric, factor: float) -> Symmetric:
    """A symmetric matrix times a number."""
    return m[0] * factor, m[1] * factor, m[2] * factor


def inverse(m: Symmetric) -> Symmetric:
    """The inverse of a symmetric matrix of two rows."""
    determinant = m[0] * m[2] - m[1] * m[1]
    return m[2] / determinant, -m[1] / determinant, m[0] / determinant


def applied(m: Symmetric, v: Pair) -> Pair:
    """A symmetric matrix times a vector."""
    return m[0] * v[0] + m[1] * v[1], m[1] * v[0] + m[2] * v[1]


def through(m: Symmetric, v: Pair) -> float:
    """v' m v: the variance of a sum weighted by `v`, or a squared distance."""
    first, second = applied(m, v)
    return v[0] * first + v[1] * second


def shared(precision: Symmetric, slope: Pair, occasions: Symmetric) -> tuple[Symmetric, Pair]:
    """What one occasion tells about its reader: precision and slope, without the occasion's own pace.

    If H is the precision of the readings of the occasion and S the covariance between occasions, the
    precision is (I + H S)^-1 H: at most S^-1, however many readings there were on that day.
    """
    h, s = precision, occasions
    a, b = 1 + h[0] * s[0] + h[1] * s[1], h[0] * s[1] + h[1] * s[2]
    c, d = h[1] * s[0] + h[2] * s[1], 1 + h[1] * s[1] + h[2] * s[2]
    determinant = a * d - b * c
    m11, m12, m21, m22 = d / determinant, -b / determinant, -c / determinant, a / determinant
    kept = (m11 * h[0] + m12 * h[1], m11 * h[1] + m12 * h[2], m21 * h[1] + m22 * h[2])
    return kept, (m11 * slope[0] + m12 * slope[1], m21 * slope[0] + m22 * slope[1])
