"""The schedule: which thoughts to work on today, so that they are safe on the date.

The memory of each thought follows FSRS, the published spaced-repetition model (`fsrs` package, its
default parameters): a stability in days, a difficulty, and a chance of recall that falls with time. It uses
only measured recall, from drills and run-throughs; nobody is asked how hard it was.

For a piece without a date FSRS's own intervals are used. A piece with a date is scheduled backwards from it:
a thought whose predicted recall on the date is `SAFE` or more is not asked again; every other is asked when
FSRS says, but at least once more before the date. Spaced practice works better than massed practice, and
intervals that grow keep recall high until then (Kang, Lindsey, Mozer & Pashler 2014). What does not fit into
the minutes of a day moves to the next day; the thoughts with the weakest recall stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache, lru_cache
from typing import Literal

from fsrs import Card, Rating, Scheduler, State

from offbook.moment import local_day
from offbook.phrasing import MINUTE
from offbook.records import Memory, Unit
from offbook.score import Run

# FSRS's ratings; "easy" is not used, because it is a feeling, and recall is measured
AGAIN, HARD, GOOD = 1, 2, 3
RETENTION = 0.90  # FSRS's own default: a thought is asked again when its recall has fallen to this
SAFE = 0.95  # the predicted recall on the date from which on a thought needs no more work; set by hand
MOST_HELP = 3  # the highest level of help in a drill
SETTLE = 5  # days before the date on which nothing new is begun, if there are so many; set by hand
FEW_NEW = 4  # new thoughts of a piece in a day, if there is enough time; common practice, no source
FIRST_HELP = 2  # the level of help for a thought that was never asked: its first letters are shown

_DayOrNone = date | None  # for a record that has a field called `date`
Why = Literal["new", "again", "due", "late", "before the date"]
_HARDLY = 0.8  # of the words right: with a smaller share a thought was not recalled; set by hand

# The order of a day's tasks. All of these were set by hand: a task's rank is its predicted recall and a part
# for its date, and the smallest comes first.
# Below RETENTION: a new thought comes after those that are due, before those that are nearly safe
_NEW_BELOW = 0.02
_IN_ORDER = 0.0001  # for each new thought before it, so that new ones keep the order of the speech
_FOR_EACH_DAY = 0.01  # until the date, up to _FAR_OFF days: the nearer date comes first
_FAR_OFF = 30  # days; a thought without a date is ranked as one that is so far away

# Of the new thoughts of a piece, at least a tenth is begun in a day; set by hand
_NEW_SHARE = 10
_MOST_NEW_DAYS = 14  # the new thoughts of a piece are begun within so many days; set by hand
# How many times as long as saying it once a thought takes in a sitting, set by hand. A new thought is read,
# tried, tried again and joined to the one before. A known one is asked once, and once more if it failed,
# about half of the time.
_TIMES_NEW, _TIMES_KNOWN = 3.0, 1.5
# Until a thought is asked again in the same sitting: FSRS's own learning step
_NEXT_ASK = timedelta(minutes=10)
_NOON = 12  # hours
_NEED_DAYS = 14  # looked at to find the minutes a day that are needed; set by hand
# Reviews and recalls that are remembered, some 100 bytes each: the plan of a class for half a year asks for
# fewer. Set by hand.
_REMEMBERED = 100_000


@cache
def _scheduler() -> Scheduler:
    # Without fuzz, which would spread the dates at random: here the minutes of a day already spread them.
    return Scheduler(desired_retention=RETENTION, enable_fuzzing=False)


@dataclass(frozen=True, slots=True)
class _Reviewed:
    """A card after a review, as FSRS returns it. interval: until it is due again."""

    state: int
    step: int | None
    stability: float | None
    difficulty: float | None
    interval: timedelta


_START = datetime(2000, 1, 1, tzinfo=UTC)  # any moment: FSRS only uses the time between two reviews


@lru_cache(maxsize=_REMEMBERED)
def _reviewed(
    state: int | None,
    step: int | None,
    stability: float | None,
    difficulty: float | None,
    days: int,
    rating: int,
) -> _Reviewed:
    """A card after a review that comes `days` whole days after the one before.

    state: None if it was never asked. FSRS counts in whole days, so two thoughts with the same past have the
    same future, and the result can be cached.
    """
    at = _START + timedelta(days=days)
    card = Card(card_id=1, due=at)
    if state is not None:
        card = Card(
            card_id=1,
            state=State(state),
            step=step,
            stability=stability,
            difficulty=difficulty,
            due=at,
            last_review=_START,
        )
    done, _ = _scheduler().review_card(card, Rating(rating), at)
    return _Reviewed(int(done.state), done.step, done.stability, done.difficulty, done.due - at)


@lru_cache(maxsize=_REMEMBERED)
def _retrievability(stability: float | None, days: int) -> float:
    card = Card(card_id=1, state=State.Review, stability=stability, last_review=_START)
    return float(_scheduler().get_card_retrievability(card, _START + timedelta(days=days)))


def review(memory: Memory | None, piece_id: str, unit: int, rating: int, at: datetime) -> Memory:
    """The memory of a thought after it was recalled with `rating` at the moment `at` (aware).

    memory: what it was before, None for a thought that was never asked.
    """
    moment = at.astimezone(UTC)
    if memory is None:
        card = _reviewed(None, None, None, None, 0, rating)
    else:
        since = 0 if memory.last_review is None else (moment - memory.last_review).days
        card = _reviewed(memory.state, memory.step, memory.stability, memory.difficulty, since, rating)
    before = memory.help if memory is not None else FIRST_HELP
    return Memory(
        piece_id=piece_id,
        unit=unit,
        state=card.state,
        step=card.step,
        stability=card.stability,
        difficulty=card.difficulty,
        due=moment + card.interval,
        last_review=moment,
        times=(memory.times if memory is not None else 0) + 1,
        lapses=(memory.lapses if memory is not None else 0) + (rating == AGAIN),
        help=next_help(before, rating),
    )


def next_help(help_: int, rating: int) -> int:
    """The level of help for the next time: lower after GOOD, higher after AGAIN, else the same."""
    if rating == GOOD:
        return max(0, help_ - 1)
    return min(MOST_HELP, help_ + 1) if rating == AGAIN else help_


def recall_after(memory: Memory | None, days: int) -> float:
    """The predicted recall, 0 to 1, `days` whole days after a thought was last asked; 0 for a new one."""
    if memory is None or memory.last_review is None:
        return 0.0
    return _retrievability(memory.stability, days)


def recall_at(memory: Memory | None, at: datetime) -> float:
    """The predicted recall, 0 to 1, at the moment `at`; 0 for a new thought."""
    if memory is None or memory.last_review is None:
        return 0.0
    return recall_after(memory, max(0, (at - memory.last_review).days))


def rating_of(
    right: int, words: int, *, help_: int = 0, gave_up: bool = False, prompted: bool = False
) -> int:
    """The rating for a measured recall; 0 if it shows nothing.

    right: how many of the `words` were said as written. GOOD if all were, without help. HARD if the first
    letters were shown, or for one slip in five words. AGAIN for less than four fifths, a prompt, or "don't
    know". If nearly all of the text was shown, a right answer shows nothing, but a wrong one still does.
    """
    share = right / words if words else 0.0
    if gave_up or prompted or share < _HARDLY:
        return AGAIN
    if help_ >= MOST_HELP:
        return 0
    return GOOD if right >= words and help_ < FIRST_HELP else HARD


RIGHT = ("said", "unsure")  # an unsure word is not counted against the performer


def ratings_of(units: Sequence[Unit], run: Run, prompted: Sequence[int] = ()) -> dict[int, int]:
    """The rating of each thought that a run-through reached, by key.

    prompted: the words at which a prompt was given. If the speech breaks off, the thought in which it broke
    off is rated, or the next one if it broke off between two. The thoughts after that were not reached, which
    does not mean that they are forgotten.
    """
    spoken = [w.i for w in run.words if w.verdict != "dropped"]
    reached = spoken[-1] if spoken else -1
    found: dict[int, int] = {}
    for before, u in zip([None, *units], units, strict=False):
        if u.first > reached and before is not None and before.last > reached:
            break
        part = run.words[u.first : u.last + 1]
        right = sum(w.verdict in RIGHT for w in part)
        found[u.key] = rating_of(right, len(part), prompted=any(u.first <= p <= u.last for p in prompted))
    return found


# The day's work ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Item:
    """One thought as the schedule sees it.

    memory: None if it was never asked. date: the piece's date, None without one. zone: the performer's IANA
    zone. seconds: how long it takes to say it once.
    """

    piece_id: str
    unit: Unit
    memory: Memory | None
    date: date | None
    zone: str
    seconds: float

    # Without `replace`, which takes three times as long: a plan for many weeks makes thousands of items.

    def remembered(self, memory: Memory) -> Item:
        """The same thought with another memory of it."""
        return Item(self.piece_id, self.unit, memory, self.date, self.zone, self.seconds)

    def aimed_at(self, day: _DayOrNone) -> Item:
        """The same thought, for a piece with another date."""
        return Item(self.piece_id, self.unit, self.memory, day, self.zone, self.seconds)


@dataclass(frozen=True, slots=True)
class Task:
    """One thought to work on. recall: predicted for that day, 0 to 1. minutes: how long it will take."""

    piece_id: str
    unit: Unit
    why: Why
    recall: float
    minutes: float


@dataclass(frozen=True, slots=True)
class DayLoad:
    """The work of one day. moved: how many thoughts that were due are left for the next day."""

    day: date
    tasks: tuple[Task, ...]
    moved: int

    @property
    def minutes(self) -> float:
        """How long the tasks of the day take."""
        return sum(t.minutes for t in self.tasks)


def day_due(item: Item, today: date) -> date | None:
    """The local day on which a thought should be asked next; None if it is safe until the date."""
    m = item.memory
    if m is None or m.last_review is None:
        return today
    natural = local_day(m.due, item.zone)
    if item.date is None or item.date < today:
        return natural
    last = local_day(m.last_review, item.zone)
    if m.state == State.Review and recall_after(m, max(0, (item.date - last).days)) >= SAFE:
        return None
    eve = item.date - timedelta(days=1)
    return max(min(natural, eve), min(last + timedelta(days=1), item.date)) if natural > eve else natural


def plan(
    items: Sequence[Item], today: date, minutes_a_day: float, days: int, done: float = 0.0
) -> tuple[DayLoad, ...]:
    """The work of `days` days from today on, each within `minutes_a_day`.

    done: how many of today's minutes are used already. The tasks of a day are in the order of the speech, and
    the pieces in the order of `items`. The plan assumes that every recall will be good; tomorrow it is made
    again from what was measured.
    """
    pool = list(items)
    out: list[DayLoad] = []
    for ahead in range(days):
        day = today + timedelta(days=ahead)
        load = day_load(pool, day, minutes_a_day if ahead else minutes_a_day - done)
        taken = {(t.piece_id, t.unit.key) for t in load.tasks}
        pool = [_as_if_good(item, day) if (item.piece_id, item.unit.key) in taken else item for item in pool]
        out.append(load)
    return tuple(out)


def day_load(items: Sequence[Item], day: date, minutes: float) -> DayLoad:
    """The work of one day within `minutes`, in the order of the speech, and of the pieces in `items`."""
    place = {piece: n for n, piece in enumerate(dict.fromkeys(item.piece_id for item in items))}
    wanted = _wanted(items, day)
    chosen = _within(wanted, minutes)
    tasks = sorted((t for _, t in chosen), key=lambda t: (place[t.piece_id], t.unit.n))
    return DayLoad(day, tuple(tasks), len(wanted) - len(chosen))


def minutes_needed(items: Sequence[Item], today: date, days: int = _NEED_DAYS) -> float:
    """The minutes a day needed for everything that is due in the next `days` days, or until the last date."""
    dates = [i.date for i in items if i.date is not None and i.date > today]
    ahead = max(1, min(days, max(((d - today).days for d in dates), default=days)))
    return sum(load.minutes for load in plan(items, today, float("inf"), ahead)) / ahead


def _wanted(pool: Sequence[Item], day: date) -> list[tuple[float, Task]]:
    """What is due on `day`, each with its rank, the most urgent first."""
    found = []
    fresh: dict[str, list[Item]] = {}
    for item in pool:
        if item.date is not None and item.date < day:
            continue  # its date is over: it is not asked until it has a new one
        if item.memory is None:
            fresh.setdefault(item.piece_id, []).append(item)
            continue
        due = day_due(item, day)
        if due is None or due > day:
            continue
        recall = _recall_on(item.memory, item.zone, day)
        why: Why = "late" if due < day else "due"
        if item.memory.state != State.Review:
            why = "again"  # it failed, or it was only just begun
        if why == "due" and item.date is not None and local_day(item.memory.due, item.zone) > day:
            why = "before the date"
        rank = recall + _date_rank(item, day)
        found.append((rank, Task(item.piece_id, item.unit, why, recall, _minutes(item))))
    for group in fresh.values():
        for n, item in enumerate(group[: _quota(group, day)]):
            rank = RETENTION - _NEW_BELOW + _IN_ORDER * n + _date_rank(item, day)
            found.append((rank, Task(item.piece_id, item.unit, "new", 0.0, _minutes(item))))
    return sorted(found, key=lambda f: f[0])


def _recall_on(memory: Memory, zone: str, day: date) -> float:
    """The predicted recall on a local day: what was asked last evening was asked one day ago."""
    last = memory.last_review
    return 0.0 if last is None else recall_after(memory, max(0, (day - local_day(last, zone)).days))


def _date_rank(item: Item, day: date) -> float:
    """The part of the rank that puts the nearer date first."""
    days = _FAR_OFF if item.date is None else min(_FAR_OFF, (item.date - day).days)
    return _FOR_EACH_DAY * days


def _quota(group: Sequence[Item], day: date) -> int:
    """How many new thoughts of a piece to begin on `day`: all must be begun SETTLE days before its date."""
    few = max(FEW_NEW, len(group) // _NEW_SHARE)
    if group[0].date is None:
        return few
    left = (group[0].date - day).days
    return max(few, -(-len(group) // max(1, min(left - SETTLE, _MOST_NEW_DAYS))))


def _minutes(item: Item) -> float:
    return item.seconds * (_TIMES_NEW if item.memory is None else _TIMES_KNOWN) / MINUTE


def _within(wanted: list[tuple[float, Task]], minutes: float) -> list[tuple[float, Task]]:
    total = 0.0
    chosen: list[tuple[float, Task]] = []
    for rank, task in wanted:
        # If nothing was done yet, one thought is always accepted, unless it takes more than twice the
        # minutes.
        if total + task.minutes > minutes and (chosen or minutes < task.minutes / 2):
            continue
        chosen.append((rank, task))
        total += task.minutes
    return chosen


def _as_if_good(item: Item, day: date) -> Item:
    return item.remembered(review_on(item, day))


def review_on(item: Item, day: date) -> Memory:
    """The memory of a thought if it is recalled well on `day`, as often as a sitting asks it."""
    at = datetime(day.year, day.month, day.day, _NOON, tzinfo=UTC)
    after = review(item.memory, item.piece_id, item.unit.key, GOOD, at)
    while after.state != State.Review:  # asked again in the same sitting
        at += _NEXT_ASK
        after = review(after, item.piece_id, item.unit.key, GOOD, at)
    return after


# The voice -----------------------------------------------------------------------------------------

CAUTION = (
    "Speaking tires the voice: drink water, rest between run-throughs, and stop at the first pain or"
    " roughness. Hoarseness that lasts, or a voice that goes, is for a qualified voice teacher, a speech"
    " therapist or a doctor."
)


def voice_note(used_minutes: float, cap: float) -> str:
    """A sentence about the minutes of full voice used today. cap: the most of them (common practice)."""
    if used_minutes >= cap:
        return (
            f"{used_minutes:.0f} of {cap:.0f} minutes of full voice used today: no more aloud until tomorrow."
        )
    return f"{used_minutes:.0f} of {cap:.0f} minutes of full voice used today."
