"""Loudness and peaks by the broadcast standards: for the recogniser's level, and for takes that are sent.

Integrated loudness (LUFS) and true peak (dBTP) are those of ITU-R BS.1770-4, as FFmpeg's `ebur128` filter
computes them. The tests check them with the signals of EBU Tech 3341.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import frames, libraries
from offbook.sampling import AMPLITUDE_DB

FLOOR_DB = -100.0  # dBFS: every softer sound is given as this; set by hand
# How flat tops are found: in a histogram of the sizes of samples, in steps of 1/1000 of full scale, the steps
# at the peak are compared with those below it. All set by hand.
_STEPS = 1000  # of the histogram, from 0 to full scale
_COUNTED = 1024  # steps that are counted; everything above full scale falls into the last ones
_PEAK_STEPS = 10  # below the peak that belong to it: flat tops are within 1 % of full scale of it
_SLOPE_STEPS = 120  # below the peak where those end that it is compared with
_SLOPE_DIVISOR = 10  # the slope has 110 steps and the peak, with its topmost step, 11
_LOWEST_PEAK = 100  # steps: a peak under a tenth of full scale is too low to tell anything
_PILE = 3  # times as many samples at the peak as the slope predicts are flat tops
_NEAR_PEAK = 0.5  # of the peak: only samples larger than this are counted
_FULL_FROM = 0.9995  # of full scale: a sample from here on is at full scale or over it
_BITS_A_BYTE = 8
_MIDDLE_OF_BYTES = 128  # silence in samples of 8 bits, which have no sign


@dataclass(frozen=True, slots=True)
class Loudness:
    """How loud a recording is. integrated: LUFS, -inf if all of it is below the standard's gate of -70 LUFS.

    true_peak: dBTP. peak: sample peak, dBFS. clipped: the share of samples in flat tops, 0 to 1.
    seconds: decoded length.
    """

    integrated: float
    true_peak: float
    peak: float
    clipped: float
    seconds: float


def loudness_of(path: Path | str) -> Loudness:
    """Measure a recording as the people who receive it would. Raises RecordingError as `frames` does."""
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
    """The level of an amplitude (full scale 1.0) in dBFS; `FLOOR_DB` for everything softer than that."""
    return max(FLOOR_DB, AMPLITUDE_DB * math.log10(amplitude)) if amplitude > 0 else FLOOR_DB


class Meter:
    """Measures frames as they are fed in, at the rate as stored.

    loudness: integrated so far, LUFS. peak: the largest sample so far, full scale 1.0. true_peak: the same
    between the samples, None unless it was asked for. samples: how many there were in all channels.
    """

    def __init__(self, *, true_peak: bool = False) -> None:
        self._av = libraries()
        self._options = "metadata=1:framelog=quiet" + (":peak=true" if true_peak else "")
        self.true_peak: float | None = None
        self._graph: Any = None
        self._kind: tuple[Any, ...] = ()
        self.loudness = -math.inf
        self.peak = 0.0
        self.samples = 0
        self._at_full_scale = 0
        self._sizes: NDArray[np.int64] = np.zeros(_COUNTED, dtype=np.int64)

    def feed(self, frame: Any) -> None:
        """Take in a PyAV frame. If the layout or the rate changes midway, the loudness starts again."""
        self._count_sizes(frame)
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
        """Read what the filter has measured so far."""
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

    def _count_sizes(self, frame: Any) -> None:
        """Add the samples of a frame to the peak and to the histogram."""
        data = frame.to_ndarray()
        if data.dtype.kind == "u":
            data = data.astype(np.int16) - _MIDDLE_OF_BYTES
            full = float(_MIDDLE_OF_BYTES)
        elif data.dtype.kind == "f":
            full = 1.0
        else:
            full = float(2 ** (_BITS_A_BYTE * data.dtype.itemsize - 1))
        size = np.abs(data.ravel(), dtype=np.float32, casting="unsafe")
        self.peak = max(self.peak, float(size.max(initial=0.0)) / full)
        self.samples += size.size
        # Sound that was clipped and then coded with loss has no flat tops any more, but goes over full scale.
        self._at_full_scale += int(np.count_nonzero(size >= _FULL_FROM * full))
        size = size[size > _NEAR_PEAK * self.peak * full] * np.float32(_STEPS / full)
        steps = np.minimum(size, _COUNTED - 1).astype(np.int64)
        self._sizes += np.bincount(steps, minlength=_COUNTED)

    def clipped(self) -> float:
        """The share of samples that were cut off, 0 to 1: those at full scale, or in flat tops below it.

        Flat tops are there if far more samples are at the peak than the slope below the peak predicts.
        """
        top = min(int(self.peak * _STEPS), _COUNTED - 1)
        if not self.samples:
            return 0.0
        slope_from, peak_from = max(0, top - _SLOPE_STEPS), max(0, top - _PEAK_STEPS)
        at_peak = int(self._sizes[peak_from : top + 1].sum())
        predicted = int(self._sizes[slope_from:peak_from].sum()) / _SLOPE_DIVISOR
        flat = at_peak - predicted if top >= _LOWEST_PEAK and at_peak > _PILE * predicted else 0.0
        return max(flat, self._at_full_scale) / self.samples
