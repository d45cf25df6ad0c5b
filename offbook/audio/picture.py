"""The picture of a film: how a player shows it, how bright it is and whether anything moves in it.

About a dozen frames spread over the recording are looked at. If the file can be searched, these are key
frames, so that a long film takes no more time than a short one.
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

from offbook.audio.decode import (
    BAD_PACKETS_IN_A_ROW,
    KINDS,
    container_of,
    is_cover,
    libraries,
    stated_seconds,
)
from offbook.errors import RecordingError

_LOOKS = 12  # frames that are looked at; set by hand
_FEWEST_KEYS = 4  # with fewer key frames the film is watched from its start; set by hand
# The most that is decoded to find out whether anything moves: 16 s of 1080p at 30 frames a second. Set by
# hand, as it takes a few seconds.
_MOST_DECODED_PIXELS = 1_000_000_000
# After a seek, packets that are read to find a key frame: about ten seconds of film. Set by hand.
_PACKETS_TO_A_KEY = 300
_CELLS = 64  # a look is kept as 64 x 64 means, so coarse that the noise of a camera averages out; set by hand
# How far a cell may change in the same picture, as a share of the way from black to white. Set by hand,
# between two values measured on films made for it: 0.03 for a wall filmed by a noisy camera and coded with
# loss, and 0.2 for a small mouth that speaks.
_SAME = 0.04
_FULL_RANGE = 2  # AVCOL_RANGE_JPEG of FFmpeg: 0 is black and 255 is white
WHITE_LUMA = 255.0  # in that range
_HALF_A_TURN = 180  # degrees
# Degrees by which a picture is turned, modulo half a turn, if its width becomes its height: nearer to a
# quarter of a turn than to none.
_UPRIGHT_FROM, _UPRIGHT_TO = 45, 135
_MIDDLE = 0.5  # of a part of the film, as a share of its length


@dataclass(frozen=True, slots=True)
class Picture:
    """The moving picture of a recording as a player shows it.

    width, height: pixels, after the picture was turned and its pixels made square. frames_a_second: on
    average, None if unknown. codec: FFmpeg's name. seconds: the length of the picture, or that of the whole
    file if the container states no other; None if unknown. brightness: mean luma of the frames that were
    looked at, from 0 for black to 1 for white, in the range that the file states; if it states none, in video
    range (16 to 235, ITU-R BT.601 and BT.709). still: whether all these frames show the same picture (a
    frozen camera, a photograph, a single frame).
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
        """Whether the picture is higher than wide."""
        return self.height > self.width


# A look at one frame: its width and height as shown, and its mean luma in 64 x 64 cells, 0 to 255.
_Look = tuple[int, int, NDArray[np.uint8]]


class _SpreadLooks:
    """Keeps looks at frames that are evenly spread over a film whose length is not known.

    It keeps every n-th frame, and doubles n whenever it has too many.
    """

    def __init__(self) -> None:
        self.looks: list[_Look] = []
        self._step, self._offered = 1, 0

    def offer(self, look: Callable[[], _Look | None]) -> None:
        """Call `look` and keep its result if the turn of this frame has come."""
        wanted = self._offered % self._step == 0
        self._offered += 1
        if wanted and (seen := look()) is not None:
            self.looks.append(seen)
            if len(self.looks) == 2 * _LOOKS:
                del self.looks[1::2]
                self._step *= 2


def moving_picture(path: Path | str) -> Picture | None:
    """Look at the picture of a recording; None if it has no moving picture (only a cover, or a photograph).

    Damaged frames are skipped. Raises RecordingError if the file cannot be read, or if no frame of its
    picture can be decoded.
    """
    path = Path(path)
    with container_of(path, not_film(path)) as container:
        if (film := film_in(path, container)) is None:
            return None
        codec, rate = film.codec_context.name, film.average_rate
        seconds = float(film.duration * film.time_base) if film.duration else stated_seconds(container)
        if seconds is not None:
            looks = _look_at_keys(container, film, seconds)
        else:
            looks, seconds, rate = _read_through(container, film)
    by_keys = len(looks) >= _FEWEST_KEYS
    if not by_keys:
        decoded_looks, whole = _look_from_start(path)
        looks = decoded_looks if whole else looks + decoded_looks
    if not looks:
        raise _unreadable(path)
    # A browser changes the size of the picture when the phone is turned: the commonest size counts.
    width, height = Counter((width, height) for width, height, _ in looks).most_common(1)[0][0]
    brightness = float(_cells(looks).mean())
    rate = float(rate) if rate else None
    # Key frames come at even distances. A movement that repeats just as evenly looks the same in all of them.
    still = _is_still(looks) and not (by_keys and _moves_between_keys(path))
    return Picture(width, height, rate, codec, seconds, brightness, still)


def _cells(looks: list[_Look]) -> NDArray[np.float64]:
    """The mean luma of each cell of each look, from 0 for black to 1 for white, shape (looks, 64, 64)."""
    return np.stack([cells for _, _, cells in looks]) / WHITE_LUMA


def _is_still(looks: list[_Look]) -> bool:
    """Whether all looks show the same picture."""
    return bool(np.ptp(_cells(looks), axis=0).max() <= _SAME)


def not_film(path: Path) -> RecordingError:
    """The error for a file that has neither a picture nor sound that can be read."""
    return RecordingError(
        f"{path} is not a recording, or is cut off before its picture can be read",
        f"use the file the camera itself saved: {KINDS}",
    )


