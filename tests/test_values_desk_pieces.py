"""Pieces and what is asked of them: drafts and parts, the thoughts of a day, the margin, models and lines."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.desk import Loading, class_rows, spans_of, with_forecast
from offbook.desk import model_loading as loadings
from offbook.desk.agendas import agenda, items_of
from offbook.desk.drilling import lay_out_sitting
from offbook.desk.margins import PlacedNote, placed_notes, still_open, write_margin_note
from offbook.desk.model_loading import Ears
from offbook.desk.pieces import add_from_file, change_part, revise_from_file, thought_rows
from offbook.desk.recorded_lines import playing_command
from offbook.desk.standings import kept_by_piece
from offbook.errors import JournalError, ModelError
from offbook.journal import (
    add_performer,
    add_piece,
    add_version,
    margin,
    piece_named,
    save_memories,
)
from offbook.records import Memory, Unit
from offbook.score import WordVerdict
from offbook.script import Script, Selection
from offbook.words import Word, words_of
from tests.journals import LAMP, Desk, desk_at, script_of
from tests.test_progress import say

SCENE = """OSK: Who kept the lamp?

IVE: Nobody asked me to.

OSK: And the oil?

IVE: I carried it up.
"""


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A journal whose pieces have a thought for each line."""
    monkeypatch.setattr("offbook.desk.pieces.words_and_thoughts", by_lines)
    return desk_at(tmp_path / "home")


def by_lines(script: Script) -> tuple[tuple[Word, ...], tuple[Unit, ...]]:
    """The words of a script, and a thought for each line."""
    words, found = words_of(script), []
    for n, line in enumerate(script.lines):
        at = [w.i for w in words if w.line == line.n]
        found.append(Unit(n, n, at[0], at[-1], words[at[0]].text))
    return words, tuple(found)


def scene(desk: Desk, tmp_path: Path) -> Path:
    path = tmp_path / "scene.txt"
    path.write_text(SCENE, encoding="utf-8")
    add_from_file(desk.journal, str(path), wanted=Selection(part="IVE"))
    return path


# Drafts and parts -------------------------------------------------------------------------------------


def test_a_piece_is_added_with_its_part_limit_day_and_the_name_of_its_file(
    desk: Desk, tmp_path: Path
) -> None:
    path = tmp_path / "scene.txt"
    path.write_text(SCENE, encoding="utf-8")
    added = add_from_file(
        desk.journal, str(path), wanted=Selection(part="IVE"), limit=62.5, due="+3", keep=False
    )
    made = added.piece
    assert (made.name, made.part, made.limit_seconds) == ("scene", "IVE", 62.5)
    assert made.due_day == date(2026, 3, 5)
    assert not made.keep_recordings and added.today == date(2026, 3, 2)
    assert [w.text for w in added.version.words][:2] == ["Nobody", "asked"]
    asked: list[Any] = []

    def ask(parts: Any) -> str:
        asked.append(tuple(parts))
        return "OSK"

    other = add_from_file(desk.journal, str(path), name="Other", ask_part=ask)
    assert (other.piece.part, asked) == ("OSK", [("OSK", "IVE")]) and other.piece.keep_recordings
    add_from_file(desk.journal, str(path), name="Both", wanted=Selection(part="all"), ask_part=ask)
    alone = tmp_path / "alone.txt"
    alone.write_text(LAMP, encoding="utf-8")
    assert add_from_file(desk.journal, str(alone), ask_part=ask).piece.part is None
    assert len(asked) == 1


def test_another_part_becomes_the_next_draft_and_the_part_of_the_piece(desk: Desk, tmp_path: Path) -> None:
    scene(desk, tmp_path)
    done = change_part(desk.journal, "scene", "OSK")
    assert (done.before, done.stayed, done.thoughts, done.new, done.changed) == (8, 0, 2, 2, 0)
    assert done.version.n == 2 and not done.widened
    with desk.journal.reading() as conn:
        assert piece_named(conn, "scene").part == "OSK"
    every = change_part(desk.journal, "scene", "ALL")
    assert (every.before, every.stayed, every.thoughts) == (7, 7, 4)
    assert (every.new, every.changed) == (0, 0), "the other part is known from the first draft"
    with desk.journal.reading() as conn:
        assert piece_named(conn, "scene").part is None


