"""The forecast: how likely a run-through on the date keeps 98 % of the words, and why.

It begins with the recall that FSRS predicts for each thought on the date, if practice goes on as it has
lately. Then comes this performer's own habit of doing better or worse than FSRS predicts: one shift of the
log-odds, with a prior, learnt by comparing which thoughts their run-throughs kept with what had been
predicted. A thought is either clean or loses some words; their number is geometric, with about as many as
this performer usually loses at a time. The chance is that of losing no more than 2 % over all thoughts,
averaged over all values of the shift. Where nearly every answer is still possible, it is too early to say.

The constants were set on simulated learners of three families (`bench/forecast.py`) and tested on new
learners and on a fourth family with another rule of forgetting; the bench prints the calibration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import comb

import numpy as np

from offbook.moment import local_day
from offbook.phrasing import PERCENT
from offbook.progress.history import OFF_BOOK, is_clean
from offbook.records import RunRow, Unit
from offbook.schedule import Item, day_due, recall_after, review_on
from offbook.score import accuracy_share, chance_as_text

# Before so many run-throughs, on so many days, and so large a share of the thoughts asked for, it is too
# early to say; set by hand.
EARLIEST_RUNS, EARLIEST_DAYS, SEEN = 2, 2, 0.5
# The share left out of the range of accuracies at each end: eight in a hundred and not ten, because learners
# with another rule of forgetting vary more than the forecast assumes (bench/forecast_coverage.py).
TAIL = 0.08
# How far the true chance is from the predicted one (a standard deviation, in log-odds), by the number of
# run-throughs, the last for four or more; fitted to 10 lives each of 320 simulated learners
# (bench/forecast_coverage.py --fit).
SPREAD = {2: 1.7, 3: 1.5, 4: 1.4}
EIGHT_IN_TEN = 1.2816  # standard deviations of a normal distribution to either side that hold 80 %
# Set by hand.
OPEN = 0.9  # where the range of the chance is wider than this, it is too early to say
# In so many run-throughs in a row up to so many words of a thought were lost, each time as many: that is a
# habit or a mishearing, not memory.
STEADY_RUNS, STEADY_WORDS = 2, 2
_SAFE = 0.9  # chance of a thought on the date from which it counts as safe
_WEAK_SHOWN = 5  # thoughts that are not safe that are named
# Log-odds between what the drills predicted and how run-throughs went that are worth a sentence.
_SHIFTED = 0.5
_SOON = 2  # days before the date from which a forecast is given however wide its range is
_LEAST_RECALL, _MOST_RECALL = 0.02, 0.995  # of a thought: nothing is surely lost, and nothing surely kept
_PRIOR_CLUMPS = 3  # times of losing words that the usual number of words counts as
_SURE = 1e-4  # a chance so near 0 or 1 is as good as that: log-odds need some distance
_ROUNDING = 1e-9  # added to a number of words before it is cut to a whole one
_WEEK = 7  # days


@dataclass(frozen=True, slots=True)
class Constants:
    """What the forecast assumes of a performer at first; set on simulated learners (bench/forecast.py).

    prior, prior_spread: mean and standard deviation of the shift, in log-odds; drift: how far the shift moves
    in a week; per_run: how far one run-through differs from the next; forgets: by what a run-through's weight
    is multiplied for each newer one; trust: the weight of one thought, as those of one run-through rise and
    fall together; clump: words lost at a time; unseen: recall of a thought in a run-through before it was
    ever asked for; offset, slope: of the final log-odds; stubborn: see `held_down`.
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
# Log-odds: the values of the shift that are averaged over, set by hand.
_SHIFTS: Floats = np.linspace(-6.0, 5.0, 111)


@dataclass(frozen=True, slots=True)
class PastThought:
    """One thought in an earlier run-through. foretold: its predicted recall, None where it was new."""

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
    """A thought that is not predicted to be safe on the date."""

    unit: Unit
    recall: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """The forecast of a piece for its date.

    chance: of saying 98 % of the words then, None where it is too early to say; low, high: the range in which
    the true chance lies eight times in ten; reason: a sentence for people; weak: the thoughts that are not
    safe, the weakest first; expected_accuracy: share of the words on the date; accuracy_low, accuracy_high:
    the range in which it lies eight times in ten.
    """

    chance: float | None
    low: float
    high: float
    reason: str
    weak: tuple[Weak, ...]
    expected_accuracy: float
    accuracy_low: float
    accuracy_high: float


