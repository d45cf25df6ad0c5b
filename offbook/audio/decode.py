"""Decoding: any file a phone, a camera or a browser makes, as a stream of samples.

FFmpeg's own libraries (through PyAV) open the container and decode its first audio stream, a block
at a time, so memory does not grow with the length. What can go wrong with a file is put into words
here: everything else of the project only ever sees samples or a `RecordingError`.
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
from offbook.sampling import SAMPLE_RATE

if TYPE_CHECKING:
    from types import ModuleType

KINDS = "wav, mp3, m4a, ogg, opus, webm, flac, mp4 or mov"
LONGEST_SECONDS = 90 * 60.0
# The containers that are opened, by FFmpeg's names of their readers: what recorders, phones, cameras and
# browsers write, and pictures, so that a photograph can be called one. Nothing that names other files.
_CONTAINERS = (
    *("wav", "w64", "aiff", "caf", "au", "mp3", "aac", "ac3", "amr", "flac", "ogg", "matroska", "webm"),
    *("mov", "mp4", "m4a", "3gp", "3g2", "mj2", "avi", "asf", "flv", "mpeg", "mpegts"),
    *("png_pipe", "jpeg_pipe", "webp_pipe", "bmp_pipe", "tiff_pipe", "gif"),
)
_RATES = 1_000, 1_000_000  # Hz: no recorder stores less, or more; a damaged header may claim anything
_SHORTEST = 0.5  # s
_FASTEST = 6.0  # words a second: nobody says a script faster than this for any length of it
_LEANEST = 250.0  # bytes a second: below the leanest speech codec in use (Opus at 6 kbit/s is 750)
# A damaged packet is stepped over, as every player does; this many in a row are no longer a recording.
_BAD_PACKETS_IN_A_ROW = 200

Samples = NDArray[np.float32]
_SHORT_FOR_ITS_WORDS = 3.0  # s: a longer recording is heard even if it holds far too few words; set by hand
_CHUNK_HEAD = 8  # bytes of a RIFF chunk's name and size
_PAGE_HEAD = 27  # bytes of an Ogg page's head before its table of segments (RFC 3533, 6)
_STEREO = 2  # channels


@dataclass(frozen=True, slots=True)
class Clip:
    """What the container says of itself, before anything is decoded.

    seconds: the container's claim, None where it makes none (a browser's webm often makes none).
    rate: samples a second of each channel, as stored.
    """

    path: Path
    seconds: float | None
    container: str
    codec: str
    channels: int
    rate: int
    has_video: bool


def libraries() -> ModuleType:
    """FFmpeg's libraries, loaded late: importing them takes a quarter of a second."""
    import av
    import av.error
    import av.logging
    import av.stream

    av.logging.set_level(av.logging.PANIC)  # a broken file is reported in our words, once
    return av


def _not_media(path: Path) -> RecordingError:
    return RecordingError(
        f"{path} is not a recording, or is cut off before its sound can be read",
        f"use the file the recorder itself saved: {KINDS}",
    )


@contextmanager
def container_of(path: Path, unreadable: RecordingError) -> Iterator[Any]:
    """The opened container, whatever streams it has. Raises `unreadable` where it is none.

    The file is opened once, by the gate, and FFmpeg is given the open file: it knows no name, and may open
    nothing else, so that a playlist that calls itself a recording leads nowhere.
    """
    av = libraries()
    with open_input(path, RECORDING, RecordingError) as (file, size):
        if not size:
            raise RecordingError(
                f"{path} is an empty file (0 bytes)", "copy the recording again from where it was made"
            )
        options = {"format_whitelist": ",".join(_CONTAINERS)}
        if os.name == "posix":
            address = "fd:"
            options |= {"fd": str(file.fileno()), "protocol_whitelist": "fd"}
        else:  # elsewhere an open file has no number that FFmpeg could use
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
    """The opened container, with at least one audio stream whose codec is known."""
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
                f"{path} holds sound in a coding that cannot be read here", f"export it as {KINDS}"
            )
        rate = stream.codec_context.sample_rate
        if rate and not _RATES[0] <= rate <= _RATES[1]:
            raise RecordingError(
                f"{path} claims {rate} samples a second: its header is damaged",
                "copy it again from where it was made",
            )
        yield container


