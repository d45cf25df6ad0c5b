"""The list of a class: which piece is most at risk, what its row says, and the coach's own day."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.brief import Brief
from offbook.cli.class_view import (
    _as_json,
    _for_people,
    _needed,
    _sending,
    _stands,
    _warn_of_late,
    ago,
    rows_on_a_screen,
)
from offbook.cli.today import _their_line
from offbook.desk import BriefKept
from offbook.desk.class_list import ClassRow, _by_piece, _row, _still_takes
from offbook.page import everybody
from offbook.records import NOTHING_YET, BriefRow, Piece, RunRow, Summary
from tests.test_progress import row as run_row

TODAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
CLEAN, SLIPPED = run_row(100, 98), run_row(100, 97)


def piece(name: str = "The lamp", due: int | None = 20) -> Piece:
    """A piece that is needed in so many days."""
    day = None if due is None else TODAY + timedelta(days=due)
    return Piece(name, "mara", "Mara", "UTC", name, None, None, day, True, NOW)


def kept(name: str = "Quay", hours: float = 48, *pieces: Piece, sent: bool = False) -> BriefKept:
    """A brief whose deadline is in so many hours, for these pieces."""
    due = NOW + timedelta(hours=hours)
    row = BriefRow(name, "mara", name, "", due, NOW, NOW if sent else None)
    return BriefKept(row, Brief(name, due), pieces)


def stand(*runs: RunRow, clean: int = 0, days: int = 0, asked: int = 0, last: date | None = None) -> Summary:
    return Summary(runs, days, clean, asked, last)


def listed(
    found: Summary = NOTHING_YET,
    brief: BriefKept | None = None,
    due: int | None = 20,
    chosen: frozenset[str | None] = frozenset(),
) -> ClassRow:
    """A piece as it is put into the list of the class."""
    return _row(piece(due=due), TODAY, brief, found, {"The lamp": set(chosen)}, NOW)


# The order of the class -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("found", "days"),
    [
        (NOTHING_YET, 12),
        (stand(asked=1), 8),
        (stand(SLIPPED, days=1, asked=1), 5),
        (stand(CLEAN, clean=1), 2),
        (stand(SLIPPED, clean=2), 2),
        (stand(CLEAN, clean=2), 0),
        (stand(clean=2), 2),
    ],
)
def test_the_better_a_piece_is_known_the_fewer_days_it_usually_still_takes(found: Summary, days: int) -> None:
    assert _still_takes(found) == days
    assert listed(found).slack == 20 - days


def test_a_piece_is_needed_on_its_own_day_or_at_an_earlier_deadline() -> None:
    by_date, by_brief = listed(), listed(brief=kept(hours=48))
    assert (by_date.needed, by_date.days_left, by_date.slack) == (date(2026, 3, 22), 20, 8)
    assert (by_brief.needed, by_brief.days_left, by_brief.slack) == (date(2026, 3, 4), 2, -10)
    assert listed(brief=kept(hours=24 * 21)).days_left == 20
    assert listed(due=None, brief=kept(hours=6)).days_left == 1, "18:00 and six hours are the next day"
    nobody = listed(due=None)
    assert (nobody.needed, nobody.days_left, nobody.slack) == (None, None, 10_000)


def test_a_day_that_is_over_counts_only_if_no_brief_asks_for_the_piece() -> None:
    assert listed(due=-1).days_left == -1
    assert listed(due=-1, brief=kept(hours=72)).days_left == 3
    assert listed(due=0, brief=kept(hours=72)).days_left == 0


def test_a_brief_is_late_after_its_deadline_unless_it_was_sent() -> None:
    on_time, late, sent = kept(hours=0), kept(hours=-0.01), kept(hours=-0.01, sent=True)
    found = [listed(brief=b) for b in (on_time, late, sent)]
    assert [(r.late, r.sent) for r in found] == [(False, False), (True, False), (False, True)]
    assert [r.slack for r in found] == [-12, -1000, 8]
    assert not listed().late and not listed().sent


def test_a_take_counts_as_chosen_if_it_is_chosen_for_this_brief_or_for_none() -> None:
    brief = kept("Quay")
    assert listed(brief=brief, chosen=frozenset({"Quay"})).chosen
    assert listed(brief=brief, chosen=frozenset({None})).chosen
    assert not listed(brief=brief, chosen=frozenset({"Pier"})).chosen
    assert not listed(brief=brief).chosen
    assert not listed(chosen=frozenset({None})).chosen


def test_the_brief_of_a_piece_is_the_nearest_open_one_or_else_the_last_that_was_sent() -> None:
    lamp, ferry = piece(), piece("The ferry")
    near, far = kept("Near", 24, lamp), kept("Far", 48, lamp, ferry)
    before, earlier = kept("Before", -24, lamp, sent=True), kept("Earlier", -48, lamp, sent=True)
    found = _by_piece([earlier, far, before, near])
    assert {key: b.row.name for key, b in found.items()} == {"The lamp": "Near", "The ferry": "Far"}
    assert _by_piece([earlier, before])["The lamp"] is before


def test_a_piece_is_off_book_after_two_clean_days_and_holds_if_the_newest_run_is_clean() -> None:
    found = [
        listed(stand(CLEAN, clean=1)),
        listed(stand(SLIPPED, CLEAN, clean=2)),
        listed(stand(CLEAN, SLIPPED, clean=2)),
        listed(stand(clean=2)),
    ]
    assert [(r.off_book, r.holds) for r in found] == [
        (False, False), (True, True), (True, False), (True, False)
    ]  # fmt: skip
    assert found[1].latest is CLEAN and found[3].latest is None


# What a row says --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("found", "seen", "terminal", "page"),
    [
        (stand(CLEAN, clean=2), None, "off book", "off book"),
        (stand(SLIPPED, clean=2), None, "slipped lately", "was off book, slipped in the newest run-through"),
        (stand(CLEAN, clean=1), 0.5, "one clean day", "one clean day, needs another"),
        (stand(SLIPPED, days=1), 0.5, "run on 1 day", "1 day of run-throughs, none clean yet"),
        (stand(SLIPPED, days=2), 0.5, "run on 2 days", "2 days of run-throughs, none clean yet"),
        (stand(asked=1), 0.255, "26 % begun", "25.5 % of the thoughts begun, not run through yet"),
        (NOTHING_YET, 0.0, "not begun", "not begun"),
        (NOTHING_YET, None, "not begun", "not begun"),
    ],
)
def test_a_row_says_how_well_the_piece_is_known(
    found: Summary, seen: float | None, terminal: str, page: str
) -> None:
    row = replace(listed(found), seen=seen)
    assert (_stands(row), everybody._stands(row)) == (terminal, page)


def test_a_row_says_in_how_many_days_the_piece_is_needed() -> None:
    assert [_needed(listed(due=due)) for due in (None, 2, 1, 0, -1, -2)] == [
        None, "in 2 d", "in 1 d", "today", "1 d ago", "2 d ago"
    ]  # fmt: skip


def test_a_row_says_what_became_of_its_brief() -> None:
    chosen = frozenset({None})
    rows = [
        listed(brief=kept(hours=-1, sent=True)),
        listed(brief=kept(hours=-1), chosen=chosen),
        listed(brief=kept(), chosen=chosen),
        listed(brief=kept()),
    ]
    assert [_sending(r) for r in rows] == ["sent", "LATE", "chosen", "no take"]
    assert [everybody._sending(r) for r in rows] == [
        "sent",
        "late, not sent",
        "take chosen",
        "no take chosen",
    ]
    assert _sending(listed()) is None


def test_a_row_says_how_long_ago_the_last_work_was() -> None:
    days = [TODAY - timedelta(days=n) for n in (0, 1, 2)]
    assert [ago(day, TODAY) for day in days] == ["today", "1 d ago", "2 d ago"]
    assert [everybody._ago(day, TODAY) for day in (None, *days)] == [
        "never", "today", "yesterday", "2 days ago"
    ]  # fmt: skip


def test_the_json_of_a_row_is_rounded_and_has_null_for_what_is_not_known() -> None:
    bare = _as_json(listed(due=None))
    assert bare == {
        "performer": "Mara",
        "piece": "The lamp",
        "date": None,
        "days_left": None,
        "brief": None,
        "sent_at": None,
        "late": False,
        "take_chosen": False,
        "last_work": None,
        "latest": None,
        "off_book": False,
        "forecast": None,
        "thoughts_asked": None,
        "stands": "not begun",
    }
    run = run_row(7, 5)
    told: Any = SimpleNamespace(chance=0.625)
    row = replace(listed(stand(run, days=1, last=TODAY), kept(sent=True)), forecast=told, seen=2 / 3)
    assert _as_json(row) == bare | {
        "date": "2026-03-22",
        "days_left": 20,
        "brief": "Quay",
        "sent_at": "2026-03-02T18:00:00+00:00",
        "last_work": "2026-03-02",
        "latest": 0.7143,
        "forecast": 0.625,
        "thoughts_asked": 0.667,
        "stands": "run on 1 day",
    }


def test_the_row_for_people_gives_the_range_of_the_latest_accuracy_and_the_forecast() -> None:
    worked = stand(run_row(100, 90, unsure=5), days=1, last=TODAY - timedelta(days=3))
    early: Any = SimpleNamespace(chance=None)
    sure: Any = SimpleNamespace(chance=0.94)
    shown = _for_people(replace(listed(worked, kept()), forecast=sure))
    assert shown == {
        "performer": "Mara",
        "piece": "The lamp",
        "needed": "in 2 d",
        "to_send": "no take",
        "last_work": "3 d ago",
        "latest": "90.0–95.0 %",
        "forecast": "94 %",
        "stands": "run on 1 day",
    }
    assert _for_people(replace(listed(), forecast=early)) == shown | {
        "needed": "in 20 d",
        "to_send": None,
        "last_work": "never",
        "latest": None,
        "forecast": "early",
        "stands": "not begun",
    }
    assert _for_people(listed())["forecast"] is None


@pytest.mark.parametrize(("lines", "rows"), [(10, 8), (17, 8), (18, 9), (40, 31)])
def test_a_list_has_nine_rows_less_than_the_window_and_at_least_eight(
    lines: int, rows: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LINES", str(lines))
    assert rows_on_a_screen() == rows


def test_two_late_briefs_get_a_sentence_each_and_the_others_are_counted(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "400")

    def warned(*rows: ClassRow) -> str:
        _warn_of_late(rows, NOW)
        return " ".join(capsys.readouterr().out.split())

    late = [replace(listed(brief=kept(f"Quay {n}", -72)), late=True) for n in (1, 2, 3, 4)]
    assert warned(listed(), listed(brief=kept()), listed(brief=kept(hours=-72, sent=True))) == ""
    one = warned(late[0], late[0])
    assert one == (
        "Mara: The deadline of Quay 1 passed 3 days ago, and it is not noted as sent. If it was sent, "
        'note it: offbook brief sent "Quay 1". If not, ask them for a new deadline.'
    )
    assert warned(*late[:2]) == f"{one} {one.replace('Quay 1', 'Quay 2')}"
    assert warned(*late[:3]).endswith(" deadline. 1 more brief is late: offbook brief list")
    assert warned(*late).endswith(" deadline. 2 more briefs are late: offbook brief list")


# The coach's day --------------------------------------------------------------------------------------


def test_the_coachs_line_names_the_piece_most_at_risk_and_counts_the_open_briefs_once() -> None:
    first = listed(stand(last=TODAY - timedelta(days=4)), kept("Quay"))
    second = listed(stand(last=TODAY - timedelta(days=2)), kept("Quay"))
    late = listed(brief=kept("Pier", -1))
    sent = listed(brief=kept("Mole", -1, sent=True))
    assert _their_line("Mara", [first, second, sent]) == {
        "performer": "Mara",
        "first": "The lamp: in 2 d",
        "pieces": 3,
        "worked": "2 d ago",
        "to_send": "1",
    }
    assert _their_line("Mara", [late, first])["to_send"] == "2, 1 LATE"
    assert _their_line("Mara", [sent]) == {
        "performer": "Mara",
        "first": "The lamp: in 20 d",
        "pieces": 1,
        "worked": "never",
        "to_send": None,
    }


@pytest.mark.parametrize(("due", "when"), [(None, "no date"), (1, "in 1 d"), (0, "today"), (-1, "passed")])
def test_the_coachs_line_says_when_the_first_piece_is_needed(due: int | None, when: str) -> None:
    assert _their_line("Mara", [listed(due=due)])["first"] == f"The lamp: {when}"
