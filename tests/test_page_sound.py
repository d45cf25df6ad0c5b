"""Sound that is uploaded: pieces are stored in order and once; recordings come in slices and take turns."""

from __future__ import annotations

import json
import math
import re
import wave
from concurrent.futures import ThreadPoolExecutor, wait
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread

import pytest

from offbook.errors import OffbookError, RecordingError
from offbook.page import PageServer
from offbook.page.capture import MOST_PIECES, begin, there
from offbook.page.speaking import write_wav
from offbook.page.turns import Job, Turns
from offbook.page.uploads import begin_upload, open_upload
from tests.browsing import SAID, sentence
from tests.pages import HeldBack, Visitor, add_piece, let_in, served

AT = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
RATE = 16_000
PIECE = 8_000  # bytes: a quarter of a second


def sound(number: int, size: int = PIECE) -> bytes:
    """A piece of sound whose samples give its number."""
    return bytes([number]) * size


def test_pieces_of_sound_are_stored_once_and_in_order_however_often_they_are_sent(tmp_path: Path) -> None:
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(RATE)
    assert capture.add(0, 0, sound(1)) == (1, True)
    assert capture.add(0, 0, sound(9)) == (1, False)  # sent twice: written once
    assert capture.add(0, 2, sound(3)) == (1, False)  # a gap: piece 1 is wanted
    assert capture.add(0, 1, sound(2)) == (2, True)
    assert capture.add(0, 2, sound(3, 100), last=True) == (3, True)
    assert b"".join(data for _, data in capture.sound()) == sound(1) + sound(2) + sound(3, 100)
    assert (capture.folder / "spell-0.pcm").stat().st_size == 2 * PIECE + 100


def test_several_pieces_in_one_request_are_written_as_if_they_came_one_by_one(tmp_path: Path) -> None:
    """A browser does so if it could not send for a moment; what it sends twice is written once."""
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(RATE)
    assert capture.add(0, 0, sound(1) + sound(2)) == (2, True)
    assert capture.add(0, 1, sound(2) + sound(3)) == (2, False)
    assert capture.add(0, 2, sound(3) * (MOST_PIECES - 1) + sound(4, 100), last=True) == (18, True)
    wanted = sound(1) + sound(2) + sound(3) * (MOST_PIECES - 1) + sound(4, 100)
    assert b"".join(data for _, data in capture.sound()) == wanted


@pytest.mark.parametrize(
    "bad", [b"", sound(1, PIECE + 2), sound(1, PIECE - 2), sound(1, 7_999), sound(1) * (MOST_PIECES + 1)]
)
def test_data_that_is_not_a_piece_of_sound_is_refused_and_not_written(tmp_path: Path, bad: bytes) -> None:
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(RATE)
    with pytest.raises(RecordingError):
        capture.add(0, 0, bad)
    with pytest.raises(RecordingError):
        capture.add(1, 0, sound(1))
    assert capture.seconds == 0
    with pytest.raises(RecordingError):
        capture.begin_spell(1_000)


def test_after_a_crash_a_half_written_piece_is_removed_and_the_rest_is_kept(tmp_path: Path) -> None:
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(RATE)
    capture.add(0, 0, sound(1))
    with (capture.folder / "spell-0.pcm").open("ab") as file:
        file.write(sound(2, 1_234))
    (tmp_path / "not-a-capture").mkdir()
    [again] = there(tmp_path)
    assert again.about == capture.about
    assert again.add(0, 1, sound(2)) == (2, True)
    assert [data[0] for _, data in again.sound()] == [1, 2]


def test_a_short_last_piece_survives_a_crash(tmp_path: Path) -> None:
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(RATE)
    capture.add(0, 0, sound(1, 500), last=True)
    [again] = there(tmp_path)
    assert again.about.ended
    assert again.seconds == 500 / (2 * RATE)


