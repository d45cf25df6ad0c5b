"""The plan: counted back from a deadline, what to do on each day until the recording is sent.

Sending comes a day before the deadline, because an upload can fail; before it a day to choose with fresh
ears, a spare day for a second set of takes, the takes, a day that spares the voice, and two days with a
run-through each, because off book means clean on two different days. What is left before them is for
learning, by the schedule's own reckoning: all begun by the first run-through, safe by the takes. Where
days are short, the plan gives up in this order: the quiet day, the spare takes, the day of its own for
choosing, the second run-through, the day of its own for the first; and it says so. The order and the
margins are common practice, no source. Full voice is kept under the performer's cap on every day.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil, floor
from typing import Literal

from offbook.errors import OffbookError
from offbook.report import day_name
from offbook.schedule import DayLoad, Item
from offbook.schedule import plan as loads_of

Kind = Literal["learn", "run", "quiet", "takes", "spare", "choose", "send"]

CLEAN_DAYS = 2  # of run-throughs, until a piece is off book
TAKES = 5  # of a piece on one day; common practice, no source
_MOST_RUNS = 3  # run-throughs of a piece on one day; common practice, no source
_VOICE_SHARE = 0.5  # of the cap that run-throughs may use: the rest is for whatever else the day holds
_AROUND = 1.25  # of its length that a take costs the voice: a false start now and then
_GIVEN_UP: dict[Kind, str] = {
    "quiet": "No day that spares the voice before the takes.",
    "spare": "No spare day for a second set of takes.",
    "choose": "No day of its own for choosing: rest your ears after the takes, then choose.",
}
MOST_DAYS = 1000  # further off, a slip in the year is likelier than a plan


class PlanError(OffbookError):
    """There is nothing to plan, or no time left."""


@dataclass(frozen=True, slots=True)
class Need:
    """A piece as the plan sees it. seconds: one run-through. clean_days: days on which a run-through was
    clean. items: its thoughts, as the schedule takes them."""

    piece: str
    seconds: float
    clean_days: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. minutes: about how long; voice: minutes of full voice within them."""

    kind: Kind
    what: str
    minutes: float
    voice: float = 0.0


@dataclass(frozen=True, slots=True)
class PlanDay:
    """A local day and its steps, in the order to do them."""

    day: date
    steps: tuple[Step, ...]

    @property
    def minutes(self) -> float:
        """What the day takes."""
        return sum(s.minutes for s in self.steps)

    @property
    def voice(self) -> float:
        """Minutes of full voice in it."""
        return sum(s.voice for s in self.steps)


@dataclass(frozen=True, slots=True)
class Plan:
    """The days with something to do, today first. short: what the days left do not allow, for people."""

    days: tuple[PlanDay, ...]
    short: tuple[str, ...]


def plan_back(
    needs: Sequence[Need],
    today: date,
    deadline: date,
    *,
    minutes_a_day: float,
    voice_minutes: float,
    takes: int = TAKES,
    minutes_done: float = 0.0,
    voice_used: float = 0.0,
    elsewhere: Mapping[date, float] | None = None,
) -> Plan:
    """The plan from `today` to the day before the local day `deadline`.

    minutes_done: minutes drilled today. voice_used: minutes of full voice used today; elsewhere: that other
    plans of the same performer want, by day. Raises PlanError where no piece is named, or the day is over or
    years away.
    """
    if not needs:
        raise PlanError(
            "the brief names no piece to plan for", 'add a line such as pieces = ["the_lamp"] to it'
        )
    if deadline < today:
        raise PlanError(f"the deadline, {deadline}, is over", "ask for a new one and put it into the brief")
    if (deadline - today).days > MOST_DAYS:
        raise PlanError(
            f"the deadline, {deadline}, is {(deadline - today).days} days away",
            "look at its year in the brief, or plan when it is nearer",
        )
    send = max(today, deadline - timedelta(days=1))
    roles, short = _roles((send - today).days + 1, needs)
    first_run = send - timedelta(days=len(roles) - 1 - _first(roles, "run"))
    safe_by = send - timedelta(days=len(roles) - 1 - _first(roles, "takes"))
    loads, untold = _learning(needs, today, first_run, safe_by, minutes_a_day, minutes_done)
    short += untold
    wanted = {today: voice_used}
    for day, minutes in (elsewhere or {}).items():
        wanted[day] = wanted.get(day, 0.0) + minutes
    caps = {day: max(0.0, voice_minutes - minutes) for day, minutes in wanted.items()}
    days = []
    for ahead in range((send - today).days + 1):
        day = today + timedelta(days=ahead)
        at = len(roles) - 1 - (send - day).days
        together = roles[at] if at >= 0 else ("learn",)
        steps = _steps(needs, together, caps.get(day, voice_minutes), takes)
        if day in loads and day < safe_by:
            steps = _learn(loads[day]) + steps
        if steps:
            days.append(PlanDay(day, tuple(steps)))
    short += _too_loud([(d, caps.get(d.day, voice_minutes)) for d in days], needs)
    return Plan(tuple(days), tuple(short))


