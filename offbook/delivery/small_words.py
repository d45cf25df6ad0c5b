"""Stress on a small word: the strongest stress of a thought on an article, a preposition or an "and".

A stressed word is louder, higher and longer than those around it (Fry, "Experiments in the perception of
stress", Language and Speech 1, 1958, from memory). Which word carries a thought is the performer's choice, so
nothing is said about names, verbs or pronouns. Only a word that hardly ever carries a thought is reported, if
it is by far both the loudest and the highest word.
"""

from __future__ import annotations

from collections.abc import Sequence, Set

import numpy as np

from offbook.delivery.edges import FEWEST_VOICED, SpokenWord
from offbook.delivery.level import LevelTrack
from offbook.delivery.pitch import PitchTrack
from offbook.delivery.stretches import StretchFinding

# All set by hand, so wide that a reading by an experienced narrator has none of these.
_FEWEST_WORDS = 4  # of a thought, so that there are others to compare a word with
_LOUDER_LU, _HIGHER_SEMITONES = 2.0, 1.0  # how far it is above the next loudest, and the next highest, word
_PEAK = 0.9  # the quantile of a word's frames that counts as its peak


def stressed_small_words(
    words: Sequence[SpokenWord],
    light: Set[int],
    bounds: Sequence[tuple[int, int]],
    marked: Set[int],
    pitch: PitchTrack,
    level: LevelTrack,
) -> list[StretchFinding]:
    """The small words that are by far both the loudest and the highest of their thought.

    light: the script words that hardly ever carry a thought. bounds: the first and the last script word of
    each thought. marked: the script words with a mark or a stop before them. A word next to a mark or a stop
    is longer and higher anyway, so it is never reported.
    """
    found = []
    for first, last in bounds:
        said = [w for w in words if first <= w.i <= last]
        if len(said) < _FEWEST_WORDS:
            continue
        loud = {w.i: _peak_level(w, level) for w in said}
        high = {w.i: tone for w in said if (tone := _peak_pitch(w, pitch)) is not None}
        for w in said:
            beside_a_mark = w.i in (first, last) or w.i in marked or w.i + 1 in marked
            if w.i not in light or w.i not in high or beside_a_mark or len(high) < _FEWEST_WORDS:
                continue
            louder = loud[w.i] - max(loud[i] for i in loud if i != w.i)
            higher = high[w.i] - max(high[i] for i in high if i != w.i)
            if louder >= _LOUDER_LU and higher >= _HIGHER_SEMITONES:
                told = (
                    f"the strongest word of its thought, {louder:.0f} LU louder and "
                    f"{higher:.0f} semitone{'s' * (round(higher) != 1)} higher than the next"
                )
                found.append(StretchFinding("stress on a small word", w.i, w.i, w.start, told))
    return found


def _peak_level(word: SpokenWord, level: LevelTrack) -> float:
    """The level of a word at its peak, LUFS; -inf if there is no frame."""
    frames = level.frames(word.start, word.end)
    return float(np.quantile(frames, _PEAK)) if frames.size else -np.inf


def _peak_pitch(word: SpokenWord, pitch: PitchTrack) -> float | None:
    """The pitch of a word at its peak, semitones above 1 Hz; None if too little of it is voiced."""
    tones = pitch.within(word.start, word.end)
    return float(np.quantile(tones, _PEAK)) if len(tones) >= FEWEST_VOICED else None
