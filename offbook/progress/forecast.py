"""The forecast: how likely a run-through on the date keeps to 98 % of the words, and why.

What is added up: for each thought, the recall that FSRS foretells for the date if practice goes on
as it has lately; then this performer's own habit of doing better or worse than FSRS foretells,
learnt from which thoughts their run-throughs really kept against what was foretold (one shift on the
log-odds, with a prior). A thought comes clean or it loses some words, geometric in number, about as
many as this performer loses at a time; the chance is that of losing no more than 2 % over all thoughts,
a mean over everything the shift may be. Where that leaves nearly every answer open, it is too early.

The constants were set on simulated learners of three families (`bench/forecast.py`) and tested on new
ones and on a fourth family with another rule of forgetting; the bench prints the calibration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import comb

import numpy as np

from offbook.moment import local_day
from offbook.progress.history import OFF_BOOK
from offbook.records import RunRow, Unit
from offbook.schedule import Item, day_due, recall_after, review_on

EARLIEST_RUNS, EARLIEST_DAYS, SEEN = 2, 2, 0.5
OPEN = 0.8  # 80 % of what is possible spans more than this: too early to say


@dataclass(frozen=True, slots=True)
class Constants:
    """What the forecast believes of a performer before it has seen them, set on simulated learners.

    prior, prior_spread: of the shift, in log-odds. drift: how far it may move in a week. per_run: how
    far one run-through differs from the next, the form of the day. forgets: weight of a run-through
    for each newer one. trust: how much one thought says, since those of a run-through stand and fall
    together. clump: words lost together. unseen: recall of a thought on a run-through before it was
    ever asked. offset, slope: of the final log-odds. stubborn: see `kept_to`.
    """

    prior: float = -1.5
    prior_spread: float = 1.8
    drift: float = 0.3
    per_run: float = 0.7
    forgets: float = 0.4
    clump: float = 4.0
    unseen: float = 0.1
    trust: float = 1.0
    offset: float = 1.1
    slope: float = 0.455
    stubborn: float = 1.0


SET = Constants()

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
_SHIFTS: Floats = np.linspace(-6.0, 5.0, 111)


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
    shown = 1 / (1 + (1 - recalls) / recalls * np.exp(-known.shift))
    order = np.argsort(shown, kind="stable")
    weak = tuple(Weak(items[k].unit, float(shown[k])) for k in order if shown[k] < 0.9)[:5]
    early = _too_early(items, runs, left, known.high - known.low)
    reason = early or _reason(weak, shown, known.shift, left, practice_rate, known.accuracy)
    chance = None if early else known.chance
    return Forecast(chance, known.low, known.high, reason, weak, known.accuracy)


def kept_to(recalls: Floats, keys: Sequence[int], past: Sequence[Past], set_: Constants = SET) -> Floats:
    """Hold the recalls down where a thought keeps going wrong.

    The schedule looks ahead as if every practice succeeded. A thought that has failed in three
    run-throughs or more on end, practised or not, will not be put right by one practice more.
    """
    fails = dict.fromkeys(keys, 0)
    ended: set[int] = set()
    for p in reversed(past):
        for t in p.thoughts:
            if t.key in fails and t.key not in ended:
                fails[t.key] += t.missed > 0
                if t.missed == 0:
                    ended.add(t.key)
    held = np.array([1 / max(1, fails[k] - 1) for k in keys])
    return np.asarray(np.clip(recalls * held**set_.stubborn, 0.02, 0.995))


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
    weights = _posterior(past, left, set_)
    failing = _failing(recalls)
    allowed = int(np.floor((1 - OFF_BOOK / 100) * sizes.sum() + 1e-9))
    chances = _at_most(allowed, failing, clump)
    low, high = (_scaled(c, set_) for c in _middle(chances, weights))
    lost = np.minimum(sizes, clump) @ failing
    accuracy = 1 - float(weights @ lost) / float(sizes.sum())
    return Known(_scaled(float(weights @ chances), set_), low, high, float(weights @ _SHIFTS), accuracy)


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


def _failing(recalls: Floats) -> Floats:
    """Chance of each thought to lose words, for each shift: thoughts by shifts."""
    odds = np.log(recalls / (1 - recalls))[:, None] + _SHIFTS[None, :]
    return np.asarray(1 / (1 + np.exp(odds)))


def _clump(past: Sequence[Past], set_: Constants) -> float:
    """Words lost at a time: this performer's, drawn towards what is usual while little is known."""
    missed, clumps = sum(p.missed for p in past), sum(p.clumps for p in past)
    return float((set_.clump * 3 + missed) / (3 + clumps))


def _posterior(past: Sequence[Past], left: int, set_: Constants) -> Floats:
    """Weights of the shifts, from which thoughts came clean against what was foretold."""
    log = -((_SHIFTS - set_.prior) ** 2) / (2 * set_.prior_spread**2)
    for age, p in enumerate(reversed(past)):
        told = [set_.unseen if t.foretold is None else t.foretold for t in p.thoughts]
        failing = _failing(np.clip(told, 0.02, 0.995))
        failed = np.array([t.missed > 0 for t in p.thoughts])
        fit = np.log(failing[failed]).sum(axis=0) + np.log(1 - failing[~failed]).sum(axis=0)
        log = log + set_.trust * set_.forgets**age * fit
    weights = np.exp(log - log.max())
    spread = np.sqrt(set_.per_run**2 + set_.drift**2 * left / 7)
    apart = _SHIFTS[:, None] - _SHIFTS[None, :]
    weights = np.exp(-(apart**2) / (2 * spread**2)) @ weights
    return np.asarray(weights / weights.sum())


def _at_most(allowed: int, failing: Floats, clump: float) -> Floats:
    """P(no more than `allowed` words lost) for each shift.

    The number of failing thoughts is Poisson-binomial (added up one thought after the other); the
    words that k of them lose are negative binomial, k at least.
    """
    count = np.zeros((allowed + 1, failing.shape[1]))
    count[0] = 1.0
    for f in failing:
        more = np.vstack([np.zeros_like(count[:1]), count[:-1]])
        count = count * (1 - f) + more * f
    stop = 1 / max(clump, 1.0)
    within = [
        sum(comb(s - 1, k - 1) * stop**k * (1 - stop) ** (s - k) for s in range(k, allowed + 1)) if k else 1.0
        for k in range(allowed + 1)
    ]
    return np.asarray(np.array(within) @ count)


def _scaled(chance: float, set_: Constants) -> float:
    """Draw a chance in towards what came true of the simulated learners (logistic recalibration)."""
    p = min(1 - 1e-4, max(1e-4, chance))
    return float(1 / (1 + np.exp(-(set_.offset + set_.slope * np.log(p / (1 - p))))))


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
    if left:
        ahead = f"the {left} days" if left != 1 else "the one day"
        parts.append(f"if you practise in {ahead} left as lately, {rate * 7:.0f} days in 7")
    parts.append(f"about {accuracy:.1%} of the words expected")
    return "; ".join(parts)
