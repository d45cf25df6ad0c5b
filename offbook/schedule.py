"""The schedule: which thoughts to work on today, so that they are safe on the date.

The memory of each thought follows FSRS, the published spaced-repetition model (`fsrs` package, its
default parameters): a stability in days, a difficulty, and a recall that falls with time. It is fed
by measured recall only, from drills and run-throughs alike; nobody is asked how hard it was.

A piece without a date keeps FSRS's own intervals. A piece with a date is scheduled backwards from it:
a thought whose recall on the date is already foretold at `SAFE` or more is left alone; every other
comes back when FSRS says, but never so late that it is not seen again before the date. Spaced
retrieval beats massed, and expanding intervals keep recall high on the way (Kang, Lindsey, Mozer &
Pashler 2014). What does not fit into the minutes of a day moves to the next day, weakest first kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache, lru_cache
from typing import Literal

from fsrs import Card, Rating, Scheduler, State

from offbook.moment import local_day
from offbook.records import Memory, Unit
from offbook.score import Run

AGAIN, HARD, GOOD = 1, 2, 3  # FSRS's ratings; "easy" is never given: a recall is measured, not felt
RETENTION = 0.90  # FSRS's own default: a thought comes back when its recall has fallen to this
SAFE = 0.95  # recall foretold for the date at which a thought needs no more work before it
MOST_HELP = 3
SETTLE = 5  # days before the date that are kept for what has been begun, where there are as many
FEW_NEW = 4  # new thoughts of a piece in a day, while there is time; common practice, no source
FIRST_HELP = 2  # a thought never asked before starts with its first letters shown

_DayOrNone = date | None  # inside a record that has a `date` of its own
Why = Literal["new", "again", "due", "late", "before the date"]
_HARDLY = 0.8  # share of the words right, below which a thought was not recalled; set by hand


@cache
def _scheduler() -> Scheduler:
    # Fuzz would spread the dates at random; here they are spread by the minutes of the day instead.
    return Scheduler(desired_retention=RETENTION, enable_fuzzing=False)


@dataclass(frozen=True, slots=True)
class _Reviewed:
    """What FSRS makes of a card at a review. interval: until it is due again."""

    state: int
    step: int | None
    stability: float | None
    difficulty: float | None
    interval: timedelta


_START = datetime(2000, 1, 1, tzinfo=UTC)  # any moment will do: FSRS knows only what lies between two


@lru_cache(maxsize=100_000)
def _reviewed(
    state: int | None,
    step: int | None,
    stability: float | None,
    difficulty: float | None,
    days: int,
    rating: int,
) -> _Reviewed:
    """A card after a review `days` whole days after the one before; state None: never asked.

    FSRS counts whole days, so that the same past gives the same future, whichever thought it is.
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


@lru_cache(maxsize=100_000)
def _retrievability(stability: float | None, days: int) -> float:
    card = Card(card_id=1, state=State.Review, stability=stability, last_review=_START)
    return float(_scheduler().get_card_retrievability(card, _START + timedelta(days=days)))


def review(memory: Memory | None, piece_id: str, unit: int, rating: int, at: datetime) -> Memory:
    """What is known of a thought after it was recalled with `rating` at the moment `at` (UTC).

    memory: what was known before, None for a thought never asked.
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
        help=faded(before, rating),
    )


def faded(help_: int, rating: int) -> int:
    """The help shown next time: less after a clean recall, more after a failure, the same in between."""
    if rating == GOOD:
        return max(0, help_ - 1)
    return min(MOST_HELP, help_ + 1) if rating == AGAIN else help_


def recall_after(memory: Memory | None, days: int) -> float:
    """Recall foretold `days` whole days after the last time a thought was asked; 0 for a new one."""
    if memory is None or memory.last_review is None:
        return 0.0
    return _retrievability(memory.stability, days)


def recall_at(memory: Memory | None, at: datetime) -> float:
    """Recall foretold for the moment `at`; 0 for a new thought."""
    if memory is None or memory.last_review is None:
        return 0.0
    return recall_after(memory, max(0, (at - memory.last_review).days))


def rating_of(
    right: int, words: int, *, help_: int = 0, gave_up: bool = False, prompted: bool = False
) -> int:
    """The rating that a measured recall earns; 0 where it proves nothing.

    right: words said as written, of `words`. Every word right: good; with the first letters shown or
    one slip in a handful of words: hard; less than four fifths, a prompt, or "don't know": again.
    With nearly all of it shown a right answer proves nothing, a wrong one still does.
    """
    share = right / words if words else 0.0
    if gave_up or prompted or share < _HARDLY:
        return AGAIN
    if help_ >= MOST_HELP:
        return 0
    return GOOD if right >= words and help_ < FIRST_HELP else HARD


RIGHT = ("said", "unsure")  # an unsure word is not counted against the performer


def ratings_of(units: Sequence[Unit], run: Run, prompted: Sequence[int] = ()) -> dict[int, int]:
    """The rating of each thought, by key. prompted: word numbers at which a prompt was given.

    A speech that breaks off rates the thought in which it failed, or the next one where it failed at the
    join; what lies beyond was never reached, and so not forgotten.
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
    """One thought as the schedule sees it. date: the piece's date, None without one. seconds: one recall."""

    piece_id: str
    unit: Unit
    memory: Memory | None
    date: date | None
    zone: str
    seconds: float

    # Written out, because a look ahead makes thousands of them, and `replace` costs three times as much.

    def remembered(self, memory: Memory) -> Item:
        """The same thought with another memory of it."""
        return Item(self.piece_id, self.unit, memory, self.date, self.zone, self.seconds)

    def aimed_at(self, day: _DayOrNone) -> Item:
        """The same thought, needed on another day."""
        return Item(self.piece_id, self.unit, self.memory, day, self.zone, self.seconds)


