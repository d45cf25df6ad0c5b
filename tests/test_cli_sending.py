"""From a brief to what is sent, through the real commands: brief, plan, take, check."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from offbook.audio import SoundReport
from offbook.desk import Heard
from offbook.errors import RecordingError
from offbook.notes import notes_on
from offbook.script import Script
from offbook.words import words_of
from tests.journals import Slips, run_with
from tests.once import measure_once, spoken_anew, spoken_recording
from tests.test_cli_journal import Desk, desk_with_lamp
from tests.test_hear_sound import sound as clear_sound

# Whole commands: tests/test_values_*.py hold what the functions behind them give.
pytestmark = pytest.mark.heavy

BRIEF = """\
name = "Saltmarrow Players, first round"
deadline = 2026-03-16T17:00:00+01:00
pieces = ["The lamp"]
longest = "0:40"
kinds = ["wav"]
picture = "none"
by_eye = ["Say it to one person"]
"""


def test_a_piece_is_due_at_its_first_deadline_or_its_own_date_whichever_is_earlier(desk: Desk) -> None:
    assert "The lamp (no date)" in desk.see("today")
    assert "13 days left" in desk.see("brief", "add", str(desk.home / "round.toml"))
    assert "The lamp (13 days left)" in desk.see("today")
    desk.see("piece", "set", "The lamp", "--date", "+20")
    assert "The lamp (13 days left)" in desk.see("today")
    desk.see("piece", "set", "The lamp", "--date", "+3")
    assert "The lamp (3 days left)" in desk.see("today")


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A performer with one piece, a brief that asks for it, and a recording of half a minute."""
    (tmp_path / "round.toml").write_text(BRIEF, encoding="utf-8")
    spoken_recording(tmp_path / "one.wav", 31)
    measure_once(monkeypatch)
    return desk_with_lamp(tmp_path, monkeypatch)


def spoken(desk: Desk, slips: Slips | None = None) -> None:
    """From now on the hearing finds only these slips, whatever is said."""

    def listen_to(
        script: Script,
        recording: Path,
        loading: object,
        sound: SoundReport | None = None,
        progress: object = None,
    ) -> Heard:
        words = words_of(script)
        found = notes_on(script, words, run_with(words, slips or {}))
        now = datetime.now(UTC)
        return Heard(script, words, Path(recording), now, "planted", sound or clear_sound(31.0), found)

    desk.monkeypatch.setattr("offbook.desk.listening.listen_to", listen_to)


def brief(desk: Desk, text: str = BRIEF) -> str:
    (desk.home / "round.toml").write_text(text, encoding="utf-8")
    return desk.see("brief", "add", str(desk.home / "round.toml"))


def take(desk: Desk, *more: str, intention: str = "make her stay") -> str:
    """A new recording logged as a take."""
    made = spoken_anew(desk.home / "one.wav")
    return desk.see("take", "add", "The lamp", str(made), "--intention", intention, *more)


def rows(desk: Desk, *args: str) -> list[dict[str, Any]]:
    found = json.loads(desk.see(*args, "--json"))
    listed = next(v for k, v in found.items() if k != "format")
    assert isinstance(listed, list)
    return listed


def test_a_blank_brief_is_written_added_and_never_overwritten(desk: Desk) -> None:
    path = desk.home / "new.toml"
    assert "offbook brief add" in desk.see("brief", "blank", str(path))
    written = path.read_text(encoding="utf-8")
    assert "already" in desk.fail("brief", "blank", str(path)).what
    assert path.read_text(encoding="utf-8") == written
    assert "the name is still empty" in desk.fail("brief", "add", str(path)).what
    dated = desk.home / "dated.toml"
    assert "Its name is still empty." in desk.see("brief", "blank", str(dated), "--deadline", "+14")
    known = desk.home / "known.toml"
    desk.see("brief", "blank", str(known), "--name", "Harbour Festival", "--deadline", "2026-05-01")
    assert "names no piece to plan for" in desk.see("brief", "add", str(known))
    named = desk.home / "named.toml"
    desk.see("brief", "blank", str(named), "--name", "Round one", "--deadline", "+14", "--piece", "The lamp")
    assert "Plan back from it" in desk.see("brief", "add", str(named))


def test_a_brief_that_names_an_unknown_piece_is_refused_when_it_is_added(desk: Desk) -> None:
    (desk.home / "round.toml").write_text(BRIEF.replace("The lamp", "The oil"), encoding="utf-8")
    assert "The oil" in desk.fail("brief", "add", str(desk.home / "round.toml")).what
    assert rows(desk, "brief", "list") == []


