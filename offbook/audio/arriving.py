"""Sound as it arrives from a microphone: measured on the way, and brought to the recogniser's level.

A recording is measured whole before it is heard (`quality.survey`). Live sound cannot wait for that: the gain
follows the integrated loudness so far (ITU-R BS.1770), slowly, so that it never jumps inside a word; the
report at the end is the same as for a file.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from offbook.audio.decode import Resampler, libraries
from offbook.audio.loudness import Meter, decibels
from offbook.audio.quality import TARGET_LUFS, SoundReport, Survey, judge_sound
from offbook.audio.stream import to_pcm

_HIGHEST_GAIN_DB = 30.0  # set by hand: more would lift the hum of a room in which nobody speaks yet
_LOWEST_GAIN_DB = -20.0  # as for a file
_STEP_DB = 0.5  # the gain moves by so much with a piece of a quarter of a second: 2 dB a second
_HIGHEST_PEAK_DB = -1.0  # dBFS: no gain lifts a sample over it
_STARTED_LUFS = -60.0  # below it nobody has spoken yet


class Arriving:
    """16-bit mono sound at any rate in, levelled 16-bit mono at `SAMPLE_RATE` out, a piece at a time.

    level, peak: root mean square and sample peak of the newest piece, dBFS.
    """

    def __init__(self) -> None:
        self._av = libraries()
        self._meter, self._resampler = Meter(), Resampler()
        self._survey = Survey(1)
        self._gain: float | None = None
        self.level = self.peak = -100.0

    def feed(self, sound: bytes, rate: int) -> bytes:
        """Take in a piece. rate: samples a second; it may change from piece to piece."""
        samples = np.frombuffer(sound, "<i2")
        if not samples.size:
            return b""
        floats = samples.astype(np.float32) / 32768
        self.level = decibels(float(np.sqrt(np.mean(np.square(floats)))))
        self.peak = decibels(float(np.abs(floats).max()))
        frame = self._av.AudioFrame.from_ndarray(samples.reshape(1, -1), format="s16", layout="mono")
        frame.sample_rate = rate
        self._meter.feed(frame)
        return self._levelled(self._resampler.feed(frame))

    def finish(self) -> bytes:
        """What is left inside."""
        return self._levelled(self._resampler.flush())

    def report(self, path: Path) -> SoundReport:
        """What was measured, as `survey` says it of a file. path: the recording, for what cannot be judged.

        Raises RecordingError for silence. Call `finish` first.
        """
        self._survey.finish()
        return judge_sound(path, None, self._meter, self._survey)

    def _levelled(self, blocks: Iterator[Any]) -> bytes:
        parts = []
        for block in blocks:
            self._survey.feed(block)
            gain = self._follow()
            room = _HIGHEST_PEAK_DB - decibels(float(np.abs(block[0]).max(initial=0.0)))
            if gain > room:  # what was taken for a quiet voice was the room
                gain = self._gain = room
            parts.append(to_pcm(block[0] * np.float32(10 ** (gain / 20))))
        return b"".join(parts)

    def _follow(self) -> float:
        """The gain for the next block, dB."""
        loudness = self._meter.loudness
        if not math.isfinite(loudness) or loudness < _STARTED_LUFS:
            return self._gain or 0.0
        wanted = min(_HIGHEST_GAIN_DB, max(_LOWEST_GAIN_DB, TARGET_LUFS - loudness))
        if self._gain is None:
            self._gain = wanted
        self._gain += min(_STEP_DB, max(-_STEP_DB, wanted - self._gain))
        return self._gain
