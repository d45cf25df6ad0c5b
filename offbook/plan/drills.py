"""The drills of every day: one pool of thoughts from all pieces, one budget of minutes, nearest date first.

Each thought aims at the first day its piece is needed; when that day has passed, at the next one. What the
minutes of the days left do not hold is found by looking ahead, and said with what would make it possible:
more minutes a day, or more days.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor

from offbook.plan.days import Kind, Occasion, PieceNeed, Shortfall
from offbook.report import day_name
from offbook.schedule import DayLoad, Item, day_due, day_load, review_on

HORIZON = 60  # days that are looked ahead: further off, what is begun now is safe or asked for again
_WORKED_OUT = 3  # pieces, the most urgent first, for which it is worked out what would do; set by hand
_MOST_LATER = 60  # days that a date is moved, to see what more time would do
_MOST_MINUTES = 600.0  # minutes a day that are tried; as many as the performer can set


@dataclass(frozen=True, slots=True)
class Aim:
    """A day a piece is needed. begin_by: the day before which every thought is to be begun; last: the last
    day on which it is still drilled."""

    day: date
    begin_by: date
    last: date


@dataclass(frozen=True, slots=True)
class Learnt:
    """The drills day by day, and the pieces that cannot be begun in time."""

    loads: tuple[DayLoad, ...]
    short: tuple[Shortfall, ...]


def aims_of(pieces: Sequence[PieceNeed], placed: Sequence[Occasion]) -> dict[str, tuple[Aim, ...]]:
    """For each piece, by key, the days it is needed, the nearest first."""
    runs_of, takes_of = _days_of(placed, "run"), _days_of(placed, "takes")
    out: dict[str, tuple[Aim, ...]] = {}
    for piece in pieces:
        runs, takes = sorted(runs_of.get(piece.key, ())), sorted(takes_of.get(piece.key, ()))
        aims = [Aim(day, _first(runs, day), day - timedelta(days=1)) for day in takes]
        if piece.day is not None and piece.day not in takes:
            aims.append(Aim(piece.day, _first(runs, piece.day), piece.day))
        out[piece.key] = tuple(sorted(aims, key=lambda aim: aim.day))
    return out


def _days_of(placed: Sequence[Occasion], kind: Kind) -> dict[str, set[date]]:
    """By the key of the piece, the days that are set for something of this kind."""
    out: dict[str, set[date]] = {}
    for o in placed:
        for key in o.pieces if o.kind == kind else ():
            out.setdefault(key, set()).add(o.day)
    return out


def _first(runs: Sequence[date], day: date) -> date:
    return next((run for run in runs if run <= day), day)


def learn(
    pieces: Sequence[PieceNeed],
    placed: Sequence[Occasion],
    today: date,
    minutes: float,
    done: float,
    practice: Mapping[date, float],
    least_days: int,
    most_days: int | None = None,
) -> Learnt:
    """The drills from `today` on.

    minutes: of practice a day, of which `practice` is used by run-throughs and, today, `done` by drills.
    most_days: after so many days, the drills of which nothing is new any more may be left out.
    """
    aims = aims_of(pieces, placed)
    runs: dict[date, set[str]] = {}
    for key, found in _days_of(placed, "run").items():
        for day in found:
            runs.setdefault(day, set()).add(key)
    last = max((aim.day for found in aims.values() for aim in found), default=today)
    days = min(HORIZON, max(least_days, (last - today).days + 1))
    if most_days is not None:
        days = min(days, max(most_days, _while_new(pieces, aims, today, days)))

    def budget(each: float) -> Callable[[int], float]:
        return lambda ahead: (
            max(0.0, each - practice.get(today + timedelta(days=ahead), 0.0)) - (0.0 if ahead else done)
        )

    loads = _ahead(pieces, aims, runs, today, days, budget(minutes))
    short = _not_begun(pieces, aims, loads, today)
    told = []
    for n, (piece, aim, left) in enumerate(sorted(short, key=lambda s: s[1].begin_by)):
        enough = later = None
        if n < _WORKED_OUT:
            enough = _enough(piece, pieces, aims, runs, today, days, budget, minutes)
            later = _later(piece, aim, pieces, aims, runs, today, budget(minutes))
        told.append(_told(piece, aim, left, today, minutes, enough, later))
    return Learnt(tuple(loads), tuple(told))


def _while_new(pieces: Sequence[PieceNeed], aims: Mapping[str, Sequence[Aim]], today: date, days: int) -> int:
    """Of `days` days from today, those up to the last on which something can be new: all, without a date."""
    fresh = [piece for piece in pieces if any(item.memory is None for item in piece.items)]
    if not all(aims.get(piece.key) for piece in fresh):
        return days
    return max(((aims[piece.key][-1].last - today).days + 1 for piece in fresh), default=0)


def _ahead(
    pieces: Sequence[PieceNeed],
    aims: Mapping[str, Sequence[Aim]],
    runs: Mapping[date, set[str]],
    today: date,
    days: int,
    budget: Callable[[int], float],
) -> list[DayLoad]:
    """Day after day as if every recall came out good; tomorrow is planned again from what was measured."""
    pools = [_Pool(piece.key, list(piece.items), aims.get(piece.key, ())) for piece in pieces]
    out = []
    for ahead in range(days):
        day = today + timedelta(days=ahead)
        asked = [item for pool in pools for item in pool.asked_on(day)]
        load = day_load(asked, day, budget(ahead))
        taken: dict[str, set[int]] = {}
        for task in load.tasks:
            taken.setdefault(task.piece_id, set()).add(task.unit.key)
        said = runs.get(day, set())
        for pool in pools:
            if pool.key in taken or pool.key in said:
                pool.recalled(taken.get(pool.key, set()), pool.key in said, day)
        out.append(load)
    return out


class _Pool:
    """The thoughts of a piece as they are on a day. Due days are worked out once, and again when a thought
    was recalled or the next day it is needed is another; what a recall does to a thought is worked out when
    the piece is next asked for. That is what makes looking ahead quick."""

    def __init__(self, key: str, items: list[Item], aims: Sequence[Aim]) -> None:
        self.key = key
        self._items = items
        self._aims = aims
        self._aim: date | None = None
        self._due: list[date | None] = []
        self._soonest: date | None = None  # before it nothing is asked; None: something new is at any time
        self._recalled: list[tuple[set[int], bool, date]] = []  # not yet worked out

    def asked_on(self, day: date) -> list[Item]:
        """What may be asked on `day`: what is due by then, and what is new."""
        aim = next((a for a in self._aims if a.last >= day), None)
        if aim is None and self._aims:
            return []  # its last day is over
        for recalled in self._recalled:
            self._work_out(*recalled)
        self._recalled.clear()
        wanted = None if aim is None else aim.day
        if not self._due or wanted != self._aim:
            self._items = [item.aimed_at(wanted) for item in self._items]
            self._aim = wanted
            self._due = [day_due(item, day) for item in self._items]
            self._look_out()
        if self._soonest is not None and day < self._soonest:
            return []
        pairs = zip(self._items, self._due, strict=True)
        return [i for i, due in pairs if i.memory is None or (due is not None and due <= day)]

    def recalled(self, keys: set[int], all_begun: bool, day: date) -> None:
        """Note that these thoughts were recalled well on `day`; all_begun: every one that was ever asked."""
        self._recalled.append((keys, all_begun, day))

    def _work_out(self, keys: set[int], all_begun: bool, day: date) -> None:
        for n, item in enumerate(self._items):
            if item.unit.key in keys or (all_begun and item.memory is not None):
                self._items[n] = item.remembered(review_on(item, day))
                if self._due:
                    self._due[n] = day_due(self._items[n], day)
        self._look_out()

    def _look_out(self) -> None:
        """Find the first day on which anything is asked."""
        new = any(item.memory is None for item in self._items)
        self._soonest = None if new else min((due for due in self._due if due is not None), default=date.max)


def _not_begun(
    pieces: Sequence[PieceNeed], aims: Mapping[str, Sequence[Aim]], loads: Sequence[DayLoad], today: date
) -> list[tuple[PieceNeed, Aim, int]]:
    """The pieces of which thoughts are still new at their first run-through, with how many."""
    out = []
    for piece in pieces:
        new = {i.unit.key for i in piece.items if i.memory is None}
        aim = next(iter(aims.get(piece.key, ())), None)
        if aim is None or not new or (aim.begin_by - today).days > len(loads):
            continue
        begun = {
            t.unit.key
            for load in loads
            if load.day < aim.begin_by
            for t in load.tasks
            if t.piece_id == piece.key
        }
        if left := len(new - begun):
            out.append((piece, aim, left))
    return out


def _enough(
    piece: PieceNeed,
    pieces: Sequence[PieceNeed],
    aims: Mapping[str, Sequence[Aim]],
    runs: Mapping[date, set[str]],
    today: date,
    days: int,
    budget: Callable[[float], Callable[[int], float]],
    minutes: float,
) -> int | None:
    """The least whole minutes a day with which the piece is begun in time, everything else kept; or None."""

    def fits(each: float) -> bool:
        loads = _ahead(pieces, aims, runs, today, min(days, _span(aims[piece.key][0], today)), budget(each))
        return all(found.key != piece.key for found, _, _ in _not_begun([piece], aims, loads, today))

    low = floor(minutes)
    high = low
    while not fits(high := max(high + 5, ceil(high * 1.5))):
        low = high
        if high > _MOST_MINUTES:
            return None
    return _least(low, high, fits)


def _least(low: int, high: int, fits: Callable[[int], bool]) -> int:
    """The least whole number that fits, where `low` does not and `high` does."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def _span(aim: Aim, today: date) -> int:
    return max(1, (aim.begin_by - today).days)