def test_parts_from_two_microphones_become_one_recording_at_the_first_sample_rate(tmp_path: Path) -> None:
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(RATE)
    capture.add(0, 0, sound(1))
    capture.begin_spell(48_000)
    capture.add(1, 0, sound(1, 24_000))
    assert capture.seconds == 0.5
    write_wav(capture, tmp_path / "out.wav")
    with wave.open(str(tmp_path / "out.wav")) as wav:
        assert (wav.getframerate(), wav.getnframes(), wav.getnchannels()) == (RATE, RATE // 2, 1)
        assert set(wav.readframes(RATE)) == {1}


def test_a_recording_is_uploaded_in_slices_and_each_slice_is_written_once(tmp_path: Path) -> None:
    upload = begin_upload(tmp_path, "piece", "C:\\fakepath\\../My run.M4A")
    assert upload.name == "My run.M4A"
    assert upload.path.name == "recording.m4a"
    assert upload.path.parent.parent == tmp_path
    assert upload.add(0, b"one") == 1
    assert upload.add(0, b"one") == 1
    assert open_upload(tmp_path, upload.key).add(1, b"two") == 2
    assert upload.path.read_bytes() == b"onetwo"
    upload.drop()
    with pytest.raises(RecordingError):
        open_upload(tmp_path, upload.key)
    with pytest.raises(RecordingError):
        open_upload(tmp_path, "../" + upload.key)


def test_performers_whose_recordings_are_waiting_take_turns() -> None:
    """Ada has three recordings and Ben one: his is heard after her first, not after all of hers."""
    turns, go, heard = Turns(), Event(), list[str]()

    def work(job: Job) -> str:
        go.wait(10)
        heard.append(job.what)
        return job.what

    jobs = [turns.add(Job("ada", "p", f"ada {n}", work)) for n in range(3)]
    ben = turns.add(Job("ben", "p", "ben 0", work))
    while jobs[0].state == "waiting":
        jobs[0].over.wait(0.01)
    assert turns.before(ben) <= 1
    assert turns.before(jobs[2]) == 2
    go.set()
    for job in (*jobs, ben):
        assert job.over.wait(10)
    assert heard == ["ada 0", "ada 1", "ben 0", "ada 2"] or heard == ["ada 0", "ben 0", "ada 1", "ada 2"]
    assert heard.index("ben 0") < heard.index("ada 2")
    turns.close()


def test_a_hearing_that_is_stopped_or_fails_says_so_and_the_next_one_starts() -> None:
    turns = Turns()

    def fails(job: Job) -> str:
        raise OffbookError("the file is broken", "give another")

    def long(job: Job) -> str:
        while True:
            job.step(0.5)
            job.over.wait(0.005)

    failed, stopped = turns.add(Job("a", "p", "1", fails)), turns.add(Job("a", "p", "2", long))
    fine = turns.add(Job("a", "p", "3", lambda job: "done"))
    assert failed.over.wait(5)
    assert failed.state == "failed" and failed.problem is not None and failed.problem.do == "give another"
    while stopped.state != "hearing":
        stopped.over.wait(0.01)
    assert stopped.share == 0.5
    stopped.stop()
    assert fine.over.wait(5)
    assert (stopped.state, fine.state, fine.result) == ("stopped", "done", "done")
    turns.close()


def test_stopping_finishes_the_current_hearing_and_leaves_the_waiting_ones() -> None:
    turns, go, begun = Turns(), Event(), Event()

    def work(job: Job) -> str:
        begun.set()
        go.wait(10)
        return "heard"

    first, second = turns.add(Job("a", "p", "1", work)), turns.add(Job("a", "p", "2", work))
    begun.wait(5)
    go.set()
    turns.close()
    assert first.state == "done"
    assert second.state in ("waiting", "done")


@pytest.mark.heavy
def test_a_piece_of_sound_is_on_disk_before_it_is_acknowledged(server: PageServer, visitor: Visitor) -> None:
    piece = add_piece(visitor, "The tide went out and took the harbour lights.", "Acknowledged")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)
    assert begun["bytes"] == PIECE
    for number in range(3):
        told = json.loads(visitor.ask("POST", f"/capture/{begun['key']}/0/{number}", sound(number)).text)
        assert told["next"] == number + 1
        file = server.room.home / "spoken" / piece / begun["key"] / "spell-0.pcm"
        assert file.stat().st_size == (number + 1) * PIECE
    again = json.loads(visitor.ask("POST", f"/capture/{begun['key']}/0/1", sound(1)).text)
    assert (again["next"], again["seconds"]) == (3, 0.75)
    assert visitor.form(f"/capture/{begun['key']}/drop").status == 303
    assert not (server.room.home / "spoken" / piece).exists()


@pytest.mark.heavy
def test_a_second_window_is_refused_while_sound_still_comes_and_let_in_when_none_does(
    visitor: Visitor,
) -> None:
    piece = add_piece(visitor, "The tide went out and took the harbour lights.", "Twice")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)
    over = Event()

    def go_on_speaking() -> None:
        number = 0
        while not over.wait(0.05):
            visitor.ask("POST", f"/capture/{begun['key']}/0/{number}", sound(1))
            number += 1

    speaking = Thread(target=go_on_speaking)
    speaking.start()
    refused = visitor.form(f"/piece/{piece}/speak", rate=str(RATE))
    over.set()
    speaking.join()
    assert refused.status == 400
    assert "another window of this page is recording" in refused.text.lower()
    other = visitor.form(f"/piece/{piece}/speak", rate=str(RATE))  # waits until the first is known to be gone
    assert other.status == 200
    for each in (begun, json.loads(other.text)):
        visitor.form(f"/capture/{each['key']}/drop")


