"""Sound from a microphone while it is spoken: pieces in the order in which they come.

The microphone is read with `sounddevice` (the `mic` extra), or by a recording program of the person's own:
`arecord -q -f S16_LE -r 16000 FILE` is run with FILE replaced by a pipe that is read while it is written.
"""

from __future__ import annotations

import os
import select
import shlex
import signal
import struct
import subprocess
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from queue import Empty, Queue
from typing import Any, Protocol

from offbook.errors import RecordingError
from offbook.sampling import SAMPLE_RATE
from offbook.scratch import scratch

PIECE_SECONDS = 0.1
_NOTHING = 5.0  # s without a sound after which the microphone is given up
_STOPPING = 5.0  # s a recording program may take to stop
_HEADER = 4_096  # bytes in which a RIFF file says what it holds
_BITS, _PCM, _EXTENSIBLE = (
    16,
    1,
    0xFFFE,
)  # of a sample; formats of a WAVE file whose samples are whole numbers


class LiveSound(Protocol):
    """Pieces of 16-bit mono sound as they are spoken."""

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        """Each piece with its samples a second, until the sound ends or `close` is called."""
        ...

    def close(self) -> None:
        """Stop listening."""
        ...


def microphone_for(command: str | None) -> LiveSound:
    """The microphone, or what the recording program `command` hears. Raises RecordingError."""
    return Microphone() if command is None else ProgramSound(command)


def microphone_library() -> Any:
    """The library that reads the machine's microphone. Raises RecordingError."""
    try:
        import sounddevice
    except (ImportError, OSError) as e:  # OSError: the PortAudio library is missing
        raise RecordingError(
            "the microphone cannot be read: sounddevice or PortAudio is missing",
            "install both (README, A microphone), speak on `offbook page`, or give --record-with PROGRAM",
        ) from e
    return sounddevice


def open_microphone(sounddevice: Any, give: Callable[[bytes], object]) -> Any:
    """The machine's own microphone, begun: each piece of its sound, 16-bit mono, goes to `give`.

    Raises RecordingError where it cannot be read.
    """

    def take(data: Any, frames: int, time: object, status: object) -> None:
        give(bytes(data))

    size = round(SAMPLE_RATE * PIECE_SECONDS)
    try:
        stream = sounddevice.RawInputStream(
            SAMPLE_RATE, channels=1, dtype="int16", blocksize=size, callback=take
        )
        stream.start()
    except sounddevice.PortAudioError as e:
        raise RecordingError(
            f"the microphone cannot be read: {e}", "plug one in, or allow this program to use it"
        ) from e
    return stream


class Microphone:
    """The machine's own microphone. Raises RecordingError where it cannot be read."""

    def __init__(self) -> None:
        self._come: Queue[bytes | None] = Queue()
        self._stream = open_microphone(microphone_library(), self._come.put)

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        """As `LiveSound` says. Raises RecordingError where the microphone falls silent for good."""
        while True:
            try:
                piece = self._come.get(timeout=_NOTHING)
            except Empty as e:
                raise RecordingError(
                    f"the microphone has given no sound for {_NOTHING:g} seconds",
                    "see that it is plugged in; what was recorded until then is kept",
                ) from e
            if piece is None:
                return
            yield piece, SAMPLE_RATE

    def close(self) -> None:
        """As `LiveSound` says."""
        self._stream.close()
        self._come.put(None)


class ProgramSound:
    """What a recording program hears. command: with FILE where its file is named. Raises RecordingError."""

    def __init__(self, command: str) -> None:
        words = shlex.split(command)
        if not any("FILE" in w for w in words):
            raise RecordingError(
                f"the recording program has no FILE in it: {command}",
                'write FILE where its file is named, as in "arecord -q -f S16_LE -r 16000 FILE"',
            )
        if not hasattr(os, "mkfifo"):
            raise RecordingError(
                "a recording program cannot be listened to while it records on this system",
                "install sounddevice (README, A microphone) and leave --record-with out",
            )
        self._folder = scratch()
        self._pipe = Path(self._folder.name) / "sound.wav"
        os.mkfifo(self._pipe)
        call = [w.replace("FILE", str(self._pipe)) for w in words]
        try:
            self._child = subprocess.Popen(
                call, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
            )
        except OSError as e:
            self._folder.cleanup()
            raise RecordingError(
                f"cannot start {call[0]}: {e.strerror}", "name a recording program that is installed"
            ) from e

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        """As `LiveSound` says. Raises RecordingError where the program gives no sound."""
        heard = False
        with open(self._opened(), "rb", closefd=True) as pipe:
            begun = pipe.read(44)
            rate, channels, begun = _what(begun, pipe)
            size = 2 * channels * round(rate * PIECE_SECONDS)
            while piece := begun + pipe.read(size - len(begun)):
                heard, begun = True, b""
                yield _mono(piece, channels), rate
        if not heard:
            told = self._child.stderr.read().decode(errors="replace").strip() if self._child.stderr else ""
            raise RecordingError(
                f"the recording program gave no sound{': ' + told.splitlines()[-1] if told else ''}",
                "try it by itself first",
            )

    def _opened(self) -> int:
        """The pipe, open for reading; a program that ends before it opens its file does not hold it up."""
        self._keeper = os.open(self._pipe, os.O_RDONLY | os.O_NONBLOCK)
        for _ in range(round(_NOTHING / 0.05)):
            ready, _, _ = select.select([self._keeper], [], [], 0.05)
            if ready or self._child.poll() is not None:
                break
        os.set_blocking(self._keeper, True)
        return self._keeper

    def close(self) -> None:
        """As `LiveSound` says."""
        if self._child.poll() is None:
            self._child.send_signal(signal.SIGINT)
        try:
            self._child.wait(_STOPPING)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()
        with suppress(OSError):
            self._folder.cleanup()


def _what(begun: bytes, pipe: Any) -> tuple[int, int, bytes]:
    """Samples a second and channels of what comes, and the first of its sound. Raises RecordingError."""
    if not begun.startswith(b"RIFF"):
        return SAMPLE_RATE, 1, begun
    while b"data" not in begun and len(begun) < _HEADER and (more := pipe.read(4)):
        begun += more
    at = begun.find(b"fmt ")
    data = begun.find(b"data")
    if at < 0 or data < 0:
        raise RecordingError(
            "the recording program writes sound in a format that is not known", "make it write 16-bit WAV"
        )
    kind, channels, rate, _, _, bits = struct.unpack("<HHIIHH", begun[at + 8 : at + 24])
    if bits != _BITS or kind not in (_PCM, _EXTENSIBLE):
        raise RecordingError(
            f"the recording program writes {bits}-bit sound", "make it write 16-bit samples (S16_LE)"
        )
    while len(begun) < data + 8 and (more := pipe.read(data + 8 - len(begun))):
        begun += more
    return rate, channels, begun[data + 8 :]


def _mono(piece: bytes, channels: int) -> bytes:
    if channels == 1:
        return piece[: len(piece) // 2 * 2]
    import numpy as np

    whole = len(piece) // (2 * channels)
    samples = np.frombuffer(piece[: whole * 2 * channels], "<i2").reshape(whole, channels)
    return bytes(samples.astype(np.int32).mean(axis=1).astype("<i2").data)