def _later(
    piece: PieceNeed,
    aim: Aim,
    pieces: Sequence[PieceNeed],
    aims: Mapping[str, Sequence[Aim]],
    runs: Mapping[date, set[str]],
    today: date,
    budget: Callable[[int], float],
) -> int | None:
    """How many days later the piece would have to be needed, with the minutes as they are; or None."""

    def fits(days: int) -> bool:
        step = timedelta(days=days)
        moved = {
            **aims,
            piece.key: (Aim(aim.day + step, aim.begin_by + step, aim.last + step), *aims[piece.key][1:]),
        }
        loads = _ahead(pieces, moved, runs, today, _span(aim, today) + days, budget)
        return not _not_begun([piece], moved, loads, today)

    low, high = 0, 1
    while not fits(high):
        low, high = high, 2 * high
        if high > _MOST_LATER:
            return None
    return _least(low, high, fits)


def _told(
    piece: PieceNeed, aim: Aim, left: int, today: date, minutes: float, enough: int | None, later: int | None
) -> Shortfall:
    many = f"{left} of {len(piece.items)} thoughts of {piece.name}"
    ways = [f"{enough} minutes a day"] if enough is not None else []
    if later is not None:
        ways.append(f"{later} more day{'s' * (later > 1)}")
    ways.append("a shorter speech")
    do = f"{' or '.join(ways)[0].upper()}{' or '.join(ways)[1:]} would make it possible."
    if aim.begin_by <= today:
        what = f"{many} are not begun yet, and no day is left that is for learning alone."
        later_only = [f"{later} more day{'s' * (later > 1)}"] if later is not None else []
        do = f"{' or '.join([*later_only, 'a shorter speech'])} would make it possible."
        return Shortfall(piece.name, what, do[0].upper() + do[1:])
    what = (
        f"{many} cannot be begun by its first run-through ({day_name(aim.begin_by)}) at {minutes:g} minutes "
        "a day for everything."
    )
    return Shortfall(piece.name, what, do)
