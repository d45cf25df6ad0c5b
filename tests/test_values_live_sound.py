"""A microphone and a speaking program, both replaced: how they are called and what they answer."""

from __future__ import annotations

import io
import os
import signal
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from queue import Empty
from threading import Thread
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from offbook.desk.live_sound import Microphone, ProgramSound, microphone_for, microphone_library
from offbook.desk.voices import NoVoice, ProgramVoice, speaking_command, split_command
from offbook.errors import OffbookError, RecordingError

RECORD = "record -r 16000 FILE"


class Program:
    """A program that was started: what it was started with, and what was done with it.

    writes: what it writes into the file that is its last word, None where it opens none; ends: the status
    with which it has ended, None while it runs; says: on its error output.
    """

    def __init__(self, call: list[str], writes: bytes | None, ends: int | None, says: bytes) -> None:
        self.call, self.ends, self.stderr = call, ends, io.BytesIO(says)
        self.done: list[Any] = []
        self.deaf = False
        if writes is not None:
            Thread(target=lambda: Path(call[-1]).write_bytes(writes)).start()

    def poll(self) -> int | None:
        return self.ends

    def send_signal(self, number: int) -> None:
        self.done.append(number)

    def wait(self, timeout: float | None = None) -> None:
        self.done.append(("wait", timeout))
        if self.deaf and timeout is not None:
            raise subprocess.TimeoutExpired("record", timeout)

    def kill(self) -> None:
        self.done.append("kill")

    def terminate(self) -> None:
        self.done.append("terminate")


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[Program]]:
    """Gives the programs that are started from now on, none of which is a process."""

    def begin(writes: bytes | None = None, ends: int | None = None, says: bytes = b"") -> list[Program]:
        programs: list[Program] = []

        def start(call: list[str], *, stdin: int, stdout: int, stderr: int) -> Program:
            assert (stdin, stdout, stderr) == (subprocess.DEVNULL, subprocess.DEVNULL, subprocess.PIPE)
            programs.append(Program(call, writes, ends, says))
            return programs[-1]

        monkeypatch.setattr(subprocess, "Popen", start)
        return programs

    return begin


# The microphone of the machine ------------------------------------------------------------------------


class PortAudioError(Exception):
    """As the library has it."""


def test_the_microphone_gives_pieces_of_a_tenth_of_a_second_until_it_is_closed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[Any] = []

    class Stream:
        def __init__(self, *given: Any, **named: Any) -> None:
            self.given, self.named, self.closed = given, named, False
            made.append(self)

        def start(self) -> None:
            for piece in (b"\x01\x02" * 1_600, memoryview(b"\x03\x04" * 1_600)):
                self.named["callback"](piece, 1_600, None, None)

        def close(self) -> None:
            self.closed = True

    library = SimpleNamespace(RawInputStream=Stream, PortAudioError=PortAudioError)
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    assert microphone_library() is library
    microphone = microphone_for(None)
    assert isinstance(microphone, Microphone)
    (stream,) = made
    assert stream.given == (16_000,)
    assert (stream.named["channels"], stream.named["dtype"], stream.named["blocksize"]) == (1, "int16", 1_600)
    microphone.close()
    assert stream.closed
    assert list(microphone.pieces()) == [(b"\x01\x02" * 1_600, 16_000), (b"\x03\x04" * 1_600, 16_000)]


def test_a_microphone_that_cannot_be_opened_or_stops_is_reported_in_two_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refused(*given: Any, **named: Any) -> None:
        raise PortAudioError("no default input device")

    library = SimpleNamespace(RawInputStream=refused, PortAudioError=PortAudioError)
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    with pytest.raises(RecordingError) as caught:
        Microphone()
    assert str(caught.value).splitlines() == [
        "the microphone cannot be read: no default input device",
        "plug one in, or allow this program to use it",
    ]

    def nothing(timeout: float) -> None:
        assert timeout == 5.0
        raise Empty

    silent = Microphone.__new__(Microphone)
    silent._come = SimpleNamespace(get=nothing)  # type: ignore[assignment]
    with pytest.raises(RecordingError) as caught:
        next(silent.pieces())
    assert str(caught.value).splitlines() == [
        "the microphone has given no sound for 5 seconds",
        "see that it is plugged in; what was recorded until then is kept",
    ]


def test_without_the_sound_library_or_portaudio_the_error_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class WithoutPortAudio:
        def find_spec(self, name: str, *more: Any) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(RecordingError) as caught:
        microphone_library()
    assert str(caught.value).splitlines() == [
        "the microphone cannot be read: sounddevice or PortAudio is missing",
        "install both (README, A microphone), speak on `offbook page`, or give --record-with PROGRAM",
    ]
    monkeypatch.delitem(sys.modules, "sounddevice")
    monkeypatch.setattr(sys, "meta_path", [WithoutPortAudio(), *sys.meta_path])
    with pytest.raises(RecordingError, match="PortAudio is missing"):
        microphone_library()


# A recording program ----------------------------------------------------------------------------------