def test_adding_a_brief_again_replaces_the_brief_of_the_same_name(desk: Desk) -> None:
    brief(desk)
    assert "replaced" in brief(desk, BRIEF.replace("03-16", "03-20"))
    (only,) = rows(desk, "brief", "list")
    assert datetime.fromisoformat(only["deadline"]) == datetime(2026, 3, 20, 16, tzinfo=UTC)


def test_a_deadline_is_shown_by_the_performers_own_clock(desk: Desk) -> None:
    desk.see("performer", "set", "Me", "--zone", "Asia/Kathmandu")  # UTC+05:45
    brief(desk)
    assert "2026-03-16 21:45" in desk.see("brief", "list")
    assert "by Mon 16 Mar, 21:45" in desk.see("plan")


def test_a_brief_is_shown_with_its_requirements_and_the_take_chosen_for_it(desk: Desk) -> None:
    brief(desk)
    spoken(desk)
    shown = desk.see("brief", "show", "saltmarrow")
    for asked in ("13 days left", "at most 0:40", "wav", "none, sound alone", "Say it to one person"):
        assert asked in shown
    assert "The lamp: no take chosen yet" in shown
    assert "safeguarding minors come first" in shown
    take(desk)
    desk.see("take", "choose", "The lamp", "1")
    shown = desk.see("brief", "show", "Saltmarrow Players")
    assert f"The lamp: take 1, {desk.home / 'one.wav'}" in " ".join(shown.split())


def test_a_take_is_judged_against_the_brief_and_the_text_and_becomes_a_run_through(desk: Desk) -> None:
    brief(desk)
    spoken(desk, {3: ("changed", "lights")})
    shown = take(desk)
    assert "The lamp, take 1, for Saltmarrow Players, first round: make her stay" in shown
    assert "NO    words: 97.0 % of 34" in shown and "1 point not met" in shown
    assert "look  Say it to one person: look yourself" in shown
    assert "Take 1 of 5 for one day." in shown and "qualified voice teacher" in shown
    assert [r["words"] for r in rows(desk, "progress", "The lamp", "--runs")] == [34]


def test_the_takes_of_a_piece_are_compared_by_how_well_their_words_match_the_script(desk: Desk) -> None:
    brief(desk)
    planted: list[Slips] = [{3: ("dropped", None), 9: ("dropped", None)}, {}, {9: ("changed", "sea")}]
    for slips in planted:
        spoken(desk, slips)
        take(desk)
    listed = rows(desk, "take", "list", "The lamp")
    assert [(r["take"], r["best"], r["unmet"]) for r in listed] == [
        (1, False, ["words"]),
        (2, True, []),
        (3, False, ["words"]),
    ]
    assert "best by the text" in desk.see("take", "list", "The lamp")
    desk.see("take", "delete", "The lamp", "2")
    assert [(r["take"], r["best"], r["nearest"]) for r in rows(desk, "take", "list", "The lamp")] == [
        (1, False, False),
        (3, False, True),
    ], "a take without the words is never called best"
    assert "nearest so far" in desk.see("take", "list", "The lamp")
    read = list(csv.DictReader(io.StringIO(desk.see("take", "list", "The lamp", "--csv"))))
    assert [r["unmet"] for r in read] == ["words", "words"]


def test_a_verdict_corrected_by_hand_counts_when_takes_are_compared(desk: Desk) -> None:
    planted: list[Slips] = [{3: ("changed", "lights"), 9: ("changed", "sea")}, {3: ("changed", "lights")}]
    for slips in planted:
        spoken(desk, slips)
        take(desk)
    first = json.loads(desk.see("take", "show", "The lamp", "1", "--json"))["run"]
    for word in ("4", "10"):
        desk.see("correct", "The lamp", word, "--run", first[:8])
    assert [r["best"] for r in rows(desk, "take", "list", "The lamp")] == [True, False]


def test_only_one_take_of_a_piece_can_be_chosen_at_a_time(desk: Desk) -> None:
    spoken(desk)
    take(desk), take(desk)
    desk.see("take", "choose", "The lamp", "1")
    desk.see("take", "choose", "The lamp", "2")
    assert [r["chosen"] for r in rows(desk, "take", "list", "The lamp")] == [False, True]
    assert "no take 3" in desk.fail("take", "choose", "The lamp", "3").what


