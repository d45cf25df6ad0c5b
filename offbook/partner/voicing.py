"""Whether somebody is speaking just now, by the level of the sound alone.

The recogniser reports a word a third of a second after it was said, and a silence later still. A partner who
must not interrupt has to know at once that somebody is speaking, but not what they say. So the level of each
hundredth of a second is compared with the quietest and the loudest sound of the last seconds.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from offbook.sampling import FULL_SCALE, POWER_DB, SAMPLE_BYTES, SAMPLE_RATE

# All numbers here are set by hand; bench/following.py measures what they do together.
_FRAMES_PER_SECOND = 100
_FRAME = SAMPLE_RATE // _FRAMES_PER_SECOND  # samples of a frame, 10 ms
_BEHIND = 12.0  # s of sound that the quiet and the loud level are taken from
_QUIET_PERCENTILE, _LOUD_PERCENTILE = 10, 95  # of the levels of those frames: the quiet and the loud level
_ABOVE_QUIET = 9.0  # dB above the quiet level: a frame that is louder may be a voice
_BELOW_LOUD = 32.0  # dB below the loud level: a frame that is softer is not a voice
_HINT = 5.0  # dB above the quiet level: a frame that is louder may be the beginning of a voice
_RUN = 3  # loud frames in a row that make a voice: fewer are a click
# A performer who speaks from the first moment must not be taken for the noise of the room. So half a second
# of a quiet room is assumed to come before the first sound.
_ROOM, _ASSUMED = -60.0, 50  # dB of full scale, frames
_FOUND_OUT = 9 * _ASSUMED  # frames heard after which none of the assumed ones is among the quietest tenth
# A louder room is recognised by its even noise: within half a second a voice rises and falls by more.
_STEADY, _EVEN = 50, 6.0  # frames, and dB between the softest and the loudest tenth of them
_SOFTEST, _MIDDLE, _LOUDEST = 10, 50, 90  # percentiles of those frames
_LOUDEST_ROOM = -35.0  # dB of full scale: what is louder is taken for a voice
_GAP = 0.4  # s: a shorter silence lies inside what somebody says
_FLOOR = -75.0  # dB of full scale: everything softer counts as this, digital silence too
_NO_POWER = 1e-12  # added to a power so that silence has a logarithm; -120 dB, far below `_FLOOR`


class Voicing:
    """Takes in sound and knows when a voice was last heard.

    Times are seconds from the beginning of the sound.
    """

    def __init__(self) -> None:
        self._left = b""
        self._frames = 0
        self._levels: deque[float] = deque([_ROOM] * _ASSUMED, maxlen=int(_BEHIND * _FRAMES_PER_SECOND))
        self._assumed = True  # that the room is as quiet as `_ROOM`
        self._forget_voice()
        self._quiet, self._loud = _ROOM, _ROOM

    def _forget_voice(self) -> None:
        """Begin again, as if no voice had been heard."""
        self._run = 0
        self._last = self._began = self._hint = -1.0

    @property
    def now(self) -> float:
        """How much sound has been taken in (s)."""
        return self._frames / _FRAMES_PER_SECOND

    @property
    def last(self) -> float:
        """When a voice was last heard (s); -1 for never."""
        return self._last

    @property
    def began(self) -> float:
        """When the voice that was heard last began (s), after a silence of at least `_GAP`; -1 for never."""
        return self._began

    @property
    def hint(self) -> float:
        """When a sound was last heard that may be the beginning of a voice (s); -1 for never."""
        return self._hint

    def feed(self, pcm: bytes) -> None:
        """Take in 16-bit mono sound at 16 kHz, any length."""
        sound = self._left + pcm
        whole = len(sound) // (SAMPLE_BYTES * _FRAME)
        used = whole * SAMPLE_BYTES * _FRAME
        self._left = sound[used:]
        samples = np.frombuffer(sound[:used], "<i2").astype(np.float64).reshape(whole, _FRAME)
        samples = samples - samples.mean(axis=1, keepdims=True) if whole else samples
        levels = POWER_DB * np.log10(np.mean(np.square(samples / FULL_SCALE), axis=1) + _NO_POWER)
        if whole:
            self._levels.extend(np.maximum(levels, _FLOOR))
            if self._assumed and self._found_louder_room():
                levels = np.array(self._levels)[_ASSUMED:]  # everything heard so far is gone through again
                self._frames = 0
                self._forget_voice()
            known = np.array(self._levels)
            self._quiet, self._loud = map(float, np.percentile(known, [_QUIET_PERCENTILE, _LOUD_PERCENTILE]))
        for level in levels:
            self._frames += 1
            self._take_level(float(level))

    def _found_louder_room(self) -> bool:
        """Whether the noise of the room proves louder than was assumed.

        If so, the assumed frames are corrected.
        """
        heard = np.array(self._levels)[_ASSUMED:]
        self._assumed = len(heard) < _FOUND_OUT
        if len(heard) < _STEADY:
            return False
        softest, room, loudest = np.percentile(heard[-_STEADY:], [_SOFTEST, _MIDDLE, _LOUDEST])
        if not _ROOM < room <= _LOUDEST_ROOM or loudest - softest > _EVEN:
            return False
        self._assumed = False
        for k in range(_ASSUMED):
            self._levels[k] = float(room)
        return True

    def _take_level(self, level: float) -> None:
        if level > self._quiet + _HINT:
            self._hint = self.now
        if level > max(self._quiet + _ABOVE_QUIET, self._loud - _BELOW_LOUD):
            self._run += 1
            if self._run >= _RUN:
                if self.now - self._last > _GAP:
                    self._began = self.now - _RUN / _FRAMES_PER_SECOND
                self._last = self.now
        else:
            self._run = 0
