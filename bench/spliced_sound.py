"""Editing a recording of speech at its words: where it may be cut, and sound to add.

A `Spoken` is a reading with the time of every word, which is found by hearing it against its own text, and
for every place between two words the sample at which the sound is lowest. The sound may be cut there if it
is at least 18 dB below the voice. Pieces are joined with fades of 8 ms. Added silence is the recording's
own sound of the room, not digital silence.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import hearing as H
import numpy as np
from numpy.typing import NDArray

from offbook.audio import pcm
from offbook.recognise import Recogniser

RATE = 16_000
_FRAME = RATE // 100
_FAIR = 0.12  # of the voice's level (90th percentile of 10 ms frames): -18 dB
_FADE = int(0.008 * RATE)
_REACH, _PART = 0.08, 0.35  # s, and part of a word, on either side of where the hearing put its edge
_LEAST, _MOST_OF = 0.08, 0.7  # s, and part of its length, that a word cut out must have

Sound = NDArray[np.float64]


@dataclass(frozen=True)
class Spoken:
    """A reading, its words in order (lower case), the line of each (from 0), and the times of each (s)."""

    name: str
    sound: Sound
    lines: list[list[str]]
    words: list[str]
    line_of: list[int]
    starts: list[float]
    ends: list[float]

    @cached_property
    def levels(self) -> Sound:
        """The root mean square of frames of 10 ms."""
        whole = len(self.sound) // _FRAME * _FRAME
        return np.asarray(np.sqrt(np.mean(np.square(self.sound[:whole].reshape(-1, _FRAME)), axis=1)))

    @cached_property
    def voice(self) -> float:
        """The level of the voice: the 90th percentile of the frames."""
        return float(np.percentile(self.levels, 90))

    @cached_property
    def cuts(self) -> list[int]:
        """For every place, before word k or after the last word, the sample at which to cut."""
        found = []
        for k in range(len(self.words) + 1):
            low = self.ends[k - 1] - self._reach(k - 1) if k else self.starts[0] - 0.25
            high = self.starts[k] + self._reach(k) if k < len(self.words) else self.ends[-1] + 0.25
            if k and k < len(self.words) and high - low > 0.5:  # a pause: in its middle
                middle = (self.ends[k - 1] + self.starts[k]) / 2
                low, high = middle - 0.08, middle + 0.08
            a, b = max(0, int(low * 100)), min(len(self.levels), max(int(low * 100) + 1, int(high * 100)))
            around = np.convolve(self.levels[max(0, a - 1) : b + 1], [0.25, 0.5, 0.25], "same")
            inner = around[min(a, 1) : min(a, 1) + b - a]
            found.append((a + int(np.argmin(inner))) * _FRAME + _FRAME // 2)
        return found

    def _reach(self, k: int) -> float:
        """How far into word `k` the edge of its neighbour may be looked for (s)."""
        return min(_REACH, _PART * (self.ends[k] - self.starts[k]))

    def holds(self, first: int, end: int) -> bool:
        """Whether the cuts around the words from `first` to before `end` leave most of them inside."""
        seconds = (self.cuts[end] - self.cuts[first]) / RATE
        return seconds >= max(_LEAST, _MOST_OF * (self.ends[end - 1] - self.starts[first]))

    def fair(self, k: int) -> bool:
        """Whether the sound may be cut before word `k` without harm to either word."""
        frame = self.cuts[k] // _FRAME
        return bool(self.levels[max(0, frame - 1) : frame + 2].max() < _FAIR * self.voice)

    def silence_before(self, k: int) -> float:
        """Seconds between word `k` and the one before it."""
        return self.starts[k] - self.ends[k - 1] if 0 < k < len(self.words) else 9.0

    def piece(self, first: int, end: int) -> Sound:
        """The sound of the words from `first` to before `end`, with a fade at both edges."""
        return faded(self.sound[self.cuts[first] : self.cuts[end]])

    def head(self) -> Sound:
        """The sound before the first word (a title may be spoken there)."""
        return faded(self.sound[: self.cuts[0]])

    def tail(self) -> Sound:
        """The sound after the last word."""
        return faded(self.sound[self.cuts[len(self.words)] :])

    @cached_property
    def _tone(self) -> Sound:
        """The quietest 0.3 s of the recording, forwards and backwards."""
        frames = 30
        sums = np.convolve(self.levels, np.ones(frames), "valid")
        at = int(np.argmin(sums)) * _FRAME
        quiet = self.sound[at : at + frames * _FRAME]
        return np.concatenate([quiet, quiet[::-1]])

    def room(self, seconds: float) -> Sound:
        """So many seconds of the sound of the room, without the voice."""
        size = int(seconds * RATE)
        return np.resize(self._tone, size)


def faded(sound: Sound) -> Sound:
    """A copy of `sound` with a short fade at both ends."""
    out = sound.copy()
    size = min(_FADE, len(out) // 2)
    if size:
        ramp = np.linspace(0.0, 1.0, size)
        out[:size] *= ramp
        out[-size:] *= ramp[::-1]
    return out


def join(parts: Sequence[Sound]) -> bytes:
    """The parts one after the other, as 16-bit PCM."""
    whole = np.concatenate(list(parts)) if parts else np.zeros(0)
    return np.clip(np.round(whole), -32768, 32767).astype("<i2").tobytes()


def spoken(reading: H.Reading, recogniser: Recogniser) -> Spoken:
    """`reading` with the times of its words.

    Words that were not heard share the time between their neighbours.
    """
    run = H.listen(reading, H.Planted(reading.lines, [], []), recogniser)
    starts = [w.start for w in run.words]
    ends = [w.end for w in run.words]
    seconds = len(reading.sound) / (2 * RATE)
    for k in range(len(starts)):
        if starts[k] is None or ends[k] is None:
            before = next((e for e in reversed(ends[:k]) if e is not None), 0.0)
            after = next((s for s in starts[k + 1 :] if s is not None), seconds)
            starts[k] = ends[k] = (before + after) / 2
    return Spoken(
        reading.name,
        np.frombuffer(reading.sound, "<i2").astype(np.float64),
        reading.lines,
        [w.lower() for line in reading.lines for w in line],
        [n for n, line in enumerate(reading.lines) for _ in line],
        [float(s or 0.0) for s in starts],
        [float(e or 0.0) for e in ends],
    )


def burst(kind: str, rnd: random.Random, level: float) -> Sound:
    """A cough, a click or a breath: shaped noise of 0.2 to 0.4 s (a click: 20 ms in silence)."""
    noise = np.random.default_rng(rnd.randrange(1 << 30))
    size = int(rnd.uniform(0.2, 0.4) * RATE)
    t = np.arange(size) / size
    low, high, loud, shape = {
        "cough": (250, 3000, 1.2, np.exp(-9 * t) + 0.5 * np.exp(-40 * (t - 0.55) ** 2)),
        "click": (800, 6000, 2.0, np.where(t < 0.06, 1.0, 0.0)),
        "breath": (1000, 7000, 0.12, np.sin(np.pi * t) ** 2),
    }[kind]
    spectrum = np.fft.rfft(noise.standard_normal(size))
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    spectrum[(hertz < low) | (hertz > high)] = 0.0
    wave = np.fft.irfft(spectrum, size) * shape
    return np.asarray(wave * loud * level / np.sqrt(np.mean(np.square(wave[shape > 0.3]))))


def synthetic(text: str, voice: str, level: float) -> Sound | None:
    """`text` said by one of Debian's flite voices at `level`; None if flite is not installed."""
    if shutil.which("flite") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        subprocess.run(["flite", "-voice", voice, "-t", text, "-o", str(path)], check=True)
        sound = np.frombuffer(b"".join(pcm(path)), "<i2").astype(np.float64)
    frames = np.sqrt(np.mean(np.square(sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME)), axis=1))
    return faded(sound * level / float(np.percentile(frames, 90)))