def probe(path: Path | str) -> Clip:
    """What is in the container of `path`. Raises RecordingError where there is no sound to decode."""
    path = Path(path)
    with _open(path) as container:
        stream = container.streams.audio[0]
        seconds = max(filter(None, (claim(container), _wav_claim(path))), default=None)
        # A still picture (a cover inside an mp3) is no video.
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
    """True for a still picture inside a sound file, as music has its cover."""
    return bool(stream.disposition & libraries().stream.Disposition.attached_pic)


def check_length(
    path: Path | str, seconds: float, words: int | None = None, claimed: float | None = None
) -> None:
    """Raise RecordingError where `seconds` of sound can't be a run-through.

    words: of the script, where it is known: a fragment too short to hold a few of them is refused.
    claimed: what the container says its length is; where most of that is gone, the copy is to blame.
    """
    if seconds > LONGEST_SECONDS:
        hours, minutes = divmod(round(seconds / 60), 60)
        raise RecordingError(
            f"{path} is {hours} h {minutes} min long; one run-through may take up to 1 h 30 min",
            "cut out the part where the speech is said and name that file",
        )
    if seconds < _SHORTEST or (
        words is not None and seconds < _SHORT_FOR_ITS_WORDS and words > _FASTEST * seconds
    ):
        if claimed is not None and claimed > 2 * seconds + 1:
            raise RecordingError(
                f"{path} breaks off after {seconds:.1f} s of the {claimed:.0f} s it claims:"
                " too short for this script",
                "copy it again from where it was made",
            )
        raise RecordingError(
            f"{path} is only {seconds:.1f} s long: too short for this script",
            "let the recording run until the speech is over, then name that file",
        )


def _check_claim(path: Path, seconds: float | None) -> None:
    """Refuse what is plainly too long before decoding it.

    A claim that would leave less sound in a second than any codec needs is a broken header: then the
    decoding itself counts.
    """
    if seconds is not None and path.stat().st_size > _LEANEST * seconds:
        check_length(path, max(seconds, 1.0))


def frames(path: Path, no_numbers: Callable[[int], None] | None = None) -> Iterator[Any]:
    """The decoded first audio stream, as PyAV frames of about a second, in the format as stored.

    More than two channels are brought to two, and samples that are not numbers (NaN, infinity) to silence;
    no_numbers is given their number. Damaged packets are stepped over. Raises RecordingError where
    nothing at all can be decoded, where the channels have no known places, and where the sound runs on past
    `LONGEST_SECONDS`.
    """
    decoded = 0.0
    with _open(path) as container:
        _check_claim(path, claim(container))
        for frame in _gathered(_in_stereo(path, _packets(container))):
            if (gone := _silence_no_numbers(frame)) and no_numbers is not None:
                no_numbers(gone)
            decoded += frame.samples / frame.sample_rate
            if decoded > LONGEST_SECONDS:
                longer = max(decoded, claim(container) or 0.0)
                check_length(path, longer)
            yield frame
    if not decoded:
        raise _not_media(path)


def claim(container: Any) -> float | None:
    """Seconds that the container states, None where it states none."""
    return container.duration / 1_000_000 if container.duration else None


# A recorder that could not go back to its header leaves a size near 2 or 4 GiB there: no claim at all.
_NO_SIZE = 2**31 - 2**16


def _wav_claim(path: Path) -> float | None:
    """Seconds that the header of a WAV file claims, None for other files and for headers without a size.

    FFmpeg takes the length of a WAV from the size of the file, so that one cut off would look whole.
    Chunks after the RIFF specification (IBM and Microsoft, Multimedia Programming Interface and Data
    Specifications 1.0, 1991).
    """
    with open_input(path, RECORDING, RecordingError) as (file, _):
        head = file.read(12)
        if head[:4] != b"RIFF" or head[8:] != b"WAVE":
            return None
        bytes_a_second = 0
        while len(chunk := file.read(_CHUNK_HEAD)) == _CHUNK_HEAD:
            size = int.from_bytes(chunk[4:], "little")
            if chunk[:4] == b"data":
                return size / bytes_a_second if bytes_a_second and 0 < size < _NO_SIZE else None
            if chunk[:4] == b"fmt ":
                bytes_a_second = int.from_bytes(file.read(16)[8:12], "little")
                size -= 16
            file.seek(size + size % 2, os.SEEK_CUR)
    return None


