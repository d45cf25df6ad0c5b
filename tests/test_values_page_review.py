"""The review on the page: what is measured and when, two takes side by side, and notes in the margin.

What a recording sounds like is not measured here: the reviews are made by hand.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from offbook import desk as desks
from offbook import journal as journals
from offbook.delivery import CANNOT_KNOW, ShiftStatement, StretchFinding, TakeReview
from offbook.desk import Heard, ReviewedTake, record_run
from offbook.journal import sending
from offbook.notes import notes_on
from offbook.page import PageServer
from offbook.records import RunRow
from tests.journals import LAMP, Desk, desk_at, facts, run_with
from tests.live_ears import CLEAR
from tests.pages import Answer, Visitor, let_in, served


class Drawn(ReviewedTake):
    """A review whose picture is drawn already."""

    @property
    def picture(self) -> str:
        return "<svg>pitch above</svg>"


def shift(before: int, grade: int, at: float, audible: Any) -> ShiftStatement:
    return ShiftStatement(before, grade, at, audible, 0.9, (), None, None, f"told of {before}: {audible}")


FINDING = StretchFinding("flat pitch", 16, 24, 65.4, "within 2 semitones")  # type: ignore[arg-type]
LOUD, SOFT = ("heard", "heard"), ("heard", "not heard")


@dataclass
class Stage:
    """A page with a piece, two run-throughs of it, and a take made of each; measured: what was reviewed."""

    server: PageServer
    visitor: Visitor
    desk: Desk
    rows: list[RunRow]
    measured: list[tuple[RunRow, Any]] = field(default_factory=list)

    def review(self, journal: Any, piece: Any, row: RunRow, pencil: Any) -> ReviewedTake:
        """In the place of measuring: the second run-through has a shift that is not heard."""
        assert piece.id == self.desk.piece.id
        self.measured.append((row, pencil))
        version = self.desk.version
        run = run_with(version.words, {3: ("dropped", None)}, seconds=90.0)
        review = notes_on(version.script, version.words, run, ())
        heard = Heard(version.script, version.words, Path("kept.wav"), row.at, "small", CLEAR, review)
        one, other = LOUD if row.id == self.rows[0].id else SOFT
        shifts = (shift(9, 1, 20.0, "heard"), shift(10, 2, 30.5, one), shift(16, 3, 62.0, other))
        nothing: Any = ()
        look = (shifts[2], FINDING)
        delivery = TakeReview(shifts, (), (FINDING,), look, (), nothing, nothing, nothing, ())
        return Drawn(heard, (), (), delivery)

    def at(self, n: int) -> str:
        return f"/piece/{self.desk.piece.id}/notes/{self.rows[n].id}/review"

    def shown(self, at: str) -> str:
        """A screen, which is measured first where it has not been."""
        answer = self.visitor.ask("GET", at)
        if answer.status == 303:
            self.job(answer)
            answer = self.visitor.ask("GET", at)
        assert answer.status == 200
        return unescape(answer.text)

    def job(self, answer: Answer) -> Any:
        job = self.server.room.turns.job(answer.headers["location"].rpartition("/")[2])
        assert job is not None and job.over.wait(20)
        return job

    def told(self) -> list[str]:
        """The messages that wait for the next screen."""
        return self.server.room.messages.pop(self.visitor.headers["X-Offbook-Token"], [])


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    home = tmp_path_factory.mktemp("home")
    desk = desk_at(home, text=LAMP)
    rows = []
    for n in range(2):
        desk.clock.on(minutes=5)
        run = run_with(desk.version.words, {n: ("dropped", None)})
        rows.append(record_run(desk.journal, desk.piece, desk.version, run, facts(desk.clock)))
    with desk.journal.writing() as conn:
        for n, run_id in enumerate((rows[0].id, rows[1].id, None)):
            take = sending.add_take(
                desk.journal, conn, desk.piece, at=desk.clock.now, intention=f"try {n}", file=f"{n}.wav",
                recording_id=None, brief_id=None,
            )  # fmt: skip
            if run_id is not None:
                sending.judge_take(desk.journal, conn, take.id, run_id, "{}")
    with pytest.MonkeyPatch.context() as patch, served(home, None, desk.clock) as server:
        made = Stage(server, let_in(server), desk, rows)
        patch.setattr(desks, "review_kept", made.review)
        yield made
    desk.journal.close()


@pytest.fixture
def stage(page: Stage) -> Stage:
    """The page, with nothing measured yet."""
    page.server.room.reviewed.clear()
    page.measured.clear()
    for pencil in page.server.room.home.rglob("*.pencil"):
        pencil.unlink()
    return page


@pytest.mark.heavy
def test_an_address_with_a_key_that_nobody_knows_is_answered_in_two_lines(stage: Stage) -> None:
    """Each of these is an address of the page: one that is not says that there is no such page."""
    for method, at in (
        ("GET", "/piece/x/notes/x/review"),
        ("GET", "/piece/x/takes/1-2/beside"),
        ("POST", "/piece/x/margin"),
        ("POST", "/piece/x/margin/1"),
    ):
        told = stage.visitor.ask(method, at, Accept="application/json").refusal
        assert told[:2] == ["400", "there is no such piece"]


@pytest.mark.heavy
def test_a_review_is_measured_once_and_then_shown(stage: Stage) -> None:
    answer = stage.visitor.ask("GET", stage.at(0))
    job = stage.job(answer)
    assert answer.status == 303 and (job.screen, job.doing) == ("review", "Measuring the recording")
    assert (job.owner, job.piece, job.what) == (stage.desk.performer.id, stage.desk.piece.id, "The lamp")
    assert (job.state, job.share, job.result) == ("done", 1.0, stage.rows[0].id)
    sent_on = stage.visitor.ask("GET", f"/hearing/{job.key}")
    assert sent_on.headers["location"] == f"/{stage.visitor.place}{stage.at(0)}"
    shown = " ".join(stage.shown(stage.at(0)).split())
    for said in (
        "The lamp, take 1: 1:30, 1 word lost or changed. Both shifts of thought can be heard.",
        "<strong>try 0</strong>",
        '<span class="lining">1:02</span> The turn before “I carried it, my friends, on both”: told of 16: ',
        '<span class="lining">1:05</span> Flat pitch: “',
        "told of 10: heard",
        "<svg>pitch above</svg>",
        desks.UNITS_EXPLAINED,
        CANNOT_KNOW,
    ):
        assert said in shown, said
    assert "Over longer stretches" not in shown  # its one finding is among the places worth a listen
    assert "<audio" not in shown  # no recording was kept
    assert [row for row, _ in stage.measured] == [stage.rows[0]]


def test_a_review_is_measured_again_after_new_marks_were_written(stage: Stage) -> None:
    stage.shown(stage.at(0))
    there = stage.server.room.opened(stage.desk.piece.id)
    there.pencil.parent.mkdir(parents=True, exist_ok=True)
    there.pencil.write_text("The lamp was lit || before the tide came in.\n")
    stage.shown(stage.at(0))
    stage.shown(stage.at(0))
    (_, before), (_, after) = stage.measured
    assert before.shifts == () and [m.before_word for m in after.shifts] == [4]
    assert len(stage.server.room.reviewed) == 2


def test_the_marks_of_another_draft_are_not_used_for_a_run_through(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = stage.server.room
    there = room.opened(stage.desk.piece.id)
    newer = replace(there, version=replace(there.version, id="newer"))
    monkeypatch.setattr(room, "opened", lambda key: newer)
    stage.shown(stage.at(0))
    assert [pencil for _, pencil in stage.measured] == [None]


@pytest.mark.heavy
def test_two_takes_are_measured_and_their_differences_are_shown_side_by_side(stage: Stage) -> None:
    at = f"/piece/{stage.desk.piece.id}/takes/1-2/beside"
    stage.shown(stage.at(1))
    answer = stage.visitor.ask("GET", at)
    job = stage.job(answer)
    assert (job.screen, job.doing, job.result) == ("beside", "Measuring both recordings", "1-2")
    assert (job.owner, job.piece, job.what) == (stage.desk.performer.id, stage.desk.piece.id, "The lamp")
    assert [row.id for row, _ in stage.measured] == [stage.rows[1].id, stage.rows[0].id]
    assert job.share == 0.5  # of the two, only the first was measured now
    shown = " ".join(stage.shown(at).split())
    rows = re.findall(r"<tr><td>.*?</tr>", shown)
    assert len(rows) == 1 and "I carried it, my friends, on both …" in rows[0]
    assert re.findall(r">(told of[^<]*)<", rows[0]) == ["told of 16: heard", "told of 16: not heard"]
    assert "2 other shifts are told alike in both." in shown
    assert [re.sub("<[^>]*>", "", h) for h in re.findall(r"<h2>(Take.*?)</h2>", shown)] == [
        "Take 1: try 0", "Take 2: try 1",
    ]  # fmt: skip
    assert "The lamp, take 2: 1:30" in shown and desks.UNITS_EXPLAINED in shown
    turned = stage.shown(f"/piece/{stage.desk.piece.id}/takes/2-1/beside")
    assert turned.index("try 1") < turned.index("try 0") and len(stage.measured) == 2


def test_comparing_takes_needs_two_numbers_of_judged_takes(stage: Stage) -> None:
    def asked(numbers: str) -> list[str]:
        at = f"/piece/{stage.desk.piece.id}/takes/{numbers}/beside"
        return stage.visitor.ask("GET", at, Accept="application/json").refusal

    for wrong in ("1", "1-2-3", "1-x", "1234567-1"):
        assert asked(wrong) == ["400", "two takes were not named", "choose them under Takes"]
    assert asked("1-3") == ["400", "take 3 is not judged yet", "judge it under Takes"]
    assert asked("7-1")[0] == "400" and stage.measured == []


def test_a_run_through_that_became_a_take_afterwards_is_shown_as_a_take(stage: Stage) -> None:
    """The review of a take also has the intention of that take."""
    stage.shown(stage.at(0))
    ((key, reviewed),) = stage.server.room.reviewed.items()
    assert (reviewed.take, reviewed.intention) == (None, "")
    stage.server.room.reviewed[key] = replace(reviewed, take=9, intention="another")
    shown = stage.shown(stage.at(0))
    assert "take 1: " in shown and "try 0" in shown and "another" not in shown


def test_a_margin_note_is_shown_beside_its_line_until_it_is_done(stage: Stage) -> None:
    at = f"/piece/{stage.desk.piece.id}/margin"
    stage.told()
    answer = stage.visitor.form(at, line=" 2 ", text="Who is this said to?", author="  Ivo ")
    assert (answer.status, answer.headers["location"]) == (
        303, f"/{stage.visitor.place}/piece/{stage.desk.piece.id}#margin",
    )  # fmt: skip
    assert stage.told() == ["Noted beside line 2."]
    stage.visitor.form(at, line="1", text="Slower.")
    shown = stage.shown(stage.at(0))
    assert "line 2, Ivo: Who is this said to?" in shown and "line 1, coach: Slower." in shown
    stage.told()
    answer = stage.visitor.form(f"{at}/1")
    assert answer.headers["location"].endswith("#margin") and stage.told() == ["Note 1 is ticked off."]
    shown = stage.shown(stage.at(0))
    assert "Who is this said to?" not in shown and "Slower." in shown
    with stage.server.room.journal.reading() as conn:
        note = journals.margin_note_numbered(conn, stage.desk.piece, 1)
    assert note.done_at == stage.desk.clock.now
