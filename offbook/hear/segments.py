"""Stretches: the sound cut where nobody is speaking, as it arrives.

The free decoding runs on as sound comes in. It is cut into stretches at pauses, because everything
after it works on one stretch at a time: memory stays flat, a live session gets its notes soon, and the
second hearing can follow on another core. The recogniser ends an utterance itself at a long silence,
and by force after twenty seconds, in the middle of a word; so a stretch that grows long is cut here
at the next short pause instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from offbook.recognise import HeardWord, Recogniser
from offbook.sampling import BYTES_PER_SECOND

_STEP = BYTES_PER_SECOND // 10  # bytes of 0.1 s, the grain of the pause search
# After so many seconds, a pause of so many steps is enough to cut at.
_PATIENCE = ((7.0, 4), (10.0, 3), (13.0, 2), (16.0, 1))
_WORTH_CUTTING = 10  # steps
_FORCED = 19.0  # s; the recogniser would cut at 20
_QUIET = 0.12  # of the stretch's loud level: below it a step is a pause
# Silence heard before a sound that begins with a voice, and after one that ends with it: a recording cut
# close begins in the middle of a word for the recogniser, which then misses it. As much as the network takes
# at a time, so that the rest is heard as it would have been.
_HUSH = bytes(6 * BYTES_PER_SECOND // 10)
_OPENING = BYTES_PER_SECOND  # sound from which that is judged
_VOICE = 300.0  # root mean square in steps of 16 bit; quieter than that is nobody near
# Sound kept from before a cut, so that the next stretch is heard in its wake.
_LEAD = 7 * BYTES_PER_SECOND // 2


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of sound and what was freely heard in it.

    pcm: its sound, `lead` seconds of it from before the cut; at: where pcm begins (s). words: as freely
    heard after the cut, wake: before it; times from the beginning of the recording. last: no sound follows.
    """

    pcm: bytes
    at: float
    lead: float
    words: tuple[HeardWord, ...]
    wake: tuple[HeardWord, ...] = ()
    last: bool = False

    @property
    def end(self) -> float:
        """Where the stretch ends (s)."""
        return self.at + len(self.pcm) / BYTES_PER_SECOND


class Stretcher:
    """Feeds a free decoder and cuts what it hears into stretches."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._decoder = recogniser.open()
        self._left = b""
        self._opened = False
        self._tail = b""
        self._parts: list[bytes] = []
        self._levels: list[float] = []
        self._begun = 0.0
        self._words: tuple[HeardWord, ...] = ()

    def feed(self, pcm: bytes) -> Iterator[Segment]:
        """Take in sound of any length; yields each stretch as it ends."""
        self._left += pcm
        if not self._opened and len(self._left) < _OPENING:
            return
        self._open()
        at = 0
        while len(self._left) - at >= _STEP:
            step = self._left[at : at + _STEP]
            at += _STEP
            self._parts.append(step)
            self._levels.append(_level(step))
            if self._decoder.feed(step) or self._pause():
                yield self._cut(self._decoder.cut())
        self._left = self._left[at:]

    def cut(self) -> Iterator[Segment]:
        """What there is up to now, as a stretch of its own; nothing where it is less than a second."""
        if len(self._levels) >= _WORTH_CUTTING:
            yield self._cut(self._decoder.cut())

    def finish(self) -> Iterator[Segment]:
        """The last stretch."""
        self._open()
        if self._voiced((b"".join(self._parts[-1:]) + self._left)[-_STEP:]):
            self._left += _HUSH
        if self._left:
            self._parts.append(self._left)
            self._decoder.feed(self._left)
            self._left = b""
        yield self._cut(self._decoder.finish(), last=True)

    def _open(self) -> None:
        if not self._opened:
            self._opened = True
            if self._voiced(self._left[:_STEP]):
                self._parts.append(_HUSH)  # not for the free hearing, which keeps the clock
                self._begun = -len(_HUSH) / BYTES_PER_SECOND

    def _voiced(self, step: bytes) -> bool:
        """Whether somebody speaks in `step`, by the levels so far and those of what is heard next."""
        steps = range(0, min(len(self._left), _OPENING) - _STEP + 1, _STEP)
        loud = max([*self._levels, *(_level(self._left[at : at + _STEP]) for at in steps)], default=0.0)
        return len(step) > _STEP // 2 and loud >= _VOICE and _level(step) >= _QUIET * loud

    def _pause(self) -> bool:
        seconds = len(self._levels) / 10
        if seconds >= _FORCED:
            return True
        for after, steps in reversed(_PATIENCE):
            if seconds >= after:
                loud = sorted(self._levels)[int(0.9 * len(self._levels))]
                return max(self._levels[-steps:]) < _QUIET * loud
        return False

    def _cut(self, words: tuple[HeardWord, ...], last: bool = False) -> Segment:
        own = b"".join(self._parts)
        lead = len(self._tail) / BYTES_PER_SECOND
        at = self._begun - lead
        wake = tuple(w for w in self._words if w.end > at)
        stretch = Segment(self._tail + own, at, lead, words, wake, last)
        self._tail = (self._tail + own)[-_LEAD:]
        self._begun += len(own) / BYTES_PER_SECOND
        self._words = (*wake, *words)
        self._parts, self._levels = [], []
        return stretch


def _level(step: bytes) -> float:
    """The root mean square of 16-bit sound."""
    return float(np.sqrt(np.mean(np.square(np.frombuffer(step, "<i2").astype(np.float32)))))
