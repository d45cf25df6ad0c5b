"""Sound from a microphone while it is spoken: pieces in the order in which they come.

The microphone is read with `sounddevice` (the `mic` extra), or with a recording program that the person
names: `arecord -q -f S16_LE -r 16000 FILE` is run with a pipe in the place of FILE, which is read while it is
written.
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
from offbook.sampling import SAMPLE_BYTES, SAMPLE_RATE, whole_samples
from offbook.scratch import scratch

# Set by hand.
PIECE_SECONDS = 0.1
_NOTHING = 5.0  # s without any sound after which the microphone is given up
_LOOKS = 0.05  # s between two looks at whether a recording program has begun
_STOPPING = 5.0  # s that a recording program may take to stop
# Bytes of a WAVE file (Multimedia Programming Interface and Data Specifications 1.0, IBM and Microsoft, 1991;
# from memory): its usual header, the most of it that is read (set by hand), and the name and the size at the
# beginning of each chunk.
_USUAL_HEADER, _LONGEST_HEADER, _CHUNK_HEAD = 44, 4_096, 8
# Kind, channels, samples a second, bytes a second, bytes a frame, bits a sample.
_FORMAT = struct.Struct("<HHIIHH")
_SIZE_STEP = 4  # bytes read at a time while the header is longer than usual
_BITS = 8 * SAMPLE_BYTES  # of a sample
_PCM, _EXTENSIBLE = 1, 0xFFFE  # the kinds of sound whose samples are whole numbers


class LiveSound(Protocol):
    """Pieces of 16-bit mono sound as they are spoken."""

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        """Each piece of sound with its rate (samples a second), until the sound ends or `close` is called."""
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
    """Begin to read the machine's own microphone: each piece of sound, 16-bit mono, is passed to `give`.

    Returns the stream, to be closed. Raises RecordingError where the microphone cannot be read.
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
        """See `LiveSound`. Raises RecordingError where the microphone gives no sound any more."""
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
        """See `LiveSound`."""
        self._stream.close()
        self._come.put(None)


class ProgramSound:
    """The sound that a recording program records.

    command: with FILE in the place of its file's name. Raises RecordingError.
    """

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
        """See `LiveSound`. Raises RecordingError where the program gives no sound."""
        heard = False
        with open(self._opened(), "rb") as pipe:
            rate, channels, begun = _wave_header(pipe.read(_USUAL_HEADER), pipe)
            size = SAMPLE_BYTES * channels * round(rate * PIECE_SECONDS)
            while piece := begun + pipe.read(size - len(begun)):
                heard, begun = True, b""
                yield _mono(piece, channels), rate
        if not heard:
            told = self._child.stderr.read().decode(errors="replace").strip() if self._child.stderr else ""
            raise RecordingError(
                f"the recording program gave no sound{': ' + told.splitlines()[-1] if told else ''}",
                "try the program by itself first",
            )

    def _opened(self) -> int:
        """Open the pipe for reading; stop waiting where the program ends before it opens its file."""
        self._keeper = os.open(self._pipe, os.O_RDONLY | os.O_NONBLOCK)
        for _ in range(round(_NOTHING / _LOOKS)):
            ready, _, _ = select.select([self._keeper], [], [], _LOOKS)
            if ready or self._child.poll() is not None:
                break
        os.set_blocking(self._keeper, True)
        return self._keeper

    def close(self) -> None:
        """See `LiveSound`."""
        if self._child.poll() is None:
            self._child.send_signal(signal.SIGINT)
        try:
            self._child.wait(_STOPPING)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()
        with suppress(OSError):
            self._folder.cleanup()


def _wave_header(begun: bytes, pipe: Any) -> tuple[int, int, bytes]:
    """The samples a second and the channels of the sound in `pipe`, and the first bytes of the sound.

    begun: what was read of it. Sound without a header is taken to be mono, as offbook asks for it. Raises
    RecordingError.
    """
    if not begun.startswith(b"RIFF"):
        return SAMPLE_RATE, 1, begun
    while b"data" not in begun and len(begun) < _LONGEST_HEADER and (more := pipe.read(_SIZE_STEP)):
        begun += more
    at = begun.find(b"fmt ")
    data = begun.find(b"data")
    if at < 0 or data < 0:
        raise RecordingError(
            "the recording program writes sound in a format that is not known", "make it write 16-bit WAV"
        )
    kind, channels, rate, _, _, bits = _FORMAT.unpack_from(begun, at + _CHUNK_HEAD)
    if bits != _BITS or kind not in (_PCM, _EXTENSIBLE):
        raise RecordingError(
            f"the recording program writes {bits}-bit sound", "make it write 16-bit samples (S16_LE)"
        )
    sound = data + _CHUNK_HEAD
    while len(begun) < sound and (more := pipe.read(sound - len(begun))):
        begun += more
    return rate, channels, begun[sound:]


def _mono(piece: bytes, channels: int) -> bytes:
    if channels == 1:
        return whole_samples(piece)
    import numpy as np

    whole = len(piece) // (2 * channels)
    samples = np.frombuffer(piece[: whole * 2 * channels], "<i2").reshape(whole, channels)
    return bytes(samples.astype(np.int32).mean(axis=1).astype("<i2").data)
