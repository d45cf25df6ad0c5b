"""The picture beside the sound: how a player shows it, how bright it is and whether anything moves.

A dozen frames spread over the recording are looked at, key frames wherever the file can be sought in,
so that a long film costs no more than a short one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain, islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import KINDS, claim, container_of, is_cover, libraries
from offbook.errors import RecordingError

_LOOKS = 12
_FEW = 4  # fewer key frames than this say little: then the film is watched from its start
_MOST_PIXELS = 1_000_000_000  # watched at most: 16 s of 1080p at 30 frames a second, a few seconds' work
_PACKETS_TO_A_KEY = 300  # a seek may land between key frames: some ten seconds to the next whole one
_BAD_IN_A_ROW = 200
_CELLS = 64  # a look is kept as 64 x 64 means: coarse, so that the noise of a sensor averages out
# Share of the way from black to white that a cell of a picture may stray and be the same. Ours, between what
# was measured on films made for it: 0.03 for a noisy camera's wall coded with loss, 0.2 for a small mouth.
_SAME = 0.04
_FULL_RANGE = 2  # AVCOL_RANGE_JPEG of FFmpeg: 0 is black and 255 is white
_UPRIGHT_FROM, _UPRIGHT_TO = (
    45,
    135,
)  # degrees that a picture is turned by, where its width becomes its height


@dataclass(frozen=True, slots=True)
class Picture:
    """The moving picture of a recording as a player shows it.

    width, height: pixels after rotation and pixel shape. frames_a_second: average, None where unknown.
    codec: FFmpeg's name of it. seconds: length of the picture, or of the whole file where the container
    says no more; None where unknown. brightness: mean luma of the frames looked at, 0 black to 1 white,
    in the range that the file states, video range (16 to 235 of ITU-R BT.601 and BT.709) where it states
    none. still: all frames looked at are the same picture (a frozen camera, a photograph, one frame).
    """

    width: int
    height: int
    frames_a_second: float | None
    codec: str
    seconds: float | None
    brightness: float
    still: bool

    @property
    def upright(self) -> bool:
        """True where the picture is higher than wide."""
        return self.height > self.width


# One frame: width and height as shown, and its mean luma in each of (64, 64) cells, 0 to 255.
_Look = tuple[int, int, NDArray[np.uint8]]


class _Spread:
    """Keeps a look at every n-th frame that passes by; n doubles as it fills, so any length is covered."""

    def __init__(self) -> None:
        self.looks: list[_Look] = []
        self._step, self._passed = 1, 0

    def pass_by(self, look: Callable[[], _Look | None]) -> None:
        wanted = self._passed % self._step == 0
        self._passed += 1
        if wanted and (seen := look()) is not None:
            self.looks.append(seen)
            if len(self.looks) == 2 * _LOOKS:
                del self.looks[1::2]
                self._step *= 2


def moving_picture(path: Path | str) -> Picture | None:
    """Look at the picture of a recording; None where it has no moving one (a cover, a photograph).

    Damaged frames are stepped over. Raises RecordingError where the file cannot be read, and where it
    has a picture of which no frame can be decoded.
    """
    path = Path(path)
    with container_of(path, not_film(path)) as container:
        if (film := film_in(path, container)) is None:
            return None
        codec, rate = film.codec_context.name, film.average_rate
        seconds = float(film.duration * film.time_base) if film.duration else claim(container)
        if seconds is not None:
            looks = _look_at_keys(container, film, seconds)
        else:
            looks, seconds, rate = _read_through(container, film)
    by_keys = len(looks) >= _FEW
    if not by_keys:
        watched, whole = _watch(path)
        looks = watched if whole else looks + watched
    if not looks:
        raise _unreadable(path)
    # A browser changes the size of its picture midway when the phone is turned: most of it counts.
    width, height = Counter((width, height) for width, height, _ in looks).most_common(1)[0][0]
    brightness = float(_cells(looks).mean())
    rate = float(rate) if rate else None
    # Key frames come at even distances: a picture that repeats as evenly shows the same in each of them.
    still = _is_still(looks) and not (by_keys and _moves_between_keys(path))
    return Picture(width, height, rate, codec, seconds, brightness, still)


def _cells(looks: list[_Look]) -> NDArray[np.float64]:
    """The mean luma of each cell of each look, 0 black to 1 white."""
    return np.stack([cells for _, _, cells in looks]) / 255


def _is_still(looks: list[_Look]) -> bool:
    """Whether all looks show the same picture."""
    return bool(np.ptp(_cells(looks), axis=0).max() <= _SAME)


def not_film(path: Path) -> RecordingError:
    """What is said of a file that holds neither picture nor sound that can be read."""
    return RecordingError(
        f"{path} is not a recording, or is cut off before its picture can be read",
        f"use the file the camera itself saved: {KINDS}",
    )


def _unreadable(path: Path) -> RecordingError:
    return RecordingError(
        f"{path} holds a picture, but no frame of it can be read here",
        "copy it again from where it was made, or export it as mp4",
    )


def film_in(path: Path, container: Any) -> Any:
    """The first stream with a moving picture, None where there is none."""
    kind = container.format.name
    # FFmpeg draws any text file as a film of a terminal, and reads subtitles alone.
    if kind == "tty" or not (container.streams.video or container.streams.audio):
        raise not_film(path)
    if kind == "image2" or kind.endswith("_pipe"):
        return None  # a photograph
    film = next((stream for stream in container.streams.video if not is_cover(stream)), None)
    if film is None:
        return None
    if film.codec_context is None:
        raise _unreadable(path)
    film.thread_type = "NONE"  # FFmpeg's threads can hang where a film is closed before its end
    return film


def packets_of(container: Any, film: Any) -> Iterator[Any]:
    """The film's packets from the container's present place on; what cannot be read is skipped."""
    av, bad = libraries(), 0
    while bad <= _BAD_IN_A_ROW:
        try:
            for packet in container.demux(film):
                bad = 0
                if packet.size:
                    yield packet
            return
        except av.error.FFmpegError:
            bad += 1
        except IndexError:  # PyAV's at the end of a file in which a stream appeared midway
            return


def decoded(film: Any, packet: Any) -> list[Any]:
    """The frames that `packet` brings forth, None the last ones; none where it is damaged."""
    av = libraries()
    try:
        return [f for f in film.codec_context.decode(packet) if not f.is_corrupt]
    except (av.error.FFmpegError, ValueError):
        return []


def look_at(film: Any, frame: Any) -> _Look | None:
    """What a player would show of `frame`; None where its pixels are of a kind that cannot be converted."""
    av = libraries()
    try:
        ranges = {"src_color_range": frame.color_range, "dst_color_range": _FULL_RANGE}
        small = frame.reformat(_CELLS, _CELLS, "gray", interpolation="AREA", **ranges)
    except (av.error.FFmpegError, ValueError):
        return None
    width = max(1, round(frame.width * float(film.sample_aspect_ratio or 1)))
    turned = (
        _UPRIGHT_FROM < frame.rotation % 180 < _UPRIGHT_TO
    )  # a phone held upright stores its picture lying
    shown = (frame.height, width) if turned else (width, frame.height)
    return *shown, small.to_ndarray()


def _look_at_key(film: Any, packet: Any) -> _Look | None:
    """One key frame decoded by itself: drained at once, for most decoders hold frames back."""
    film.codec_context.flush_buffers()
    frames = decoded(film, packet) + decoded(film, None)
    film.codec_context.flush_buffers()
    return look_at(film, frames[0]) if frames else None


def _look_at_keys(container: Any, film: Any, seconds: float) -> list[_Look]:
    """Looks at different key frames near the middles of equal parts of the length."""
    av = libraries()
    found: dict[int, _Look] = {}  # by their place in the file, in bytes
    for n in range(_LOOKS):
        place = (film.start_time or 0) + round(seconds * (n + 0.5) / _LOOKS / float(film.time_base))
        try:
            container.seek(place, stream=film)
        except (av.error.FFmpegError, OverflowError):
            continue
        for packet in islice(packets_of(container, film), _PACKETS_TO_A_KEY):
            if not packet.is_keyframe:
                continue
            if packet.pos not in found and (look := _look_at_key(film, packet)) is not None:
                found[packet.pos] = look
            if packet.pos in found:
                break
    return list(found.values())


def _read_through(container: Any, film: Any) -> tuple[list[_Look], float | None, float | None]:
    """A file that states no length, read once but hardly decoded: looks, seconds, frames a second."""
    spread, times = _Spread(), list[int]()
    for packet in packets_of(container, film):
        if packet.is_keyframe:
            spread.pass_by(partial(_look_at_key, film, packet))
        at = packet.dts if packet.pts is None else packet.pts
        if at is not None:
            times.append(at)
    span = float((max(times) - min(times)) * film.time_base) if times else 0.0
    if not span:
        return spread.looks, None, None
    rate = (len(times) - 1) / span
    return spread.looks, len(times) / rate, rate


def _watch(path: Path) -> tuple[list[_Look], bool]:
    """Looks at frames decoded one after the other, as far as the bound allows; True where that was all."""
    spread, pixels = _Spread(), 0
    with container_of(path, not_film(path)) as container:
        film = film_in(path, container)
        for packet in chain(packets_of(container, film), [None]):
            for frame in decoded(film, packet):
                spread.pass_by(partial(look_at, film, frame))
                pixels += frame.width * frame.height
            if pixels > _MOST_PIXELS:
                return spread.looks, False
    return spread.looks, True


def _moves_between_keys(path: Path) -> bool:
    """Whether the picture moves from one key frame to the next, in most of the stretches that are watched.

    A damaged place looks like movement too, but in its own stretch alone.
    """
    stretches, pixels = list[_Spread](), 0
    with container_of(path, not_film(path)) as container:
        film = film_in(path, container)
        for packet in packets_of(container, film):
            if packet.is_keyframe or not stretches:
                stretches.append(_Spread())
            for frame in decoded(film, packet):
                stretches[-1].pass_by(partial(look_at, film, frame))
                pixels += frame.width * frame.height
            if pixels > _MOST_PIXELS:
                break
    seen = [stretch.looks for stretch in stretches if stretch.looks]
    return 2 * sum(not _is_still(looks) for looks in seen) > len(seen)
