"""One calendar: several briefs, pieces and dates in one plan, under one cap on time and one on voice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from random import Random

import pytest

from offbook.plan.days import BriefNeed, PieceNeed, RecordingNeed
from offbook.plan.one_plan import Allowance, Calendar, calendar
from offbook.records import Unit
from offbook.schedule import Item

TODAY = date(2026, 3, 2)
USUAL = Allowance(20.0, 45.0)


def on(ahead: int) -> date:
    """So many days from today."""
    return TODAY + timedelta(days=ahead)


def piece(
    name: str, thoughts: int = 10, *, seconds: float = 90.0, day: int | None = None, clean: int = 0
) -> PieceNeed:
    """A piece never begun; each thought takes 20 seconds to recall, a minute when it is new."""
    units = [Unit(n, n, 10 * n, 10 * n + 9, f"thought {n + 1}") for n in range(thoughts)]
    items = tuple(Item(name.lower(), u, None, None, "Europe/London", 20.0) for u in units)
    return PieceNeed(name.lower(), name, seconds, clean, items, None if day is None else on(day))


def brief(name: str, deadline: int, *pieces: str, takes: int = 5) -> BriefNeed:
    return BriefNeed(name, on(deadline), tuple(p.lower() for p in pieces), takes)


def apart(briefs: Sequence[BriefNeed]) -> list[RecordingNeed]:
    """A recording of its own for each piece of each brief."""
    return [RecordingNeed((key,), (b.name,)) for b in briefs for key in b.pieces]


def made(
    pieces: Sequence[PieceNeed],
    briefs: Sequence[BriefNeed] = (),
    recordings: Sequence[RecordingNeed] | None = None,
    allowance: Allowance = USUAL,
) -> Calendar:
    return calendar(pieces, briefs, apart(briefs) if recordings is None else recordings, TODAY, allowance)


def days_of(plan: Calendar, kind: str, name: str | None = None) -> list[int]:
    """Days from today with a step of this kind, for this piece or brief."""
    return [
        (d.day - TODAY).days
        for d in plan.days
        if any(s.kind == kind and (name is None or name in (*s.pieces, *s.briefs)) for s in d.steps)
    ]


def begun(plan: Calendar) -> Counter[tuple[str, int]]:
    """How often each thought, by piece and number, is begun in the whole calendar."""
    return Counter((t.piece_id, t.unit.key) for d in plan.days for t in d.load.tasks if t.why == "new")


# A speech is learnt once ---------------------------------------------------------------------------


def test_a_piece_for_three_briefs_is_learnt_once_and_within_the_daily_minutes() -> None:
    lamp = piece("Lamp", 26)
    briefs = [brief(f"Round {n}", 14 + n, "Lamp") for n in range(3)]
    plan = made([lamp], briefs)
    assert set(begun(plan).values()) == {1} and len(begun(plan)) == 26
    assert max(d.practice for d in plan.days) <= 20
    alone = made([lamp], briefs[:1])
    assert [d.load for d in plan.days[:10]] == [d.load for d in alone.days[:10]]


def test_run_throughs_for_a_nearer_brief_count_for_a_later_one() -> None:
    """Two days for the nearer, and one more before the takes of the later, to check that it still holds."""
    briefs = [brief("First", 12, "Lamp"), brief("Second", 26, "Lamp")]
    assert len(days_of(made([piece("Lamp")], briefs), "run")) == 3
    assert len(days_of(made([piece("Lamp")], briefs[1:]), "run")) == 2


def test_one_recording_for_two_briefs_is_made_once_and_sent_twice() -> None:
    briefs = [brief("First", 12, "Lamp"), brief("Second", 20, "Lamp")]
    plan = made([piece("Lamp")], briefs, [RecordingNeed(("lamp",), ("First", "Second"))])
    assert len(days_of(plan, "takes")) == 1 and days_of(plan, "send") == [11, 19]
    assert days_of(plan, "choose") == [10]
    (second,) = [s for d in plan.days for s in d.steps if s.kind == "send" and s.briefs == ("Second",)]
    assert "the recording made for First" in second.what
    assert "for First and Second" in next(s.what for d in plan.days for s in d.steps if s.kind == "takes")
    two = made([piece("Lamp")], briefs)
    assert len(days_of(two, "takes")) == 2


def test_a_recording_that_is_already_chosen_only_needs_sending() -> None:
    lamp = piece("Lamp")
    plan = made([lamp], [brief("First", 12, "Lamp")], [RecordingNeed(("lamp",), ("First",), made=True)])
    assert [s.kind for d in plan.days for s in d.steps if s.kind not in ("learn",)] == ["send"]


# The caps hold over everything ---------------------------------------------------------------------


@pytest.mark.heavy
@pytest.mark.parametrize("seed", range(40))
def test_no_day_has_more_practice_or_voice_than_the_performer_allows_unless_the_plan_says_so(
    seed: int,
) -> None:
    """Drawn at random: one to five pieces, up to five briefs, dates, lengths, minutes and voice."""
    dice = Random(seed)
    names = ["Lamp", "House", "Ferry", "Oil", "Tide"][: dice.randint(1, 5)]
    pieces = [
        piece(
            n,
            dice.randint(1, 25),
            seconds=dice.uniform(20, 200),
            day=dice.choice([None, dice.randint(0, 30)]),
        )
        for n in names
    ]
    briefs = [
        brief(f"Brief {k}", dice.randint(0, 30), *dice.sample(names, dice.randint(1, len(names))))
        for k in range(dice.randint(0, 5))
    ]
    gives = Allowance(dice.choice([5.0, 15.0, 30.0]), dice.choice([6.0, 20.0, 45.0]), dice.choice([0.0, 4.0]))
    plan = made(pieces, briefs, allowance=gives)
    loud = any("of full voice" in s.what for s in plan.short)
    for day in plan.days:
        drills = sum(s.minutes for s in day.steps if s.kind == "learn")
        runs = sum(s.minutes for s in day.steps if s.kind == "run")
        left = gives.minutes - runs - (gives.done if day.day == TODAY else 0.0)
        assert drills <= max(left, 1.0) + 1e-9, "one thought always fits into a day that is not used up"
        assert day.voice <= gives.voice + 1e-9 or loud
    assert [d.day for d in plan.days] == [on(k) for k in range(len(plan.days))]
    assert all(count == 1 for count in begun(plan).values())
    for b in briefs:
        assert days_of(plan, "send", b.name) == [max(0, (b.deadline - TODAY).days - 1)]


def test_takes_move_to_a_day_that_has_the_voice_for_them() -> None:
    """Each takes 20 minutes once through, and the cap is 30: no day has two of the four times aloud.

    The first has days 13, 14 and 16; moved by one, two or three days the second would meet one of them.
    """
    pieces = [piece("Lamp", seconds=1200), piece("House", seconds=1200)]
    briefs = [brief("First", 20, "Lamp"), brief("Second", 20, "House")]
    plan = made(pieces, briefs, allowance=Allowance(60, 30))
    assert days_of(plan, "takes", "First") == [16]
    assert days_of(plan, "takes", "Second") == [12]
    assert all(d.voice <= 30 for d in plan.days) and not plan.short


def test_after_one_take_for_each_brief_the_remaining_voice_goes_to_the_nearer_one() -> None:
    """Ten minutes of voice, two minutes a piece: two for the later one's take, the rest is three takes."""
    pieces = [piece("Lamp", seconds=120), piece("House", seconds=120)]
    briefs = [brief("First", 20, "Lamp"), brief("Second", 20, "House")]
    plan = made(pieces, briefs, allowance=Allowance(60, 10))
    (day,) = [d for d in plan.days if any(s.kind == "takes" for s in d.steps)]
    said = [s.what for s in day.steps if s.kind == "takes"]
    assert said[0].startswith("record Lamp: up to 3 takes") and said[1].startswith(
        "record House: up to 1 take "
    )


