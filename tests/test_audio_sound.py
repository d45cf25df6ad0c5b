"""Measuring a recording: loudness to the broadcast standards, noise, clipping, and what people are told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from offbook.audio import loudness_of, survey
from offbook.audio import stream as audio
from offbook.audio.quality import quality_line
from offbook.errors import RecordingError
from offbook.hear.softening import too_poor_to_be_sure
from tests.sounds import Sound, silence, sine, voice, write


@pytest.mark.heavy
def test_a_full_scale_sine_of_997_hz_reads_minus_3_01_lufs(tmp_path: Path) -> None:
    """ITU-R BS.1770-4, annex 1: one channel, 0 dBFS, 997 Hz."""
    path = write(tmp_path / "a.wav", sine(997, 20, 48_000), 48_000, "pcm_s24le")
    assert loudness_of(path).integrated == pytest.approx(-3.01, abs=0.1)
    assert survey(path).loudness == pytest.approx(-3.01, abs=0.1)


def stereo(*parts: Sound) -> Sound:
    return np.tile(np.concatenate(parts, axis=1), (2, 1))


# EBU Tech 3341 (2016), table 1: minimum requirements test signals 1 to 5, stereo 1 kHz sines.
EBU_LOUDNESS: dict[int, tuple[list[tuple[float, float]], float]] = {
    1: ([(-23, 20)], -23.0),
    2: ([(-33, 20)], -33.0),
    3: ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
    4: ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
    5: ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
}


@pytest.mark.parametrize("case", EBU_LOUDNESS)
@pytest.mark.heavy
def test_the_broadcasters_test_signals_read_the_loudness_they_state(case: int, tmp_path: Path) -> None:
    parts, expected = EBU_LOUDNESS[case]
    wave = stereo(*(sine(1000, seconds, 48_000, db) for db, seconds in parts))
    path = write(tmp_path / "a.wav", wave, 48_000, "pcm_s24le")
    assert loudness_of(path).integrated == pytest.approx(expected, abs=0.1)


# EBU Tech 3341, table 1, signals 15 to 18: true peak -6.0 dBTP, +0.2/-0.4; hertz as a share of the rate.
EBU_TRUE_PEAK = {15: (4, 0.0), 16: (4, 45.0), 17: (6, 60.0), 18: (8, 67.5)}


@pytest.mark.parametrize("case", EBU_TRUE_PEAK)
def test_the_true_peak_includes_peaks_between_the_samples(case: int, tmp_path: Path) -> None:
    share, phase = EBU_TRUE_PEAK[case]
    wave = stereo(sine(48_000 / share, 2, 48_000, 20 * np.log10(0.5), phase))
    fade = np.minimum(1, np.minimum(np.arange(96_000), np.arange(96_000)[::-1]) / 480)
    path = write(tmp_path / "a.wav", wave * fade, 48_000, "pcm_s24le")
    assert -6.4 <= loudness_of(path).true_peak <= -5.8


@pytest.mark.heavy
@pytest.mark.parametrize("ratio", [10, 20, 30])
def test_the_noise_under_a_voice_is_measured_within_a_few_decibels(ratio: float, tmp_path: Path) -> None:
    said = voice(20, 16_000, -6)
    loud = said[np.abs(said) > 0.02]
    noise = np.random.default_rng(1).standard_normal(said.shape) * np.sqrt(np.mean(loud**2))
    path = write(tmp_path / "a.wav", 0.5 * (said + noise * 10 ** (-ratio / 20)), 16_000)
    assert survey(path).snr == pytest.approx(ratio, abs=6)


@pytest.mark.heavy
def test_a_recording_beyond_full_scale_is_reported_as_clipped_and_a_loud_clean_one_is_not(
    tmp_path: Path,
) -> None:
    said = voice(10, 48_000, 0)
    clean = survey(write(tmp_path / "clean.wav", said, 48_000))
    assert clean.clipped < 0.001 and clean.line is None
    cut = survey(write(tmp_path / "cut.wav", np.clip(4 * said, -1, 1), 48_000))
    assert cut.clipped > 0.01
    assert cut.line is not None and "clipped" in cut.line


def test_clipping_is_detected_even_if_the_sound_was_made_quieter_afterwards(tmp_path: Path) -> None:
    cut = 0.3 * np.clip(4 * voice(10, 48_000, 0), -1, 1)
    assert survey(write(tmp_path / "a.wav", cut, 48_000)).clipped > 0.01


@pytest.mark.parametrize(("name", "codec"), [("a.mp3", "libmp3lame"), ("a.webm", "libopus")])
@pytest.mark.heavy
def test_clipping_is_detected_after_a_codec_has_rounded_the_flat_tops(
    name: str, codec: str, tmp_path: Path
) -> None:
    path = write(tmp_path / name, np.clip(4 * voice(10, 48_000, 0), -1, 1), 48_000, codec)
    assert survey(path).clipped > 0.01
    assert survey(write(tmp_path / f"clean-{name}", voice(10, 48_000, -1), 48_000, codec)).clipped < 0.002


@pytest.mark.heavy
def test_an_echoing_room_is_detected_in_the_voice(tmp_path: Path) -> None:
    """Bursts of noise that die away in a known time: in a dry room, and in one with an RT60 of 0.6 s."""
    rng = np.random.default_rng(8)
    n, rate = 20 * 16_000, 16_000
    t = np.arange(n) / rate
    since = np.where(t % 0.8 < 0.3, 0.0, t % 0.8 - 0.3)  # bursts of 0.3 s, then 0.5 s of decay
    for rt60 in (0.15, 0.6):
        wave = 0.2 * rng.standard_normal(n) * 10 ** (-3 * since / rt60)
        report = survey(write(tmp_path / f"{rt60}.wav", wave[None, :], rate))
        assert report.decay == pytest.approx(rt60, rel=0.2)
        assert (report.line is not None and "room echoes" in report.line) == (rt60 == 0.6)


@pytest.mark.heavy
def test_a_telephone_recording_is_detected_by_its_narrow_band(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    hiss = rng.standard_normal((1, 8 * 48_000))
    spectrum = np.fft.rfft(hiss)
    spectrum[0, (3400 * 8) :] = 0
    narrow = np.fft.irfft(spectrum)
    said = (voice(8, 48_000, 0) != 0) * narrow
    wave = said / np.abs(said).max() * np.abs(voice(8, 48_000, 0))
    path = write(tmp_path / "a.wav", wave[:, ::6], 8_000, "pcm_mulaw")
    assert survey(path).bandwidth < 4_100
    assert survey(write(tmp_path / "b.wav", voice(8, 48_000) + 0.01 * hiss, 48_000)).bandwidth > 7_000


@pytest.mark.parametrize(
    ("loudness", "snr", "clipped", "bandwidth", "word"),
    [
        (-20, 6, 0, 8000, "background"),
        (-20, 30, 0.05, 8000, "clipped"),
        (-60, 30, 0, 8000, "quiet"),
        (-20, 30, 0, 3400, "telephone"),
    ],
)
def test_poor_sound_is_reported_in_one_line_that_says_what_to_do(
    loudness: float, snr: float, clipped: float, bandwidth: float, word: str
) -> None:
    line, _ = quality_line(loudness, snr, clipped, bandwidth)
    assert line is not None and word in line and "\n" not in line and ": " in line


@pytest.mark.heavy
def test_a_background_is_named_once_it_softens_verdicts_and_called_too_loud_beyond_that(
    tmp_path: Path,
) -> None:
    """A steady hiss measures 3 dB more than its ratio to the voice; docs/sound.md has the figures."""
    said = voice(20, 16_000, -6)
    loud = said[np.abs(said) > 0.02]
    noise = np.random.default_rng(1).standard_normal(said.shape) * np.sqrt(np.mean(loud**2))
    told = {}
    for ratio in (5, 10, 15, 25):
        path = write(tmp_path / f"{ratio}.wav", 0.5 * (said + noise * 10 ** (-ratio / 20)), 16_000)
        report = survey(path)
        told[ratio] = (report.line is not None, report.poor)
        assert (report.line is not None) == too_poor_to_be_sure(report)
    assert told == {5: (True, True), 10: (True, True), 15: (True, False), 25: (False, False)}


def test_good_sound_gets_no_remark() -> None:
    assert quality_line(-23, 35, 0.0, 8000) == (None, False)


def test_a_silent_recording_is_refused_as_silent(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="silent"):
        survey(write(tmp_path / "a.wav", silence(5, 44_100), 44_100))
    faint = np.random.default_rng(0).standard_normal((1, 80_000)) * 10 ** (-85 / 20)
    with pytest.raises(RecordingError, match="silent"):
        survey(write(tmp_path / "b.wav", faint, 16_000))


def test_a_recording_is_refused_exactly_at_the_lengths_that_the_error_names() -> None:
    audio.check_length("a.wav", 90 * 60)
    with pytest.raises(RecordingError, match="3 h 0 min"):
        audio.check_length("a.wav", 3 * 3600)
    with pytest.raises(RecordingError, match="too short"):
        audio.check_length("a.wav", 2.0, 120)
    with pytest.raises(RecordingError, match=r"breaks off after 2\.0 s of the 60 s") as cut:
        audio.check_length("a.wav", 2.0, 120, claimed=60.0)
    assert "copy it again" in cut.value.do
    audio.check_length("a.wav", 2.0, 5)  # a line of five words takes no longer


def test_a_length_that_the_header_does_not_give_is_found_while_decoding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("offbook.audio.decode.LONGEST_SECONDS", 5.0)
    path = write(tmp_path / "a.wav", voice(8, 16_000), 16_000)
    monkeypatch.setattr("offbook.audio.decode.stated_seconds", lambda container: None)
    with pytest.raises(RecordingError, match="long"):
        survey(path)
