"""The journal: what is committed stays, and what is half-written is never seen."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select, text

from offbook.desk import correct_word, record_run
from offbook.errors import JournalError
from offbook.journal import Connection, delete_marked_files, people, practice, sending
from offbook.journal import run_throughs as runs
from offbook.journal import tables as t
from offbook.journal.lately import day_totals, newest_runs, practice_days
from offbook.journal.opening import HEAD, bring_up_to_date, make_engine, revision_of
from offbook.journal.packing import pack_verdicts, unpack
from offbook.journal.sums import DraftCounts, draft_counts
from offbook.records import Answer, Circumstances, CuePickedUp, Piece, PromptGiven, Reason, Unit, Version
from offbook.score import SOMETHING_ELSE, Verdict, WordVerdict
from tests.journals import LAMP, Clock, Desk, desk_at, facts, log_a_take, open_at, run_with, script_of
from tests.once import _usual_pragmas
from tests.servers import postgresql


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    with postgresql() as url:
        yield url


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def desk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Desk]:
    """The same tests run on both databases."""
    url = None
    if request.param == "postgresql":
        url = request.getfixturevalue("server")
        engine = make_engine(tmp_path, url)
        with engine.begin() as conn:
            conn.execute(text("DROP SCHEMA public CASCADE"))
            conn.execute(text("CREATE SCHEMA public"))
        engine.dispose()
    made = desk_at(tmp_path / "home", url=url)
    yield made
    made.journal.close()


def test_the_journal_gives_back_a_run_through_word_for_word(desk: Desk) -> None:
    run = run_with(desk.version.words, {3: ("dropped", None), 7: ("changed", "ride"), 9: ("unsure", "in")})
    row = record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    with desk.journal.reading() as conn:
        assert runs.scored_run(conn, row.id) == run
        assert runs.runs(conn, desk.piece.id) == (row,)
    assert (row.said, row.unsure, row.changed, row.dropped) == (31, 1, 1, 1)


def test_the_journal_gives_back_what_the_partner_did_and_why_a_word_was_judged_so(desk: Desk) -> None:
    told = Circumstances(
        (PromptGiven(4, 6, "the lamp alight", 3.25, True),),
        (CuePickedUp("… go on with you", 0, 0.62),),
        (Reason(3, "alignment", "dropped", "nothing was heard here"),),
    )
    scored = run_with(desk.version.words, {3: ("dropped", None)})
    beside = replace(facts(desk.clock, prompts=1), told=told)
    row = record_run(desk.journal, desk.piece, desk.version, scored, beside)
    plain = record_run(desk.journal, desk.piece, desk.version, scored, facts(desk.clock))
    with desk.journal.reading() as conn:
        assert runs.circumstances_of(conn, row.id) == told
        assert runs.circumstances_of(conn, plain.id) == Circumstances()


def test_a_corrected_verdict_changes_the_score_and_keeps_the_original(desk: Desk) -> None:
    run = run_with(desk.version.words, {3: ("dropped", None)})
    row = record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    correct_word(desk.journal, desk.piece, row.id, 3, "said", "I did say that")
    with desk.journal.reading() as conn:
        after = runs.run_of(conn, row.id)
        assert (row.accuracy, after.accuracy) == (33 / 34, 1.0)
        assert runs.scored_run(conn, row.id).words[3].verdict == "said"
        assert runs.scored_run(conn, row.id, original=True) == run
        assert [(c.was, c.now, c.note) for c in runs.corrections(conn, row.id)] == [
            ("dropped", "said", "I did say that")
        ]
        assert newest_runs(conn, [desk.piece.id], 1)[desk.piece.id].marked[0].letters == "s" * 34


def test_a_word_corrected_by_hand_to_a_slip_does_not_quote_the_script_as_what_was_said(desk: Desk) -> None:
    """Nothing was heard of a dropped word, and what was said for a changed one is not known."""
    run = run_with(desk.version.words, {7: ("changed", "ride")})
    row = record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    slips: list[tuple[int, Verdict]] = [(3, "dropped"), (5, "changed"), (7, "dropped"), (7, "changed")]
    for word, verdict in slips:
        correct_word(desk.journal, desk.piece, row.id, word, verdict, "")
    with desk.journal.reading() as conn:
        words = runs.scored_run(conn, row.id).words
    assert (words[3].verdict, words[3].heard, words[3].start, words[3].end) == ("dropped", None, None, None)
    assert (words[5].verdict, words[5].heard) == ("changed", SOMETHING_ELSE)
    assert (words[7].verdict, words[7].heard) == ("changed", "ride")


def test_a_correction_changes_the_schedule_too(desk: Desk) -> None:
    """A thought that failed only because of a contested word is rated again and remembered again."""
    slips: dict[int, tuple[Verdict, str | None]] = dict.fromkeys(range(9), ("dropped", None))
    row = record_run(
        desk.journal, desk.piece, desk.version, run_with(desk.version.words, slips), facts(desk.clock)
    )
    with desk.journal.reading() as conn:
        failed = practice.memories(conn, [desk.piece.id])[desk.piece.id][0]
    for word in range(9):
        correct_word(desk.journal, desk.piece, row.id, word, "said", "")
    with desk.journal.reading() as conn:
        mended = practice.memories(conn, [desk.piece.id])[desk.piece.id][0]
        other = practice.memories(conn, [desk.piece.id])[desk.piece.id][1]
    assert failed.stability is not None and mended.stability is not None
    assert mended.stability > failed.stability
    assert (mended.stability, mended.difficulty, mended.lapses) == (other.stability, other.difficulty, 0)


def test_deleting_a_performer_deletes_everything_of_theirs(desk: Desk, tmp_path: Path) -> None:
    sound = tmp_path / "take.wav"
    sound.write_bytes(b"RIFF" + bytes(2000))
    kept = runs.keep_recording(desk.journal, desk.piece, sound)
    run = run_with(desk.version.words)
    row = record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock, recording_id=kept.id))
    correct_word(desk.journal, desk.piece, row.id, 0, "unsure", "")
    with desk.journal.writing() as conn:
        practice.start_session(desk.journal, conn, desk.piece, 5)
        practice.add_reading(desk.journal, conn, desk.performer, "x", "words", 3.0)
        log_a_take(desk, conn, kept.id, row.id)
    with desk.journal.writing() as conn:
        people.delete_performer(conn, desk.performer.id)
    delete_marked_files(desk.journal)
    with desk.journal.reading() as conn:
        for table in (*t.IN_ORDER, t.doomed):
            assert conn.execute(select(table)).all() == [], table.name
    assert [p for p in desk.journal.recordings.rglob("*") if p.is_file()] == []


def test_a_take_keeps_its_number_after_its_recording_and_its_brief_are_deleted(
    desk: Desk, tmp_path: Path
) -> None:
    sound = tmp_path / "take.wav"
    sound.write_bytes(b"RIFF" + bytes(2000))
    kept = runs.keep_recording(desk.journal, desk.piece, sound)
    row = record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.writing() as conn:
        first = log_a_take(desk, conn, kept.id, row.id)
        second = log_a_take(desk, conn, kept.id, None)
        sending.choose_take(desk.journal, conn, first)
        sending.choose_take(desk.journal, conn, second)
    with desk.journal.writing() as conn:
        runs.forget_recording(conn, kept.id)
        sending.delete_brief(conn, sending.briefs(conn)[0].id)
    with desk.journal.reading() as conn:
        one, two = sending.takes(conn, desk.piece.id)
        assert (one.n, two.n, one.chosen, two.chosen) == (1, 2, False, True)
        assert (one.recording_id, one.brief_id) == (None, None)
        assert sending.run_of_take(conn, one) == row and sending.run_of_take(conn, two) is None
        assert sending.takes_on(conn, desk.piece.id, one.day) == 2
        with pytest.raises(JournalError, match="no take 3"):
            sending.take_numbered(conn, desk.piece, 3)


def test_a_recording_without_a_run_through_waits_to_be_judged(desk: Desk, tmp_path: Path) -> None:
    sound = tmp_path / "take.wav"
    sound.write_bytes(b"RIFF")
    kept = runs.keep_recording(desk.journal, desk.piece, sound)
    with desk.journal.reading() as conn:
        assert runs.unjudged(conn, desk.piece.id) == (kept,)
    run = run_with(desk.version.words)
    record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock, recording_id=kept.id))
    with desk.journal.reading() as conn:
        assert runs.unjudged(conn, desk.piece.id) == ()


def test_a_run_through_of_another_text_is_refused(desk: Desk) -> None:
    _, words, _ = script_of("Quite another speech.")
    with pytest.raises(JournalError, match="draft 1"):
        record_run(desk.journal, desk.piece, desk.version, run_with(words), facts(desk.clock))


def test_a_performer_cannot_have_two_pieces_of_the_same_name(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        ivo = people.add_performer(desk.journal, conn, "Ivo", "Asia/Kathmandu")
        people.add_piece(desk.journal, conn, ivo, "The lamp")
        with pytest.raises(JournalError, match="several performers"):
            people.piece_named(conn, "The lamp")
        assert people.piece_named(conn, "The lamp", "Ivo").zone == "Asia/Kathmandu"
    with pytest.raises(JournalError, match="already"), desk.journal.writing() as conn:
        people.add_piece(desk.journal, conn, ivo, "The lamp")


def test_a_piece_is_found_by_the_beginning_of_its_name_if_only_one_fits(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        people.add_piece(desk.journal, conn, desk.performer, "The lantern")
        assert people.piece_named(conn, "the_lamp").name == "The lamp"
        assert people.piece_named(conn, "the lan").name == "The lantern"
        with pytest.raises(JournalError, match="The lamp, The lantern"):
            people.piece_named(conn, "the la")
        with pytest.raises(JournalError, match="no piece"):
            people.piece_named(conn, "lantern")


@given(
    st.lists(
        st.tuples(
            st.text(min_size=1, max_size=8),
            st.sampled_from(["said", "unsure", "changed", "dropped"]),
            st.none() | st.text(max_size=8),
            st.none() | st.integers(0, 7_200_000),
            st.none() | st.integers(0, 7_200_000),
            st.none() | st.integers(0, 1000),
        ),
        max_size=40,
    )
)
@pytest.mark.heavy
def test_packed_verdicts_are_unpacked_unchanged(
    rows: list[tuple[str, Verdict, str | None, int | None, int | None, int | None]],
) -> None:
    words = tuple(
        WordVerdict(
            i,
            w,
            verdict,
            heard,
            None if a is None else a / 1000,
            None if b is None else b / 1000,
            None if c is None else c / 1000,
        )
        for i, (w, verdict, heard, a, b, c) in enumerate(rows)
    )
    assert unpack([w.text for w in words], *pack_verdicts(words)) == words


# Bringing it up to date ----------------------------------------------------------------------------


@pytest.mark.filterwarnings("ignore:Skipped unsupported reflection of expression-based index")
def test_the_migrations_create_exactly_the_tables_that_the_program_uses(tmp_path: Path) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    journal = open_at(tmp_path, Clock())
    with journal.engine.connect() as conn:
        assert compare_metadata(MigrationContext.configure(conn), t.metadata) == []
        assert revision_of(conn) == HEAD


def test_the_journals_folder_may_have_any_name(tmp_path: Path) -> None:
    home = tmp_path / "Wren's data? #1 100%"
    open_at(home, Clock()).close()
    assert (home / "journal.sqlite3").is_file()


def test_the_constant_head_names_the_newest_migration_file() -> None:
    folder = Path(people.__file__).parent / "migrations" / "versions"
    assert max(p.name[1:5] for p in folder.glob("r*.py")) == HEAD


def test_an_older_journal_is_copied_before_its_update_and_loses_nothing(tmp_path: Path) -> None:
    engine = make_engine(tmp_path, None)
    now = datetime(2026, 3, 1, tzinfo=UTC)
    bring_up_to_date(engine, tmp_path, now, "0001")
    with engine.begin() as conn:
        conn.execute(
            t.performer.insert().values(
                id="p1", name="Mara", zone="UTC", minutes_a_day=20, voice_minutes=45, added_at=now
            )
        )
    engine.dispose()
    journal = open_at(tmp_path, Clock())
    with journal.reading() as conn:
        assert [p.name for p in people.performers(conn)] == ["Mara"]
        assert revision_of(conn) == HEAD
    copies = list((tmp_path / "copies").iterdir())
    assert [c.name for c in copies] == ["journal-0001-20260302T180000Z.sqlite3"]
    with sqlite3.connect(copies[0]) as old:
        assert old.execute("SELECT name FROM performer").fetchall() == [("Mara",)]
        assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]


@pytest.mark.postgres
def test_a_journal_on_a_server_is_also_copied_before_its_update(server: str, tmp_path: Path) -> None:
    engine = make_engine(tmp_path, server)
    with engine.begin() as conn:
        conn.execute(text("DROP SCHEMA public CASCADE"))
        conn.execute(text("CREATE SCHEMA public"))
    bring_up_to_date(engine, tmp_path, datetime(2026, 3, 1, tzinfo=UTC), "0001")
    engine.dispose()
    journal = open_at(tmp_path, Clock(), server)
    journal.close()
    copy = next((tmp_path / "copies").iterdir())
    assert copy.suffix == ".jsonl"
    assert '"version_num": "0001"' in copy.read_text(encoding="utf-8")


def test_a_newer_journal_is_refused_and_not_changed(tmp_path: Path) -> None:
    journal = open_at(tmp_path, Clock())
    with journal.writing() as conn:
        conn.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    journal.close()
    before = (tmp_path / "journal.sqlite3").read_bytes()
    with pytest.raises(JournalError, match="newer offbook"):
        open_at(tmp_path, Clock())
    assert (tmp_path / "journal.sqlite3").read_bytes() == before


# Drafts --------------------------------------------------------------------------------------------


def test_words_that_stay_after_a_cut_keep_their_history(desk: Desk) -> None:
    """Mara drops "lit" in draft 1, cuts line 2, and the slip still is at her "lit" in draft 2."""
    run = run_with(desk.version.words, {3: ("dropped", None), 12: ("dropped", None)})
    record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    lines = LAMP.splitlines()
    script, words, units = script_of("\n".join([lines[0], *lines[2:]]))
    with desk.journal.writing() as conn:
        draft, carried = people.add_version(desk.journal, conn, desk.piece.id, script, words, units)
        slots = runs_slots(desk, conn)
    assert [(c.unit.key, c.changed) for c in carried] == [(0, False), (2, False), (3, False)]
    assert draft.slots[3] == slots[desk.version.id][3]
    from offbook.progress.history import count_words

    with desk.journal.reading() as conn:
        counts = count_words(
            draft,
            newest_runs(conn, [desk.piece.id], 5)[desk.piece.id].marked,
            people.slots_by_version(conn, desk.piece.id),
        )
    assert [i for i, m in enumerate(counts.missed) if m] == [3]


def runs_slots(desk: Desk, conn: Connection) -> dict[str, tuple[int, ...]]:
    return people.slots_by_version(conn, desk.piece.id)


def test_words_that_were_cut_and_restored_get_their_history_back(desk: Desk) -> None:
    record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    lines = LAMP.splitlines()
    with desk.journal.writing() as conn:
        people.add_version(desk.journal, conn, desk.piece.id, *script_of("\n".join(lines[:1] + lines[2:])))
        back, carried = people.add_version(desk.journal, conn, desk.piece.id, *script_of(LAMP))
        known = practice.memories(conn, [desk.piece.id])[desk.piece.id]
    assert back.slots == desk.version.slots
    assert [c.unit.key for c in carried] == [0, 1, 2, 3]
    assert sorted(known) == [0, 1, 2, 3]


def test_a_line_that_was_moved_keeps_its_history(desk: Desk) -> None:
    lines = LAMP.splitlines()
    moved = "\n".join([lines[1], lines[2], lines[3], lines[0]])
    with desk.journal.writing() as conn:
        draft, carried = people.add_version(desk.journal, conn, desk.piece.id, *script_of(moved))
    assert [c.unit.key for c in carried] == [1, 2, 3, 0]
    assert not any(c.changed for c in carried)
    assert sorted(draft.slots) == list(range(34))


def test_a_changed_thought_keeps_its_memory_but_is_asked_at_once(desk: Desk) -> None:
    record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    desk.clock.on(hours=1)
    changed = LAMP.replace("Nobody asked", "No one had asked")
    with desk.journal.writing() as conn:
        _, carried = people.add_version(desk.journal, conn, desk.piece.id, *script_of(changed))
        known = practice.memories(conn, [desk.piece.id])[desk.piece.id]
    assert [c.changed for c in carried] == [False, True, False, False]
    assert known[1].due <= desk.clock.now and known[1].stability == known[0].stability


def test_words_divided_into_other_thoughts_keep_their_history_and_are_not_asked_sooner(
    desk: Desk,
) -> None:
    """A new version of the tool may divide a speech into other thoughts: what was learnt stays learnt."""
    record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.reading() as conn:
        before = practice.memories(conn, [desk.piece.id])[desk.piece.id]
    script, words, _ = script_of(LAMP)
    joined = (
        Unit(0, 0, 0, 15, "The lamp was lit"),
        Unit(1, 1, 16, 20, "I carried"),
        Unit(2, 2, 21, 33, "up"),
    )
    with desk.journal.writing() as conn:
        _, carried = people.add_version(desk.journal, conn, desk.piece.id, script, words, joined)
        known = practice.memories(conn, [desk.piece.id])[desk.piece.id]
    assert not any(c.changed for c in carried)
    assert carried[0].made_of == (0, 1)
    for c in carried:
        old = [before[key] for key in c.made_of]
        assert known[c.unit.key].due == min(m.due for m in old)
        assert known[c.unit.key].stability in [m.stability for m in old]


# Days ----------------------------------------------------------------------------------------------


def test_the_day_of_a_run_through_is_the_performers_local_day_even_after_a_journey(desk: Desk) -> None:
    """At 23:30 in London it is already tomorrow in Auckland; yesterday's day does not move with Mara."""
    desk.clock.now = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.writing() as conn:
        people.change_performer(desk.journal, conn, desk.performer.id, zone="Pacific/Auckland")
        away = people.piece_named(conn, "The lamp")
    desk.clock.on(minutes=5)
    record_run(desk.journal, away, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.reading() as conn:
        days = [(r.day, r.zone) for r in runs.runs(conn, desk.piece.id)]
    assert days == [(date(2026, 3, 2), "Europe/London"), (date(2026, 3, 3), "Pacific/Auckland")]


def test_a_new_day_begins_at_midnight_and_at_no_other_time(desk: Desk) -> None:
    desk.clock.now = datetime(2026, 3, 28, 23, 59, 59, tzinfo=UTC)
    for _ in range(3):  # before midnight, after it, and after the clocks go forward at 01:00 UTC
        record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
        desk.clock.on(hours=1, seconds=2)
    with desk.journal.reading() as conn:
        totals = day_totals(conn, [desk.piece.id], 98)[desk.piece.id]
    assert [(d.day, d.runs) for d in totals] == [(date(2026, 3, 28), 1), (date(2026, 3, 29), 2)]


def test_only_voice_used_on_the_local_day_is_counted(desk: Desk) -> None:
    run = run_with(desk.version.words, seconds=90)
    record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    desk.clock.on(days=1)
    record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock))
    with desk.journal.reading() as conn:
        assert runs.voice_seconds(conn, desk.performer.id, date(2026, 3, 3)) == 90
        assert runs.voice_seconds(conn, desk.performer.id, date(2026, 3, 4)) == 0


