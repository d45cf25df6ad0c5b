"""Progress: accuracy by local day, off book, recurring mistakes, and a forecast that knows its limits."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.desk import correct_word, detail, record_run, standing
from offbook.errors import JournalError
from offbook.journal import runs
from offbook.moment import local_day
from offbook.progress import by_day, off_book, often_wrong
from offbook.progress.forecast import Past, PastThought, between, forecast, spread_of, steady_slips
from offbook.progress.history import is_clean, timing_of
from offbook.records import Memory, RunRow
from offbook.schedule import Item
from offbook.score import Verdict
from tests.journals import LAMP, Desk, desk_at, facts, run_with, script_of

Slips = dict[int, tuple[Verdict, str | None]]


def say(desk: Desk, slips: Slips | None = None, *, prompts: int = 0, seconds: float = 30.0) -> RunRow:
    run = run_with(desk.version.words, slips or {}, seconds)
    return record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock, prompts))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_at(tmp_path)


# Accuracy ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_the_accuracy_of_a_day_equals_that_of_the_reference_scorer(desk: Desk, seed: int) -> None:
    """Hits of the script words as the jiwer package (4.0) counts them, over the words of the script."""
    dice = random.Random(seed)
    script, heard = [], []
    for _ in range(3):
        slips: Slips = {}
        for i in dice.sample(range(34), 5):
            slips[i] = ("dropped", None) if dice.random() < 0.5 else ("changed", f"other{i}")
        run = run_with(desk.version.words, slips)
        record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
        script.append(" ".join(w.text.lower() for w in desk.version.words))
        heard.append(" ".join(w.heard for w in run.words if w.heard is not None))
    reference = jiwer.process_words(script, heard)
    with desk.journal.reading() as conn:
        (day,) = standing(conn, desk.piece, desk.clock.now).days
    asked = reference.hits + reference.substitutions + reference.deletions
    assert day.high == pytest.approx(reference.hits / asked, abs=1e-12)


def test_the_high_and_the_low_accuracy_differ_by_the_unsure_words(desk: Desk) -> None:
    say(desk, {0: ("unsure", "a"), 1: ("dropped", None)})
    with desk.journal.reading() as conn:
        (day,) = standing(conn, desk.piece, desk.clock.now).days
    assert (day.low, day.high) == (32 / 34, 33 / 34)


# Local days ----------------------------------------------------------------------------------------

# Zones with odd rules in the IANA time zone database: a half-hour summer time, a quarter-hour offset with
# summer time, a quarter-hour offset, and an island that skipped 30 December 2011 when it changed sides of
# the date line.
ODD = ["Australia/Lord_Howe", "Pacific/Chatham", "Asia/Kathmandu", "Pacific/Apia"]


@given(st.sampled_from(ODD), st.integers(1_262_304_000, 1_893_456_000))
def test_local_days_agree_with_the_time_zone_database(zone: str, second: int) -> None:
    at = datetime.fromtimestamp(second, UTC)
    assert local_day(at, zone) == at.astimezone(ZoneInfo(zone)).date()


@pytest.mark.parametrize(
    ("zone", "at", "day"),
    [
        ("Pacific/Apia", datetime(2011, 12, 30, 9, 59, tzinfo=UTC), date(2011, 12, 29)),
        ("Pacific/Apia", datetime(2011, 12, 30, 10, 0, tzinfo=UTC), date(2011, 12, 31)),
        ("Australia/Lord_Howe", datetime(2026, 1, 1, 12, 59, tzinfo=UTC), date(2026, 1, 1)),
        ("Australia/Lord_Howe", datetime(2026, 1, 1, 13, 0, tzinfo=UTC), date(2026, 1, 2)),
        ("Australia/Lord_Howe", datetime(2026, 7, 1, 13, 29, tzinfo=UTC), date(2026, 7, 1)),
        ("Australia/Lord_Howe", datetime(2026, 7, 1, 13, 30, tzinfo=UTC), date(2026, 7, 2)),
        ("Pacific/Chatham", datetime(2026, 1, 1, 10, 14, tzinfo=UTC), date(2026, 1, 1)),
        ("Pacific/Chatham", datetime(2026, 1, 1, 10, 15, tzinfo=UTC), date(2026, 1, 2)),
        ("Asia/Kathmandu", datetime(2026, 1, 1, 18, 14, tzinfo=UTC), date(2026, 1, 1)),
        ("Asia/Kathmandu", datetime(2026, 1, 1, 18, 15, tzinfo=UTC), date(2026, 1, 2)),
    ],
)
def test_a_day_begins_at_midnight_of_its_time_zone(zone: str, at: datetime, day: date) -> None:
    """Offsets and the day that Apia skipped, 30 December 2011: IANA time zone database."""
    assert local_day(at, zone) == day


def test_two_evenings_on_either_side_of_a_skipped_day_are_two_days(tmp_path: Path) -> None:
    desk = desk_at(tmp_path, zone="Pacific/Apia")
    desk.clock.now = datetime(2011, 12, 30, 4, 0, tzinfo=UTC)
    say(desk)
    desk.clock.on(days=1)
    say(desk)
    with desk.journal.reading() as conn:
        found = standing(conn, desk.piece, desk.clock.now)
    assert [d.day for d in found.days] == [date(2011, 12, 29), date(2011, 12, 31)]
    assert found.off_book.since == date(2011, 12, 31)


def test_a_moment_without_its_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="aware"):
        local_day(datetime(2026, 1, 1), "UTC")
    with pytest.raises(JournalError, match="no time zone"):
        local_day(datetime(2026, 1, 1, tzinfo=UTC), "Nowhere/At_All")


# Off book ------------------------------------------------------------------------------------------


def test_being_off_book_needs_two_clean_run_throughs_on_different_days(desk: Desk) -> None:
    """98 % of the words: Noice & Noice, Memory 7(3), 1999 (abstract read)."""
    say(desk)
    say(desk)
    with desk.journal.reading() as conn:
        assert standing(conn, desk.piece, desk.clock.now).off_book.since is None
    desk.clock.on(days=1)
    say(desk)
    with desk.journal.reading() as conn:
        found = standing(conn, desk.piece, desk.clock.now).off_book
    assert (found.since, found.holds) == (date(2026, 3, 3), True)


def test_a_run_through_with_a_prompt_does_not_count_for_being_off_book(desk: Desk) -> None:
    say(desk)
    desk.clock.on(days=1)
    say(desk, prompts=1)
    with desk.journal.reading() as conn:
        assert standing(conn, desk.piece, desk.clock.now).off_book.since is None


def row(
    words: int, said: int, *, unsure: int = 0, prompts: int = 0, seconds: float = 60, day: int = 2
) -> RunRow:
    at = datetime(2026, 3, day, 18, tzinfo=UTC)
    lost = words - said - unsure
    return RunRow(
        "r", "p", "v", None, at, at.date(), "UTC", None, seconds, 50, words, said, unsure, 0, lost, 0, prompts
    )


def test_a_run_through_is_clean_from_98_words_in_a_hundred_on() -> None:
    assert is_clean(row(100, 98)) and is_clean(row(50, 49)) and is_clean(row(100, 97, unsure=1))
    assert not is_clean(row(100, 97)) and not is_clean(row(1000, 979)) and not is_clean(row(0, 0))


def test_an_unclean_run_through_after_being_off_book_is_reported(desk: Desk) -> None:
    for _ in range(2):
        say(desk)
        desk.clock.on(days=1)
    say(desk, dict.fromkeys(range(5), ("dropped", None)))
    with desk.journal.reading() as conn:
        found = standing(conn, desk.piece, desk.clock.now).off_book
    assert found.since == date(2026, 3, 3) and not found.holds


def test_without_a_run_through_there_are_no_days_no_off_book_and_no_timing() -> None:
    assert by_day([]) == () and off_book([], None).since is None and timing_of([], 60) is None


# Line by line --------------------------------------------------------------------------------------


def test_a_line_that_often_goes_wrong_is_named_with_what_is_said_instead(desk: Desk) -> None:
    stairs = next(w.i for w in desk.version.words if w.text == "stairs")
    for n in range(4):
        slips: Slips = {stairs: ("changed", "stars")} if n != 1 else {0: ("dropped", None)}
        say(desk, slips)
        desk.clock.on(days=1)
    with desk.journal.reading() as conn:
        seen = detail(conn, desk.piece)
    assert seen is not None
    (bad,) = often_wrong(seen.lines)
    assert (bad.n, bad.text.split()[0], bad.runs) == (4, "and", 4)
    assert [(g.text, g.how, g.instead, g.times) for g in bad.mistakes] == [("stairs", "changed", "stars", 3)]
    assert bad.accuracy == pytest.approx(1 - 3 / 36)
    assert [t.n for t in often_wrong(seen.thoughts)] == [4]


def test_a_corrected_word_no_longer_counts_as_going_wrong(desk: Desk) -> None:
    for _ in range(2):
        r = say(desk, {3: ("dropped", None)})
        correct_word(desk.journal, desk.piece, r.id, 3, "said", "")
        desk.clock.on(days=1)
    with desk.journal.reading() as conn:
        seen = detail(conn, desk.piece)
    assert seen is not None and often_wrong(seen.lines) == ()


def test_times_are_compared_with_the_limit_and_an_incomplete_speech_is_not_timed(desk: Desk) -> None:
    for seconds in (58.0, 63.0, 61.0):
        say(desk, seconds=seconds)
        desk.clock.on(days=1)
    say(desk, dict.fromkeys(range(20), ("dropped", None)), seconds=20)
    with desk.journal.reading() as conn:
        found = standing(conn, desk.piece, desk.clock.now).timing
    assert found is not None
    assert (found.seconds, found.shortest, found.longest, found.over, found.runs) == (61.0, 58.0, 63.0, 2, 3)
    assert found.rate_wpm == pytest.approx(34 * 60 / 61)


# The forecast --------------------------------------------------------------------------------------


def test_there_is_no_forecast_before_two_run_throughs_on_two_days(desk: Desk) -> None:
    for _ in range(2):
        say(desk)
    with desk.journal.reading() as conn:
        told = standing(conn, desk.piece, desk.clock.now).forecast
    assert told is not None and told.chance is None
    assert "2 run-throughs on 2 days" in told.reason


def test_a_piece_without_a_date_has_no_forecast(tmp_path: Path) -> None:
    from offbook.journal import change_piece, piece_named

    desk = desk_at(tmp_path)
    with desk.journal.writing() as conn:
        change_piece(desk.journal, conn, desk.piece.id, due_day=None)
        assert standing(conn, piece_named(conn, "The lamp"), desk.clock.now).forecast is None


def test_clean_run_throughs_give_a_high_chance_and_lost_lines_a_low_one(tmp_path: Path) -> None:
    chances = []
    for slips in ({}, dict.fromkeys(range(9, 24), ("dropped", None))):
        desk = desk_at(tmp_path / str(len(slips)), days_left=8)
        for _ in range(6):
            say(desk, slips)  # type: ignore[arg-type]
            desk.clock.on(days=1)
        with desk.journal.reading() as conn:
            told = standing(conn, desk.piece, desk.clock.now).forecast
        assert told is not None and told.chance is not None and told.low <= told.chance <= told.high
        chances.append(told.chance)
    assert chances[0] > 0.8 > 0.4 > chances[1]


def test_a_forecast_gives_its_reason(desk: Desk) -> None:
    from offbook.journal import change_piece, piece_named

    with desk.journal.writing() as conn:
        change_piece(desk.journal, conn, desk.piece.id, due_day=date(2026, 3, 8))
        piece = piece_named(conn, "The lamp")
    for _ in range(5):
        say(desk, dict.fromkeys(range(25, 34), ("dropped", None)))
        desk.clock.on(days=1)
    with desk.journal.reading() as conn:
        told = standing(conn, piece, desk.clock.now).forecast
    assert told is not None
    assert "thoughts are foretold at 90 %" in told.reason and "in the one day left" in told.reason
    assert told.weak and told.weak[0].unit.n == 3


def items(recall_days: float, due: date) -> list[Item]:
    _, _, units = script_of("one two three four.\n" * 10)
    at = datetime(2026, 3, 2, 12, tzinfo=UTC)
    m = Memory("p", 0, 2, None, recall_days, 5.0, at + timedelta(days=5), at, 4, 0, 0)
    return [Item("p", u, m, due, "UTC", 10) for u in units]


def test_stronger_memories_never_lower_the_chance() -> None:
    due, today = date(2026, 3, 12), date(2026, 3, 2)
    rows = [row(40, 39, day=1), row(40, 39, day=2)]
    past = [Past((PastThought(99, 40, 1, 0.9),))] * 2
    told = [forecast(items(s, due), rows, past, today, 0.5) for s in (1, 5, 20, 100)]
    chances = [f.chance if f.chance is not None else f.high for f in told]
    assert chances == sorted(chances)


@given(st.lists(st.floats(0.02, 0.995), min_size=1, max_size=12), st.integers(0, 30))
def test_a_chance_is_a_probability_within_its_range(recalls: list[float], left: int) -> None:
    import numpy as np

    keys = list(range(len(recalls)))
    past = [Past((PastThought(99, 90, 3, 0.8),))]
    found = spread_of(np.array(recalls), keys, np.full(len(recalls), 9.0), past, left)
    assert 0 <= found.accuracy_low <= found.accuracy_high <= 1
    assert 0 <= found.low <= found.high <= 1 and 0 <= found.chance <= 1 and 0 <= found.accuracy <= 1


@pytest.mark.heavy
def test_run_throughs_that_improve_never_lower_the_forecast(tmp_path: Path) -> None:
    """The same word is heard otherwise each time, the rest gets better from day to day."""
    desk = desk_at(tmp_path, text=LAMP * 6, days_left=12)  # 204 words: 98 % leaves four
    stairs = next(w.i for w in desk.version.words if w.text == "stairs")
    chances, lows = [], []
    for missed in (18, 2, 1, 0, 0):
        slips: Slips = {stairs: ("changed", "stars")}
        slips.update((k, ("dropped", None)) for k in range(missed))
        say(desk, slips)
        with desk.journal.reading() as conn:
            told = standing(conn, desk.piece, desk.clock.now).forecast
        assert told is not None
        if told.chance is not None:
            chances.append(told.chance)
            lows.append(told.low)
        desk.clock.on(days=1)
    chances, lows = [round(c, 2) for c in chances], [round(c, 2) for c in lows]  # as people read them
    assert len(chances) == 4 and chances == sorted(chances) and lows == sorted(lows)
    assert chances[-1] > 0.8


def test_after_two_run_throughs_the_range_is_wide_and_narrows_with_more() -> None:
    """In log-odds 1.7, 1.5 and 1.4 times 1.28, from the fit of the bench."""
    wide = [high - low for low, high in (between(0.7, n) for n in (2, 3, 4, 9))]
    assert wide[0] > wide[1] > wide[2] == wide[3]
    low, high = between(0.96, 2)
    assert (round(low, 2), round(high, 3)) == (0.73, 0.995)


def test_a_single_word_lost_every_time_is_a_steady_slip() -> None:
    once = Past((PastThought(0, 9, 1, 0.9), PastThought(1, 9, 3, 0.9), PastThought(2, 9, 0, 0.9)))
    assert steady_slips([once, once]) == {0: 1}
    assert steady_slips([once]) == {}
    more = Past((PastThought(0, 9, 2, 0.9),))
    assert steady_slips([once, more]) == {}


def test_run_throughs_are_returned_oldest_first(desk: Desk) -> None:
    for _ in range(3):
        say(desk)
        desk.clock.on(days=1)
    with desk.journal.reading() as conn:
        found = runs(conn, desk.piece.id, 2)
    assert [r.day for r in found] == [date(2026, 3, 3), date(2026, 3, 4)]
