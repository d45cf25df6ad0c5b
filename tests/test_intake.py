"""Files that come in: what is not a file, or is too large, is refused in two lines by every reader."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Callable, Iterator
from datetime import UTC
from pathlib import Path

import pytest

from offbook import audio, brief, intake, pencil, script
from offbook.errors import OffbookError, ScriptError, visible
from offbook.journal import read_in
from offbook.models import fetch
from tests.journals import Clock, open_at

Reader = Callable[[Path], object]


def _import(path: Path) -> object:
    return read_in(open_at(path.parent / "home", Clock()), path)


def _set_up(path: Path) -> object:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("OFFBOOK_HOME", str(path.parent / "home"))
        return fetch(archive=path)


READERS: dict[str, Reader] = {
    "script": script.load_script,
    "recording": audio.probe,
    "brief": lambda path: brief.load_brief(path, UTC),
    "pencil file": lambda path: pencil.load_pencil(path, ()),
    "archive": _import,
    "model archive": _set_up,
}


@pytest.fixture
def soon() -> Iterator[None]:
    """Ends a test that would wait for ever."""

    def ended(number: int, frame: object) -> None:
        raise TimeoutError("it waits for something that never comes")

    before = signal.signal(signal.SIGALRM, ended)
    signal.alarm(20)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def _made(what: str, folder: Path) -> Path:
    path = folder / "given"
    if what == "a pipe":
        os.mkfifo(path)
    elif what == "a socket":
        place = socket.socket(socket.AF_UNIX)
        place.bind(str(path))
    elif what == "a device":
        path.symlink_to("/dev/zero")
    else:
        path.mkdir()
    return path


@pytest.mark.skipif(os.name != "posix", reason="only POSIX has these files")
@pytest.mark.parametrize(
    ("kind", "what"),
    [
        (kind, what)
        for kind in READERS
        for what in ("a pipe", "a device", "a socket", "a folder")
        if (kind, what) != ("model archive", "a folder")  # an unpacked model may be given as it is
    ],
)
def test_every_reader_refuses_what_is_not_a_regular_file(
    kind: str, what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, soon: None
) -> None:
    monkeypatch.chdir(tmp_path)  # a socket's path has 108 characters at most
    path = _made(what, Path())
    with pytest.raises(OffbookError, match=f"is {what}") as caught:
        READERS[kind](path.absolute() if what != "a socket" else path)
    assert caught.value.do


@pytest.mark.parametrize("kind", READERS)
@pytest.mark.heavy
def test_a_file_above_its_size_limit_is_refused_unless_the_person_raises_the_limit(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "given"
    path.write_bytes(b"x" * 2_100_000)
    monkeypatch.setattr(intake, "most_of", lambda kind: intake.at_least(2_000_000))
    with pytest.raises(OffbookError, match=r"has 3 MB.*may have up to 2 MB") as caught:
        READERS[kind](path)
    assert "--largest 3" in caught.value.do
    with intake.allowing(3):
        try:
            READERS[kind](path)
        except OffbookError as e:
            assert "may have up to" not in e.what


def test_size_limits_are_only_raised_and_return_to_their_values_afterwards() -> None:
    with intake.allowing(200):
        assert intake.most_of(intake.SCRIPT) == 200_000_000
        assert intake.most_of(intake.RECORDING) == intake.RECORDING.most == 16_000_000_000
    assert intake.most_of(intake.SCRIPT) == intake.SCRIPT.most == 100_000_000


def test_a_file_that_turns_into_a_pipe_just_before_it_is_opened_is_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, soon: None
) -> None:
    path = tmp_path / "given"
    os.mkfifo(path)
    plain = tmp_path / "plain"
    plain.touch()
    seen = os.stat(plain)
    monkeypatch.setattr(os, "stat", lambda *args, **kwargs: seen)
    with pytest.raises(OffbookError, match="is a pipe"):
        script.load_script(path)


def test_control_characters_are_escaped_in_an_error() -> None:
    name = "a\x1b]0;owned\x07\nb\x9b31m\u202e\udcff.txt"
    told = OffbookError(f"there is no file {name}", "check the name")
    assert told.what == r"there is no file a\x1b]0;owned\x07\nb\x9b31m\u202e\udcff.txt"
    assert visible("café – Zoë’s 木\u00a0x") == "café – Zoë’s 木\u00a0x"


def test_for_a_file_given_without_its_ending_the_error_names_the_full_file_name(tmp_path: Path) -> None:
    (tmp_path / "viola speech.txt").write_text("I left no ring with her.")
    with pytest.raises(ScriptError, match="there is no file") as e:
        script.load_script(tmp_path / "viola speech")
    assert e.value.do == f"give its whole name: {tmp_path / 'viola speech.txt'}"
    (tmp_path / "viola speech.docx").touch()
    with pytest.raises(ScriptError) as two:
        script.load_script(tmp_path / "viola speech")
    assert two.value.do == "check the name and the folder"
