"""Is a forecast of 70 % right seven times in ten? The forecast is tested on simulated learners.

Learners who forget by a known rule learn a speech until a date. They practise on some days and not on
others, do the drills that the schedule asks for, run through the speech, and are asked on the date. The
forecast gets only what the journal would have: ratings, run-throughs, days. Four families of learners
forget by four rules, none of which is the scheduler's own:

    halving   each thought has a half-life, which every recall after a pause makes longer (exponential forgetting)
    power     recall falls as a power of time; a recall helps more the nearer the thought was to being lost
    words     every word has a half-life of its own; a thought fails word by word
    plateau   recall falls fast, but only to a level that every recall after a pause raises

One thought in ten is stubborn: practice hardly helps it, as every performer knows of some line.

The constants of the forecast were fitted to 300 learners of each of the first three families (seeds 0 to
299). The table is made with learners of other seeds, and with "plateau", to whose rule nothing was fitted.

    python bench/forecast.py [--learners N] [--seed FIRST]
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

from offbook.progress import forecast as pf
from offbook.records import Memory, RunRow, Unit
from offbook.schedule import MOST_HELP, Item, plan, rating_of, recall_at, review

START = date(2026, 3, 2)
ZONE = "UTC"


@dataclass
class Learner:
    """Somebody who forgets by a known rule. strength: half-lives in days, of each thought or word."""

    family: str
    dice: random.Random
    sizes: list[int]
    days: int
    diligence: float
    minutes: float
    growth: float = 2.0
    first: float = 1.0
    slip: float = 0.004
    strength: list[list[float]] = field(default_factory=list)
    last: list[float] = field(default_factory=list)
    asked: list[int] = field(default_factory=list)
    stubborn: list[bool] = field(default_factory=list)

    def recall(self, unit: int, at: float) -> list[float]:
        """The true chance of each word of a thought at `at` (days).

        It is the same for all words of a thought, except in the family "words".
        """
        if self.last[unit] < 0:
            return [0.0] * len(self.strength[unit])
        t = at - self.last[unit]
        if self.family == "plateau":
            floor = min(0.9, 0.08 * self.asked[unit])
            return [floor + (1 - floor) * float(2 ** (-2 * t / s)) for s in self.strength[unit]]
        if self.family == "power":
            return [(1 + t / (4 * s)) ** -1.2 for s in self.strength[unit]]
        return [float(2 ** (-t / s)) for s in self.strength[unit]]

    def attempt(self, unit: int, at: float, help_: int) -> int:
        """Ask the thought with `help_`: how many words were missed. The learner learns from it."""
        chances = [p + (1 - p) * (0.0, 0.25, 0.55, 0.85)[help_] for p in self.recall(unit, at)]
        n = self.sizes[unit]
        if self.family == "words":
            lost = [self.dice.random() >= p for p in chances]
            missed = sum(lost)
        else:
            gone = self.dice.random() >= chances[0]
            missed = max(1, round(n * self.dice.betavariate(1.2, 2.0))) if gone else 0
            lost = [gone]
        missed += sum(self.dice.random() < self.slip for _ in range(n - missed))
        self._learn(unit, at, lost, chances)
        return missed

    def _learn(self, unit: int, at: float, lost: list[bool], chances: list[float]) -> None:
        spaced = self.last[unit] < 0 or at - self.last[unit] > 0.3
        for k, gone in enumerate(lost):
            s = self.strength[unit][k]
            if gone:
                s = max(self.first * 0.7, s * 0.6)
            elif spaced:
                gain = (self.growth - 1) * (0.15 if self.stubborn[unit] else 1.0)
                s *= 1 + gain * (2 * (1 - chances[k]) + 0.3 if self.family == "power" else 1)
            else:
                s *= 1.05
            self.strength[unit][k] = min(s, 200.0)
        self.last[unit] = at
        self.asked[unit] += spaced


def learner(family: str, seed: int) -> Learner:
    """A learner of the family, with abilities, habits, a speech and a date chosen at random."""
    dice = random.Random(f"{family}-{seed}")
    sizes = [dice.randint(5, 20) for _ in range(dice.randint(8, 30))]
    first = dice.lognormvariate(0.3, 0.6) * (4 if family == "words" else 1)
    made = Learner(
        family,
        dice,
        sizes,
        days=dice.randint(6, 28),
        diligence=dice.uniform(0.35, 1.0),
        minutes=dice.choice([10.0, 15.0, 20.0, 30.0]),
        growth=dice.uniform(1.4, 3.0),
        first=first,
        slip=dice.choice([0.0, 0.001, 0.003, 0.006]),
    )
    for n in sizes:
        own = [first * dice.lognormvariate(0, 0.5) for _ in range(n if family == "words" else 1)]
        made.strength.append(own)
        made.last.append(-1.0)
        made.asked.append(0)
        made.stubborn.append(dice.random() < 0.1)
    return made


@dataclass
class Told:
    """One forecast, and what happened on the date."""

    family: str
    left: int
    chance: float | None
    came: bool
    expected: float
    accuracy: float


@dataclass
class Diary:
    """What the journal would know about a learner."""

    units: list[Unit]
    due: date
    memories: dict[int, Memory] = field(default_factory=dict)
    runs: list[RunRow] = field(default_factory=list)
    past: list[pf.Past] = field(default_factory=list)
    practised: list[date] = field(default_factory=list)

    def items(self) -> list[Item]:
        """The thoughts as the schedule sees them."""
        return [Item("p", u, self.memories.get(u.key), self.due, ZONE, u.words * 1.5 + 6) for u in self.units]


def moment(day: date, hour: float) -> datetime:
    """A moment of that day, in UTC."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hour)