def forecast(
    items: Sequence[Item],
    runs: Sequence[RunRow],
    past: Sequence[Past],
    today: date,
    practice_rate: float,
) -> Forecast:
    """The forecast for the date of `items` (all of one piece, with a date).

    runs, past: the newest run-throughs, oldest first, and the same thought by thought; practice_rate: the
    share of the last days on which the performer practised, 0 to 1. Raises ValueError where `items` have no
    date.
    """
    due = items[0].date
    if due is None:
        raise ValueError("a forecast needs a date")
    left = max(0, (due - today).days)
    aloud = _run_rate(runs, today)
    recalls = np.array([_recall_on(item, today, due, practice_rate, aloud) for item in items])
    keys = [i.unit.key for i in items]
    sizes = np.array([item.unit.words for item in items], float)
    known = _never_lowered(recalls, keys, sizes, runs, past, left)
    recalls = held_down(recalls, keys, past)
    shown = 1 / (1 + (1 - recalls) / recalls * np.exp(-known.shift))
    order = np.argsort(shown, kind="stable")
    weak = tuple(Weak(items[k].unit, float(shown[k])) for k in order if shown[k] < _SAFE)[:_WEAK_SHOWN]
    early = _too_early(items, runs, left, known.high - known.low)
    reason = early or _reason(weak, shown, known.shift, left, practice_rate, known.accuracy)
    chance = None if early else known.chance
    return Forecast(
        chance,
        known.low,
        known.high,
        reason,
        weak,
        known.accuracy,
        known.accuracy_low,
        known.accuracy_high,
    )


def _never_lowered(
    recalls: Floats,
    keys: Sequence[int],
    sizes: Floats,
    runs: Sequence[RunRow],
    past: Sequence[Past],
    left: int,
) -> Known:
    """The chance after all run-throughs. One that is as good as the one before it never lowers the chance."""
    known = spread_of(recalls, keys, sizes, past, left)
    if len(runs) <= EARLIEST_RUNS or not _as_good(runs[-1], runs[-2]):
        return known
    before = _never_lowered(recalls, keys, sizes, runs[:-1], past[:-1], left)
    return known if known.chance >= before.chance else raised(known, before.chance, len(past))


def _as_good(new: RunRow, old: RunRow) -> bool:
    """Whether a run-through is better than the one before it, or equally good and clean."""
    if new.prompts > old.prompts or new.accuracy < old.accuracy:
        return False
    return new.accuracy > old.accuracy or is_clean(new)


def steady_slips(past: Sequence[Past]) -> dict[int, int]:
    """The thoughts that lost as many words in each of the last run-throughs, one or two, and how many.

    That is a habit or a mishearing, not memory: these words count as lost, and nothing else is learnt from
    them.
    """
    found: dict[int, int] = {}
    for t in past[-1].thoughts if past else ():
        lately = [x.missed for p in past[-STEADY_RUNS:] for x in p.thoughts if x.key == t.key]
        if len(lately) == STEADY_RUNS and 0 < t.missed <= STEADY_WORDS and len(set(lately)) == 1:
            found[t.key] = t.missed
    return found


def held_down(recalls: Floats, keys: Sequence[int], past: Sequence[Past], set_: Constants = SET) -> Floats:
    """The recalls, lower where a thought goes wrong again and again.

    The schedule looks ahead as if every practice succeeded. But a thought that has failed in three
    run-throughs in a row or more, practised or not, is not put right by one more practice.
    """
    fails = dict.fromkeys(keys, 0)
    ended: set[int] = set(steady_slips(past))
    for p in reversed(past):
        for t in p.thoughts:
            if t.key in fails and t.key not in ended:
                fails[t.key] += t.missed > 0
                if t.missed == 0:
                    ended.add(t.key)
    held = np.array([1 / max(1, fails[k] - 1) for k in keys])
    return np.asarray(np.clip(recalls * held**set_.stubborn, _LEAST_RECALL, _MOST_RECALL))


@dataclass(frozen=True, slots=True)
class Known:
    """What the run-throughs say of the date.

    chance, low, high: of 98 % of the words, and the range in which it lies eight times in ten; shift: the
    performer's most likely one, in log-odds; accuracy, accuracy_low, accuracy_high: the share of the words,
    and its range.
    """

    chance: float
    low: float
    high: float
    shift: float
    accuracy: float
    accuracy_low: float
    accuracy_high: float