def _roles(days: int, needs: Sequence[Need]) -> tuple[list[tuple[Kind, ...]], list[str]]:
    """What each of the last days is for, the day of sending last; and what had to be given up."""
    runs = max(1, CLEAN_DAYS - min(n.clean_days for n in needs))
    aloud: list[Kind] = ["run"] * runs
    order: list[Kind] = [*aloud, "quiet", "takes", "spare", "choose", "send"]
    short: list[str] = []
    for kind, said in _GIVEN_UP.items():
        if len(order) > days:
            order.remove(kind)
            short.append(said)
    while order.count("run") > 1 and len(order) > days:
        order.remove("run")
        short.append("Only one day of run-throughs before the takes: off book wants two.")
    roles: list[tuple[Kind, ...]] = [(kind,) for kind in order]
    while len(roles) > max(1, days):  # what is left goes together on one day, the last two first
        roles[0:2] = [roles[0] + roles[1]]
    if "choose" not in order:
        roles[-1] = tuple(
            k for kind in roles[-1] for k in (("choose", "send") if kind == "send" else (kind,))
        )
    if len(roles[0]) > 1 and "run" in roles[0] and "takes" in roles[0]:
        short.append("No day of its own for a run-through: run it once, rest, then take it.")
    return roles, short


def _first(roles: Sequence[tuple[Kind, ...]], kind: Kind) -> int:
    return next(n for n, together in enumerate(roles) if kind in together)


def _learning(
    needs: Sequence[Need],
    today: date,
    first_run: date,
    safe_by: date,
    minutes_a_day: float,
    done: float,
) -> tuple[dict[date, DayLoad], list[str]]:
    """The drills of each day up to the takes; and what cannot be begun by the first run-through."""
    items = [replace(item, date=safe_by) for need in needs for item in need.items]
    if not items or safe_by <= today:
        loads: tuple[DayLoad, ...] = ()
    else:
        loads = loads_of(items, today, minutes_a_day, (safe_by - today).days, done)
    new = sum(item.memory is None for item in items)
    begun = sum(task.why == "new" for load in loads if load.day < first_run for task in load.tasks)
    before = (first_run - today).days
    short = []
    if new > begun:
        many = f"{new - begun} of {len(items)} thoughts"
        if before <= 0:
            short.append(f"{many} are not begun yet, and no day is left that is for learning alone.")
        else:
            wanted = _minutes_to_begin(items, today, before, minutes_a_day)
            short.append(
                f"{many} cannot be begun by the first run-through at {minutes_a_day:g} minutes a day; "
                f"about {wanted} would do."
            )
    return {load.day: load for load in loads}, short