# The most urgent first -----------------------------------------------------------------------------


def test_a_piece_with_four_days_left_comes_before_one_with_twenty() -> None:
    plan = made([piece("Lamp", 30, day=20), piece("House", 15, day=4)], allowance=Allowance(10, 45))
    first = [t.piece_id for t in plan.today.load.tasks]
    assert first.count("house") >= 8 and first.count("lamp") <= 2
    assert first[0] == "house"


# What cannot be done -------------------------------------------------------------------------------


def told(plan: Calendar, about: str) -> str:
    return " ".join(str(s) for s in plan.short if s.about == about)


def test_thoughts_that_cannot_be_begun_are_counted_and_the_minutes_and_days_proposed_suffice() -> None:
    """30 thoughts of a minute each, six days before the first run-through, three minutes a day."""
    lamp = piece("Lamp", 30)
    few = Allowance(3, 45)
    plan = made([lamp], [brief("First", 13, "Lamp")], allowance=few)
    said = told(plan, "Lamp")
    assert (
        "of 30 thoughts of Lamp cannot be begun before its first run-through (Sun 8 Mar) with 3 minutes a day"
        in said
    )
    numbers = [int(w) for w in said.split("everything.")[1].split() if w.isdigit()]
    minutes, days = numbers
    assert not told(made([lamp], [brief("First", 13, "Lamp")], allowance=Allowance(minutes, 45)), "Lamp")
    assert told(made([lamp], [brief("First", 13, "Lamp")], allowance=Allowance(minutes - 1, 45)), "Lamp")
    assert not told(made([lamp], [brief("First", 13 + days, "Lamp")], allowance=few), "Lamp")
    assert told(made([lamp], [brief("First", 12 + days, "Lamp")], allowance=few), "Lamp")