def test_the_last_take_of_a_day_says_to_stop_and_rest_the_voice(desk: Desk) -> None:
    brief(desk, BRIEF + "takes = 2\n")
    spoken(desk)
    assert "Take 1 of 2 for one day" in take(desk)
    assert "stop here, rest the voice" in " ".join(take(desk).split())
    desk.sleep()
    desk.now += timedelta(minutes=1)
    (desk.home / "one.wav").touch()
    assert "Take 1 of 2 for one day" in take(desk)


def test_a_take_whose_judging_failed_is_logged_with_its_recording_and_can_be_judged_again(desk: Desk) -> None:
    def broken(*args: object) -> Heard:
        raise RecordingError("the power went", "try again")

    desk.monkeypatch.setattr("offbook.desk.listening.listen_to", broken)
    failed = desk.fail("take", "add", "The lamp", str(desk.home / "one.wav"), "--intention", "calm")
    assert failed.what == "the power went"
    assert failed.do == 'try again; it stays logged as take 1 unless: offbook take delete "The lamp" 1'
    assert 'offbook take judge "The lamp" 1' in desk.see("today")
    assert "not judged yet" in desk.see("take", "list", "The lamp")
    (desk.home / "one.wav").unlink()  # the journal has its own copy
    spoken(desk)
    assert "take 1" in desk.see("take", "judge", "The lamp", "1")
    (only,) = rows(desk, "take", "list", "The lamp")
    assert only["unmet"] == [] and only["words"] == 1.0


def test_judging_a_take_again_adds_no_second_run_through(desk: Desk) -> None:
    spoken(desk)
    take(desk)
    brief(desk)
    desk.see("take", "judge", "The lamp", "1")
    assert len(rows(desk, "progress", "The lamp", "--runs")) == 1


def test_a_file_that_is_not_a_recording_is_refused_before_anything_is_logged(desk: Desk) -> None:
    spoken(desk)
    desk.fail("take", "add", "The lamp", str(desk.home / "lamp.txt"), "--intention", "calm")
    desk.fail("take", "add", "The lamp", str(desk.home / "gone.wav"), "--intention", "calm")
    assert (
        "empty" in desk.fail("take", "add", "The lamp", str(desk.home / "one.wav"), "--intention", " ").what
    )
    assert rows(desk, "take", "list", "The lamp") == []


def test_a_take_is_shown_with_its_points_and_the_notes_on_its_words(desk: Desk) -> None:
    brief(desk)
    spoken(desk, {3: ("changed", "lights")})
    take(desk, intention="ask, do not tell")
    shown = desk.see("take", "show", "The lamp", "1")
    assert "ask, do not tell" in shown and "words: 97.0 % of 34" in shown and "lights" in shown
    told = json.loads(desk.see("take", "show", "The lamp", "1", "--json"))
    assert [n["kind"] for n in told["notes"]][-1] == "changed"
    assert {c["what"] for c in told["checks"]} >= {"file", "length", "sound", "words", "by eye"}


def test_deleting_a_take_leaves_its_run_through(desk: Desk) -> None:
    spoken(desk)
    take(desk)
    desk.see("take", "delete", "The lamp", "1")
    assert rows(desk, "take", "list", "The lamp") == []
    assert len(rows(desk, "progress", "The lamp", "--runs")) == 1


def test_deleting_a_take_deletes_its_recording_only_on_request(desk: Desk) -> None:
    spoken(desk)
    take(desk), take(desk)
    desk.see("take", "delete", "The lamp", "1")
    assert len(rows(desk, "piece", "recordings", "The lamp")) == 2
    desk.see("take", "delete", "The lamp", "2", "--recording")
    (left,) = rows(desk, "piece", "recordings", "The lamp")
    assert Path(left["path"]).is_file()
    assert len(list((desk.home / "home" / "recordings").rglob("*.wav"))) == 1
    assert len(rows(desk, "progress", "The lamp", "--runs")) == 2


@pytest.mark.parametrize(
    "typed", ["SALTMARROW", "first round", "Round.toml", "round", "players", "films@saltmarrow.example"]
)
def test_a_brief_is_found_by_its_name_its_file_or_its_address(desk: Desk, typed: str) -> None:
    brief(desk, BRIEF + 'send_to = "films@saltmarrow.example"\n')
    assert "Saltmarrow Players, first round" in desk.see("brief", "show", typed)