def _minutes_to_begin(items: Sequence[Item], today: date, days: int, too_few: float) -> int:
    """The least whole minutes a day with which everything is begun in `days` days from today."""
    new = sum(item.memory is None for item in items)
    low = floor(too_few)
    high = max(low + 1, ceil(max(load.minutes for load in loads_of(items, today, float("inf"), days)) + 1e-6))
    while high - low > 1:
        middle = (low + high) // 2
        loads = loads_of(items, today, middle, days)
        if sum(task.why == "new" for load in loads for task in load.tasks) < new:
            low = middle
        else:
            high = middle
    return high


def _learn(load: DayLoad) -> list[Step]:
    if not load.tasks:
        return []
    new = sum(task.why == "new" for task in load.tasks)
    again = len(load.tasks) - new
    parts = [f"{n} {word}" for n, word in ((new, "new"), (again, "to recall")) if n]
    return [Step("learn", f"drill: {', '.join(parts)}", load.minutes)]


def _steps(needs: Sequence[Need], together: tuple[Kind, ...], cap: float, takes: int) -> list[Step]:
    """The steps of a day besides the drills. cap: minutes of full voice left for it."""
    each = sum(need.seconds for need in needs) / 60  # every piece once through
    steps: list[Step] = []
    left = cap
    for kind in together:
        if kind == "run":
            steps.append(_run(needs, each, left, "takes" not in together))
        elif kind in ("takes", "spare"):
            steps.append(_takes(needs, kind, each, left, takes))
        elif kind == "choose":
            what = "check the takes against the brief and the text, and choose"
            steps.append(Step("choose", what, 10 + 3 * each))
        elif kind == "send":
            steps.append(Step("send", "send it, and see that it has arrived whole", 20))
        elif kind == "quiet":
            steps.append(Step("quiet", "spare the voice: drills typed, nothing at full voice", 0))
        left = max(0.0, cap - sum(step.voice for step in steps))
    return steps


def _run(needs: Sequence[Need], each: float, left: float, alone: bool) -> Step:
    """Run-throughs; before takes on the same day one, at full voice only where that leaves enough for one."""
    count = _fit(_VOICE_SHARE * left, each, _MOST_RUNS) if alone else 1
    voice = count * each if alone or left >= 2 * each else 0.0
    what = f"run {_pieces(needs)} through {_times(count)}{_rest(count)}"
    return Step("run", what if voice or not each else f"{what}, at half voice", 2 * count * each, voice)


def _takes(needs: Sequence[Need], kind: Kind, each: float, left: float, most: int) -> Step:
    """Takes; where the cap has no room for a false start, one without."""
    count = _fit(left, each * _AROUND, most)
    voice = min(count * each * _AROUND, max(left, each))
    what = f"{_pieces(needs)}: up to {count} take{'s' * (count != 1)}{' of each' * (len(needs) > 1)}"
    what += ", an intention for each" if kind == "takes" else ", only if none so far will do"
    return Step(kind, what + _rest(count), 2 * voice + 15, voice)


def _fit(minutes: float, each: float, most: int) -> int:
    """How often `each` goes into `minutes`, from once to `most` times."""
    return max(1, int(min(most, minutes / each))) if each > 0 else most


def _pieces(needs: Sequence[Need]) -> str:
    names = [need.piece for need in needs]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _rest(count: int) -> str:
    return ", a rest as long as each between them" if count > 1 else ""


def _too_loud(days: Sequence[tuple[PlanDay, float]], needs: Sequence[Need]) -> list[str]:
    """What to say where even once through is more than the voice may do. days: each with its cap."""
    over = [(day, cap) for day, cap in days if day.voice > cap + 1e-9]
    if not over:
        return []
    worst, cap = max(over, key=lambda found: found[0].voice - found[1])
    more = len(over) - 1
    who = day_name(worst.day)
    who += f" and {more} more day{'s' * (more > 1)} need up to" if more else " needs"
    needed, left = ceil(10 * worst.voice) / 10, floor(10 * cap) / 10  # so that more always reads as more
    return [
        f"{who} {needed:g} minutes of full voice, and {left:g} are left under the cap: share "
        f"{_pieces(needs)} out over more days, or keep to half voice."
    ]
