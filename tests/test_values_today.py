"""The day of one performer: the screen of today, its rows for other programs, and what the page says."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from offbook.brief import Brief
from offbook.cli import today
from offbook.desk import Agenda, BriefKept
from offbook.page import day as on_page
from offbook.plan import Calendar, CalendarDay, PlanStep, Shortfall
from offbook.records import BriefRow, Performer, Piece, Recording, Unit
from offbook.schedule import CAUTION, DayLoad, Task

TODAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
MARA = Performer("mara", "Mara", "UTC", 20.0, 45.0, NOW)


def piece(name: str = "The lamp", due: int | None = 20) -> Piece:
    day = None if due is None else TODAY + timedelta(days=due)
    return Piece(name, "mara", "Mara", "UTC", name, None, None, day, True, NOW)


def brief(name: str, hours: float, *pieces: Piece) -> BriefKept:
    due = NOW + timedelta(hours=hours)
    return BriefKept(BriefRow(name, "mara", name, "", due, NOW, None), Brief(name, due), pieces)


def task(n: int, why: Any, recall: float = 0.5, minutes: float = 1.0, of: str = "The lamp") -> Task:
    return Task(of, Unit(n, n, 0, 3, f"opening {n}"), why, recall, minutes)


def day(n: int, *tasks: Task, steps: tuple[PlanStep, ...] = (), moved: int = 0) -> CalendarDay:
    """The n-th day of the plan."""
    return CalendarDay(TODAY + timedelta(days=n), steps, DayLoad(TODAY + timedelta(days=n), tasks, moved))


def drills(minutes: float) -> PlanStep:
    return PlanStep("learn", "drill", (), (), minutes)


def agenda(*days: CalendarDay, short: tuple[Shortfall, ...] = (), **more: Any) -> Agenda:
    """The agenda of Mara, with one piece if nothing else is said."""
    given: dict[str, Any] = {"pieces": (piece(),), "briefs": (), "done": 0.0, "voice": 0.0} | more
    return Agenda(performer=MARA, day=TODAY, now=NOW, plan=Calendar(days or (day(0),), short), **given)


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def screen(found: Agenda) -> list[str]:
    """The rows of the screen above the caution on the voice."""
    shown = today._screen(found)
    above, there, _ = shown.partition("Speaking tires the voice")
    assert there and " ".join(shown[len(above) :].split()) == CAUTION
    return above.rstrip("\n").split("\n")


# The day a piece is needed ----------------------------------------------------------------------------


def test_a_piece_is_needed_on_its_own_day_or_at_the_nearest_deadline_to_come() -> None:
    lamp, ferry = piece(due=20), piece("The ferry", due=None)
    found = agenda(pieces=(lamp, ferry), briefs=(brief("Quay", 24 * 9, lamp),))
    assert (found.needed_in(lamp), found.needed_in(ferry)) == (9, None)
    assert agenda(briefs=(brief("Quay", 24 * 21, lamp),)).needed_in(lamp) == 20
    assert agenda().needed_in(piece(due=0)) == 0
    assert agenda().needed_in(piece(due=-1)) is None


@pytest.mark.parametrize(
    ("hours", "days"), [(0, 0), (-0.1, None), (5.9, 0), (6, 1), (47, 2), (48, 2), (71, 2), (72, 3)]
)
def test_a_deadline_counts_whole_days_and_for_the_last_two_days_those_of_the_calendar(
    hours: float, days: int | None
) -> None:
    nobody = piece(due=None)
    assert agenda(briefs=(brief("Quay", hours, nobody),)).needed_in(nobody) == days


# The screen -------------------------------------------------------------------------------------------


def test_a_day_with_nothing_due_says_so_with_the_minutes_ahead_and_the_voice_used() -> None:
    ahead = (day(1, steps=(drills(3.4),)), day(2, steps=(drills(3.6),)))
    assert screen(agenda(day(0), *ahead, voice=12.4)) == [
        "Mon 2 Mar · Mara · nothing due",
        "",
        "The lamp (20 days left)",
        "  nothing due: rest, or run it through",
        "",
        "Minutes ahead: Tue 3  Wed 4",
        "12 of 45 minutes of full voice used today.",
    ]


def test_only_the_week_after_today_is_shown_ahead() -> None:
    shown = screen(agenda(*(day(n, steps=(drills(float(n)),)) for n in range(9))))
    assert shown[-2] == "Minutes ahead: Tue 1  Wed 2  Thu 3  Fri 4  Sat 5  Sun 6"


def test_each_thought_of_the_day_is_shown_with_its_number_recall_reason_and_beginning() -> None:
    tasks = (
        task(0, "new", 0.0, 1.2),
        task(1, "late", 0.614, 1.0),
        task(11, "again", 0.9, 0.4),
        task(12, "due", 0.956, 0.4),
    )
    assert screen(agenda(day(0, *tasks)))[:9] == [
        "Mon 2 Mar · Mara · about 3 min of work",
        "",
        "The lamp (20 days left)",
        "    1   new  begin it          opening 0 …",
        "    2  61 %  waiting           opening 1 …",
        "   12        not yet sure      opening 11 …",
        "   13  96 %  due               opening 12 …",
        '       offbook drill "The lamp" --minutes 3',
        "",
    ]
    assert '       offbook drill "The lamp" --minutes 1' in screen(
        agenda(day(0, task(0, "new", minutes=0.2)))
    )


@pytest.mark.parametrize(("done", "told"), [(0.49, ""), (0.5, ", 1 min done"), (2.0, ", 2 min done")])
def test_half_a_minute_of_work_and_more_is_reported_as_done(done: float, told: str) -> None:
    assert screen(agenda(done=done))[0] == f"Mon 2 Mar · Mara · nothing due{told}"


@pytest.mark.parametrize(
    ("due", "left"), [(None, "no date"), (0, "today is the day"), (1, "1 day left"), (2, "2 days left")]
)
def test_a_piece_is_shown_with_the_days_left(due: int | None, left: str) -> None:
    assert screen(agenda(pieces=(piece(due=due),)))[2] == f"The lamp ({left})"


def test_a_piece_without_a_drill_says_why_in_the_terminal_and_on_the_page() -> None:
    later = (day(0), day(1, task(0, "new")))
    seen = (day(0), day(1, task(0, "due")))
    other = (day(0), day(1, task(0, "new", of="The ferry")))
    told = [
        (agenda(done=10.0), "done for today"),
        (agenda(*later, done=10.0), "done for today"),
        (agenda(*later, done=9.9), "today's minutes go to what is needed sooner; this piece begins later"),
        (agenda(*seen), "nothing due: rest, or run it through"),
        (agenda(*other), "nothing due: rest, or run it through"),
        (agenda(day(0, task(0, "new", of="The ferry")), day(1)), "nothing due: rest, or run it through"),
    ]
    for found, why in told:
        assert why in " ".join(today._screen(found).split())
        assert on_page._nothing(found, "The lamp") == f"{why[0].upper()}{why[1:]}."


def test_without_pieces_the_screen_says_how_to_add_one() -> None:
    assert screen(agenda(pieces=()))[1:3] == [
        "",
        "No piece with a day to come. Add one: offbook piece add SCRIPT --date +20",
    ]


def test_thoughts_that_were_moved_on_are_counted() -> None:
    assert "7 more thoughts are due; they are shared out over the days ahead." in screen(
        agenda(day(0, moved=7))
    )


def test_what_is_done_aloud_is_shown_with_its_minutes_and_what_cannot_be_done_below() -> None:
    steps = (
        drills(9.0),
        PlanStep("run", "run The lamp through", ("The lamp",), (), 2.4, 0.3),
        PlanStep("takes", "up to 3 takes", ("The lamp",), ("Quay",), 12.0, 5.6),
        PlanStep("send", "send it", (), ("Quay",), 0.0),
    )
    short = (Shortfall("Quay", "The takes do not fit.", "Give it more minutes."),)
    shown = screen(agenda(day(0, steps=steps), short=short))
    at = shown.index("Besides the drills")
    assert shown[at - 1 : at + 5] == [
        "",
        "Besides the drills",
        "  Run The lamp through (2 min, 1 aloud)",
        "  Up to 3 takes (12 min, 6 aloud)",
        "  Send it",
        "The takes do not fit. Give it more minutes.",
    ]
    assert [on_page._cost(step) for step in steps] == ["9 min", "2 min, 1 aloud", "12 min, 6 aloud", ""]
    assert "Besides the drills" not in screen(agenda(day(0, steps=(drills(9.0),))))


def test_a_recording_that_was_never_judged_is_shown_with_the_command_that_hears_it() -> None:
    kept = [
        Recording(key, "The lamp", NOW, TODAY - timedelta(days=k), "UTC", f"{key}.wav", "", 1)
        for k, key in enumerate(("one", "two"))
    ]
    shown = screen(agenda(waiting=tuple(kept), takes={"two": 4}, folder=Path("/r")))
    at = shown.index("A recording of The lamp (Mon 2 Mar) was never judged to the end:")
    assert shown[at + 1 : at + 5] == [
        '  offbook run "The lamp" "/r/one.wav"',
        "A recording of The lamp (Sun 1 Mar) was never judged to the end:",
        '  offbook take judge "The lamp" 4',
        "Or delete what you do not need: offbook piece forget PIECE --unjudged",
    ]
    assert "Or delete" not in "\n".join(screen(agenda()))


def test_briefs_to_come_are_to_be_sent_and_those_whose_answer_is_overdue_asked_about() -> None:
    briefs = (brief("Quay", 0), brief("Pier", -0.1), brief("Mole", 72))
    late = BriefRow("Jetty", "mara", "Jetty", "", NOW, NOW, NOW)
    shown = screen(agenda(briefs=briefs, unconfirmed=(late,)))
    at = shown.index('To send: Quay, 0 min left. offbook plan "Quay"')
    assert shown[at + 1 : at + 3] == [
        'To send: Mole, 3 days left. offbook plan "Mole"',
        'Ask whether it arrived: Jetty. Then: offbook brief confirmed "Jetty"',
    ]


def test_notes_in_the_margin_are_counted_for_each_piece_that_has_some() -> None:
    pieces = (piece(), piece("The ferry"), piece("The pier"))
    shown = screen(agenda(pieces=pieces, margin={"The lamp": 1, "The ferry": 0, "The pier": 2}))
    told = [row for row in shown if "in the margin" in row]
    assert told == [
        '1 note in the margin of The lamp: offbook margin list "The lamp"',
        '2 notes in the margin of The pier: offbook margin list "The pier"',
    ]


# For other programs -----------------------------------------------------------------------------------


def test_the_json_of_a_day_is_rounded_and_complete() -> None:
    step = PlanStep("run", "run it through", ("The lamp",), (), 2.449, 0.351)
    tasks = (
        task(0, "new", 0.1234, 1.234),
        task(1, "again", 0.1234, 1.236),
        task(2, "due", 0.12356, 0.5),
    )
    found = agenda(
        day(0, *tasks, steps=(step,), moved=2),
        day(1, steps=(drills(3.456),)),
        short=(Shortfall("Quay", "Too short.", "Ask."),),
        done=1.236,
        voice=2.346,
        briefs=(brief("Quay", 24),),
        unconfirmed=(BriefRow("Jetty", "mara", "Jetty", "", NOW, NOW, NOW),),
        margin={"The lamp": 2, "elsewhere": 1},
        waiting=(Recording("k", "The lamp", NOW, TODAY, "UTC", "a/b.wav", "", 1),),
        folder=Path("/r"),
    )
    told = today._as_json(found)
    listed = ((1, "new", None, 1.23), (2, "again", None, 1.24), (3, "due", 0.124, 0.5))
    assert told.pop("caution") == CAUTION
    assert told == {
        "performer": "Mara",
        "day": "2026-03-02",
        "minutes": 2.97,
        "minutes_a_day": 20.0,
        "minutes_done": 1.24,
        "steps": [{"kind": "run", "what": "run it through", "minutes": 2.4, "voice_minutes": 0.4}],
        "short": ["Too short. Ask."],
        "moved": 2,
        "thoughts": [
            {"piece": "The lamp", "thought": n, "opening": f"opening {n - 1}", "why": why}
            | {"recall": recall, "minutes": minutes}
            for n, why, recall, minutes in listed
        ],
        "ahead": [{"day": "2026-03-03", "minutes": 3.46}],
        "voice_minutes": 2.35,
        "voice_cap": 45.0,
        "to_send": [{"brief": "Quay", "deadline": "2026-03-03T18:00:00+00:00"}],
        "unconfirmed": ["Jetty"],
        "margin": {"The lamp": 2},
        "unjudged": ["/r/a/b.wav"],
    }  # fmt: skip


# The page ---------------------------------------------------------------------------------------------


def test_the_page_lists_each_piece_with_its_own_thoughts_of_the_day() -> None:
    quoting = replace(task(2, "due"), unit=Unit(2, 2, 0, 3, "Who “goes” there"))
    tasks = (task(0, "late", minutes=1.5), task(1, "new", of="The ferry"), quoting)
    first, second = on_page._pieces(agenda(day(0, *tasks), pieces=(piece(), piece("The ferry", due=None))))
    assert (first["left"], first["minutes"], second["left"], second["minutes"]) == (20, 2.5, None, 1.0)
    assert first["tasks"] == [
        {"n": 1, "opening": "opening 0", "why": "waiting"},
        {"n": 3, "opening": "Who ‘goes’ there", "why": "due"},
    ]
    assert second["tasks"] == [{"n": 2, "opening": "opening 1", "why": "begin it"}]
