"""Sound: from any recording to the stream of samples the recogniser hears.

A recording is measured once (`survey`: loudness, noise, channels, see `audio_sound`), then decoded
as a stream (`pcm`): the channels mixed so that a dead or inverted one costs nothing, the voice brought
to one level, 16-bit mono at 16 kHz. The same file always gives the same samples. For sound that is
still arriving, where nothing can be measured beforehand, a `Leveller` follows the voice instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from offbook.audio_decode import KINDS, RATE, Clip, Samples, blocks, probe
from offbook.audio_sound import SoundReport, quality_line, survey
from offbook.errors import RecordingError

__all__ = [
    "KINDS",
    "LONGEST_SECONDS",
    "RATE",
    "Clip",
    "SoundReport",
    "check_length",
    "pcm",
    "probe",
    "quality_line",
    "speech_share",
    "survey",
]

LONGEST_SECONDS = 90 * 60.0
SHORTEST_SECONDS = 0.5
# Nobody says a script faster than this for any length of it (words a second).
_FASTEST = 6.0


def check_length(path: Path | str, seconds: float, words: int | None = None) -> None:
    """Raise RecordingError where `seconds` of sound can't be a run-through of a script of `words` words."""
    if seconds > LONGEST_SECONDS:
        hours, minutes = divmod(round(seconds / 60), 60)
        raise RecordingError(
            f"{path} is {hours} h {minutes} min long; one run-through may take up to 1 h 30 min",
            "Cut out the part where the speech is said and name that file.",
        )
    if seconds < SHORTEST_SECONDS or (words is not None and seconds < 3 and words > _FASTEST * seconds):
        raise RecordingError(
            f"{path} is only {seconds:.1f} s long: too short for this script",
            "Let the recording run until the speech is over, then name that file.",
        )


def to_pcm(mono: Samples) -> bytes:
    """float32 full scale 1.0 -> 16-bit little-endian, peaks bent softly rather than cut."""
    size = np.abs(mono)
    # Above -1.4 dB the curve bends towards full scale, so that gain never makes flat tops.
    over = size > 0.85
    if over.any():
        mono = mono.copy()
        mono[over] = np.sign(mono[over]) * (0.85 + 0.15 * np.tanh((size[over] - 0.85) / 0.15))
    return np.rint(mono * 32767).astype("<i2").tobytes()


def pcm(
    path: Path | str, *, chunk_seconds: float = 0.25, sound: SoundReport | None = None
) -> Iterator[bytes]:
    """The recording as 16-bit little-endian mono at `RATE`, levelled, in pieces of `chunk_seconds`.

    sound: what `survey` said of this file; measured here where it is not given. The last piece may be
    shorter. Raises RecordingError where the file can't be decoded or runs on past `LONGEST_SECONDS`.
    """
    path = Path(path)
    if sound is None:
        sound = survey(path)
    size = max(1, round(chunk_seconds * RATE))
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
    factor = 10 ** (sound.gain / 20)
    weights = np.asarray(sound.mix, dtype=np.float32) * np.float32(factor)
    total = 0
    for block in blocks(path):
        total += block.shape[1]
        if total > LONGEST_SECONDS * RATE:
            check_length(path, total / RATE)
        if block.shape[0] == len(weights):
            yield (weights @ block).astype(np.float32, copy=False)
        else:  # the stream changed its channels midway
            yield (block.mean(axis=0) * factor).astype(np.float32)


def speech_share(spans: Iterable[tuple[float, float, float]], seconds: float) -> float:
    """Share of `seconds` in which words were heard, each (start, end, confidence) weighted by confidence.

    Readings lie above 0.4, music and noise below 0.1: the recogniser finds few words there and
    believes none of them.
    """
    return (
        sum((end - start) * confidence for start, end, confidence in spans) / seconds if seconds > 0 else 0.0
    )