@pytest.mark.heavy
def test_a_piece_still_on_its_way_when_its_window_closed_blocks_nobody(
    server: PageServer, visitor: Visitor
) -> None:
    """The piece is kept, and its recording is offered at once to be continued."""
    piece = add_piece(visitor, "The tide went out and took the harbour lights.", "On its way")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)
    at = f"/capture/{begun['key']}"
    visitor.ask("POST", f"{at}/0/0", sound(1))
    visitor.form(f"{at}/leave")
    assert json.loads(visitor.ask("POST", f"{at}/0/1", sound(1)).text)["seconds"] == 0.5
    assert server.room.speaking.open_now() == []
    assert f'data-left="{begun["key"]}"' in visitor.ask("GET", f"/piece/{piece}/speak").text
    again = json.loads(visitor.form(f"{at}/go-on", rate=str(RATE)).text)
    visitor.ask("POST", f"{at}/{again['spell']}/0", sound(1))
    [open_now] = server.room.speaking.open_now()
    assert open_now.capture.seconds == 0.75
    visitor.form(f"{at}/drop")


@pytest.mark.heavy
def test_the_question_whether_a_capture_is_closed_is_answered_once_it_is(
    server: PageServer, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer waits while somebody records, up to a limit, and comes at once if nobody does."""
    piece = add_piece(visitor, "The boats were drawn up under the wall.", "Held back")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)
    at = f"/capture/{begun['key']}"
    spoken = server.room.speaking.spoken(begun["key"])
    spoken.last = math.inf  # sound goes on coming
    assert f'data-open="{begun["key"]}"' in visitor.ask("GET", f"/piece/{piece}/speak").text
    with monkeypatch.context() as short:
        short.setattr("offbook.page.speaking.HELD_SECONDS", 0.1)
        assert json.loads(visitor.ask("GET", f"{at}/closed").text) == {"closed": False}
    with ThreadPoolExecutor(1) as pool:
        answer = pool.submit(visitor.ask, "GET", f"{at}/closed")
        assert not wait([answer], timeout=0.3).done
        visitor.form(f"{at}/leave")
        assert json.loads(answer.result(10).text) == {"closed": True}
    assert "data-open" not in visitor.ask("GET", f"/piece/{piece}/speak").text
    visitor.form(f"{at}/drop")
    assert json.loads(visitor.ask("GET", f"{at}/closed").text) == {"closed": True}


@pytest.mark.model
def test_asking_again_to_end_a_capture_gives_the_same_job_even_after_it_is_done(
    server: PageServer, visitor: Visitor
) -> None:
    """The first answer may have been lost on its way, and the capture is gone by then."""
    piece = add_piece(visitor, SAID, "Asked again")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)
    with wave.open(str(sentence())) as wav:
        said = wav.readframes(wav.getnframes())
    for number in range(len(said) // PIECE):
        visitor.ask("POST", f"/capture/{begun['key']}/0/{number}", said[number * PIECE :][:PIECE])
    end = f"/capture/{begun['key']}/end"
    first = json.loads(visitor.ask("POST", end, Accept="application/json").text)
    job = server.room.turns.job(first["at"].rpartition("/")[2])
    assert job is not None and job.over.wait(60)
    again = json.loads(visitor.ask("POST", end, Accept="application/json").text)
    assert (again["at"], again["state"]) == (first["at"], "done")
    assert again["notes"].endswith(job.result)


@pytest.mark.model
@pytest.mark.parametrize("kept", [True, False])
def test_a_hearing_that_takes_long_can_be_stopped_and_the_sound_is_heard_later(
    tmp_path: Path, kept: bool
) -> None:
    """From the journal's own copy, or from the sound as it came where the performer wants no copy kept."""
    loading = HeldBack()
    with served(tmp_path, loading) as server:
        visitor = let_in(server)
        piece = add_piece(visitor, SAID, "Long")
        visitor.form(f"/piece/{piece}/settings", name="Long", **({"keep": "1"} if kept else {}))
        begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)
        with wave.open(str(sentence())) as wav:
            said = wav.readframes(wav.getnframes())
        for number in range(len(said) // PIECE):
            part = said[number * PIECE : (number + 1) * PIECE]
            told = json.loads(visitor.ask("POST", f"/capture/{begun['key']}/0/{number}", part).text)
        assert (told["ready"], told["behind"]) == (False, told["seconds"])
        end = f"/capture/{begun['key']}/end"
        job = json.loads(visitor.ask("POST", end, Accept="application/json").text)
        assert (job["state"], job["share"]) == ("hearing", 0.0)
        at = job["at"].partition(visitor.place)[2]
        visitor.form(f"{at}/stop")
        assert json.loads(visitor.ask("GET", at, Accept="application/json").text)["state"] == "stopped"
        loading.read.set()
        shown = visitor.ask("GET", f"/piece/{piece}/speak").text
        assert ("Kept, but not heard to the end" in shown) == kept
        assert ("Hear what there is" in shown) != kept
        if kept:
            [waiting] = re.findall(rf"/piece/{piece}/unjudged/\w+", shown)
            at = visitor.form(waiting).headers["location"].partition(visitor.place)[2]
        else:
            at = visitor.form(end).headers["location"].partition(visitor.place)[2]
        key = at.rpartition("/")[2]
        job_now = server.room.turns.job(key)
        assert job_now is not None and job_now.over.wait(60) and job_now.state == "done"
        shown = visitor.ask("GET", f"/piece/{piece}/speak").text
        assert "Kept, but not heard to the end" not in shown and "Hear what there is" not in shown


@pytest.mark.model
def test_a_recording_that_cannot_be_heard_is_reported_without_the_internal_file_name(
    server: PageServer, visitor: Visitor, tmp_path: Path
) -> None:
    """What was recorded on the page is "the recording"; an uploaded file is called by its own name."""
    piece = add_piece(visitor, SAID, "Silence")
    silent = tmp_path / "silent.wav"
    with wave.open(str(silent), "wb") as wav:
        wav.setparams((1, 2, RATE, 0, "NONE", "none"))
        wav.writeframes(bytes(4 * PIECE))
    spoken = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE)).text)["key"]
    visitor.ask("POST", f"/capture/{spoken}/0/0", bytes(4 * PIECE))
    dropped = json.loads(visitor.form(f"/piece/{piece}/upload", name="monday.wav").text)["key"]
    visitor.ask("POST", f"/upload/{dropped}/0", silent.read_bytes())
    for end, called in (
        (f"/capture/{spoken}/end", "The recording"),
        (f"/upload/{dropped}/end", "Monday.wav"),
    ):
        at = json.loads(visitor.ask("POST", end, Accept="application/json").text)["at"]
        job = server.room.turns.job(at.rpartition("/")[2])
        assert job is not None and job.over.wait(60)
        shown = visitor.ask("GET", at.partition(visitor.place)[2]).text
        assert f"<p>{called} is silent: no sound above -60 dB.</p>" in shown


