"""Live sound is brought to one level while it comes in."""

from __future__ import annotations

import numpy as np

from offbook.audio import Arriving

RATE = 16_000
QUARTER = RATE // 4


def noise(seconds: float, level_db: float, seed: int) -> np.ndarray:
    """White noise with this root mean square, dBFS."""
    raw = np.random.default_rng(seed).standard_normal(int(seconds * RATE))
    return np.clip(np.rint(raw * 10 ** (level_db / 20) * 32768), -32768, 32767).astype("<i2")


def test_a_quiet_room_before_the_first_word_does_not_make_the_voice_clip() -> None:
    sound = np.concatenate([noise(2.0, -55.0, 1), noise(2.0, -25.0, 2)])
    arriving, parts = Arriving(), []
    for at in range(0, len(sound), QUARTER):
        parts.append(arriving.feed(sound[at : at + QUARTER].tobytes(), RATE))
    out = np.frombuffer(b"".join([*parts, arriving.finish()]), "<i2").astype(float)
    assert np.abs(out).max() <= 32768 * 10 ** (-1.0 / 20) + 1
    voice = out[int(2.5 * RATE) :]
    level = 20 * np.log10(np.sqrt(np.mean(voice**2)) / 32768)
    assert -25.0 < level < -8.0  # lifted towards the -20 LUFS that the recogniser is given