def wav(sound: bytes, rate: int, channels: int, kind: int = 1) -> bytes:
    """A WAVE file; its sizes are those of a program that does not know yet how long it will record.

    kind: 1 for whole numbers, 0xFFFE where more is said of the channels (WAVE_FORMAT_EXTENSIBLE).
    """
    form = struct.pack("<HHIIHH", kind, channels, rate, 2 * channels * rate, 2 * channels, 16)
    unknown = struct.pack("<I", 2**31)
    return b"RIFF" + unknown + b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + unknown + sound


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """No file ever becomes ready; the list has how long each look should have waited (s)."""
    waited: list[float] = []

    def nothing_yet(read: list[int], write: list[int], failed: list[int], seconds: float) -> Any:
        waited.append(seconds)
        return [], [], []

    monkeypatch.setattr("offbook.desk.live_sound.select.select", nothing_yet)
    return waited


def heard_of(sound: ProgramSound) -> list[tuple[bytes, int]]:
    found = list(sound.pieces())
    sound.close()
    return found


def test_a_recording_program_is_read_a_tenth_of_a_second_at_a_time(
    started: Callable[..., list[Program]],
) -> None:
    """The rate is the program's own; a shorter last piece comes too."""
    sound = np.arange(10_000, dtype="<i2").tobytes()
    programs = started(wav(sound, 44_100, 1))
    pieces = heard_of(ProgramSound(RECORD))
    assert [(len(piece), rate) for piece, rate in pieces] == [
        (8_820, 44_100), (8_820, 44_100), (2_360, 44_100),
    ]  # fmt: skip
    assert b"".join(piece for piece, _ in pieces) == sound
    (program,) = programs
    assert program.call[:-1] == ["record", "-r", "16000"]
    assert program.call[-1].endswith("/sound.wav") and not Path(program.call[-1]).parent.exists()


def test_two_channels_become_their_mean_and_sound_without_a_header_is_taken_as_16_khz(
    started: Callable[..., list[Program]],
) -> None:
    stereo = np.array([[100, 300], [-7, -9]] * 480, "<i2").tobytes()
    for kind in (1, 0xFFFE):
        started(wav(stereo, 4_800, 2, kind))
        pieces = heard_of(ProgramSound(RECORD))
        assert pieces == [(np.array([200, -8] * 240, "<i2").tobytes(), 4_800)] * 2
    plain = np.arange(2_000, dtype="<i2").tobytes()
    started(plain + b"\x07")  # and half a sample
    assert heard_of(ProgramSound(RECORD)) == [(plain[:3_200], 16_000), (plain[3_200:], 16_000)]


def test_a_wav_header_without_a_format_or_without_sound_is_refused_in_two_lines(
    started: Callable[..., list[Program]],
) -> None:
    """A header with a format and no sound, and one with sound and no format."""
    for head in (wav(b"", 8_000, 1).replace(b"data", b"junk"), wav(b"", 8_000, 1).replace(b"fmt ", b"junk")):
        started(head + bytes(5_000))
        sound = ProgramSound(RECORD)
        with pytest.raises(RecordingError) as caught:
            list(sound.pieces())
        sound.close()
        assert str(caught.value).splitlines() == [
            "the recording program writes sound in a format that is not known",
            "make it write 16-bit WAV",
        ]


@pytest.mark.parametrize(
    ("says", "more"), [(b"", ""), (b"opening card 0\nno such device\n", ": no such device")]
)
def test_a_program_that_ends_without_sound_is_reported_with_its_last_message(
    started: Callable[..., list[Program]], looks: list[float], says: bytes, more: str
) -> None:
    """One that never opens its file is not waited for."""
    started(None, 1, says)
    sound = ProgramSound(RECORD)
    with pytest.raises(RecordingError) as caught:
        heard_of(sound)
    assert looks == [0.05]
    assert str(caught.value).splitlines() == [
        f"the recording program gave no sound{more}",
        "try the program by itself first",
    ]
    sound.close()


def test_offbook_waits_five_seconds_for_a_program_that_does_not_open_its_file(
    started: Callable[..., list[Program]], looks: list[float]
) -> None:
    started(None, None)
    sound = ProgramSound(RECORD)
    with pytest.raises(RecordingError, match="gave no sound"):
        list(sound.pieces())
    assert looks == [0.05] * 100
    sound.close()


def test_a_recording_program_is_asked_to_stop_and_killed_if_it_does_not(
    started: Callable[..., list[Program]],
) -> None:
    """It is stopped by an interrupt, as a person would; a program that has ended is not signalled."""
    programs = started(None, None)
    ProgramSound(RECORD).close()
    deaf = ProgramSound(RECORD)
    programs[1].deaf = True
    deaf.close()
    ended = ProgramSound(RECORD)
    programs[2].ends = 0
    ended.close()
    assert [p.done for p in programs] == [
        [signal.SIGINT, ("wait", 5.0)],
        [signal.SIGINT, ("wait", 5.0), "kill", ("wait", None)],
        [("wait", 5.0)],
    ]
    assert [Path(p.call[-1]).parent.exists() for p in programs] == [False] * 3