def test_a_brief_that_does_not_exist_is_refused_with_a_list_of_those_that_do(desk: Desk) -> None:
    assert "offbook brief add FILE" in desk.fail("brief", "sent", "Festival").do
    brief(desk)
    refused = desk.fail("brief", "sent", "Festival")
    assert refused.what == "there is no brief called Festival"
    assert refused.do == "these are here: Saltmarrow Players, first round (round.toml)"
    brief(desk, BRIEF.replace("first round", "second round"))
    several = desk.fail("brief", "show", "saltmarrow")
    assert several.what.startswith("several briefs fit saltmarrow: Saltmarrow Players, first round")
    assert "second round" in desk.see("brief", "show", "second")


def test_a_recording_heard_as_a_run_through_and_logged_as_a_take_counts_once(desk: Desk) -> None:
    """Common practice, no source: what was said once counts once."""
    spoken(desk, {3: ("changed", "lights")})
    assert "as run-through" in desk.see("run", "The lamp", str(desk.home / "one.wav"))
    said = desk.see("take", "add", "The lamp", str(desk.home / "one.wav"), "--intention", "stay")
    assert "heard before" in said and "on 2026-03-02: it does not count twice." in " ".join(said.split())
    assert "does not count twice" in " ".join(desk.see("run", "The lamp", str(desk.home / "one.wav")).split())
    assert len(rows(desk, "progress", "The lamp", "--runs")) == 1
    assert [r["words"] for r in rows(desk, "take", "list", "The lamp")] == [pytest.approx(33 / 34, abs=1e-3)]
    assert len(rows(desk, "piece", "recordings", "The lamp")) == 1
    assert "Did you say it" not in desk.see("progress", "The lamp")
    spoken_anew(desk.home / "one.wav")  # said again, and heard the same way: now it is asked
    desk.see("run", "The lamp", str(desk.home / "one.wav"))
    assert len(rows(desk, "progress", "The lamp", "--runs")) == 2
    assert "id you say it" in desk.see("progress", "The lamp")


def test_a_reading_is_recognised_again_even_if_its_recording_was_not_kept(desk: Desk) -> None:
    spoken(desk)
    desk.see("run", "The lamp", str(desk.home / "one.wav"), "--no-keep")
    assert rows(desk, "piece", "recordings", "The lamp") == []
    desk.see("run", "The lamp", str(desk.home / "one.wav"))
    assert len(rows(desk, "progress", "The lamp", "--runs")) == 1
    assert [r["judged"] for r in rows(desk, "piece", "recordings", "The lamp")] == [True]


def test_a_recording_shared_by_two_takes_is_deleted_with_the_second_of_them(desk: Desk) -> None:
    spoken(desk)
    take(desk)
    desk.see("take", "add", "The lamp", str(desk.home / "one.wav"), "--intention", "go")
    assert "take 2 is of it too" in desk.see("take", "delete", "The lamp", "1", "--recording")
    assert len(rows(desk, "piece", "recordings", "The lamp")) == 1
    desk.see("take", "delete", "The lamp", "2", "--recording")
    assert rows(desk, "piece", "recordings", "The lamp") == []


def test_a_take_as_json_holds_the_points_and_the_whole_run(desk: Desk) -> None:
    brief(desk)
    spoken(desk)
    told = json.loads(take(desk, "--json"))
    assert told["format"] == 1 and told["met"] is True and told["brief"] == "Saltmarrow Players, first round"
    assert len(told["run"]["words"]) == 34


def test_with_two_open_briefs_for_a_piece_the_brief_must_be_named(desk: Desk) -> None:
    brief(desk)
    brief(desk, BRIEF.replace("first round", "second round"))
    spoken(desk)
    error = desk.fail("take", "add", "The lamp", str(desk.home / "one.wav"), "--intention", "calm")
    assert "2 briefs ask for The lamp" in error.what and "--brief" in error.do
    assert "second round" in take(desk, "--brief", "Saltmarrow Players, second")


def test_a_plan_runs_from_today_to_sending_on_the_day_before_the_deadline(desk: Desk) -> None:
    brief(desk)
    steps = rows(desk, "plan")[0]["steps"]
    assert steps[0]["day"] == "2026-03-02" and steps[0]["kind"] == "learn"
    assert steps[-1] == {**steps[-1], "day": "2026-03-15", "kind": "send"}
    order = [s["kind"] for s in steps if s["kind"] != "learn"]
    assert order == ["run", "run", "quiet", "takes", "spare", "choose", "send"]
    shown = desk.see("plan", "saltmarrow")
    assert "13 days left" in shown and "qualified voice teacher" in shown and "safeguarding minors" in shown
    read = list(csv.DictReader(io.StringIO(desk.see("plan", "--csv"))))
    assert [r["kind"] for r in read] == [s["kind"] for s in steps]


