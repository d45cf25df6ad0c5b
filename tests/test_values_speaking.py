"""What is being spoken into the page: who may speak, what is kept, what is heard once more, and when.

Nothing waits here: the clock is put forward by each sleep.
"""

from __future__ import annotations

import math
import time
import wave
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any, ClassVar

import numpy as np
import pytest

from offbook.errors import JournalError, RecordingError
from offbook.notes import Aside
from offbook.page import speaking as module
from offbook.page.capture import begin, there
from offbook.page.speaking import OpenCapture, Speaking, _at_rate, write_wav
from offbook.page.turns import Job, Turns
from offbook.partner import Manners, Patience, Played
from tests.journals import Clock, script_of

RATE = 16_000
PIECE = 8_000  # bytes of a quarter of a second
SCRIPT, WORDS, _ = script_of("Nobody asked me to.\nI carried it up.\n")
WITH_PARTNER = Manners(Patience(silence=2.0), aloud=True)


class Passing:
    """Time that passes when somebody sleeps, and only then. at_sleep: is called with each sleep (s)."""

    def __init__(self) -> None:
        self.now = time.monotonic()
        self.slept: list[float] = []
        self.at_sleep: Callable[[], object] = lambda: None

    def monotonic(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds
        self.slept.append(seconds)
        self.at_sleep()


class Ear:
    """A live hearing that lists what it is given; `made` lists them all.

    gives: what it has heard of the whole; share: how much of it so far.
    """

    made: ClassVar[list[Ear]] = []

    def __init__(
        self,
        version: Any,
        loading: Any,
        manners: Manners | None = None,
        keep: Any = None,
        before: float = 0.0,
        given: Any = (),
        played: Any = (),
    ) -> None:
        self.given = (version, loading, manners, keep, before, given, played)
        self.with_partner, self.partner_spoke, self.unsent, self.share = (
            manners is not None,
            False,
            0.0,
            0.625,
        )
        self.prompts = (Aside("prompt", 1, "asked", 1.0, 2.0),)
        self.done: list[Any] = []
        self.gives: Future[Any] = Future()
        Ear.made.append(self)

    def feed(self, rate: int, sound: bytes) -> None:
        self.done.append((rate, sound))

    def tell(self, told: Any) -> None:
        self.done.append(told)

    def end(self) -> None:
        self.done.append("end")

    def drop(self) -> None:
        self.done.append("drop")

    def judge(self, recording: Path) -> Future[Any]:
        self.done.append(recording.name)
        return self.gives

    def has_heard(self, gain: float = 0.0, background: Any = None) -> None:
        """It is through, and this is the sound."""
        self.gives.set_result(SimpleNamespace(sound=SimpleNamespace(gain=gain, background=background)))

    def has_failed(self, what: str = "no sound") -> None:
        """It can make nothing of it."""
        self.gives.set_exception(RecordingError(what, "speak up"))


class OneRoom:
    """A room with two pieces; lists what it was asked to keep, to commit and to hear again."""

    def __init__(self, home: Path) -> None:
        self.pieces = [SimpleNamespace(id=f"piece-{n}", name="The lamp", performer_id="mara") for n in "ab"]
        self.version: Any = SimpleNamespace(id="draft", script=SCRIPT, words=WORDS)
        clock = Clock()
        self.journal: Any = SimpleNamespace(home=home, clock=clock, reading=self._reading)
        self.loading: Any = "the models"
        self.turns = Turns()
        self.stored: Any = "stored"
        self.done: list[tuple[Any, ...]] = []

    @contextmanager
    def _reading(self) -> Iterator[OneRoom]:
        yield self

    def keep(self, piece: Any, source: Path, at: Any) -> Any:
        with wave.open(str(source)) as sound:
            self.done.append(("keep", piece.id, source.name, sound.getnframes(), at))
        return self.stored

    def commit(self, piece: Any, version: Any, heard: Any, stored: Any) -> str:
        self.done.append(("commit", piece.id, version.id, heard.sound.gain, stored))
        return "run"

    def hear_again(
        self,
        job: Job,
        piece: Any,
        version: Any,
        path: Path,
        stored: Any,
        sound: Any = None,
        prompts: Any = (),
    ) -> str:
        self.done.append(("again", piece.id, version.id, path.name, stored, sound.gain, prompts))
        return "run heard again"


@pytest.fixture
def passing(monkeypatch: pytest.MonkeyPatch) -> Passing:
    made = Passing()
    monkeypatch.setattr(module, "time", made)
    return made


@pytest.fixture
def room(tmp_path: Path, passing: Passing, monkeypatch: pytest.MonkeyPatch) -> OneRoom:
    made = OneRoom(tmp_path)
    found = SimpleNamespace(pieces_of=lambda conn: conn.pieces, version_of=lambda conn, key: conn.version)
    monkeypatch.setattr(module, "journals", found)
    monkeypatch.setattr(module, "Live", Ear)
    monkeypatch.setattr(Ear, "made", [])
    return made


@pytest.fixture
def speaking(room: OneRoom) -> Speaking:
    return Speaking(room)


def begun(speaking: Speaking, room: OneRoom, n: int = 0, manners: Manners | None = None) -> OpenCapture:
    """A capture of the piece with this number, with no sound in it."""
    piece: Any = room.pieces[n]
    return speaking.begin(piece, room.version, RATE, manners)[0]


def key_of(spoken: OpenCapture) -> str:
    return spoken.capture.about.key


# Who may speak ----------------------------------------------------------------------------------------


def test_a_capture_counts_as_recording_until_four_seconds_after_its_last_piece(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    piece: Any = room.pieces[0]
    spoken, spell = speaking.begin(piece, room.version, RATE)
    about = spoken.capture.about
    assert (spell.number, spell.rate) == (0, RATE)
    assert (about.piece_id, about.version_id, about.at) == ("piece-a", "draft", room.journal.clock())
    assert spoken.capture.folder == room.journal.home / "spoken" / "piece-a" / about.key
    assert speaking.home == room.journal.home / "spoken"
    passing.now = 1_000.0
    spoken.note_piece(0)
    passing.now += 4
    assert not spoken.alive
    passing.now -= 0.1
    assert speaking.open_now() == [spoken] and speaking.left() == []
    assert speaking.still_open("piece-a") == about.key and speaking.still_open("piece-b") is None
    passing.now += 0.1
    assert speaking.open_now() == [] and speaking.still_open("piece-a") is None
    assert [c.about.key for c in speaking.left()] == [about.key]
    assert [c.about.key for c in speaking.left("piece-a")] == [about.key] and speaking.left("piece-b") == []


def test_a_second_window_is_refused_once_sound_surely_still_arrives(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    """A piece that comes within a second may have been on its way; one that comes later was not."""
    first = begun(speaking, room)
    passing.at_sleep = lambda: first.note_piece(0)
    with pytest.raises(RecordingError) as caught:
        begun(speaking, room, 1)
    assert str(caught.value).splitlines() == [
        "another window of this page is recording",
        "stop there first, or wait a few seconds",
    ]
    assert set(passing.slept) == {0.05} and len(passing.slept) in (20, 21)
    assert len(there(speaking.home)) == 1


def test_a_new_recording_waits_for_a_window_that_was_closed_a_moment_ago(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    """Four seconds at most, and not at all where it said that it was being closed."""
    first = begun(speaking, room)
    passing.now = first.last
    second = begun(speaking, room, 1)
    assert passing.slept == [0.05] * len(passing.slept) and 80 <= len(passing.slept) <= 81
    passing.slept.clear()
    second.leave()
    begun(speaking, room)
    assert passing.slept == []


def test_sound_still_on_its_way_when_its_window_closed_blocks_nobody(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    spoken = begun(speaking, room)
    spoken.leave()
    assert spoken.last == 0.0
    spoken.note_piece(0)
    assert not spoken.alive
    _, spell = speaking.go_on(key_of(spoken), 48_000)
    assert (spell.number, spell.rate) == (1, 48_000) and spoken.alive
    passing.now += 10
    spoken.note_piece(0)
    assert not spoken.alive
    spoken.note_piece(1)
    assert spoken.alive


def test_the_question_whether_a_capture_is_closed_is_answered_within_twenty_seconds(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    spoken = begun(speaking, room)
    passing.at_sleep = lambda: spoken.note_piece(0)
    assert speaking.closed("another key") and passing.slept == []
    assert not speaking.closed(key_of(spoken))
    assert 400 <= len(passing.slept) <= 402
    passing.slept.clear()

    def third() -> None:
        if len(passing.slept) == 3:
            spoken.leave()

    passing.at_sleep = third
    assert speaking.closed(key_of(spoken)) and len(passing.slept) == 3


# What is sent -----------------------------------------------------------------------------------------


def with_sound(speaking: Speaking, room: OneRoom, pieces: int = 2) -> tuple[str, Ear]:
    """The key of a capture with some quarters of a second in it, and the ear that hears it."""
    spoken = begun(speaking, room)
    for n in range(pieces):
        speaking.add(key_of(spoken), 0, n, bytes([n + 1]) * PIECE, last=False)
    return key_of(spoken), Ear.made[-1]


def test_each_piece_of_sound_is_written_and_heard_once_and_in_order(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    key, ear = with_sound(speaking, room, 0)
    passing.now += 3
    sound = b"\x01" * PIECE + b"\x02" * PIECE + b"\x03" * 100
    spoken, wanted = speaking.add(key, 0, 0, sound[: 2 * PIECE], last=False, unsent=6)
    assert (wanted, ear.unsent, spoken.last) == (2, 1.5, passing.now)
    passing.now += 1
    assert speaking.add(key, 0, 0, sound[:PIECE], last=False)[1] == 2  # sent twice
    assert (ear.unsent, spoken.last) == (0.0, passing.now - 1)
    assert speaking.add(key, 0, 2, sound[2 * PIECE :], last=True)[1] == 3
    assert ear.done == [(RATE, sound[:PIECE]), (RATE, sound[PIECE : 2 * PIECE]), (RATE, sound[2 * PIECE :])]
    assert spoken.capture.about.ended and spoken.capture.seconds == pytest.approx(0.5 + 50 / RATE)


def test_sound_that_comes_after_the_end_is_kept_but_not_heard(speaking: Speaking, room: OneRoom) -> None:
    key, ear = with_sound(speaking, room, 1)
    speaking.end(key)
    spoken, wanted = speaking.add(key, 0, 1, b"\x02" * PIECE, last=False)
    assert wanted == 2 and spoken.capture.seconds == 0.5
    assert ear.done[:2] == [(RATE, b"\x01" * PIECE), "end"]
    assert (RATE, b"\x02" * PIECE) not in ear.done and not spoken.alive
    ear.has_failed()


def test_the_live_hearing_gets_the_text_the_models_and_the_manners_of_the_partner(
    speaking: Speaking, room: OneRoom
) -> None:
    spoken = begun(speaking, room, manners=WITH_PARTNER)
    assert Ear.made[0].given == (
        room.version, "the models", WITH_PARTNER, spoken.capture.keep_partner, 0.0, (), (),
    )  # fmt: skip
    assert spoken.piece.id == "piece-a" and spoken.version is room.version and spoken.job is None


# What becomes of it -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gain", "background", "partner_spoke", "again"),
    [
        (28.0, None, False, False),
        (28.1, None, False, True),
        (0.0, "a fan", False, True),
        (30.0, "a fan", True, False),
    ],
)
def test_a_very_soft_or_noisy_recording_is_heard_again_unless_the_partner_spoke_in_it(
    speaking: Speaking, room: OneRoom, gain: float, background: Any, partner_spoke: bool, again: bool
) -> None:
    """It is kept first of all. 28 dB is the most that the live hearing makes a voice louder."""
    key, ear = with_sound(speaking, room)
    ear.partner_spoke = partner_spoke
    job = speaking.end(key)
    ear.has_heard(gain, background)
    assert job.over.wait(10)
    kept = ("keep", "piece-a", "spoken.wav", RATE // 2, room.journal.clock())
    heard: tuple[Any, ...] = ("commit", "piece-a", "draft", gain, "stored")
    if again:
        heard = ("again", "piece-a", "draft", "spoken.wav", "stored", gain, ear.prompts)
    assert room.done == [kept, heard]
    assert (job.state, job.result) == ("done", "run heard again" if again else "run")
    assert (job.owner, job.piece, job.what, job.screen) == ("mara", "piece-a", "The lamp", "notes")
    assert ear.done[2:] == ["end", "spoken.wav", "drop"]
    assert there(speaking.home) == [] and list(speaking.home.glob("*/*")) == []


def test_asking_again_to_end_a_capture_gives_the_same_job(speaking: Speaking, room: OneRoom) -> None:
    key, ear = with_sound(speaking, room)
    first = speaking.end(key)
    spoken = speaking.spoken(key)
    assert speaking.end(key) is first and first.key == key
    assert spoken.being_judged and speaking.left() == [] and spoken.capture.about.ended
    ear.has_heard()
    assert first.over.wait(10) and not spoken.being_judged
    assert speaking.end(key) is first
    assert ear.done.count("end") == 1


@pytest.mark.parametrize("stored", ["stored", None])
def test_a_recording_that_cannot_be_heard_stays_unless_the_journal_has_a_copy(
    speaking: Speaking, room: OneRoom, stored: str | None
) -> None:
    """The message names the recording, and not our own file of it."""
    room.stored = stored
    key, ear = with_sound(speaking, room)
    path = speaking.spoken(key).capture.folder / "spoken.wav"
    job = speaking.end(key)
    ear.has_failed(f"{path} is silent")
    assert job.over.wait(10) and job.problem is not None
    assert (job.state, job.problem.what, job.problem.do) == ("failed", "the recording is silent", "speak up")
    assert [name for name, *_ in room.done] == ["keep"] and ear.done[-1] == "drop"
    assert [c.about.key for c in speaking.left()] == ([] if stored else [key])
    if stored is None:
        again = speaking.end(key)  # from the sound on the disk, by a new ear
        new = Ear.made[-1]
        assert again is not job and new is not ear and new.done[:2] == ear.done[:2]
        new.has_heard()
        assert again.over.wait(10) and again.result == "run"


def test_a_hearing_reports_its_progress_and_can_be_stopped(
    speaking: Speaking, room: OneRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The share that was told never goes back."""
    monkeypatch.setattr(module, "_STEPS", 0.001)
    key, ear = with_sound(speaking, room)
    job = speaking.end(key)
    while job.share < 0.625:
        job.over.wait(0.001)
    ear.share = 0.25
    job.over.wait(0.01)
    assert (job.share, job.state) == (0.625, "hearing")
    job.stop()
    assert job.over.wait(10) and job.state == "stopped"


# What was broken off ----------------------------------------------------------------------------------


def left_behind(room: OneRoom, piece: str = "piece-a", pieces: int = 3) -> str:
    """The key of a capture that an earlier process left on the disk."""
    capture = begin(room.journal.home / "spoken", piece, "draft", Clock()())
    capture.begin_spell(RATE)
    for n in range(pieces):
        capture.add(0, n, bytes(PIECE))
    capture.keep_partner([Aside("prompt", 1, "asked", 0.1, 0.2)], [Played(0, "cue", ("who",), 0.0, 0.25)])
    return capture.about.key


def test_a_partner_that_still_writes_after_a_capture_was_thrown_away_keeps_nothing(room: OneRoom) -> None:
    capture = begin(room.journal.home / "spoken", "piece-a", "draft", Clock()())
    other = begin(room.journal.home / "spoken", "piece-b", "draft", Clock()())
    capture.drop()
    capture.keep_partner([Aside("prompt", 1, "asked", 0.1, 0.2)], [])
    other.keep_partner([Aside("prompt", 1, "asked", 0.1, 0.2)], [])
    assert not capture.folder.exists()
    assert [p.before_word for p in other.partner()[0]] == [1]


def test_a_capture_left_by_an_earlier_process_is_heard_as_far_as_it_goes(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    key = left_behind(room)
    assert speaking.piece_in(key) == "piece-a"
    spoken = speaking.spoken(key)
    assert spoken is speaking.spoken(key) and speaking.piece_in(key) == "piece-a"
    (ear,) = Ear.made
    assert ear.done == [(RATE, bytes(PIECE))] * 3 and spoken.last == 0.0
    version, models, manners, keep, before, given, played = ear.given
    assert (version, models, manners, before) == (room.version, "the models", None, 0.75)
    assert keep == spoken.capture.keep_partner
    assert [p.heard for p in given] == ["asked"] and [p.words for p in played] == [("who",)]
    assert [c.about.key for c in speaking.left()] == [key]


def test_a_capture_that_no_longer_exists_or_lost_its_piece_is_refused_in_two_lines(
    speaking: Speaking, room: OneRoom
) -> None:
    for ask in (speaking.piece_in, speaking.spoken, speaking.end, speaking.drop):
        with pytest.raises(RecordingError) as caught:
            ask("0" * 32)
        assert str(caught.value).splitlines() == ["this recording no longer exists", "begin a new one"]
    with pytest.raises(JournalError) as lost:
        speaking.spoken(left_behind(room, "piece-c"))
    assert str(lost.value).splitlines() == [
        "the piece of this recording was deleted",
        "delete the recording too",
    ]


def test_if_a_partner_is_added_when_going_on_the_earlier_sound_is_heard_again(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    """Without a change the hearing goes on, and is told that it was cut off."""
    key, ear = with_sound(speaking, room, 1)
    spoken = speaking.spoken(key)
    spoken.leave()
    same, spell = speaking.go_on(key, 44_100)
    assert (same, spell.number, spell.rate, same.last) == (spoken, 1, 44_100, passing.now)
    cut_off = ear.done[-1]
    rehearsal = SimpleNamespace(cut_off=lambda: ["cut off"])
    assert cut_off(SimpleNamespace(rehearsal=rehearsal)) == ["cut off"]
    spoken.leave()
    other, spell = speaking.go_on(key, RATE, WITH_PARTNER)
    assert other is not spoken and spell.number == 2 and ear.done[-1] == "drop"
    assert Ear.made[-1].given[2:5] == (WITH_PARTNER, other.capture.keep_partner, 0.25)
    assert Ear.made[-1].done[:-1] == [(RATE, b"\x01" * PIECE)]
    other.leave()
    with pytest.raises(RecordingError, match="a microphone at 100 samples a second"):
        speaking.go_on(key, 100, WITH_PARTNER)
    assert not other.alive and len(Ear.made) == 2


def test_a_capture_cannot_be_continued_while_another_window_records(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    key = left_behind(room)
    other = begun(speaking, room, 1)
    passing.at_sleep = lambda: other.note_piece(0)
    with pytest.raises(RecordingError, match="another window of this page is recording"):
        speaking.go_on(key, RATE)


def test_a_dropped_capture_is_deleted_and_an_open_one_survives_a_stop_of_the_server(
    speaking: Speaking, room: OneRoom, passing: Passing
) -> None:
    judged, judging = with_sound(speaking, room)
    job = speaking.end(judged)
    open_, ear = with_sound(speaking, room, 0)
    speaking.close()
    assert ear.done == ["drop"] and "drop" not in judging.done
    assert {c.about.key for c in there(speaking.home)} == {judged, open_}
    speaking.drop(open_)
    assert ear.done == ["drop", "drop"] and [c.about.key for c in there(speaking.home)] == [judged]
    judging.has_failed()
    assert job.over.wait(10)


# Its sound --------------------------------------------------------------------------------------------


def test_sound_is_resampled_with_straight_lines_between_the_samples() -> None:
    sound = np.array([0, 100, 200, -200], "<i2").tobytes()
    twice = np.frombuffer(_at_rate(sound, 8_000, 16_000), "<i2").tolist()
    assert twice == [0, 50, 100, 150, 200, 0, -200, -200]
    assert np.frombuffer(_at_rate(sound, 16_000, 8_000), "<i2").tolist() == [0, 200]
    assert np.frombuffer(_at_rate(sound, 3, 2), "<i2").tolist() == [0, 150, -200]


def test_the_recording_contains_all_its_parts_at_the_rate_of_the_first(tmp_path: Path) -> None:
    capture = begin(tmp_path, "piece", "draft", Clock()())
    capture.begin_spell(RATE)
    capture.add(0, 0, b"\x01\x00" * 4_000)
    capture.begin_spell(8_000)
    capture.add(1, 0, b"\x02\x00" * 2_000)
    write_wav(capture, tmp_path / "out.wav")
    with wave.open(str(tmp_path / "out.wav")) as out:
        assert (out.getnchannels(), out.getsampwidth(), out.getframerate()) == (1, 2, RATE)
        assert out.readframes(9_000) == b"\x01\x00" * 4_000 + b"\x02\x00" * 4_000
    assert math.isclose(capture.seconds, 0.5)
