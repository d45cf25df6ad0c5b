"""Sound: from any recording to the stream of samples the recogniser hears.

A recording is measured once (`survey`: loudness, noise, channels, see `audio.quality`), then decoded
as a stream (`pcm`): the channels mixed so that a dead or inverted one costs nothing, the voice brought
to one level, 16-bit mono at 16 kHz. The same file always gives the same samples, and neither pass keeps
more than a second or two of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from offbook.audio.decode import (
    KINDS,
    LONGEST_SECONDS,
    Clip,
    Samples,
    check_length,
    decoded_blocks,
    probe,
)
from offbook.audio.denoise import Cleaner
from offbook.audio.loudness import Loudness, loudness_of
from offbook.audio.quality import TARGET_LUFS, SoundReport, quality_line, survey
from offbook.sampling import SAMPLE_RATE

__all__ = [
    "KINDS",
    "LONGEST_SECONDS",
    "TARGET_LUFS",
    "Clip",
    "Loudness",
    "SoundReport",
    "check_length",
    "loudness_of",
    "pcm",
    "probe",
    "quality_line",
    "survey",
]
_BEND = (
    0.85  # of full scale, -1.4 dB: above it the curve bends, so that gain never makes flat tops; set by hand
)
_FULL_SCALE = 32_767  # of a sample in 16 bits


def to_pcm(mono: Samples) -> bytes:
    """float32 full scale 1.0 -> 16-bit little-endian, peaks bent softly rather than cut."""
    size = np.abs(mono)
    over = size > _BEND
    if over.any():
        mono = mono.copy()
        room = 1 - _BEND
        mono[over] = np.sign(mono[over]) * (_BEND + room * np.tanh((size[over] - _BEND) / room))
    return np.rint(mono * _FULL_SCALE).astype("<i2").tobytes()


def pcm(
    path: Path | str, *, chunk_seconds: float = 0.25, sound: SoundReport | None = None
) -> Iterator[bytes]:
    """The recording as 16-bit little-endian mono at `SAMPLE_RATE`, levelled, in pieces of `chunk_seconds`.

    sound: what `survey` said of this file; measured here where it is not given. The last piece may be
    shorter. Raises RecordingError where the file can't be decoded or runs on past `LONGEST_SECONDS`.
    """
    path = Path(path)
    if sound is None:
        sound = survey(path)
    size = max(1, round(chunk_seconds * SAMPLE_RATE))
    kept: list[bytes] = []
    held = 0
    for data in map(to_pcm, _mono(path, sound)):
        kept.append(data)
        held += len(data)
        if held >= 2 * size:
            whole = b"".join(kept)
            ends = range(2 * size, held + 1, 2 * size)
            for end in ends:
                yield whole[end - 2 * size : end]
            kept = [whole[len(ends) * 2 * size :]]
            held = len(kept[0])
    if held:
        yield b"".join(kept)


def _mono(path: Path, sound: SoundReport) -> Iterator[Samples]:
    factor = np.float32(10 ** (sound.gain / 20))
    if sound.background is None:
        for mono in _mixed(path, sound):
            yield mono * factor
        return
    cleaner = Cleaner(sound.background)
    for mono in _mixed(path, sound):
        yield cleaner.feed(mono) * factor
    yield cleaner.flush() * factor


def _mixed(path: Path, sound: SoundReport) -> Iterator[Samples]:
    weights = np.asarray(sound.mix, dtype=np.float32)
    for block in decoded_blocks(path):
        if block.shape[0] == len(weights):
            yield (weights @ block).astype(np.float32, copy=False)
        else:  # the stream changed its channels midway
            yield block.mean(axis=0).astype(np.float32)
