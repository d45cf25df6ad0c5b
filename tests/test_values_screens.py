"""Parts of the screens in the terminal: takes and their points, the pace, words in question, tables."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import click
import pytest

from offbook import timing
from offbook.brief import Brief
from offbook.cli import common, screen, take, take_judge, timed
from offbook.cli.common import console, drawing_width, late_in_words, print_json, quoted
from offbook.cli.correct import _in_question, _number
from offbook.cli.run_report import facts, headline, sureness, time_rows
from offbook.cli.screen import (
    _folded,
    _padded,
    _print_table,
    beside_head,
    carried,
    chance_shown,
    json_plain,
    line_width,
    seconds_shown,
    wrapped,
)
from offbook.desk import record_run
from offbook.errors import OffbookError
from offbook.notes import SpokenScript
from offbook.records import TakeRow
from tests.journals import Desk, desk_at, run_with
from tests.journals import facts as run_facts
from tests.test_progress import row as run_row
from tests.test_run import SAID, SCRIPT, heard_as

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)


def refused(what: Any, *given: Any) -> tuple[str, str]:
    with pytest.raises(OffbookError) as caught:
        what(*given)
    return caught.value.what, caught.value.do


# Takes ------------------------------------------------------------------------------------------------


def logged(told: dict[str, Any] | None) -> TakeRow:
    checks = None if told is None else json.dumps(told)
    return TakeRow("k", "p", None, None, None, NOW, NOW.date(), "UTC", 3, "try", "one.wav", checks, True)


def test_a_take_is_a_row_with_what_was_found_or_null() -> None:
    bare = take._row(logged(None), None, False)
    assert bare == {
        "take": 3,
        "day": date(2026, 3, 2),
        "intention": "try",
        "seconds": None,
        "words": None,
        "shifts": None,
        "unmet": None,
        "best": False,
        "chosen": True,
        "file": "one.wav",
    }
    checks = [
        {"what": "words", "met": False},
        {"what": "noise", "met": True},
        {"what": "by eye", "met": None},
    ]
    told = {"seconds": 30.5, "checks": checks, "delivery": {"shifts": {"heard": 2}}}
    assert take._row(logged(told), run_row(7, 5), True) == bare | {
        "seconds": 30.5,
        "words": 0.7143,
        "shifts": {"heard": 2},
        "unmet": ["words"],
        "best": True,
    }
    del told["delivery"]
    assert take._row(logged(told), None, True)["shifts"] is None


def test_the_state_of_a_take_names_everything_that_it_is() -> None:
    def state(unmet: list[str] | None, **more: bool) -> str:
        return take._state({"unmet": unmet, "chosen": False, "best": False, "nearest": False} | more)

    assert state(None, chosen=True) == "not judged yet"
    assert state([]) == ""
    assert state([], chosen=True, best=True) == "chosen, best by the text"
    assert state(["words"], nearest=True) == "nearest so far, not there yet"


def check(
    what: str, met: bool | None, wanted: str = "wav", found: str = "mp3", do: str = ""
) -> dict[str, Any]:
    return {"what": what, "met": met, "wanted": wanted, "found": found, "do": do, "asked": True}


def test_each_point_of_a_check_is_a_row_with_what_was_asked_found_and_to_do(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr("offbook.takes.asked_for", lambda c: c["what"] != "noise")
    assert take_judge.check_lines(
        [
            check("file", True),
            check("noise", False, do="come closer"),
            check("by eye", None, "One person", "look"),
            check("length", True, "not asked", "0:31"),
        ]
    ) == [
        "  yes   file: mp3 (asked: wav)",
        "  NO    noise: mp3 (looked for: wav). Come closer.",
        "  look  One person: look",
        "  yes   length: 0:31",
    ]


@pytest.mark.parametrize(
    ("unmet", "last"),
    [(0, "Everything that can be checked is met."), (1, "1 point not met."), (2, "2 points not met.")],
)
def test_the_points_end_with_how_many_are_not_met(
    unmet: int, last: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(take_judge, "check_lines", lambda checks: ["a row"])
    monkeypatch.setattr("offbook.takes.unmet_checks", lambda checks: [None] * unmet)
    take_judge.print_checks([])
    assert capsys.readouterr().out.splitlines() == ["a row", last]


@pytest.mark.parametrize(
    ("today", "most", "told"),
    [
        (2, 3, "Take 2 of 3 for one day."),
        (3, 3, "That was take 3 of 3 for one day: stop here, rest the voice, and choose tomorrow with"),
        (4, None, "Take 4 of 5 for one day."),
        (6, None, "That was take 6 of 5 for one day: stop here"),
    ],
)
def test_the_last_take_of_a_day_says_to_stop(
    today: int,
    most: int | None,
    told: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(take_judge, "print_checks", lambda checks: None)
    monkeypatch.setattr("offbook.cli.run_report.report", lambda heard: None)
    monkeypatch.setattr("offbook.cli.run_report.saved_line", lambda saved: f"saved {saved}")
    brief = Brief("Quay", NOW, takes=most)
    row = SimpleNamespace(n=7, intention="make her stay")
    piece = SimpleNamespace(name="The lamp")
    judged: Any = SimpleNamespace(
        logged=SimpleNamespace(brief=brief, take=row, piece=piece, today=today),
        checks=(),
        heard=None,
        saved=None,
        facts=SimpleNamespace(picture=None),
    )
    take_judge.screen(judged)
    shown = " ".join(capsys.readouterr().out.split())
    assert shown.startswith("The lamp, take 7, for Quay: make her stay") and told in shown
    assert "safeguarding" not in shown and "saved" not in shown
    judged.logged.brief, judged.saved, judged.facts.picture = None, "it", "a film"
    take_judge.screen(judged)
    shown = " ".join(capsys.readouterr().out.split())
    assert (
        shown.startswith("The lamp, take 7: make her stay")
        and "saved it" in shown
        and "safeguarding" in shown
    )


# The pace ---------------------------------------------------------------------------------------------


def test_a_pace_is_a_rate_or_a_usual_pace_or_comes_from_earlier_readings(tmp_path: Path) -> None:
    text = tmp_path / "one=two.txt"
    text.write_text("Some words are read aloud here, and a few more.\n")
    assert timed.pace_for("verse", "130", ()) == timing.at_rate(130.0, "verse")
    presets = list(timing.PRESETS)
    assert [timed.tempo_for(name) for name in (*presets, "130", None)] == [*presets, None, None]
    assert timed.pace_for(presets[0], presets[0], ()) == timing.calibrate([], presets[0])
    found = timed.pace_for("verse", None, (f"{text}=5.5",))
    assert found == timing.calibrate([timed._earlier(f"{text}=5.5")], "verse")
    assert timed._earlier(f"{text}=0:05.5").seconds == 5.5


def test_a_pace_that_cannot_be_used_is_refused(tmp_path: Path) -> None:
    both = "--rate and --pace-from both set the pace"
    assert refused(timed.pace_for, "verse", "130", ("a=1",)) == (both, "give one of them")
    usual = ", ".join(timing.PRESETS)
    assert refused(timed.pace_for, "verse", "fast", ()) == (
        "'fast' is not a rate",
        f"give words a minute, such as 130, or one of {usual}",
    )
    for pair in ("sonnet.txt", "=5", ""):
        assert refused(timed._earlier, pair) == (
            f"{pair!r} names no earlier reading",
            "write the text and its time, such as --pace-from sonnet.txt=52.4",
        )
    with click.Context(click.Command("mark")) as context:
        context.meta["offbook.performer"] = "Mara"
        assert refused(timed.pace_for, "verse", "130", ())[0] == "--rate and --performer both set the pace"


# Words in question ------------------------------------------------------------------------------------


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_at(tmp_path)


def test_the_words_in_question_are_listed_with_three_words_on_either_side(desk: Desk) -> None:
    from offbook.desk import correct_word

    slips: Any = {1: ("changed", "lamb"), 8: ("unsure", "in"), 20: ("dropped", None), 33: ("changed", None)}
    row = record_run(
        desk.journal, desk.piece, desk.version, run_with(desk.version.words, slips), run_facts(desk.clock)
    )
    correct_word(desk.journal, desk.piece, row.id, 20, "said", "")
    with desk.journal.reading() as conn:
        rows = _in_question(conn, row)
    assert rows == [
        {
            "word": 2,
            "text": "lamp",
            "verdict": "changed",
            "heard": "lamb",
            "line": "The [lamp] was lit before",
        },
        {
            "word": 9,
            "text": "in",
            "verdict": "unsure",
            "heard": "in",
            "line": "the tide came [in] Nobody asked who",
        },
        {
            "word": 21,
            "text": "friends",
            "verdict": "said (by hand, was dropped)",
            "heard": None,
            "line": "carried it my [friends] on both my",
        },
        {"word": 34, "text": "more", "verdict": "changed", "heard": None, "line": "were one stair [more]"},
    ]
    assert [_number(word, rows, 34) for word in ("1", "34", "LAMP")] == [1, 34, 2]
    for word in ("0", "35"):
        assert refused(_number, word, rows, 34) == (
            f"the run-through has no word {word}",
            "give a number from 1 to 34",
        )
    see = "see the numbers with `offbook correct PIECE`, and give the number"
    assert refused(_number, "tide", rows, 34) == ("“tide” is in question nowhere in this run-through", see)
    twice = [*rows, rows[0]]
    assert (
        refused(_number, "lamp", twice, 34)[0] == "“lamp” is in question more than once in this run-through"
    )


# Text, tables and JSON --------------------------------------------------------------------------------


def test_a_text_is_quoted_where_a_shell_would_divide_or_change_it() -> None:
    assert [quoted(text) for text in ("lamp.txt", "a-b_c/~+,:@%", "é")] == ["lamp.txt", "a-b_c/~+,:@%", "é"]
    assert [quoted(text) for text in ("", "the lamp", 'a"b', "a$b`c\\")] == [
        '""',
        '"the lamp"',
        '"a\\"b"',
        '"a\\$b\\`c\\\\"',
    ]


def test_characters_that_a_terminal_obeys_are_escaped_in_json(capsys: pytest.CaptureFixture[str]) -> None:
    print_json({"a": "é\x1b\x7f\x9b\u2028\ud800…"})
    assert capsys.readouterr().out == '{"format": 1, "a": "é\\u001b\\u007f\\u009b\\u2028\\ud800…"}\n'


def test_a_deadline_that_has_passed_is_told_with_what_can_be_done() -> None:
    assert late_in_words(Brief("Quay", NOW), NOW) == ""
    assert late_in_words(Brief("Quay 1", NOW), NOW.replace(hour=20)) == (
        "The deadline of Quay 1 passed 2 h ago, and it is not noted as sent. If it was sent, note it: "
        'offbook brief sent "Quay 1". If not, ask them for a new deadline.'
    )


def test_colours_are_left_out_where_nobody_looks_or_they_are_not_wanted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    looked_at = SimpleNamespace(isatty=lambda: True)
    for stream, no_color, plain in ((looked_at, "", False), (looked_at, "1", True), (None, "", True)):
        monkeypatch.setenv("NO_COLOR", no_color)
        monkeypatch.setattr(common.sys, "stdout", stream or SimpleNamespace(isatty=lambda: False))  # type: ignore[attr-defined]
        assert console().no_color is plain


def test_a_drawing_is_as_wide_as_the_window_or_100_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    out: Any = SimpleNamespace(width=33)
    monkeypatch.delenv("COLUMNS", raising=False)
    assert drawing_width(out) == 100
    monkeypatch.setenv("COLUMNS", "44")
    assert drawing_width(out) == 44
    monkeypatch.setattr(common.sys, "stdout", SimpleNamespace(isatty=lambda: True))  # type: ignore[attr-defined]
    assert drawing_width(out) == 33


@pytest.mark.parametrize(("columns", "width"), [("10", 20), ("20", 20), ("60", 60), ("78", 78), ("200", 78)])
def test_a_line_of_text_has_20_to_78_characters(
    columns: str, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert line_width() == width


def test_no_line_ends_inside_a_command_or_between_a_number_and_its_unit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "24")
    assert wrapped("It lasts not quite 12 minutes long.").split("\n") == [
        "It lasts not quite",
        "12 minutes long.",
    ]
    assert wrapped("It lasts not quite 12 minuteslong.").split("\n")[0] == "It lasts not quite 12"
    assert wrapped("Fetch it: offbook setup --check now").split("\n") == [
        "Fetch it:",
        "offbook setup --check now",
    ]
    assert wrapped("Now type `offbook setup now` today").split("\n") == [
        "Now type",
        "`offbook setup now`",
        "today",
    ]
    assert beside_head("  1  ", "The lamp was lit before").split("\n") == [
        "  1  The lamp was lit",
        "     before",
    ]


def test_values_are_shown_for_people_and_for_programs() -> None:
    assert [seconds_shown(s) for s in (None, 65.4)] == [None, "1:05"]
    assert [chance_shown(c) for c in (None, 0.614, 0.0)] == [None, "61 %", "0 %"]
    assert [screen._shown(v) for v in ("a", 3, None, True, False, 2.50, NOW.date())] == [
        "a",
        "3",
        "–",
        "yes",
        "no",
        "2.5",
        "2026-03-02",
    ]
    assert [json_plain(v) for v in (NOW, NOW.date(), 3, "a", None)] == [
        "2026-03-02T18:00:00+00:00",
        "2026-03-02",
        3,
        "a",
        None,
    ]
    done: Any = SimpleNamespace(
        rows={"performer": 1, "piece": 2, "run": 1, "answer": 0, "take": 0}, recordings=1
    )
    assert carried(done) == "1 performer, 2 pieces, 1 run-through, 0 answers, 1 recording"
    done.rows["take"] = 2
    assert carried(done) == "1 performer, 2 pieces, 1 run-through, 0 answers, 2 takes, 1 recording"


def table(rows: list[list[str]], width: int, capsys: pytest.CaptureFixture[str]) -> list[str]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", str(width))
        _print_table(["Performer", "Piece"], rows)
    return capsys.readouterr().out.splitlines()


def test_a_table_has_two_blanks_between_its_columns_from_76_columns_on(
    capsys: pytest.CaptureFixture[str],
) -> None:
    rows = [["Mara", "The lamp"], ["Ivo", "–"]]
    assert table(rows, 76, capsys) == ["Performer  Piece", "Mara       The lamp", "Ivo        –"]
    assert table(rows, 75, capsys) == ["Performer Piece", "Mara      The lamp", "Ivo       –"]
    assert table([], 75, capsys) == ["Performer Piece"]


def test_a_cell_without_room_is_folded_and_a_row_of_more_than_three_lines_is_a_paragraph(
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = "one two three four five six"
    assert table([["Mara", words]], 30, capsys) == [
        "Performer Piece",
        "Mara      one two three four",
        "          five six",
    ]
    assert len(table([["Mara", words]], 22, capsys)) == 4
    assert table([["Mara", f"{words} seven eight nine"]], 22, capsys) == [
        "Performer: Mara;",
        "  Piece: one two three",
        "  four five six seven",
        "  eight nine",
    ]
    assert table([["Mara", ""]], 12, capsys) == ["Performer: Mara"]
    assert _folded("a\nbc", 9) == ["a", "bc"] and _folded("abcdef", 4) == ["abcd", "ef"]
    assert (_padded("é", 3), _padded("日", 3), _padded("a", 3)) == ("é  ", "日 ", "a  ")


# The report of a run-through --------------------------------------------------------------------------


def test_the_report_counts_what_went_wrong_by_its_kind() -> None:
    heard = heard_as(SCRIPT, SAID)
    page = SpokenScript.of(heard.script, heard.words)
    assert headline(heard).endswith(f" of {len(heard.words)} as written")
    (told,) = facts(page, heard)
    assert told.startswith("1 line dropped, ")
    assert time_rows(page, heard)[0].endswith(" words a minute")


def test_the_report_says_how_sure_it_is_of_a_voice_that_is_hard_to_follow() -> None:
    heard = heard_as(SCRIPT, SAID)
    judged = "Every word could be judged."
    assert sureness(heard) == [judged]
    assert sureness(replace(heard, hard=0.74)) == [judged]
    (hard, nearer) = sureness(replace(heard, hard=0.75))
    assert hard.startswith("This voice was hard to follow") and nearer.startswith("Come closer")
    assert sureness(replace(heard, second_ear=False))[1].startswith("This was heard without the second ear")
