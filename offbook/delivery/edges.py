"""What the voice does between two words: the silence, the lengthening, and how pitch and loudness change.

Listeners hear the boundaries of prosody by pauses, by the lengthening of the last sounds before them, and by
the reset of the pitch after them (Wightman, Shattuck-Hufnagel, Ostendorf & Price, "Segmental durations in the
vicinity of prosodic phrase boundaries", J. Acoust. Soc. Am. 91, 1992; Swerts, "Prosodic features at discourse
boundaries of different strength", J. Acoust. Soc. Am. 101, 1997; both from memory). Every cue is compared
with the other word edges of the same speaker in the same recording, never with an ideal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from offbook.delivery.level import HOP_SECONDS, LevelTrack
from offbook.delivery.pitch import PitchTrack

# Seconds on either side of an edge in which pitch and loudness are measured.
_PITCH_SECONDS = 0.4  # about two syllables; set by hand
_LEVEL_SECONDS = 0.4  # the momentary window of EBU Tech 3341
FEWEST_VOICED = 3  # frames of 16 ms without which the pitch there is not given; set by hand
_REACH_SECONDS = 0.06  # how far a word's time may be wrong; chosen from .06 and .12 by bench/delivery.py
_SILENT_LU = 20.0  # below the voice's level a frame is silence; chosen from 15 to 30 by bench/delivery.py
_LOUD_SHARE = 0.9  # the quantile of the levels of frames that counts as the voice's level; set by hand
_SHORTEST_SECONDS = 1e-3  # shorter words count as this, so that they have a logarithm; set by hand


@dataclass(frozen=True, slots=True)
class SpokenWord:
    """A word of the script as it was said.

    i: its place in the script, from 0. start, end: s from the beginning of the recording. expected: how many
    seconds its sounds usually last inside a phrase. syllables: how many it has.
    """

    i: int
    start: float
    end: float
    expected: float
    syllables: int


@dataclass(frozen=True, slots=True)
class EdgeCues:
    """The cues at the edge before the script word `before_word`.

    at: when that word begins, s. pause: the silence before it, s. lengthening: natural logarithm of the
    length of the word before the edge over the length that its sounds usually have. pitch_reset: by how much
    the pitch after the edge is higher than before it, semitones. level_reset: by how much it is louder, LU.
    The last two are None if they could not be measured.
    """

    before_word: int
    at: float
    pause: float
    lengthening: float
    pitch_reset: float | None
    level_reset: float | None


def cues_at_edges(words: Sequence[SpokenWord], pitch: PitchTrack, level: LevelTrack) -> tuple[EdgeCues, ...]:
    """The cues at every edge between two neighbouring words of the script that were both said, in order.

    words: in the order of the script. pitch, level: of the whole recording.
    """
    level = level.above_background()
    floor = _silence_below(level)
    return tuple(
        _cues(a, b, pitch, level, floor) for a, b in pairwise(words) if b.i == a.i + 1 and b.start >= a.start
    )


def _silence_below(level: LevelTrack) -> float:
    """The level, LUFS, below which a frame of this recording is silence; -inf if there are no frames."""
    if level.power.size == 0:
        return -math.inf
    loud = level.frames(0.0, level.power.size * HOP_SECONDS)
    voice = float(np.quantile(loud, _LOUD_SHARE))
    return voice - _SILENT_LU


def _cues(a: SpokenWord, b: SpokenWord, pitch: PitchTrack, level: LevelTrack, floor: float) -> EdgeCues:
    """The cues at the edge between two words. floor: the level, LUFS, below which a frame is silence."""
    pause = _longest_silence(a, b, level, floor)
    before = pitch.within(max(a.start, a.end - _PITCH_SECONDS), a.end + _REACH_SECONDS)
    after = pitch.within(b.start - _REACH_SECONDS, b.start + _PITCH_SECONDS)
    voiced = len(before) >= FEWEST_VOICED and len(after) >= FEWEST_VOICED
    reset = float(np.median(after) - np.median(before)) if voiced else None
    ending = level.lufs(a.end - _LEVEL_SECONDS, a.end)
    begins = level.lufs(b.start, b.start + _LEVEL_SECONDS)
    louder = begins - ending if math.isfinite(ending) and math.isfinite(begins) else None
    length = math.log(max(a.end - a.start, _SHORTEST_SECONDS) / max(a.expected, _SHORTEST_SECONDS))
    return EdgeCues(b.i, b.start, pause, length, reset, louder)


def _longest_silence(a: SpokenWord, b: SpokenWord, level: LevelTrack, floor: float) -> float:
    """The longest silence between two words, s. A little of both is included: their times are not exact."""
    quiet = level.frames(a.end - _REACH_SECONDS, b.start + _REACH_SECONDS) < floor
    longest = run = 0
    for silent in quiet:
        run = run + 1 if silent else 0
        longest = max(longest, run)
    return longest * HOP_SECONDS
