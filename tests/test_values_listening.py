"""A recording heard from beginning to end by an ear that knows what was said."""

from __future__ import annotations

import os
import sys
import threading
import wave
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from offbook.desk.listening import Heard, _ahead, _counted, _written_at, listen, listen_to
from offbook.errors import RecordingError
from offbook.notes import Aside
from offbook.script import parse_script
from offbook.words import words_of
from tests.live_ears import CLEAR, RATE, Loaded
from tests.second_ears import TableEar
from tests.test_hear import Speaker

SCRIPT = parse_script("Nobody asked me to.\nI carried it up, and the stairs were long.\n")
SAID = "nobody asked me to / i carried it down and the stairs / were long /"
QUARTER = 8_000  # bytes of a quarter of a second
AT = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
LOOKED_FIRST = ["probe", "survey", "pcm"]


class Recording:
    """A recording of what somebody says, which comes decoded in quarters of a second."""

    def __init__(self, path: Path, speaker: Speaker, said: str) -> None:
        self.path, self.sound = path, speaker.say(said)
        with wave.open(str(path), "wb") as file:
            file.setparams((1, 2, RATE, 0, "NONE", "none"))
            file.writeframes(self.sound)
        os.utime(path, (AT.timestamp(), AT.timestamp()))
        self.report = replace(CLEAR, seconds=len(self.sound) / 32_000)
        self.done: list[str] = []
        self.threads: list[str] = []
        self.turns: list[float] = []

    def probe(self, path: Path) -> None:
        assert path == self.path
        self.done.append("probe")

    def survey(self, path: Path) -> Any:
        self.done.append("survey")
        return self.report

    def pcm(self, path: Path, *, sound: Any) -> Iterator[bytes]:
        assert (path, sound) == (self.path, self.report)
        self.done.append("pcm")
        for at in range(0, len(self.sound), QUARTER):
            self.threads.append(threading.current_thread().name)
            self.turns.append(sys.getswitchinterval())
            yield self.sound[at : at + QUARTER]


@pytest.fixture
def speaker() -> Speaker:
    return Speaker()


@pytest.fixture
def recording(tmp_path: Path, speaker: Speaker, monkeypatch: pytest.MonkeyPatch) -> Recording:
    made = Recording(tmp_path / "said.wav", speaker, SAID)
    for name in ("probe", "survey", "pcm"):
        monkeypatch.setattr(f"offbook.audio.{name}", getattr(made, name))
    return made


def hear(recording: Recording, speaker: Speaker, **more: Any) -> Heard:
    loading: Any = Loaded(speaker)
    return listen_to(SCRIPT, str(recording.path), loading, **more)


def test_a_recording_is_checked_heard_and_given_notes(recording: Recording, speaker: Speaker) -> None:
    heard = hear(recording, speaker)
    verdicts = {w.text: w.verdict for w in heard.review.run.words if w.verdict != "said"}
    assert verdicts == {"up": "changed"}
    assert [(n.kind, n.script, n.heard) for n in heard.review.notes] == [("changed", "up", "down")]
    assert (heard.script, heard.words) == (SCRIPT, words_of(SCRIPT))
    assert (heard.recording, heard.recorded_at, heard.sound) == (recording.path, AT, recording.report)
    assert (heard.model, heard.second_ear, heard.pick_ups) == ("told", False, ())
    assert recording.done == LOOKED_FIRST


def test_the_progress_of_a_hearing_is_reported_after_each_piece(
    recording: Recording, speaker: Speaker
) -> None:
    shares: list[float] = []
    hear(recording, speaker, progress=shares.append)
    count = len(recording.sound) / QUARTER
    assert shares == pytest.approx([*(k / count for k in range(1, int(count) + 1)), 1.0])


def test_sound_is_decoded_ahead_on_a_separate_thread_unless_only_one_core_is_used(
    recording: Recording, speaker: Speaker
) -> None:
    """Threads switch more often during a hearing and as usual afterwards."""
    usual = sys.getswitchinterval()
    sys.setswitchinterval(0.004)
    try:
        apart = hear(recording, speaker)
        assert sys.getswitchinterval() == pytest.approx(0.004)
    finally:
        sys.setswitchinterval(usual)
    assert all(name.startswith("decoding") for name in recording.threads)
    assert recording.turns == pytest.approx([0.0005] * len(recording.turns))
    recording.threads.clear()
    together = hear(recording, speaker, one_core=True)
    assert set(recording.threads) == {threading.current_thread().name}
    assert together.review.run == apart.review.run


def test_sound_that_was_already_measured_is_not_measured_again(
    recording: Recording, speaker: Speaker
) -> None:
    hear(recording, speaker, sound=recording.report)
    assert recording.done == ["probe", "pcm"]


def test_a_prompt_that_was_only_shown_is_noted(recording: Recording, speaker: Speaker) -> None:
    start = len(speaker.say("nobody asked me to / i carried it down")) / 32_000
    shown = Aside("prompt", 8, "and", start - 0.01, start, words=(8, 8))
    heard = hear(recording, speaker, prompts=[shown])
    assert [(n.kind, n.script) for n in heard.review.notes] == [("changed", "up"), ("prompted", "and")]


