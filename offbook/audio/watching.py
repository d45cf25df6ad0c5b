"""Watches a film from its first picture to its last: what moves in it, and how bright it is.

Every picture is reduced at once to 64 x 64 means of its luma, compared with the one before it and forgotten,
so that only a few numbers a picture are kept. `joins`, `light` and `in_step` work with them.
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
from offbook.audio.picture import WHITE_LUMA, decoded, film_in, look_at, not_film, packets_of

_MOST_WATCHED_PIXELS = 40_000_000_000  # ten minutes of 1080p at 30 pictures a second; set by hand
# The share of the cells, those that change most, whose mean is the change of the picture, so that a change in
# only a part of the picture is noticed; set by hand.
_TOP_SHARE = 0.05
_BLOCKS = 8  # the picture is divided into 8 x 8 parts, and the motion of each is kept; set by hand
_BLOWN_LUMA = 250  # of 255: a cell is blown out from here on; set by hand


@dataclass(frozen=True, slots=True, eq=False)
class WatchedFilm:
    """What was seen in the n pictures of a film; each array has the shape (n,) if no other is given.

    at: the time of each picture, s. change: how much the twentieth of the picture that changed most differs
    from the picture before, as a share of the way from black to white; a change of the brightness of the
    whole picture does not count. brightness: mean luma, 0 to 1. white: share of the picture that is blown
    out. sides: mean luma of the left and the right half, 0 to 1, shape (n, 2). motion: how much each of 8 x 8
    parts changed, counted as in `change`, shape (n, 64). whole: False if the film is so long that its end was
    not watched.
    """

    at: NDArray[np.float64]
    change: NDArray[np.float64]
    brightness: NDArray[np.float64]
    white: NDArray[np.float64]
    sides: NDArray[np.float64]
    motion: NDArray[np.float64]
    whole: bool

    @property
    def step(self) -> float:
        """The usual time between two pictures, s."""
        return float(np.median(np.diff(self.at))) if len(self.at) > 1 else 0.0


def watch_film(path: Path | str) -> WatchedFilm | None:
    """Watch a film; None if a recording has no moving picture. Raises RecordingError if it is unreadable."""
    path = Path(path)
    rows: list[tuple[float, float, float, float]] = []
    sides: list[tuple[float, float]] = []
    motion: list[NDArray[np.float64]] = []
    before: NDArray[np.float64] | None = None
    pixels = 0
    with container_of(path, not_film(path)) as container:
        if (film := film_in(path, container)) is None:
            return None
        for frame in _frames(container, film):
            pixels += frame.width * frame.height
            if pixels > _MOST_WATCHED_PIXELS:
                break
            if (look := look_at(film, frame)) is None or frame.pts is None:
                continue
            _, _, cells = look
            now = cells / WHITE_LUMA
            change = np.zeros_like(now) if before is None else _change_of_cells(now, before)
            half = now.shape[1] // 2
            at, blown = float(frame.pts * film.time_base), float((cells >= _BLOWN_LUMA).mean())
            rows.append((at, _largest_changes(change), float(now.mean()), blown))
            sides.append((float(now[:, :half].mean()), float(now[:, half:].mean())))
            motion.append(_motion_of_parts(change))
            before = now
    if not rows:
        return None
    found = np.array(rows)
    order = np.argsort(found[:, 0], kind="stable")
    times, changes, brightness, white = found[order].T
    return WatchedFilm(
        at=times,
        change=changes,
        brightness=brightness,
        white=white,
        sides=np.array(sides)[order],
        motion=np.array(motion)[order],
        whole=pixels <= _MOST_WATCHED_PIXELS,
    )


def _frames(container: Any, film: Any) -> Iterator[Any]:
    """The decoded pictures of a film, in the order of the file."""
    for packet in chain(packets_of(container, film), [None]):
        yield from decoded(film, packet)


def _change_of_cells(now: NDArray[np.float64], before: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each cell changed between two pictures, shape (64, 64).

    What all cells have in common does not count: the camera may have changed its exposure.
    """
    step = now - before
    return np.asarray(np.abs(step - np.median(step)))


def _largest_changes(change: NDArray[np.float64]) -> float:
    """The mean of the twentieth of the cells that changed most."""
    most = max(1, round(_TOP_SHARE * change.size))
    return float(np.partition(change, -most, axis=None)[-most:].mean())


def _motion_of_parts(change: NDArray[np.float64]) -> NDArray[np.float64]:
    """The mean change of the cells in each of the 8 x 8 parts, row by row, shape (64,)."""
    size = change.shape[0] // _BLOCKS
    return np.asarray(change.reshape(_BLOCKS, size, _BLOCKS, size).mean(axis=(1, -1)).ravel())
