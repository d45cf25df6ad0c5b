"""Live sound from a microphone: measured as it comes in, and brought to the recogniser's level.

A recording is measured as a whole before it is heard (`quality.survey`). Live sound cannot wait for that. Its
gain follows the integrated loudness so far (ITU-R BS.1770), so slowly that it never jumps inside a word. The
report at the end is the same as for a file.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from offbook.audio.decode import Resampler, libraries
from offbook.audio.loudness import FLOOR_DB, Meter, decibels
from offbook.audio.quality import MOST_TURNED_DOWN_DB, TARGET_LUFS, SoundReport, Survey, judge_sound
from offbook.audio.stream import to_pcm
from offbook.sampling import FULL_SCALE, amplitude_ratio

_HIGHEST_GAIN_DB = 30.0  # set by hand: more would lift the hum of a room in which nobody speaks yet
_STEP_DB = 0.5  # the most that the gain changes with a piece of a quarter of a second; set by hand
_HIGHEST_PEAK_DB = -1.0  # dBFS: no gain lifts a sample over this; set by hand
_STARTED_LUFS = -60.0  # below this nobody has spoken yet; set by hand


class Arriving:
    """Takes in 16-bit mono sound at any rate, piece by piece, and returns it levelled at `SAMPLE_RATE`.

    level, peak: root mean square and sample peak of the newest piece, dBFS.
    """

    def __init__(self) -> None:
        self._av = libraries()
        self._meter, self._resampler = Meter(), Resampler()
        self._survey = Survey(1)
        self._gain: float | None = None
        self.level = self.peak = FLOOR_DB

    def feed(self, sound: bytes, rate: int) -> bytes:
        """Take in a piece, and return the levelled sound that is ready: 16-bit little-endian mono.

        rate: samples a second of `sound`; it may change from piece to piece.
        """
        samples = np.frombuffer(sound, "<i2")
        if not samples.size:
            return b""
        floats = samples.astype(np.float32) / FULL_SCALE
        self.level = decibels(float(np.sqrt(np.mean(np.square(floats)))))
        self.peak = decibels(float(np.abs(floats).max()))
        frame = self._av.AudioFrame.from_ndarray(samples.reshape(1, -1), format="s16", layout="mono")
        frame.sample_rate = rate
        self._meter.feed(frame)
        return self._levelled(self._resampler.feed(frame))

    def finish(self) -> bytes:
        """Return the last of the levelled sound, which was still held back."""
        return self._levelled(self._resampler.flush())

    def report(self, path: Path) -> SoundReport:
        """What was measured, as `survey` reports it for a file. Call `finish` first.

        path: the recording, to be named in an error. Raises RecordingError if it is silent.
        """
        self._survey.finish()
        return judge_sound(path, None, self._meter, self._survey)

    def _levelled(self, blocks: Iterator[Any]) -> bytes:
        """Measure blocks of shape (1, n) and bring them to the level."""
        parts = []
        for block in blocks:
            self._survey.feed(block)
            gain = self._next_gain()
            room = _HIGHEST_PEAK_DB - decibels(float(np.abs(block[0]).max(initial=0.0)))
            if gain > room:  # the gain rose in a silence that was taken for a quiet voice
                gain = self._gain = room
            parts.append(to_pcm(block[0] * np.float32(amplitude_ratio(gain))))
        return b"".join(parts)

    def _next_gain(self) -> float:
        """The gain for the next block, dB."""
        loudness = self._meter.loudness
        if not math.isfinite(loudness) or loudness < _STARTED_LUFS:
            return self._gain or 0.0
        wanted = min(_HIGHEST_GAIN_DB, max(-MOST_TURNED_DOWN_DB, TARGET_LUFS - loudness))
        if self._gain is None:
            self._gain = wanted
        self._gain += min(_STEP_DB, max(-_STEP_DB, wanted - self._gain))
        return self._gain