def spread_of(
    recalls: Floats,
    keys: Sequence[int],
    sizes: Floats,
    past: Sequence[Past],
    left: int,
    set_: Constants = SET,
) -> Known:
    """The chance of 98 % of the words. recalls: as FSRS predicts them; sizes: words of each thought."""
    steady = steady_slips(past)
    clump = _clump(past, set_)
    weights = _posterior(past, left, set_, frozenset(steady))
    free = np.array([k not in steady for k in keys])
    failing = _failing(held_down(recalls, keys, past, set_)[free])
    total, gone = float(sizes.sum()), sum(steady.get(k, 0) for k in keys)
    allowed = int(np.floor((1 - OFF_BOOK / PERCENT) * total + _ROUNDING)) - gone
    chances = _at_most(allowed, failing, clump) if allowed >= 0 else np.zeros(len(_SHIFTS))
    lost = np.minimum(sizes[free], clump) @ failing
    accuracy = 1 - (float(weights @ lost) + gone) / total
    few, many = _lost_between(failing, weights, clump, int(total))
    chance = _scaled(float(weights @ chances), set_)
    low, high = between(chance, len(past))
    return Known(
        chance,
        low,
        high,
        float(weights @ _SHIFTS),
        accuracy,
        max(0.0, 1 - (many + gone) / total),
        max(0.0, 1 - (few + gone) / total),
    )


def between(chance: float, runs: int) -> tuple[float, float]:
    """The range in which the true chance lies eight times in ten, after so many run-throughs."""
    far = EIGHT_IN_TEN * SPREAD[min(max(runs, min(SPREAD)), max(SPREAD))]
    odds = float(np.log(chance / (1 - chance)))
    return 1 / (1 + float(np.exp(far - odds))), 1 / (1 + float(np.exp(-far - odds)))


def raised(known: Known, chance: float, runs: int) -> Known:
    """The same with a higher chance, and its range."""
    low, high = between(chance, runs)
    return replace(known, chance=chance, low=low, high=high)


def _run_rate(runs: Sequence[RunRow], today: date) -> float:
    """The share of the days since the first of these run-throughs on which there was one."""
    days = {r.day for r in runs}
    return len(days) / ((today - min(days)).days + 1) if days else 0.0


def _days_before(due: date, today: date, rate: float) -> set[date]:
    """The days between today and the date on which somebody practises who does so at this rate.

    They are counted back from the date, so that the last of them does not depend on which day it is now.
    """
    if rate <= 0:
        return set()
    step = 1 / min(1.0, rate)
    return {due - timedelta(days=round(n * step)) for n in range(1, 1 + int((due - today).days / step))}


def _recall_on(item: Item, today: date, due: date, rate: float, aloud: float) -> float:
    """Recall of a thought on the date if drills go on at `rate`, run-throughs at `aloud`, and all succeed."""
    said = _days_before(due, today, aloud)
    for day in sorted(said | _days_before(due, today, rate)):
        back = day_due(item, day)
        if item.memory is None or day in said or (back is not None and back <= day):
            item = item.remembered(review_on(item, day))
    if item.memory is None or item.memory.last_review is None:
        return _LEAST_RECALL
    last = local_day(item.memory.last_review, item.zone)
    return min(_MOST_RECALL, max(_LEAST_RECALL, recall_after(item.memory, max(0, (due - last).days))))


def _failing(recalls: Floats) -> Floats:
    """The chance that each thought loses words, for each shift: an array of thoughts by shifts."""
    odds = np.log(recalls / (1 - recalls))[:, None] + _SHIFTS[None, :]
    return np.asarray(1 / (1 + np.exp(odds)))


def _clump(past: Sequence[Past], set_: Constants) -> float:
    """Words that this performer loses at a time; nearer to the usual number while little is known."""
    missed, clumps = sum(p.missed for p in past), sum(p.clumps for p in past)
    return float((set_.clump * _PRIOR_CLUMPS + missed) / (_PRIOR_CLUMPS + clumps))


