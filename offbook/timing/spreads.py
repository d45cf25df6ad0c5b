"""How far timed readings lie apart: between readers, between one reader's occasions, and within an occasion.

An earlier reading tells about the next one only what the two share. People differ from one another by
much, one person differs from day to day by less, and on one day a short text strays further from the
reader's own pace than a long one. These layers make a random-effects model (Searle, Casella & McCulloch,
Variance Components, 1992, from memory). `bench/fit_pace.py FOLDER` fits them and prints how they do on
readers left out. It finds them a fifth narrower (voice 0.094, pause 0.24, moment 0.12; occasion, audience and
text as here). Its twelve readers are few and none of them was chosen for being unusual, so the wider
values are. tails and habit are set by hand, because it would take hundreds of readers to fit them.

A pace has two logarithms, of the voiced part and of the pauses, so that every spread here is a
covariance of the two: (variance of the voice, covariance, variance of the pauses).
"""

from __future__ import annotations

from dataclasses import dataclass

Pair = tuple[float, float]
Symmetric = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Spreads:
    """The layers, as standard deviations of natural logarithms unless said otherwise.

    voice, pause: between readers, of the voiced part and of the pauses; together: their correlation, that
    is, how far slow speakers are also long pausers. occasion: the variance between occasions of one
    reader, as a share of the variance between readers; audience: the same in a formal address, which is
    given to people who laugh, clap and wait. text: between texts on one occasion, however long they are.
    moment: what averages out over a reading, for one second of it. tails: degrees of freedom of the law of
    readers (a Student t; few mean that very slow readers do turn up). habit: as how many of a reader's own
    occasions the usual spread between occasions counts.
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
        """The covariance between the occasions of one reader; `address` where an audience is spoken to."""
        return scaled(self.readers, self.audience if address else self.occasion)

    def noise(self, seconds: float) -> float:
        """The variance of the logarithm of a reading of `seconds` whose reader and occasion are known."""
        return self.text**2 + self.moment**2 / max(seconds, 0.5)


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
    """What one occasion says of its reader: precision and slope with the occasion's own pace summed out.

    With H the precision of the readings of the occasion and S the covariance between occasions, it is
    (I + H S)^-1 H: at most S^-1, however many readings the day held.
    """
    h, s = precision, occasions
    a, b = 1 + h[0] * s[0] + h[1] * s[1], h[0] * s[1] + h[1] * s[2]
    c, d = h[1] * s[0] + h[2] * s[1], 1 + h[1] * s[1] + h[2] * s[2]
    determinant = a * d - b * c
    m = (d / determinant, -b / determinant, -c / determinant, a / determinant)
    kept = (m[0] * h[0] + m[1] * h[1], m[0] * h[1] + m[1] * h[2], m[2] * h[1] + m[3] * h[2])
    return kept, (m[0] * slope[0] + m[1] * slope[1], m[2] * slope[0] + m[3] * slope[1])
