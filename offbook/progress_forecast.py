"""The forecast: how likely a run-through on the date keeps to 98 % of the words, and why.

What is added up: for each thought, the recall that FSRS foretells for the date if practice goes on
as it has lately; then this performer's own habit of doing better or worse than FSRS foretells,
learnt from how many words their run-throughs really missed against how many were foretold (one
shift on the log-odds, with a prior). Words are missed in clumps, not one by one, so their number is
taken as compound Poisson with the performer's own size of clump. The result is a mean over everything
the shift may be, and it is said to be too early where that leaves nearly every answer open.

The constants were set on simulated learners (the families "halving" and "words" of
`bench/forecast.py`) and tested on new ones and on a family with another rule of forgetting; the bench
prints the calibration. Their mean shift is well above nought: FSRS's default parameters are for facts
learnt at a desk, and speech that is run through aloud holds better than they foretell, in simulation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from offbook.journal import RunRow, Unit
from offbook.journal.moment import local_day
from offbook.progress import OFF_BOOK
from offbook.schedule import Item, day_due, recall_after, review_on

EARLIEST_RUNS, EARLIEST_DAYS, SEEN = 2, 2, 0.5
OPEN = 0.75  # 80 % of what is possible spans more than this: too early to say


@dataclass(frozen=True, slots=True)
class Constants:
    """What the forecast believes of a performer before it has seen them, set on simulated learners.

    prior, prior_spread: of the shift, in log-odds. drift: how far it may move in a week. forgets: weight
    of a run-through for each newer one. clump: words lost together. unseen: recall of a thought on a
    run-through before it was ever asked. offset, slope: of the final log-odds. per_run: how far one
    run-through differs from the next in log-odds, form of the day. lately, stubborn: see `kept_to`.
    """

    prior: float = 2.0
    prior_spread: float = 1.2
    drift: float = 0.3
    per_run: float = 0.7
    forgets: float = 0.5
    clump: float = 1.8
    unseen: float = 0.45
    offset: float = 0.48
    slope: float = 0.85
    lately: float = 0.8
    stubborn: float = 1.0


SET = Constants()

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
_SHIFTS: Floats = np.linspace(-4.0, 5.0, 91)


@dataclass(frozen=True, slots=True)
class PastThought:
    """One thought in an earlier run-through. foretold: its recall, None where it was never asked before."""

    key: int
    words: int
    missed: int
    foretold: float | None


@dataclass(frozen=True, slots=True)
class Past:
    """One earlier run-through, thought by thought."""

    thoughts: tuple[PastThought, ...]

    @property
    def missed(self) -> int:
        """Words missed."""
        return sum(t.missed for t in self.thoughts)

    @property
    def clumps(self) -> int:
        """Thoughts in which words were missed."""
        return sum(t.missed > 0 for t in self.thoughts)


@dataclass(frozen=True, slots=True)
class Weak:
    """A thought that is foretold to be shaky on the date."""

    unit: Unit
    recall: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """chance: of 98 % of the words on the date; None where it is too early to say.

    low, high: where 80 % of what is possible lies. reason: in words for people. weak: weakest first.
    """

    chance: float | None
    low: float
    high: float
    reason: str
    weak: tuple[Weak, ...]
    expected_accuracy: float


def forecast(
    items: Sequence[Item],
    runs: Sequence[RunRow],
    past: Sequence[Past],
    today: date,
    practice_rate: float,
) -> Forecast:
    """The forecast for the date of `items` (all of one piece, with a date).

    runs, past: the newest run-throughs, oldest first, one for one. practice_rate: the share of days
    on which the performer has practised lately, 0 to 1.
    """
    due = items[0].date
    if due is None:
        raise ValueError("a forecast needs a date")
    left = max(0, (due - today).days)
    recalls = np.array([_recall_on(item, today, due, practice_rate) for item in items])
    recalls = kept_to(recalls, [i.unit.key for i in items], past)
    sizes = np.array([item.unit.words for item in items], float)
    known = spread_of(recalls, sizes, past, left)
    shown = 1 - _missing(recalls, known.shift)
    order = np.argsort(shown, kind="stable")
    weak = tuple(Weak(items[k].unit, float(shown[k])) for k in order if shown[k] < 0.9)[:5]
    early = _too_early(items, runs, left, known.high - known.low)
    reason = early or _reason(weak, shown, known.shift, left, practice_rate, known.accuracy)
    chance = None if early else known.chance
    return Forecast(chance, known.low, known.high, reason, weak, known.accuracy)


def kept_to(recalls: Floats, keys: Sequence[int], past: Sequence[Past], set_: Constants = SET) -> Floats:
    """Hold the recalls down where a thought keeps going wrong.

    The schedule looks ahead as if every practice succeeded. A thought that has failed in one run-through
    after another, practised or not, will not be put right by one more: its recall is lowered by how it
    really went lately, newer run-throughs counting more.
    """
    went, weight = dict.fromkeys(keys, 0.0), dict.fromkeys(keys, 0.0)
    for age, p in enumerate(reversed(past)):
        for t in p.thoughts:
            if t.key in went:
                weight[t.key] += set_.lately**age
                went[t.key] += set_.lately**age * (1 - t.missed / t.words)
    share = np.array([(1 + went[k]) / (1 + weight[k]) for k in keys])
    return np.asarray(np.clip(recalls * share**set_.stubborn, 0.02, 0.995))


@dataclass(frozen=True, slots=True)
class Known:
    """The chance, where 80 % of it lies, the performer's likely shift, and the accuracy expected."""

    chance: float
    low: float
    high: float
    shift: float
    accuracy: float