def test_a_plan_gives_the_chance_of_being_off_book_by_the_takes_or_says_it_is_too_early(
    desk: Desk,
) -> None:
    brief(desk)
    (plan,) = rows(desk, "plan")
    takes_on = next(s["day"] for s in plan["steps"] if s["kind"] == "takes")
    assert [b["takes_on"] for b in plan["briefs"]] == [takes_on]
    assert [(f["piece"], f["chance"]) for f in plan["forecast"]] == [("The lamp", None)]
    assert "Off book on the day it is needed: The lamp too early to say (Thu 12 Mar)." in desk.see("plan")
    spoken(desk)
    for _ in range(3):
        take(desk)
        desk.sleep()
        desk.now += timedelta(minutes=1)
        (desk.home / "one.wav").touch()
    (plan,) = rows(desk, "plan")
    (told,) = plan["forecast"]
    assert told["chance"] is not None and 0.5 < told["chance"] <= 1
    assert f"The lamp {round(told['chance'] * 100)} %" in desk.see("plan")


def test_a_clean_take_counts_as_a_run_through_and_shortens_the_plan(desk: Desk) -> None:
    brief(desk)
    spoken(desk)
    take(desk)
    kinds = [s["kind"] for s in rows(desk, "plan")[0]["steps"]]
    assert kinds.count("run") == 1


def test_a_brief_that_was_sent_is_no_longer_planned(desk: Desk) -> None:
    brief(desk)
    spoken(desk)
    take(desk)
    desk.see("take", "choose", "The lamp", "1")
    assert "noted as sent." in desk.see("brief", "sent", "saltmarrow")
    assert rows(desk, "plan")[0]["briefs"] == [] and "send" not in desk.see("plan").casefold()
    assert "was sent" in desk.fail("plan", "saltmarrow").what
    assert "open again" in desk.see("brief", "sent", "saltmarrow", "--undo")
    assert rows(desk, "plan")[0]["briefs"]


def test_sending_without_a_chosen_take_is_noted_only_if_the_performer_confirms_it(desk: Desk) -> None:
    brief(desk)
    spoken(desk)
    take(desk)
    refused = desk.fail("brief", "sent", "saltmarrow")
    assert "no take is chosen of The lamp; nothing was noted" in refused.what and "--anyway" in refused.do
    assert rows(desk, "brief", "list")[0]["sent_at"] is None
    assert "Without a chosen take of The lamp." in desk.see("brief", "sent", "saltmarrow", "--anyway")
    assert rows(desk, "brief", "list")[0]["sent_at"] is not None


def test_a_deadline_that_has_passed_is_reported(desk: Desk) -> None:
    brief(desk)
    desk.sleep(20)
    assert "is over" in desk.fail("plan", "saltmarrow").what
    (plan,) = rows(desk, "plan")
    assert not [s for s in plan["steps"] if s["kind"] == "send"]
    assert plan["short"][0].startswith("The deadline of Saltmarrow Players, first round was Mon 16 Mar")
    assert plan["short"][0] in " ".join(desk.see("today").split())
    assert rows(desk, "brief", "list")[0]["left"] == "deadline passed 6 days ago"
    assert "after its deadline" in desk.see("brief", "sent", "saltmarrow", "--anyway")


def test_the_screen_of_today_names_the_briefs_that_are_to_be_sent(desk: Desk) -> None:
    brief(desk)
    shown = desk.see("today")
    assert "To send: Saltmarrow Players, first round, 13 days left." in shown
    assert 'offbook plan "Saltmarrow Players, first round"\n' in shown
    told = json.loads(desk.see("today", "--json"))["performers"][0]["to_send"]
    assert [b["brief"] for b in told] == ["Saltmarrow Players, first round"]


def test_deleting_a_brief_leaves_its_takes(desk: Desk) -> None:
    brief(desk)
    spoken(desk)
    take(desk)
    desk.see("brief", "delete", "saltmarrow")
    assert rows(desk, "brief", "list") == [] and len(rows(desk, "take", "list", "The lamp")) == 1


