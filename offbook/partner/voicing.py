"""Whether somebody is speaking just now, by the level of the sound alone.

The recogniser tells of a word a third of a second after it was said, of silence later still. A partner who
must not speak into a word needs to know at once, and need not know what is said. The level of each hundredth
of a second is compared with the quietest and the loudest of the last seconds.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from offbook.sampling import SAMPLE_RATE

_FRAME = SAMPLE_RATE // 100  # samples of 10 ms
_BEHIND = 12.0  # s of sound that the quiet and the loud level are taken from
_ABOVE_QUIET = 9.0  # dB over the quiet level from which a frame is a voice's
_BELOW_LOUD = 32.0  # dB under the loud level at which it is none any more
_HINT = 5.0  # dB over the quiet level from which somebody may be about to speak
_RUN = 3  # frames in a row that make a voice: shorter is a click
# A performer who speaks from the first moment is no room: half a second of a quiet one is taken for granted.
_ROOM, _ASSUMED = -60.0, 50  # dB of full scale, frames
# A louder room is known by its noise being even, as no voice is: a syllable rises and falls by more within
# half a second. Frames, and dB between the softest and the loudest tenth of them; set by hand.
_STEADY, _EVEN = 50, 6.0
_LOUDEST_ROOM = -35.0  # dB of full scale; set by hand: what is louder is taken for a voice
_GAP = 0.4  # s: a shorter silence is inside what somebody says
_FLOOR = -75.0  # dB of full scale: digital silence and less


class Voicing:
    """Takes in sound and knows when a voice was last heard. Times are seconds from its beginning."""

    def __init__(self) -> None:
        self._left = b""
        self._frames = 0
        self._levels: deque[float] = deque([_ROOM] * _ASSUMED, maxlen=int(_BEHIND * 100))
        self._assumed = True  # that the room is as quiet as `_ROOM`
        self._silent()
        self._quiet, self._loud = _ROOM, _ROOM

    def _silent(self) -> None:
        """Nobody was heard yet."""
        self._run = 0
        self._last = self._began = self._hint = -1.0

    @property
    def now(self) -> float:
        """How much sound was taken in (s)."""
        return self._frames / 100

    @property
    def last(self) -> float:
        """When a voice was last heard (s), -1 for never."""
        return self._last

    @property
    def began(self) -> float:
        """When the voice that was heard last began (s), after a gap of at least `_GAP`."""
        return self._began

    @property
    def hint(self) -> float:
        """When there was last a sound that may be a voice's beginning (s)."""
        return self._hint

    def feed(self, pcm: bytes) -> None:
        """Take in 16-bit mono sound at 16 kHz, any length."""
        sound = self._left + pcm
        whole = len(sound) // (2 * _FRAME)
        self._left = sound[whole * 2 * _FRAME :]
        samples = np.frombuffer(sound[: whole * 2 * _FRAME], "<i2").astype(np.float64).reshape(whole, _FRAME)
        samples = samples - samples.mean(axis=1, keepdims=True) if whole else samples
        levels = 10 * np.log10(np.mean(np.square(samples / 32768), axis=1) + 1e-12)
        if whole:
            self._levels.extend(np.maximum(levels, _FLOOR))
            if self._assumed and self._know_room():
                levels = np.array(self._levels)[_ASSUMED:]  # all that was heard, once more
                self._frames = 0
                self._silent()
            known = np.array(self._levels)
            self._quiet = float(np.percentile(known, 10))
            self._loud = float(np.percentile(known, 95))
        for level in levels:
            self._frames += 1
            self._take(float(level))

    def _know_room(self) -> bool:
        """Whether it shows just now that the room is louder than was taken for granted; that is put right."""
        heard = np.array(self._levels)[_ASSUMED:]
        self._assumed = len(heard) < 9 * _ASSUMED  # from then on the quietest tenth is none of the assumed
        if len(heard) < _STEADY:
            return False
        softest, room, loudest = np.percentile(heard[-_STEADY:], [10, 50, 90])
        if not _ROOM < room <= _LOUDEST_ROOM or loudest - softest > _EVEN:
            return False
        self._assumed = False
        for k in range(_ASSUMED):
            self._levels[k] = float(room)
        return True

    def _take(self, level: float) -> None:
        if level > self._quiet + _HINT:
            self._hint = self.now
        if level > max(self._quiet + _ABOVE_QUIET, self._loud - _BELOW_LOUD):
            self._run += 1
            if self._run >= _RUN:
                if self.now - self._last > _GAP:
                    self._began = self.now - _RUN / 100
                self._last = self.now
        else:
            self._run = 0
