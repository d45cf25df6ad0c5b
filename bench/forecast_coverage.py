"""Does a range that says "eight in ten" hold the true value eight times in ten? Tested on simulated
learners.

The learners of `bench/forecast.py` practise as they do there. On the evening of their second, third and
fourth run-through the forecast is made. Then the rest of their time is simulated several times with other
random numbers, each time until the date. This gives what happened (the accuracy on the date) and, counted
over the simulations, how likely 98 % of the words really was. For each number of run-throughs it prints:

    accuracy   how often the accuracy on the date was within the stated range, and how wide the range was
    chance     how often the true chance was within the stated range, and how wide that was

The true chance of a learner is only known from a few simulations, so chance spreads its log-odds; this is
taken out before the share within the range is counted (a learner's hits are weighed over the range by the
beta distribution that they allow, with a flat prior). The widths are fitted to some families and printed
for the one that is left out; --fit prints what they would be set to.

    python bench/forecast_coverage.py [--learners N] [--lives N] [--seed FIRST] [--fit]
"""

from __future__ import annotations

import argparse
import copy
import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from forecast import START, Diary, Learner, _drill, _forecast, _run, learner

from offbook.records import Unit

RUNS = (2, 3, 4)


@dataclass(frozen=True)
class Case:
    """A forecast after `runs` run-throughs, and what happened on the date in each simulation."""

    family: str
    runs: int
    left: int
    early: bool
    chance: float
    low: float
    high: float
    accuracy_low: float
    accuracy_high: float
    expected: float
    lives: tuple[float, ...]

    @property
    def hits(self) -> int:
        """The number of simulations in which the run-through on the date was clean."""
        return sum(a >= 0.98 for a in self.lives)


def live(who: Learner, diary: Diary, first: int) -> float:
    """Simulate the remaining days; returns the accuracy on the date."""
    for d in range(first, who.days):
        _a_day(who, diary, d)
    missed = sum(who.attempt(u.key, who.days + 0.4, 0) for u in diary.units)
    return 1 - missed / sum(who.sizes)


def _a_day(who: Learner, diary: Diary, d: int) -> None:
    day = START + timedelta(days=d)
    if who.dice.random() < who.diligence:
        diary.practised.append(day)
        _drill(who, diary, day, d)
        if who.dice.random() < 0.5 and len(diary.memories) >= len(diary.units) * 0.6:
            _run(who, diary, day, d)


def cases(who: Learner, lives: int) -> list[Case]:
    """The forecasts after the second, the third and the fourth run-through."""
    edges = [sum(who.sizes[:k]) for k in range(len(who.sizes) + 1)]
    units = [Unit(n, n, edges[n], edges[n + 1] - 1, f"thought {n + 1}") for n in range(len(who.sizes))]
    diary = Diary(units, START + timedelta(days=who.days))
    out, done = [], 0
    for d in range(who.days):
        _a_day(who, diary, d)
        if len(diary.runs) == done:
            continue
        done = len(diary.runs)
        if done in RUNS and d + 1 < who.days:
            told = _forecast(diary, START + timedelta(days=d))
            came = []
            for life in range(lives):
                other, pages = copy.deepcopy((who, diary))
                other.dice = random.Random(f"{who.family}-{d}-{life}-{who.sizes}")
                came.append(live(other, pages, d + 1))
            out.append(
                Case(
                    who.family,
                    done,
                    who.days - d,
                    told.chance is None,
                    told.expected_accuracy if told.chance is None else told.chance,
                    told.low,
                    told.high,
                    told.accuracy_low,
                    told.accuracy_high,
                    told.expected_accuracy,
                    tuple(came),
                )
            )
    return out


def within_beta(low: float, high: float, hits: int, lives: int) -> float:
    """How much of the beta distribution that the hits allow (flat prior) is between two chances."""
    grid = np.linspace(0.0005, 0.9995, 1000)
    weight = grid**hits * (1 - grid) ** (lives - hits)
    inside = (grid >= low) & (grid <= high)
    return float(weight[inside].sum() / weight.sum())


def table(found: Sequence[Case]) -> str:
    """How often both ranges held, and how wide they were, by the number of run-throughs."""
    rows = ["runs  forecasts  too early   accuracy within  width   chance within  width"]
    for runs in RUNS:
        group = [c for c in found if c.runs == runs]
        said = [c for c in group if not c.early]
        if not said:
            continue
        acc = np.mean([np.mean([c.accuracy_low <= a <= c.accuracy_high for a in c.lives]) for c in said])
        wide = np.mean([c.accuracy_high - c.accuracy_low for c in said])
        chance = np.mean([within_beta(c.low, c.high, c.hits, len(c.lives)) for c in said])
        span = np.mean([c.high - c.low for c in said])
        early = 1 - len(said) / len(group)
        rows.append(
            f"{runs:4}  {len(said):9}  {early:9.0%}   {acc:15.1%}  {wide:5.1%}   {chance:13.1%}  {span:5.1%}"
        )
    return "\n".join(rows)


def main() -> None:
    """Print this for each family and for all together."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--learners", type=int, default=60)
    parser.add_argument("--lives", type=int, default=12)
    parser.add_argument("--families", nargs="+", default=["halving", "power", "words", "plateau"])
    parser.add_argument("--seed", type=int, default=9000)
    a = parser.parse_args()
    every: list[Case] = []
    for family in a.families:
        found = [c for k in range(a.learners) for c in cases(learner(family, a.seed + k), a.lives)]
        print(family)
        print(table(found))
        every += found
    print("all")
    print(table(every))


if __name__ == "__main__":
    main()
