"""Somebody speaking to the program, and an ear that knows what was said: a live run in milliseconds.

What is spoken is sound that stands for words (`tests.test_hear.Speaker`), so nothing has to be recognised.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from offbook.audio import SoundReport
from offbook.desk import Ears
from offbook.sampling import BYTES_PER_SECOND, SAMPLE_BYTES
from tests.test_hear import Speaker, Told

RATE = 16_000
PIECE = BYTES_PER_SECOND // 10  # bytes of a tenth of a second
QUIET = bytes(PIECE)
_ENDS = BYTES_PER_SECOND // 2  # bytes of silence that end an utterance
CLEAR = SoundReport(
    seconds=30.0, claimed=30.0, loudness=-20.0, peak=-3.0, clipped=0.0, noise=-60.0, snr=40.0,
    bandwidth=8000.0, decay=0.0, channels=1, mix=(1.0,), dead=(), gain=0.0, line=None, poor=False,
)  # fmt: skip


def pieces_of(sound: bytes) -> list[bytes]:
    """A sound in tenths of a second."""
    return [sound[at : at + PIECE] for at in range(0, len(sound), PIECE)]


class Speaking(Speaker):
    """A speaker whose sound swings about zero and stops between words, as a voice does: it is loud, too."""

    def say(self, text: str) -> bytes:
        """The sound of a text, each word with a tenth of a second of quiet after it; "/" is a second."""
        return b"".join(map(self._word, text.split()))

    def _word(self, word: str) -> bytes:
        samples = np.frombuffer(super().say(word), "<i2").copy()
        samples[1::2] *= -1
        samples[-PIECE // SAMPLE_BYTES :] = 0
        return samples.tobytes()

    def hear(self, pcm: bytes) -> Iterator[tuple[str, float, float]]:
        """The words in a stretch of sound, with their times."""
        return super().hear(np.abs(np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2")).tobytes())


class LiveTold(Told):
    """`Told`, which also follows what is being said."""

    def follow(self, phrases: Sequence[str]) -> _Following:
        """The words of the utterance in progress; half a second of silence ends it."""
        return _Following(self.speaker)


class _Following:
    def __init__(self, speaker: Speaker) -> None:
        self._speaker, self._sound, self._over = speaker, b"", False

    def feed(self, pcm: bytes) -> bool:
        if self._over:
            self._sound, self._over = b"", False
        self._sound += pcm
        self._over = any(self._sound) and not any(self._sound[-_ENDS:])
        return self._over

    def words(self) -> tuple[str, ...]:
        return tuple(word for word, _, _ in self._speaker.hear(self._sound))


@dataclass
class Loaded:
    """The ears of somebody who says what `speaker` knows, as `desk.Loading` gives them."""

    speaker: Speaker

    def result(self) -> Any:
        """The ears."""
        first: Any = LiveTold(self.speaker)
        return Ears(first, None)


class AsItIs:
    """Takes in live sound as `audio.Arriving` does, and leaves it as it is: it stands for words."""

    level = -20.0

    def feed(self, piece: bytes, rate: int) -> bytes:
        """The sound."""
        self.level = -20.0 if any(piece) else -90.0
        return piece

    def finish(self) -> bytes:
        """Nothing is left over."""
        return b""

    def report(self, path: Path) -> SoundReport:
        """A clear sound."""
        return CLEAR
