"""The demo: its scripts and its recordings.

The scripts are what the guide says, and the recordings hold exactly the slips that were planted.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from offbook.desk import Heard, listen, run_as_json
from offbook.script import load_script
from offbook.words import words_of
from tests.test_run import heard_as

DEMO = Path(__file__).resolve().parent.parent / "corpus_demo"
sys.path.insert(0, str(DEMO))

import demo  # noqa: E402
import make_recordings  # noqa: E402

PLANTED: dict[str, Any] = json.loads((DEMO / "planted.json").read_text(encoding="utf-8"))
TAKE: dict[str, Any] = PLANTED.pop("take")
SPOKEN = {"the_lamp": make_recordings.LAMP, "full_house": make_recordings.FULL_HOUSE}


@pytest.mark.parametrize("name", PLANTED)
def test_the_synthesised_text_differs_from_the_script_only_by_the_planted_slips(name: str) -> None:
    """Heard without a fault, each run-through gives exactly what `planted.json` lists."""
    said = " ".join(f"{b.text} [{b.after}]" for b in SPOKEN[name])
    said = said.replace("harbor", "harbour").replace("’", "'")
    heard = heard_as(load_script(DEMO / PLANTED[name]["script"]), said)
    assert demo.differences(run_as_json(heard), PLANTED[name]) == []


@pytest.mark.model
@pytest.mark.parametrize("name", PLANTED)
def test_in_each_recording_of_the_demo_exactly_the_planted_slips_are_found(name: str) -> None:
    """With the real model: every planted slip is found, and nothing else is claimed."""
    expected = PLANTED[name]
    heard: Heard = listen(str(DEMO / expected["script"]), str(DEMO / expected["recording"]))
    assert demo.differences(run_as_json(heard), expected) == []


def test_the_comparison_reports_a_missed_slip_and_one_that_was_not_planted() -> None:
    script = load_script(DEMO / "the_lamp.txt")
    perfect = " ".join(w.spoken[0][0] for w in words_of(script))
    heard = heard_as(script, perfect.replace("reasonable question", "reasonable answer"))
    rows = demo.differences(run_as_json(heard), PLANTED["the_lamp"])
    assert "missed: changed | 16 | stranger | sailor" in rows
    assert "not planted: changed | 7 | question | answer" in rows


def test_the_verse_of_the_demo_is_longer_than_a_sonnet_and_its_prose_takes_a_minute() -> None:
    lamp, house = load_script(DEMO / "the_lamp.txt"), load_script(DEMO / "full_house.txt")
    assert (lamp.form, len(lamp.lines)) == ("verse", 24)
    assert house.form == "prose"
    assert 140 <= len(words_of(house)) <= 170


def test_the_scene_of_the_demo_has_two_parts_and_keeps_the_others_lines_as_cues() -> None:
    scene = load_script(DEMO / "last_ticket.fountain", "PIM")
    spoken = " ".join(w.text for w in words_of(scene))
    assert "crumpled" not in spoken
    assert spoken.startswith("The sign says open")
    assert any("three legs" in cue.text for cue in scene.cues)


def test_the_ballad_of_the_demo_is_read_without_its_heading() -> None:
    ballad = load_script(DEMO / "ferry_ballad.md")
    assert ballad.form == "verse"
    assert len(ballad.lines) == 16
    assert ballad.lines[0].text.startswith("The ferryman")


def test_the_recordings_of_the_demo_are_small_files() -> None:
    for each in PLANTED.values():
        assert (DEMO / each["recording"]).stat().st_size < 300_000


@pytest.mark.model
def test_the_take_of_the_demo_fails_exactly_the_points_that_its_brief_is_meant_to_find(
    capfd: pytest.CaptureFixture[str],
) -> None:
    assert demo.sent(TAKE) == 0
    assert demo.sent({**TAKE, "not_met": []}) == 1
    assert "not met ['length'], written for []" in capfd.readouterr().err


def test_the_plan_of_the_demo_ends_the_day_before_the_deadline_of_its_brief() -> None:
    from datetime import date, timedelta
    from zoneinfo import ZoneInfo

    from offbook import brief, plan

    read, _ = brief.load_brief(DEMO / "round_one.toml", ZoneInfo("Europe/London"))
    need = plan.PieceNeed("full_house", "full_house", 56.0, 0, ())
    asked = plan.BriefNeed(read.name, read.deadline.date(), ("full_house",))
    made = plan.RecordingNeed(("full_house",), (read.name,))
    today, gives = date(2026, 3, 2), plan.Allowance(20, 45)
    days = plan.calendar([need], [asked], [made], today, gives).days
    assert days[-1].day == read.deadline.date() - timedelta(days=1)
    assert [step.kind for step in days[-1].steps] == ["send"]