_OGG_PAGE = 27 + 255 + 255 * 255  # bytes that a page of Ogg can have at most


def ogg_breaks_off(path: Path) -> bool:
    """True for an Ogg file whose last page is not whole; False for whole ones and for other files.

    Ogg says nowhere how long it is, so that a copy cut off looks like a shorter recording. Pages after
    RFC 3533, section 6: "OggS", a head of 27 bytes, the sizes of its segments, the segments.
    """
    with open_input(path, RECORDING, RecordingError) as (file, _):
        if file.read(4) != b"OggS":
            return False
        end = file.seek(0, os.SEEK_END)
        file.seek(max(0, end - 2 * _OGG_PAGE))
        tail = file.read()
    at = tail.rfind(b"OggS\x00")
    head = tail[at : at + _PAGE_HEAD]
    if at < 0 or len(head) < _PAGE_HEAD:
        return True
    sizes = tail[at + 27 : at + 27 + head[26]]
    return len(sizes) < head[26] or at + 27 + len(sizes) + sum(sizes) > len(tail)


def _packets(container: Any) -> Iterator[Any]:
    av = libraries()
    stream = container.streams.audio[0]
    stream.thread_type = "NONE"  # audio frames are small: threads cost more than they bring
    packets, bad = container.demux(stream), 0
    while bad <= _BAD_PACKETS_IN_A_ROW:
        try:
            packet = next(packets, None)
            if packet is None:
                return
            yield from packet.decode()
            bad = 0
        except av.error.EOFError:
            return
        except (av.error.FFmpegError, ValueError, IndexError):  # the last where a stream appears midway
            bad += 1


def _in_stereo(path: Path, frames: Iterator[Any]) -> Iterator[Any]:
    """The same frames with two channels at most, mixed down by FFmpeg's weights for their layout.

    Before any array is made of them: PyAV cannot make one of more than eight separate channels.
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


_LOUDEST = 1e4  # times full scale: a sample beyond that is a damaged one, not a loud one


def _silence_no_numbers(frame: Any) -> int:
    """Set samples that are not numbers, or far too large, to 0 in place; gives how many there were."""
    if frame.format.name not in ("flt", "fltp", "dbl", "dblp"):
        return 0
    kind = np.float32 if frame.format.name.startswith("flt") else np.float64
    gone = 0
    for plane in frame.planes:
        data = np.frombuffer(plane, kind)
        fine = np.abs(data) <= _LOUDEST
        if not fine.all():
            gone += int(data.size - np.count_nonzero(fine))
            data[~fine] = 0
    return gone


def _gathered(frames: Iterator[Any]) -> Iterator[Any]:
    """Frames of 20 ms joined to frames of a second: what follows then costs a third of the time."""
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
    """PyAV frames in, float32 arrays (channels, n) at `SAMPLE_RATE` out; channels stay apart."""

    def __init__(self) -> None:
        self._av = libraries()
        self._now: tuple[str, str, int] | None = None
        self._resampler: Any = None

    def feed(self, frame: Any) -> Iterator[Samples]:
        """Blocks ready after `frame`. A stream that changes its layout or rate midway starts again."""
        kind = (frame.format.name, frame.layout.name, frame.sample_rate)
        if kind != self._now:
            yield from self.flush()
            self._resampler = self._av.AudioResampler(format="fltp", layout=frame.layout, rate=SAMPLE_RATE)
            self._now = kind
        for out in self._resampler.resample(frame):
            yield out.to_ndarray()

    def flush(self) -> Iterator[Samples]:
        """The last samples still inside."""
        if self._resampler is not None:
            for out in self._resampler.resample(None):
                yield out.to_ndarray()
        self._resampler = None
        self._now = None


def decoded_blocks(path: Path) -> Iterator[Samples]:
    """The recording at `SAMPLE_RATE`, float32 (channels, n), full scale = 1.0, in blocks of any size."""
    resampler = Resampler()
    for frame in frames(path):
        yield from resampler.feed(frame)
    yield from resampler.flush()