def test_a_stretch_that_is_learnt_as_a_part_is_widened_to_all_of_it(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "scene.txt"
    path.write_text(SCENE, encoding="utf-8")
    add_from_file(desk.journal, str(path), wanted=Selection(part="IVE", last="Nobody asked me to"))
    assert change_part(desk.journal, "scene", "IVE").widened
    assert not change_part(desk.journal, "scene", "IVE").widened


def test_a_new_draft_is_of_the_same_part_unless_another_is_named(desk: Desk, tmp_path: Path) -> None:
    path = scene(desk, tmp_path)
    path.write_text(SCENE.replace("I carried it up.", "I carried it down the stairs."), encoding="utf-8")
    done = revise_from_file(desk.journal, "scene", str(path))
    assert (done.before, done.stayed, len(done.version.words)) == (8, 7, 10)
    assert (done.thoughts, done.changed, done.new) == (2, 1, 0)
    lamp = tmp_path / "lamp.txt"
    lamp.write_text(SCENE, encoding="utf-8")
    both = revise_from_file(desk.journal, "The lamp", str(lamp))
    assert len(both.version.words) == 15, "a piece without a part has everybody's words"
    other = revise_from_file(desk.journal, "scene", str(path), wanted=Selection(part="OSK"))
    assert other.version.words[0].text == "Who"


def test_the_first_draft_of_a_piece_has_nothing_that_stayed(desk: Desk, tmp_path: Path) -> None:
    with desk.journal.writing() as conn:
        add_piece(desk.journal, conn, desk.performer, "New")
    path = tmp_path / "new.txt"
    path.write_text(LAMP, encoding="utf-8")
    done = revise_from_file(desk.journal, "New", str(path))
    assert (done.before, done.stayed, done.new, done.version.n) == (0, 0, 4, 1)


def known(desk: Desk, unit: int, days: float = 4.0) -> Memory:
    now = desk.clock.now
    return Memory("", unit, 2, None, days, 5.0, now + timedelta(days=days), now - timedelta(days=1), 3, 0, 0)


def test_the_thoughts_of_a_draft_are_rows_with_their_recall(desk: Desk) -> None:
    rows = thought_rows(desk.version, {1: known(desk, 1)}, desk.clock.now)
    assert [(r["thought"], r["words"], r["asked"]) for r in rows] == [
        (1, [0, 8], 0), (2, [9, 15], 3), (3, [16, 24], 0), (4, [25, 33], 0)
    ]  # fmt: skip
    assert [r["recall"] for r in rows if r["thought"] != 2] == [None] * 3
    assert rows[1]["text"] == "Nobody asked who carried up the oil." and 0.9 < rows[1]["recall"] < 1.0
    assert rows[1]["recall"] == round(rows[1]["recall"], 3)


# The thoughts of a day --------------------------------------------------------------------------------


def test_a_thought_takes_as_long_as_its_words_are_typed_and_six_seconds(desk: Desk) -> None:
    with desk.journal.reading() as conn:
        items = items_of(conn, [desk.piece])
    assert [i.seconds for i in items] == [9 * 1.5 + 6, 7 * 1.5 + 6, 9 * 1.5 + 6, 9 * 1.5 + 6]
    first = items[0]
    assert (first.unit.key, first.memory, first.date) == (0, None, date(2026, 3, 22))
    assert first.zone == "Europe/London"


def test_a_sitting_asks_the_thoughts_of_the_day_or_else_the_three_weakest(desk: Desk) -> None:
    sitting = lay_out_sitting(desk.journal, desk.piece, desk.version, 5.0, ["thought", "join"], 3)
    assert sitting.wanted == [0, 1, 2, 3] and sitting.seconds == 300.0
    assert sitting.kinds == {"thought", "join"}
    with desk.journal.writing() as conn:
        stable = [replace(known(desk, n, 40.0 - n), piece_id=desk.piece.id) for n in range(4)]
        save_memories(conn, stable)
    later = lay_out_sitting(desk.journal, desk.piece, desk.version, 5.0, (), 3)
    assert later.wanted == [3, 2, 1] and later.kinds == frozenset()
    assert sorted(later.memories) == [0, 1, 2, 3]


def test_a_day_counts_the_minutes_drilled_and_the_minutes_of_full_voice(desk: Desk) -> None:
    say(desk, seconds=90.0)
    with desk.journal.reading() as conn:
        found = agenda(conn, desk.performer, desk.clock.now, most_days=7)
    assert (found.done, found.voice, len(found.ahead)) == (0.0, 1.5, 6)
    assert [p.name for p in found.pieces] == ["The lamp"] and found.unconfirmed == ()


def test_a_piece_whose_day_is_over_is_left_out_of_the_day_and_of_the_class(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        ivo = add_performer(desk.journal, conn, "Ivo", "UTC")
        for name, days in (("Over", -1), ("Today", 0), ("None", None)):
            due = None if days is None else date(2026, 3, 2) + timedelta(days=days)
            add_piece(desk.journal, conn, ivo, name, due_day=due)
        now = desk.clock.now
        assert [p.name for p in agenda(conn, ivo, now).pieces] == ["Today", "None"]
        assert [r.piece.name for r in class_rows(conn, now)] == ["Today", "The lamp", "None"]
        assert [r.piece.name for r in class_rows(conn, now, past=True)] == [
            "Over",
            "Today",
            "The lamp",
            "None",
        ]
        assert [r.piece.name for r in class_rows(conn, now, ivo.id)] == ["Today", "None"]


def test_the_rows_of_a_class_get_their_forecast_for_the_day_they_are_needed(desk: Desk) -> None:
    with desk.journal.reading() as conn:
        assert with_forecast(conn, []) == []
        (row,) = with_forecast(conn, class_rows(conn, desk.clock.now))
        assert row.seen == 0.0 and row.forecast is not None
        (nobody,) = with_forecast(conn, [replace(row, needed=None, forecast=None)])
        assert nobody.forecast is None
        kept = kept_by_piece(conn, [desk.piece], date(2026, 3, 2))[desk.piece.id]
    assert len(kept.items) == 4


# The margin -------------------------------------------------------------------------------------------


def test_notes_are_in_the_order_of_their_words_and_those_that_were_cut_come_last(desk: Desk) -> None:
    def note(line: str, text: str, take: int | None = None) -> PlacedNote:
        return write_margin_note(desk.journal, "The lamp", None, line, text, "Ivo", take)[1]

    note("3", "third")
    note("1", "first")
    assert note("3", "again").note.quote == "I carried it, my friends, on both my shoulders"
    with pytest.raises(JournalError) as caught:
        write_margin_note(desk.journal, "The lamp", None, "1", "x", " ")
    assert caught.value.do == "give a name, as in --by Ivo"
    with pytest.raises(JournalError) as caught:
        note("5", "x")
    assert caught.value.do == "give a number as `offbook mark` shows it, up to 4; nothing was noted"
    script, words, units = script_of("".join(LAMP.splitlines(keepends=True)[1:]))
    with desk.journal.writing() as conn:
        placed = placed_notes(conn, desk.piece)
        assert [(p.note.text, p.where, p.line, p.word) for p in placed] == [
            ("first", "line 1", 1, 0), ("third", "line 3", 3, 16), ("again", "line 3", 3, 16)
        ]  # fmt: skip
        add_version(desk.journal, conn, desk.piece.id, script, words, units)
        placed = placed_notes(conn, desk.piece)
        assert [(p.note.text, p.where, p.word) for p in placed] == [
            ("third", "line 2", 7), ("again", "line 2", 7), ("first", None, None)
        ]  # fmt: skip
        margin.mark_margin_note_done(desk.journal, conn, placed[0].note, desk.clock.now)
        assert [p.note.text for p in still_open(placed_notes(conn, desk.piece), None)] == ["again", "first"]
    for_take = [replace(p, note=replace(p.note, take=n)) for n, p in enumerate(placed, 1)]
    assert [p.note.take for p in still_open(for_take, 2)] == [2]


# Models and lines -------------------------------------------------------------------------------------


def test_both_models_are_loaded_at_once_and_an_error_is_raised_when_they_are_wanted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    both = threading.Barrier(2, timeout=20)
    first, second = SimpleNamespace(name="one"), SimpleNamespace(name="two")

    def reads(found: Any) -> Any:
        def read(loading: Loading) -> Any:
            both.wait()
            if isinstance(found, BaseException):
                raise found
            return found

        return read

    monkeypatch.setattr(Loading, "_read_first", reads(first))
    monkeypatch.setattr(Loading, "_read_second", reads(second))
    ears: Any = Loading("small").result()
    assert (ears.first, ears.second, ears.name) == (first, second, "one and two")
    assert Ears(ears.first, None).name == "one"
    monkeypatch.setattr(Loading, "_read_second", reads(ModelError("it is damaged", "fetch it")))
    with pytest.raises(ModelError, match="it is damaged"):
        Loading("small").result()
    told: Any = Future()
    with pytest.raises(ZeroDivisionError):
        loadings._read(told, lambda: 1 // 0)
    assert isinstance(told.exception(), ZeroDivisionError)


def verdict(i: int, start: float | None, end: float | None) -> WordVerdict:
    return WordVerdict(i, "word", "said", "word", start, end, 1.0)


def test_a_recorded_line_counts_if_half_of_its_words_were_heard() -> None:
    half = [verdict(0, 1.0, 1.4), verdict(1, None, None)]
    assert spans_of([half]) == {0: pytest.approx((0.85, 1.7))}
    assert spans_of([[*half, verdict(2, None, None)]]) == {}
    assert spans_of([[]]) == {} and spans_of([]) == {}
    touching = spans_of([[verdict(0, 1.0, 2.0)], [verdict(1, 2.0, 3.0)]])
    assert touching == {0: pytest.approx((0.85, 2.0)), 1: pytest.approx((2.0, 3.3))}
    apart = spans_of([[verdict(0, 1.0, 2.0)], [verdict(1, 2.2, 3.0)]])
    assert apart == {0: pytest.approx((0.85, 2.125)), 1: pytest.approx((2.05, 3.3))}


def test_the_first_installed_program_plays_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    there: set[str] = set()
    monkeypatch.setattr("shutil.which", lambda name: name if name in there else None)
    for name, command in (
        ("afplay", "afplay FILE"),
        ("ffplay", "ffplay -nodisp -autoexit -loglevel quiet FILE"),
        ("paplay", "paplay FILE"),
        ("aplay", "aplay -q FILE"),
    ):
        there.add(name)
        assert playing_command(None) == command
