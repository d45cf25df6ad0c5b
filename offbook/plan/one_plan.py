"""One calendar for everything a performer has to learn, record and send.

All pieces, briefs and dates share one plan. A piece is learnt once, for the first day on which it is needed,
and kept fresh for the days after that. The minutes of practice a day (drills and run-throughs) and the cap on
full voice are for everything together, and the nearest date has them first. Nothing here uses a database or a
clock: plain values come in, and a `Calendar` comes out. `offbook today` shows its first day and `offbook
plan` shows all of it, so the two cannot differ.

Takes, choosing and sending do not count as practice and need time in addition; but the voice for takes
counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from offbook.phrasing import MINUTE
from offbook.plan.days import BriefNeed, Kind, Occasion, PieceNeed, RecordingNeed, Shortfall, occasions
from offbook.plan.drills import Learnt, learn
from offbook.plan.voice import Voiced, voiced
from offbook.report import day_name
from offbook.schedule import DayLoad

WEEK = 7  # days that a calendar has at least
MOST_DAYS = 1000  # days: a deadline further away more likely has a wrong year; set by hand
# Choosing a take: so many minutes, and so many times the length of the pieces; set by hand
_TO_CHOOSE, _LOOKS_AT_ALL = 10, 3
_TO_SEND = 20  # minutes, with the check that everything has arrived; set by hand


@dataclass(frozen=True, slots=True)
class Allowance:
    """The minutes that a performer has in a day.

    minutes: of practice. voice: of full voice. done, voice_used: how many of today's are used already.
    """

    minutes: float
    voice: float
    done: float = 0.0
    voice_used: float = 0.0


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One thing to do. minutes: about how long. voice: how many of these minutes are at full voice.

    pieces, briefs: the names of those it is for; a drill is not for one brief in particular.
    """

    kind: Kind
    what: str
    pieces: tuple[str, ...]
    briefs: tuple[str, ...]
    minutes: float
    voice: float = 0.0


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A local day: its steps in the order to do them, and the thoughts to drill."""

    day: date
    steps: tuple[PlanStep, ...]
    load: DayLoad

    @property
    def minutes(self) -> float:
        """How long everything on this day takes."""
        return sum(s.minutes for s in self.steps)

    @property
    def practice(self) -> float:
        """Minutes of drills and run-throughs, which are limited by the performer's minutes a day."""
        return sum(s.minutes for s in self.steps if s.kind in ("learn", "run"))

    @property
    def voice(self) -> float:
        """Minutes of full voice."""
        return sum(s.voice for s in self.steps)


@dataclass(frozen=True, slots=True)
class Calendar:
    """All days from today on, and what cannot be done, with what would make it possible.

    takes_on: the day of the takes for each brief, by name; not for a brief that uses takes made for another.
    """

    days: tuple[CalendarDay, ...]
    short: tuple[Shortfall, ...]
    takes_on: Mapping[str, date] = field(default_factory=dict)

    @property
    def today(self) -> CalendarDay:
        """The first day of the calendar."""
        return self.days[0]


def calendar(
    pieces: Sequence[PieceNeed],
    briefs: Sequence[BriefNeed],
    recordings: Sequence[RecordingNeed],
    today: date,
    allowance: Allowance,
    *,
    least_days: int = WEEK,
    most_days: int | None = None,
) -> Calendar:
    """The plan from `today` on.

    pieces: everything that is to be learnt, each once. briefs: those still to be sent. recordings: those that
    the briefs need; several briefs may share one. least_days: how many days the calendar has at least, even
    if there is nothing to do. most_days: if given, drills may be missing after so many days, which is
    quicker; nothing else changes.
    """
    open_briefs, past = _in_reach(briefs, today)
    caps = {today: max(0.0, allowance.voice - allowance.voice_used)}
    placed, short = occasions(
        pieces, open_briefs, recordings, today, lambda day: caps.get(day, allowance.voice)
    )
    aloud, too_loud = voiced(placed, pieces, caps, allowance.voice, allowance.minutes)
    practice = {day: sum(v.minutes for v in found if v.kind == "run") for day, found in aloud.items()}
    learnt = learn(pieces, placed, today, allowance.minutes, allowance.done, practice, least_days, most_days)
    last = max(today + timedelta(days=least_days - 1), *(o.day for o in placed), today)
    days = _days(today, last, placed, aloud, learnt, {p.key: p.name for p in pieces})
    takes_on = {b: o.day for o in placed if o.kind == "takes" for b in o.briefs}
    return Calendar(days, (*past, *short, *learnt.short, *too_loud), takes_on)


