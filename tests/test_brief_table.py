"""Several briefs at once: which recording serves which brief, what conflicts, is missing or is late."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from offbook.brief import Brief, Limit, clashes, recordings_of, separate_files
from offbook.desk import chosen_for, log_take, one_brief, opened_journal
from offbook.errors import JournalError
from offbook.journal import choose_take, take_numbered
from offbook.takes import asked_for
from tests.sounds import voice, write
from tests.test_cli_journal import Desk, desk_with_lamp
from tests.test_cli_sending import rows

# Whole commands: tests/test_values_*.py hold what the functions behind them give.
pytestmark = pytest.mark.heavy

DUE = datetime(2026, 3, 16, 17, tzinfo=UTC)


def asks(name: str, days: int = 0, **points: Any) -> Brief:
    return Brief(name, DUE + timedelta(days=days), ("the_lamp",), **points)


# One recording for several -------------------------------------------------------------------------


def test_briefs_that_do_not_conflict_share_one_recording() -> None:
    first = asks("Players", longest=120.0, unbroken=True, kinds=("mp4",))
    second = asks("Festival", 3, longest=90.0, shortest=60.0, unbroken=False)
    (found,) = recordings_of([second, first])
    assert [b.name for b in found.briefs] == ["Players", "Festival"], "the nearest deadline first"
    assert (found.shortest, found.longest, found.unbroken) == (60.0, 90.0, True)


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        ({"longest": 60.0}, {"shortest": 90.0}, "length: A at most 1:00, B at least 1:30"),
        ({"slate": True}, {"slate": False}, "slate: A wanted, B not wanted"),
        ({"picture": "portrait"}, {"picture": "landscape"}, "picture: A portrait, B landscape"),
        ({"limits": (Limit("The_Lamp", None, 50.0),), "longest": 90.0}, {"shortest": 55.0},
         "length: A at most 0:50, B at least 0:55"),
    ],
)  # fmt: skip
def test_briefs_that_conflict_in_the_filming_need_two_recordings(
    one: dict[str, Any], other: dict[str, Any], why: str
) -> None:
    a, b = asks("A", **one), asks("B", 1, **other)
    assert clashes(a, b, "the_lamp") == (why,)
    assert [[x.name for x in r.briefs] for r in recordings_of([a, b])] == [["A"], ["B"]]


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        ({"kinds": ("mp4",)}, {"kinds": ("mov", "avi")}, "file: A mp4, B mov or avi"),
        ({"picture": "none"}, {"picture": "either"}, "picture: A sound alone, B a picture"),
        (
            {"lufs": (-24.0, -20.0)},
            {"lufs": (-16.0, -14.0)},
            "loudness: A -24 to -20 LUFS, B -16 to -14 LUFS",
        ),
    ],
)  # fmt: skip
def test_briefs_that_conflict_only_in_the_export_share_one_recording_in_two_files(
    one: dict[str, Any], other: dict[str, Any], why: str
) -> None:
    a, b = asks("A", **one), asks("B", 1, **other)
    assert separate_files(a, b) == (why,) and clashes(a, b, "the_lamp") == ()
    assert len(recordings_of([a, b])) == 1


def test_of_three_briefs_two_share_a_recording_and_the_third_has_its_own() -> None:
    three = [asks("A", slate=True), asks("B", 1), asks("C", 2, slate=False)]
    assert [[x.name for x in r.briefs] for r in recordings_of(three)] == [["A", "B"], ["C"]]
    assert clashes(asks("A", slate=True), asks("B"), "the_lamp") == (), (
        "what is not said conflicts with nothing"
    )


# The table -----------------------------------------------------------------------------------------

PLAYERS = """\
name = "Saltmarrow Players"
deadline = 2026-03-16T17:00:00Z
pieces = ["The lamp"]
longest = "0:40"
unbroken = true
"""
FESTIVAL = """\
name = "Gull Festival"
deadline = 2026-03-16T20:00:00Z
pieces = ["The lamp"]
longest = "0:20"
together = "0:25"
how_many = 2
"""


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A performer with one piece, two briefs that ask for it, and a recording of half a minute."""
    write(tmp_path / "one.wav", voice(31, 16_000), 16_000)
    found = desk_with_lamp(tmp_path, monkeypatch)
    for name, text in (("players", PLAYERS), ("festival", FESTIVAL)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
        found.see("brief", "add", str(tmp_path / f"{name}.toml"))
    return found


def take(desk: Desk, brief: str | None) -> None:
    """Log a take for a brief and choose it; it is not judged."""
    with opened_journal() as journal:
        logged = log_take(journal, "The lamp", None, desk.home / "one.wav", "Slower", brief, False)
        with journal.writing() as conn:
            choose_take(journal, conn, take_numbered(conn, logged.piece, logged.take.n))


def chosen(brief: str) -> int | None:
    with opened_journal() as journal, journal.reading() as conn:
        ((_, found),) = chosen_for(conn, one_brief(conn, brief))
    return None if found is None else found.n


def test_one_table_shows_which_briefs_are_served_what_conflicts_and_what_is_missing(desk: Desk) -> None:
    shown = desk.see("brief", "table")
    assert "Saltmarrow Players, Gull Festival" in shown and "at most 0:20" in shown and "one take" in shown
    assert "none chosen" in shown
    assert "are due on the same day, 2026-03-16." in shown
    assert "Gull Festival wants 2 pieces and 1 are named." in shown
    assert "Saltmarrow Players: no take is chosen of The lamp." in shown
    (only,) = rows(desk, "brief", "table")
    assert only["briefs"] == ["Saltmarrow Players", "Gull Festival"]


def test_a_take_chosen_for_one_brief_serves_the_other_if_nothing_conflicts(desk: Desk) -> None:
    take(desk, "Saltmarrow Players")
    assert (chosen("Saltmarrow Players"), chosen("Gull Festival")) == (1, 1)
    desk.see("brief", "set", "Gull Festival", "slate = true")
    desk.see("brief", "set", "Saltmarrow Players", "slate = false")
    assert (chosen("Saltmarrow Players"), chosen("Gull Festival")) == (1, None)
    assert "The lamp needs two recordings." in desk.see("brief", "table")
    take(desk, "Gull Festival")
    assert (chosen("Saltmarrow Players"), chosen("Gull Festival")) == (1, 2), "one choice for each brief"
    take(desk, "Gull Festival")
    assert (chosen("Saltmarrow Players"), chosen("Gull Festival")) == (1, 3)


def test_the_plan_films_a_recording_for_both_briefs_only_once(desk: Desk) -> None:
    shown = desk.see("plan")
    assert "for Saltmarrow Players and Gull Festival" in shown.replace("\n              ", " ")
    (plan,) = rows(desk, "plan")
    made = [step for step in plan["steps"] if step["kind"] == "takes"]
    assert [step["briefs"] for step in made] == [["Saltmarrow Players", "Gull Festival"]]


def test_a_line_set_by_hand_is_shown_and_removing_it_makes_it_unknown_again(desk: Desk) -> None:
    shown = desk.see("brief", "set", "Gull Festival", "confirm_days = 3", 'free = ["The lamp"]')
    assert "own choice The lamp" in shown and "within 3 days of sending" in shown
    shown = desk.see("brief", "set", "Gull Festival", "--unset", "longest", "--unset", "free")
    assert "They do not say: how long each may be," in shown and "own choice The lamp" not in shown
    assert "is longer" not in shown
    assert desk.fail("brief", "set", "Gull Festival", "longest = soon").do.startswith(
        "write it as in longest"
    )
    assert isinstance(desk.fail("brief", "set", "Gull Festival", 'name = "Other"'), JournalError)


def test_every_screen_warns_in_words_of_a_deadline_that_has_passed(desk: Desk) -> None:
    desk.sleep(20)
    warned = "The deadline of Saltmarrow Players passed"
    for command in (["brief", "show", "Saltmarrow Players"], ["brief", "table"], ["class"]):
        assert warned in " ".join(desk.see(*command).split()), command
    for command in (["today"], ["plan"]):
        assert "The deadline of Saltmarrow Players was" in " ".join(desk.see(*command).split()), command
    assert "deadline passed" in " ".join(desk.see("brief", "list").split())
    again = desk.see("brief", "add", str(desk.home / "players.toml"))
    assert f"Careful. {warned}" in " ".join(again.split())
    desk.see("brief", "sent", "Saltmarrow Players", "--anyway")
    assert warned not in " ".join(desk.see("brief", "table").split())


# What is asked -------------------------------------------------------------------------------------


def test_a_point_of_a_take_is_shown_as_required_only_if_the_brief_asks_for_it() -> None:
    """Points kept by an earlier version say nothing of it themselves."""
    assert asked_for({"what": "length", "wanted": "at most 0:40"})
    for what in ("one take", "even light", "in step", "in a browser", "sound", "words"):
        assert not asked_for({"what": what, "wanted": "anything"}), what
    assert not asked_for({"what": "picture", "wanted": "any"})
    assert asked_for({"what": "one take", "wanted": "one unbroken take", "asked": True})