@pytest.mark.heavy
def test_a_file_that_is_no_recording_is_reported_under_its_own_name(visitor: Visitor) -> None:
    piece = add_piece(visitor, "The nets were dry before the bell had rung.", "No recording")
    key = json.loads(visitor.form(f"/piece/{piece}/upload", name="holiday.m4a").text)["key"]
    visitor.ask("POST", f"/upload/{key}/0", b"this is no sound at all" * 100)
    answer = visitor.ask("POST", f"/upload/{key}/end", Accept="application/json")
    assert answer.status == 400
    assert json.loads(answer.text)["what"].startswith("holiday.m4a is not a recording")


@pytest.mark.heavy
def test_half_an_hour_sent_in_pieces_is_complete_on_disk_even_after_a_crash(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """7,200 pieces are sent as fast as they are taken; nothing is left of one that is half written."""
    monkeypatch.setattr("os.fsync", lambda handle: None)  # waiting for the disk is not what is looked at here
    capture = begin(tmp_path, "piece", "draft", AT)
    capture.begin_spell(8_000)
    size = 4_000  # bytes of a quarter of a second
    for number in range(7_200):
        assert capture.add(0, number, (number % 251).to_bytes(1) * size) == (number + 1, True)
    assert capture.seconds == 1_800
    with (capture.folder / "spell-0.pcm").open("ab") as file:
        file.write(bytes(size // 3))
    [again] = there(tmp_path)
    assert again.seconds == 1_800
    assert [data[0] for _, data in again.sound()] == [number % 251 for number in range(7_200)]
    assert again.add(0, 7_200, bytes(size)) == (7_201, True)
    write_wav(again, tmp_path / "out.wav")
    with wave.open(str(tmp_path / "out.wav")) as wav:
        assert wav.getnframes() == (1_800 * 8_000) + 2_000
