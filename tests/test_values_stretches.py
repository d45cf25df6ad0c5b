"""A voice over longer stretches, at the bounds: falling line ends, tunes, pauses, small words, and places."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from offbook.delivery.edges import EdgeCues, SpokenWord, cues_at_edges
from offbook.delivery.level import LevelTrack
from offbook.delivery.pitch import PitchTrack
from offbook.delivery.small_words import stressed_small_words
from offbook.delivery.statement import ShiftStatement
from offbook.delivery.stretches import (
    StretchFinding,
    ThoughtDelivery,
    _dropped_line_ends,
    _pauses_inside_phrases,
    _repeated_tunes,
    thought_deliveries,
    tune_of,
)
from offbook.delivery.take_review import _energy, _rate_change, _worth_a_look

HOP = 0.01  # s from one level to the next
LOUD = -20.0  # LUFS


def said(i: int, start: float, end: float, syllables: int = 2) -> SpokenWord:
    return SpokenWord(i, start, end, end - start, syllables)


def levels(*parts: tuple[float, float]) -> LevelTrack:
    """A track with each level, LUFS, for so many seconds."""
    power = [np.full(round(seconds / HOP), 10 ** ((lufs + 0.691) / 10)) for lufs, seconds in parts]
    return LevelTrack(np.concatenate(power) if power else np.zeros(0))


def pitches(*tones: float, step: float = 0.016) -> PitchTrack:
    """A track with these semitones, one every 16 ms."""
    return PitchTrack(np.asarray(np.arange(len(tones)) * step, np.float64), np.array(tones, np.float64))


def lines_falling(*falls: float) -> tuple[list[SpokenWord], list[tuple[int, int]], LevelTrack]:
    """Lines of two words of a second each, of which the second is softer by so much."""
    words = [said(i, float(i), i + 1.0) for i in range(2 * len(falls))]
    each = [part for fall in falls for part in ((LOUD, 1.0), (LOUD - fall, 1.0))]
    return words, [(2 * n, 2 * n + 1) for n in range(len(falls))], levels(*each)


def dropped(*falls: float) -> list[tuple[int, int, float, str]]:
    words, lines, level = lines_falling(*falls)
    return [(f.first, f.last, f.at, f.told) for f in _dropped_line_ends(words, lines, level)]


def test_a_line_end_drops_by_six_units_more_than_is_usual_for_the_speaker() -> None:
    assert dropped(2, 2, 2, 8.01) == [(6, 7, 7.0, "the last word is 8 LU softer than its line")]
    assert dropped(2, 2, 2, 7.99) == []
    assert dropped(-3, -3, -3, 6.01) == [(6, 7, 7.0, "the last word is 6 LU softer than its line")]
    assert dropped(-3, -3, -3, 5.99) == []  # who gets louder is compared with 0
    assert dropped(0, 0, 20) == []  # three lines say nothing


def test_only_lines_of_several_words_whose_ends_were_heard_are_compared() -> None:
    words, lines, level = lines_falling(0, 0, 0, 20)
    assert len(_dropped_line_ends(words, lines, level)) == 1
    assert _dropped_line_ends(words[1:], lines, level) == []
    assert _dropped_line_ends(words[:-1], lines, level) == []
    assert _dropped_line_ends(words, [*lines[:3], (7, 7)], level) == []


def test_a_pause_of_four_tenths_inside_a_phrase_is_told_and_one_at_a_mark_is_not() -> None:
    def pause(seconds: float, *marked: int) -> list[StretchFinding]:
        return _pauses_inside_phrases([EdgeCues(5, 3.0, seconds, 0.0, None, None)], frozenset(marked))

    assert pause(0.4) == [StretchFinding("pause inside a phrase", 4, 5, 2.6, "a pause of 0.4 s")]
    assert pause(0.39) == pause(0.4, 5) == []
    assert len(pause(0.4, 4, 6)) == 1


WAVE = [3.0 * math.sin(k / 3) for k in range(24)]


def thought(start: float, first: int = 0) -> ThoughtDelivery:
    return ThoughtDelivery(first, first + 2, start, start + 24 * 0.016, 4.0, 6.0, 6.0, LOUD)


def test_a_tune_has_twelve_voiced_frames_and_moves_over_three_semitones() -> None:
    whole = tune_of(thought(0.0), pitches(*WAVE))
    assert whole is not None and whole.shape == (12,) and float(np.median(whole)) == 0.0
    twelve = [0.0] * 6 + [3.0] * 6
    assert tune_of(thought(0.0), pitches(*twelve)) is not None
    assert tune_of(thought(0.0), pitches(*twelve[1:])) is None
    assert tune_of(thought(0.0), pitches(*twelve, *[math.nan] * 5)) is not None
    assert tune_of(thought(0.0), pitches(*([0.0] * 6 + [2.99] * 6))) is None
    up = tune_of(thought(0.0), pitches(*np.linspace(0, 11, 12)))
    assert up is not None and list(up) == pytest.approx([k - 5.5 for k in range(12)])


def tunes(*signs: int) -> list[tuple[int, int, float, str]]:
    """Thoughts of which each has the tune, its reverse (-1), or none (0)."""
    tones = [sign * tone for sign in signs for tone in WAVE]
    thoughts = [thought(n * 24 * 0.016, 10 * n) for n in range(len(signs))]
    return [(f.first, f.last, f.at, f.told) for f in _repeated_tunes(thoughts, pitches(*tones))]


def test_three_thoughts_in_a_row_with_the_same_tune_are_told() -> None:
    told = "3 thoughts running rise and fall in the same way"
    assert tunes(1, 1, 1) == [(0, 22, 0.0, told)]
    assert tunes(1, 1) == tunes(1, 1, -1, 1, 1) == tunes(1, 0, 1, 1) == tunes(0, 0, 0) == tunes() == []
    assert tunes(-1, 1, 1, 1) == [(10, 32, 24 * 0.016, told)]
    assert tunes(1, 1, 1, -1, -1, -1, -1) == [
        (0, 22, 0.0, told),
        (30, 62, 72 * 0.016, "4 thoughts running rise and fall in the same way"),
    ]


def test_how_a_thought_was_said_is_measured_over_its_words() -> None:
    words = [said(0, 0.0, 0.5, 3), said(1, 1.0, 1.5, 2), said(3, 2.0, 3.0, 1)]
    level = levels((-20, 1.0), (-30, 2.0))
    flat = pitches(*[40.0] * 12, *[50.0] * 12, step=0.02)
    one, two = thought_deliveries(words, [(0, 1), (2, 3), (4, 5)], flat, level)
    assert (one.first, one.last, one.start, one.end, one.rate) == (0, 1, 0.0, 1.5, 5.0)
    assert (two.first, two.last, two.start, two.end, two.rate) == (2, 3, 2.0, 3.0, 1.0)
    assert one.loudness_range == pytest.approx(10.0) and two.loudness_range == pytest.approx(0.0)
    assert one.pitch_range == pytest.approx(10.0) and two.pitch_range is None
    assert two.level == pytest.approx(-30.0)
    assert thought_deliveries([said(0, 1.0, 1.0)], [(0, 0)], flat, level) == ()
    assert thought_deliveries([said(0, 2.0, 3.0), said(1, 0.5, 1.0)], [(0, 1)], flat, level) == ()


def stressed(
    louder: float = 3.0,
    higher: float = 2.0,
    *,
    light: int = 2,
    marked: int = 99,
    words: int = 5,
    voiced: int = 31,
) -> list[str]:
    """A thought of words of half a second, of which the third is louder and higher than the others."""
    each = [said(i, i / 2, i / 2 + 0.5) for i in range(words)]
    level = levels(*((LOUD + louder if i == 2 else LOUD, 0.5) for i in range(words)))
    tones = [40.0 + (higher if i == 2 else 0.0) for i in range(words) for _ in range(31)]
    tones[31 * 2 + voiced : 31 * 3] = [math.nan] * (31 - voiced)
    found = stressed_small_words(
        each, {light}, [(0, words - 1)], {marked}, pitches(*tones, step=0.5 / 31), level
    )
    assert all((f.kind, f.first, f.last, f.at) == ("stress on a small word", 2, 2, 1.0) for f in found)
    return [f.told for f in found]


def test_a_small_word_is_stressed_if_it_is_the_loudest_by_two_units_and_the_highest_by_a_semitone() -> None:
    told = "the strongest word of its thought, 3 LU louder and 2 semitones higher than the next"
    assert stressed() == [told]
    assert stressed(2.01, 1.0) == [
        "the strongest word of its thought, 2 LU louder and 1 semitone higher than the next"
    ]
    assert stressed(1.99) == stressed(higher=0.99) == []
    assert stressed(light=1) == []


def test_a_small_word_at_the_end_of_its_thought_or_beside_a_mark_is_never_told() -> None:
    assert stressed(marked=2) == stressed(marked=3) == []
    assert stressed(marked=1) != [] and stressed(marked=4) != []
    assert stressed(words=3) == []
    assert stressed(words=4) != []
    assert stressed(voiced=2) == [] and stressed(voiced=3) != []


def shift(audible: str, grade: int = 2, confidence: float = 0.9, at: float = 1.0) -> ShiftStatement:
    made = ShiftStatement(5, grade, at, "heard", confidence, (), None, None, "")
    return replace(made, audible=audible)  # type: ignore[arg-type]


def test_turns_that_are_not_heard_are_worth_a_listen_first_and_three_places_at_most() -> None:
    found = StretchFinding("rushed", 0, 5, 0.0, "")
    turn, sure, early, late = (
        shift("not heard", 3, 0.6), shift("not heard", 2, 0.9), shift("not heard", 2, 0.8, 1.0),
        shift("not heard", 2, 0.8, 2.0),
    )  # fmt: skip
    assert _worth_a_look([late, early, sure, turn], [found]) == (turn, sure, early)
    assert _worth_a_look([early], [found, found, found]) == (early, found, found)
    others = [shift("heard"), shift("slight"), shift("not measured"), shift("not heard", 1)]
    assert _worth_a_look(others, [found]) == (found,)


def test_the_rate_of_a_thought_is_compared_with_that_of_the_thought_before_it() -> None:
    bounds = [(0, 4), (5, 8), (9, 12)]
    rates = {0: 4.0, 5: 2.0}
    assert _rate_change(rates, bounds, 5) == pytest.approx(math.log(0.5))
    assert _rate_change(rates, bounds, 0) is _rate_change(rates, bounds, 9) is None
    assert _rate_change({5: 2.0}, bounds, 5) is _rate_change(rates, bounds, 6) is None


def test_the_loudness_of_a_whole_recording_is_told_in_sixty_steps() -> None:
    energy = _energy(levels((-20.04, 0.3), (-30.06, 0.3)))
    assert energy == (-20.0,) * 30 + (-30.1,) * 30
    assert _energy(levels((-20, 0.59))) == ()


def test_the_level_between_two_times_is_that_of_the_frames_there() -> None:
    level = levels((-20, 0.1), (-40, 0.1))
    assert level.lufs(0.0, 0.1) == pytest.approx(-20) and level.lufs(0.1, 9.0) == pytest.approx(-40)
    assert level.lufs(-1.0, 0.1) == pytest.approx(-20)
    assert level.lufs(0.05, 0.15) == pytest.approx(10 * math.log10((10**-2 + 10**-4) / 2))
    assert level.lufs(0.2, 0.3) == level.lufs(0.1, 0.1) == level.lufs(-2.0, -1.0) == -math.inf
    assert list(level.frames(0.09, 0.11)) == pytest.approx([-20, -40])
    assert levels((-200, 0.1)).lufs(0.0, 0.1) == pytest.approx(-120.691)
    assert list(levels((-200, 0.01)).frames(-1.0, 0.01)) == pytest.approx([-120.691])


def test_a_steady_background_is_taken_away_but_never_so_much_that_soft_sounds_go() -> None:
    """One and a half times the power of the quietest twentieth, at most 12 dB below the loudest tenth."""
    quiet = levels((-60, 1.0), (-20, 1.0)).above_background()
    assert list(quiet.power[:100]) == [0.0] * 100
    assert quiet.lufs(1.0, 2.0) == pytest.approx(10 * math.log10(10**-2 - 1.5 * 10**-6))
    steady = levels((-20, 2.0)).above_background()
    assert steady.lufs(0.0, 2.0) == pytest.approx(-20 + 10 * math.log10(1 - 1.5 * 10**-1.2))
    assert levels().above_background().power.size == 0


def test_the_cues_of_an_edge_are_measured_beside_it() -> None:
    """Two words of a second with half a second of silence between them; the second is higher and louder."""
    level = levels((-26, 1.0), (-90, 0.5), (-20, 1.0))
    tones = [40.0 if k < 50 else math.nan if k < 75 else 45.0 for k in range(125)]
    pitch = pitches(*tones, step=0.02)
    words = [
        SpokenWord(3, 0.0, 1.0, 0.5, 2),
        SpokenWord(4, 1.5, 2.5, 1.0, 2),
        SpokenWord(6, 2.5, 3.0, 1.0, 2),
    ]
    (cue,) = cues_at_edges(words, pitch, level)
    assert (cue.before_word, cue.at, cue.pause) == (4, 1.5, 0.5)
    assert cue.lengthening == pytest.approx(math.log(2)) and cue.pitch_reset == pytest.approx(5.0)
    assert cue.level_reset == pytest.approx(6.0, abs=0.01)
    assert cues_at_edges([words[0], replace(words[1], start=-0.1)], pitch, level) == ()
    (short,) = cues_at_edges([replace(words[0], end=0.0, expected=0.0), words[1]], pitch, level)
    assert short.lengthening == 0.0
    (unvoiced,) = cues_at_edges(words[:2], pitches(*[math.nan] * 125, step=0.02), level)
    assert unvoiced.pitch_reset is None
    (nothing,) = cues_at_edges(words[:2], pitch, levels())
    assert (nothing.level_reset, nothing.pause) == (None, 0.0)
