"""The drills of every day: the thoughts of all pieces share the minutes of a day, the nearest date first.

Each thought is learnt for the first day on which its piece is needed; when that day has passed, for the next
one. The plan of all days shows whether something cannot be learnt in time. The performer is then told what
would make it possible: more minutes a day, or more days.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor

from offbook.plan.days import Kind, Occasion, PieceNeed, Shortfall
from offbook.report import day_name
from offbook.schedule import DayLoad, Item, day_due, day_load, review_on

# Days that are planned at most; set by hand, because later days depend on recall not measured yet
HORIZON = 60
# Pieces, the most urgent first, for which the minutes or days needed are worked out; set by hand
_WORKED_OUT = 3
_MOST_LATER = 60  # days by which a date is moved at most to see whether more time is enough; set by hand
_MOST_MINUTES = 600.0  # minutes a day that are tried at most: as many as the performer can set
# The next try has so many minutes more, or so many times as many; set by hand
_MINUTES_MORE, _TIMES_MORE = 5, 1.5


@dataclass(frozen=True, slots=True)
class Aim:
    """A day on which a piece is needed.

    begin_by: every thought must have been begun before this day. last: the last day on which it is drilled
    for this.
    """

    day: date
    begin_by: date
    last: date


@dataclass(frozen=True, slots=True)
class Learnt:
    """The drills day by day, and the pieces that cannot be begun in time."""

    loads: tuple[DayLoad, ...]
    short: tuple[Shortfall, ...]


def aims_of(pieces: Sequence[PieceNeed], placed: Sequence[Occasion]) -> dict[str, tuple[Aim, ...]]:
    """For each piece, by its key, the days on which it is needed, the nearest first."""
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
    """The days planned for something of this kind, by the key of the piece."""
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

    minutes: of practice a day. practice: how many of them run-throughs use on each day. done: how many of
    today's drills have used. least_days: how many days are planned at least. most_days: if given, later days
    on which nothing new is begun may be left out.
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

    loads = _drills_by_day(pieces, aims, runs, today, days, budget(minutes))
    short = _not_begun(pieces, aims, loads, today)
    told = []
    for n, (piece, aim, left) in enumerate(sorted(short, key=lambda s: s[1].begin_by)):
        enough = later = None
        if n < _WORKED_OUT:
            enough = _minutes_needed(piece, pieces, aims, runs, today, days, budget, minutes)
            later = _days_needed(piece, aim, pieces, aims, runs, today, budget(minutes))
        told.append(_shortfall(piece, aim, left, today, minutes, enough, later))
    return Learnt(tuple(loads), tuple(told))


def _while_new(pieces: Sequence[PieceNeed], aims: Mapping[str, Sequence[Aim]], today: date, days: int) -> int:
    """How many of `days` days there are until nothing new can be begun; all, if a piece has no date."""
    fresh = [piece for piece in pieces if any(item.memory is None for item in piece.items)]
    if not all(aims.get(piece.key) for piece in fresh):
        return days
    return max(((aims[piece.key][-1].last - today).days + 1 for piece in fresh), default=0)


def _drills_by_day(
    pieces: Sequence[PieceNeed],
    aims: Mapping[str, Sequence[Aim]],
    runs: Mapping[date, set[str]],
    today: date,
    days: int,
    budget: Callable[[int], float],
) -> list[DayLoad]:
    """The drills of each of so many days, if every recall is good. The plan is made anew every day."""
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
    """The thoughts of a piece, as they are on one day after another.

    To make planning quick, the day on which a thought is due is worked out only once, and again only after a
    recall or if the piece has a new date. The effect of a recall is worked out when the piece is asked for
    the next time.
    """

    def __init__(self, key: str, items: list[Item], aims: Sequence[Aim]) -> None:
        self.key = key
        self._items = items
        self._aims = aims
        self._aim: date | None = None
        self._due: list[date | None] = []
        self._soonest: date | None = None  # the first day on which anything is due; None if anything is new
        self._recalled: list[tuple[set[int], bool, date]] = []  # recalls whose effect is not worked out yet

    def asked_on(self, day: date) -> list[Item]:
        """The thoughts that may be asked on `day`: those that are due, and new ones."""
        aim = next((a for a in self._aims if a.last >= day), None)
        if aim is None and self._aims:
            return []  # the last day on which the piece is needed is over
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
        """Note that thoughts were recalled well on `day`: these, or all that were ever asked (all_begun)."""
        self._recalled.append((keys, all_begun, day))

    def _work_out(self, keys: set[int], all_begun: bool, day: date) -> None:
        for n, item in enumerate(self._items):
            if item.unit.key in keys or (all_begun and item.memory is not None):
                self._items[n] = item.remembered(review_on(item, day))
                if self._due:
                    self._due[n] = day_due(self._items[n], day)
        self._look_out()

    def _look_out(self) -> None:
        """Find the first day on which anything is due."""
        new = any(item.memory is None for item in self._items)
        self._soonest = None if new else min((due for due in self._due if due is not None), default=date.max)


def _not_begun(
    pieces: Sequence[PieceNeed], aims: Mapping[str, Sequence[Aim]], loads: Sequence[DayLoad], today: date
) -> list[tuple[PieceNeed, Aim, int]]:
    """The pieces with thoughts that are still new on the day of their first run-through, and how many."""
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


def _minutes_needed(
    piece: PieceNeed,
    pieces: Sequence[PieceNeed],
    aims: Mapping[str, Sequence[Aim]],
    runs: Mapping[date, set[str]],
    today: date,
    days: int,
    budget: Callable[[float], Callable[[int], float]],
    minutes: float,
) -> int | None:
    """The fewest whole minutes a day with which the piece is begun in time; None if there are none."""

    def fits(each: float) -> bool:
        loads = _drills_by_day(
            pieces, aims, runs, today, min(days, _span(aims[piece.key][0], today)), budget(each)
        )
        return all(found.key != piece.key for found, _, _ in _not_begun([piece], aims, loads, today))

    low = floor(minutes)
    high = low
    while not fits(high := max(high + _MINUTES_MORE, ceil(high * _TIMES_MORE))):
        low = high
        if high > _MOST_MINUTES:
            return None
    return _least(low, high, fits)


def _least(low: int, high: int, fits: Callable[[int], bool]) -> int:
    """The smallest whole number that fits, given that `low` does not and `high` does."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def _span(aim: Aim, today: date) -> int:
    return max(1, (aim.begin_by - today).days)


