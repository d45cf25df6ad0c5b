"""How a file is laid out: whether its header comes first, whether it has an edit list, and what is in it.

MP4 and MOV files are made of boxes inside boxes (ISO/IEC 14496-12). A browser can only begin to play a file
before all of it has arrived if `moov`, the table of contents, comes before `mdat`, the pictures and sounds.
An edit list (`elst`) with more than one entry means that what is played was put together from several parts.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from offbook.errors import RecordingError
from offbook.intake import RECORDING, open_input

# How many boxes, and entries of an edit list, are read at most; set by hand, against damaged files.
_MOST_BOXES = 10_000
_MOST_EDITS = 1000
# The codecs, of the picture and of the sound, that every browser plays in each container, by FFmpeg's names:
# common practice, no source. Only some browsers play HEVC, ProRes, 10 bits or 4:2:2.
_PLAYED_BY_ALL: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    "mp4": (frozenset({"h264", "av1", "vp9"}), frozenset({"aac", "mp3", "opus", "flac"})),
    "webm": (
        frozenset({"vp8", "libvpx", "vp9", "libvpx-vp9", "av1", "libdav1d"}),
        frozenset({"opus", "vorbis"}),
    ),
    "wav": (frozenset(), frozenset({"pcm_s16le", "pcm_u8", "pcm_s24le", "pcm_f32le"})),
    "mp3": (frozenset(), frozenset({"mp3", "mp3float"})),
    "ogg": (frozenset(), frozenset({"opus", "vorbis", "flac"})),
    "flac": (frozenset(), frozenset({"flac"})),
}
_PLAIN_PIXELS = frozenset({"yuv420p", "yuvj420p"})
# Bytes of a box's head, and of one whose size has 64 bits (ISO/IEC 14496-12, 4.2).
_HEAD, _LONG_HEAD = 8, 16
# The box with the film's own clock, `mvhd` (8.2.2), in bytes: how much of it is read, and where the field
# with the units a second is, in version 1 with 64 bits and in version 0 with 32.
_CLOCK_HEAD, _SCALE_AT_64, _SCALE_AT_32 = 32, 20, 12
_WORD = 4  # bytes of a number of 32 bits
_USUAL_SCALE = 1000  # units a second if the file states none; common practice, no source
_ENTRY_64, _ENTRY_32 = 20, 12  # bytes of an entry of an edit list in version 1 and in version 0 (8.6.6)
_EDIT_DECIMALS = 2  # edits of the picture and of the sound that lie in the same 10 ms are one; set by hand


@dataclass(frozen=True, slots=True)
class FileLayout:
    """The layout of an MP4 or MOV file.

    header_first: whether it can begin to play before all of it has arrived. edits: the times, s, at which the
    edit list of its picture or sound goes on with another part of what was recorded.
    """

    header_first: bool
    edits: tuple[float, ...]


def layout_of(path: Path | str) -> FileLayout | None:
    """The layout of an MP4 or MOV file; None for any other kind.

    Raises RecordingError if the file cannot be opened. A damaged file gives what can be read of it.
    """
    with open_input(path, RECORDING, RecordingError) as (file, size):
        top = list(_boxes(file, 0, size))
        names = [name for name, _, _ in top]
        if b"moov" not in names or (b"ftyp" not in names and b"mdat" not in names):
            return None
        first = b"mdat" not in names or names.index(b"moov") < names.index(b"mdat")
        edits: set[float] = set()
        _, begin, end = top[names.index(b"moov")]
        scale = _time_scale(file, begin, end)
        for name, a, b in _boxes(file, begin, end):
            if name == b"trak":
                edits |= {round(at, _EDIT_DECIMALS) for at in _edits(file, a, b, scale)}
        return FileLayout(first, tuple(sorted(edits)))


def _boxes(file: IO[bytes], begin: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """The boxes between two places (bytes): the name of each, and where its contents begin and end."""
    for _ in range(_MOST_BOXES):
        if begin + _HEAD > end:
            return
        file.seek(begin)
        head = file.read(_LONG_HEAD)
        if len(head) < _HEAD:
            return
        size, name = struct.unpack(">I4s", head[:_HEAD])
        inside = begin + _HEAD
        if size == 1 and len(head) == _LONG_HEAD:
            (size,) = struct.unpack(">Q", head[_HEAD:])
            inside = begin + _LONG_HEAD
        elif size == 0:
            size = end - begin
        if size < inside - begin:
            return
        yield name, inside, min(end, begin + size)
        begin += size


def _time_scale(file: IO[bytes], begin: int, end: int) -> int:
    """How many units of the film's own clock make a second, from `mvhd`."""
    for name, a, _ in _boxes(file, begin, end):
        if name == b"mvhd":
            file.seek(a)
            head = file.read(_CLOCK_HEAD)
            at = _SCALE_AT_64 if head[:1] == b"\1" else _SCALE_AT_32
            if len(head) >= at + _WORD:
                return max(1, int(struct.unpack(">I", head[at : at + _WORD])[0]))
    return _USUAL_SCALE


def _edits(file: IO[bytes], begin: int, end: int, scale: int) -> Iterator[float]:
    """The times, s, at which a track goes on with another part of what was recorded."""
    for name, a, b in _boxes(file, begin, end):
        if name != b"edts":
            continue
        for inner, at, _ in _boxes(file, a, b):
            if inner == b"elst":
                yield from _edit_list(file, at, scale)


def _edit_list(file: IO[bytes], at: int, scale: int) -> Iterator[float]:
    """The times, s, at which a second or later entry of the edit list at byte `at` begins."""
    file.seek(at)
    head = file.read(_HEAD)
    if len(head) < _HEAD:
        return
    wide, (count,) = head[0] == 1, struct.unpack(">I", head[_WORD:])
    size, played, parts = (_ENTRY_64 if wide else _ENTRY_32), 0.0, 0
    for _ in range(min(count, _MOST_EDITS)):
        row = file.read(size)
        if len(row) < size:
            return
        length, media = struct.unpack(">Qq" if wide else ">Ii", row[: size - _WORD])
        if media >= 0:  # -1 is a wait before the track begins, which phones write too
            if parts:
                yield played
            parts += 1
        played += length / scale


def browser_lacks(container: str, video: str | None, pixels: str | None, sound: str | None) -> str | None:
    """The part of a file that some browsers cannot play, in words; None if all can play it.

    All are FFmpeg's names: of the container (several with commas between), the codec of the picture, the kind
    of its pixels, and the codec of the sound; None for what the file does not have.
    """
    kinds = set(container.split(","))
    kind = (
        "webm"
        if "webm" in kinds
        else "mp4"
        if "mp4" in kinds
        else next((k for k in _PLAYED_BY_ALL if k in kinds), None)
    )
    if kind is None:
        return f"a file of this kind ({container.split(',')[0]})"
    videos, sounds = _PLAYED_BY_ALL[kind]
    if video is not None and video not in videos:
        return f"the codec of its picture ({video})"
    if video is not None and pixels is not None and pixels not in _PLAIN_PIXELS:
        return f"the pixel format of its picture ({pixels})"
    if sound is not None and sound not in sounds:
        return f"the codec of its sound ({sound})"
    return None
