"""Running time: definitions, real readings, and a pace that learns from planted ones."""

from __future__ import annotations

import math
import wave
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from offbook.script import reading as script
from offbook.timing import EarlierReading, Plain, RunningTime, Spreads
from offbook.timing import estimate as timing
from offbook.timing.durations import seconds_of
from offbook.timing.pace import SPREADS, PaceError
from offbook.timing.pauses import COLON, COMMA, PARAGRAPH, STOP, stops_of
from offbook.words import entries as words
from tests.recordings import TWO_CITIES, librivox_sentences, two_cities

HARBOUR = (
    "When the harbour was still full of ships, my aunt kept the ledger for every one of them. "
    "She wrote small, she wrote straight, and she never once lost a barrel; the captains trusted her. "
    "I have the ledger at home. The ink is brown now, but the sums are right."
)
# Shakespeare, sonnet 18 (1609, public domain).
SONNET_18 = """Shall I compare thee to a summer's day?
Thou art more lovely and more temperate:
Rough winds do shake the darling buds of May,
And summer's lease hath all too short a date;
"""


def plain(text: str, tempo: timing.Tempo | None = None) -> Plain:
    s = script.parse_script(text, title="t")
    return timing.plain_of(s, words.words_of(s), tempo)


def taken(text: str, pace: timing.Pace | None = None) -> RunningTime:
    return timing.running_time(plain(text), pace)


