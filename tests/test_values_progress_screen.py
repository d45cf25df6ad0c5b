"""The screens of the progress of a piece and of a plan, row by row, and the JSON of both."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.brief import Brief
from offbook.cli import plan as plans
from offbook.cli import progress as screens
from offbook.desk import CONSENT, Agenda, BriefKept, Planned, plans_of
from offbook.desk.planning import Foretold, _needed_on
from offbook.errors import JournalError, OffbookError
from offbook.journal import sending
from offbook.plan import Calendar, CalendarDay, PlanStep, Shortfall
from offbook.progress import Detail, Forecast, Mistake, Standing, StretchHistory
from offbook.progress.history import DayAccuracy, OffBook, SameEachTime, Timing
from offbook.records import BriefRow, Performer, Piece
from offbook.schedule import CAUTION, DayLoad
from tests.journals import desk_at
from tests.test_progress import row as run_row

TODAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
LAMP = Piece("p", "mara", "Mara", "UTC", "The lamp", None, None, TODAY + timedelta(days=20), True, NOW)
RULE = "98 % of the words without a prompt, on two different days"


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def flat(text: str) -> str:
    return " ".join(text.split())


def day(n: int, high: float = 1.0) -> DayAccuracy:
    return DayAccuracy(TODAY - timedelta(days=n), 1, high, high, 0, 60.0, True)


def standing(**more: Any) -> Standing:
    given: dict[str, Any] = {
        "piece": LAMP,
        "today": TODAY,
        "days_left": 20,
        "days": (),
        "off_book": OffBook(None, (), False),
        "runs": (),
        "timing": None,
        "forecast": None,
        "seen": 0.0,
    }
    return Standing(**(given | more))


def line(n: int, *mistakes: Mistake, runs: int = 5) -> StretchHistory:
    return StretchHistory(n, 0, 3, f"text {n}", runs, 0.87654, 0.91239, mistakes, str(n), "line")


def detail(*lines: StretchHistory, same: tuple[SameEachTime, ...] = ()) -> Detail:
    version: Any = SimpleNamespace(n=3)
    return Detail(version, lines, lines, same)


# Progress ---------------------------------------------------------------------------------------------


def test_a_piece_without_a_run_through_says_how_to_record_one() -> None:
    shown = screens._screen(standing(), None, False, False)
    assert flat(shown) == (
        f"The lamp · Mara · Sun 22 Mar, 20 days left Off book: not yet. ({RULE}) "
        "Forecast: none without a date to come. "
        f'No run-through yet: offbook run "The lamp" RECORDING {CAUTION}'
    )


@pytest.mark.parametrize(
    ("left", "told"), [(2, "2 days left"), (1, "1 day left"), (0, "0 days left"), (-1, "past"), (None, None)]
)
def test_the_heading_has_the_date_the_days_left_and_the_draft(left: int | None, told: str | None) -> None:
    piece = LAMP if left is not None else replace(LAMP, due_day=None)
    heading = screens._heading(standing(days_left=left, piece=piece), detail())
    middle = "" if told is None else f"Sun 22 Mar, {told} · "
    assert heading == f"The lamp · Mara · {middle}draft 3"


def test_off_book_is_told_since_its_day_or_with_what_is_missing() -> None:
    clean = (TODAY - timedelta(days=3), TODAY)
    told = [
        OffBook(TODAY, clean, True),
        OffBook(TODAY, clean, False),
        OffBook(None, clean[:1], True),
        OffBook(None, (), False),
    ]
    assert [flat(screens._off_book(standing(off_book=each))) for each in told] == [
        "Off book since Mon 2 Mar.",
        "Off book since Mon 2 Mar; the newest run-through fell below it.",
        f"Off book: not yet. One clean day (Fri 27 Feb); it takes two. ({RULE})",
        f"Off book: not yet. ({RULE})",
    ]


def test_the_forecast_is_told_with_its_range_and_reason_or_why_it_is_too_early() -> None:
    found = Forecast(0.614, 0.405, 0.801, "three thoughts are not safe", (), 0.97, 0.951, 0.989)
    assert flat(screens._forecast(standing(forecast=found))) == (
        "Forecast: 61 % to say 98 % of the words on the day. Eight times in ten the true chance lies between "
        "40 % to 80 %, and the words said on the day between 95.1–98.9 %. three thoughts are not safe."
    )
    assert screens._forecast(standing(forecast=replace(found, chance=None))) == (
        "Forecast: three thoughts are not safe."
    )


def test_the_time_is_the_median_with_its_range_and_how_often_it_was_over_the_limit() -> None:
    timing = Timing(4, 62.4, 58.0, 71.0, 121.5, None, 0)
    assert screens._time(standing(timing=timing)) == "Time: 1:02 (0:58 to 1:11).\nPace: 122 words a minute."
    assert screens._time(standing(timing=replace(timing, limit=60.0, over=3))) == (
        "Time: 1:02 (0:58 to 1:11), limit 1:00: over it in 3 of the last 4.\nPace: 122 words a minute."
    )
    assert screens._time(standing()) == "Time: no whole run-through yet."


def test_fourteen_days_are_drawn_and_earlier_ones_counted() -> None:
    def shown(count: int) -> str:
        days = tuple(day(count - n) for n in range(count))
        return screens._screen(standing(days=days), None, False, False)

    assert "earlier day" not in shown(14) and shown(14).count("100.0 %") == 14
    assert "1 earlier day: --csv or --svg shows them all." in shown(15)
    assert "2 earlier days: --csv or --svg shows them all." in shown(16)
    assert shown(15).count("100.0 %") == 14
    assert "A bar begins at " in shown(1) and "| is at 98 %." in shown(1)
    assert "No line has gone wrong twice lately." in shown(1)


def test_lines_that_go_wrong_are_shown_with_their_four_most_frequent_mistakes() -> None:
    mistakes = (
        Mistake(0, "The", "dropped", None, 3),
        Mistake(1, "lamp", "dropped", None, 3),
        Mistake(2, "was", "changed", "is", 4),
        Mistake(3, "lit", "changed", None, 3),
        Mistake(5, "so", "dropped", None, 2),
        Mistake(7, "it", "dropped", None, 2),
        Mistake(9, "x", "dropped", None, 1),
    )
    shown = screens._screen(standing(days=(day(0),)), detail(line(2, *mistakes)), False, False)
    at = shown.index("Lines that go wrong again and again")
    assert shown[at:].split("\n")[1:7] == [
        "  line 2: text 2",
        "      “was” became “is”: 4 of the last 5",
        "      “The lamp” dropped: 3 of the last 5",
        "      “lit” changed: 3 of the last 5",
        "      “so” dropped: 2 of the last 5",
        "",
    ]


def test_words_dropped_side_by_side_are_one_stretch_only_if_they_are_equally_frequent() -> None:
    def told(*mistakes: Mistake) -> list[str]:
        return [f"{m.text} {m.times}" for m in screens._in_rows(mistakes)]

    one, two = Mistake(1, "a", "dropped", None, 3), Mistake(2, "b", "dropped", None, 3)
    assert told(two, one) == ["a b 3"]
    assert told(one, replace(two, times=2)) == ["a 3", "b 2"]
    assert told(one, replace(two, word=3)) == ["a 3", "b 3"]
    assert told(one, replace(two, how="changed")) == ["a 3", "b 3"]
    assert told(replace(one, how="changed"), two) == ["b 3", "a 3"]
    assert told(one, two, Mistake(3, "c", "dropped", None, 3)) == ["a b c 3"]
    assert told(Mistake(0, "z", "dropped", None, 3)) == ["z 3"]


def test_a_word_heard_the_same_other_way_each_time_is_asked_about() -> None:
    same = (SameEachTime(3, "lit", "light", 4),)
    shown = flat(screens._screen(standing(days=(day(0),)), detail(same=same), False, False))
    assert (
        "“lit” was heard as “light” 4 times in a row. Did you say it? Then it is not a mistake: "
        'offbook correct "The lamp" 4 --always' in shown
    )


def test_every_line_and_every_thought_are_shown_on_request() -> None:
    def headings(lines: bool, thoughts: bool) -> list[bool]:
        shown = screens._screen(standing(days=(day(0),)), detail(line(1)), lines, thoughts)
        return ["\nEvery line\n" in shown, "\nEvery thought\n" in shown]

    assert headings(False, False) == [False, False]
    assert headings(True, False) == [True, False] and headings(False, True) == [False, True]


def test_the_json_of_progress_is_rounded_and_null_for_what_is_not_known() -> None:
    bare = screens._as_json(standing(days_left=None), None)
    assert bare == {
        "piece": "The lamp",
        "performer": "Mara",
        "today": "2026-03-02",
        "days_left": None,
        "off_book": False,
        "off_book_since": None,
        "clean_days": [],
        "days": [],
        "lines": [],
        "thoughts": [],
        "same_each_time": [],
        "time": None,
        "forecast": None,
    }
    full = screens._as_json(
        standing(
            days=(DayAccuracy(TODAY, 2, 0.98765, 0.91239, 3, 60.0, False),),
            off_book=OffBook(TODAY, (TODAY,), True),
            timing=Timing(4, 62.4, 58.0, 71.0, 121.46, 60.0, 3),
            forecast=Forecast(0.61449, 0.40449, 0.80051, "why", (), 0.970049, 0.951249, 0.989051),
        ),
        detail(
            line(1, Mistake(2, "was", "changed", "is", 4)),
            line(2, runs=0),
            same=(SameEachTime(3, "lit", "light", 4),),
        ),
    )
    assert full["days"] == [
        {"day": "2026-03-02", "runs": 2, "accuracy": 0.9877, "accuracy_low": 0.9124, "prompts": 3}
    ]
    assert (full["off_book"], full["off_book_since"], full["clean_days"]) == (
        True,
        "2026-03-02",
        ["2026-03-02"],
    )
    assert (
        full["lines"]
        == full["thoughts"]
        == [
            {
                "n": 1,
                "words": [0, 3],
                "text": "text 1",
                "runs": 5,
                "accuracy": 0.8765,
                "latest": 0.9124,
                "going": [{"word": 2, "text": "was", "how": "changed", "heard": "is", "times": 4}],
            },
            {
                "n": 2,
                "words": [0, 3],
                "text": "text 2",
                "runs": 0,
                "accuracy": None,
                "latest": None,
                "going": [],
            },
        ]
    )
    assert full["same_each_time"] == [{"word": 3, "text": "lit", "heard": "light", "times": 4}]
    assert full["time"] == {
        "seconds": 62.4,
        "shortest": 58.0,
        "longest": 71.0,
        "limit": 60.0,
        "over": 3,
        "runs": 4,
        "rate_wpm": 121.5,
    }
    assert full["forecast"] == {
        "chance": 0.614,
        "low": 0.404,
        "high": 0.801,
        "reason": "why",
        "expected_accuracy": 0.97,
        "accuracy_low": 0.9512,
        "accuracy_high": 0.9891,
    }


def test_the_csv_has_the_days_or_the_lines_or_the_thoughts(capsys: pytest.CaptureFixture[str]) -> None:
    stand = standing(days=(DayAccuracy(TODAY, 2, 0.98765, 0.91239, 3, 60.126, False),))
    seen = detail(line(1, Mistake(2, "was", "changed", "is", 4)), line(2, runs=0))
    screens._csv(stand, seen, False, False)
    assert capsys.readouterr().out == (
        "day,runs,accuracy,accuracy_low,prompts,seconds\n2026-03-02,2,0.9877,0.9124,3,60.13\n"
    )
    for lines, thoughts in ((True, False), (False, True)):
        screens._csv(stand, seen, lines, thoughts)
        assert capsys.readouterr().out == (
            "n,text,runs,accuracy,latest,going\n"
            "1,text 1,5,0.8765,0.9124,“was” became “is”: 4 of the last 5\n2,text 2,0,,,\n"
        )
    screens._csv(standing(), None, True, False)
    assert capsys.readouterr().out == "day,runs,accuracy,accuracy_low,prompts,seconds\n"


def test_both_charts_are_written_side_by_side(tmp_path: Path) -> None:
    screens._write_svg(tmp_path / "a.svg", standing(days=(day(0),)), detail(line(1)))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a-lines.svg", "a.svg"]
    screens._write_svg(tmp_path / "b.svg", standing(days=(day(0),)), None)
    assert not (tmp_path / "b-lines.svg").exists() and (tmp_path / "b.svg").exists()


def test_a_run_through_is_listed_with_its_key_time_and_range(capsys: pytest.CaptureFixture[str]) -> None:
    run = replace(run_row(100, 90, unsure=5, prompts=2, seconds=62.4), id="0123456789abcdef")
    screens._list_runs([screens._run_row(run)], False, False)
    assert capsys.readouterr().out.splitlines() == [
        "Run-through  When                    Words said   Prompts  Time  Words/min",
        "01234567     2026-03-02 (18:00 UTC)  90.0–95.0 %  2        1:02  91.3",
    ]
    screens._list_runs([], False, False)
    assert capsys.readouterr().out == "No run-throughs yet.\n"
    told = screens._run_row(run)
    assert (told["accuracy"], told["accuracy_low"], told["rate_wpm"]) == (0.95, 0.9, 91.3)


# Plans ------------------------------------------------------------------------------------------------

MARA = Performer("mara", "Mara", "Asia/Tokyo", 20.0, 45.0, NOW)
QUAY = BriefKept(
    BriefRow("q", "mara", "Quay", "", NOW + timedelta(days=3), NOW, None),
    Brief("Quay", NOW + timedelta(days=3)),
    (LAMP,),
)


def step(
    kind: Any,
    what: str,
    pieces: tuple[str, ...] = (),
    briefs: tuple[str, ...] = (),
    minutes: float = 2.4,
    voice: float = 0.0,
) -> PlanStep:
    return PlanStep(kind, what, pieces, briefs, minutes, voice)


DAYS = (
    (step("learn", "drill The lamp", ("The lamp",)), step("learn", "drill The ferry", ("The ferry",))),
    (
        step("run", "run The lamp through", ("The lamp",), (), 2.4, 0.3),
        step("send", "send it", (), ("Pier",), 0.0),
    ),
    (
        step("takes", "takes", ("The lamp",), ("Quay", "Pier"), 12.0, 5.6),
        step("send", "send Quay", (), ("Quay",), 0.0),
    ),
    (step("learn", "drill The lamp", ("The lamp",)), step("day", "the day", ("The lamp",))),
)


def planned(only: BriefKept | None = None, **more: Any) -> Planned:
    days = tuple(
        CalendarDay(TODAY + timedelta(days=n), steps, DayLoad(TODAY + timedelta(days=n), (), 0))
        for n, steps in enumerate(more.pop("days", DAYS))
    )
    short = (
        Shortfall("Quay", "Too short.", "Ask."),
        Shortfall("The lamp", "Too long.", "Cut."),
        Shortfall("x", "y", "z"),
    )
    made = Agenda(
        MARA,
        TODAY,
        NOW,
        (LAMP,),
        (QUAY,),
        Calendar(days, short, {"Quay": TODAY + timedelta(days=2)}),
        0.0,
        0.0,
    )
    return Planned(made, only, more.pop("briefs", (QUAY,)), more.pop("forecasts", ()))


def test_the_plan_for_one_brief_has_its_steps_and_the_drills_of_its_pieces_until_it_is_sent() -> None:
    everything, only = planned(), planned(QUAY)
    days = everything.agenda.plan.days
    assert [everything.steps_of(d) for d in days] == list(DAYS)
    assert [[s.what for s in only.steps_of(d)] for d in days] == [
        ["drill The lamp"],
        ["run The lamp through"],
        ["takes", "send Quay"],
        [],
    ]
    assert [s.about for s in everything.short] == ["Quay", "The lamp", "x"]
    assert [s.about for s in only.short] == ["Quay", "The lamp"]
    never = planned(QUAY, days=(*DAYS[:2], DAYS[3]))
    assert [[s.what for s in never.steps_of(d)] for d in never.agenda.plan.days] == [
        ["drill The lamp"],
        ["run The lamp through"],
        ["drill The lamp", "the day"],
    ]


def test_a_piece_is_needed_on_the_day_of_its_first_takes_or_on_its_own_day() -> None:
    assert _needed_on(planned().agenda, LAMP) == date(2026, 3, 4)
    assert _needed_on(planned(days=(*DAYS[:2], DAYS[3])).agenda, LAMP) == date(2026, 3, 4)
    assert _needed_on(planned(days=DAYS[:2]).agenda, LAMP) is None


def test_the_screen_of_a_plan_has_the_briefs_then_each_step_under_its_day() -> None:
    chance: Any = SimpleNamespace(chance=0.614)
    foretold = (
        Foretold("The lamp", date(2026, 3, 4), chance),
        Foretold("The ferry", date(2026, 3, 5), None),
    )
    shown = plans._screen(planned(forecasts=foretold)).split("\n")
    assert shown == [
        "Mara · 20 minutes of practice a day, at most 45 at full voice",
        "Quay · by Fri 6 Mar, 03:00 · 3 days left",
        "",
        "     today  Drill The lamp (2 min)",
        "            Drill The ferry (2 min)",
        " Tue 3 Mar  Run The lamp through (2 min, 1 aloud)",
        "            Send it",
        " Wed 4 Mar  Takes (12 min, 6 aloud)",
        "            Send Quay",
        " Thu 5 Mar  Drill The lamp (2 min)",
        "            The day (2 min)",
        "",
        "Off book on the day it is needed: The lamp 61 % (Wed 4 Mar), The ferry too",
        "early to say (Thu 5 Mar).",
        "Too short. Ask.",
        "Too long. Cut.",
        "y z",
    ]
    nothing = "Nothing to plan for: add a piece with a date, or a brief that names one."
    assert nothing in plans._screen(planned(days=((),), briefs=()))
    assert nothing not in "\n".join(shown)


def test_the_rows_and_the_json_of_a_plan_are_rounded() -> None:
    found = planned(days=((step("run", "run", ("The lamp", "b"), ("Quay", "Pier"), 2.449, 0.351),),))
    assert plans._rows(found) == [
        {
            "day": TODAY,
            "kind": "run",
            "what": "run",
            "pieces": "The lamp; b",
            "briefs": "Quay; Pier",
            "minutes": 2.4,
            "voice_minutes": 0.4,
        }
    ]
    told = plans._as_json(found)
    assert told["steps"] == [
        {
            "day": "2026-03-02",
            "kind": "run",
            "what": "run",
            "pieces": ["The lamp", "b"],
            "briefs": ["Quay", "Pier"],
            "minutes": 2.4,
            "voice_minutes": 0.4,
        }
    ]
    assert told["briefs"] == [
        {"brief": "Quay", "deadline": "2026-03-05T18:00:00+00:00", "takes_on": "2026-03-04"}
    ]
    del told["steps"], told["briefs"]
    assert told == {
        "performer": "Mara",
        "today": "2026-03-02",
        "short": ["Too short. Ask.", "Too long. Cut.", "y z"],
        "forecast": [],
        "minutes_a_day": 20.0,
        "voice_cap": 45.0,
        "cautions": [CAUTION, CONSENT],
    }
    bare = plans._as_json(planned(days=((step("learn", "x"),),)))["steps"][0]
    assert (bare["pieces"], bare["briefs"]) == ([], [])


def test_a_calendar_file_holds_one_performers_plan(tmp_path: Path) -> None:
    for made in ([], [planned(), planned()]):
        with pytest.raises(OffbookError) as caught:
            plans._write_ics(tmp_path / "a.ics", made)
        assert caught.value.what == "a calendar file holds one performer's plan"
        assert caught.value.do == "name the performer with --performer NAME"
    plans._write_ics(tmp_path / "a.ics", [planned()])
    assert (tmp_path / "a.ics").read_bytes().count(b"BEGIN:VEVENT") > 0


def test_a_brief_that_cannot_be_planned_for_is_refused(tmp_path: Path) -> None:
    desk = desk_at(tmp_path)

    def keep(name: str, hours: float, *lines: str) -> Any:
        due = NOW + timedelta(hours=hours)
        text = "\n".join([f'name = "{name}"', f"deadline = {due:%Y-%m-%dT%H:%M:%SZ}", *lines])
        return sending.keep_brief(desk.journal, conn, desk.performer, name, text, due)[0]

    def refused(name: str) -> tuple[str, str]:
        with pytest.raises(JournalError) as caught:
            plans_of(conn, [desk.performer], NOW, name)
        return caught.value.what, caught.value.do

    with desk.journal.writing() as conn:
        sent = keep("Sent", 24, 'pieces = ["The lamp"]')
        sending.mark_sent(desk.journal, conn, sent.id, NOW)
        keep("Late", -1, 'pieces = ["The lamp"]')
        keep("Lost", 24, 'pieces = ["The lamp", "The ferry", "The pier"]')
        keep("Bare", 24)
        keep("Just", 0, 'pieces = ["The lamp"]')
        assert refused("Sent") == ("Sent was sent", "if it was not: offbook brief sent NAME --undo")
        assert refused("Late") == (
            "the deadline of Late is over: 2026-03-02 17:00",
            "ask for a new deadline, and add the brief again with it",
        )
        assert refused("Lost") == (
            "2 of the pieces of Lost are not in the journal",
            "correct the names in the brief",
        )
        assert refused("Bare") == (
            "Bare names no piece to plan for",
            'add a line such as pieces = ["the_lamp"] to it',
        )
        (made,) = plans_of(conn, [desk.performer], NOW, "Just")
        assert [b.row.name for b in made.briefs] == ["Just"] and made.only is not None
    desk.journal.close()
