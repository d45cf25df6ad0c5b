"""The review of a take as a screen, as a sheet to print, and as JSON; its measurements are made by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from offbook.cli import group
from offbook.cli.review_screen import beside_screen, review_screen, review_sheet
from offbook.delivery import (
    CANNOT_KNOW,
    EdgeCues,
    ShiftStatement,
    StretchFinding,
    TakeReview,
    ThoughtDelivery,
)
from offbook.desk import Heard, ReviewedTake, review_as_json, review_differences
from offbook.desk.margins import PlacedNote
from offbook.desk.review_wording import review_headline, shifts_in_words
from offbook.errors import OffbookError
from offbook.notes import notes_on
from offbook.records import MarginNote
from offbook.thoughts import Shift
from tests.journals import LAMP, run_with, script_of
from tests.live_ears import CLEAR

NOTHING: Any = ()
SCRIPT, WORDS, _ = script_of(LAMP)


class Drawn(ReviewedTake):
    """A review whose picture is drawn already."""

    @property
    def picture(self) -> str:
        return "<svg>pitch above</svg>"


def shift(before: int, grade: int, at: float, audible: Any = "heard", **more: Any) -> ShiftStatement:
    given: dict[str, Any] = {"carried_by": (), "cues": None, "rate_change": None} | more
    return ShiftStatement(before, grade, at, audible, 0.876, told=f"told of {before}", **given)


FLAT = StretchFinding("flat", 16, 24, 65.4, "within 2 semitones")
RUSHED = StretchFinding("rushed", 0, 8, 3.04, "6.0 syllables a second")
TURN = shift(10, 3, 30.56, "not heard")
NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
NOTE = PlacedNote(
    MarginNote("k", "p", NOW, NOW.date(), "UTC", 1, 10, "", None, "Ivo", "Who for?", None), "line 2", 2, 10
)


def reviewed(*shifts: ShiftStatement, **more: Any) -> Drawn:
    """A review of the lamp with these shifts, what is worth a look and what stands out."""
    run = run_with(WORDS, more.pop("slips", {}), seconds=90.0)
    heard = Heard(SCRIPT, WORDS, Path("/r/kept.wav"), NOW, "small", CLEAR, notes_on(SCRIPT, WORDS, run))
    look, found = more.pop("look", ()), more.pop("found", ())
    delivery = TakeReview(
        shifts, more.pop("thoughts", ()), found, look, (), NOTHING, NOTHING, NOTHING, more.pop("energy", ())
    )
    marks = (Shift(10, 3, "she turns to them", ()),) if more.pop("marked", False) else ()
    return Drawn(heard, marks, (), delivery, **more)


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def rows(text: str) -> list[str]:
    """The rows of a screen, without what it says of its units and of what it cannot know."""
    plain = " ".join(text.split())
    assert plain.endswith(CANNOT_KNOW)
    shown = text.split("\n")
    first, last = (
        next(k for k, row in enumerate(shown) if row.startswith(s)) for s in ("A semitone", "This sheet")
    )
    return [*shown[:first], *shown[first + 2 : last]]


# The screen -------------------------------------------------------------------------------------------


def test_the_screen_has_a_row_for_each_shift_of_thought_with_its_time_and_mark() -> None:
    found = reviewed(shift(4, 1, 4.0), shift(9, 2, 12.6), TURN, shift(16, 2, 0.0, "not measured"))
    assert rows(review_screen(found)) == [
        "The lamp: 1:30, 0 words lost or changed. Of 3 shifts of thought, 1 can be",
        "heard, 1 cannot be heard and 1 could not be measured.",
        "",
        "  0:13  ||   Nobody … told of 9",
        "  0:31  |||  asked who carried up the oil. … told of 10",
        "        ||   I carried it, my friends, on both … told of 16",
        "",
    ]


def test_the_screen_lists_what_is_worth_a_listen_what_stands_out_and_the_margin() -> None:
    found = reviewed(
        TURN, look=(TURN, RUSHED), found=(RUSHED, FLAT), margin=(NOTE,), intention="make her stay", take=2
    )
    assert rows(review_screen(found)) == [
        "The lamp, take 2: 1:30, 0 words lost or changed. The one shift of thought",
        "cannot be heard.",
        "",
        "The intention as you stated it: make her stay",
        "",
        "  0:31  |||  asked who carried up the oil. / I … told of 10",
        "",
        "Most worth a listen",
        "  1  0:31  the turn before “asked who carried up the oil. / I”: told of 10.",
        "  2  0:03  rushed: “The lamp was lit before the tide”, 6.0 syllables a second.",
        "",
        "Over longer stretches",
        "  1:05  flat: “I carried it, my friends, on both”, within 2 semitones.",
        "",
        "In the margin",
        "  line 2, Ivo: Who for?",
        "",
    ]


def test_the_reason_of_the_script_is_added_to_a_place_worth_a_listen() -> None:
    shown = " ".join(review_screen(reviewed(TURN, look=(TURN,), marked=True)).split())
    assert "told of 10. The script shifts here: she turns to them." in shown


def test_two_takes_are_shown_beside_each_other_where_they_differ() -> None:
    one = reviewed(shift(9, 2, 3.0), TURN, take=1, intention="make her stay")
    other = reviewed(shift(9, 2, 4.0), replace(TURN, audible="heard", told="a long pause"), take=3)
    changed = review_differences(one, other)
    assert [(c.before_word, c.grade) for c in changed] == [(10, 3)]
    assert beside_screen(one, other, changed).split("\n") == [
        "Take 1 beside take 3",
        "  take 1: make her stay",
        "A semitone is one key on a piano. 1 LU is about the least change of loudness",
        "that a listener notices.",
        "  ||| asked who carried up the oil. / I … take 1: told of 10; take 3: a long",
        "      pause",
    ]
    assert beside_screen(one, one, ()).split("\n") == [
        "Take 1 beside take 1",
        "  take 1: make her stay",
        "  take 1: make her stay",
        "  Every shift came out the same in both.",
    ]


def test_a_shift_that_only_one_take_has_is_not_compared() -> None:
    assert review_differences(reviewed(shift(9, 2, 3.0)), reviewed(shift(12, 2, 3.0, "not heard"))) == ()
    assert review_differences(reviewed(shift(9, 2, 3.0)), reviewed(shift(9, 2, 3.0))) == ()


@pytest.mark.parametrize(
    ("audible", "told"),
    [
        ([], "The text has no marked shift of thought."),
        (["heard"], "The one shift of thought can be heard."),
        (["not measured"], "The one shift of thought could not be measured."),
        (["heard"] * 2, "Both shifts of thought can be heard."),
        (["slight"] * 3, "All 3 shifts of thought can be heard slightly."),
        (["not heard"] * 2, "Neither of the two shifts of thought can be heard."),
        (["not heard"] * 3, "None of the 3 shifts of thought can be heard."),
        (["not measured"] * 4, "None of the 4 shifts of thought could be measured."),
        (["heard", "slight"], "Of 2 shifts of thought, 1 can be heard and 1 can be heard slightly."),
    ],
)
def test_a_sentence_says_how_many_shifts_of_thought_can_be_heard(audible: list[str], told: str) -> None:
    shifts = [shift(k, 2, 1.0, each) for k, each in enumerate(audible, 1)]
    assert shifts_in_words(reviewed(shift(9, 1, 1.0), *shifts).delivery) == told


def test_the_headline_counts_the_words_that_were_lost_or_changed() -> None:
    one = reviewed(slips={3: ("dropped", None)})
    two = reviewed(slips={3: ("dropped", None), 4: ("changed", "behind"), 5: ("unsure", None)})
    assert review_headline(one).startswith("The lamp: 1:30, 1 word lost or changed. ")
    assert review_headline(two).startswith("The lamp: 1:30, 2 words lost or changed. ")


# The sheet and the JSON -------------------------------------------------------------------------------


def test_the_sheet_has_each_thought_with_its_mark_time_evidence_and_notes() -> None:
    found = reviewed(
        shift(9, 2, 12.6), shift(16, 3, 0.0, "not measured"), look=(TURN,), found=(FLAT,), margin=(NOTE,)
    )
    page = unescape(review_sheet(found))
    row = r'<p class="bars">(.*?)</p><p class="said">(.*?)</p>\n<p class="told">(.*?)</p>'
    note = '<span class="note">line 2, Ivo: Who for?</span>'
    assert re.findall(row, page) == [
        ("", "The lamp was lit before the tide came in.", ""),
        ("||", "Nobody asked who carried up the oil.", f"0:13 told of 9{note}"),
        (
            "|||",
            "I carried it, my friends, on both my shoulders, / "
            "and every night the stairs were one stair more.",
            "told of 16",
        ),
    ]
    assert re.findall(r"<li>(.*?)</li>", page) == [
        "0:31 the turn before “asked who carried up the oil.”: told of 10.",
        "1:05 flat: “I carried it, my friends, on both”, within 2 semitones.",
    ]
    assert "<svg>pitch above</svg>" in page and "<h1>The lamp</h1>" in page and CANNOT_KNOW in page


def test_the_json_of_a_review_is_rounded_and_null_where_nothing_was_measured() -> None:
    cues = EdgeCues(9, 12.666, 0.6666, 1.2345, -2.26, None)
    thought = ThoughtDelivery(0, 8, 1.236, 2.346, 4.446, None, 7.26, -23.0)
    found = reviewed(
        shift(9, 2, 12.666, carried_by=("pause",), cues=cues, rate_change=-0.126),
        TURN,
        thoughts=(thought,),
        found=(FLAT,),
        margin=(NOTE,),
        energy=(-20.0, -30.5),
        take=2,
        intention="make her stay",
        marked=True,
        slips={3: ("dropped", None)},
    )
    told = review_as_json(found)
    assert told["shifts"] == [
        {
            "before_word": 9, "grade": 2, "reason": "", "at": 12.67, "audible": "heard", "confidence": 0.88,
            "carried_by": ["pause"], "told": "told of 9", "pause": 0.67, "lengthening": 1.23,
            "pitch_reset": -2.3, "level_reset": None, "rate_change": -0.13,
        },
        {
            "before_word": 10, "grade": 3, "reason": "she turns to them", "at": 30.56, "audible": "not heard",
            "confidence": 0.88, "carried_by": [], "told": "told of 10", "pause": None, "lengthening": None,
            "pitch_reset": None, "level_reset": None, "rate_change": None,
        },
    ]  # fmt: skip
    del told["shifts"]
    assert told == {
        "script": "",
        "recording": "/r/kept.wav",
        "take": 2,
        "intention": "make her stay",
        "thoughts": [
            {
                "words": [0, 8], "start": 1.24, "end": 2.35, "syllables_a_second": 4.45, "pitch_range": None,
                "loudness_range": 7.3,
            }
        ],
        "findings": [{"kind": "flat", "words": [16, 24], "at": 65.4, "told": "within 2 semitones"}],
        "margin": [{"line": 2, "where": "line 2", "before_word": 10, "author": "Ivo", "text": "Who for?"}],
        "energy": [-20.0, -30.5],
        "summary": {
            "shifts": {"heard": 1, "slight": 0, "not heard": 1, "not measured": 0},
            "turns": {"heard": 0, "slight": 0, "not heard": 1, "not measured": 0},
            "findings": 1,
        },
        "accuracy": 0.9706,
        "seconds": 90.0,
    }  # fmt: skip


# The command ------------------------------------------------------------------------------------------


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch, own_home: Path) -> list[Any]:
    """What the command asked for; every recording gives the same review."""
    asked: list[Any] = []

    def listen(text: str, recording: str, part: str | None, loading: Any, progress: Any) -> Any:
        asked.append((text, recording, part))
        return "heard"

    monkeypatch.setattr("offbook.desk.Loading", lambda model: asked.append(model))
    monkeypatch.setattr("offbook.desk.listen", listen)
    monkeypatch.setattr("offbook.desk.review_heard", lambda heard: reviewed(TURN, take=1))

    def take(piece: str, n: int, performer: str | None, loading: Any) -> ReviewedTake:
        return reviewed(shift(9, 2, 3.0), take=n)

    monkeypatch.setattr("offbook.cli.review._take", take)
    return asked


def typed(*args: str) -> Result:
    return CliRunner().invoke(group, ["review", *args])


@pytest.mark.parametrize(
    "args",
    [("lamp.txt",), ("lamp.txt", "a.wav", "--take", "1"), ("lamp.txt", "--take", "1", "--run", "newest")],
)
def test_what_is_to_be_reviewed_is_named_exactly_once(args: tuple[str, ...], given: list[Any]) -> None:
    refused = typed(*args).exception
    assert isinstance(refused, OffbookError) and given == []
    assert refused.what == "what to review was not named, or more than once"
    assert refused.do == "give a script and a recording, or a piece with --take N or with --run NUMBER"


def test_the_picture_and_the_sheet_are_written_beside_the_screen(given: list[Any], tmp_path: Path) -> None:
    picture, sheet = tmp_path / "take.svg", tmp_path / "take.html"
    done = typed(
        "lamp.txt", "a.wav", "--part", "IVE", "--model", "m", "--picture", str(picture), "--html", str(sheet)
    )
    assert given == ["m", ("lamp.txt", "a.wav", "IVE")]
    assert picture.read_text() == "<svg>pitch above</svg>" and sheet.read_text().startswith("<!doctype html>")
    assert done.stdout.startswith("The lamp, take 1: 1:30, 0 words lost") and "beside" not in done.stdout
    assert "".join(done.stderr.split()) == f"Wrote{picture}.Wrote{sheet}."


def test_another_take_is_set_beside_the_first_on_the_screen_and_in_the_json(given: list[Any]) -> None:
    shown = typed("The lamp", "--take", "2", "--beside", "3").stdout
    assert "\n\nTake 2 beside take 3\n" in shown
    told = typed("The lamp", "--take", "2", "--beside", "3", "--json").stdout
    assert '"take": 2' in told and '"beside": {' in told and '"take": 3' in told
    assert '"beside"' not in typed("The lamp", "--take", "2", "--json").stdout
