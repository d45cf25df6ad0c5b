"""How long a place took to say, and which of its wordings needs about that time.

If a word was left out, no time was spent on it. If words were mumbled so that nobody made them out, they took
time: where a voice is heard for a second between two words, something was said there, whatever the recogniser
wrote. Only the time with a voice in it counts, and it is compared with the pace of the whole segment,
measured in seconds a letter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from offbook.recognise import HeardWord
from offbook.sampling import BYTES_PER_SECOND, POWER_DB, SAMPLE_BYTES, whole_samples

_FRAMES_PER_SECOND = 100  # levels are measured over 10 ms
_FRAME_SAMPLES = BYTES_PER_SECOND // SAMPLE_BYTES // _FRAMES_PER_SECOND
_FRAME_BYTES = _FRAME_SAMPLES * SAMPLE_BYTES
_QUIET_DB = 20.0  # so far below the level of the words there is no voice; set by hand
_LEAST_SECONDS = 0.02  # no time is taken to be shorter, so that it has a logarithm; set by hand


@dataclass(frozen=True, slots=True)
class PlacePace:
    """The time of one place, and the pace around it.

    voiced: seconds with a voice in them, from the beginning of the word before the place to the end of the
    word behind it. letters_around: how many letters these two words have. seconds_per_letter: the pace here.
    """

    voiced: float
    letters_around: int
    seconds_per_letter: float

    def time_lead(self, script: str, rival: str) -> float:
        """By how much better the time fits the script's wording than the rival's; 0 where both fit alike.

        Each misfit is the natural logarithm of how many times too long or too short the place is for the
        wording; this is the rival's misfit less the script's.
        """
        return self._misfit(rival) - self._misfit(script)

    def _misfit(self, wording: str) -> float:
        letters = self.letters_around + letters_in(wording)
        needed = max(_LEAST_SECONDS, letters * self.seconds_per_letter)
        return abs(math.log(max(_LEAST_SECONDS, self.voiced) / needed))


def pace_of(
    sound: bytes, words: Sequence[HeardWord], left: Sequence[HeardWord], right: Sequence[HeardWord]
) -> PlacePace | None:
    """The pace at the place between the words `left` and `right`.

    sound: of the whole segment (16-bit mono); words: what was heard in it, times in seconds from its
    beginning. None where there are no words, or only silent ones, to take a pace from.
    """
    letters, seconds = sum(len(w.word) for w in words), sum(w.end - w.start for w in words)
    levels = _levels(sound)
    spoken = np.concatenate([levels[_frame(w.start) : _frame(w.end)] for w in words] or [levels[:0]])
    if not letters or not spoken.size or seconds <= 0:
        return None
    loud = float(np.median(spoken)) - _QUIET_DB
    start = left[-1].start if left else 0.0
    end = right[0].end if right else len(levels) * _FRAME_BYTES / BYTES_PER_SECOND
    voiced = float((levels[_frame(start) : _frame(end)] > loud).sum()) * _FRAME_BYTES / BYTES_PER_SECOND
    voice_share = float((spoken > loud).mean())
    letters_around = sum(len(w.word) for w in (*left[-1:], *right[:1]))
    return PlacePace(voiced, letters_around, seconds * voice_share / letters)


def letters_in(text: str) -> int:
    """How many letters and figures a text has: what its time is reckoned by."""
    return sum(c.isalnum() for c in text)


def _levels(sound: bytes) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The level of each 10 ms, dB above one step of 16-bit sound."""
    samples = np.frombuffer(whole_samples(sound), "<i2").astype(np.float64)
    frames = samples[: samples.size // _FRAME_SAMPLES * _FRAME_SAMPLES].reshape(-1, _FRAME_SAMPLES)
    return np.asarray(POWER_DB * np.log10((frames**2).mean(1) + 1.0))


def _frame(seconds: float) -> int:
    """Which of the frames of 10 ms begins at this time."""
    return max(0, round(seconds * _FRAMES_PER_SECOND))