def test_the_plan_says_how_many_days_are_missing() -> None:
    plan = made([piece("Lamp", 0)], [brief("First", 5, "Lamp")])
    (only,) = plan.short
    assert str(only) == (
        "First has too few days: no day to rest the voice before the takes; no spare day for a second "
        "set of takes. A deadline 2 days later would be enough."
    )
    assert not made([piece("Lamp", 0)], [brief("First", 7, "Lamp")]).short


def test_a_past_deadline_is_reported_and_the_other_briefs_are_still_planned() -> None:
    plan = made([piece("Lamp")], [brief("Late", -1, "Lamp"), brief("First", 12, "Lamp")])
    assert told(plan, "Late").startswith("The deadline of Late was Sun 1 Mar")
    assert days_of(plan, "send") == [11]


# Dates of a piece's own ----------------------------------------------------------------------------


def test_a_piece_with_a_date_but_no_brief_gets_two_run_throughs_a_quiet_day_and_its_day() -> None:
    plan = made([piece("Lamp", day=14)])
    assert (
        days_of(plan, "run") == [11, 12] and days_of(plan, "quiet") == [13] and days_of(plan, "day") == [14]
    )
    assert days_of(made([piece("Lamp", day=14, clean=1)]), "run") == [12]
    assert days_of(made([piece("Lamp", day=0)]), "day") == [0]


def test_a_piece_without_a_date_is_drilled_only_when_nothing_is_more_urgent() -> None:
    plan = made([piece("Lamp", 10), piece("House", 60, day=10)], allowance=Allowance(10, 45))
    assert {t.piece_id for t in plan.today.load.tasks} == {"house"}
    assert any(t.piece_id == "lamp" for d in plan.days for t in d.load.tasks)


def test_a_piece_with_a_date_before_the_takes_of_its_brief_has_run_throughs_before_that_date() -> None:
    plan = made([piece("Lamp", day=6)], [brief("First", 16, "Lamp")])
    assert days_of(plan, "day") == [6]
    assert days_of(plan, "run")[:2] == [3, 4] and len(days_of(plan, "run")) == 3
    new = [(d.day - TODAY).days for d in plan.days for t in d.load.tasks if t.why == "new"]
    assert max(new) < 3, "begun before its first run-through"


def test_a_piece_with_a_date_after_the_takes_of_its_brief_gets_no_extra_run_throughs() -> None:
    plan = made([piece("Lamp", day=24)], [brief("First", 12, "Lamp")])
    without = made([piece("Lamp")], [brief("First", 12, "Lamp")])
    assert days_of(plan, "day") == [24]
    assert days_of(plan, "run") == days_of(without, "run")
