"""The strongest stress of a thought where the marks expect none: on an article, a preposition, an "and".

A stressed word is louder, higher and longer than those around it (Fry, "Experiments in the perception of
stress", Language and Speech 1, 1958, from memory). Which word carries a thought is for people to choose, so
nothing is said about names, verbs or pronouns: only where a word that hardly ever carries one is both the
loudest and the highest by far.
"""

from __future__ import annotations

from collections.abc import Sequence, Set

import numpy as np

from offbook.delivery.edges import SpokenWord
from offbook.delivery.level import LevelTrack
from offbook.delivery.pitch import PitchTrack
from offbook.delivery.stretches import StretchFinding

# All set by hand, wide, so that a reading by an experienced narrator shows none.
_FEWEST_WORDS = 4  # of a thought, so that there is something to be stronger than
_LOUDER_LU, _HIGHER_SEMITONES = 2.0, 1.0  # by which it leads the next word of the thought
_PEAK = 0.9  # the quantile of a word's frames that stands for its peak
_FEWEST_VOICED = 3  # frames of 16 ms without which a word's pitch is not told


def stressed_small_words(
    words: Sequence[SpokenWord],
    light: Set[int],
    bounds: Sequence[tuple[int, int]],
    marked: Set[int],
    pitch: PitchTrack,
    level: LevelTrack,
) -> list[StretchFinding]:
    """The small words that are the loudest and the highest of their thought.

    light: the script words that hardly ever carry a thought. bounds: first and last script word of each
    thought. marked: the words before which a mark or a stop is: beside one of these a word is longer and
    higher whatever it is, and nothing is said about it.
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
    frames = level.frames(word.start, word.end)
    return float(np.quantile(frames, _PEAK)) if frames.size else -np.inf


def _peak_pitch(word: SpokenWord, pitch: PitchTrack) -> float | None:
    tones = pitch.within(word.start, word.end)
    return float(np.quantile(tones, _PEAK)) if len(tones) >= _FEWEST_VOICED else None
