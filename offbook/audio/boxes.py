"""How a file is laid out: whether its header comes first, whether it has edits of its own, what is in it.

MP4 and MOV files are boxes inside boxes (ISO/IEC 14496-12). A player on the web can only begin before all
has arrived where `moov`, the table of contents, comes before `mdat`, the pictures and sounds. An edit list
(`elst`) with more than one stretch says that what is played is put together of pieces.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from offbook.errors import RecordingError
from offbook.intake import RECORDING, open_input

_MOST_BOXES = 10_000
_MOST_EDITS = 1000
# What every browser plays, by FFmpeg's names: common practice, no source. HEVC, ProRes, 10 bits and 4:2:2 are
# played by some only.
_WITH: dict[str, tuple[frozenset[str], frozenset[str]]] = {
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
# Bytes of a box's head, and of one whose size takes 64 bits (ISO/IEC 14496-12, 4.2).
_HEAD, _LONG_HEAD = 8, 16


@dataclass(frozen=True, slots=True)
class FileLayout:
    """An MP4 or MOV file's layout. header_first: whether it can begin to play before all has arrived.
    edits: s at which the edit list of its picture or sound goes over to another stretch of what was
    recorded."""

    header_first: bool
    edits: tuple[float, ...]


def layout_of(path: Path | str) -> FileLayout | None:
    """The layout of an MP4 or MOV file; None for any other kind. Raises RecordingError where it cannot be
    read."""
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
                edits |= {round(at, 2) for at in _edits(file, a, b, scale)}
        return FileLayout(first, tuple(sorted(edits)))


def _boxes(file: IO[bytes], begin: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """The boxes between two places: their name, and where their contents begin and end."""
    for _ in range(_MOST_BOXES):
        if begin + 8 > end:
            return
        file.seek(begin)
        head = file.read(_LONG_HEAD)
        if len(head) < _HEAD:
            return
        size, name = struct.unpack(">I4s", head[:8])
        inside = begin + _HEAD
        if size == 1 and len(head) == _LONG_HEAD:
            (size,) = struct.unpack(">Q", head[8:])
            inside += 8
        elif size == 0:
            size = end - begin
        if size < inside - begin:
            return
        yield name, inside, min(end, begin + size)
        begin += size


def _time_scale(file: IO[bytes], begin: int, end: int) -> int:
    """Units a second of the film's own clock, from `mvhd`."""
    for name, a, _ in _boxes(file, begin, end):
        if name == b"mvhd":
            file.seek(a)
            head = file.read(32)
            at = 20 if head[:1] == b"\1" else 12
            if len(head) >= at + 4:
                return max(1, int(struct.unpack(">I", head[at : at + 4])[0]))
    return 1000


def _edits(file: IO[bytes], begin: int, end: int, scale: int) -> Iterator[float]:
    """Where a track goes over from one stretch of what was recorded to another, s."""
    for name, a, b in _boxes(file, begin, end):
        if name != b"edts":
            continue
        for inner, at, _ in _boxes(file, a, b):
            if inner == b"elst":
                yield from _edit_list(file, at, scale)


def _edit_list(file: IO[bytes], at: int, scale: int) -> Iterator[float]:
    file.seek(at)
    head = file.read(_HEAD)
    if len(head) < _HEAD:
        return
    wide, (count,) = head[0] == 1, struct.unpack(">I", head[4:8])
    size, played, stretches = (20 if wide else 12), 0.0, 0
    for _ in range(min(count, _MOST_EDITS)):
        row = file.read(size)
        if len(row) < size:
            return
        length, media = struct.unpack(">Qq" if wide else ">Ii", row[: size - 4])
        if media >= 0:  # -1 is a wait before the track begins, which phones write too
            if stretches:
                yield played
            stretches += 1
        played += length / scale


def browser_lacks(container: str, video: str | None, pixels: str | None, sound: str | None) -> str | None:
    """What of a file some browsers cannot play, in words; None where all can. By FFmpeg's names."""
    kinds = set(container.split(","))
    kind = (
        "webm"
        if "webm" in kinds
        else "mp4"
        if "mp4" in kinds
        else next((k for k in _WITH if k in kinds), None)
    )
    if kind is None:
        return f"a file of this kind ({container.split(',')[0]})"
    videos, sounds = _WITH[kind]
    if video is not None and video not in videos:
        return f"its picture's coding ({video})"
    if video is not None and pixels is not None and pixels not in _PLAIN_PIXELS:
        return f"its picture's colours ({pixels})"
    if sound is not None and sound not in sounds:
        return f"its sound's coding ({sound})"
    return None