def spread_of(
    recalls: Floats, sizes: Floats, past: Sequence[Past], left: int, set_: Constants = SET
) -> Known:
    """The chance of 98 % of the words, from the recalls FSRS foretells and the words of each thought."""
    clump = _clump(past, set_)
    weights = _posterior(past, clump, left, set_)
    expected = _expected(recalls, sizes)
    allowed = int(np.floor((1 - OFF_BOOK / 100) * sizes.sum() + 1e-9))
    chances = _scaled(_at_most(allowed, expected, clump), set_)
    low, high = _middle(chances, weights)
    accuracy = 1 - float(weights @ expected) / float(sizes.sum())
    return Known(float(weights @ chances), low, high, float(weights @ _SHIFTS), accuracy)


def _recall_on(item: Item, today: date, due: date, rate: float) -> float:
    """Recall of one thought on the date, if practice goes on at `rate` and goes well."""
    step = 1 / max(rate, 1e-6)
    day, n = today, 0
    while True:
        day = today + timedelta(days=round(n * step)) if n * step < 4000 else due
        if day >= due:
            break
        back = day_due(item, day)
        if item.memory is None or (back is not None and back <= day):
            item = replace(item, memory=review_on(item, day))
        n += 1
    if item.memory is None or item.memory.last_review is None:
        return 0.02
    last = local_day(item.memory.last_review, item.zone)
    return min(0.995, max(0.02, recall_after(item.memory, max(0, (due - last).days))))


def _missing(recalls: Floats, shift: float) -> Floats:
    """Share of words missed in each thought when the performer's shift is `shift`."""
    odds = np.log(recalls / (1 - recalls)) + shift
    return np.asarray(1 / (1 + np.exp(odds)))


def _expected(recalls: Floats, sizes: Floats) -> Floats:
    """Words missed on average, for each shift."""
    odds = np.log(recalls / (1 - recalls))[:, None] + _SHIFTS[None, :]
    return np.asarray(sizes @ (1 / (1 + np.exp(odds))))


def _clump(past: Sequence[Past], set_: Constants) -> float:
    missed, clumps = sum(p.missed for p in past), sum(p.clumps for p in past)
    return float((set_.clump * 3 + missed) / (3 + clumps))