def _in_reach(briefs: Sequence[BriefNeed], today: date) -> tuple[list[BriefNeed], list[Shortfall]]:
    """The briefs that can be planned for, and what to say about the others."""
    kept, told = [], []
    for brief in briefs:
        away = (brief.deadline - today).days
        if away < 0 or brief.over:
            told.append(
                Shortfall(
                    brief.name,
                    f"The deadline of {brief.name} was {day_name(brief.deadline)}: no plan is made for it.",
                    "Ask for a new one, or note it as sent if it was.",
                )
            )
        elif away > MOST_DAYS:
            told.append(
                Shortfall(
                    brief.name,
                    f"The deadline of {brief.name} is {away} days away.",
                    "Look at its year in the brief, or plan for it when it is nearer.",
                )
            )
        elif not brief.pieces:
            told.append(
                Shortfall(
                    brief.name,
                    f"{brief.name} does not say which pieces it is for.",
                    'Add a line such as pieces = ["the_lamp"] to its file and add it again.',
                )
            )
        else:
            kept.append(brief)
    return sorted(kept, key=lambda b: (b.deadline, b.name)), told


def _days(
    today: date,
    last: date,
    placed: Sequence[Occasion],
    aloud: Mapping[date, Sequence[Voiced]],
    learnt: Learnt,
    names: Mapping[str, str],
) -> tuple[CalendarDay, ...]:
    """Every day with its drills, what is said aloud, and everything else."""
    loads = {load.day: load for load in learnt.loads}
    quiet: dict[date, list[Occasion]] = {}
    for o in placed:
        quiet.setdefault(o.day, []).append(o)
    out = []
    for ahead in range((last - today).days + 1):
        day = today + timedelta(days=ahead)
        load = loads.get(day, DayLoad(day, (), 0))
        steps = _learn_steps(load, names)
        steps += [PlanStep(v.kind, v.what, v.names, v.briefs, v.minutes, v.voice) for v in aloud.get(day, ())]
        steps += [s for o in quiet.get(day, ()) for s in _silent(o, names, bool(aloud.get(day)))]
        out.append(CalendarDay(day, tuple(sorted(steps, key=lambda s: _IN_ORDER.index(s.kind))), load))
    return tuple(out)


_IN_ORDER: tuple[Kind, ...] = ("learn", "run", "quiet", "takes", "spare", "choose", "send", "day")


def _learn_steps(load: DayLoad, names: Mapping[str, str]) -> list[PlanStep]:
    """The drills of a day as one step for each piece."""
    by_piece: dict[str, list[tuple[bool, float]]] = {}
    for task in load.tasks:
        by_piece.setdefault(task.piece_id, []).append((task.why == "new", task.minutes))
    steps = []
    for key, tasks in by_piece.items():
        new = sum(is_new for is_new, _ in tasks)
        parts = [f"{n} {word}" for n, word in ((new, "new"), (len(tasks) - new, "to recall")) if n]
        minutes = sum(m for _, m in tasks)
        steps.append(PlanStep("learn", f"drill {names[key]}: {', '.join(parts)}", (names[key],), (), minutes))
    return steps


def _silent(o: Occasion, names: Mapping[str, str], aloud: bool) -> list[PlanStep]:
    """The steps of an occasion that need no voice."""
    pieces = tuple(names[key] for key in o.pieces)
    if o.kind == "choose":
        what = f"check the takes for {o.briefs[0]} against the brief and the text, and choose"
        minutes = _TO_CHOOSE + _LOOKS_AT_ALL * o.seconds / MINUTE
        return [PlanStep("choose", what, pieces, o.briefs, minutes)]
    if o.kind == "send":
        made = f" (the recording made for {o.made_for})" if o.made_for else ""
        what = f"send {o.briefs[0]}{made}, and check that it has arrived complete"
        return [PlanStep("send", what, pieces, o.briefs, _TO_SEND)]
    if o.kind == "day":
        return [PlanStep("day", f"the day of {names[o.pieces[0]]}", pieces, (), 0)]
    if o.kind == "quiet" and not aloud:
        return [
            PlanStep(
                "quiet", "rest the voice: type the drills, say nothing at full voice", pieces, o.briefs, 0
            )
        ]
    return []
