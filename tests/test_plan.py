"""The plan: counted back from the deadline, shortened in a fixed order, within the limit of the voice."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from offbook.plan import (
    CLEAN_DAYS,
    TAKES,
    WEEK,
    Allowance,
    BriefNeed,
    CalendarDay,
    PieceNeed,
    PlanStep,
    RecordingNeed,
    calendar,
)
from offbook.records import Memory, Unit
from offbook.report import day_name
from offbook.schedule import Item

TODAY = date(2026, 3, 2)
MINUTES, CAP = 20.0, 45.0
NAMES = ("The lamp", "Full house", "The ferry")
THOUGHTS = 8  # of a piece; every second one is half learnt
LEFT = range(31)  # days from today to the deadline


def half_learnt(name: str, unit: int) -> Memory:
    """A thought last asked two days ago, with a stability of three days."""
    at = datetime(2026, 2, 28, 12, tzinfo=UTC)
    return Memory(name, unit, 2, None, 3.0, 5.0, at + timedelta(days=3), at, 4, 0, 1)


def items(name: str, count: int, learnt: int = 0, seconds: float = 20.0) -> tuple[Item, ...]:
    """`count` thoughts, of which every `learnt`-th is half learnt; 0: all are new."""
    units = [Unit(n, n, 10 * n, 10 * n + 9, f"thought {n + 1}") for n in range(count)]
    return tuple(
        Item(
            name,
            unit,
            half_learnt(name, unit.key) if learnt and unit.n % learnt else None,
            None,
            "Europe/London",
            seconds,
        )
        for unit in units
    )


def need(name: str = "The lamp", *, seconds: float = 90.0, clean: int = 0, thoughts: int = 0) -> PieceNeed:
    return PieceNeed(name, name, seconds, clean, items(name, thoughts))


@dataclass(frozen=True)
class Plan:
    """The days with something to do, and what cannot be done, as people read it."""

    days: tuple[CalendarDay, ...]
    short: tuple[str, ...]


def made(
    left: int,
    *needs: PieceNeed,
    minutes: float = MINUTES,
    cap: float = CAP,
    takes: int = TAKES,
    used: float = 0.0,
) -> Plan:
    """The plan from TODAY with one brief for all these pieces, its deadline `left` days away."""
    keys = tuple(n.key for n in needs)
    found = calendar(
        needs,
        [BriefNeed("Round one", TODAY + timedelta(days=left), keys, takes)],
        [RecordingNeed((key,), ("Round one",)) for key in keys],
        TODAY,
        Allowance(minutes, cap, 0.0, used),
    )
    return Plan(tuple(d for d in found.days if d.steps), tuple(str(s) for s in found.short))


@cache
def usual(left: int, pieces: int, clean: int) -> Plan:
    """The plan for one to three pieces of 90 s, of which the last has `clean` clean days, the others two."""
    needs = [
        PieceNeed(name, name, 90.0, clean if n == pieces - 1 else CLEAN_DAYS, items(name, THOUGHTS, 2))
        for n, name in enumerate(NAMES[:pieces])
    ]
    return made(left, *needs)


def every_case() -> Iterator[tuple[str, int, int, Plan]]:
    """Each number of days left, pieces and clean days: its name, days left, clean days, the plan."""
    for left in LEFT:
        for pieces in (1, 2, 3):
            for clean in (0, 1, 2):
                yield f"{left=} {pieces=} {clean=}", left, clean, usual(left, pieces, clean)


def kinds(day: CalendarDay) -> list[str]:
    """What a day is for, besides the drills."""
    return [step.kind for step in day.steps if step.kind != "learn"]


def days_of(plan: Plan, kind: str) -> list[date]:
    return [day.day for day in plan.days if any(step.kind == kind for step in day.steps)]


def step_of(plan: Plan, kind: str, ahead: int | None = None) -> PlanStep:
    """The first step of a kind, or the one so many days ahead."""
    return next(
        step
        for day in plan.days
        for step in day.steps
        if step.kind == kind and ahead in (None, (day.day - TODAY).days)
    )


# The order -----------------------------------------------------------------------------------------


def test_the_plan_ends_with_sending_the_day_before_the_deadline_or_today_if_that_has_passed() -> None:
    """A day in hand, because an upload can fail: common practice, no source."""
    for case, left, _, plan in every_case():
        last = plan.days[-1]
        assert last.day == TODAY + timedelta(days=max(0, left - 1)), case
        assert last.steps[-1].kind == "send", case
        assert len(days_of(plan, "send")) == 1, case


def test_the_days_of_the_plan_are_in_order_and_none_is_repeated_empty_or_before_today() -> None:
    for case, _, _, plan in every_case():
        days = [day.day for day in plan.days]
        assert days == sorted(set(days)) and days[0] >= TODAY, case
        assert all(day.steps for day in plan.days), case


def test_the_plan_puts_run_throughs_takes_choosing_and_sending_in_this_order() -> None:
    order = ("run", "quiet", "takes", "spare", "choose", "send")
    for case, _, _, plan in every_case():
        found = [kind for day in plan.days for kind in kinds(day)]
        assert found == sorted(found, key=order.index), case
        assert {"run", "takes", "choose", "send"} <= set(found), case
        assert all(found.count(kind) == 1 for kind in set(found) - {"run"}), case


def test_run_throughs_and_takes_have_separate_days_if_there_are_at_least_three_days() -> None:
    for case, left, _, plan in every_case():
        apart = not set(days_of(plan, "run")) & set(days_of(plan, "takes"))
        assert apart == (left >= 3), case  # today, tomorrow and the day after, before the deadline's own


def test_the_plan_has_two_days_of_run_throughs_or_one_if_a_run_through_was_already_clean() -> None:
    """Off book is clean on two different days; once more shows that it still is (common practice)."""
    for case, left, clean, plan in every_case():
        if left >= 7:
            assert len(days_of(plan, "run")) == (2 if clean == 0 else 1), case


def test_the_piece_with_the_fewest_clean_days_decides_how_many_run_throughs_are_left() -> None:
    for clean, wanted in (((2, 2), 1), ((2, 1), 1), ((2, 0), 2), ((0, 2), 2), ((9, 9), 1)):
        plan = made(20, *(need(name, clean=n) for name, n in zip(NAMES, clean, strict=False)))
        assert len(days_of(plan, "run")) == wanted, clean


def test_the_quiet_day_uses_no_voice_and_is_the_day_before_the_takes() -> None:
    for case, _, _, plan in every_case():
        for quiet in days_of(plan, "quiet"):
            day = next(day for day in plan.days if day.day == quiet)
            assert day.voice == 0, case
            assert days_of(plan, "takes") == [quiet + timedelta(days=1)], case


# What is given up ----------------------------------------------------------------------------------

QUIET, SPARE, CHOOSE = "rest the voice", "no spare day", "of its own for choosing"
SECOND, OWN = "only one day of run-throughs", "no day of its own for a run-through"
R, Q, T, S, C, E = (["run"], ["quiet"], ["takes"], ["spare"], ["choose"], ["send"])
# Days there are, today counted: what each is for, and what is said to be given up. The order is that of
# the module: the quiet day, the spare takes, choosing's own day, the second run-through, the first's own day.
NEVER_CLEAN: dict[int, tuple[list[list[str]], list[str]]] = {
    1: ([R + T + C + E], [QUIET, SPARE, CHOOSE, SECOND, OWN]),
    2: ([R + T, C + E], [QUIET, SPARE, CHOOSE, SECOND, OWN]),
    3: ([R, T, C + E], [QUIET, SPARE, CHOOSE, SECOND]),
    4: ([R, R, T, C + E], [QUIET, SPARE, CHOOSE]),
    5: ([R, R, T, C, E], [QUIET, SPARE]),
    6: ([R, R, T, S, C, E], [QUIET]),
    7: ([R, R, Q, T, S, C, E], []),
    8: ([R, R, Q, T, S, C, E], []),
}
CLEAN_ONCE: dict[int, tuple[list[list[str]], list[str]]] = {
    1: ([R + T + C + E], [QUIET, SPARE, CHOOSE, OWN]),
    2: ([R + T, C + E], [QUIET, SPARE, CHOOSE, OWN]),
    3: ([R, T, C + E], [QUIET, SPARE, CHOOSE]),
    4: ([R, T, C, E], [QUIET, SPARE]),
    5: ([R, T, S, C, E], [QUIET]),
    6: ([R, Q, T, S, C, E], []),
    7: ([R, Q, T, S, C, E], []),
}


def missing_days(plan: Plan) -> int:
    """How many days later the deadline would have to be, as the plan says it; 0 where nothing is short."""
    found = re.search(r"deadline (\d+) days? later", " ".join(plan.short))
    return 0 if found is None else int(found[1])


@pytest.mark.parametrize(
    ("clean", "days"), [(0, d) for d in NEVER_CLEAN] + [(c, d) for c in (1, 2) for d in CLEAN_ONCE]
)
def test_if_days_are_short_the_plan_gives_things_up_in_a_fixed_order_and_says_so(
    clean: int, days: int
) -> None:
    """The order is common practice, no source."""
    roles, given_up = (CLEAN_ONCE if clean else NEVER_CLEAN)[days]
    plan = made(days, need(clean=clean))
    assert [kinds(day) for day in plan.days] == roles
    assert len(plan.short) == bool(given_up)
    places = [plan.short[0].index(said) for said in given_up]
    assert places == sorted(places)
    enough = made(days + missing_days(plan), need(clean=clean))
    assert not enough.short, "with the days it names as missing there is room for all"


def test_a_deadline_today_is_planned_like_a_deadline_tomorrow() -> None:
    assert made(0, need()) == made(1, need())


def test_each_shortage_is_reported_once_in_a_sentence_of_one_line() -> None:
    for case, _, _, plan in every_case():
        assert len(set(plan.short)) == len(plan.short), case
        for line in plan.short:
            assert line.isprintable() and line.endswith(".") and line[0] == line[0].upper(), case


def test_with_twelve_days_or_more_the_plan_reports_no_shortage() -> None:
    assert all(not plan.short for _, left, _, plan in every_case() if left >= 12)


# The drills ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("left", (2, 9, 25))
@pytest.mark.parametrize("new", (0, 20, 40))
def test_a_plan_of_one_week_equals_the_first_week_of_the_whole_plan(left: int, new: int) -> None:
    """After the week only drills of known thoughts may be missing, because `today` reads no further."""
    due = TODAY + timedelta(days=left)
    known = [i.remembered(half_learnt("The lamp", i.unit.key)) for i in items("The lamp", 40)]
    lamp = (*items("The lamp", new), *known[new:])
    ferry = (items("The ferry", 1)[0].remembered(half_learnt("The ferry", 0)),)
    needs = [
        PieceNeed("The lamp", "The lamp", 90.0, 0, lamp, due),
        PieceNeed("The ferry", "The ferry", 90.0, 0, ferry, TODAY + timedelta(days=30)),
    ]
    whole, week = (
        calendar(needs, [], [], TODAY, Allowance(MINUTES, CAP), most_days=most) for most in (None, WEEK)
    )
    assert week.days[:WEEK] == whole.days[:WEEK]
    assert week.short == whole.short
    assert [d.day for d in week.days] == [d.day for d in whole.days]
    begun = [
        [(d.day, t) for d in plan.days for t in d.load.tasks if t.why == "new"] for plan in (whole, week)
    ]
    assert begun[0] == begun[1]
    assert bool(begun[0]) == bool(new)


def test_drills_end_before_the_takes_and_stay_within_the_daily_minutes() -> None:
    for case, _, _, plan in every_case():
        (takes,) = days_of(plan, "takes")
        assert all(day < takes for day in days_of(plan, "learn")), case
        learns = [step for day in plan.days for step in day.steps if step.kind == "learn"]
        assert all(0 < step.minutes <= MINUTES + 1e-9 and step.voice == 0 for step in learns), case
        assert all(day.steps[0].kind == "learn" for day in plan.days if day.day in days_of(plan, "learn"))


def begun_by(plan: Plan, day: date) -> int:
    """The new thoughts that the drills before `day` begin, as the plan itself says them."""
    found = 0
    for each in plan.days:
        for step in each.steps:
            new = re.search(r"(\d+) new", step.what)
            if step.kind == "learn" and new is not None and each.day < day:
                found += int(new[1])
    return found


def left_over(plan: Plan) -> list[int]:
    """How many thoughts the plan says are not or cannot be begun."""
    found = [
        re.match(r"(\d+) of \d+ thoughts of .+ (?:cannot be|are not) begun", line) for line in plan.short
    ]
    return [int(each[1]) for each in found if each is not None]


def test_the_thoughts_that_cannot_be_begun_by_the_first_run_through_are_counted() -> None:
    for case, _, _, plan in every_case():
        pieces = int(case.partition("pieces=")[2][0])
        missing = pieces * THOUGHTS // 2 - begun_by(plan, days_of(plan, "run")[0])
        assert sum(left_over(plan)) == missing, case


def test_three_minutes_are_enough_to_begin_three_of_ten_thoughts() -> None:
    """One of 20 s takes a minute when it is new (three times its length, as the schedule reckons)."""
    plan = made(8, need(thoughts=10), minutes=3)
    assert (days_of(plan, "run")[0] - TODAY).days == 1
    assert left_over(plan) == [7]
    assert plan.short[-1].startswith("7 of 10 thoughts") and "10 minutes a day or" in plan.short[-1]


def test_with_no_day_left_for_learning_the_plan_counts_new_thoughts_but_not_learnt_ones() -> None:
    assert left_over(made(3, need(thoughts=10))) == [10]
    assert "no day is left" in made(3, need(thoughts=10)).short[-1]
    half = PieceNeed("The lamp", "The lamp", 90.0, 0, items("The lamp", 10, 2))
    assert left_over(made(3, half)) == [5]
    learnt = PieceNeed("The lamp", "The lamp", 90.0, 0, tuple(i for i in half.items if i.memory is not None))
    assert left_over(made(3, learnt)) == []


@settings(deadline=None, max_examples=40)
@given(left=st.integers(2, 25), thoughts=st.integers(1, 60), minutes=st.integers(1, 30))
@pytest.mark.heavy
def test_the_minutes_a_day_that_the_plan_proposes_are_the_fewest_that_are_enough(
    left: int, thoughts: int, minutes: int
) -> None:
    plan = made(left, need(thoughts=thoughts), minutes=minutes)
    for line in plan.short:
        wanted = re.search(r"everything\. (\d+) minutes a day", line)
        if wanted is not None:
            assert int(wanted[1]) > minutes
            assert left_over(made(left, need(thoughts=thoughts), minutes=int(wanted[1]))) == []
            assert left_over(made(left, need(thoughts=thoughts), minutes=int(wanted[1]) - 1)) != []


def test_pieces_without_thoughts_are_planned_without_drills() -> None:
    plan = made(10, need())
    assert not days_of(plan, "learn") and not plan.short
    assert plan.days[0].day == days_of(plan, "run")[0], "a day with nothing to do is left out"


# The voice -----------------------------------------------------------------------------------------


def warned(plan: Plan) -> list[str]:
    return [line for line in plan.short if "of full voice" in line]


@settings(deadline=None)
@given(
    left=st.integers(0, 10),
    seconds=st.lists(st.floats(0, 1800), min_size=1, max_size=3),
    cap=st.floats(0, 120),
    used=st.floats(0, 200),
    takes=st.integers(1, 12),
    clean=st.integers(0, 2),
)
def test_no_day_uses_more_full_voice_than_allowed_unless_a_single_run_through_does(
    left: int, seconds: list[float], cap: float, used: float, takes: int, clean: int
) -> None:
    needs = [need(name, seconds=s, clean=clean) for name, s in zip(NAMES, seconds, strict=False)]
    plan = made(left, *needs, cap=cap, takes=takes, used=used)
    once = sum(seconds) / 60
    excess = {}
    for day in plan.days:
        allowed = max(0.0, cap - used) if day.day == TODAY else cap
        excess[f"{day.day:%a} {day.day.day} {day.day:%b}"] = day.voice - allowed
        assert day.voice <= allowed + 1e-6 or once > allowed, day
    loud = [name for name, over in excess.items() if over > 0]
    if max(excess.values()) > 1e-6:  # below that it is the rounding of a float
        assert len(warned(plan)) == 1
    for line in warned(plan):
        assert line.startswith(tuple(loud)), "the day is named"
        needed, there = re.findall(r"([\d.e+]+) minutes of full voice, and ([\d.e+]+) are left", line)[0]
        assert float(needed) > float(there), "more has to read as more"


@settings(deadline=None)
@given(left=st.integers(0, 10), seconds=st.floats(0, 36_000), cap=st.floats(0, 600))
def test_every_step_takes_a_finite_time_and_no_more_voice_than_time(
    left: int, seconds: float, cap: float
) -> None:
    for day in made(left, need(seconds=seconds), cap=cap).days:
        for step in day.steps:
            assert math.isfinite(step.minutes) and 0 <= step.voice <= step.minutes
        assert day.minutes == sum(step.minutes for step in day.steps)
        assert day.voice == sum(step.voice for step in day.steps)


@pytest.mark.parametrize("left", [0, 1, 2, 3, 10])
@pytest.mark.parametrize("cap", [0.0, 45.0])
@pytest.mark.parametrize("seconds", [0.0, 5e-324, 1e-9])
def test_a_piece_without_length_is_planned_without_an_error(left: int, cap: float, seconds: float) -> None:
    plan = made(left, need(seconds=seconds, thoughts=3), cap=cap)
    assert plan.days[-1].steps[-1].kind == "send"
    assert f"up to {TAKES} takes" in step_of(plan, "takes").what or cap == 0


@pytest.mark.parametrize("left", [0, 1, 2, 3, 10])
def test_a_piece_of_half_an_hour_gets_one_run_through_and_one_take(left: int) -> None:
    plan = made(left, need(seconds=1800))
    assert "once" in step_of(plan, "run").what
    assert "up to 1 take for Round one," in step_of(plan, "takes").what
    assert not warned(plan), "30 minutes and a false start now and then are under a cap of 45"
    assert all(day.voice <= CAP for day in plan.days)


def test_on_the_day_of_takes_a_run_through_that_would_use_their_voice_is_at_half_voice() -> None:
    plan = made(2, need(seconds=1800))
    assert step_of(plan, "run").what.endswith("at half voice") and step_of(plan, "run").voice == 0
    short = made(2, need(seconds=90))
    assert "half voice" not in step_of(short, "run").what and step_of(short, "run").voice == 1.5


def test_a_piece_longer_than_the_voice_cap_is_run_once_and_the_plan_warns_of_it() -> None:
    plan = made(10, need(seconds=3600), cap=45)
    assert "once" in step_of(plan, "run").what
    (line,) = warned(plan)
    assert "and 2 more days need up to 60 minutes of full voice, and 45 are left" in line
    assert "Spread The lamp over" in line


def test_a_take_leaves_no_voice_for_a_false_start_if_the_cap_has_none() -> None:
    plan = made(10, need(seconds=1800), cap=30)
    assert step_of(plan, "takes").voice == 30 and not warned(plan)


def test_voice_already_used_today_reduces_todays_run_throughs_but_not_tomorrows() -> None:
    """Two days of run-throughs, five minutes each; the first is today. Half the cap is for them."""
    for used, today in ((0, "3 times"), (24, "twice"), (35, "once"), (45, "once")):
        plan = made(7, need(seconds=300), minutes=120, used=used)
        assert today in step_of(plan, "run", 0).what, used
        assert "3 times" in step_of(plan, "run", 1).what, used
        assert bool(warned(plan)) == (used > 40), used
    (line,) = warned(made(7, need(seconds=300), used=45))
    assert line.startswith("Mon 2 Mar needs 5 minutes of full voice, and 0 are left")
    (beyond,) = warned(made(7, need(seconds=300), used=80))
    assert beyond == line, "no cap is below nothing"


def test_voice_already_used_today_reduces_the_takes_planned_for_today() -> None:
    whole, after = made(1, need(seconds=300)), made(1, need(seconds=300), used=25)
    assert "up to 5 takes" in step_of(whole, "takes").what
    assert "up to 2 takes" in step_of(after, "takes").what


@pytest.mark.parametrize("most", [1, 2, 5, 100])
def test_no_more_takes_are_asked_for_than_the_brief_allows(most: int) -> None:
    plan = made(10, need(seconds=20), takes=most)
    for kind in ("takes", "spare"):
        said = re.search(r"up to (\d+) take", step_of(plan, kind).what)
        assert said is not None and int(said[1]) == most


def test_five_takes_are_planned_if_the_brief_does_not_give_a_number() -> None:
    """Common practice, no source."""
    assert (
        "record The lamp: up to 5 takes for Round one, an intention for each"
        in step_of(made(10, need()), "takes").what
    )


def test_several_pieces_are_all_named_and_share_the_voice_cap() -> None:
    one, three = made(10, need(seconds=300)), made(10, *(need(name, seconds=300) for name in NAMES))
    assert step_of(three, "run").what.startswith("run The lamp, Full house and The ferry through")
    assert "up to 2 takes of each" in step_of(three, "takes").what
    assert "of each" not in step_of(one, "takes").what
    assert all(day.voice <= CAP for plan in (one, three) for day in plan.days)


# What cannot be planned ----------------------------------------------------------------------------


def test_without_a_piece_there_is_nothing_to_plan() -> None:
    plan = made(10)
    assert plan.days == () and "pieces = " in plan.short[0]


@pytest.mark.parametrize("left", [-1, -400])
def test_a_deadline_that_has_passed_is_reported_and_nothing_is_planned(left: int) -> None:
    plan = made(left, need())
    assert plan.days == ()
    assert plan.short[0].startswith(f"The deadline of Round one was {day_name(TODAY + timedelta(days=left))}")


def test_a_deadline_more_than_1000_days_away_is_reported_as_a_mistyped_year() -> None:
    """Every day until 9999 would be planned otherwise, which takes longer than anybody waits."""
    far = (date(9999, 12, 31) - TODAY).days
    assert "year" in made(far, need(thoughts=3)).short[0]
    assert "1001 days" in made(1001, need()).short[0]
    assert made(1000, need(thoughts=3)).days[-1].day == TODAY + timedelta(days=999)