def test_with_a_second_ear_both_models_are_named(recording: Recording, speaker: Speaker) -> None:
    class Two(Loaded):
        def result(self) -> Any:
            return replace(super().result(), second=TableEar())

    loading: Any = Two(speaker)
    heard = listen_to(SCRIPT, recording.path, loading)
    assert (heard.model, heard.second_ear) == ("told and table", True)


def test_a_file_that_is_no_recording_is_refused_before_the_models_are_loaded(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(path: Path) -> None:
        raise RecordingError("not a recording", "name another")

    class Never:
        def result(self) -> None:
            raise AssertionError("the models were waited for")

    loading: Any = Never()
    monkeypatch.setattr("offbook.audio.probe", refused)
    with pytest.raises(RecordingError, match="not a recording"):
        listen_to(SCRIPT, recording.path, loading)


def test_a_recording_too_short_for_the_words_of_the_script_is_refused(
    recording: Recording, speaker: Speaker
) -> None:
    """Thirteen words in two seconds: more than six a second."""
    recording.report = replace(recording.report, seconds=2.0, claimed=None)
    with pytest.raises(RecordingError, match=r"is only 2\.0 s long: too short for this script"):
        hear(recording, speaker)
    recording.report = replace(recording.report, seconds=2.2)
    assert hear(recording, speaker).sound.seconds == 2.2


def test_a_script_file_and_a_recording_are_read_and_heard_in_one_call(
    tmp_path: Path, recording: Recording, speaker: Speaker, own_home: Path
) -> None:
    script = tmp_path / "stairs.txt"
    script.write_text(SCRIPT.text)
    loading: Any = Loaded(speaker)
    shares: list[float] = []
    named: list[str | None] = []

    class Named(Loaded):
        def __init__(self, name: str | None) -> None:
            named.append(name)
            super().__init__(speaker)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("offbook.desk.listening.Loading", Named)
        heard = listen(str(script), str(recording.path), progress=shares.append)
        listen(str(script), str(recording.path), model="large")
        given: Any = Named("given")
        listen(str(script), str(recording.path), model=given)
    assert named == [None, "large", "given"] and loading.result().second is None
    assert heard.script.text == SCRIPT.text and shares[-1] == 1.0


def test_by_default_a_hearing_has_an_easy_voice_two_ears_and_no_partner(
    recording: Recording, speaker: Speaker
) -> None:
    heard = hear(recording, speaker)
    plain = Heard(SCRIPT, heard.words, heard.recording, AT, "told", CLEAR, heard.review)
    assert (plain.hard, plain.second_ear, plain.pick_ups) == (0.0, True, ())


# Its parts --------------------------------------------------------------------------------------------


def test_the_time_of_a_recording_is_in_utc_and_a_file_that_disappeared_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "said.wav"
    path.touch()
    os.utime(path, (AT.timestamp(), AT.timestamp()))
    assert _written_at(path) == AT and _written_at(path).tzinfo is UTC
    path.unlink()
    with pytest.raises(RecordingError) as caught:
        _written_at(path)
    assert caught.value.what == f"{path} disappeared while it was being heard"
    assert caught.value.do == "put it back, and run the command again"


def test_the_progress_never_exceeds_1_and_is_1_for_a_recording_without_sound() -> None:
    shares: list[float] = []
    chunks = [bytes(16_000), bytes(16_000), bytes(32_000)]
    assert list(_counted(chunks, 1.6, shares.append)) == chunks
    assert shares == pytest.approx([0.3125, 0.625, 1.0])
    shares.clear()
    list(_counted(chunks[:1], 0.0, shares.append))
    assert shares == [1.0]


def test_at_most_a_hundred_and_twenty_pieces_are_decoded_ahead() -> None:
    """Half a minute of sound; what fails in the other thread fails here, after the pieces before it."""
    made: list[int] = []
    full = threading.Event()

    def chunks() -> Iterator[bytes]:
        for k in range(200):
            made.append(k)
            if k == 120:
                full.set()  # this one waits for room
            yield bytes([k])

    with _ahead(chunks()) as stream:
        assert full.wait(10)
        assert len(made) == 121
        assert b"".join(stream) == bytes(range(200))

    def broken() -> Iterator[bytes]:
        yield b"one"
        raise RecordingError("damaged", "copy it again")

    got: list[bytes] = []
    with pytest.raises(RecordingError, match="damaged"), _ahead(broken()) as stream:
        got += stream
    assert got == [b"one"]


def test_a_caller_that_stops_reading_does_not_wait_for_the_remaining_pieces() -> None:
    made: list[int] = []

    def endless() -> Iterator[bytes]:
        while True:
            made.append(1)
            yield b"x"

    with pytest.raises(KeyError), _ahead(endless()) as stream:
        next(stream)
        raise KeyError
    assert len(made) < 1_000
