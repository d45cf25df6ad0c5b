"""Delivery: what is measured between words, and what is said about it.

The voice here is made of tones, so that every value is known beforehand; readings by people are in
`bench/delivery.py`. Pitch is compared with Praat (Debian's `praat`, P. Boersma & D. Weenink), which runs as
a program.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, cast
from xml.etree import ElementTree

import numpy as np
import pytest
from numpy.typing import NDArray

from offbook import audio
from offbook.delivery import Audible, MarkedShift, SpokenWord, TakeReview, delivery_picture, review_delivery
from offbook.delivery.level import level_track
from offbook.delivery.pitch import pitch_track
from offbook.desk.review_wording import shifts_in_words
from offbook.sampling import FULL_SCALE, SAMPLE_RATE
from tests.praat import harmonic_tone, pitch_by_praat
from tests.recordings import two_cities

RATE = SAMPLE_RATE
WORD = 0.3  # s that every word lasts, as long as its sounds usually do
HIGH = 150.0  # Hz at which the voice of these tests begins a thought


def voice(hz: Sequence[float], seconds: float = WORD, level: float = 0.1) -> NDArray[np.float32]:
    """A tone with seven harmonics that glides through these pitches; it fades in and out over 20 ms."""
    n = round(seconds * RATE)
    return harmonic_tone(np.interp(np.arange(n), np.linspace(0, n, len(hz)), hz), level)


def spoken(
    words: int, *, pauses: Sequence[int] = (), resets: Sequence[int] = (), pause: float = 0.5
) -> tuple[NDArray[np.float32], list[SpokenWord]]:
    """So many words at one pitch, with a silence before those in `pauses` and 7 semitones more at those in
    `resets`.

    After such a reset the pitch comes back over the next three words, as a voice declines.
    """
    parts: list[NDArray[np.float32]] = [np.zeros(RATE // 5, np.float32)]
    out, at, up = [], 0.2, 0.0
    for i in range(words):
        if i in pauses:
            parts.append(np.zeros(round(pause * RATE), np.float32))
            at += pause
        up = 7.0 if i in resets else max(0.0, up - 7 / 3)
        parts.append(voice([HIGH * 2 ** (up / 12)] * 2))
        out.append(SpokenWord(i, at, at + WORD, WORD, 2))
        at += WORD
    return np.concatenate([*parts, np.zeros(RATE // 5, np.float32)]), out


SHIFTS = [MarkedShift(i, 2, "a new thought") for i in (5, 10, 15)]


def reviewed(sound: NDArray[np.float32], words: Sequence[SpokenWord], **more: Any) -> TakeReview:
    return review_delivery(sound, RATE, words, SHIFTS, word_count=20, **more)


@pytest.mark.heavy
@pytest.mark.parametrize("hz", [82.41, 110.0, 196.0, 261.63, 440.0])
def test_a_steady_tone_is_measured_within_ten_cents(hz: float) -> None:
    """Equal temperament, ISO 16: A is 440 Hz; 100 cents are a semitone."""
    tones = pitch_track(voice([hz, hz], 1.0), RATE).within(0.1, 0.9)
    assert len(tones) > 40
    assert np.abs(100 * (tones - 12 * math.log2(hz))).max() < 10


def test_a_glide_of_an_octave_a_second_is_followed_within_ten_cents() -> None:
    track = pitch_track(voice(list(HIGH * 2 ** np.linspace(0, 1, 200)), 1.0), RATE)
    inside = (track.at > 0.1) & (track.at < 0.9) & np.isfinite(track.semitones)
    expected = 12 * np.log2(HIGH) + 12 * track.at[inside]
    assert inside.sum() > 40
    assert np.abs(100 * (track.semitones[inside] - expected)).max() < 10


def test_silence_has_no_pitch() -> None:
    assert len(pitch_track(np.zeros(RATE, np.float32), RATE).within(0, 1)) == 0


@pytest.mark.heavy
def test_pitch_is_within_half_a_semitone_of_praats_on_95_of_100_frames(tmp_path: Path) -> None:
    """Only the frames of a human reading that both call voiced count."""
    recording, _ = two_cities()
    samples = (np.frombuffer(b"".join(audio.pcm(recording)), "<i2") / FULL_SCALE).astype(np.float32)
    at, hz = pitch_by_praat(samples, tmp_path)
    track = pitch_track(samples, RATE)
    theirs = 12 * np.log2(np.interp(track.at, at, hz))
    apart = np.abs(track.semitones - theirs)
    both = np.isfinite(apart)
    assert both.sum() > 500
    assert (apart[both] <= 0.5).mean() >= 0.95


def test_a_full_scale_tone_of_997_hz_reads_minus_3_01_lufs() -> None:
    """ITU-R BS.1770-5: a 0 dB FS 997 Hz sine reads -3.01 LKFS; EBU Tech 3341 allows a tenth."""
    sound = np.sin(2 * np.pi * 997 * np.arange(3 * RATE) / RATE).astype(np.float32)
    assert level_track(sound, RATE).lufs(1, 2) == pytest.approx(-3.01, abs=0.1)


def test_a_low_tone_counts_less_and_a_high_tone_more_as_in_the_standards_curve() -> None:
    """ITU-R BS.1770-5, figures 2 to 4: about -1 dB at 100 Hz and +4 dB at 4 kHz, against 0.7 dB at 1 kHz."""
    tones = {hz: np.sin(2 * np.pi * hz * np.arange(2 * RATE) / RATE).astype(np.float32) for hz in (100, 4000)}
    assert level_track(tones[100], RATE).lufs(0.5, 1.5) == pytest.approx(-4.8, abs=0.3)
    assert level_track(tones[4000], RATE).lufs(0.5, 1.5) == pytest.approx(0.4, abs=0.4)


@pytest.mark.heavy
def test_in_a_flat_voice_without_pauses_no_shift_is_heard() -> None:
    found = reviewed(*spoken(20))
    assert [s.audible for s in found.shifts] == ["not heard"] * 3
    assert found.shifts[0].told == "no pause, no change: not heard"
    assert found.count("not heard") == 3


@pytest.mark.heavy
def test_shifts_marked_only_by_pauses_are_heard_by_their_pauses() -> None:
    found = reviewed(*spoken(20, pauses=(5, 10, 15)))
    assert [s.audible for s in found.shifts] == ["heard"] * 3
    assert all(s.carried_by[0] == "pause" for s in found.shifts)
    assert found.shifts[0].cues is not None and found.shifts[0].cues.pause == pytest.approx(0.5, abs=0.05)
    assert found.shifts[0].told.startswith("pause 0.5 s")


@pytest.mark.heavy
def test_shifts_marked_only_by_pitch_are_heard_at_least_slightly_by_pitch() -> None:
    """The voice falls by a third of 7 semitones a word, so a rise of 7 is 9 more than its usual change."""
    found = reviewed(*spoken(20, resets=(5, 10, 15)))
    assert all(s.audible in ("heard", "slight") for s in found.shifts)
    assert all(s.carried_by[:1] == ("pitch",) for s in found.shifts)
    assert "pitch up 9 semitones" in found.shifts[0].told


@pytest.mark.heavy
def test_the_same_recording_20_db_softer_gives_the_same_review() -> None:
    sound, words = spoken(20, pauses=(5,), resets=(10,))
    loud, soft = reviewed(sound, words), reviewed(sound * np.float32(0.1), words)
    assert [s.told for s in loud.shifts] == [s.told for s in soft.shifts]


@pytest.mark.heavy
def test_a_shift_whose_words_were_not_heard_could_not_be_measured() -> None:
    sound, words = spoken(20, pauses=(5, 10, 15))
    found = reviewed(sound, [w for w in words if w.i != 10])
    assert [s.audible for s in found.shifts] == ["heard", "not measured", "heard"]
    assert found.shifts[1].confidence == 0.5


@pytest.mark.heavy
def test_with_a_loud_background_no_shift_is_measured() -> None:
    found = reviewed(*spoken(20, pauses=(5,)), snr_db=4.0)
    assert {s.audible for s in found.shifts} == {"not measured"}


def test_the_sentence_on_how_many_shifts_can_be_heard_leaves_out_every_zero_count() -> None:
    found = reviewed(*spoken(20, pauses=(5, 10, 15)))
    [shift, *_] = found.shifts

    def told(**counts: int) -> str:
        names = {n: cast("Audible", n.replace("_", " ")) for n in counts}
        shifts = [replace(shift, grade=2, audible=names[n]) for n in counts for _ in range(counts[n])]
        return shifts_in_words(replace(found, shifts=tuple(shifts)))

    assert told(heard=1) == "The one shift of thought can be heard."
    assert told(heard=2) == "Both shifts of thought can be heard."
    assert told(not_heard=2) == "Neither of the two shifts of thought can be heard."
    assert told(not_heard=20) == "None of the 20 shifts of thought can be heard."
    assert told(heard=9) == "All 9 shifts of thought can be heard."
    assert told(not_heard=1) == "The one shift of thought cannot be heard."
    assert told(not_heard=4) == "None of the 4 shifts of thought can be heard."
    assert told(heard=7, not_heard=2) == "Of 9 shifts of thought, 7 can be heard and 2 cannot be heard."
    assert told(heard=5, slight=3, not_measured=1) == (
        "Of 9 shifts of thought, 5 can be heard, 3 can be heard slightly and 1 could not be measured."
    )
    assert told() == "The text has no marked shift of thought."


@pytest.mark.heavy
def test_a_silence_around_a_prompt_is_not_counted_as_a_pause_of_the_speaker() -> None:
    found = reviewed(*spoken(20, pauses=(5, 10)), between={10: "a prompt came here"})
    assert [s.audible for s in found.shifts] == ["heard", "not measured", "not heard"]
    assert found.shifts[1].told == "a prompt came here: could not be measured"


@pytest.mark.heavy
@pytest.mark.parametrize(
    ("light", "said", "told"),
    [
        ({7}, 7, [(7, 7)]),  # an "of" that is said louder and higher than all others
        (set(), 7, []),  # a word that may carry the thought
        ({9}, 9, []),  # the last before a shift is drawn out and lifted whatever it is
        ({6}, 7, []),  # the stress is on another word
    ],
)
def test_a_small_word_that_carries_the_strongest_stress_is_reported(
    light: set[int], said: int, told: list[tuple[int, int]]
) -> None:
    sound, words = spoken(20, pauses=(5,))
    start, end = (round(t * RATE) for t in (words[said].start, words[said].end))
    sound[start:end] = voice([HIGH * 2 ** (5 / 12)] * 2, level=0.2)[: end - start]  # 5 semitones and 6 dB up
    found = [f for f in reviewed(sound, words, light=light).findings if f.kind == "stress on a small word"]
    assert [(f.first, f.last) for f in found] == told
    assert all("5 semitones higher than the next" in f.told for f in found)


@pytest.mark.heavy
def test_a_pause_inside_a_phrase_is_reported_and_a_pause_at_a_mark_is_not() -> None:
    found = reviewed(*spoken(20, pauses=(7, 10)))
    inside = [f for f in found.findings if f.kind == "pause inside a phrase"]
    assert [(f.first, f.last) for f in inside] == [(6, 7)]


@pytest.mark.heavy
def test_a_thought_said_much_faster_than_the_others_is_reported_as_rushed() -> None:
    sound, words = spoken(20)
    quick = [SpokenWord(w.i, w.start, w.end, w.expected, 4 if 10 <= w.i < 15 else 2) for w in words]
    found = [f for f in reviewed(sound, quick).findings if f.kind == "rushed"]
    assert [(f.first, f.last) for f in found] == [(10, 14)]
    assert found[0].told == "13.3 syllables a second; your usual here is 6.7"


@pytest.mark.heavy
def test_a_turn_that_is_not_heard_comes_first_in_the_list_of_places_to_listen_to() -> None:
    sound, words = spoken(20, pauses=(5,))
    shifts = [MarkedShift(5, 2, ""), MarkedShift(10, 2, ""), MarkedShift(15, 3, "")]
    found = review_delivery(sound, RATE, words, shifts, word_count=20)
    assert [getattr(p, "before_word", None) for p in found.worth_a_look] == [15, 10]


def test_the_picture_is_an_svg_file_that_also_gives_its_facts_as_text() -> None:
    sound, words = spoken(20, pauses=(5,))
    found = reviewed(sound, words)
    root = ElementTree.fromstring(delivery_picture(found, words, [f"w{i}" for i in range(20)], "A <speech>"))
    name = "{http://www.w3.org/2000/svg}"
    told = root.find(f"{name}desc")
    assert told is not None and told.text is not None
    assert all(s.told in told.text for s in found.shifts)
    assert [t.text for t in root.iter(f"{name}text")][-20:] == [f"w{i}" for i in range(20)]


def test_an_empty_recording_has_no_tracks_and_does_not_fail() -> None:
    found = review_delivery(np.zeros(0, np.float32), RATE, [], SHIFTS, word_count=20)
    assert {s.audible for s in found.shifts} == {"not measured"}
    assert found.energy == ()
