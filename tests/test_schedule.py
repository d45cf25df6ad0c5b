"""The schedule: FSRS through our adapter, aimed at a date, shared out over the days there are."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.desk import agenda, record_run
from offbook.journal import practice
from offbook.moment import local_day, utc_from, utc_text
from offbook.progress import StretchHistory
from offbook.records import Memory, Unit
from offbook.report import day_name, text_stretches
from offbook.schedule import (
    AGAIN,
    GOOD,
    HARD,
    SAFE,
    Item,
    day_due,
    minutes_needed,
    next_help,
    plan,
    rating_of,
    ratings_of,
    recall_after,
    recall_at,
    review,
    voice_note,
)
from tests.journals import desk_at, facts, run_with

# py-fsrs 6, tests/test_basic.py of open-spaced-repetition/py-fsrs: ratings in, days out (test_review_card),
# and stability and difficulty after a history (test_memo_state). Read in its repository.
PUBLISHED_RATINGS = (3, 3, 3, 3, 3, 3, 1, 1, 3, 3, 3, 3, 3)
PUBLISHED_DAYS = [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]
TODAY = date(2026, 3, 2)


def test_the_published_ratings_give_the_published_intervals() -> None:
    at = datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    memory: Memory | None = None
    days = []
    for rating in PUBLISHED_RATINGS:
        memory = review(memory, "p", 0, rating, at)
        assert memory.last_review is not None
        days.append((memory.due - memory.last_review).days)
        at = memory.due
    assert days == PUBLISHED_DAYS


def test_the_published_ratings_give_the_published_stability_and_difficulty() -> None:
    at = datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    memory: Memory | None = None
    for rating, days in zip((1, 3, 3, 3, 3, 3), (0, 0, 1, 3, 8, 21), strict=True):
        at += timedelta(days=days)
        memory = review(memory, "p", 0, rating, at)
    assert memory is not None
    assert memory.stability == pytest.approx(53.62691, abs=1e-4)
    assert memory.difficulty == pytest.approx(6.3574867, abs=1e-4)


def test_after_as_many_days_as_the_stability_the_chance_of_recall_is_nine_in_ten() -> None:
    """FSRS defines stability so: recall falls to 90 % in that many days (its wiki; memory)."""
    memory = review(None, "p", 0, GOOD, datetime(2026, 3, 2, tzinfo=UTC))
    held = replace(memory, stability=20.0)
    assert recall_after(held, 20) == pytest.approx(0.9, abs=1e-9)


def test_a_rating_is_computed_from_the_answer_and_the_help_that_was_shown() -> None:
    assert rating_of(10, 10) == GOOD
    assert rating_of(9, 10) == HARD
    assert rating_of(7, 10) == AGAIN
    assert rating_of(0, 10, gave_up=True) == AGAIN
    assert rating_of(10, 10, prompted=True) == AGAIN
    assert rating_of(10, 10, help_=2) == HARD
    assert rating_of(10, 10, help_=3) == 0, "copying proves nothing"
    assert rating_of(2, 10, help_=3) == AGAIN, "but failing to copy does"


def test_there_is_less_help_after_each_clean_recall_and_more_after_a_failure() -> None:
    help_ = 2
    shown = []
    for rating in (GOOD, GOOD, GOOD, AGAIN, HARD, GOOD):
        help_ = next_help(help_, rating)
        shown.append(help_)
    assert shown == [1, 0, 0, 1, 1, 0]


def units(count: int, words: int = 10) -> list[Unit]:
    return [Unit(n, n, n * words, n * words + words - 1, f"thought {n + 1}") for n in range(count)]


def item(n: int, memory: Memory | None, due: date | None = None, seconds: float = 20.0) -> Item:
    return Item("p", units(n + 1)[n], memory, due, "Europe/London", seconds)


def test_a_new_date_or_memory_changes_no_other_field_of_an_item() -> None:
    """The copies are made field by field, for speed; a field that is added later must not be lost."""
    now, day = item(2, known(3.0, 1, 2), date(2026, 3, 9), 17.5), date(2026, 3, 12)
    assert now.remembered(known(8.0, 2, 2)) == replace(now, memory=known(8.0, 2, 2))
    assert now.aimed_at(day) == replace(now, date=day)
    assert now.aimed_at(None) == replace(now, date=None)


def known(stability: float, days_ago: int, unit: int = 0) -> Memory:
    at = datetime(2026, 3, 2, 12, tzinfo=UTC) - timedelta(days=days_ago)
    return Memory("p", unit, 2, None, stability, 5.0, at + timedelta(days=round(stability)), at, 4, 0, 1)


def test_a_thought_that_is_safe_until_the_date_is_not_asked_before_it() -> None:
    safe = item(0, known(stability=200, days_ago=1), TODAY + timedelta(days=10))
    assert day_due(safe, TODAY) is None
    assert recall_after(known(200, 1), 11) >= SAFE


@given(
    stability=st.floats(0.1, 400),
    ago=st.integers(0, 30),
    left=st.integers(1, 40),
)
def test_no_thought_is_postponed_beyond_the_date(stability: float, ago: int, left: int) -> None:
    due = TODAY + timedelta(days=left)
    back = day_due(item(0, known(stability, ago), due), TODAY)
    assert back is None or back < due or back <= TODAY + timedelta(days=1)


def test_without_a_date_a_thought_comes_back_after_the_schedulers_own_interval() -> None:
    assert day_due(item(0, known(stability=60, days_ago=0), None), TODAY) == TODAY + timedelta(days=60)


def test_if_the_plan_is_followed_recall_on_the_date_is_high() -> None:
    """Twelve thoughts, twelve days: every one is foretold at 90 % or more for the day itself."""
    due = TODAY + timedelta(days=12)
    items = [item(n, None, due) for n in range(12)]
    for ahead in range(12):
        day = TODAY + timedelta(days=ahead)
        taken = {t.unit.key for t in plan(items, day, 15, 1)[0].tasks}
        for n, i in enumerate(items):
            if n in taken:
                at = datetime(day.year, day.month, day.day, 18, tzinfo=UTC)
                m = review(review(i.memory, "p", n, GOOD, at), "p", n, GOOD, at + timedelta(minutes=10))
                items[n] = Item("p", i.unit, m, due, i.zone, i.seconds)
    for i in items:
        assert i.memory is not None and i.memory.last_review is not None
        assert recall_after(i.memory, (due - i.memory.last_review.date()).days) >= 0.9


def test_the_work_of_a_missed_week_is_spread_over_the_next_days() -> None:
    """Forty overdue thoughts, ten minutes a day: no day is overfull, and all are asked within a week."""
    due = TODAY + timedelta(days=30)
    items = [item(n, known(3, 10, n), due) for n in range(40)]
    loads = plan(items, TODAY, 10, 7)
    assert all(load.minutes <= 10 for load in loads)
    assert loads[0].moved > 0
    seen = {t.unit.key for load in loads for t in load.tasks}
    assert seen == set(range(40))


def test_the_weakest_thoughts_are_chosen_first_and_shown_in_the_order_of_the_speech() -> None:
    due = TODAY + timedelta(days=30)
    items = [item(0, known(8, 9, 0), due), item(1, known(2, 9, 1), due), item(2, known(1, 9, 2), due)]
    tasks = plan(items, TODAY, 1.1, 1)[0].tasks
    assert [t.unit.key for t in tasks] == [1, 2]


def test_the_pieces_of_a_day_keep_the_order_in_which_they_are_given() -> None:
    """The keys of pieces are random and must not decide what is shown first."""
    items = [replace(item(n, known(1, 9, n)), piece_id=key) for key in ("m", "b", "z") for n in (1, 0)]
    tasks = plan(items, TODAY, 60, 1)[0].tasks
    assert [(t.piece_id, t.unit.n) for t in tasks] == [(key, n) for key in ("m", "b", "z") for n in (0, 1)]


def test_new_thoughts_are_all_begun_well_before_the_date() -> None:
    due = TODAY + timedelta(days=20)
    loads = plan([item(n, None, due) for n in range(60)], TODAY, 30, 20)
    begun = [t.unit.key for load in loads[:15] for t in load.tasks if t.why == "new"]
    assert sorted(begun) == list(range(60))


def test_minutes_done_today_are_not_asked_for_again() -> None:
    items = [item(n, known(1, 9, n), None) for n in range(40)]
    assert plan(items, TODAY, 10, 1, done=10)[0].tasks == ()
    assert plan(items, TODAY, 10, 1, done=5)[0].minutes <= 5


def test_the_minutes_needed_are_given_even_if_they_exceed_the_daily_minutes() -> None:
    items = [item(n, known(1, 9, n), TODAY + timedelta(days=3)) for n in range(60)]
    assert minutes_needed(items, TODAY) >= 10


def test_a_piece_whose_date_has_passed_is_not_asked() -> None:
    assert plan([item(0, known(1, 9), TODAY - timedelta(days=1))], TODAY, 10, 3)[0].tasks == ()


def test_a_run_through_rates_each_thought_it_reached(tmp_path: Path) -> None:
    """The performer dries in line 3: that thought fails, and line 4 gets no rating."""
    desk = desk_at(tmp_path)
    first, second, third, _ = desk.version.units
    slips = dict.fromkeys(range(third.last - 1, 34), ("dropped", None)) | {
        second.first: ("changed", "somebody")
    }
    rated = ratings_of(desk.version.units, run_with(desk.version.words, slips))  # type: ignore[arg-type]
    assert rated == {first.key: GOOD, second.key: HARD, third.key: AGAIN}


def test_a_run_through_that_stops_between_two_thoughts_fails_the_second_of_them(tmp_path: Path) -> None:
    desk = desk_at(tmp_path)
    slips = dict.fromkeys(range(desk.version.units[2].first, 34), ("dropped", None))
    rated = ratings_of(desk.version.units, run_with(desk.version.words, slips))  # type: ignore[arg-type]
    assert rated == {0: GOOD, 1: GOOD, 2: AGAIN}


def test_a_run_through_decides_which_thoughts_today_asks(tmp_path: Path) -> None:
    desk = desk_at(tmp_path)
    with desk.journal.reading() as conn:
        before = agenda(conn, desk.performer, desk.clock.now)
    assert {t.why for t in before.plan.today.load.tasks} == {"new"}
    slips = dict.fromkeys(range(9), ("dropped", None))
    run = run_with(desk.version.words, slips)  # type: ignore[arg-type]
    record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    with desk.journal.reading() as conn:
        known_now = practice.memories(conn, [desk.piece.id])[desk.piece.id]
        after = agenda(conn, desk.performer, desk.clock.on(minutes=30))
    assert known_now[0].lapses == 1 and known_now[1].lapses == 0
    assert after.plan.today.load.tasks[0].unit.key == 0
    assert after.voice == pytest.approx(0.5)


def test_the_voice_note_says_to_stop_at_the_limit_of_full_voice() -> None:
    assert "no more aloud" in voice_note(45, 45)
    assert "12 of 45" in voice_note(12, 45)


# Values, each worked out by hand from the rule beside it -------------------------------------------

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def learnt(unit: int, days_ago: int, due_in: int, stability: float = 10.0) -> Memory:
    return Memory(
        piece_id="p", unit=unit, state=2, step=None, stability=stability, difficulty=5.0, times=3, lapses=0,
        due=NOON + timedelta(days=due_in), last_review=NOON - timedelta(days=days_ago), help=1,
    )  # fmt: skip


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
def test_each_rule_of_rating_holds_exactly_at_its_limits(
    right: int, words: int, help_: int, earned: int
) -> None:
    assert rating_of(right, words, help_=help_) == earned


def test_a_prompt_or_giving_up_is_rated_again_however_many_words_were_right() -> None:
    assert rating_of(10, 10, prompted=True) == AGAIN
    assert rating_of(10, 10, gave_up=True) == AGAIN


def test_the_level_of_help_always_stays_between_0_and_3() -> None:
    assert [next_help(h, GOOD) for h in range(4)] == [0, 0, 1, 2]
    assert [next_help(h, HARD) for h in range(4)] == [0, 1, 2, 3]
    assert [next_help(h, AGAIN) for h in range(4)] == [1, 2, 3, 3]


def test_times_and_lapses_are_counted_and_a_new_thought_begins_with_two_steps_of_help() -> None:
    first = review(None, "p", 1, GOOD, NOON)
    assert (first.times, first.lapses, first.help) == (1, 0, 1)
    failed = review(first, "p", 1, AGAIN, NOON + timedelta(days=3))
    assert (failed.times, failed.lapses, failed.help) == (2, 1, 2)
    assert failed.last_review == NOON + timedelta(days=3)


def test_recall_is_counted_in_whole_days_and_is_0_for_a_new_thought() -> None:
    """FSRS: a stability is the number of days after which nine in ten are recalled."""
    memory = learnt(1, 10, 0)
    assert recall_at(memory, NOON) == pytest.approx(0.9, abs=0.001)
    assert recall_at(memory, NOON - timedelta(days=10)) == pytest.approx(1.0)
    assert recall_at(memory, NOON + timedelta(hours=23)) == recall_at(memory, NOON)
    assert recall_at(None, NOON) == 0.0


def test_a_thought_is_due_on_its_own_day_or_the_day_before_the_date_if_that_is_earlier() -> None:
    assert day_due(item(1, None), TODAY) == TODAY
    memory = learnt(1, 5, 4)
    assert day_due(item(1, memory), TODAY) == TODAY + timedelta(days=4)
    shaky = replace(memory, stability=4.0)
    for left, due in ((10, 4), (5, 4), (4, 3), (3, 2), (1, 0)):
        day = TODAY + timedelta(days=left)
        assert day_due(item(1, shaky, day), TODAY) == TODAY + timedelta(days=due), left
    over = TODAY - timedelta(days=1)
    assert day_due(item(1, shaky, over), TODAY) == TODAY + timedelta(days=4)


def test_a_new_thought_takes_three_times_its_length_and_a_known_one_one_and_a_half_times() -> None:
    (load,) = plan([item(0, None), item(1, learnt(1, 10, 0))], TODAY, 60, days=1)
    assert {t.unit.key: t.minutes for t in load.tasks} == {0: pytest.approx(1.0), 1: pytest.approx(0.5)}
    assert load.minutes == pytest.approx(1.5)
    assert load.moved == 0


def test_a_task_says_why_it_is_planned() -> None:
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


def test_work_that_does_not_fit_moves_to_the_next_day_but_an_unused_day_takes_one_thought() -> None:
    pool = [item(n, learnt(n, 10 + n, -n)) for n in range(4)]  # half a minute each, the last the weakest
    (load,) = plan(pool, TODAY, 1.0, days=1)
    assert [t.unit.key for t in load.tasks] == [2, 3]
    assert load.moved == 2
    (short,) = plan(pool, TODAY, 0.3, days=1)
    assert [t.unit.key for t in short.tasks] == [3]
    (used,) = plan(pool, TODAY, 1.0, days=1, done=0.8)
    assert used.tasks == ()
    assert used.moved == 4


def test_a_day_begins_four_new_thoughts_or_a_tenth_of_them_and_more_if_the_date_is_near() -> None:
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


def test_the_minutes_needed_a_day_are_the_whole_work_divided_by_the_days_left() -> None:
    """Two new thoughts of 20 s are two minutes today; shared over the two days left, a minute a day and what
    comes back."""
    pool = [item(n, None, TODAY + timedelta(days=2)) for n in range(2)]
    loads = plan(pool, TODAY, float("inf"), 2)
    assert loads[0].minutes == pytest.approx(2.0)
    assert minutes_needed(pool, TODAY) == pytest.approx(sum(load.minutes for load in loads) / 2)


def test_the_voice_warning_begins_exactly_at_the_cap() -> None:
    assert "no more aloud" in voice_note(45, 45)
    assert voice_note(44, 45) == "44 of 45 minutes of full voice used today."


def test_a_stored_moment_keeps_its_microseconds_and_its_day_is_the_local_day() -> None:
    at = datetime(2026, 3, 2, 23, 30, 0, 5, tzinfo=UTC)
    assert utc_text(at) == "2026-03-02T23:30:00.000005Z"
    assert utc_from(utc_text(at)) == at
    assert local_day(at, "Asia/Kolkata") == date(2026, 3, 3)  # UTC+5:30 all the year
    assert local_day(at, "America/New_York") == date(2026, 3, 2)
    assert day_name(TODAY) == "Mon 2 Mar"


def test_lines_are_listed_with_their_number_and_accuracy() -> None:
    rows = text_stretches(
        [StretchHistory(3, 0, 4, "He lit the wick", 2, 0.95, 0.95, (), "3", "line")], 20
    ).splitlines()
    assert rows == ["   3  He lit the wick            95.0 %"]
