"""How long a place took, and which of its wordings that time fits.

A word that was left out leaves no time behind it, and words that nobody made out leave some: where a second
of voice lies between two words, something was said there, whatever was heard. The time is that of the voice
alone, at the pace of the words around the place, measured in letters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from offbook.recognise import HeardWord
from offbook.sampling import BYTES_PER_SECOND

_FRAME = BYTES_PER_SECOND // 2 // 100  # samples, 10 ms
_QUIET_DB = 20.0  # below the level of the words, where there is no voice; set by hand
_LEAST = 0.02  # s; nothing is shorter


@dataclass(frozen=True, slots=True)
class PlacePace:
    """voiced: s of voice in a place with the word before it and the word behind it. around: their letters.

    letter: s a letter takes here.
    """

    voiced: float
    around: int
    letter: float

    def speaks_for(self, script: str, rival: str) -> float:
        """By how much better the time fits the script's wording than the rival's; 0 where both fit alike.

        A difference of two logarithms of how many times too long or too short each is.
        """
        return self._off(rival) - self._off(script)

    def _off(self, wording: str) -> float:
        letters = self.around + sum(c.isalnum() for c in wording)
        return abs(math.log(max(_LEAST, self.voiced) / max(_LEAST, letters * self.letter)))


def pace_of(
    sound: bytes, words: Sequence[HeardWord], left: Sequence[HeardWord], right: Sequence[HeardWord]
) -> PlacePace | None:
    """The pace of a stretch `sound` with these words, at the place between `left` and `right`.

    None where the words tell no pace.
    """
    letters, seconds = sum(len(w.word) for w in words), sum(w.end - w.start for w in words)
    levels = _levels(sound)
    spoken = np.concatenate([levels[_frame(w.start) : _frame(w.end)] for w in words] or [levels[:0]])
    if not letters or not spoken.size or seconds <= 0:
        return None
    loud = float(np.median(spoken)) - _QUIET_DB
    start = left[-1].start if left else 0.0
    end = right[0].end if right else len(levels) * _FRAME * 2 / BYTES_PER_SECOND
    voiced = float((levels[_frame(start) : _frame(end)] > loud).sum()) * _FRAME * 2 / BYTES_PER_SECOND
    voice_share = float((spoken > loud).mean())
    around = sum(len(w.word) for w in (*left[-1:], *right[:1]))
    return PlacePace(voiced, around, seconds * voice_share / letters)


def _levels(sound: bytes) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The level of each 10 ms, dB."""
    samples = np.frombuffer(sound[: len(sound) // 2 * 2], "<i2").astype(np.float64)
    frames = samples[: samples.size // _FRAME * _FRAME].reshape(-1, _FRAME)
    return np.asarray(10 * np.log10((frames**2).mean(1) + 1.0))


def _frame(seconds: float) -> int:
    return max(0, round(seconds * 100))