def test_an_empty_name_is_refused(desk: Desk) -> None:
    with pytest.raises(JournalError, match="cannot be used as a name"), desk.journal.writing() as conn:
        people.add_performer(desk.journal, conn, "  ", "UTC")
    with pytest.raises(JournalError, match="no time zone"), desk.journal.writing() as conn:
        people.add_performer(desk.journal, conn, "Ada", "Mars/Olympus")


def test_a_new_name_of_a_piece_must_not_be_in_use(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        people.add_performer(desk.journal, conn, "Ivo", "UTC")
        people.add_piece(desk.journal, conn, desk.performer, "The lantern")
    with pytest.raises(JournalError, match="already a performer called Ivo"), desk.journal.writing() as conn:
        people.change_performer(desk.journal, conn, desk.performer.id, name="Ivo")
    with pytest.raises(JournalError, match="piece called The lantern"), desk.journal.writing() as conn:
        people.change_piece(desk.journal, conn, desk.piece.id, name="The lantern")


def test_stored_moments_sorted_as_text_are_in_the_order_of_time(desk: Desk) -> None:
    """Moments are compared as text in the database: a half second must not sort before a whole one."""
    for step in (0.0, 0.5, 0.5, 30.0):
        desk.clock.now += timedelta(seconds=step)
        record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.reading() as conn:
        found = [r.at for r in runs.runs(conn, desk.piece.id)]
    assert found == sorted(found)


def test_the_seconds_per_word_of_a_piece_are_computed_from_its_last_answers(desk: Desk) -> None:
    """A piece without answers has no time, and the newest answers count alone."""
    unit = desk.version.units[0]
    with desk.journal.writing() as conn:
        assert practice.seconds_a_word(conn, [desk.piece.id, "none"]) == {}
        sitting = practice.start_session(desk.journal, conn, desk.piece, 5)
        for minute, (seconds, words) in enumerate(((100.0, 10), (12.0, 8), (6.0, 4))):
            at = desk.clock.now + timedelta(minutes=minute)
            whose = (desk.journal.key(), desk.piece.id, desk.version.id, sitting.id)
            when = (at, at.date(), desk.piece.zone)
            given = Answer(
                *(*whose, *when, "thought", unit.key, 1, 0, 7, "the lamp", words, words),
                seconds=seconds, pick_up=None, spoken=False, rating=3, predicted=None,
            )  # fmt: skip
            practice.add_answer(conn, given)
        both = practice.seconds_a_word(conn, [desk.piece.id, "none"])
        assert both == {desk.piece.id: pytest.approx(118.0 / 22)}
        assert practice.seconds_a_word(conn, [desk.piece.id], last=2) == {desk.piece.id: pytest.approx(1.5)}


def test_a_commit_waits_for_the_disk_and_deleted_rows_are_overwritten(tmp_path: Path) -> None:
    """SQLite, PRAGMA statements: synchronous 2 is FULL, secure_delete 1 overwrites with zeros."""
    with closing(sqlite3.connect(tmp_path / "a.sqlite3")) as raw:
        _usual_pragmas(raw)
        told = [raw.execute(f"PRAGMA {name}").fetchone()[0] for name in
                ("journal_mode", "synchronous", "foreign_keys", "secure_delete")]  # fmt: skip
        assert told == ["wal", 2, 1, 1]
        assert raw.isolation_level is None


def answered_together(desk: Desk, keys: Iterator[str]) -> dict[str, float]:
    """One question over three thoughts: three answers of one moment, kept under these keys."""
    with desk.journal.writing() as conn:
        sitting = practice.start_session(desk.journal, conn, desk.piece, 5)
        at = desk.clock.now
        for unit, seconds in zip(desk.version.units, (3.0, 8.0, 20.0), strict=False):
            whose = (next(keys), desk.piece.id, desk.version.id, sitting.id)
            when = (at, at.date(), desk.piece.zone)
            many = unit.words
            given = Answer(
                *(*whose, *when, "build-up", unit.key, 1, unit.first, unit.last, "the lamp", many, many),
                seconds=seconds, pick_up=None, spoken=False, rating=3, predicted=None,
            )  # fmt: skip
            practice.add_answer(conn, given)
        return practice.seconds_a_word(conn, [desk.piece.id], last=2)


def test_answers_given_at_one_moment_are_ordered_by_their_words_and_not_by_random_keys(
    tmp_path: Path,
) -> None:
    """Two journals with the same answers plan the same day, whatever keys their rows have."""
    up, down = (f"{n:032x}" for n in range(3)), (f"{n:032x}" for n in reversed(range(3)))
    one, other = desk_at(tmp_path / "one"), desk_at(tmp_path / "other")
    units = one.version.units
    words = units[1].words + units[2].words
    assert list(answered_together(one, up).values()) == [pytest.approx(28.0 / words)]
    assert list(answered_together(other, down).values()) == [pytest.approx(28.0 / words)]
    with one.journal.reading() as conn:
        first = [a.unit for a in practice.answers(conn, one.piece.id)]
    with other.journal.reading() as conn:
        assert first == [a.unit for a in practice.answers(conn, other.piece.id)] == [u.key for u in units[:3]]


def test_a_mistake_in_our_own_code_is_not_reported_as_a_damaged_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name that an object of the program lacks is our mistake; one that a stored value lacks is damage."""
    desk = desk_at(tmp_path)
    monkeypatch.delattr("offbook.journal.practice.t.answer")
    with pytest.raises(AttributeError, match="answer"), desk.journal.reading() as conn:
        practice.answers(conn, desk.piece.id)


def test_a_stored_value_of_the_wrong_type_is_reported_as_a_damaged_journal(tmp_path: Path) -> None:
    desk = desk_at(tmp_path)
    row = record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.writing() as conn:
        conn.execute(text("UPDATE run SET heard = '[1]' WHERE id = :id"), {"id": row.id})
    with (
        pytest.raises(JournalError, match=r"something in .*sqlite3 cannot be read \(AttributeError\)"),
        desk.journal.reading() as conn,
    ):
        newest_runs(conn, [desk.piece.id], 2)


def test_asking_for_many_pieces_gives_the_same_newest_run_throughs_as_asking_for_each(desk: Desk) -> None:
    second = another_piece(desk)
    for n, (piece, version) in enumerate([(desk.piece, desk.version), second] * 3):
        slips: dict[int, tuple[Verdict, str | None]] = {n: ("changed", f"heard{n}")}
        record_run(desk.journal, piece, version, run_with(version.words, slips), facts(desk.clock))
        desk.clock.on(days=n % 2)  # both of a day at one moment
    with desk.journal.reading() as conn:
        newest = newest_runs(conn, [desk.piece.id, second[0].id], 2)
        days = practice_days(conn, [desk.piece.id, second[0].id], desk.clock.now.date() - timedelta(days=2))
        totals = day_totals(conn, [second[0].id, desk.piece.id], 98)
        every = {p.id: runs.runs(conn, p.id) for p in (desk.piece, second[0])}
    for key, begins in ((desk.piece.id, 2), (second[0].id, 3)):
        assert [row for row, _, _ in newest[key].rated] == list(every[key][1:])
        assert [m.run_id for m in newest[key].marked] == [row.id for row in every[key][1:]]
        assert [m.heard for m in newest[key].marked] == [
            {begins: f"heard{begins}"},
            {begins + 2: f"heard{begins + 2}"},
        ]
        assert [d.runs for d in totals[key]] == [1, 1, 1]
        assert [d.said for d in totals[key]] == [33, 33, 33]
        assert days[key] == {row.day for row in every[key][1:]}


def test_no_more_run_throughs_are_given_than_asked_for_even_if_two_have_the_same_time(desk: Desk) -> None:
    for _ in range(3):
        record_run(desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock))
    with desk.journal.reading() as conn:
        assert len(newest_runs(conn, [desk.piece.id], 2)[desk.piece.id].rated) == 2
        assert len(newest_runs(conn, [desk.piece.id], 9)[desk.piece.id].marked) == 3
        assert newest_runs(conn, [], 9) == {}


def another_piece(desk: Desk) -> tuple[Piece, Version]:
    """A second piece of the same performer, with the same words."""
    with desk.journal.writing() as conn:
        (owner,) = people.performers(conn)
        piece = people.add_piece(desk.journal, conn, owner, "Again")
        draft = desk.version
        return piece, people.add_version(
            desk.journal, conn, piece.id, draft.script, draft.words, draft.units
        )[0]


def test_the_newest_draft_is_counted_by_the_database(desk: Desk) -> None:
    second, draft = another_piece(desk)
    with desk.journal.writing() as conn:
        shorter = script_of("The lamp was lit.\n")
        people.add_version(desk.journal, conn, second.id, *shorter)
        counts = draft_counts(conn)
    assert counts[desk.piece.id] == DraftCounts(1, len(draft.words), len(draft.units))
    assert counts[second.id] == DraftCounts(2, len(shorter[1]), len(shorter[2]))