def _unreadable(path: Path) -> RecordingError:
    return RecordingError(
        f"{path} holds a picture, but no frame of it can be read here",
        "copy it again from the device it was recorded on, or export it as mp4",
    )


def film_in(path: Path, container: Any) -> Any:
    """The first stream with a moving picture; None if there is none.

    Raises RecordingError if the file is neither film nor sound, or if its picture cannot be decoded.
    """
    kind = container.format.name
    # FFmpeg shows any text file as a film of a terminal ("tty"), and opens files of subtitles.
    if kind == "tty" or not (container.streams.video or container.streams.audio):
        raise not_film(path)
    if kind == "image2" or kind.endswith("_pipe"):
        return None  # a photograph
    film = next((stream for stream in container.streams.video if not is_cover(stream)), None)
    if film is None:
        return None
    if film.codec_context is None:
        raise _unreadable(path)
    film.thread_type = "NONE"  # FFmpeg's threads can hang if a film is closed before its end
    return film


def packets_of(container: Any, film: Any) -> Iterator[Any]:
    """The packets of a film from where the container stands; damaged ones are skipped."""
    av, bad = libraries(), 0
    while bad <= BAD_PACKETS_IN_A_ROW:
        try:
            for packet in container.demux(film):
                bad = 0
                if packet.size:
                    yield packet
            return
        except av.error.FFmpegError:
            bad += 1
        except IndexError:  # PyAV raises this at the end of a file in which a stream appeared midway
            return


def decoded(film: Any, packet: Any) -> list[Any]:
    """The frames that are ready after `packet`, none if it is damaged; with None, the last frames."""
    av = libraries()
    try:
        return [f for f in film.codec_context.decode(packet) if not f.is_corrupt]
    except (av.error.FFmpegError, ValueError):
        return []


def look_at(film: Any, frame: Any) -> _Look | None:
    """What a player would show of `frame`; None if pixels of this kind cannot be converted."""
    av = libraries()
    try:
        ranges = {"src_color_range": frame.color_range, "dst_color_range": _FULL_RANGE}
        small = frame.reformat(_CELLS, _CELLS, "gray", interpolation="AREA", **ranges)
    except (av.error.FFmpegError, ValueError):
        return None
    width = max(1, round(frame.width * float(film.sample_aspect_ratio or 1)))
    # A phone that is held upright stores its picture lying on its side, and says that it is to be turned.
    turned = _UPRIGHT_FROM < frame.rotation % _HALF_A_TURN < _UPRIGHT_TO
    shown = (frame.height, width) if turned else (width, frame.height)
    return *shown, small.to_ndarray()


def _look_at_key(film: Any, packet: Any) -> _Look | None:
    """Decode one key frame by itself. The decoder is emptied at once, because most hold frames back."""
    film.codec_context.flush_buffers()
    frames = decoded(film, packet) + decoded(film, None)
    film.codec_context.flush_buffers()
    return look_at(film, frames[0]) if frames else None


def _look_at_keys(container: Any, film: Any, seconds: float) -> list[_Look]:
    """Divide the film into equal parts, and look at a key frame near the middle of each of them.

    Each key frame is looked at once, so there may be fewer looks than parts.
    """
    av = libraries()
    found: dict[int, _Look] = {}  # by their place in the file, in bytes
    for n in range(_LOOKS):
        middle = seconds * (n + _MIDDLE) / _LOOKS
        place = (film.start_time or 0) + round(middle / float(film.time_base))
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
    """Read a file that states no length: looks at key frames, seconds, and frames a second.

    Only key frames are decoded. The last two are None if no frame has a time.
    """
    spread, times = _SpreadLooks(), list[int]()
    for packet in packets_of(container, film):
        if packet.is_keyframe:
            spread.offer(partial(_look_at_key, film, packet))
        at = packet.dts if packet.pts is None else packet.pts
        if at is not None:
            times.append(at)
    span = float((max(times) - min(times)) * film.time_base) if times else 0.0
    if not span:
        return spread.looks, None, None
    rate = (len(times) - 1) / span
    return spread.looks, len(times) / rate, rate


def _look_from_start(path: Path) -> tuple[list[_Look], bool]:
    """Decode up to `_MOST_DECODED_PIXELS` from the start: the looks, and whether that was the whole film."""
    spread, pixels = _SpreadLooks(), 0
    with container_of(path, not_film(path)) as container:
        film = film_in(path, container)
        for packet in chain(packets_of(container, film), [None]):
            for frame in decoded(film, packet):
                spread.offer(partial(look_at, film, frame))
                pixels += frame.width * frame.height
            if pixels > _MOST_DECODED_PIXELS:
                return spread.looks, False
    return spread.looks, True


def _moves_between_keys(path: Path) -> bool:
    """Whether the picture moves between most key frames and the next, up to `_MOST_DECODED_PIXELS`.

    A damaged place looks like movement too, but only between one key frame and the next.
    """
    stretches, pixels = list[_SpreadLooks](), 0
    with container_of(path, not_film(path)) as container:
        film = film_in(path, container)
        for packet in packets_of(container, film):
            if packet.is_keyframe or not stretches:
                stretches.append(_SpreadLooks())
            for frame in decoded(film, packet):
                stretches[-1].offer(partial(look_at, film, frame))
                pixels += frame.width * frame.height
            if pixels > _MOST_DECODED_PIXELS:
                break
    seen = [stretch.looks for stretch in stretches if stretch.looks]
    return 2 * sum(not _is_still(looks) for looks in seen) > len(seen)
