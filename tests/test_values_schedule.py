"""Values of the day's work and of the voice, each worked out by hand from the rule beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from offbook.moment import local_day, utc_from, utc_text
from offbook.progress import StretchHistory
from offbook.records import Memory, Unit
from offbook.report import day_name, text_stretches
from offbook.schedule import (
    AGAIN,
    GOOD,
    HARD,
    Item,
    day_due,
    faded,
    minutes_needed,
    plan,
    rating_of,
    recall_at,
    review,
    voice_note,
)

TODAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def learnt(unit: int, days_ago: int, due_in: int, stability: float = 10.0) -> Memory:
    return Memory(
        piece_id="p", unit=unit, state=2, step=None, stability=stability, difficulty=5.0, times=3, lapses=0,
        due=NOON + timedelta(days=due_in), last_review=NOON - timedelta(days=days_ago), help=1,
    )  # fmt: skip


def item(unit: int, memory: Memory | None, day: date | None = None, seconds: float = 20.0) -> Item:
    return Item("p", Unit(unit, unit, 10 * unit, 10 * unit + 9, "words"), memory, day, "UTC", seconds)


@pytest.mark.parametrize(
    "right, words, help_, earned",
    [
        (10, 10, 0, GOOD),
        (10, 10, 1, GOOD),  # only the shape of the words was shown
        (10, 10, 2, HARD),  # with their first letters, a right answer is worth less
        (9, 10, 0, HARD),
        (8, 10, 0, HARD),  # four fifths is still hard,
        (7, 10, 0, AGAIN),  # less is not
        (10, 10, 3, 0),  # nearly all of it was shown: it proves nothing
        (7, 10, 3, AGAIN),  # but a wrong answer does
        (0, 0, 0, AGAIN),
    ],
)
def test_a_recall_earns_its_rating_at_the_edges_of_each_rule(
    right: int, words: int, help_: int, earned: int
) -> None:
    assert rating_of(right, words, help_=help_) == earned


def test_a_prompt_or_giving_up_is_again_however_many_words_were_right() -> None:
    assert rating_of(10, 10, prompted=True) == AGAIN
    assert rating_of(10, 10, gave_up=True) == AGAIN


def test_help_has_four_steps_and_never_leaves_them() -> None:
    assert [faded(h, GOOD) for h in range(4)] == [0, 0, 1, 2]
    assert [faded(h, HARD) for h in range(4)] == [0, 1, 2, 3]
    assert [faded(h, AGAIN) for h in range(4)] == [1, 2, 3, 3]


def test_times_and_lapses_are_counted_and_a_new_thought_begins_with_two_steps_of_help() -> None:
    first = review(None, "p", 1, GOOD, NOON)
    assert (first.times, first.lapses, first.help) == (1, 0, 1)
    failed = review(first, "p", 1, AGAIN, NOON + timedelta(days=3))
    assert (failed.times, failed.lapses, failed.help) == (2, 1, 2)
    assert failed.last_review == NOON + timedelta(days=3)


def test_recall_is_counted_in_whole_days_and_is_nought_for_what_was_never_asked() -> None:
    """FSRS: a stability is the number of days after which nine in ten are recalled."""
    memory = learnt(1, 10, 0)
    assert recall_at(memory, NOON) == pytest.approx(0.9, abs=0.001)
    assert recall_at(memory, NOON - timedelta(days=10)) == pytest.approx(1.0)
    assert recall_at(memory, NOON + timedelta(hours=23)) == recall_at(memory, NOON)
    assert recall_at(None, NOON) == 0.0


def test_a_thought_is_due_on_its_own_day_unless_that_is_after_the_eve_of_the_date() -> None:
    assert day_due(item(1, None), TODAY) == TODAY
    memory = learnt(1, 5, 4)
    assert day_due(item(1, memory), TODAY) == TODAY + timedelta(days=4)
    shaky = replace(memory, stability=4.0)
    for left, due in ((10, 4), (5, 4), (4, 3), (3, 2), (1, 0)):
        day = TODAY + timedelta(days=left)
        assert day_due(item(1, shaky, day), TODAY) == TODAY + timedelta(days=due), left
    over = TODAY - timedelta(days=1)
    assert day_due(item(1, shaky, over), TODAY) == TODAY + timedelta(days=4)


def test_the_minutes_of_a_thought_are_three_askings_when_new_and_one_and_a_half_when_known() -> None:
    (load,) = plan([item(0, None), item(1, learnt(1, 10, 0))], TODAY, 60, days=1)
    assert {t.unit.key: t.minutes for t in load.tasks} == {0: pytest.approx(1.0), 1: pytest.approx(0.5)}
    assert load.minutes == pytest.approx(1.5)
    assert load.moved == 0


def test_a_task_says_why_it_is_there() -> None:
    soon = TODAY + timedelta(days=3)
    pool = [
        item(0, None),
        item(1, learnt(1, 10, 0)),
        item(2, learnt(2, 12, -2)),
        item(3, replace(learnt(3, 1, -1), state=3, step=0)),
        item(4, learnt(4, 1, 30, stability=4.0), TODAY + timedelta(days=1)),
        item(5, learnt(5, 1, 9), soon),
    ]
    (load,) = plan(pool, TODAY, 60, days=1)
    assert {t.unit.key: t.why for t in load.tasks} == {
        0: "new",
        1: "due",
        2: "late",
        3: "again",
        4: "before the date",
    }


def test_what_does_not_fit_moves_on_and_one_thought_always_fits_an_untouched_day() -> None:
    pool = [item(n, learnt(n, 10 + n, -n)) for n in range(4)]  # half a minute each, the last the weakest
    (load,) = plan(pool, TODAY, 1.0, days=1)
    assert [t.unit.key for t in load.tasks] == [2, 3]
    assert load.moved == 2
    (short,) = plan(pool, TODAY, 0.3, days=1)
    assert [t.unit.key for t in short.tasks] == [3]
    (used,) = plan(pool, TODAY, 1.0, days=1, done=0.8)
    assert used.tasks == ()
    assert used.moved == 4


def test_four_new_thoughts_a_day_or_a_tenth_and_more_where_the_date_is_near() -> None:
    """By hand: ten thoughts with nine days left are begun in 9 - 5 days, three a day are fewer than four."""
    for count, left, begun in (
        (3, None, 3),
        (10, None, 4),
        (80, None, 8),
        (10, 9, 4),
        (30, 9, 8),
        (30, 6, 30),
    ):
        day = None if left is None else TODAY + timedelta(days=left)
        (load,) = plan([item(n, None, day) for n in range(count)], TODAY, 999, days=1)
        assert len(load.tasks) == begun, (count, left)
        assert [t.unit.key for t in load.tasks] == list(range(begun))


def test_the_minutes_needed_are_all_the_work_shared_over_the_days_that_are_left() -> None:
    """Two new thoughts of 20 s are two minutes today; shared over the two days left, a minute a day and what
    comes back."""
    pool = [item(n, None, TODAY + timedelta(days=2)) for n in range(2)]
    loads = plan(pool, TODAY, float("inf"), 2)
    assert loads[0].minutes == pytest.approx(2.0)
    assert minutes_needed(pool, TODAY) == pytest.approx(sum(load.minutes for load in loads) / 2)


def test_voice_is_warned_of_from_the_cap_on() -> None:
    assert "no more aloud" in voice_note(45, 45)
    assert voice_note(44, 45) == "44 of 45 minutes of full voice used today."


def test_a_moment_keeps_its_microseconds_and_a_day_is_the_one_on_the_wall() -> None:
    at = datetime(2026, 3, 2, 23, 30, 0, 5, tzinfo=UTC)
    assert utc_text(at) == "2026-03-02T23:30:00.000005Z"
    assert utc_from(utc_text(at)) == at
    assert local_day(at, "Asia/Kolkata") == date(2026, 3, 3)  # UTC+5:30 all the year
    assert local_day(at, "America/New_York") == date(2026, 3, 2)
    assert day_name(TODAY) == "Mon 2 Mar"


def test_stretches_are_listed_with_their_number_and_share() -> None:
    rows = text_stretches(
        [StretchHistory(3, 0, 4, "He lit the wick", 2, 0.95, 0.95, (), "3", "line")], 20
    ).splitlines()
    assert rows == ["   3  He lit the wick            95.0 %"]
