"""The page on which a piece is spoken, asked as its scripts ask it, with an ear that knows what was said."""

from __future__ import annotations

import json
import time
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from html import unescape
from pathlib import Path
from threading import Event
from types import SimpleNamespace
from typing import Any

import pytest
from flask import Flask

from offbook import desk as desks
from offbook import journal as journals
from offbook.desk import keep_recording_once, record_run
from offbook.errors import RecordingError
from offbook.page import PageServer, record
from offbook.page.forms import FieldError
from offbook.page.record import _act, _count, _digits, _manners, _rate, _rows
from offbook.page.turns import Job
from offbook.partner import Hush, Over, PartnerLine, Say
from offbook.records import Piece, RunRow
from offbook.schedule import CAUTION
from offbook.script import Script, parse_script
from offbook.words import words_of
from tests.journals import Desk, desk_at, facts, run_with, script_of
from tests.live_ears import CLEAR, QUIET, RATE, AsItIs, Loaded, Speaking
from tests.pages import FORM, Answer, Visitor, let_in, served

ALONE = "Nobody asked me to.\nI carried it up, and the stairs were long.\n"
SAID = "nobody asked me to i carried it up and the stairs were long"
SCENE = "OSK: Who kept the lamp?\n\nIVE: Nobody asked me to.\n\nOSK: And the oil?\n\nIVE: I carried it up.\n"
QUARTER = 8_000  # bytes of a quarter of a second