def simulate(who: Learner) -> list[Told]:
    """The whole time of a learner until the date, with up to four forecasts on the way."""
    edges = [sum(who.sizes[:k]) for k in range(len(who.sizes) + 1)]
    units = [Unit(n, n, edges[n], edges[n + 1] - 1, f"thought {n + 1}") for n in range(len(who.sizes))]
    diary = Diary(units, START + timedelta(days=who.days))
    later = range(max(1, who.days // 3), who.days)
    asked_on = set(who.dice.sample(later, min(4, len(later))))
    told: list[tuple[int, pf.Forecast]] = []
    for d in range(who.days):
        day = START + timedelta(days=d)
        if d in asked_on:
            told.append((who.days - d, _forecast(diary, day)))
        if who.dice.random() < who.diligence:
            diary.practised.append(day)
            _drill(who, diary, day, d)
            if who.dice.random() < 0.5 and len(diary.memories) >= len(units) * 0.6:
                _run(who, diary, day, d)
    missed = sum(who.attempt(u.key, who.days + 0.4, 0) for u in units)
    accuracy = 1 - missed / edges[-1]
    return [
        Told(who.family, left, f.chance, accuracy >= 0.98, f.expected_accuracy, accuracy) for left, f in told
    ]


def _forecast(diary: Diary, day: date) -> pf.Forecast:
    first = START
    span = max(1, min(14, (day - first).days))
    rate = sum((day - p).days <= span for p in diary.practised) / span
    last = diary.runs[-10:]
    return pf.forecast(diary.items(), last, diary.past[-10:], day, max(0.05, min(1.0, rate)))


def _drill(who: Learner, diary: Diary, day: date, d: int) -> None:
    at = 0.5
    for task in plan(diary.items(), day, who.minutes, 1)[0].tasks:
        key = task.unit.key
        for _ in range(4):
            at += 0.01
            m = diary.memories.get(key)
            help_ = 2 if m is None else m.help
            if m is None:
                who.last[key] = d + at  # the first look
            missed = who.attempt(key, d + at, help_)
            rating = rating_of(task.unit.words - missed, task.unit.words, help_=help_)
            if rating:
                diary.memories[key] = review(m, "p", key, rating, moment(day, at * 24))
            elif m is not None and help_ == MOST_HELP:
                diary.memories[key] = replace(m, help=MOST_HELP - 1)
            if missed == 0 and (m is not None or rating > 1):
                break


def _run(who: Learner, diary: Diary, day: date, d: int) -> None:
    at = moment(day, 0.8 * 24)
    missed, thoughts = 0, []
    for u in diary.units:
        m = diary.memories.get(u.key)
        gone = who.attempt(u.key, d + 0.8, 0) if m is not None else u.words
        missed += gone
        thoughts.append(pf.PastThought(u.key, u.words, gone, None if m is None else recall_at(m, at)))
        if m is not None or gone < u.words:
            diary.memories[u.key] = review(m, "p", u.key, rating_of(u.words - gone, u.words), at)
    total = sum(u.words for u in diary.units)
    diary.runs.append(
        RunRow(
            f"r{d}",
            "p",
            "v",
            None,
            at,
            day,
            ZONE,
            None,
            60.0,
            50.0,
            total,
            total - missed,
            0,
            0,
            missed,
            0,
            0,
        )
    )
    diary.past.append(pf.Past(tuple(thoughts)))


def table(told: Sequence[Told]) -> str:
    """The calibration as text: what was forecast, how often it came true, and how many forecasts."""
    said = [t for t in told if t.chance is not None]
    rows = ["foretold      mean   came true   forecasts"]
    for low in range(0, 100, 10):
        group = [t for t in said if t.chance is not None and low <= min(99.9, t.chance * 100) < low + 10]
        if group:
            mean = sum(t.chance or 0 for t in group) / len(group)
            came = sum(t.came for t in group) / len(group)
            rows.append(f"{low:3}-{low + 10:3} %   {mean:6.1%}   {came:9.1%}   {len(group):9}")
    return "\n".join(rows)


def figures(told: Sequence[Told]) -> str:
    """The Brier score, that of the base rate alone, the calibration error, and how often it was too early."""
    said = [(t.chance, t.came) for t in told if t.chance is not None]
    base = sum(came for _, came in said) / len(said)
    brier = sum((c - came) ** 2 for c, came in said) / len(said)
    flat = base * (1 - base)
    error = 0.0
    for low in range(10):
        group = [(c, came) for c, came in said if low / 10 <= min(0.999, c) < (low + 1) / 10]
        if group:
            gap = abs(sum(c for c, _ in group) - sum(came for _, came in group))
            error += gap / len(said)
    early = 1 - len(said) / len(told)
    return (
        f"{len(said)} forecasts, came true {base:.1%}, Brier {brier:.3f} (base rate alone {flat:.3f}), "
        f"calibration error {error:.1%}, too early {early:.0%}"
    )


def main() -> None:
    """Print the calibration of the forecast for each family."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--learners", type=int, default=300)
    parser.add_argument("--families", nargs="+", default=["halving", "power", "words", "plateau"])
    parser.add_argument("--seed", type=int, default=9000, help="first seed: other seeds, other learners")
    a = parser.parse_args()
    every: list[Told] = []
    for family in a.families:
        told = [t for k in range(a.learners) for t in simulate(learner(family, a.seed + k))]
        print(f"{family}: {figures(told)}")
        every += told
    print(table(every))
    print("all:", figures(every))


if __name__ == "__main__":
    main()
