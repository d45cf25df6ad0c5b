"""A brief from a message: only what a sentence says clearly is used."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from offbook.brief import BriefError, asked_in, parse_brief
from offbook.cli.brief import brief_blank as blank_command

pytestmark = pytest.mark.usefixtures("own_home")

TODAY = date(2026, 11, 29)


def asked(text: str) -> dict[str, Any]:
    return {each.key: each.value for each in asked_in(text, TODAY, UTC)}


SENTENCES: list[tuple[str, dict[str, Any]]] = [
    ("Each speech must be no longer than two minutes.", {"longest": 120.0}),
    ("Your piece should be up to 90 seconds.", {"longest": 90.0}),
    ("Speeches of 2 minutes maximum, please.", {"longest": 120.0}),
    ("It should last between one and two minutes.", {"shortest": 60.0, "longest": 120.0}),
    ("We are looking for something of 60-90 seconds.", {"shortest": 60.0, "longest": 90.0}),
    ("Not to exceed two and a half minutes.", {"longest": 150.0}),
    ("At least 45 seconds each and no more than 1 minute 30 seconds each.",
     {"shortest": 45.0, "longest": 90.0}),
    ("Keep each piece under 1:45.", {"longest": 105.0}),
    ("No less than 45 seconds, please.", {"shortest": 45.0}),
    ("Up to a minute and a half.", {"longest": 90.0}),
    ("Up to 2 minutes per speech.", {"longest": 120.0}),
    ("The whole submission may be at most five minutes in total.", {"together": 300.0}),
    ("No longer than two minutes each, and no more than three minutes altogether.",
     {"longest": 120.0, "together": 180.0}),
    ("Please record it in one continuous take.", {"unbroken": True}),
    ("Your tape must be filmed as a single unedited take, no cuts.", {"unbroken": True}),
    ("Do not edit the recording.", {"unbroken": True}),
    ("Editing is fine.", {"unbroken": False}),
    ("Cuts are allowed between sections.", {"unbroken": False}),
    ("Please slate before you begin.", {"slate": True}),
    ("Begin with the speech; please do not slate.", {"slate": False}),
    ("State your name to the camera first.", {"slate": True}),
    ("An introduction is not needed.", {"slate": False}),
    ("Hold your phone in landscape.", {"picture": "landscape"}),
    ("Film in landscape, not portrait.", {"picture": "landscape"}),
    ("Vertical video is preferred.", {"picture": "portrait"}),
    ("Attach a portrait photograph of yourself.", {}),
    ("We take audio only.", {"picture": "none"}),
    ("Upload an .mp4 or a MOV file of at most 200 MB.", {"kinds": ("mp4", "mov"), "megabytes": 200.0}),
    ("Files up to 2 GB in 1080p are accepted.", {"megabytes": 2000.0, "lines": 1080}),
    ("Prepare two contrasting monologues.", {"how_many": 2}),
    ("Please bring three classical pieces.", {"how_many": 3}),
    ("We will confirm receipt within three working days.", {"confirm_days": 5}),
    ("If you have not heard from us within a week, write again.", {"confirm_days": 7}),
    ("Send it by 14 December 2026.", {"deadline": datetime(2026, 12, 14, 23, 59, tzinfo=UTC)}),
    ("The deadline is Monday, December 14th, 2026 at 5.30 pm.",
     {"deadline": datetime(2026, 12, 14, 17, 30, tzinfo=UTC)}),
    ("Submissions close at noon on 3 Feb.", {"deadline": datetime(2027, 2, 3, 12, tzinfo=UTC)}),
    ("Due: 2026-12-14, 17:00.", {"deadline": datetime(2026, 12, 14, 17, tzinfo=UTC)}),
]  # fmt: skip


@pytest.mark.parametrize(("sentence", "points"), SENTENCES, ids=[s for s, _ in SENTENCES])
def test_a_clear_requirement_in_a_message_enters_the_brief(sentence: str, points: dict[str, Any]) -> None:
    assert asked(sentence) == points


@pytest.mark.parametrize(
    "sentence",
    [
        "Our season lasts two months and the play runs two hours.",
        "The audition itself takes ten minutes.",
        "A speech of two minutes is usual.",
        "The workshop day is 20 January 2027.",
        "Come by the stage door at 5 pm.",
        "We met by chance on 3 March or 4 March.",
        "He could not confirm it.",
        "Take two deep breaths before you begin.",
        "The house opens in landscape gardens.",
        "",
    ],
)
def test_a_sentence_with_two_meanings_or_without_a_request_sets_nothing(sentence: str) -> None:
    assert asked(sentence) == {}


def test_if_two_sentences_of_a_message_contradict_each_other_neither_enters_the_brief() -> None:
    assert asked("Each may last at most 2 minutes. Remember: a maximum of 90 seconds.") == {}
    twice = "Each may last at most 2 minutes. Again, two minutes at most."
    assert asked(twice) == {"longest": 120.0}


def test_a_date_without_a_year_means_its_next_occurrence() -> None:
    assert asked("Due by 30 November.")["deadline"].year == 2026
    assert asked("Due by 28 November.")["deadline"] == datetime(2026, 11, 28, 23, 59, tzinfo=UTC), "just past"
    assert asked("Due by 1 March.")["deadline"].year == 2027
    assert asked("Due by 30 February 2027.") == {}


MESSAGE = """Dear performer,

Thank you for writing to the Saltmarrow Playhouse. Please prepare two contrasting speeches, one from our list
and one of your own choice. Each must be no longer than two minutes, with a maximum of three minutes in total.

- Film each in one continuous take (no cuts), in landscape.
- Please do not slate.
- Send an mp4 or mov file under 200 MB by 5 pm on Monday 14 December 2026.

We will confirm receipt within 3 working days. The first day of rehearsals is 20 January 2027.
"""


def test_a_brief_made_from_a_message_quotes_the_sentence_behind_each_line(tmp_path: Path) -> None:
    (tmp_path / "mail.txt").write_text(MESSAGE, encoding="utf-8")
    file = tmp_path / "playhouse.toml"
    typed = [str(file), "--name", "Saltmarrow Playhouse", "--message", str(tmp_path / "mail.txt")]
    done = CliRunner().invoke(blank_command, typed)
    assert done.exit_code == 0, done.output
    text = file.read_text(encoding="utf-8")
    read = parse_brief(text, ZoneInfo("UTC"))
    assert (read.how_many, read.longest, read.together, read.unbroken) == (2, 120.0, 180.0, True)
    assert (read.slate, read.picture, read.kinds, read.megabytes) == (
        False,
        "landscape",
        ("mp4", "mov"),
        200.0,
    )
    assert (read.deadline.day, read.deadline.hour, read.confirm_days) == (14, 17, 5)
    assert "# they write: Please do not slate.\nslate = false\n" in text.replace("- ", "")
    assert '\ntogether = "3:00"\n' in text and '\nlongest = "2:00"\n' in text
    assert "# set_list" in text, "which of the two it is, the message cannot say"


def test_a_missing_message_file_is_refused_in_two_lines(tmp_path: Path) -> None:
    with pytest.raises(BriefError) as refused:
        CliRunner().invoke(
            blank_command, [str(tmp_path / "b.toml"), "--message", "none.txt"], catch_exceptions=False
        )
    assert "none.txt" in refused.value.what and not (tmp_path / "b.toml").exists()