def speech_span(path: Path) -> float:
    """Seconds from the first sound of speech to the last: 20 ms frames within 35 dB of the loudest."""
    with wave.open(str(path)) as f:
        rate, raw = f.getframerate(), np.frombuffer(f.readframes(f.getnframes()), np.int16)
        sound = raw.reshape(-1, f.getnchannels()).mean(axis=1)
    frame = rate // 50
    level = np.sqrt((sound[: len(sound) // frame * frame].reshape(-1, frame) ** 2).mean(axis=1) + 1)
    loud = np.flatnonzero(level > level.max() * 10 ** (-35 / 20))
    return float(loud[-1] + 1 - loud[0]) / 50


def test_voiced_time_and_pauses_add_up_to_the_running_time() -> None:
    t = taken(HARBOUR)
    assert t.voiced + t.pauses == pytest.approx(t.seconds)
    assert t.low < t.seconds < t.high


def test_speech_rate_counts_pauses_and_articulation_rate_leaves_them_out() -> None:
    """Definitions: Goldman-Eisler, Psycholinguistics, 1968; Laver, Principles of Phonetics, 1994 (memory)."""
    t, p = taken(HARBOUR), plain(HARBOUR)
    assert t.rate_wpm == pytest.approx(60 * p.spoken / t.seconds)
    assert t.articulation == pytest.approx(p.syllables / t.voiced)
    assert t.articulation > p.syllables / t.seconds


@pytest.mark.parametrize(("name", "wpm"), [("slow", 120.0), ("medium", 180.0), ("medium", 200.0)])
def test_a_given_rate_in_words_a_minute_holds_for_the_whole_text(name: str, wpm: float) -> None:
    """voice-rate in the W3C CSS Speech Module: slow is 120, medium 180 to 200 words a minute."""
    p = plain(HARBOUR)
    t = timing.running_time(p, timing.at_rate(wpm, p.tempo))
    assert t.seconds == pytest.approx(60 * p.spoken / wpm), name
    assert t.rate_wpm == pytest.approx(wpm)


def test_prose_read_aloud_has_the_rate_of_narrators() -> None:
    """Audiobooks about 155 words a minute, public speaking 125-150 (sources in docs/timing.md)."""
    assert 130 <= taken(HARBOUR).rate_wpm <= 170


def test_a_pentameter_line_takes_about_three_seconds() -> None:
    """Turner & Poeppel, The Neural Lyre, Poetry, 1983: a performed line lasts about 3 s."""
    t = taken(SONNET_18)
    assert t.tempo == "verse"
    assert 2.5 <= t.seconds / 4 <= 4.0


def test_the_pauses_of_the_table_lie_in_the_measured_ranges() -> None:
    """Measured in read speech: comma .20-.50 s, semicolon and colon .57-.84, sentence end .62-.91."""
    assert 0.20 <= COMMA <= 0.50
    assert 0.57 <= COLON <= 0.84
    assert 0.62 <= STOP <= 0.91
    assert PARAGRAPH > 0


def test_the_stronger_the_punctuation_mark_the_longer_the_pause() -> None:
    def pause(mark: str) -> float:
        return plain(
            f"We carried the lanterns all the way up{mark} They all waited for us by the wall."
        ).pauses[7]

    assert pause("") < pause(",") < pause(";") < pause(".") < pause(".\n\n")


def test_a_comma_after_a_very_short_phrase_gets_a_very_short_pause() -> None:
    """Zvonik & Cummins 2003: a pause grows with the phrases beside it."""
    short = plain("Now, the harbour was full of ships again.").pauses[0]
    longer = plain("When all of them came home, the harbour was full of ships again.").pauses[5]
    assert 0 < short < longer / 2


def test_a_long_stretch_without_punctuation_gets_pauses_for_breath() -> None:
    text = (
        "the keeper of the light walked down the long stair to the water and back again with the oil for it"
    )
    assert sum(plain(text).pauses) > 0
    assert sum(plain("the keeper walked down to the water").pauses) == 0


def test_a_direction_that_asks_for_a_pause_adds_a_pause() -> None:
    """Common practice, no source."""
    assert (
        taken("I waited for him. (A long pause.) He came.").seconds
        > taken("I waited for him. He came.").seconds + 0.8
    )


def test_the_full_stop_of_an_abbreviation_is_not_a_pause() -> None:
    s = script.parse_script("I saw Mr. Harrow and Dr. Penn.")
    assert [x.mark for x in stops_of(s, words.words_of(s))] == ["", "", "", "", "", "", "."]


def test_a_number_takes_as_long_as_the_words_it_is_spoken_in() -> None:
    digits, spelt = taken("It stood here in 1603."), taken("It stood here in sixteen oh three.")
    assert digits.seconds == pytest.approx(spelt.seconds, rel=0.12)


def test_syllables_take_different_times_depending_on_their_sounds() -> None:
    """Klatt's table: a stressed long vowel among consonants takes longer than a reduced small word."""
    assert seconds_of("strengths", False) > 2 * seconds_of("a", False)
    assert seconds_of("home", True) > seconds_of("home", False)


def test_a_text_in_capitals_takes_the_same_time() -> None:
    assert taken(HARBOUR.upper()).voiced == pytest.approx(taken(HARBOUR).voiced, rel=0.03)


@pytest.mark.parametrize("text", ["Yes", "🎭 curtain 🎭", "Ich habe den Leuchtturm gesehen.", "Å é ñ"])
def test_any_text_with_a_word_takes_more_than_zero_seconds(text: str) -> None:
    t = taken(text)
    assert 0 < t.low < t.seconds < t.high < 60


@pytest.mark.heavy
def test_a_text_of_fifty_thousand_words_is_timed_completely() -> None:
    p = plain(HARBOUR * 900, "narration")
    t = timing.running_time(p)
    assert p.spoken > 45_000
    assert t.seconds == pytest.approx(p.spoken * 60 / t.rate_wpm)
    assert (t.high - t.low) / t.seconds < 0.5


def test_real_readings_lie_in_the_preset_range() -> None:
    """LibriVox sentences (Debian pocketsphinx-testdata) and two_cities.wav (moonshine-voice wheel)."""
    clips = [*librivox_sentences(), two_cities()]
    inside = 0
    for wav, text in clips:
        t = timing.running_time(plain(" ".join(text.split()), "narration"))
        real = speech_span(wav)
        inside += t.low <= real <= t.high
        assert abs(t.seconds / real - 1) < 0.30, f"{wav.name}: {t.seconds:.1f} for {real:.1f}"
    assert inside >= 0.8 * len(clips)


def test_earlier_readings_of_a_real_reader_improve_the_time_and_narrow_the_range() -> None:
    """Each LibriVox sentence timed from the other four of the same reader."""
    clips = [(plain(text, "narration"), speech_span(wav)) for wav, text in librivox_sentences()]
    errors = []
    for k, (p, real) in enumerate(clips):
        others = [
            EarlierReading(sum(o.voiced), sum(o.pauses), seconds, "narration")
            for j, (o, seconds) in enumerate(clips)
            if j != k
        ]
        t, usual = timing.running_time(p, timing.calibrate(others, "narration")), timing.running_time(p)
        assert t.high - t.low < 0.75 * (usual.high - usual.low)
        errors.append(abs(t.seconds / real - 1))
    assert sum(errors) / len(errors) < 0.12


@pytest.mark.heavy
@settings(max_examples=60, deadline=None)
@given(voice=st.floats(0.9, 1.6), pause=st.floats(0.6, 2.2))
def test_a_known_pace_is_found_from_readings_made_with_it(voice: float, pause: float) -> None:
    readings = [
        EarlierReading(v, p, voice * v + pause * p, "narration")
        for v, p in [(40.0, 4.0), (60.0, 24.0), (30.0, 1.0), (90.0, 40.0), (50.0, 5.0), (70.0, 30.0)]
    ]
    found = timing.calibrate(readings, "narration")
    expected = voice * 55 + pause * 12
    assert found.voice * 55 + found.pause * 12 == pytest.approx(expected, rel=0.05)


def test_every_further_reading_narrows_the_range_and_a_longer_reading_narrows_it_more() -> None:
    short = EarlierReading(8.0, 1.0, 10.4, "narration")
    long = EarlierReading(80.0, 10.0, 104.0, "narration")
    spreads = [timing.calibrate([short] * n, "narration").spread(50, 10) for n in range(5)]
    assert spreads == sorted(spreads, reverse=True)
    assert timing.calibrate([long], "narration").spread(50, 10) < spreads[1]


def test_a_measured_speaking_time_separates_voice_from_pauses() -> None:
    slow_pauser = EarlierReading(50.0, 10.0, 75.0, "narration", speaking=50.0)
    found = timing.calibrate([slow_pauser] * 4, "narration")
    assert found.voice < 1.06
    assert found.pause > 1.8


def test_the_chance_of_ending_in_time_is_one_half_at_the_estimate_and_grows_with_the_limit() -> None:
    t = taken(HARBOUR)
    assert t.chance(t.seconds) == pytest.approx(0.5)
    assert t.chance(t.high) - t.chance(t.low) == pytest.approx(timing.INSIDE, abs=0.01)
    chances = [t.chance(x) for x in (0, 5, 15, 25, 60, 600)]
    assert chances == sorted(chances)
    assert chances[0] == 0.0


@pytest.mark.parametrize("rate", [0.0, -5.0, 1000.0, math.inf, math.nan, 39.0])
def test_a_rate_nobody_speaks_at_is_refused(rate: float) -> None:
    with pytest.raises(PaceError, match="nobody speaks at"):
        timing.at_rate(rate, "narration")


@pytest.mark.parametrize("seconds", [0.0, -1.0, math.nan])
def test_an_earlier_reading_without_a_length_is_refused(seconds: float) -> None:
    s = script.parse_script(HARBOUR)
    with pytest.raises(PaceError):
        timing.reading_of(s, words.words_of(s), seconds)


def test_an_earlier_reading_whose_time_is_impossible_for_its_text_is_refused() -> None:
    with pytest.raises(PaceError, match="cannot be of a text"):
        timing.calibrate([EarlierReading(20.0, 4.0, 500.0, "narration")], "narration")


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("Ladies and gentlemen, thank you for coming. I shall be short.", "address"),
        ("We are here because we must be. We shall not go home until our work is done. Let us begin. "
         "We have a harbour to build, and we will build it.", "address"),
        (TWO_CITIES.replace("\n", " "), "narration"),
        ("He said that she had gone. She had not. We were wrong about it, and we knew it soon.", "narration"),
        ("One line of verse alone,", "narration"),
    ],
)  # fmt: skip
def test_the_kind_of_speech_is_recognised_from_its_words(text: str, tempo: str) -> None:
    s = script.parse_script(text)
    assert timing.tempo_of(s, words.words_of(s)) == tempo


def test_a_stretch_of_words_is_timed_from_its_first_to_its_last() -> None:
    t = taken(HARBOUR)
    whole = t.stretch(0, len(t.starts) - 1)
    assert whole.seconds == pytest.approx(t.seconds)
    one, two = t.stretch(0, 5), t.stretch(6, 9)
    assert one.seconds > 0
    assert one.end <= two.start
    assert one.voiced + one.pauses == pytest.approx(one.seconds)


# What an earlier reading is worth ------------------------------------------------------------------

NORMAL = replace(SPREADS, tails=1e12)  # no long tails, so that the handbook's formulas hold exactly


def _read(seconds: float, day: str | None = None, tempo: timing.Tempo = "narration") -> EarlierReading:
    """A reading of 50 s at the plain pace, without pauses, so that only the voice is in question."""
    return EarlierReading(50.0, 0.0, seconds, tempo, occasion=day)


def _worth(readings: list[EarlierReading], spreads: Spreads = NORMAL) -> float:
    """The part of their common distance from the preset that the estimate goes, on the logarithm."""
    found = timing.calibrate(readings, "narration", spreads)
    usual = timing.PRESETS["narration"]
    return math.log(found.voice / usual) / math.log(readings[0].seconds / 50 / usual)


def test_a_reading_is_weighted_by_its_share_of_the_variance() -> None:
    """Best linear unbiased prediction in a random model: Searle, Casella & McCulloch, Variance Components,
    1992, chapter 3 (from memory): between / (between + within / n)."""
    between = NORMAL.readers[0]
    occasion, noise = NORMAL.occasion * between, NORMAL.noise(70.0)
    assert _worth([_read(70.0)]) == pytest.approx(between / (between + occasion + noise))
    two_days = [_read(70.0, "1"), _read(70.0, "2")]
    assert _worth(two_days) == pytest.approx(between / (between + (occasion + noise) / 2))
    one_day = [_read(70.0, "1"), _read(70.0, "1")]
    assert _worth(one_day) == pytest.approx(between / (between + occasion + noise / 2))


def test_the_range_after_readings_includes_the_variation_of_a_new_occasion() -> None:
    """The variance of the same prediction: what is not known of the reader, a new day, a new text."""
    between = NORMAL.readers[0]
    occasion, noise = NORMAL.occasion * between, NORMAL.noise(70.0)
    pace = timing.calibrate([_read(70.0)], "narration", NORMAL)
    unknown = 1 / (1 / between + 1 / (occasion + noise))
    expected = unknown + occasion + NORMAL.noise(50 * pace.voice)
    assert pace.spread(50.0, 0.0) ** 2 == pytest.approx(expected)


def test_ten_readings_on_one_day_narrow_the_range_less_than_ten_on_ten_days() -> None:
    one = timing.calibrate([_read(60.0, "1")] * 10, "narration")
    ten = timing.calibrate([_read(60.0, str(k)) for k in range(10)], "narration")
    day = math.sqrt(SPREADS.occasions(address=False)[0])
    assert ten.spread(50, 0) < 0.85 * one.spread(50, 0)
    assert one.spread(50, 0) > day
    assert one.name == "10 earlier readings of your own on one day"
    assert ten.name == "10 earlier readings of your own on 10 days"


def test_a_reader_whose_days_differ_has_a_wider_range_than_a_steady_reader() -> None:
    steady = [_read(60.0, str(k)) for k in range(6)]
    changing = [_read(60.0 * (1.25 if k % 2 else 0.8), str(k)) for k in range(6)]
    wide = timing.calibrate(changing, "narration").spread(50, 0)
    assert wide > 1.5 * timing.calibrate(steady, "narration").spread(50, 0)


@pytest.mark.parametrize(("tempo", "pauses"), [("narration", 3.0), ("verse", 4.0), ("address", 4.0)])
def test_a_reader_at_twice_the_usual_time_is_foreseen_correctly_after_one_reading(
    tempo: timing.Tempo, pauses: float
) -> None:
    """Slow, and with pauses that are longer still; the second text has twice the pauses of the first."""
    k = timing.PRESETS[tempo]
    known, next_one = (45.0, 9.0), (60.0, 24.0)
    voice = (2 * k * sum(known) - pauses * k * known[1]) / known[0]
    took = [voice * v + pauses * k * p for v, p in (known, next_one)]
    text = Plain((0.0, next_one[0]), (next_one[1], 0.0), 160, 240, tempo)
    before = timing.running_time(text)
    after = timing.running_time(text, timing.calibrate([EarlierReading(*known, took[0], tempo)], tempo))
    assert took[1] > before.high
    assert after.low < took[1] < after.high
    assert after.high - after.seconds < 0.3 * after.seconds


def test_an_audience_widens_the_range_of_the_next_occasion() -> None:
    """Laughter, applause and the size of the hall (common practice, no source)."""
    told, given_out = (timing.calibrate([_read(66.0, None, t)], t) for t in ("narration", "address"))
    assert given_out.spread(50, 0) > told.spread(50, 0)


@pytest.mark.heavy
@pytest.mark.parametrize("days", [1, 3, 8])
def test_the_range_is_right_as_often_as_stated_for_readers_drawn_from_the_model(days: int) -> None:
    """Six hundred readers drawn from the layers: each timed on some days, foreseen for another."""
    rng = np.random.default_rng(days)
    a, b, c = SPREADS.readers
    root = np.linalg.cholesky(np.array([[a, b], [b, c]]))
    k, inside = timing.PRESETS["narration"], 0

    def read(reader: NDArray[np.float64]) -> float:
        at = reader + math.sqrt(SPREADS.occasion) * root @ rng.standard_normal(2)
        clean = k * (math.exp(at[0]) * 50 + math.exp(at[1]) * 12)
        return clean * math.exp(math.sqrt(SPREADS.noise(clean)) * rng.standard_normal())

    for _ in range(600):
        reader = root @ rng.standard_normal(2)
        earlier = [
            EarlierReading(50.0, 12.0, read(reader), "narration", occasion=str(d)) for d in range(days)
        ]
        pace = timing.calibrate(earlier, "narration")
        t = timing.running_time(Plain((0.0, 50.0), (12.0, 0.0), 150, 220, "narration"), pace)
        inside += t.low <= read(reader) <= t.high
    assert 0.80 <= inside / 600 <= 0.92
