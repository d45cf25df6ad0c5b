"""Recordings from the recorders of browsers and phones, and which users of the machine can read them."""

from __future__ import annotations

import os
import subprocess
import tempfile
from pathlib import Path
from typing import cast

import av
import pytest
from av.audio.stream import AudioStream

from offbook import journal as journals
from offbook.page import PageServer
from tests.browsing import SAID, sentence
from tests.page_screens import heard
from tests.pages import Visitor, add_piece, let_in, mode_of, served

pytestmark = pytest.mark.model
NOBODY = 65_534  # the user of no rights, on Debian as elsewhere


def recorded(target: Path, codec: str, rate: int) -> Path:
    """The reader's sentence as a recorder would have written it."""
    with av.open(str(sentence())) as source, av.open(str(target), "w") as out:
        stream = cast(AudioStream, out.add_stream(codec, rate=rate))
        resampler = av.AudioResampler(format=stream.format, layout="mono", rate=rate)
        stream.layout = "mono"
        for frame in source.decode(audio=0):
            for each in resampler.resample(frame):
                out.mux(stream.encode(each))
        for each in resampler.resample(None):
            out.mux(stream.encode(each))
        out.mux(stream.encode(None))
    return target


@pytest.mark.parametrize(
    ("name", "codec", "rate"),
    [("firefox.ogg", "libopus", 48_000), ("safari.mp4", "aac", 44_100), ("chromium.webm", "libopus", 48_000)],
)
def test_a_recording_of_another_browsers_recorder_is_heard_word_for_word(
    server: PageServer, visitor: Visitor, tmp_path: Path, name: str, codec: str, rate: int
) -> None:
    """Ogg with Opus, MP4 with AAC, WebM with Opus: what MediaRecorder writes in the browsers of today."""
    piece = add_piece(visitor, SAID, name)
    run = heard(visitor, piece, recorded(tmp_path / name, codec, rate))
    with server.room.journal.reading() as conn:
        row = journals.run_of(conn, run)
        [kept] = journals.recordings(conn, piece)
    assert (row.said, row.words) == (8, 8)
    assert Path(kept.path).suffix == f".{name.rpartition('.')[2]}"


def test_another_user_of_the_machine_can_read_neither_the_link_nor_a_recording() -> None:
    """In a folder that everybody may enter; the test acts as another user if it has the right to."""
    with tempfile.TemporaryDirectory() as everybody:
        os.chmod(everybody, 0o755)
        with served(Path(everybody) / "home") as server:
            visitor = let_in(server)
            add_piece(visitor, SAID, "Private")
            home = server.room.home
            files = [p for p in home.rglob("*") if p.is_file()]
            assert files and mode_of(home) & 0o077 == 0
            if os.getuid() == 0:
                assert _as_nobody(f"{server.door.origin}/{server.door.place}/", files) == "[]"


_TRY = """
import sys, urllib.request, urllib.error
got = []
for path in sys.argv[2:]:
    try: got.append(open(path, "rb").name)
    except OSError: pass
try: got.append(urllib.request.urlopen(sys.argv[1]).url)
except urllib.error.HTTPError as e: assert e.code == 403
print(got)
"""


def _as_nobody(address: str, files: list[Path]) -> str:
    """What a user without rights gets of the page and of the files, with the system's own Python."""
    call = ["/usr/bin/python3", "-c", _TRY, address, *map(str, files)]
    told = subprocess.run(
        call, user=NOBODY, group=NOBODY, cwd="/", env={}, capture_output=True, text=True, timeout=60
    )
    assert told.returncode == 0, told.stderr
    return told.stdout.strip()
