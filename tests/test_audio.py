"""Decoding: whatever a phone, a camera or a browser writes becomes the same 16 kHz stream."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from offbook.audio import SoundReport, pcm, probe, survey
from offbook.audio import stream as audio
from offbook.sampling import SAMPLE_RATE, byte_at, whole_samples
from tests.sounds import Sound, silence, sine, voice, write

# Name of the file, codec, rate: what phones, recorders, editors and browsers write.
FORMATS = [
    ("phone.m4a", "aac", 44_100),
    ("old-phone.wav", "pcm_mulaw", 8_000),
    ("studio.wav", "pcm_s24le", 96_000),
    ("editor.wav", "pcm_f32le", 48_000),
    ("bytes.wav", "pcm_u8", 22_050),
    ("plain.wav", "pcm_s16le", 44_100),
    ("music.mp3", "libmp3lame", 44_100),
    ("archive.flac", "flac", 48_000),
    ("note.ogg", "libopus", 48_000),
    ("note.opus", "libopus", 48_000),
    ("browser.webm", "libopus", 48_000),
    ("camera.mov", "pcm_s16be", 48_000),
    ("lossless.m4a", "alac", 44_100),
]


def samples(chunks: bytes) -> NDArray[np.float64]:
    return np.frombuffer(chunks, dtype="<i2") / 32768


def level(wave: NDArray[np.float64]) -> float:
    return float(10 * np.log10(np.mean(wave**2)))


def as_it_is(path: Path) -> SoundReport:
    """The survey without gain and without cleaning, so that the result can be compared with the input.

    A steady tone would be taken for a background.
    """
    return dataclasses.replace(survey(path), gain=0.0, background=None)


def heard(path: Path) -> NDArray[np.float64]:
    return samples(b"".join(pcm(path, sound=as_it_is(path))))


def strongest(wave: NDArray[np.float64]) -> float:
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave))))
    return float(np.argmax(spectrum)) * SAMPLE_RATE / len(wave)


@pytest.mark.heavy
@pytest.mark.parametrize(("name", "codec", "rate"), FORMATS)
def test_every_kind_of_file_gives_the_same_tone_at_the_same_level(
    name: str, codec: str, rate: int, tmp_path: Path
) -> None:
    path = write(tmp_path / name, sine(1000, 3, rate, -12), rate, codec)
    wave = heard(path)
    assert len(wave) / SAMPLE_RATE == pytest.approx(3, abs=0.1)
    middle = wave[SAMPLE_RATE // 2 : -SAMPLE_RATE // 2]
    assert strongest(middle) == pytest.approx(1000, abs=2)
    assert level(middle) == pytest.approx(-15.01, abs=0.7)  # a sine's power is 3.01 dB under its peak


@pytest.mark.heavy
@pytest.mark.parametrize("name", ["film.mp4", "film.mov", "film.webm"])
def test_the_sound_of_a_film_is_read_and_the_film_is_recognised_as_one(name: str, tmp_path: Path) -> None:
    codec = "libopus" if name.endswith("webm") else "aac"
    if name.endswith("webm"):
        path = write(tmp_path / name, sine(500, 2, 48_000, -12), 48_000, codec)
        assert not probe(path).has_video
    else:
        path = write(tmp_path / name, sine(500, 2, 48_000, -12), 48_000, codec, picture=True)
        assert probe(path).has_video
    assert strongest(heard(path)) == pytest.approx(500, abs=2)


def test_the_container_gives_the_kind_of_a_recording(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", np.tile(sine(300, 2, 8_000), (2, 1)), 8_000)
    clip = probe(path)
    assert (clip.seconds, clip.codec, clip.channels, clip.rate) == (2.0, "pcm_s16le", 2, 8_000)
    assert clip.container == "wav" and not clip.has_video


def test_an_mp3_file_that_is_named_wav_is_still_read(tmp_path: Path) -> None:
    path = write(tmp_path / "a.mp3", sine(700, 2, 44_100, -12), 44_100, "libmp3lame")
    assert strongest(heard(path.rename(tmp_path / "a.wav"))) == pytest.approx(700, abs=2)


@pytest.mark.heavy
def test_resampling_removes_frequencies_above_the_new_limit_and_keeps_those_below(tmp_path: Path) -> None:
    """Resampling: flat to 0.1 dB in the speech band, 60 dB down beyond half the new rate."""
    for hertz in (200, 1000, 3000, 6000):
        wave = heard(write(tmp_path / f"{hertz}.wav", sine(hertz, 2, 44_100, -6), 44_100))
        assert level(wave[4000:-4000]) == pytest.approx(-9.01, abs=0.1)
    mixed = sine(1000, 2, 44_100, -12) + sine(11_000, 2, 44_100, -12)
    wave = heard(write(tmp_path / "mixed.wav", mixed, 44_100))[4000:-4000]
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)))) ** 2
    alias = round((SAMPLE_RATE - 11_000) * len(wave) / SAMPLE_RATE)
    assert 10 * np.log10(spectrum[alias - 5 : alias + 6].sum() / spectrum.max()) < -60


@pytest.mark.parametrize("dead", ["right", "left"])
@pytest.mark.heavy
def test_a_dead_channel_does_not_weaken_the_voice(dead: str, tmp_path: Path) -> None:
    """The average of the two would lose 6 dB and bring in the noise of the dead one."""
    said = voice(6, 48_000)
    hum = sine(50, 6, 48_000, -50)
    both = np.concatenate([said, hum] if dead == "right" else [hum, said])
    alone = heard(write(tmp_path / "alone.wav", said, 48_000))
    path = write(tmp_path / "both.wav", both, 48_000)
    assert survey(path).dead == (1 if dead == "right" else 0,)
    assert np.abs(heard(path) - alone).max() < 0.003 * np.abs(alone).max()


@pytest.mark.heavy
def test_a_channel_with_inverted_polarity_does_not_cancel_the_voice(tmp_path: Path) -> None:
    said = voice(6, 48_000)
    path = write(tmp_path / "turned.wav", np.concatenate([said, -said]), 48_000)
    assert level(heard(path)) == pytest.approx(level(heard(write(tmp_path / "a.wav", said, 48_000))), abs=0.1)


@pytest.mark.heavy
def test_a_voice_in_the_centre_of_a_surround_recording_is_found(tmp_path: Path) -> None:
    channels: Sound = np.concatenate([silence(6, 48_000)] * 6)
    channels[2] = voice(6, 48_000)[0]  # centre, in the order left, right, centre, low, back left and right
    path = write(tmp_path / "surround.flac", channels, 48_000, "flac")
    assert len(survey(path).mix) == 2, "the resampler brings any layout to two channels at most"
    alone = level(heard(write(tmp_path / "a.wav", voice(6, 48_000), 48_000)))
    # ITU-R BS.775, table 2: the centre goes into left and right with a coefficient of 0.7071, -3.01 dB
    assert level(heard(path)) == pytest.approx(alone - 3.01, abs=0.1)


@pytest.mark.heavy
@pytest.mark.parametrize("decibels", [-12, -30, -45])
def test_every_voice_is_brought_to_the_same_level_however_quiet_it_was(
    decibels: float, tmp_path: Path
) -> None:
    path = write(tmp_path / "a.wav", voice(6, 16_000, decibels), 16_000)
    made = write(tmp_path / "b.wav", samples(b"".join(pcm(path)))[None, :], SAMPLE_RATE)
    assert survey(made).loudness == pytest.approx(audio.TARGET_LUFS, abs=1.0)


@pytest.mark.heavy
def test_the_same_file_always_gives_the_same_samples_in_pieces_of_any_length(tmp_path: Path) -> None:
    path = write(tmp_path / "a.m4a", voice(5, 44_100), 44_100, "aac")
    whole = b"".join(pcm(path))
    assert whole == b"".join(pcm(path))
    for seconds in (0.01, 0.25, 3.0):
        pieces = list(pcm(path, chunk_seconds=seconds))
        assert b"".join(pieces) == whole
        assert {len(p) for p in pieces[:-1]} <= {2 * round(seconds * SAMPLE_RATE)}


def test_peaks_are_rounded_and_never_clipped(tmp_path: Path) -> None:
    """A gain that would go over full scale must not make flat tops."""
    sparse = np.zeros((1, 8 * SAMPLE_RATE))
    sparse[0, :: SAMPLE_RATE // 4] = 0.9  # clicks, so that the loudness is low and the gain high
    sparse += 0.01 * voice(8, SAMPLE_RATE)
    wave = samples(b"".join(pcm(write(tmp_path / "a.wav", sparse, SAMPLE_RATE))))
    assert np.abs(wave).max() <= 1.0
    assert np.sum(np.abs(wave) >= 32767 / 32768) < 40


@pytest.mark.heavy
def test_a_stream_without_a_stated_length_is_measured_by_its_contents(tmp_path: Path) -> None:
    """A browser that is still writing cannot say how long its webm will be."""
    path = write(tmp_path / "whole.webm", voice(4, 48_000), 48_000, "libopus")
    data = path.read_bytes()
    cut = tmp_path / "cut.webm"
    cut.write_bytes(data[: len(data) * 3 // 4])
    report = survey(cut)
    assert 2.5 < report.seconds < 3.5
    assert sum(map(len, pcm(cut))) / 2 / SAMPLE_RATE == pytest.approx(report.seconds, abs=0.05)


def test_a_sample_cut_in_half_at_the_end_of_a_piece_is_left_out() -> None:
    assert [whole_samples(sound) for sound in (b"", b"a", b"ab", b"abc", b"abcd")] == [
        b"",
        b"",
        b"ab",
        b"ab",
        b"abcd",
    ]


def test_a_time_lies_at_the_first_byte_of_a_whole_sample() -> None:
    """Two bytes a sample, 16,000 samples a second."""
    assert [byte_at(seconds) for seconds in (0.0, 1.0, 1.5 / 16_000, 1 / 16_000, 0.1)] == [
        0,
        32_000,
        2,
        2,
        3_200,
    ]