def _posterior(past: Sequence[Past], clump: float, left: int, set_: Constants) -> Floats:
    """Weights of the shifts, from how many words were missed against how many were foretold."""
    log = -((_SHIFTS - set_.prior) ** 2) / (2 * set_.prior_spread**2)
    for age, p in enumerate(reversed(past)):
        sizes = np.array([t.words for t in p.thoughts], float)
        told = [set_.unseen if t.foretold is None else t.foretold for t in p.thoughts]
        recalls = np.clip(told, 0.02, 0.995)
        mean = _expected(np.asarray(recalls), sizes)
        log = log + set_.forgets**age * (p.missed * np.log(mean) - mean) / clump
    weights = np.exp(log - log.max())
    spread = np.sqrt(set_.per_run**2 + set_.drift**2 * left / 7)
    if spread > 0:
        apart = _SHIFTS[:, None] - _SHIFTS[None, :]
        weights = np.exp(-(apart**2) / (2 * spread**2)) @ weights
    return np.asarray(weights / weights.sum())


def _at_most(allowed: int, means: Floats, clump: float) -> Floats:
    """P(no more than `allowed` words missed) for each mean: Poisson many clumps, geometric in size.

    Panjer's recursion for the compound Poisson distribution (Panjer, ASTIN Bulletin 12, 1981; memory).
    """
    rates, go_on = means / clump, 1 - 1 / max(clump, 1.0)
    p = [np.exp(-rates)]
    for s in range(1, allowed + 1):
        terms = [j * (1 - go_on) * go_on ** (j - 1) * p[s - j] for j in range(1, s + 1)]
        p.append(rates / s * np.sum(terms, axis=0))
    return np.asarray(np.minimum(1.0, np.sum(p, axis=0)))


def _scaled(chances: Floats, set_: Constants) -> Floats:
    p = np.clip(chances, 1e-4, 1 - 1e-4)
    return np.asarray(1 / (1 + np.exp(-(set_.offset + set_.slope * np.log(p / (1 - p))))))


def _middle(chances: Floats, weights: Floats) -> tuple[float, float]:
    order = np.argsort(chances, kind="stable")
    up = np.cumsum(weights[order])
    low = chances[order][min(len(order) - 1, int(np.searchsorted(up, 0.1)))]
    high = chances[order][min(len(order) - 1, int(np.searchsorted(up, 0.9)))]
    return float(low), float(high)


def _too_early(items: Sequence[Item], runs: Sequence[RunRow], left: int, width: float) -> str | None:
    days = len({r.day for r in runs})
    if len(runs) < EARLIEST_RUNS or days < EARLIEST_DAYS:
        need = f"{EARLIEST_RUNS} run-throughs on {EARLIEST_DAYS} days"
        return f"too early to say: it takes {need}, and there are {len(runs)} on {days}"
    seen = sum(i.memory is not None for i in items) / len(items)
    if seen < SEEN:
        return f"too early to say: only {seen:.0%} of the thoughts have been asked so far"
    if width > OPEN and left > 2:
        return "too early to say: what has been measured so far fits both a safe and an unsafe date"
    return None


def _reason(
    weak: Sequence[Weak], shown: Floats, shift: float, left: int, rate: float, accuracy: float
) -> str:
    safe = int((shown >= 0.9).sum())
    parts = [f"{safe} of {len(shown)} thoughts are foretold at 90 % or more on the date"]
    if weak:
        parts.append(f"the weakest begins “{weak[0].unit.opening}” ({weak[0].recall:.0%})")
    if shift < -0.5:
        parts.append("run-throughs have gone worse than the drills foretold")
    elif shift > 0.5:
        parts.append("run-throughs have gone better than the drills foretold")
    parts.append(f"practice on {rate * 7:.0f} days in 7, {left} day{'s' * (left != 1)} left")
    parts.append(f"about {accuracy:.1%} of the words expected")
    return "; ".join(parts)
