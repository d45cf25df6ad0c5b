"""Decoding: turns any file that a phone, a camera or a browser makes into a stream of samples.

FFmpeg's own libraries (through PyAV) open the container and decode its first audio stream block by block, so
that a long file needs no more memory than a short one. Everything that can go wrong with a file becomes a
`RecordingError` with a clear message here; the rest of the project only ever sees samples or that error.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from offbook.errors import RecordingError
from offbook.intake import RECORDING, open_input
from offbook.phrasing import MINUTE
from offbook.sampling import LONGEST_SECONDS, SAMPLE_RATE

if TYPE_CHECKING:
    from types import ModuleType

KINDS = "wav, mp3, m4a, ogg, opus, webm, flac, mp4 or mov"
# The containers that are opened, by FFmpeg's names for their readers: those that recorders, phones, cameras
# and browsers write, and those of pictures, so that a photograph gets a message of its own. Formats that can
# refer to other files, such as playlists, are left out on purpose.
_CONTAINERS = (
    *("wav", "w64", "aiff", "caf", "au", "mp3", "aac", "ac3", "amr", "flac", "ogg", "matroska", "webm"),
    *("mov", "mp4", "m4a", "3gp", "3g2", "mj2", "avi", "asf", "flv", "mpeg", "mpegts"),
    *("png_pipe", "jpeg_pipe", "webp_pipe", "bmp_pipe", "tiff_pipe", "gif"),
)
# Hz: no recorder stores fewer or more samples a second, but a damaged header may say anything; set by hand
_LOWEST_RATE, _HIGHEST_RATE = 1_000, 1_000_000
_SHORTEST_SECONDS = 0.5  # a shorter recording is refused; set by hand
_MOST_WORDS_A_SECOND = 6.0  # nobody says several words of a script faster than this; set by hand
_FEWEST_BYTES_A_SECOND = 250.0  # a third of the leanest speech codec in use (Opus at 6 kbit/s has 750)
# Damaged packets are skipped, as every player does. After more than this many in a row, reading stops; set by
# hand, because a file that has so many is damaged to its end.
BAD_PACKETS_IN_A_ROW = 200
_TOO_FEW_WORDS_SECONDS = 3.0  # a recording this long is heard even if its script is far longer; set by hand
# A recording is blamed on a bad copy when its container states more than twice the decoded length and this.
_CUT_OFF_SECONDS = 1
_MINUTES_AN_HOUR = 60
_FFMPEG_TIME_BASE = 1_000_000  # FFmpeg states the length of a container in microseconds (AV_TIME_BASE)
# The layout of a WAV file, in bytes (IBM and Microsoft, Multimedia Programming Interface and Data
# Specifications 1.0, 1991): the file's head, each field of it and of a chunk's head, and the part of the
# chunk "fmt " up to and behind the field with the bytes a second.
_WAV_HEAD, _WAV_FIELD, _CHUNK_HEAD = 12, 4, 8
_FORMAT_CHUNK, _FORMAT_BYTES_A_SECOND = 16, slice(8, 12)
# A recorder that could not write its header at the end leaves a size near 2 or 4 GiB in it, which means
# nothing. Set by hand, 64 KiB below 2 GiB.
_NO_SIZE = 2**31 - 2**16
# The layout of an Ogg page, in bytes (RFC 3533, section 6): its first word; its head, whose last byte counts
# the segments; that many bytes with the size of each segment; the segments. Each count or size is at most
# 255.
_OGG_WORD, _OGG_HEAD, _OGG_BYTE = b"OggS", 27, 255
_LONGEST_OGG_PAGE = _OGG_HEAD + _OGG_BYTE + _OGG_BYTE * _OGG_BYTE
_STEREO = 2  # channels
_LARGEST_VALID = 1e4  # times full scale: a larger sample is damage and not a loud sound; set by hand

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Clip:
    """What the container of a recording states, before anything is decoded.

    seconds: the length that the container states, None if it states none (as in many a browser's WebM).
    container, codec: FFmpeg's names. rate: samples a second of each channel, as stored.
    has_video: whether there is a moving picture.
    """

    path: Path
    seconds: float | None
    container: str
    codec: str
    channels: int
    rate: int
    has_video: bool


def libraries() -> ModuleType:
    """PyAV, with FFmpeg's libraries. Imported only when needed, because that takes a quarter of a second."""
    import av
    import av.error
    import av.logging
    import av.stream

    av.logging.set_level(av.logging.PANIC)  # we report a broken file ourselves, once
    return av


def _not_media(path: Path) -> RecordingError:
    return RecordingError(
        f"{path} is not a recording, or is cut off before its sound can be read",
        f"use the file the recorder itself saved: {KINDS}",
    )


@contextmanager
def container_of(path: Path, unreadable: RecordingError) -> Iterator[Any]:
    """Open a container, whatever streams it has. Raises `unreadable` if FFmpeg cannot read it.

    Raises RecordingError if the file is empty or `intake` refuses it. The file is opened once, by
    `intake.open_input`, and FFmpeg only gets the open file. It never learns a name and may open nothing else,
    so that a playlist with the name of a recording cannot make it read other files.
    """
    av = libraries()
    with open_input(path, RECORDING, RecordingError) as (file, size):
        if not size:
            raise RecordingError(
                f"{path} is an empty file (0 bytes)",
                "copy the recording again from the device it was recorded on",
            )
        options = {"format_whitelist": ",".join(_CONTAINERS)}
        if os.name == "posix":
            address = "fd:"
            options |= {"fd": str(file.fileno()), "protocol_whitelist": "fd"}
        else:  # on other systems FFmpeg cannot use the number of an open file
            address = os.path.abspath(path)
            options |= {"protocol_whitelist": "file"}
        try:
            container = av.open(address, metadata_errors="replace", options=options)
        except (av.error.FFmpegError, OSError, ValueError):
            raise unreadable from None
        with container:
            yield container


@contextmanager
def _open(path: Path) -> Iterator[Any]:
    """Open a container whose first audio stream can be decoded. Raises RecordingError if there is none."""
    with container_of(path, _not_media(path)) as container:
        if not container.streams.audio:
            seen = "a picture or video" if container.streams.video else "no sound"
            raise RecordingError(
                f"{path} holds {seen} without an audio stream"
                if seen != "no sound"
                else f"{path} holds no audio stream",
                "record again with the microphone switched on, or name the file that has the sound",
            )
        stream = container.streams.audio[0]
        if stream.codec_context is None:
            raise RecordingError(
                f"{path} holds sound in a codec that cannot be read here", f"export it as {KINDS}"
            )
        rate = stream.codec_context.sample_rate
        if rate and not _LOWEST_RATE <= rate <= _HIGHEST_RATE:
            raise RecordingError(
                f"{path} claims {rate} samples a second: its header is damaged",
                "copy it again from the device it was recorded on",
            )
        yield container


def probe(path: Path | str) -> Clip:
    """What the container of `path` states. Raises RecordingError if there is no sound to decode."""
    path = Path(path)
    with _open(path) as container:
        stream = container.streams.audio[0]
        seconds = max(filter(None, (stated_seconds(container), _wav_seconds(path))), default=None)
        moving = [v for v in container.streams.video if not is_cover(v)]
        return Clip(
            path=path,
            seconds=seconds,
            container=container.format.name,
            codec=stream.codec_context.name,
            channels=stream.codec_context.channels,
            rate=stream.codec_context.sample_rate,
            has_video=bool(moving),
        )


def is_cover(stream: Any) -> bool:
    """Whether a video stream is only a still picture, such as the cover inside an mp3."""
    return bool(stream.disposition & libraries().stream.Disposition.attached_pic)


def check_length(
    path: Path | str, seconds: float, words: int | None = None, claimed: float | None = None
) -> None:
    """Raise RecordingError if `seconds` of sound are too long or too short for a run-through.

    words: how many the script has, if that is known: a recording under 3 s in which nobody could say so many
    is refused. claimed: the length that the container states, in seconds; if the recording has less than half
    of it, the message says that the copy is incomplete.
    """
    if seconds > LONGEST_SECONDS:
        hours, minutes = divmod(round(seconds / MINUTE), _MINUTES_AN_HOUR)
        raise RecordingError(
            f"{path} is {hours} h {minutes} min long; one run-through may take up to 1 h 30 min",
            "cut out the part where the speech is said and name that file",
        )
    if seconds < _SHORTEST_SECONDS or (
        words is not None and seconds < _TOO_FEW_WORDS_SECONDS and words > _MOST_WORDS_A_SECOND * seconds
    ):
        if claimed is not None and claimed > 2 * seconds + _CUT_OFF_SECONDS:
            raise RecordingError(
                f"{path} breaks off after {seconds:.1f} s of the {claimed:.0f} s it claims:"
                " too short for this script",
                "copy it again from the device it was recorded on",
            )
        raise RecordingError(
            f"{path} is only {seconds:.1f} s long: too short for this script",
            "let the recording run until the speech is over, then name that file",
        )


def _check_stated_length(path: Path, seconds: float | None) -> None:
    """Raise RecordingError before decoding if the length that the container states is too long.

    If the file is too small to hold a sound of that length in any codec, its header is wrong. Nothing is
    raised then, and the length is checked while decoding.
    """
    if seconds is not None and path.stat().st_size > _FEWEST_BYTES_A_SECOND * seconds:
        check_length(path, max(seconds, 1.0))


def frames(path: Path, on_invalid: Callable[[int], None] | None = None) -> Iterator[Any]:
    """The decoded first audio stream, as PyAV frames of about a second, in the sample format as stored.

    More than two channels are mixed down to two. Samples that are not valid numbers (NaN, infinity) are
    replaced by silence, and `on_invalid` is called with how many there were. Damaged packets are skipped.
    Raises RecordingError if nothing at all can be decoded, if the file does not say where each of its
    channels belongs, or if the sound is longer than `LONGEST_SECONDS`.
    """
    decoded = 0.0
    with _open(path) as container:
        _check_stated_length(path, stated_seconds(container))
        for frame in _gathered(_in_stereo(path, _packets(container))):
            if (invalid := _silence_invalid(frame)) and on_invalid is not None:
                on_invalid(invalid)
            decoded += frame.samples / frame.sample_rate
            if decoded > LONGEST_SECONDS:
                check_length(path, max(decoded, stated_seconds(container) or 0.0))
            yield frame
    if not decoded:
        raise _not_media(path)


def stated_seconds(container: Any) -> float | None:
    """The length that the container states, in seconds; None if it states none."""
    return container.duration / _FFMPEG_TIME_BASE if container.duration else None


def _wav_seconds(path: Path) -> float | None:
    """The length that the header of a WAV file states, in seconds.

    None for other files and for headers without a usable size. FFmpeg takes the length of a WAV file from the
    size of the file, so that it would not notice that the end is missing.
    """
    with open_input(path, RECORDING, RecordingError) as (file, _):
        head = file.read(_WAV_HEAD)
        if head[:_WAV_FIELD] != b"RIFF" or head[2 * _WAV_FIELD :] != b"WAVE":
            return None
        bytes_a_second = 0
        while len(chunk := file.read(_CHUNK_HEAD)) == _CHUNK_HEAD:
            name, size = chunk[:_WAV_FIELD], int.from_bytes(chunk[_WAV_FIELD:], "little")
            if name == b"data":
                return size / bytes_a_second if bytes_a_second and 0 < size < _NO_SIZE else None
            if name == b"fmt ":
                bytes_a_second = int.from_bytes(file.read(_FORMAT_CHUNK)[_FORMAT_BYTES_A_SECOND], "little")
                size -= _FORMAT_CHUNK
            file.seek(size + size % 2, os.SEEK_CUR)
    return None


def ogg_breaks_off(path: Path) -> bool:
    """Whether this is an Ogg file whose last page is incomplete. False for any other kind of file.

    An Ogg file does not state its length, so a copy without its end looks like a shorter recording.
    """
    with open_input(path, RECORDING, RecordingError) as (file, _):
        if file.read(len(_OGG_WORD)) != _OGG_WORD:
            return False
        end = file.seek(0, os.SEEK_END)
        file.seek(max(0, end - 2 * _LONGEST_OGG_PAGE))
        tail = file.read()
    at = tail.rfind(_OGG_WORD + b"\x00")  # the zero is the version of the format
    head = tail[at : at + _OGG_HEAD]
    if at < 0 or len(head) < _OGG_HEAD:
        return True
    segments, table = head[-1], at + _OGG_HEAD
    sizes = tail[table : table + segments]
    return len(sizes) < segments or table + len(sizes) + sum(sizes) > len(tail)


def _packets(container: Any) -> Iterator[Any]:
    """The frames of the first audio stream as FFmpeg decodes them, without damaged packets."""
    av = libraries()
    stream = container.streams.audio[0]
    stream.thread_type = "NONE"  # audio frames are small, and threads would take more time than they save
    packets, bad = container.demux(stream), 0
    while bad <= BAD_PACKETS_IN_A_ROW:
        try:
            packet = next(packets, None)
            if packet is None:
                return
            yield from packet.decode()
            bad = 0
        except av.error.EOFError:
            return
        # PyAV raises IndexError at the end of a file in which a stream appeared midway.
        except (av.error.FFmpegError, ValueError, IndexError):
            bad += 1


def _in_stereo(path: Path, frames: Iterator[Any]) -> Iterator[Any]:
    """The same frames with two channels at most, mixed down with FFmpeg's weights for their layout.

    This comes before any array is made, because PyAV cannot make one of more than eight separate channels.
    Raises RecordingError if the layout is unknown.
    """
    av = libraries()
    mixer: Any = None
    kind: tuple[str, str, int] | None = None
    for frame in frames:
        if frame.layout.nb_channels <= _STEREO:
            yield frame
            continue
        now = (frame.format.name, frame.layout.name, frame.sample_rate)
        frame.pts = None
        try:
            if now != kind:
                mixer, kind = av.AudioResampler(format="fltp", layout="stereo", rate=frame.sample_rate), now
            mixed = mixer.resample(frame)
        except (av.error.FFmpegError, ValueError):
            raise RecordingError(
                f"{path} holds {frame.layout.nb_channels} channels, and nothing says where each belongs",
                "export it in one or two channels and name that file",
            ) from None
        yield from mixed


def _silence_invalid(frame: Any) -> int:
    """Set samples that are not numbers, or are far too large, to 0 in place; return how many there were."""
    if frame.format.name not in ("flt", "fltp", "dbl", "dblp"):
        return 0
    kind = np.float32 if frame.format.name.startswith("flt") else np.float64
    invalid = 0
    for plane in frame.planes:
        data = np.frombuffer(plane, kind)
        valid = np.abs(data) <= _LARGEST_VALID
        if not valid.all():
            invalid += int(data.size - np.count_nonzero(valid))
            data[~valid] = 0
    return invalid


def _gathered(frames: Iterator[Any]) -> Iterator[Any]:
    """The same sound in frames of a second instead of 20 ms: what follows then takes a third of the time."""
    av = libraries()
    fifo: Any = None
    kind: tuple[str, str, int] | None = None
    for frame in frames:
        now = (frame.format.name, frame.layout.name, frame.sample_rate)
        if now != kind:  # a stream may change its layout or rate midway
            if fifo is not None and (rest := fifo.read()) is not None:
                yield rest
            fifo, kind = av.AudioFifo(), now
        frame.pts = None
        fifo.write(frame)
        while (whole := fifo.read(frame.sample_rate)) is not None:
            yield whole
    if fifo is not None and (rest := fifo.read()) is not None:
        yield rest


class Resampler:
    """Turns PyAV frames into float32 arrays, shape (channels, n), at `SAMPLE_RATE`; full scale is 1.0."""

    def __init__(self) -> None:
        self._av = libraries()
        self._now: tuple[str, str, int] | None = None
        self._resampler: Any = None

    def feed(self, frame: Any) -> Iterator[Samples]:
        """Take in a frame and give the blocks that are ready. The layout and the rate may change midway."""
        kind = (frame.format.name, frame.layout.name, frame.sample_rate)
        if kind != self._now:
            yield from self.flush()
            self._resampler = self._av.AudioResampler(format="fltp", layout=frame.layout, rate=SAMPLE_RATE)
            self._now = kind
        for out in self._resampler.resample(frame):
            yield out.to_ndarray()

    def flush(self) -> Iterator[Samples]:
        """Give the last samples that are still held back."""
        if self._resampler is not None:
            for out in self._resampler.resample(None):
                yield out.to_ndarray()
        self._resampler = None
        self._now = None


def decoded_blocks(path: Path) -> Iterator[Samples]:
    """The recording at `SAMPLE_RATE` in blocks of any size: float32, shape (channels, n), full scale 1.0.

    Raises RecordingError as `frames` does.
    """
    resampler = Resampler()
    for frame in frames(path):
        yield from resampler.feed(frame)
    yield from resampler.flush()
