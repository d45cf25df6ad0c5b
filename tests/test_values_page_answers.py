"""What the page answers and keeps: drills said aloud, takes, files to save, and what its notes say."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from html import unescape
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import quote

import pytest

from offbook import desk as desks
from offbook import journal as journals
from offbook.drill import Exercise, Sitting
from offbook.errors import JournalError, OffbookError
from offbook.journal import keep_recording, practice, sending
from offbook.notes import Note
from offbook.page import PageServer
from offbook.page.forms import FieldError
from offbook.page.opened import open_piece
from offbook.page.pieces import days_left
from offbook.page.room import Import, Room
from offbook.page.run_notes import _facts, _headline, _span, _times, _why
from offbook.page.sitting import _ask_next, _judge_spoken
from offbook.page.turns import KEPT, Job, Turns
from offbook.records import TakeRow
from tests.journals import LAMP, Desk, desk_at, script_of
from tests.live_ears import CLEAR, RATE, Loaded, Speaking
from tests.pages import Answer, Visitor, let_in, served
from tests.test_progress import row as run_row

BRIEF = """name = "Quay: round 1!"
deadline = 2026-03-11T18:00:00Z
pieces = ["The lamp"]
file_name = "{piece}"
"""


@dataclass
class Stage:
    """A page with one piece, a brief that asks for it, and two takes; one of them is chosen."""

    server: PageServer
    visitor: Visitor
    desk: Desk
    speaker: Speaking
    takes: list[TakeRow]
    brief: str
    sound: bytes
    asked: list[Exercise]

    @property
    def room(self) -> Room:
        return self.server.room

    @property
    def at(self) -> str:
        return f"/piece/{self.desk.piece.id}"

    def told(self) -> list[str]:
        """The messages that wait for the next screen."""
        return self.room.messages.pop(self.visitor.headers["X-Offbook-Token"], [])

    def refused(self, method: str, at: str, body: bytes = b"", **headers: str) -> list[str]:
        return self.visitor.ask(method, at, body, Accept="application/json", **headers).refusal

    def refused_form(self, at: str, **fields: str) -> list[str]:
        body = "&".join(f"{k}={quote(v)}" for k, v in fields.items()).encode()
        form = "application/x-www-form-urlencoded"
        return self.refused("POST", at, body, Content_Type=form)

    def words_asked(self) -> list[str]:
        """The words that the last question asked for."""
        words, last = self.room.opened(self.desk.piece.id).version.words, self.asked[-1]
        return [w.spoken[0][0] for w in words[last.first : last.last + 1]]

    def sitting(self) -> str:
        """The address of a new sitting, whose first thought was looked at."""
        self.desk.clock.on(seconds=1)
        begun = self.visitor.form(f"{self.at}/drill", minutes="10", kind="thought")
        at = begun.headers["location"].partition(self.visitor.place)[2]
        self.visitor.form(at, do="read")
        return at

    def shown(self, at: str) -> str:
        answer = self.visitor.ask("GET", at)
        assert answer.status == 200, answer.text
        return " ".join(unescape(answer.text).split())


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    home = tmp_path_factory.mktemp("home")
    desk = desk_at(home, text=LAMP)
    sound = bytes(range(256)) * 20
    source = home / "one.wav"
    source.write_bytes(sound)
    kept = keep_recording(desk.journal, desk.piece, source)
    made = []
    with desk.journal.writing() as conn:
        deadline = desk.clock.now + timedelta(days=9)
        asked, _ = sending.keep_brief(desk.journal, conn, desk.performer, "Quay: round 1!", BRIEF, deadline)
        for intention in ("make her stay", "let her go"):
            made.append(
                sending.add_take(
                    desk.journal, conn, desk.piece, at=desk.clock.now, intention=intention, file=str(source),
                    recording_id=kept.id, brief_id=None,
                )
            )  # fmt: skip
    speaker = Speaking()
    loading: Any = Loaded(speaker)

    def pcm(path: Path, **more: Any) -> Iterator[bytes]:
        yield path.read_bytes()[44:]

    asked_for: list[Exercise] = []
    usual = Sitting.ask

    def ask(sitting: Sitting) -> Exercise | None:
        found = usual(sitting)
        if found is not None:
            asked_for.append(found)
        return found

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Sitting, "ask", ask)
        patch.setattr("offbook.audio.pcm", pcm)
        patch.setattr(
            "offbook.audio.survey", lambda path: replace(CLEAR, seconds=(path.stat().st_size - 44) / 32_000)
        )
        with served(home, loading, desk.clock) as server:
            yield Stage(server, let_in(server), desk, speaker, made, asked.id, sound, asked_for)
    desk.journal.close()


# Drills said aloud ------------------------------------------------------------------------------------


def say(stage: Stage, at: str, sound: bytes, rate: str = str(RATE)) -> Answer:
    return stage.visitor.ask("POST", f"{at}/spoken", sound, X_Rate=rate, Accept="application/json")


@pytest.mark.heavy
def test_an_answer_said_aloud_is_heard_judged_and_kept_with_its_times(stage: Stage) -> None:
    at = stage.sitting()
    wanted = stage.words_asked()
    first = stage.speaker.say(f"/ {' '.join(wanted)} /")
    assert json.loads(say(stage, at, first + b"\0").text) == {"heard": True}
    assert " ".join(wanted) in stage.shown(at)
    with stage.room.journal.reading() as conn:
        answer = journals.answers(conn, stage.desk.piece.id)[-1]
    assert (answer.given, answer.right, answer.words) == (" ".join(wanted), len(wanted), len(wanted))
    assert answer.spoken
    assert (answer.pick_up, round(answer.seconds, 3)) == (1.0, round(len(first) / 32_000, 3))


@pytest.mark.heavy
def test_saying_nothing_counts_as_not_knowing_the_words(stage: Stage) -> None:
    at = stage.sitting()
    say(stage, at, bytes(32_000))
    assert "nothing" in stage.shown(at)
    with stage.room.journal.reading() as conn:
        answer = journals.answers(conn, stage.desk.piece.id)[-1]
    assert (answer.given, answer.right, answer.spoken) == (None, 0, True)
    assert (answer.pick_up, answer.rating) == (None, 1)


def test_an_answer_said_aloud_needs_a_rate_that_a_microphone_has_and_a_question(stage: Stage) -> None:
    at = stage.sitting()
    for rate in ("", "fast", "7999", "192001"):
        told = say(stage, at, bytes(3200), rate).refusal
        assert told == ["400", "the microphone did not say its sampling rate", "load the page again"]
    for rate in ("8000", "192000"):
        assert say(stage, at, bytes(100), rate).status == 200
        stage.visitor.form(at, do="read")
    assert say(stage, f"{stage.at}/drill/none", b"").refusal[1:] == [
        "this sitting is over", "begin another: every answer is kept"
    ]  # fmt: skip


def test_nothing_can_be_said_while_a_new_thought_is_looked_at_or_after_the_last(stage: Stage) -> None:
    for exercise, looking in ((None, False), ("a thought", True)):
        found: Any = SimpleNamespace(exercise=exercise, looking=looking, there=None)
        with pytest.raises(FieldError, match="nothing is being asked"):
            _judge_spoken(stage.room, found, bytes(100), RATE)


def test_a_sitting_that_has_nothing_more_to_ask_is_noted_as_ended(stage: Stage) -> None:
    with stage.room.journal.writing() as conn:
        session = practice.start_session(stage.room.journal, conn, stage.desk.piece, 10.0)
    found: Any = SimpleNamespace(sitting=SimpleNamespace(ask=lambda: None), session=session, prompts=["it"])
    _ask_next(stage.room, found)
    assert (found.exercise, found.prompts) == (None, [])
    with stage.room.journal.reading() as conn:
        ended = {s.id: s.ended_at for s in practice.sessions(conn, stage.desk.piece.id)}
    assert ended[session.id] == stage.desk.clock.now


def test_of_many_open_sittings_only_the_newest_are_kept(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("offbook.page.sitting.MOST", 2)
    at = [stage.sitting() for _ in range(3)]
    assert [stage.visitor.ask("GET", each).status for each in at] == [400, 200, 200]


# Takes and files to save ------------------------------------------------------------------------------


@pytest.mark.heavy
def test_the_chosen_takes_are_saved_as_one_zip_once_all_are_chosen(stage: Stage) -> None:
    pack = f"/brief/{stage.brief}/pack"
    assert stage.refused("POST", pack) == [
        "400", "no take is chosen of The lamp, so there is nothing to save yet",
        "choose one under Takes of the piece",
    ]  # fmt: skip
    assert stage.refused("POST", f"/brief/{stage.brief}/sent")[1] == (
        "no take is chosen of The lamp, so it was not noted as sent"
    )
    assert stage.visitor.form(f"{stage.at}/takes/2", do="choose").status == 303
    assert stage.told() == ["Take 2 is chosen."]
    saved = stage.visitor.ask("POST", pack)
    assert saved.headers["content-type"] == "application/zip"
    assert saved.headers["content-disposition"] == 'attachment; filename="Quay-round-1.zip"'
    assert saved.headers["content-length"] == str(len(saved.body))
    with zipfile.ZipFile(io.BytesIO(saved.body)) as whole:
        assert whole.namelist() == ["SHA256SUMS.txt", "The_lamp.wav", "checklist.html"]
        assert whole.read("The_lamp.wav") == stage.sound
        digest = hashlib.sha256(stage.sound).hexdigest()
        assert whole.read("SHA256SUMS.txt").decode() == f"{digest}  The_lamp.wav\n"
    brief = f"/brief/{stage.brief}"
    assert "Packed 2026-03-02 in a file that the browser saved, not sent yet." in stage.shown(brief)
    stage.visitor.form(f"{brief}/sent", where="  the  box ")
    assert stage.told() == ["Noted as sent. offbook itself sends nothing."]
    assert "Sent 2026-03-02 to the box; not confirmed yet, ask after 2026-03-05." in stage.shown(brief)
    stage.visitor.form(f"{brief}/confirmed", words="thanks")
    assert stage.told() == ["Noted: it has arrived."]
    assert "Sent 2026-03-02 to the box; confirmed 2026-03-02: thanks." in stage.shown(brief)
    stage.visitor.form(f"{brief}/sent", undo="1")
    assert stage.told() == ["Open again."]


def test_a_take_on_the_page_needs_an_intention_and_a_recording(stage: Stage) -> None:
    at = f"{stage.at}/takes"
    assert stage.refused_form(at, intention="  ") == [
        "400", "a take needs its intention", "write what it tries: what you want, and from whom"
    ]  # fmt: skip
    assert stage.refused_form(at, intention="make her stay") == [
        "400", "no recording was chosen", "choose the file to be sent"
    ]  # fmt: skip


def form_with_file(intention: str, sound: bytes) -> tuple[bytes, str]:
    """A form with a recording in it, as a browser sends it, and its kind."""
    parts = [
        b'--x\r\nContent-Disposition: form-data; name="intention"\r\n\r\n' + intention.encode() + b"\r\n",
        b'--x\r\nContent-Disposition: form-data; name="recording"; filename="my take.WAV"\r\n'
        b"Content-Type: audio/wav\r\n\r\n" + sound + b"\r\n--x--\r\n",
    ]
    return b"".join(parts), "multipart/form-data; boundary=x"


def test_a_take_sent_as_a_form_is_logged_judged_and_can_be_deleted(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    judged: list[tuple[int, bytes]] = []

    def judge(journal: Any, logged: Any, loading: Any, progress: Any) -> Any:
        judged.append((logged.take.n, logged.path.read_bytes()))
        return SimpleNamespace(run="the run")

    monkeypatch.setattr(desks, "judge_logged", judge)
    monkeypatch.setattr("offbook.audio.probe", lambda path: None)
    body, kind = form_with_file("make  her\nstay" + "!" * 300, b"a take")
    sent = stage.visitor.ask("POST", f"{stage.at}/takes", body, Content_Type=kind)
    job = stage.room.turns.job(sent.headers["location"].rpartition("/")[2])
    assert job is not None and job.over.wait(20) and job.result == "the run"
    with stage.room.journal.reading() as conn:
        take = journals.takes(conn, stage.desk.piece.id)[-1]
    assert judged == [(take.n, b"a take")]
    assert take.intention == "make her stay" + "!" * 287, "of 300 characters"
    assert not list((stage.room.home / "coming-in").iterdir())
    again = stage.visitor.form(f"{stage.at}/takes/{take.n}", do="judge")
    job = stage.room.turns.job(again.headers["location"].rpartition("/")[2])
    assert job is not None and job.over.wait(20) and len(judged) == 2
    stage.visitor.form(f"{stage.at}/takes/{take.n}", do="delete")
    assert stage.told() == [f"Take {take.n} is out of the log; its recording stays."]
    stage.visitor.form(f"{stage.at}/takes/1", do="nothing")
    assert stage.told() == []


# Recordings, calendars and archives -------------------------------------------------------------------


def test_a_kept_recording_is_played_from_any_place_and_a_deleted_one_is_refused(stage: Stage) -> None:
    key = stage.takes[0].recording_id
    whole = stage.visitor.ask("GET", f"/recording/{key}")
    assert (whole.status, whole.body) == (200, stage.sound)
    assert whole.headers["cache-control"] == "private, max-age=3600"
    part = stage.visitor.ask("GET", f"/recording/{key}", Range="bytes=10-19")
    assert (part.status, part.body) == (206, stage.sound[10:20])
    gone = ["400", "this recording is no longer kept", "its notes stay"]
    assert stage.refused("GET", "/recording/unknown") == gone
    with stage.room.journal.reading() as conn:
        (kept, *_) = journals.recordings(conn, stage.desk.piece.id)
    path = stage.room.journal.recordings / kept.path
    path.rename(path.with_suffix(".away"))
    assert stage.refused("GET", f"/recording/{kept.id}") == gone
    path.with_suffix(".away").rename(path)


def test_the_calendar_of_a_performer_is_saved_as_a_file(stage: Stage) -> None:
    saved = stage.visitor.ask("GET", f"/calendar/{stage.desk.performer.id}.ics")
    assert saved.headers["content-type"].startswith("text/calendar")
    assert saved.headers["content-disposition"] == 'attachment; filename="offbook.ics"'
    assert saved.text.startswith("BEGIN:VCALENDAR") and "Quay: round 1!" in saved.text
    assert stage.refused("GET", "/calendar/x.ics") == [
        "400", "there is no such performer", "go back to the calendar"
    ]  # fmt: skip


def test_the_archive_of_today_is_saved_and_read_back_without_a_difference(stage: Stage) -> None:
    saved = stage.visitor.ask("POST", "/keep-safe/export")
    assert saved.headers["content-disposition"] == "attachment; filename=offbook-2026-03-02.zip"
    with zipfile.ZipFile(io.BytesIO(saved.body)) as whole:
        assert whole.testzip() is None
    body = (
        b'--x\r\nContent-Disposition: form-data; name="archive"; filename="a.zip"\r\n'
        b"Content-Type: application/zip\r\n\r\n" + saved.body + b"\r\n--x--\r\n"
    )
    done = stage.visitor.ask(
        "POST", "/keep-safe/import", body, Content_Type="multipart/form-data; boundary=x"
    )
    assert done.status == 303 and done.headers["location"].endswith(f"{stage.visitor.place}/")
    assert stage.told() == ["Imported: nothing that was not already here."]
    assert stage.refused("POST", "/keep-safe/import") == [
        "400", "no archive was chosen", "choose the file that offbook exported"
    ]  # fmt: skip


# Adding a script --------------------------------------------------------------------------------------


def test_a_script_that_cannot_be_read_is_refused_by_the_name_the_person_knows(stage: Stage) -> None:
    body = (
        b'--x\r\nContent-Disposition: form-data; name="file"; filename="my play.txt"\r\n'
        b"Content-Type: application/octet-stream\r\n\r\n  \r\n--x--\r\n"
    )
    shown = stage.visitor.ask("POST", "/add", body, Content_Type="multipart/form-data; boundary=x")
    assert shown.status == 400 and "<p>My play.txt is empty.</p>" in shown.text
    assert not list((stage.room.home / "coming-in").iterdir())


def test_a_new_draft_of_a_piece_is_kept_and_a_day_that_is_over_is_pointed_out(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desks, "words_and_thoughts", lambda script: script_of(script.text)[1:])
    shown = stage.visitor.form("/add", text=LAMP + "Nobody asked me.\n", revises=stage.desk.piece.id)
    key = shown.headers["location"].rpartition("/")[2]
    stage.visitor.form(f"/add/{key}", do="keep")
    assert stage.told() == ["The new draft is kept. Lines that stayed keep their history."]
    with stage.room.journal.reading() as conn:
        assert [v.n for v in journals.versions(conn, stage.desk.piece.id)] == [1, 2]
    over = "The day you gave is over. You can change it under Settings."
    for day, told in (("2026-03-01", [over]), ("2026-03-02", [])):
        shown = stage.visitor.form("/add", text="The boats went out before the light.\n", name=f"Boats {day}")
        key = shown.headers["location"].rpartition("/")[2]
        stage.visitor.form(f"/add/{key}", do="keep", day=day)
        assert stage.told() == told


def test_a_piece_is_listed_with_its_days_left() -> None:
    today = date(2026, 3, 2)
    assert days_left(None, today) == "no date"
    assert [days_left(today + timedelta(days=n), today) for n in (-1, 0, 1, 2)] == [
        "was due 1 March", "today is the day", "1 day left, Tue 3 Mar", "2 days left, Wed 4 Mar"
    ]  # fmt: skip


def test_a_piece_without_a_script_cannot_be_opened(tmp_path: Path) -> None:
    desk = desk_at(tmp_path)
    with desk.journal.writing() as conn:
        empty = journals.add_piece(desk.journal, conn, desk.performer, "Empty")
    with pytest.raises(JournalError) as caught:
        open_piece(desk.journal, empty.id)
    assert (caught.value.what, caught.value.do) == ("Empty has no script yet", "give it one under Settings")
    desk.journal.close()


# What the notes say -----------------------------------------------------------------------------------


def told_run(
    said: int, unsure: int = 0, *, added: tuple[str, ...] = (), limit: float | None = None, **review: Any
) -> Any:
    """A run-through of 100 words as the screen of its notes has it."""
    given = {"added": added, "asides": (), "longest_pause": None, "rate_wpm": 120.4} | review
    return SimpleNamespace(
        row=run_row(100, said, unsure=unsure),
        review=SimpleNamespace(**given),
        run=SimpleNamespace(seconds=62.9),
        piece=SimpleNamespace(limit_seconds=limit),
        beside=SimpleNamespace(pick_ups=()),
    )


@pytest.mark.parametrize(
    ("run", "headline", "facts"),
    [
        (told_run(100), "Word-perfect", "100 of 100 words as written"),
        (
            told_run(99, 1),
            "Word-perfect, as far as could be heard",
            "100 of 100 words as written; 1 could not be judged and counts as said: without it 99.0 %",
        ),
        (
            told_run(90, 2),
            "92.0 % of the words",
            "92 of 100 words as written; 2 could not be judged and count as said: without them 90.0 %",
        ),
        (told_run(100, added=("so",)), "100.0 % of the words", "100 of 100 words as written"),
    ],
)
def test_the_notes_begin_with_how_much_was_said(run: Any, headline: str, facts: str) -> None:
    assert (_headline(run), _facts(run)) == (headline, facts)


def test_the_times_of_a_run_through_are_told_with_its_limit_pause_and_fillers() -> None:
    first = "1:02 from first word to last, 120 words a minute."
    assert _times(told_run(100)) == [first]
    for limit, told in (
        (60.0, "The limit is 1:00: 0:02 over it."),
        (62.0, "The limit is 1:02: 0.9 s over it."),
        (61.9, "The limit is 1:01: 0:01 over it."),
        (62.9, "The limit is 1:02: 0.0 s to spare."),
        (63.8, "The limit is 1:03: 0.9 s to spare."),
        (65.9, "The limit is 1:05: 0:03 to spare."),
    ):
        assert _times(told_run(100, limit=limit)) == [first, told]
    pause = SimpleNamespace(seconds=3.14, at=20.9)
    talk = (("filler", "um"), ("talk", "so"), ("filler", "er"), ("filler", "um"))
    filler = [SimpleNamespace(kind=kind, heard=heard) for kind, heard in talk]
    assert _times(told_run(100, longest_pause=pause, asides=filler)) == [
        first,
        "Longest pause 3.1 s, at 0:20.",
        "Not counted: 3 fillers (“um”, “er”).",
    ]
    assert _times(told_run(100, asides=filler[:1]))[1] == "Not counted: 1 filler (“um”)."


def test_an_unsure_word_says_what_it_sounded_like_if_that_is_known() -> None:
    def why(kind: Any, heard: str) -> str:
        return _why(Note(kind, 0, 0, "lamp", heard, None, 1, ""))

    assert why("changed", "light") == ""
    assert why("unsure", "light") == (
        "It sounded like “light”, but not clearly enough to hold it against you. "
        "Press Hear it and judge for yourself."
    )
    assert why("unsure", "") == (
        "Too little of it came through to tell. Press Hear it and judge for yourself."
    )


def test_a_span_of_words_lies_within_the_speech() -> None:
    assert _span("0-0", 3) == (0, 0) and _span("1-2", 3) == (1, 2)
    for value in ("", "1", "2-1", "0-3", "x-1", "0-x", "-1-1"):
        with pytest.raises(OffbookError) as caught:
            _span(value, 3)
        assert caught.value.what == "these are not words of the speech"


# What is kept ready -----------------------------------------------------------------------------------


def test_eight_reviews_eight_imports_and_200_jobs_are_kept_ready_the_oldest_go(stage: Stage) -> None:
    room, nothing = stage.room, Import("", [], ())
    keys = [room.keep_import(nothing) for _ in range(9)]
    assert list(room.imports) == keys[1:] and len({*keys}) == 9 and all(len(key) == 24 for key in keys)
    reviews: list[Any] = [(run_row(10, n), 0.0) for n in range(9)]
    for key in reviews:
        room.keep_reviewed(key, "review")  # type: ignore[arg-type]
    assert list(room.reviewed) == reviews[1:]
    room.reviewed.clear()
    room.imports.clear()
    turns = Turns()
    jobs = [Job("", "", "", lambda job: "") for _ in range(KEPT + 1)]
    for job in jobs:
        turns._note(job)
    assert (turns.job(jobs[0].key), turns.job(jobs[1].key)) == (None, jobs[1])
