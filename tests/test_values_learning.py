"""What a run-through, an answer and a correction by hand do to each thought, and when a reading is timed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.desk import confirm_word, correct_word, record_answer, record_run, run_named
from offbook.desk import own_pace as pace
from offbook.desk.heard_before import _sound_of, kept_recording
from offbook.desk.learning import _events
from offbook.desk.meant_pauses import marked_pauses, pauses_in, usual_pauses
from offbook.desk.own_pace import readings_in, readings_of
from offbook.desk.standings import detail, kept_by_piece, standing
from offbook.drill import Exercise, GivenAnswer, judge
from offbook.errors import JournalError, RecordingError
from offbook.journal import (
    add_piece,
    add_reading,
    add_version,
    keep_recording,
    practice,
    rated_runs,
    runs,
    scored_run,
    versions,
)
from offbook.records import RunRow
from offbook.score import Run
from tests.journals import LAMP, Desk, Slips, desk_at, facts, run_with, script_of


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_at(tmp_path)


def say(desk: Desk, slips: Slips | None = None, **more: Any) -> RunRow:
    """A run-through, an hour after the one before."""
    desk.clock.on(hours=1)
    run = run_with(desk.version.words, slips or {}, more.pop("seconds", 30.0))
    return record_run(desk.journal, desk.piece, desk.version, run, replace(facts(desk.clock), **more))


def dropped(*words: int) -> Slips:
    return dict.fromkeys(words, ("dropped", None))


def ratings(desk: Desk) -> list[str]:
    with desk.journal.reading() as conn:
        return [rated for _, rated, _ in rated_runs(conn, desk.piece.id)]


# The thoughts of the lamp are the words 0 to 8, 9 to 15, 16 to 24 and 25 to 33.


@pytest.mark.parametrize("word", [9, 15])
def test_a_word_corrected_by_hand_counts_for_the_thought_it_is_in(desk: Desk, word: int) -> None:
    row = say(desk, dropped(word, 12))
    assert ratings(desk) == ["3133"], "two of seven words were dropped"
    correct_word(desk.journal, desk.piece, row.id, word, "said", "")
    assert ratings(desk) == ["3233"]
    correct_word(desk.journal, desk.piece, row.id, 12, "unsure", "")
    assert ratings(desk) == ["3333"]
    correct_word(desk.journal, desk.piece, row.id, 0, "dropped", "")
    assert ratings(desk) == ["2333"]


def test_a_word_of_a_thought_that_was_not_reached_changes_no_rating(desk: Desk) -> None:
    row = say(desk, dropped(*range(12, 34)))
    assert ratings(desk) == ["3100"]
    correct_word(desk.journal, desk.piece, row.id, 30, "said", "")
    assert ratings(desk) == ["3100"]
    with desk.journal.reading() as conn:
        assert scored_run(conn, row.id).words[30].verdict == "said"


@pytest.mark.heavy
def test_a_confirmed_word_counts_as_said_here_in_earlier_run_throughs_and_from_now_on(desk: Desk) -> None:
    slips: Slips = {3: ("changed", "light"), 12: ("changed", "lights")}
    first, second = say(desk, slips), say(desk, {3: ("changed", "lit up"), **dropped(5)})
    third = say(desk, slips | {5: ("changed", "light")})
    assert confirm_word(desk.journal, desk.piece, third.id, 3) == 2
    with desk.journal.reading() as conn:
        told = {
            row.id: [scored_run(conn, row.id).words[k].verdict for k in (3, 5, 12)]
            for row in runs(conn, desk.piece.id)
        }
    assert told == {
        first.id: ["said", "said", "changed"],
        second.id: ["changed", "dropped", "said"],
        third.id: ["said", "changed", "changed"],
    }
    later = say(desk, {3: ("changed", "light"), 5: ("changed", "light")})
    with desk.journal.reading() as conn:
        assert [scored_run(conn, later.id).words[k].verdict for k in (3, 5)] == ["said", "changed"]
    assert later.said == 33 and later.changed == 1


def test_a_word_that_was_not_heard_as_another_cannot_be_confirmed(desk: Desk) -> None:
    row = say(desk, dropped(3))
    for word, number in ((3, 4), (4, 5)):
        with pytest.raises(JournalError) as caught:
            confirm_word(desk.journal, desk.piece, row.id, word)
        assert caught.value.what == f"word {number} was not heard as another word there"
        assert caught.value.do == (
            "see what is in question with `offbook correct PIECE`, or leave out --always"
        )


def test_an_unsure_word_of_the_run_through_asked_about_can_be_confirmed(desk: Desk) -> None:
    other = say(desk, {3: ("unsure", "light")})
    row = say(desk, {3: ("unsure", "light")})
    assert confirm_word(desk.journal, desk.piece, row.id, 3) == 1
    with desk.journal.reading() as conn:
        assert scored_run(conn, row.id).words[3].verdict == "said"
        assert scored_run(conn, other.id).words[3].verdict == "unsure"


def answered(desk: Desk, first: int, last: int, given: str | None, key: int = 1) -> Any:
    """An answer to the words first to last, given for the thoughts in between; the rows that were kept."""
    exercise = Exercise("join", key, first, last, "", 0, "", None)
    judged = None if given is None else judge(desk.version.words[first : last + 1], given)
    with desk.journal.writing() as conn:
        session = practice.start_session(desk.journal, conn, desk.piece, 5)
    at = desk.clock.on(seconds=20)
    known = record_answer(
        desk.journal, desk.piece, desk.version, session, exercise,
        GivenAnswer(given, at, 12.0, 1.5), judged, {0: 3, 1: 2},
    )  # fmt: skip
    with desk.journal.reading() as conn:
        return known, sorted(practice.answers(conn, desk.piece.id), key=lambda a: a.unit)


def test_an_answer_over_two_thoughts_is_kept_for_each_with_its_own_words_and_time(desk: Desk) -> None:
    known, rows = answered(desk, 5, 11, "before the tide came nobody who")
    assert [(a.unit, a.first, a.last, a.right, a.words, a.seconds) for a in rows] == [
        (0, 5, 8, 3, 4, pytest.approx(12 * 4 / 7)),
        (1, 9, 11, 2, 3, pytest.approx(12 * 3 / 7)),
    ]
    assert [(a.rating, a.predicted, a.pick_up, a.given) for a in rows] == [
        (3, None, 1.5, "before the tide came nobody who"),
        (2, None, 1.5, "before the tide came nobody who"),
    ]
    assert set(known) <= {0, 1}


def test_no_answer_counts_no_word_as_right(desk: Desk) -> None:
    _, rows = answered(desk, 5, 11, None)
    assert [(a.right, a.words, a.given) for a in rows] == [(0, 4, None), (0, 3, None)]


def test_the_history_of_a_thought_is_its_answers_and_run_throughs_before_a_moment(desk: Desk) -> None:
    answered(desk, 9, 15, "nobody asked who carried up the oil")
    asked = desk.clock.now
    row = say(desk, dropped(9))
    say(desk, dropped(*range(5, 34)))
    with desk.journal.reading() as conn:
        drafts = versions(conn, desk.piece.id)

        def history(until: datetime | None) -> list[tuple[datetime, int]]:
            return _events(conn, desk.piece, drafts, 1, until)

        assert sorted(history(None)) == [(asked, 2), (row.at, 2)]
        assert history(row.at) == [(asked, 2)]
        assert history(asked) == []


def test_a_thought_that_was_split_off_shares_the_history_before_its_draft(desk: Desk) -> None:
    row = say(desk)
    script, words, units = script_of(LAMP)
    halves = (units[0], replace(units[1], last=11), replace(units[1], n=2, key=9, first=12), *units[2:])
    split = tuple(replace(u, n=n, key=n) for n, u in enumerate(halves))
    desk.clock.on(hours=1)
    with desk.journal.writing() as conn:
        made, _ = add_version(desk.journal, conn, desk.piece.id, script, words, split)
    desk.clock.on(hours=1)
    run = run_with(words)
    later = record_run(desk.journal, desk.piece, made, run, facts(desk.clock))
    with desk.journal.reading() as conn:
        drafts = versions(conn, desk.piece.id)
        new = next(u for u in made.units if u.parent is not None)
        assert new.parent == 1
        assert sorted(_events(conn, desk.piece, drafts, new.key, None)) == [(row.at, 3), (later.at, 3)]


# Timed readings ---------------------------------------------------------------------------------------


def test_a_run_through_is_a_timed_reading_if_it_is_nearly_whole_and_without_a_prompt(desk: Desk) -> None:
    def count() -> int:
        with desk.journal.reading() as conn:
            return len(readings_in(conn, desk.performer.id))

    assert count() == 0
    say(desk, dropped(3))
    assert count() == 1, "one word of 34 is 2.9 %"
    say(desk, dropped(3, 4))
    assert count() == 1
    say(desk, prompts=1)
    assert count() == 1
    say(desk, seconds=0.0)
    assert count() == 1
    for _ in range(9):
        say(desk)
    assert count() == 8


def test_the_newest_eight_readings_count_whatever_they_are_of_the_oldest_first(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        for n in range(6):
            desk.clock.on(hours=1)
            add_reading(
                desk.journal, conn, desk.performer, f"Prose {n}", "Some words are read aloud.", 5.0 + n
            )
    for n in range(4):
        say(desk, seconds=30.0 + n)
    with desk.journal.reading() as conn:
        found = readings_in(conn, desk.performer.id)
    assert [round(r.seconds) for r in found] == [7, 8, 9, 10, 30, 31, 32, 33]


def test_a_performer_without_a_reading_is_told_how_to_make_one(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path))
    with pytest.raises(JournalError) as caught:
        readings_of("Mara")
    assert caught.value.what == "Mara has no timed reading yet"
    assert caught.value.do == 'run a piece through, or: offbook performer timed "Mara" TEXT 1:30'
    say(desk)
    assert len(readings_of("Mara")) == 1
    assert pace.NEWEST == 8


# Pauses that are meant --------------------------------------------------------------------------------


def paused(desk: Desk, at: int, seconds: float) -> Run:
    """A run-through with this silence before one word, and none elsewhere."""
    told = run_with(desk.version.words)
    words = [replace(w, start=0.5 * w.i, end=0.5 * w.i + 0.5) for w in told.words]
    words = [w if w.i < at else replace(w, start=w.start + seconds, end=w.end + seconds) for w in words]  # type: ignore[operator]
    return replace(told, words=tuple(words))


@pytest.mark.parametrize(
    ("silences", "found"),
    [
        ((1.0, 1.0, 6.0), {5: 6.0}),
        ((1.0, 0.99, 6.0), {}),
        ((1.0, 1.0, 6.01), {}),
        ((2.0, 2.0), {}),
        ((2.0, 2.5, 1.5, 3.0), {5: 3.0}),
    ],
)
def test_a_pause_is_meant_if_all_of_three_run_throughs_or_more_have_it(
    desk: Desk, silences: tuple[float, ...], found: dict[int, float]
) -> None:
    assert pauses_in([paused(desk, 5, s) for s in silences]) == pytest.approx(found)


def test_a_run_through_without_the_words_around_a_pause_does_not_count_for_it(desk: Desk) -> None:
    cut = paused(desk, 5, 2.0)
    for gone in (4, 5):
        words = tuple(replace(w, start=None, end=None) if w.i == gone else w for w in cut.words)
        less = replace(cut, words=words)
        assert pauses_in([less, less, less]) == {}
        assert pauses_in([cut, cut, less]) == {}
        assert set(pauses_in([cut, cut, cut, less])) == {5}


def test_only_the_five_newest_run_throughs_of_this_draft_are_looked_at(desk: Desk) -> None:
    def keep(seconds: float, version: Any = None) -> None:
        desk.clock.on(hours=1)
        record_run(
            desk.journal, desk.piece, version or desk.version, paused(desk, 5, seconds), facts(desk.clock)
        )

    def usual(version: Any = None) -> dict[int, float]:
        with desk.journal.reading() as conn:
            return usual_pauses(conn, desk.piece, version or desk.version)

    for seconds in (0.0, 2.0, 2.0):
        keep(seconds)
    assert usual() == {}
    for _ in range(2):
        keep(2.0)
    assert usual() == {}, "the first of the five has no pause"
    keep(2.5)
    assert usual() == pytest.approx({5: 2.5})
    script, words, units = script_of(LAMP)
    with desk.journal.writing() as conn:
        other, _ = add_version(desk.journal, conn, desk.piece.id, script, words, units)
    for _ in range(3):
        keep(3.0, other)
    assert usual() == {} and usual(other) == pytest.approx({5: 3.0})


def test_of_a_pencil_file_that_offbook_wrote_only_changed_marks_are_the_performers(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "lamp.pencil"
    path.write_text("", encoding="utf-8")

    def pencilled(*marks: tuple[int, int], only: bool) -> frozenset[int]:
        shifts = [SimpleNamespace(before_word=word, grade=grade) for word, grade in marks]
        found = SimpleNamespace(shifts=shifts, only=only)
        monkeypatch.setattr("offbook.pencil.load_pencil", lambda path, words: found)
        return marked_pauses(desk.version, path)

    computed = [SimpleNamespace(before_word=9, grade=2), SimpleNamespace(before_word=16, grade=3)]
    monkeypatch.setattr("offbook.thoughts.marks_of", lambda script, words, pencil: computed)
    marks = ((4, 1), (9, 2), (16, 2), (20, 0))
    assert pencilled(*marks, only=False) == {4, 9, 16}
    assert pencilled(*marks, only=True) == {4, 16}
    monkeypatch.setattr("offbook.thoughts.marks_of", None)
    assert pencilled((20, 0), only=True) == frozenset(), "without a mark nothing is computed"


# A run-through that is kept ---------------------------------------------------------------------------


def test_a_run_through_is_named_by_its_key_or_is_the_newest(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        ferry = add_piece(desk.journal, conn, desk.performer, "The ferry")
        with pytest.raises(JournalError) as caught:
            run_named(conn, ferry, None)
    assert caught.value.what == "The ferry has no run-through yet"
    assert caught.value.do == "record one: offbook run PIECE RECORDING"
    first, second = say(desk), say(desk)
    with desk.journal.reading() as conn:
        assert run_named(conn, desk.piece, None).id == second.id
        assert run_named(conn, desk.piece, first.id).id == first.id
        with pytest.raises(JournalError) as caught:
            run_named(conn, ferry, first.id)
    assert caught.value.what == f"run-through {first.id} is of another piece"
    assert caught.value.do == "see `offbook progress PIECE --runs`"


def test_the_sound_of_a_run_through_is_the_journals_or_the_takes_own_file(desk: Desk, tmp_path: Path) -> None:
    file = tmp_path / "one.wav"
    file.write_bytes(b"RIFF")
    kept = keep_recording(desk.journal, desk.piece, file)
    with_sound, without = say(desk, recording_id=kept.id), say(desk)
    take: Any = SimpleNamespace(file=str(file))

    def sound(row: RunRow, take: Any = None) -> Path:
        with desk.journal.reading() as conn:
            return _sound_of(conn, desk.journal, desk.piece, row, take)

    stored = desk.journal.recordings / kept.path
    assert sound(with_sound, take) == stored and sound(without, take) == file
    stored.unlink()
    with desk.journal.reading() as conn:
        assert kept_recording(conn, desk.journal, with_sound) is None
    assert sound(with_sound, take) == file
    file.unlink()
    for given in (None, take):
        with pytest.raises(RecordingError) as caught:
            sound(without, given)
        assert caught.value.what == "the recording of this run-through of The lamp is no longer kept"
        assert caught.value.do == "give the file itself: offbook review PIECE RECORDING"


def test_a_standing_counts_the_days_of_practice_of_the_performers_own_days(desk: Desk) -> None:
    say(desk)
    with desk.journal.writing() as conn:
        empty = add_piece(desk.journal, conn, desk.performer, "Empty")
        assert detail(conn, empty) is None
        found = kept_by_piece(conn, [desk.piece, empty], date(2026, 3, 2))
        assert [len(found[p.id].items) for p in (desk.piece, empty)] == [4, 0]
        assert standing(conn, desk.piece, datetime(2026, 3, 2, 20, tzinfo=UTC)).days_left == 20
        assert standing(conn, desk.piece, datetime(2026, 3, 3, 0, 30, tzinfo=UTC)).days_left == 19
    assert desk.clock.now - timedelta(hours=1) == datetime(2026, 3, 2, 18, tzinfo=UTC)
