"""Loudness and peaks by the broadcast standards, for the recogniser's level and for takes to be sent.

Integrated loudness (LUFS) and true peak (dBTP) are those of ITU-R BS.1770-4 as FFmpeg's `ebur128`
filter computes them; the tests hold it to the signals of EBU Tech 3341.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import frames, libraries

FLOOR_DB = -100.0  # anything quieter is given as this
# The histogram of sample sizes has steps of 1/1000 of full scale. Those at the peak are compared with eleven
# times as many below them; a peak under a tenth of full scale is too low to say anything. Set by hand.
_STEPS, _PEAK_STEPS, _SLOPE_STEPS, _LOWEST_PEAK = 1000, 10, 120, 100
_PILE = 3  # times what the slope predicts


@dataclass(frozen=True, slots=True)
class Loudness:
    """integrated: LUFS, -inf where nothing passes the standard's gate of -70. true_peak: dBTP.

    peak: sample peak, dBFS. clipped: share of samples in flat tops. seconds: decoded length.
    """

    integrated: float
    true_peak: float
    peak: float
    clipped: float
    seconds: float


def loudness_of(path: Path | str) -> Loudness:
    """Measure a recording as whoever receives it would. Raises RecordingError."""
    meter, seconds = Meter(true_peak=True), 0.0
    for frame in frames(Path(path)):
        meter.feed(frame)
        seconds += frame.samples / frame.sample_rate
    return Loudness(
        integrated=meter.loudness,
        true_peak=decibels(meter.true_peak or 0.0),
        peak=decibels(meter.peak),
        clipped=meter.clipped(),
        seconds=seconds,
    )


def decibels(amplitude: float) -> float:
    """dB relative to full scale, no lower than `FLOOR_DB`."""
    return max(FLOOR_DB, 20 * math.log10(amplitude)) if amplitude > 0 else FLOOR_DB


class Meter:
    """Loudness by FFmpeg's `ebur128` filter, sample peak and flat tops, at the rate as stored."""

    def __init__(self, *, true_peak: bool = False) -> None:
        self._av = libraries()
        self._options = "metadata=1:framelog=quiet" + (":peak=true" if true_peak else "")
        self.true_peak: float | None = None
        self._graph: Any = None
        self._kind: tuple[Any, ...] = ()
        self.loudness = -math.inf
        self.peak = 0.0
        self.samples = 0
        self._over = 0
        self._tops: NDArray[np.int64] = np.zeros(1024, dtype=np.int64)

    def feed(self, frame: Any) -> None:
        self._tally(frame)
        kind = (frame.format.name, frame.layout.name, frame.sample_rate)
        if kind != self._kind:
            graph = self._av.filter.Graph()
            source = graph.add_abuffer(
                format=kind[0], layout=kind[1], sample_rate=kind[2], time_base=frame.time_base
            )
            meter = graph.add("ebur128", self._options)
            sink = graph.add("abuffersink")
            source.link_to(meter)
            meter.link_to(sink)
            graph.configure()
            self._graph, self._kind = graph, kind
        self._graph.push(frame)
        self._pull()

    def _pull(self) -> None:
        while True:
            try:
                out = self._graph.pull()
            except (self._av.error.BlockingIOError, self._av.error.EOFError):
                return
            value = out.metadata.get("lavfi.r128.I")
            if value is not None:
                self.loudness = float(value)
            if (top := out.metadata.get("lavfi.r128.true_peak")) is not None:
                self.true_peak = max(self.true_peak or 0.0, float(top))

    def _tally(self, frame: Any) -> None:
        data = frame.to_ndarray()
        if data.dtype.kind == "u":
            data = data.astype(np.int16) - 128
            full = 128.0
        else:
            full = 1.0 if data.dtype.kind == "f" else float(2 ** (8 * data.dtype.itemsize - 1))
        size = np.abs(data.ravel(), dtype=np.float32, casting="unsafe")
        self.peak = max(self.peak, float(size.max(initial=0.0)) / full)
        self.samples += size.size
        # Clipped sound that was coded with loss afterwards has no flat tops but is over full scale.
        self._over += int(np.count_nonzero(size >= 0.9995 * full))
        # Only the upper end matters: flat tops are within 1 % of the peak.
        size = size[size > 0.5 * self.peak * full] * np.float32(_STEPS / full)
        self._tops += np.bincount(np.minimum(size, 1023).astype(np.int64), minlength=1024)

    def clipped(self) -> float:
        """Share of samples that were cut: at full scale, or piled up at a peak lower than that.

        A pile is more samples at the peak than the slope below it predicts.
        """
        top = min(int(self.peak * _STEPS), 1023)
        if not self.samples:
            return 0.0
        near = int(self._tops[max(0, top - _PEAK_STEPS) : top + 1].sum())
        below = int(self._tops[max(0, top - _SLOPE_STEPS) : max(0, top - _PEAK_STEPS)].sum()) / 10
        pile = near - below if top >= _LOWEST_PEAK and near > _PILE * below else 0.0
        return max(pile, self._over) / self.samples