def _posterior(past: Sequence[Past], left: int, set_: Constants, steady: frozenset[int]) -> Floats:
    """The weights of the shifts: how well each explains which thoughts were clean and which were not."""
    log = -((_SHIFTS - set_.prior) ** 2) / (2 * set_.prior_spread**2)
    for age, p in enumerate(reversed(past)):
        counted = [t for t in p.thoughts if t.key not in steady]
        if not counted:
            continue
        told = [set_.unseen if t.foretold is None else t.foretold for t in counted]
        failing = _failing(np.clip(told, _LEAST_RECALL, _MOST_RECALL))
        failed = np.array([t.missed > 0 for t in counted])
        fit = np.log(failing[failed]).sum(axis=0) + np.log(1 - failing[~failed]).sum(axis=0)
        log = log + set_.trust * set_.forgets**age * fit
    weights = np.exp(log - log.max())
    spread = np.sqrt(set_.per_run**2 + set_.drift**2 * left / _WEEK)
    apart = _SHIFTS[:, None] - _SHIFTS[None, :]
    weights = np.exp(-(apart**2) / (2 * spread**2)) @ weights
    return np.asarray(weights / weights.sum())


def _at_most(allowed: int, failing: Floats, clump: float) -> Floats:
    """The probability that no more than `allowed` words are lost, for each shift.

    The number of thoughts that fail is Poisson-binomial (worked out one thought after the other); the number
    of words that k of them lose is negative binomial, and at least k.
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


def _lost_between(failing: Floats, weights: Floats, clump: float, total: int) -> tuple[int, int]:
    """The tenth and the ninetieth percentile of the words lost, over everything the shift may be."""
    count = np.zeros((len(failing) + 1, failing.shape[1]))
    count[0] = 1.0
    for f in failing:
        more = np.vstack([np.zeros_like(count[:1]), count[:-1]])
        count = count * (1 - f) + more * f
    fails = count @ weights  # of so many thoughts
    words = _negative_binomial(len(fails) - 1, total, 1 / max(clump, 1.0))
    below = np.cumsum(fails @ words)
    few = int(np.searchsorted(below, TAIL))
    return min(few, total), min(int(np.searchsorted(below, 1 - TAIL)), total)


def _negative_binomial(most: int, total: int, stop: float) -> Floats:
    """The probability that k thoughts lose w words: an array of k, 0 to `most`, by w, 0 to `total`."""
    out = np.zeros((most + 1, total + 1))
    out[0, 0] = 1.0
    one = np.zeros(total + 1)
    one[1:] = stop * (1 - stop) ** np.arange(total)
    for k in range(1, most + 1):
        out[k] = np.convolve(out[k - 1], one)[: total + 1]
    return out


def _scaled(chance: float, set_: Constants) -> float:
    """Correct a chance by how often it came true of the simulated learners (logistic recalibration)."""
    p = min(1 - _SURE, max(_SURE, chance))
    return float(1 / (1 + np.exp(-(set_.offset + set_.slope * np.log(p / (1 - p))))))


def _too_early(items: Sequence[Item], runs: Sequence[RunRow], left: int, width: float) -> str | None:
    days = len({r.day for r in runs})
    if len(runs) < EARLIEST_RUNS or days < EARLIEST_DAYS:
        need = f"{EARLIEST_RUNS} run-throughs on {EARLIEST_DAYS} days"
        there = f"is {len(runs)}" if len(runs) == 1 else f"are {len(runs) or 'none'}"
        one_day = ", all on one day" if len(runs) > 1 and days == 1 else ""
        return f"too early to say: it takes {need}, and so far there {there}{one_day}"
    seen = sum(i.memory is not None for i in items) / len(items)
    if seen < SEEN:
        return f"too early to say: only {chance_as_text(seen)} of the thoughts have been asked so far"
    if width > OPEN and left > _SOON:
        return "too early to say: what has been measured so far fits both a safe and an unsafe date"
    return None


def _reason(
    weak: Sequence[Weak], shown: Floats, shift: float, left: int, rate: float, accuracy: float
) -> str:
    safe = int((shown >= _SAFE).sum())
    parts = [f"{safe} of {len(shown)} thoughts are foretold at 90 % or more on the date"]
    if weak:
        parts.append(f"the weakest begins “{weak[0].unit.opening}” ({chance_as_text(weak[0].recall)})")
    if shift < -_SHIFTED:
        parts.append("run-throughs have gone worse than the drills foretold")
    elif shift > _SHIFTED:
        parts.append("run-throughs have gone better than the drills foretold")
    if left:
        ahead = f"the {left} days" if left != 1 else "the one day"
        parts.append(f"if you practise in {ahead} left as lately, {rate * _WEEK:.0f} days in {_WEEK}")
    parts.append(f"about {accuracy_share(accuracy)} of the words expected")
    return "; ".join(parts)