def _days_needed(
    piece: PieceNeed,
    aim: Aim,
    pieces: Sequence[PieceNeed],
    aims: Mapping[str, Sequence[Aim]],
    runs: Mapping[date, set[str]],
    today: date,
    budget: Callable[[int], float],
) -> int | None:
    """By how many days the date of the piece would have to be moved, with the same minutes a day; or None."""

    def fits(days: int) -> bool:
        step = timedelta(days=days)
        moved = {
            **aims,
            piece.key: (Aim(aim.day + step, aim.begin_by + step, aim.last + step), *aims[piece.key][1:]),
        }
        loads = _drills_by_day(pieces, moved, runs, today, _span(aim, today) + days, budget)
        return not _not_begun([piece], moved, loads, today)

    low, high = 0, 1
    while not fits(high):
        low, high = high, 2 * high
        if high > _MOST_LATER:
            return None
    return _least(low, high, fits)


def _shortfall(
    piece: PieceNeed, aim: Aim, left: int, today: date, minutes: float, enough: int | None, later: int | None
) -> Shortfall:
    """What cannot be learnt in time, and what would make it possible, in sentences.

    left: thoughts that are not begun in time. enough: minutes a day that would do; later: days that would do;
    None where none would.
    """
    many = f"{left} of {len(piece.items)} thoughts of {piece.name}"
    ways = [f"{enough} minutes a day"] if enough is not None else []
    if later is not None:
        ways.append(f"{later} more day{'s' * (later > 1)}")
    ways.append("a shorter speech")
    do = f"{' or '.join(ways)[0].upper()}{' or '.join(ways)[1:]} would make it possible."
    if aim.begin_by <= today:
        what = f"{many} are not begun yet, and no day is left that is only for learning."
        later_only = [f"{later} more day{'s' * (later > 1)}"] if later is not None else []
        do = f"{' or '.join([*later_only, 'a shorter speech'])} would make it possible."
        return Shortfall(piece.name, what, do[0].upper() + do[1:])
    what = (
        f"{many} cannot be begun before its first run-through ({day_name(aim.begin_by)}) with {minutes:g} "
        "minutes a day for everything."
    )
    return Shortfall(piece.name, what, do)
