"""What the voice does at each word edge: the silence, the lengthening, the pitch and loudness across it.

Boundaries of prosody are heard by pauses, by the lengthening of the last sounds before them and by the reset
of pitch behind them (Wightman, Shattuck-Hufnagel, Ostendorf & Price, "Segmental durations in the vicinity of
prosodic phrase boundaries", J. Acoust. Soc. Am. 91, 1992; Swerts, "Prosodic features at discourse boundaries
of different strength", J. Acoust. Soc. Am. 101, 1997; both told from memory). Every cue is compared with the
same speaker's own word edges in the same recording, never with an ideal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from offbook.delivery.level import HOP_SECONDS, LevelTrack
from offbook.delivery.pitch import PitchTrack

# Seconds on either side of an edge over which pitch and loudness are taken: about two syllables, set by hand.
_PITCH_SECONDS = 0.4
_LEVEL_SECONDS = 0.4  # the momentary window of EBU Tech 3341
_FEWEST_VOICED = 3  # frames of 16 ms on each side without which a pitch is not told; set by hand
_REACH_SECONDS = 0.06  # how far a word's time may be off; chosen of .06 and .12 by bench/delivery.py
_SILENT_LU = 20.0  # below the voice's level a frame is silence; chosen of 15 to 30 by bench/delivery.py
_LOUDEST_SHARE = 0.9  # the quantile of the frames that stands for the voice's level
_AT_ONCE_SECONDS = 1e-3


@dataclass(frozen=True, slots=True)
class SpokenWord:
    """A script word as it was said. i: its place in the script; start, end: s in the recording.

    expected: s that its sounds usually last inside a phrase. syllables: how many it has.
    """

    i: int
    start: float
    end: float
    expected: float
    syllables: int


@dataclass(frozen=True, slots=True)
class EdgeCues:
    """The cues at the edge before script word `before_word`; None where one could not be measured.

    at: s, where the next word begins. pause: s of silence. lengthening: natural logarithm of how much longer
    the last word before the edge is than its sounds usually are. pitch_reset: semitones, up is positive.
    level_reset: LU, louder is positive.
    """

    before_word: int
    at: float
    pause: float
    lengthening: float
    pitch_reset: float | None
    level_reset: float | None


def cues_at_edges(words: Sequence[SpokenWord], pitch: PitchTrack, level: LevelTrack) -> tuple[EdgeCues, ...]:
    """The cues at every edge between two neighbouring words of the script that were both said, in order."""
    level = level.above_background()
    floor = _silence_below(level)
    return tuple(
        _cues(a, b, pitch, level, floor) for a, b in pairwise(words) if b.i == a.i + 1 and b.start >= a.start
    )


def _silence_below(level: LevelTrack) -> float:
    """The level, LUFS, below which a frame of this recording is silence."""
    if level.power.size == 0:
        return -math.inf
    loud = level.frames(0.0, level.power.size * HOP_SECONDS)
    voice = float(np.quantile(loud, _LOUDEST_SHARE))
    return voice - _SILENT_LU


def _cues(a: SpokenWord, b: SpokenWord, pitch: PitchTrack, level: LevelTrack, floor: float) -> EdgeCues:
    pause = _silence(a, b, level, floor)
    before = pitch.within(max(a.start, a.end - _PITCH_SECONDS), a.end + _REACH_SECONDS)
    after = pitch.within(b.start - _REACH_SECONDS, b.start + _PITCH_SECONDS)
    enough = len(before) >= _FEWEST_VOICED and len(after) >= _FEWEST_VOICED
    reset = float(np.median(after) - np.median(before)) if enough else None
    ending = level.lufs(a.end - _LEVEL_SECONDS, a.end)
    begins = level.lufs(b.start, b.start + _LEVEL_SECONDS)
    louder = begins - ending if math.isfinite(ending) and math.isfinite(begins) else None
    length = math.log(max(a.end - a.start, _AT_ONCE_SECONDS) / max(a.expected, _AT_ONCE_SECONDS))
    return EdgeCues(b.i, b.start, pause, length, reset, louder)


def _silence(a: SpokenWord, b: SpokenWord, level: LevelTrack, floor: float) -> float:
    """The longest silence, s, between two words, whose times may be a little off."""
    quiet = level.frames(a.end - _REACH_SECONDS, b.start + _REACH_SECONDS) < floor
    longest = run = 0
    for silent in quiet:
        run = run + 1 if silent else 0
        longest = max(longest, run)
    return longest * HOP_SECONDS