def test_a_recording_is_checked_against_a_brief_given_by_its_file_or_by_its_name(desk: Desk) -> None:
    brief(desk)
    sound = str(desk.home / "one.wav")
    by_file = desk.type("check", sound, "--brief", str(desk.home / "round.toml"))
    by_name = desk.type("check", sound, "--brief", "saltmarrow")
    assert by_file.exit_code == by_name.exit_code == 0 and by_file.output == by_name.output
    assert "Everything that can be checked is met." in by_file.output
    assert desk.type("check", sound, "--limit", "0:20", "--json").stdout
    told = json.loads(desk.type("check", sound, "--limit", "0:20", "--json").stdout)
    assert told["met"] is False and [c["what"] for c in told["checks"] if c["met"] is False] == ["length"]


def test_the_screens_of_sending_fit_sixty_columns(desk: Desk) -> None:
    brief(desk)
    spoken(desk, {3: ("changed", "lights")})
    take(desk)
    desk.monkeypatch.setenv("COLUMNS", "60")
    for args in (
        ("plan",),
        ("brief", "list"),
        ("brief", "show", "saltmarrow"),
        ("take", "list", "The lamp"),
        ("check", str(desk.home / "one.wav"), "--brief", "saltmarrow"),
    ):
        shown = desk.see(*args)
        assert max(len(row.rstrip()) for row in shown.splitlines()) <= 60, shown


def test_several_briefs_share_one_plan_and_one_daily_limit_of_time_and_voice(desk: Desk) -> None:
    """Three briefs with one speech: it is learnt once, and no day holds more than the performer gives."""
    desk.see("performer", "set", "Me", "--voice-minutes", "1.5", "--minutes", "5")
    for n in ("first", "second", "third"):
        brief(desk, BRIEF.replace("first round", f"{n} round"))
    (plan,) = rows(desk, "plan")
    assert [b["brief"] for b in plan["briefs"]] == [
        f"Saltmarrow Players, {n} round" for n in ("first", "second", "third")
    ]
    by_day: dict[str, list[dict[str, Any]]] = {}
    for step in plan["steps"]:
        by_day.setdefault(step["day"], []).append(step)
    for steps in by_day.values():
        assert sum(s["minutes"] for s in steps if s["kind"] in ("learn", "run")) <= 5.05
        assert sum(s["voice_minutes"] for s in steps) <= 1.55
    new = sum(int(s["what"].split(": ")[1].split()[0]) for s in plan["steps"] if " new" in s["what"])
    assert new == 4, "each thought is begun once"


def test_today_and_the_plan_list_the_same_steps_for_today(desk: Desk) -> None:
    brief(desk)
    (plan,) = rows(desk, "plan")
    first = [s for s in plan["steps"] if s["day"] == plan["today"]]
    (today,) = rows(desk, "today")
    assert [(s["kind"], s["what"], s["minutes"]) for s in first] == [
        (s["kind"], s["what"], s["minutes"]) for s in today["steps"]
    ]
    assert today["minutes"] == pytest.approx(
        sum(s["minutes"] for s in first if s["kind"] == "learn"), abs=0.1
    )


def test_today_says_that_a_piece_has_to_wait_and_not_that_nothing_is_due(desk: Desk) -> None:
    """Two pieces, two minutes a day: the one with four days left comes first."""
    desk.see("performer", "set", "Me", "--minutes", "2")
    desk.see("piece", "set", "The lamp", "--date", "+20")
    desk.see("piece", "add", str(desk.home / "lamp.txt"), "--name", "The ferry", "--date", "+4")
    shown = desk.see("today")
    ferry, lamp = shown.index("The ferry (4 days left)"), shown.index("The lamp (20 days left)")
    assert "begin it" in shown[ferry:lamp]
    assert "today's minutes go to what is needed sooner" in " ".join(shown[lamp:].split())


def test_the_plan_is_written_as_a_calendar_file(desk: Desk) -> None:
    brief(desk)
    path = desk.home / "mine.ics"
    assert "is written" in " ".join(desk.see("plan", "--ics", str(path)).split())
    text = path.read_bytes().replace(b"\r\n ", b"").decode()
    assert text.startswith("BEGIN:VCALENDAR") and "DTSTART;VALUE=DATE:20260315" in text
    assert "SUMMARY:Deadline: Saltmarrow Players\\, first round" in text
    assert "cannot write" in desk.fail("plan", "--ics", str(desk.home / "no" / "mine.ics")).what
