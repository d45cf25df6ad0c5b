"""From any recording to the samples that the recogniser gets.

A recording is measured once (`survey`: loudness, noise, channels; see `audio.quality`) and then decoded again
as a stream (`pcm`). Its channels are mixed so that a dead or an inverted one does no harm, the voice is
brought to one level, and the result is 16-bit mono at 16 kHz. The same file always gives the same samples,
and neither pass keeps more than a second or two of them in memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from offbook.audio.decode import (
    KINDS,
    Clip,
    Samples,
    check_length,
    decoded_blocks,
    probe,
)
from offbook.audio.denoise import Cleaner
from offbook.audio.loudness import Loudness, loudness_of
from offbook.audio.quality import TARGET_LUFS, SoundReport, quality_line, survey
from offbook.sampling import LARGEST_SAMPLE, LONGEST_SECONDS, SAMPLE_BYTES, SAMPLE_RATE, amplitude_ratio

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
# Of full scale, -1.4 dB. Samples above this are bent, so that a gain never makes flat tops; set by hand.
_BEND = 0.85
_CHUNK_SECONDS = 0.25  # set by hand: the recogniser's answers come four times a second


def to_pcm(mono: Samples) -> bytes:
    """Samples (float32, shape (n,), full scale 1.0) as 16-bit little-endian. Peaks are bent, not cut off."""
    size = np.abs(mono)
    over = size > _BEND
    if over.any():
        mono = mono.copy()
        room = 1 - _BEND
        mono[over] = np.sign(mono[over]) * (_BEND + room * np.tanh((size[over] - _BEND) / room))
    return np.rint(mono * LARGEST_SAMPLE).astype("<i2").tobytes()


def pcm(
    path: Path | str, *, chunk_seconds: float = _CHUNK_SECONDS, sound: SoundReport | None = None
) -> Iterator[bytes]:
    """The recording, levelled, as 16-bit little-endian mono at `SAMPLE_RATE`.

    It comes in pieces of `chunk_seconds`; the last one may be shorter. sound: what `survey` reported about
    this file; it is measured here if it is not given. Raises RecordingError if the file cannot be decoded or
    is longer than `LONGEST_SECONDS`.
    """
    path = Path(path)
    if sound is None:
        sound = survey(path)
    size = SAMPLE_BYTES * max(1, round(chunk_seconds * SAMPLE_RATE))
    kept: list[bytes] = []
    held = 0
    for data in map(to_pcm, _levelled_mono(path, sound)):
        kept.append(data)
        held += len(data)
        if held >= size:
            whole = b"".join(kept)
            ends = range(size, held + 1, size)
            for end in ends:
                yield whole[end - size : end]
            kept = [whole[len(ends) * size :]]
            held = len(kept[0])
    if held:
        yield b"".join(kept)


def _levelled_mono(path: Path, sound: SoundReport) -> Iterator[Samples]:
    """The recording in one channel at the recogniser's level, without its background if `sound` has one."""
    factor = np.float32(amplitude_ratio(sound.gain))
    if sound.background is None:
        for mono in _mixed(path, sound):
            yield mono * factor
        return
    cleaner = Cleaner(sound.background)
    for mono in _mixed(path, sound):
        yield cleaner.feed(mono) * factor
    yield cleaner.flush() * factor


def _mixed(path: Path, sound: SoundReport) -> Iterator[Samples]:
    """The recording in one channel, mixed with the weights of `sound`."""
    weights = np.asarray(sound.mix, dtype=np.float32)
    for block in decoded_blocks(path):
        if block.shape[0] == len(weights):
            yield (weights @ block).astype(np.float32, copy=False)
        else:  # the number of channels changed midway
            yield block.mean(axis=0).astype(np.float32)