def test_a_recording_program_that_cannot_be_used_is_refused_in_two_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with pytest.raises(RecordingError) as caught:
        microphone_for("record file.wav")
    assert str(caught.value).splitlines() == [
        "the recording program has no FILE in it: record file.wav",
        'write FILE where its file is named, as in "arecord -q -f S16_LE -r 16000 FILE"',
    ]
    tried: list[str] = []

    def missing(call: list[str], **named: Any) -> None:
        tried.append(call[-1])
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr(subprocess, "Popen", missing)
    with pytest.raises(RecordingError) as caught:
        microphone_for("record --to=FILE")
    assert str(caught.value).splitlines() == [
        "cannot start record: No such file or directory",
        "name a recording program that is installed",
    ]
    assert tried[0].startswith("--to=/") and not Path(tried[0].removeprefix("--to=")).parent.exists()
    monkeypatch.delattr(os, "mkfifo")
    with pytest.raises(RecordingError) as caught:
        microphone_for(RECORD)
    assert str(caught.value).splitlines() == [
        "a recording program cannot be listened to while it records on this system",
        "install sounddevice (README, A microphone) and leave --record-with out",
    ]


# A voice ----------------------------------------------------------------------------------------------


def test_the_first_speaking_program_that_is_installed_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    there: set[str] = set()
    monkeypatch.setattr("shutil.which", lambda name: f"/usr/bin/{name}" if name in there else None)
    assert speaking_command(None) is None
    for name, command in (
        ("say", "say TEXT"),
        ("spd-say", "spd-say -w TEXT"),
        ("espeak", "espeak TEXT"),
        ("espeak-ng", "espeak-ng TEXT"),
    ):
        there.add(name)
        assert speaking_command(None) == command


def test_a_custom_speaking_command_must_say_where_the_words_belong() -> None:
    for right in ("speak TEXT", "speak -s '140' --words=TEXT"):
        assert speaking_command(right) == right
    for wrong in ("speak", "TEXT", "TEXT -s 140"):
        with pytest.raises(OffbookError) as caught:
            speaking_command(wrong)
        assert str(caught.value).splitlines() == [
            f"the speaking program has no TEXT in it: {wrong}",
            'write TEXT where the words to be spoken belong, as in "espeak-ng TEXT"',
        ]
    with pytest.raises(OffbookError) as caught:
        speaking_command("speak 'TEXT")
    assert str(caught.value).splitlines() == [
        "the command cannot be read: No closing quotation",
        'write it as in "espeak-ng TEXT"',
    ]
    assert split_command("speak 'two words'", "speak") == ["speak", "two words"]


def test_a_line_is_one_argument_of_the_speaking_command_and_never_an_option(
    started: Callable[..., list[Program]],
) -> None:
    programs = started()
    voice = ProgramVoice("TEXT-reader --say=TEXT, TEXT")
    assert voice.over()
    voice.begin("--help me 'up'", 3)
    assert programs[0].call == ["TEXT-reader", "--say=help me 'up',", "help me 'up'"]
    assert not voice.over()
    programs[0].ends = 0
    assert voice.over() and voice.over()


def test_a_new_line_stops_the_one_before_it_unless_that_has_already_ended(
    started: Callable[..., list[Program]],
) -> None:
    programs = started()
    voice = ProgramVoice("speak TEXT")
    voice.stop()
    voice.begin("one", None)
    voice.begin("two", None)
    programs[1].ends = 0
    voice.begin("three", None)
    voice.stop()
    assert [p.done for p in programs] == [["terminate", ("wait", None)], [], ["terminate", ("wait", None)]]
    assert voice.over()


@pytest.mark.parametrize(("says", "why"), [(b"", "exit status 3"), (b"no card\nno sound\n", "no sound")])
def test_a_speaking_program_that_fails_is_reported_once_with_the_reason(
    started: Callable[..., list[Program]], says: bytes, why: str
) -> None:
    started(None, 3, says)
    voice = ProgramVoice("speak TEXT")
    voice.begin("one", 1)
    with pytest.raises(OffbookError) as caught:
        voice.over()
    assert str(caught.value).splitlines() == [
        f"speak failed: {why}",
        "try it by itself on a short text; what you said is kept",
    ]
    assert voice.over()


def test_a_missing_speaking_program_is_reported_in_two_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(call: list[str], **named: Any) -> None:
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr(subprocess, "Popen", missing)
    with pytest.raises(OffbookError) as caught:
        ProgramVoice("speak TEXT").begin("one", 1)
    assert str(caught.value).splitlines() == [
        "cannot start speak: No such file or directory",
        "name a program that is installed",
    ]


def test_without_a_voice_a_line_lasts_as_long_as_reading_it_takes_and_a_prompt_takes_no_time() -> None:
    """150 words a minute: two and a half a second."""
    now = [0.0]
    voice = NoVoice(lambda: now[0])
    assert voice.over()
    voice.begin("Who kept the old lamp?", 0)
    assert [voice.over() for now[0] in (0.0, 1.99, 2.0, 0.5)] == [False, False, True, False]
    voice.begin("and the lamp", None)
    assert voice.over()
    voice.begin("Who kept the old lamp?", 1)
    voice.stop()
    assert voice.over()
