"""Segments: the sound cut where nobody is speaking, as it arrives.

The free decoding runs on while sound comes in. The sound is cut into segments at pauses, because everything
after this works on one segment at a time: so memory does not grow, a live session gets its notes soon, and
the other hearings can follow on another processor core. The recogniser itself ends an utterance at a long
silence, and after twenty seconds in any case, in the middle of a word; so a segment that grows long is cut
here at the next short pause instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from offbook.recognise import HeardWord, Recogniser
from offbook.sampling import BYTES_PER_SECOND

# All set by hand, where nothing else is said.
_STEPS_PER_SECOND = 10  # pauses are looked for in steps of 0.1 s
_STEP = BYTES_PER_SECOND // _STEPS_PER_SECOND  # bytes of a step
# For a segment of so many seconds, a pause of so many steps is enough to cut at.
_ENOUGH_PAUSE = ((7.0, 4), (10.0, 3), (13.0, 2), (16.0, 1))
_SHORTEST_STEPS = 10  # a shorter segment is not cut on request
_LONGEST_SECONDS = 19.0  # a segment is cut then, pause or not; the recogniser itself would at 20
# A segment's loud level: so much of it is quieter. A step below this share of the loud level is a pause.
_LOUD_QUANTILE, _PAUSE_SHARE = 0.9, 0.12
# Silence put before a sound that begins with a voice, and after one that ends with it. A recording that is
# cut close begins in the middle of a word for the recogniser, which then misses that word. It is as much as
# the recogniser's network takes at a time, so that the rest is heard as it would have been.
_PADDING = bytes(6 * BYTES_PER_SECOND // 10)
_OPENING = BYTES_PER_SECOND  # bytes of sound from which that is judged
_VOICE_LEVEL = 300.0  # root mean square in steps of 16-bit sound; whatever is quieter is nobody near
# Bytes of sound kept from before a cut, so that the next segment does not begin without a context.
_LEAD_IN = 7 * BYTES_PER_SECOND // 2


@dataclass(frozen=True, slots=True)
class Segment:
    """A segment of sound and what was freely heard in it.

    pcm: its sound (16-bit mono), of which the first `lead_in` seconds are from before the cut. at: where pcm
    begins. words: what was freely heard after the cut; lead_in_words: before it. All times are seconds from
    the beginning of the recording. last: no sound follows.
    """

    pcm: bytes
    at: float
    lead_in: float
    words: tuple[HeardWord, ...]
    lead_in_words: tuple[HeardWord, ...] = ()
    last: bool = False

    @property
    def end(self) -> float:
        """Where the segment ends (s)."""
        return self.at + len(self.pcm) / BYTES_PER_SECOND


class Segmenter:
    """Gives the sound to a free decoder as it arrives, and cuts it into segments."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._decoder = recogniser.open()
        self._not_yet_decoded = b""
        self._opened = False
        self._lead_in = b""
        self._parts: list[bytes] = []
        self._levels: list[float] = []
        self._begins_at = 0.0
        self._words_before: tuple[HeardWord, ...] = ()

    def feed(self, pcm: bytes) -> Iterator[Segment]:
        """Take in sound of any length (16-bit mono); yields each segment as soon as it ends."""
        self._not_yet_decoded += pcm
        if not self._opened and len(self._not_yet_decoded) < _OPENING:
            return
        self._open()
        at = 0
        while len(self._not_yet_decoded) - at >= _STEP:
            step = self._not_yet_decoded[at : at + _STEP]
            at += _STEP
            self._parts.append(step)
            self._levels.append(_level(step))
            if self._decoder.feed(step) or self._at_a_pause():
                yield self._cut(self._decoder.cut())
        self._not_yet_decoded = self._not_yet_decoded[at:]

    def cut(self) -> Iterator[Segment]:
        """What has arrived since the last cut, as a segment; nothing where that is less than a second."""
        if len(self._levels) >= _SHORTEST_STEPS:
            yield self._cut(self._decoder.cut())

    def finish(self) -> Iterator[Segment]:
        """The last segment."""
        self._open()
        if self._has_voice((b"".join(self._parts[-1:]) + self._not_yet_decoded)[-_STEP:]):
            self._not_yet_decoded += _PADDING
        if self._not_yet_decoded:
            self._parts.append(self._not_yet_decoded)
            self._decoder.feed(self._not_yet_decoded)
            self._not_yet_decoded = b""
        yield self._cut(self._decoder.finish(), last=True)

    def _open(self) -> None:
        """Put silence before the sound where it begins with a voice."""
        if not self._opened:
            self._opened = True
            if self._has_voice(self._not_yet_decoded[:_STEP]):
                self._parts.append(_PADDING)  # the free decoder does not get it, so its times stay right
                self._begins_at = -len(_PADDING) / BYTES_PER_SECOND

    def _has_voice(self, step: bytes) -> bool:
        """Whether somebody speaks in `step`, by the levels so far and those of the sound that waits."""
        waiting = self._not_yet_decoded
        steps = range(0, min(len(waiting), _OPENING) - _STEP + 1, _STEP)
        loud = max([*self._levels, *(_level(waiting[at : at + _STEP]) for at in steps)], default=0.0)
        return len(step) > _STEP // 2 and loud >= _VOICE_LEVEL and _level(step) >= _PAUSE_SHARE * loud

    def _at_a_pause(self) -> bool:
        """Whether the segment ends here: in a pause that is long enough, or because it must."""
        seconds = len(self._levels) / _STEPS_PER_SECOND
        if seconds >= _LONGEST_SECONDS:
            return True
        for after, steps in reversed(_ENOUGH_PAUSE):
            if seconds >= after:
                loud = sorted(self._levels)[int(_LOUD_QUANTILE * len(self._levels))]
                return max(self._levels[-steps:]) < _PAUSE_SHARE * loud
        return False

    def _cut(self, words: tuple[HeardWord, ...], last: bool = False) -> Segment:
        """End the segment here. words: what was freely heard in it."""
        own = b"".join(self._parts)
        lead_in = len(self._lead_in) / BYTES_PER_SECOND
        at = self._begins_at - lead_in
        lead_in_words = tuple(w for w in self._words_before if w.end > at)
        segment = Segment(self._lead_in + own, at, lead_in, words, lead_in_words, last)
        self._lead_in = (self._lead_in + own)[-_LEAD_IN:]
        self._begins_at += len(own) / BYTES_PER_SECOND
        self._words_before = (*lead_in_words, *words)
        self._parts, self._levels = [], []
        return segment


def _level(step: bytes) -> float:
    """The root mean square of 16-bit sound, in its steps."""
    return float(np.sqrt(np.mean(np.square(np.frombuffer(step, "<i2").astype(np.float32)))))
