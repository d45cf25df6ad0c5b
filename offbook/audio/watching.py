"""The film watched from its first picture to its last: what moves, how bright it is, where key frames are.

Every picture is made small at once (64 x 64 means of its luma), compared with the one before and let go, so
that memory grows by a few numbers a picture. `joins`, `light` and `in_step` read what is kept here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import container_of
from offbook.audio.picture import decoded, film_in, look_at, not_film, packets_of

_MOST_PIXELS = 40_000_000_000  # watched at most: ten minutes of 1080p at 30 pictures a second; set by hand
_TOP_SHARE = (
    0.05  # of the cells, those that change most, tell of a change in a part of the picture; set by hand
)
_BLOCKS = 8  # the picture is divided into 8 x 8 parts whose motion is kept
_WHITE = 250  # luma from which a cell is blown out, of 255
_FULL = 255.0


@dataclass(frozen=True, slots=True, eq=False)
class WatchedFilm:
    """What was seen, one value a picture; shapes (n,) but for `motion`.

    at: s. change: how much the most changed twentieth of the picture differs from the picture before, share
    of the way from black to white, a change of the whole picture's brightness left out. brightness: mean
    luma, 0 to 1. white: share of the picture that is blown out. sides: mean luma of the left and the right
    half, shape (n, 2). motion: as `change`, for each of 8 x 8 parts, shape (n, 64). sizes: how often the
    picture's size or shape changed. whole: False where the film is longer than is watched.
    """

    at: NDArray[np.float64]
    change: NDArray[np.float64]
    brightness: NDArray[np.float64]
    white: NDArray[np.float64]
    sides: NDArray[np.float64]
    motion: NDArray[np.float64]
    sizes: int
    whole: bool

    @property
    def step(self) -> float:
        """The usual time between two pictures, s."""
        return float(np.median(np.diff(self.at))) if len(self.at) > 1 else 0.0


def watch_film(path: Path | str) -> WatchedFilm | None:
    """Watch the film of a recording; None where it has none. Raises RecordingError as `picture_of` does."""
    path = Path(path)
    rows: list[tuple[float, float, float, float, float, float]] = []
    motion: list[NDArray[np.float64]] = []
    before: NDArray[np.float64] | None = None
    shape, sizes, pixels = (0, 0), 0, 0
    with container_of(path, not_film(path)) as container:
        if (film := film_in(path, container)) is None:
            return None
        for frame in _frames(container, film):
            pixels += frame.width * frame.height
            if pixels > _MOST_PIXELS:
                break
            if (look := look_at(film, frame)) is None or frame.pts is None:
                continue
            width, height, cells = look
            sizes += bool(rows) and (width, height) != shape
            shape = (width, height)
            now = cells / _FULL
            moved = np.zeros_like(now) if before is None else _moved(now, before)
            half = now.shape[1] // 2
            rows.append(
                (
                    float(frame.pts * film.time_base),
                    _top(moved),
                    float(now.mean()),
                    float((cells >= _WHITE).mean()),
                    float(now[:, :half].mean()),
                    float(now[:, half:].mean()),
                )
            )
            motion.append(_parts(moved))
            before = now
    if not rows:
        return None
    found = np.array(rows)
    order = np.argsort(found[:, 0], kind="stable")
    found = found[order]
    return WatchedFilm(
        at=found[:, 0],
        change=found[:, 1],
        brightness=found[:, 2],
        white=found[:, 3],
        sides=found[:, 4:],
        motion=np.array(motion)[order],
        sizes=sizes,
        whole=pixels <= _MOST_PIXELS,
    )


def _frames(container: Any, film: Any) -> Iterator[Any]:
    for packet in chain(packets_of(container, film), [None]):
        yield from decoded(film, packet)


def _moved(now: NDArray[np.float64], before: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each cell changed, beyond what the whole picture did (a camera that sets its exposure)."""
    step = now - before
    return np.asarray(np.abs(step - np.median(step)))


def _top(moved: NDArray[np.float64]) -> float:
    most = max(1, round(_TOP_SHARE * moved.size))
    return float(np.partition(moved, -most, axis=None)[-most:].mean())


def _parts(moved: NDArray[np.float64]) -> NDArray[np.float64]:
    size = moved.shape[0] // _BLOCKS
    return np.asarray(moved.reshape(_BLOCKS, size, _BLOCKS, size).mean(axis=(1, 3)).ravel())
