"""Removing a steady background: the voice stays, the background goes, and no sample is lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from offbook.audio import pcm, survey
from offbook.audio.denoise import Background, Cleaner
from offbook.sampling import SAMPLE_RATE
from tests.sounds import voice, write


@pytest.mark.parametrize("piece", [1, 100, 4_000, 50_000])
def test_sound_without_a_background_is_not_changed(piece: int) -> None:
    wave = voice(2, SAMPLE_RATE)[0].astype(np.float32)
    cleaner = Cleaner((0.0,) * 257)
    out = [cleaner.feed(wave[at : at + piece]) for at in range(0, len(wave) if piece > 1 else 2_000, piece)]
    out.append(cleaner.flush())
    joined = np.concatenate(out)
    assert len(joined) == (len(wave) if piece > 1 else 2_000)
    assert np.abs(joined - wave[: len(joined)]).max() < 1e-5


@pytest.mark.heavy
def test_the_background_is_made_quieter_and_the_voice_is_not(tmp_path: Path) -> None:
    rng = np.random.default_rng(9)
    said = voice(10, SAMPLE_RATE, -6)
    noisy = said + 0.03 * rng.standard_normal(said.shape)
    path = write(tmp_path / "a.wav", noisy, SAMPLE_RATE)
    report = survey(path)
    assert report.background is not None
    wave = np.frombuffer(b"".join(pcm(path)), "<i2") / 32768 / 10 ** (report.gain / 20)
    assert len(wave) == said.shape[1]
    t = np.arange(len(wave)) / SAMPLE_RATE
    pauses, voiced = t % 2.0 > 1.5, t % 2.0 < 1.3
    before, after = np.std(noisy[0][pauses]), np.std(wave[pauses])
    assert after < 0.75 * before  # the cleaning is mild: its setting was measured
    assert np.std(wave[voiced]) == pytest.approx(np.std(said[0][voiced]), rel=0.1)


def test_a_clean_recording_is_not_changed(tmp_path: Path) -> None:
    assert survey(write(tmp_path / "a.wav", voice(6, SAMPLE_RATE), SAMPLE_RATE)).background is None


def test_the_background_level_is_that_of_the_quiet_frames_and_not_the_mean() -> None:
    """A fifth of the frames is quiet and the rest is 40 dB louder: the quiet ones count."""
    heard = Background()
    power = np.full((100, 257), 1e-2)
    power[:30] = 1e-6
    heard.feed(power)
    assert heard.power()[100] == pytest.approx(1.6e-6, rel=0.2)
