"""Rows of the journal at their bounds: clean run-throughs, corrections, takes and notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from offbook.errors import JournalError
from offbook.journal import (
    CONFIRMED,
    add_correction,
    add_margin_note,
    add_piece,
    add_reading,
    add_run,
    add_take,
    choose_take,
    chosen_takes,
    confirmed_words,
    day_totals,
    delete_margin_note,
    delete_take,
    margin_note_numbered,
    margin_notes,
    mark_margin_note_done,
    open_margin_notes,
    practice_days,
    rated_runs,
    run_of,
    run_of_take,
    runs,
    scored_run,
    set_recording_of_run,
    start_session,
    summaries,
    take_numbered,
    take_numbers,
    takes,
    takes_on,
    timed_readings,
)
from offbook.journal.packing import pack_told, pack_verdicts, unpack, unpack_told
from offbook.journal.run_throughs import _as_corrected, corrected_letters
from offbook.journal.sending import keep_brief
from offbook.journal.sums import DraftCounts, draft_counts
from offbook.records import Circumstances, Recall, RunRow, TakeRow
from offbook.score import SOMETHING_ELSE, Verdict, WordVerdict
from tests.journals import Desk, desk_at, facts, run_with

WORDS = 34  # of the script


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = desk_at(tmp_path / "home")
    yield made
    made.journal.close()


def spoken(desk: Desk, wrong: int = 0, prompts: int = 0, verdict: Verdict = "dropped") -> RunRow:
    """A run-through a minute later in which so many words went wrong."""
    desk.clock.on(minutes=1)
    run = run_with(desk.version.words, dict.fromkeys(range(wrong), (verdict, None)))
    with desk.journal.writing() as conn:
        return add_run(desk.journal, conn, desk.piece, desk.version, run, facts(desk.clock, prompts), [])


def test_a_run_through_is_clean_at_the_least_share_of_its_words_and_without_a_prompt(desk: Desk) -> None:
    """Of 34 words 17 are exactly half; an unsure word counts as said."""
    for wrong, prompts, verdict, clean in (
        (17, 0, "dropped", 1), (18, 0, "dropped", 0), (34, 0, "unsure", 1), (0, 1, "dropped", 0),
    ):  # fmt: skip
        desk.clock.on(days=1)
        spoken(desk, wrong, prompts, verdict)  # type: ignore[arg-type]
        with desk.journal.reading() as conn:
            day = day_totals(conn, [desk.piece.id], 50)[desk.piece.id][-1]
        assert (day.clean, day.runs, day.prompts) == (clean, 1, prompts)
    with desk.journal.reading() as conn:
        found = summaries(conn, desk.performer.id, clean_percent=50, newest=2)[desk.piece.id]
        assert (found.run_days, found.clean_days, len(found.runs), found.asked) == (4, 2, 2, 0)
        assert found.last_work == desk.clock.now.date() and found.runs[0].at < found.runs[1].at
        assert summaries(conn, clean_percent=50)[desk.piece.id].runs == found.runs[-1:]
        assert summaries(conn, "nobody", clean_percent=50) == {}
        assert draft_counts(conn) == {desk.piece.id: DraftCounts(1, WORDS, 4)}
        assert draft_counts(conn, "nobody") == {}


def test_a_day_of_practice_counts_from_the_given_day_on(desk: Desk) -> None:
    spoken(desk)
    today = desk.clock.now.date()
    with desk.journal.reading() as conn:
        for since, days in ((today, {today}), (today + timedelta(days=1), set[date]())):
            assert practice_days(conn, [desk.piece.id], since) == {desk.piece.id: days}


def test_a_run_through_is_found_by_the_beginning_of_its_key_if_only_one_fits(desk: Desk) -> None:
    one, two = spoken(desk), spoken(desk)
    with desk.journal.reading() as conn:
        assert run_of(conn, one.id) == one
        for key, told in (
            ("zz", "no run-through begins with 'zz'"),
            ("", "more than one run-through"),
        ):
            with pytest.raises(JournalError) as caught:
                run_of(conn, key)
            assert caught.value.what.startswith(told)
            assert caught.value.do == "see `offbook progress PIECE --runs` for their numbers"
        assert runs(conn, desk.piece.id) == (one, two)
        assert runs(conn, desk.piece.id, 1) == (two,)
        assert [row.id for row, _, _ in rated_runs(conn, desk.piece.id, 1)] == [two.id]


def test_a_prediction_is_kept_in_two_digits_and_a_thought_that_was_not_shown_in_none(desk: Desk) -> None:
    units = desk.version.units
    recalls = [Recall(units[0].key, 3, 0.999), Recall(units[1].key, 1, 1.0), Recall(units[3].key, 2, None)]
    with desk.journal.writing() as conn:
        run = run_with(desk.version.words)
        add_run(desk.journal, conn, desk.piece, desk.version, run, facts(desk.clock), recalls)
        [(_, ratings, predicted)] = rated_runs(conn, desk.piece.id)
    assert (ratings, predicted) == ("3102", "9999----")


def test_only_a_word_of_the_run_through_can_be_corrected(desk: Desk) -> None:
    row = spoken(desk, 2)
    with desk.journal.writing() as conn:
        for word in (-1, WORDS):
            with pytest.raises(JournalError) as caught:
                add_correction(desk.journal, conn, row.id, word, "said", "")
            assert caught.value.what == f"the run-through has no word {word + 1}"
            assert caught.value.do == "give a word from 1 to 34"
        first = add_correction(desk.journal, conn, row.id, 0, "said", "I did")
        desk.clock.on(seconds=1)
        second = add_correction(desk.journal, conn, row.id, 0, "changed", "")
        assert (first.was, first.now, second.was, second.now) == ("dropped", "said", "said", "changed")
        last = add_correction(desk.journal, conn, row.id, WORDS - 1, "unsure", "")
        assert last.was == "said"
        counted = run_of(conn, row.id)
    assert (counted.said, counted.unsure, counted.changed, counted.dropped) == (31, 1, 1, 1)


def word(verdict: Verdict, heard: str | None = "lamp") -> WordVerdict:
    return WordVerdict(0, "lamp", verdict, heard, 1.0, 1.5, 0.9)


def test_what_was_heard_of_a_corrected_word_is_what_is_known_of_it() -> None:
    gone = WordVerdict(0, "lamp", "dropped", None, None, None, None)
    assert _as_corrected(word("said"), "dropped") == gone
    assert _as_corrected(word("said"), "changed") == word("changed", SOMETHING_ELSE)
    assert _as_corrected(word("unsure", "damp"), "changed") == word("changed", "damp")
    assert _as_corrected(word("changed", "damp"), "said") == word("said", "damp")
    assert corrected_letters("sudc", {}) == "sudc"
    assert corrected_letters("sudc", {0: "dropped", 3: "said"}) == "duds"


def test_a_word_that_is_heard_as_another_each_time_is_known_by_its_slot(desk: Desk) -> None:
    desk.clock.on(minutes=1)
    slips = {3: ("changed", "bit"), 5: ("changed", "ride"), 7: ("dropped", None), 9: ("changed", "fed")}
    run = run_with(desk.version.words, slips)  # type: ignore[arg-type]
    with desk.journal.writing() as conn:
        row = add_run(desk.journal, conn, desk.piece, desk.version, run, facts(desk.clock), [])
        for i, now, note in ((3, "said", CONFIRMED), (5, "said", "I did"), (7, "said", CONFIRMED),
                             (9, "changed", CONFIRMED)):  # fmt: skip
            add_correction(desk.journal, conn, row.id, i, now, note)  # type: ignore[arg-type]
        assert confirmed_words(conn, desk.piece.id) == {(desk.version.slots[3], "bit")}
        assert scored_run(conn, row.id, original=True).words[3].verdict == "changed"
        assert scored_run(conn, row.id).words[3].verdict == "said"


def test_times_are_kept_to_a_thousandth_and_what_was_heard_only_where_it_differs() -> None:
    words = (
        WordVerdict(0, "The", "said", "the", 0.0004, 0.2506, 0.9004),
        WordVerdict(1, "lamp", "changed", "damp", 1.0, 1.5, 1.0),
        WordVerdict(2, "lit", "dropped", None, None, None, None),
    )
    letters, heard, times = pack_verdicts(words)
    assert (letters, heard) == ("scd", '{"1": "damp", "2": null}')
    back = unpack(["The", "lamp", "lit"], letters, heard, times)
    assert back == (replace(words[0], start=0.0, end=0.251, confidence=0.9), *words[1:])
    for texts, some in (
        (["The", "lamp"], letters),
        (["The", "lamp"], "sc"),
        (["The", "lamp", "lit", "x"], "scdd"),
    ):
        with pytest.raises(JournalError) as caught:
            unpack(texts, some, heard, times)
        assert caught.value.what == "the stored times of a run-through do not match its words"
        assert caught.value.do.startswith("the journal is damaged: put back a copy of it")
    assert pack_told(Circumstances()) is None and unpack_told(None) == unpack_told("{}") == Circumstances()


def take(desk: Desk, brief: str | None = None, recording: str | None = None) -> TakeRow:
    at = desk.clock.on(minutes=1)
    with desk.journal.writing() as conn:
        return add_take(
            desk.journal, conn, desk.piece, at=at, intention="", file="a.wav",
            recording_id=recording, brief_id=brief,
        )  # fmt: skip


def chosen(desk: Desk) -> list[int]:
    with desk.journal.reading() as conn:
        return [each.n for each in takes(conn, desk.piece.id) if each.chosen]


def test_one_take_is_chosen_for_each_brief_and_one_made_for_no_brief_gives_up_all_others(desk: Desk) -> None:
    deadline = desk.clock.now + timedelta(days=9)
    with desk.journal.writing() as conn:
        a, b = (keep_brief(desk.journal, conn, desk.performer, name, "x", deadline)[0].id for name in "ab")
    made = [take(desk, brief) for brief in (a, a, b, None)]
    assert [each.n for each in made] == [1, 2, 3, 4]
    for which, stays in ((0, [1]), (1, [2]), (2, [2, 3]), (3, [4]), (0, [1, 4])):
        with desk.journal.writing() as conn:
            choose_take(desk.journal, conn, made[which])
        assert chosen(desk) == stays
    with desk.journal.writing() as conn:
        assert chosen_takes(conn) == {desk.piece.id: {a, None}}
        today = desk.clock.now.date()
        assert (takes_on(conn, desk.piece.id, today), takes_on(conn, desk.piece.id, date(2026, 1, 1))) == (
            4,
            0,
        )
        assert take_numbered(conn, desk.piece, 3).id == made[2].id
        assert take_numbers(conn, desk.piece.id) == {} and run_of_take(conn, made[0]) is None
        with pytest.raises(JournalError) as caught:
            take_numbered(conn, desk.piece, 5)
        assert (caught.value.what, caught.value.do) == (
            "The lamp has no take 5", 'see `offbook take list "The lamp"`'
        )  # fmt: skip
        delete_take(conn, made[3].id)
        assert [each.n for each in takes(conn, desk.piece.id)] == [1, 2, 3]
    assert take(desk).n == 4  # the highest number that is there, and one


def test_the_run_through_of_a_take_is_its_own_or_one_of_the_same_recording(
    desk: Desk, tmp_path: Path
) -> None:
    from offbook.journal import keep_recording

    sound = tmp_path / "a.wav"
    sound.write_bytes(b"sound")
    kept = keep_recording(desk.journal, desk.piece, sound)
    made, row = take(desk, recording=kept.id), spoken(desk)
    with desk.journal.writing() as conn:
        assert run_of_take(conn, made) is None
        set_recording_of_run(conn, row.id, kept.id)
        found = run_of_take(conn, made)
        assert found is not None and (found.id, found.recording_id) == (row.id, kept.id)
        assert take_numbers(conn, desk.piece.id) == {kept.id: 1}
        assert run_of_take(conn, replace(made, run_id=row.id, recording_id=None)) == found


def test_a_note_of_the_margin_keeps_its_number_and_is_open_until_it_is_done(desk: Desk) -> None:
    def note(text: str) -> int:
        with desk.journal.writing() as conn:
            return add_margin_note(
                desk.journal, conn, desk.piece, slot=2, quote="q", text=text, author="Ivo"
            ).n  # fmt: skip

    assert [note("one"), note("two")] == [1, 2]
    with desk.journal.writing() as conn:
        one, two = margin_notes(conn, desk.piece.id)
        assert (one.take, one.done_at, one.slot) == (None, None, 2)
        assert open_margin_notes(conn, desk.performer.id) == {desk.piece.id: 2}
        assert open_margin_notes(conn, "nobody") == {}
        mark_margin_note_done(desk.journal, conn, one, desk.clock.now)
        assert margin_note_numbered(conn, desk.piece, 1).done_at == desk.clock.now
        assert open_margin_notes(conn, desk.performer.id) == {desk.piece.id: 1}
        mark_margin_note_done(desk.journal, conn, one, None)
        delete_margin_note(conn, two)
        assert [each.n for each in margin_notes(conn, desk.piece.id)] == [1]
        with pytest.raises(JournalError) as caught:
            margin_note_numbered(conn, desk.piece, 2)
        assert caught.value.what == "The lamp has no note 2 in its margin"
        assert caught.value.do == 'see `offbook margin list "The lamp"`'
    assert note("again") == 2


def test_the_newest_ten_timed_readings_count_oldest_first(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        for n in range(11):
            desk.clock.on(minutes=1)
            add_reading(desk.journal, conn, desk.performer, f"page {n}", "words", 10.0 + n)
        found = timed_readings(conn, desk.performer.id)
        assert [each.title for each in found] == [f"page {n}" for n in range(1, 11)]
        assert (found[0].seconds, found[0].day, found[0].zone) == (11.0, date(2026, 3, 2), "Europe/London")
        assert [each.title for each in timed_readings(conn, desk.performer.id, 1)] == ["page 10"]


def test_the_sums_of_one_performers_pieces_leave_out_those_of_another(desk: Desk) -> None:
    spoken(desk)
    with desk.journal.writing() as conn:
        other = add_piece(desk.journal, conn, desk.performer, "Another")
        start_session(desk.journal, conn, other, 5)
        assert {*summaries(conn, desk.performer.id, clean_percent=50)} == {desk.piece.id}
        assert day_totals(conn, [other.id], 50) == {other.id: ()}