@dataclass
class Stage:
    """A page with a piece for one voice and a scene on it, and who speaks them."""

    server: PageServer
    visitor: Visitor
    desk: Desk
    scene: Piece
    speaker: Speaking

    @property
    def alone(self) -> str:
        return self.desk.piece.id

    def told(self, at: str, sound: bytes = b"") -> dict[str, Any]:
        """What the page says to one of its own scripts."""
        answer = self.visitor.ask("POST", at, sound, Accept="application/json")
        found: dict[str, Any] = json.loads(answer.text)
        return found

    def begin(self, piece: str, **fields: str) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(
            self.visitor.form(f"/piece/{piece}/speak", rate=str(RATE), **fields).text
        )
        return found

    def send(self, key: str, sound: bytes, first: int = 0, more: str = "") -> dict[str, Any]:
        """Send sound in requests of four seconds, and wait until it was heard; the last answer."""
        for at in range(0, len(sound), 16 * QUARTER):
            part = sound[at : at + 16 * QUARTER]
            part = part.ljust(-(-len(part) // QUARTER) * QUARTER, b"\0")
            told = self.told(f"/capture/{key}/0/{first + at // QUARTER}{more}", part)
        self.wait_for(lambda: self.server.room.speaking.spoken(key).live.behind <= 1e-6)
        return told

    def wait_for(self, over: Callable[[], bool]) -> None:
        """Wait until something has happened in another thread: ten seconds at most."""
        for _ in range(2000):
            if over():
                return
            time.sleep(0.005)
        raise AssertionError("it has not happened within ten seconds")

    def row(self, job: Job) -> RunRow:
        """The run-through that a job has committed."""
        with self.server.room.journal.reading() as conn:
            return journals.run_of(conn, job.result)


def read_wav(path: Path) -> bytes:
    with wave.open(str(path)) as file:
        sound: bytes = file.readframes(file.getnframes())
    return sound


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    """The page; recordings are taken in as they are, for they stand for words."""

    def probe(path: Path) -> None:
        if not path.read_bytes().startswith(b"RIFF"):
            raise RecordingError(f"{path} is not a recording", "use another")

    def pcm(path: Path, **more: Any) -> Iterator[bytes]:
        yield read_wav(path)

    home = tmp_path_factory.mktemp("home")
    desk = desk_at(home, text=ALONE)
    script = parse_script(SCENE, title="The oil", part="IVE")
    _, _, units = script_of(script.text)
    with desk.journal.writing() as conn:
        scene = journals.add_piece(desk.journal, conn, desk.performer, "The oil", keep_recordings=False)
        journals.add_version(desk.journal, conn, scene.id, script, words_of(script), units[:1])
    seven_minutes = run_with(desk.version.words, seconds=420.0)
    record_run(desk.journal, desk.piece, desk.version, seven_minutes, facts(desk.clock))
    speaker = Speaking()
    loading: Any = Loaded(speaker)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("offbook.audio.Arriving", AsItIs)
        patch.setattr("offbook.audio.probe", probe)
        patch.setattr("offbook.audio.pcm", pcm)
        patch.setattr(
            "offbook.audio.survey", lambda path: replace(CLEAR, seconds=len(read_wav(path)) / 32_000)
        )
        with served(home, loading, desk.clock) as server:
            yield Stage(server, let_in(server), desk, scene, speaker)
    desk.journal.close()


def job_of(stage: Stage, told: dict[str, Any]) -> Job:
    """The job of an answer, when it is over."""
    job = stage.server.room.turns.job(told["at"].rpartition("/")[2])
    assert job is not None and job.over.wait(20)
    return job


@pytest.mark.heavy
def test_an_address_with_an_unknown_key_is_answered_in_two_lines(stage: Stage) -> None:
    """Each of these is an address of the page: one that is not says that there is no such page."""
    asked_for = "/hearing/x /piece/x/speak /capture/x/closed"
    sent = (
        "/piece/x/recording /piece/x/upload /upload/x/0 /upload/x/end /upload/x/drop /piece/x/unjudged/x"
        " /capture/x/0/0 /capture/x/end /capture/x/leave /capture/x/drop /capture/x/partner /hearing/x/stop"
    )
    answers = [stage.visitor.ask("GET", at, Accept="application/json") for at in asked_for.split()]
    answers += [stage.visitor.ask("POST", at, Accept="application/json") for at in sent.split()]
    assert [a.status for a in answers] == [400, 400, 200, *[400] * 12]
    assert all(a.refusal[1] != "there is no such page" for a in answers if a.status == 400)
    assert json.loads(answers[2].text) == {"closed": True}


# The screen -------------------------------------------------------------------------------------------


def test_the_speaking_screen_has_the_addresses_for_sound_and_the_voice_used_today(stage: Stage) -> None:
    with stage.server.room.journal.reading() as conn:
        day = stage.desk.clock().date()
        minutes = journals.voice_seconds(conn, stage.desk.performer.id, day) / 60
    assert 7 <= minutes < 15
    cap = stage.desk.performer.voice_minutes
    shown = unescape(stage.visitor.ask("GET", f"/piece/{stage.alone}/speak").text)
    for said in (
        f'data-begin="/{stage.visitor.place}/piece/{stage.alone}/speak"',
        'data-seconds="0.25"',
        'data-most-pieces="16"',
        'data-slice="4194304"',
        "prompts me",
        f"{minutes:.0f} of {cap:.0f} minutes of full voice used today. {CAUTION}",
    ):
        assert said in shown
    assert "data-open" not in shown
    scene = unescape(stage.visitor.ask("GET", f"/piece/{stage.scene.id}/speak").text)
    assert "reads the other lines and prompts" in scene and '<span class="cue-name">OSK</span>' in scene


def rows_of(script: Script) -> list[dict[str, Any]]:
    there: Any = SimpleNamespace(version=SimpleNamespace(script=script, words=words_of(script)))
    return _rows(there)


def test_the_speech_is_shown_line_by_line_with_its_cues_and_a_gap_between_speeches() -> None:
    rows = rows_of(parse_script(SCENE, part="IVE"))
    assert rows[0] == {
        "n": "1",
        "gap": False,
        "cues": [("OSK", "Who kept the lamp?")],
        "words": [(0, "Nobody", " "), (1, "asked", " "), (2, "me", " "), (3, "to.", " ")],
    }
    assert [(r["n"], r["gap"], r["cues"]) for r in rows[1:]] == [("2", True, [("OSK", "And the oil?")])]


def test_lines_of_a_stanza_and_parts_of_a_compound_are_shown_without_a_gap() -> None:
    verse = parse_script("The sea-wall held\nAnd nobody came —\n\nThe ill-disposed tide\nWent out again\n")
    rows = rows_of(verse)
    assert [(r["n"], r["gap"]) for r in rows] == [("1", False), ("2", False), ("3", True), ("4", False)]
    apart = {text: then for r in rows for _, text, then in r["words"]}
    assert apart["sea-"] == "" and apart["ill-"] == "" and apart["wall"] == " " and apart["again"] == " "
    assert [cues for r in rows for cues in r["cues"]] == []


# Speaking ---------------------------------------------------------------------------------------------


@pytest.mark.heavy
def test_a_speech_is_followed_piece_by_piece_and_its_notes_are_ready_soon_after_the_end(stage: Stage) -> None:
    begun = stage.begin(stage.alone)
    key = begun.pop("key")
    assert begun == {"spell": 0, "bytes": QUARTER, "seconds": 0.0, "words": 13, "acts": 0}
    shown = stage.visitor.ask("GET", f"/piece/{stage.alone}/speak").text
    assert f'data-open="{key}"' in shown
    told = stage.told(f"/capture/{key}/0/1", QUIET)
    assert (told["next"], told["seconds"]) == (0, 0.0)  # the first piece is wanted
    stage.send(key, QUIET * 5 + stage.speaker.say(SAID) + QUIET * 10)
    told = stage.told(f"/capture/{key}/0/27?unsent=2&last", bytes(100))
    assert told == {
        "next": 28, "seconds": 6.75, "place": 13, "done": True, "acts": [], "ready": True,
        "behind": 0.5, "unheard": False,
    }  # fmt: skip
    job = job_of(stage, stage.told(f"/capture/{key}/end"))
    told = json.loads(stage.visitor.ask("GET", f"/hearing/{job.key}", Accept="application/json").text)
    place = stage.visitor.place
    assert told == {
        "state": "done", "doing": "Hearing the recording", "share": told["share"], "before": 0,
        "at": f"/{place}/hearing/{job.key}",
        "notes": f"/{place}/piece/{stage.alone}/notes/{job.result}",
    }  # fmt: skip
    sent_on = stage.visitor.ask("GET", f"/hearing/{job.key}")
    assert (sent_on.status, sent_on.headers["location"]) == (303, told["notes"])
    row = stage.row(job)
    assert (row.piece_id, row.words, row.said, row.prompts, row.model) == (stage.alone, 13, 13, 0, "told")


@pytest.mark.heavy
def test_the_partner_reads_the_cue_and_gives_the_word_that_is_asked_for(stage: Stage) -> None:
    begun = stage.begin(stage.scene.id, partner="1", aloud="1", silence="30")
    key, at = begun["key"], f"/capture/{begun['key']}"
    stage.send(key, QUIET * 5)
    told = stage.told(f"{at}/0/2", QUIET + bytes(QUARTER - len(QUIET)))
    cue = {"kind": "say", "id": 1, "text": "Who kept the lamp?", "aloud": True, "speaker": "OSK"}
    assert told["acts"] == [cue]
    for what, when in (("playing", "0.25"), ("said", "0.5")):
        answer = stage.visitor.pairs(f"{at}/partner", [("what", what), ("id", "1"), ("at", when)])
        assert json.loads(answer.text) == {"taken": True}
    stage.visitor.form(f"{at}/partner", what="ask")
    live = stage.server.room.speaking.spoken(key).live
    stage.wait_for(lambda: len(live.acts) > 1)
    told = stage.told(f"{at}/0/0?acts=1", bytes(QUARTER))
    assert told["acts"] == [{"kind": "say", "id": 2, "text": "Nobody", "aloud": True, "speaker": ""}]
    cue_kept = stage.server.room.speaking.spoken(key).capture.partner()[1][0]
    assert (cue_kept.words, cue_kept.start, cue_kept.end) == (("who", "kept", "the", "lamp"), 0.25, 0.5)
    stage.visitor.form(f"{at}/leave")
    gone_on = json.loads(stage.visitor.form(f"{at}/go-on", rate="48000", partner="1").text)
    assert gone_on == {"key": key, "spell": 1, "bytes": 24_000, "seconds": 0.75, "words": 8, "acts": 2}
    assert stage.told(f"{at}/1/0", bytes(24_000))["next"] == 1
    stage.wait_for(lambda: live.behind <= 1e-6)
    answer = stage.visitor.form(f"{at}/drop")
    assert answer.headers["location"].endswith(f"/piece/{stage.scene.id}/speak")


def test_a_capture_whose_window_was_closed_is_offered_until_it_is_dropped(stage: Stage) -> None:
    key = stage.begin(stage.alone)["key"]
    assert json.loads(stage.visitor.form(f"/capture/{key}/leave").text) == {"left": True}
    assert json.loads(stage.visitor.ask("GET", f"/capture/{key}/closed").text) == {"closed": True}
    shown = stage.visitor.ask("GET", f"/piece/{stage.alone}/speak").text
    assert f'data-left="{key}"' in shown and "data-open" not in shown
    assert stage.visitor.form(f"/capture/{key}/drop").status == 303
    assert key not in stage.visitor.ask("GET", f"/piece/{stage.alone}/speak").text


def test_without_javascript_ending_a_capture_leads_to_the_progress_of_its_hearing(stage: Stage) -> None:
    key = stage.begin(stage.alone)["key"]
    stage.send(key, bytes(4 * QUARTER))
    answer = stage.visitor.form(f"/capture/{key}/end")
    assert answer.status == 303 and answer.headers["location"].endswith(f"/hearing/{key}")
    job = job_of(stage, {"at": f"/{key}"})
    assert job.problem is not None and job.problem.what == "nothing of the speech was heard"
    told = json.loads(stage.visitor.ask("GET", f"/hearing/{key}", Accept="application/json").text)
    assert (told["state"], told["what"], "notes" in told) == ("failed", job.problem.what, False)
    assert told["do"] == job.problem.do
    shown = unescape(stage.visitor.ask("GET", f"/hearing/{key}").text)
    assert "<p>Nothing of the speech was heard.</p>" in shown and "Back to speaking" in shown
    assert f"/piece/{stage.alone}/speak" in shown and f"/piece/{stage.scene.id}/speak" not in shown


def test_an_invalid_sampling_rate_or_silence_is_refused_in_two_lines(stage: Stage) -> None:
    def begin(**fields: str) -> Answer:
        body = "&".join(f"{k}={v}" for k, v in fields.items()).encode()
        at = f"/piece/{stage.alone}/speak"
        return stage.visitor.ask("POST", at, body, Content_Type=FORM, Accept="application/json")

    no_rate = ["400", "the microphone did not say its sampling rate", "load the page again"]
    assert begin().refusal == no_rate and begin(rate="-1").refusal == no_rate
    assert begin(rate="16000", partner="1", silence="soon").refusal == [
        "400", "“soon” is not a number of seconds", "write a number, such as 4",
    ]  # fmt: skip


# Recordings made elsewhere ----------------------------------------------------------------------------


def wav_of(stage: Stage, text: str, path: Path) -> bytes:
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", "none"))
        file.writeframes(stage.speaker.say(text) + QUIET * 10)
    return path.read_bytes()


def test_a_recording_sent_as_a_form_is_kept_and_heard(stage: Stage, tmp_path: Path) -> None:
    coming_in = stage.server.room.home / "coming-in"
    said = wav_of(stage, SAID.replace("up", "down"), tmp_path / "said.wav")
    body = (
        b'--x\r\nContent-Disposition: form-data; name="recording"; filename="said.wav"\r\n\r\n'
        + said
        + b"\r\n--x--\r\n"
    )
    at = f"/piece/{stage.alone}/recording"
    answer = stage.visitor.ask("POST", at, body, Content_Type="multipart/form-data; boundary=x")
    assert answer.status == 303
    job = job_of(stage, {"at": answer.headers["location"]})
    assert (job.state, job.called, job.owner) == ("done", "said.wav", stage.desk.performer.id)
    row = stage.row(job)
    assert (row.said, row.words) == (12, 13)
    with stage.server.room.journal.reading() as conn:
        kept = [r for r in journals.recordings(conn, stage.alone) if r.id == row.recording_id]
    assert [(stage.server.room.journal.recordings / r.path).read_bytes() for r in kept] == [said]
    assert list(coming_in.iterdir()) == []
    kind = "multipart/form-data; boundary=x"
    for nothing in (b"--x--\r\n", body.replace(b"said.wav", b"")):
        refused = stage.visitor.ask("POST", at, nothing, Content_Type=kind, Accept="application/json")
        assert refused.refusal == [
            "400", "no recording was chosen", "choose a file, or drop it onto the page",
        ]  # fmt: skip


def test_a_recording_that_is_not_to_be_kept_is_deleted_after_it_is_heard(
    stage: Stage, tmp_path: Path
) -> None:
    said = wav_of(stage, "nobody asked me to i carried it up", tmp_path / "said.wav")
    at = f"/piece/{stage.scene.id}/upload"
    key = json.loads(stage.visitor.form(at, name="evening.wav").text)["key"]
    stage.told(f"/upload/{key}/0", said)
    job = job_of(stage, stage.told(f"/upload/{key}/end"))
    row = stage.row(job)
    assert (row.said, row.words, row.recording_id) == (8, 8, None)
    assert list((stage.server.room.home / "coming-in").iterdir()) == []


def test_a_recording_sent_in_slices_is_heard_when_its_last_slice_has_come(
    stage: Stage, tmp_path: Path
) -> None:
    said = wav_of(stage, SAID.replace("long", "steep"), tmp_path / "said.wav")
    at = f"/piece/{stage.alone}/upload"
    key = json.loads(stage.visitor.form(at, name="evening.wav").text)["key"]
    assert stage.told(f"/upload/{key}/0", said[:50_000]) == {"next": 1}
    assert stage.told(f"/upload/{key}/2", said[:50_000]) == {"next": 1}
    assert stage.told(f"/upload/{key}/1", said[50_000:]) == {"next": 2}
    job = job_of(stage, stage.told(f"/upload/{key}/end"))
    assert (job.state, job.called, stage.row(job).said) == ("done", "evening.wav", 12)
    wrong = json.loads(stage.visitor.form(at, name="holiday.wav").text)["key"]
    stage.told(f"/upload/{wrong}/0", b"no sound")
    answer = stage.visitor.ask("POST", f"/upload/{wrong}/end", Accept="application/json")
    assert answer.refusal == ["400", "holiday.wav is not a recording", "use another"]
    dropped = json.loads(stage.visitor.form(at, name="x.wav").text)["key"]
    assert stage.told(f"/upload/{dropped}/drop") == {"gone": True}
    for gone in (key, wrong, dropped):
        answer = stage.visitor.ask("POST", f"/upload/{gone}/drop", Accept="application/json")
        assert answer.status == 400
    assert list((stage.server.room.home / "coming-in").iterdir()) == []


def test_a_slice_may_exceed_its_size_by_one_byte_and_no_more(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(record, "SLICE", 1_000)
    key = json.loads(stage.visitor.form(f"/piece/{stage.alone}/upload", name="x.wav").text)["key"]
    assert stage.told(f"/upload/{key}/0", bytes(1_001)) == {"next": 1}
    answer = stage.visitor.ask("POST", f"/upload/{key}/1", bytes(1_002), Accept="application/json")
    assert answer.status == 413
    stage.told(f"/upload/{key}/drop")


def test_a_recording_whose_hearing_was_interrupted_is_offered_and_heard_once(
    stage: Stage, tmp_path: Path
) -> None:
    wav_of(stage, SAID.replace("asked", "told"), tmp_path / "said.wav")
    kept = keep_recording_once(stage.server.room.journal, stage.desk.piece, tmp_path / "said.wav")
    at = f"/piece/{stage.alone}/unjudged/{kept.id}"
    shown = stage.visitor.ask("GET", f"/piece/{stage.alone}/speak").text
    assert "Kept, but not heard to the end" in shown and at in shown
    answer = stage.visitor.form(at)
    job = job_of(stage, {"at": answer.headers["location"]})
    row = stage.row(job)
    assert (job.state, row.recording_id, row.said) == ("done", kept.id, 12)
    assert at not in stage.visitor.ask("GET", f"/piece/{stage.alone}/speak").text
    assert stage.visitor.ask("POST", at, Accept="application/json").refusal == [
        "400", "this recording was heard already, or deleted", "look at the notes",
    ]  # fmt: skip


# What is being heard ----------------------------------------------------------------------------------


def test_a_waiting_performer_sees_how_many_hearings_come_first_and_can_stop(stage: Stage) -> None:
    turns, go = stage.server.room.turns, Event()

    def work(job: Job) -> str:
        job.step(0.12345)
        go.wait(20)
        job.step(0.5)
        return "run"

    first, second = (turns.add(Job("mara", stage.alone, "The lamp", work, doing="Reading")) for _ in "ab")
    while first.share == 0.0:
        first.over.wait(0.005)

    def told(job: Job) -> dict[str, Any]:
        answer = stage.visitor.ask("GET", f"/hearing/{job.key}", Accept="application/json")
        found: dict[str, Any] = json.loads(answer.text)
        return found

    at = f"/{stage.visitor.place}/hearing"
    assert told(first) == {
        "state": "hearing", "doing": "Reading", "share": 0.1235, "before": 0, "at": f"{at}/{first.key}",
    }  # fmt: skip
    assert (told(second)["state"], told(second)["share"]) == ("waiting", 0.0)
    assert "Reading …" in stage.visitor.ask("GET", f"/hearing/{first.key}").text
    go.set()
    second.stop()
    stopped = stage.visitor.form(f"/hearing/{second.key}/stop")
    assert stopped.headers["location"] == f"{at}/{second.key}"
    assert told(second)["what"] == "this was stopped before it was heard to the end"
    lost = stage.visitor.ask("GET", "/hearing/nothing", Accept="application/json")
    assert lost.refusal == ["400", "this is no longer being heard", "look at the notes of the piece"]


def test_the_answer_waits_two_seconds_for_notes_and_three_for_a_stop(stage: Stage) -> None:
    waited: list[float] = []

    class Waiting(Event):
        def wait(self, timeout: float | None = None) -> bool:
            waited.append(timeout or 0.0)
            return False

    job = Job("mara", stage.alone, "The lamp", lambda job: "run", over=Waiting(), key="slow")
    stage.server.room.turns._jobs[job.key] = job
    assert stage.told("/capture/slow/end")["state"] == "waiting" and waited == [2.0]
    stage.visitor.form("/capture/slow/end")
    stage.visitor.form("/hearing/slow/stop")
    assert waited == [2.0, 3.0]


# What is asked ----------------------------------------------------------------------------------------


def asked(query: str = "", **form: str) -> Any:
    """A request of the page's scripts."""
    return Flask("asked").test_request_context(f"/?{query}", method="POST", data=form)


def test_a_number_that_cannot_be_read_counts_as_zero() -> None:
    for given, count in (("acts=12", 12), ("acts=-1", 0), ("acts=x", 0), ("acts=", 0), ("", 0)):
        with asked(given):
            assert _count("acts") == count
    for given, digits in (
        ("3.125", "3.125"),
        ("123456", "123456"),
        ("1234567", "0"),
        ("1.2345", "0"),
        ("1.", "0"),
        ("-1", "0"),
        ("x", "0"),
    ):
        with asked(at=given):
            assert _digits("at") == digits
    with asked():
        assert _digits("at") == "0"


@pytest.mark.parametrize(
    ("typed", "silence"),
    [
        ("", None), (" ", None), ("4", 4.0), (" 2,5 ", 2.5), ("0.2", 1.0), ("1", 1.0), ("60", 60.0),
        ("61", 60.0),
    ],
)  # fmt: skip
def test_the_silence_before_a_prompt_is_1_to_60_seconds_or_unlimited(
    typed: str, silence: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Reading:
        def __enter__(self) -> str:
            return "conn"

        def __exit__(self, *more: object) -> None:
            pass

    room: Any = SimpleNamespace(journal=SimpleNamespace(reading=Reading))
    there: Any = SimpleNamespace(piece="piece", version="draft", pencil="marks")
    monkeypatch.setattr(desks, "usual_pauses", lambda *given: {3: 0.5} if given[0] == "conn" else {})
    monkeypatch.setattr(desks, "marked_pauses", lambda version, marks: frozenset({len(version + marks)}))
    with asked(silence=typed):
        found = _manners(room, there)
    assert (found.patience.silence, found.patience.more) == (silence, 2.5)
    assert (found.aloud, found.held, found.usual) == (False, frozenset({10}), {3: 0.5})
    with asked(silence=typed, aloud="1"):
        assert _manners(room, there).aloud


def test_the_acts_of_the_partner_are_sent_to_the_scripts_of_the_page() -> None:
    line = PartnerLine(2, "Who kept the lamp?", "OSK")
    assert _act(Say(4, "Who kept the lamp?", True, line)) == {
        "kind": "say", "id": 4, "text": "Who kept the lamp?", "aloud": True, "speaker": "OSK",
    }  # fmt: skip
    assert _act(Say(5, "Nobody", False)) == {
        "kind": "say", "id": 5, "text": "Nobody", "aloud": False, "speaker": "",
    }  # fmt: skip
    assert _act(Hush(4)) == {"kind": "hush", "id": 4}
    assert _act(Over()) == {"kind": "over"}


def test_a_sampling_rate_must_be_a_whole_number() -> None:
    with asked(rate="44100"):
        assert _rate() == 44_100
    with asked(rate="44.1"), pytest.raises(FieldError, match="did not say its sampling rate"):
        _rate()
    assert record.LARGEST_PIECES == 16 * 96_000  # bytes of four seconds at 192,000 samples a second
