"""The desk's use cases at their bounds, each value worked out by hand."""

from __future__ import annotations

import sys
import wave
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.desk import write_margin_note
from offbook.desk.live_sound import PIECE_SECONDS
from offbook.desk.spoken_answers import _microphone
from offbook.drill import units_of
from offbook.errors import JournalError, RecordingError
from tests.journals import LAMP, Desk, desk_at, script_of
from tests.test_drill import Mark


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_at(tmp_path)


def test_a_margin_note_may_have_2000_characters_and_its_author_200(desk: Desk) -> None:
    def write(text: str, author: str) -> str:
        _, placed = write_margin_note(desk.journal, "The lamp", None, "2", text, author)
        return f"{placed.note.text}/{placed.note.author}/{placed.line}"

    assert write("x" * 2000, "y" * 200) == f"{'x' * 2000}/{'y' * 200}/2"
    assert write("  two \n words ", " Ivo ") == "two words/Ivo/2"
    for text, author in (
        ("x" * 2001, "Ivo"),
        ("x", "y" * 201),
        (" ", "Ivo"),
        ("x", ""),
        ("\x00", "Ivo"),
        ("x", "\x07"),
    ):
        with pytest.raises(JournalError, match="empty or too long"):
            write(text, author)
    with pytest.raises(JournalError, match="no spoken words at 99"):
        write_margin_note(desk.journal, "The lamp", None, "99", "x", "Ivo")


def test_a_thought_is_named_by_its_first_five_words_or_by_all_if_it_is_shorter() -> None:
    script, words, _ = script_of(LAMP)
    found = units_of(script, words, [Mark(3, 2), Mark(9, 2)])
    texts = [w.text for w in words]
    assert [u.opening for u in found] == [" ".join(texts[:3]), " ".join(texts[3:8]), " ".join(texts[9:14])]
    assert [(u.n, u.key, u.first, u.last, u.words) for u in found] == [
        (0, 0, 0, 2, 3),
        (1, 1, 3, 8, 6),
        (2, 2, 9, len(words) - 1, len(words) - 9),
    ]


class Stream:
    """A microphone that hears two blocks of sound while it is open."""

    def __init__(self, rate: int, *, channels: int, dtype: str, blocksize: int, callback: Any) -> None:
        self.kind, self.callback = (rate, channels, dtype, blocksize), callback

    def start(self) -> None:
        assert self.kind == (16_000, 1, "int16", round(16_000 * PIECE_SECONDS))
        self.callback(b"\x01\x02" * 800, 800, None, None)
        self.callback(b"\x03\x04" * 800, 800, None, None)

    def close(self) -> None:
        self.callback = None


def test_microphone_sound_is_written_unchanged_as_16_bit_mono_at_16_khz(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = type("PortAudioError", (Exception,), {})
    monkeypatch.setitem(
        sys.modules, "sounddevice", SimpleNamespace(RawInputStream=Stream, PortAudioError=failing)
    )
    assert _microphone(lambda: True)(tmp_path / "a.wav") is True
    assert _microphone(lambda: False)(tmp_path / "b.wav") is False
    with wave.open(str(tmp_path / "a.wav")) as found:
        assert (found.getnchannels(), found.getsampwidth(), found.getframerate()) == (1, 2, 16_000)
        assert found.readframes(9999) == b"\x01\x02" * 800 + b"\x03\x04" * 800

    def refuse(*kind: object, **named: object) -> object:
        raise failing("no such device")

    broken = SimpleNamespace(RawInputStream=refuse, PortAudioError=failing)
    monkeypatch.setitem(sys.modules, "sounddevice", broken)
    with pytest.raises(RecordingError, match="no such device"):
        _microphone(lambda: True)(tmp_path / "c.wav")
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(RecordingError, match="PortAudio is missing"):
        _microphone(lambda: True)