@dataclass(frozen=True, slots=True)
class Task:
    """One thought to work on. recall: foretold for the day; minutes: what it will take."""

    piece_id: str
    unit: Unit
    why: Why
    recall: float
    minutes: float


@dataclass(frozen=True, slots=True)
class DayLoad:
    """The work of one day, and how much of what was due had to move on. minutes: of the tasks."""

    day: date
    tasks: tuple[Task, ...]
    moved: int

    @property
    def minutes(self) -> float:
        """What the tasks of the day take."""
        return sum(t.minutes for t in self.tasks)


def day_due(item: Item, today: date) -> date | None:
    """The local day on which a learnt thought should come back; None where it is safe until the date."""
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
    items: Sequence[Item], today: date, minutes_a_day: float, days: int = 7, done: float = 0.0
) -> tuple[DayLoad, ...]:
    """The work of `days` days from today, each within `minutes_a_day`.

    done: minutes of today's that are used already. The tasks of a day are in the order of the speech, the
    pieces in the order in which `items` has them. Looks ahead as if every recall came out good;
    tomorrow is planned again from what was measured.
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
    """The work of one day within `minutes`: in the order of the speech, the pieces in that of `items`."""
    place = {piece: n for n, piece in enumerate(dict.fromkeys(item.piece_id for item in items))}
    wanted = _wanted(items, day)
    chosen = _within(wanted, minutes)
    tasks = sorted((t for _, t in chosen), key=lambda t: (place[t.piece_id], t.unit.n))
    return DayLoad(day, tuple(tasks), len(wanted) - len(chosen))


def minutes_needed(items: Sequence[Item], today: date, days: int = 14) -> float:
    """The minutes a day that everything due in the next `days` days (at most up to the last date) takes."""
    dates = [i.date for i in items if i.date is not None and i.date > today]
    ahead = max(1, min(days, max(((d - today).days for d in dates), default=days)))
    return sum(load.minutes for load in plan(items, today, float("inf"), ahead)) / ahead


def _wanted(pool: Sequence[Item], day: date) -> list[tuple[float, Task]]:
    """What is due on `day` with its priority, the most pressing first."""
    found = []
    fresh: dict[str, list[Item]] = {}
    for item in pool:
        if item.date is not None and item.date < day:
            continue  # its day is over: it rests until it is given a new date
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
        found.append((recall + _far(item, day), Task(item.piece_id, item.unit, why, recall, _minutes(item))))
    for group in fresh.values():
        for n, item in enumerate(group[: _quota(group, day)]):
            # In the order of the speech, after what is due but before what is nearly safe.
            rank = RETENTION - 0.02 + 0.0001 * n + _far(item, day)
            found.append((rank, Task(item.piece_id, item.unit, "new", 0.0, _minutes(item))))
    return sorted(found, key=lambda f: f[0])


def _recall_on(memory: Memory, zone: str, day: date) -> float:
    """Recall foretold for a local day: what was asked last evening is a day old, not some hours."""
    last = memory.last_review
    return 0.0 if last is None else recall_after(memory, max(0, (day - local_day(last, zone)).days))


def _far(item: Item, day: date) -> float:
    """A little priority for the nearer date."""
    return 0.3 if item.date is None else 0.01 * min(30, (item.date - day).days)


def _quota(group: Sequence[Item], day: date) -> int:
    """How many new thoughts of a piece to begin on `day`: all begun SETTLE days before the date."""
    few = max(FEW_NEW, len(group) // 10)
    if group[0].date is None:
        return few
    left = (group[0].date - day).days
    return max(few, -(-len(group) // max(1, min(left - SETTLE, 14))))


def _minutes(item: Item) -> float:
    # A new thought is read, tried, tried again and joined to the one before; one that is known is
    # asked once, and again later in the sitting when it failed, which about half the time it does not.
    return item.seconds * (3.0 if item.memory is None else 1.5) / 60


def _within(wanted: list[tuple[float, Task]], minutes: float) -> list[tuple[float, Task]]:
    total = 0.0
    chosen: list[tuple[float, Task]] = []
    for rank, task in wanted:
        # One thought always fits into an untouched day, however short the day is.
        if total + task.minutes > minutes and (chosen or minutes < task.minutes / 2):
            continue
        chosen.append((rank, task))
        total += task.minutes
    return chosen


def _as_if_good(item: Item, day: date) -> Item:
    return item.remembered(review_on(item, day))


def review_on(item: Item, day: date) -> Memory:
    """What would be known of a thought if it were recalled well on `day`, as often as a sitting asks."""
    at = _noon(day)
    after = review(item.memory, item.piece_id, item.unit.key, GOOD, at)
    while after.state != State.Review:  # the later asks of the same sitting
        at += timedelta(minutes=10)
        after = review(after, item.piece_id, item.unit.key, GOOD, at)
    return after


def _noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


# The voice -----------------------------------------------------------------------------------------

CAUTION = (
    "Speaking tires the voice: drink water, rest between run-throughs, and stop at the first pain or"
    " roughness. Hoarseness that lasts, or a voice that goes, is for a qualified voice teacher, a speech"
    " therapist or a doctor."
)


def voice_note(used_minutes: float, cap: float) -> str:
    """What to say about the minutes of full voice used today. The cap is common practice, no source."""
    if used_minutes >= cap:
        return (
            f"{used_minutes:.0f} of {cap:.0f} minutes of full voice used today: no more aloud until tomorrow."
        )
    return f"{used_minutes:.0f} of {cap:.0f} minutes of full voice used today."
