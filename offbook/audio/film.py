"""What a film is like from its first picture to its last: joins, light, step, layout, and who can play it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from offbook.audio.boxes import browser_lacks, layout_of
from offbook.audio.decode import container_of
from offbook.audio.in_step import sound_jump, sound_late
from offbook.audio.joins import Join, joins_in
from offbook.audio.light import Light, light_of
from offbook.audio.picture import film_in, not_film
from offbook.audio.quality import SoundReport
from offbook.audio.stream import pcm
from offbook.audio.watching import watch_film
from offbook.sampling import SAMPLE_RATE

_HOP = 0.02  # s between two levels of the sound
_FULL = 32768.0
_LEAST = 1e-5


@dataclass(frozen=True, slots=True)
class FilmFacts:
    """A film watched whole. whole: False where it is longer than is watched. sound_late: s, early is
    negative, None where that cannot be told."""

    joins: tuple[Join, ...]
    light: Light
    sound_late: float | None
    whole: bool


@dataclass(frozen=True, slots=True)
class Playing:
    """Who can play a file. lacks: what of it some browsers cannot play, None where all can. header_first:
    None where that is no question of this kind of file. edits: s at which its own edit list jumps."""

    lacks: str | None
    header_first: bool | None
    edits: tuple[float, ...] = ()


def film_facts_of(path: Path | str, sound: SoundReport | None = None) -> FilmFacts | None:
    """Watch a film; None where the recording has none. Raises RecordingError where it cannot be read.

    sound: what `survey` said of the file, where that is known.
    """
    film = watch_film(path)
    if film is None:
        return None
    layout = layout_of(path)
    edits = () if layout is None else layout.edits
    levels = _levels(Path(path), sound)
    late = jump = None
    if levels is not None:
        late, jump = sound_late(film, levels, _HOP), sound_jump(film, levels, _HOP)
    return FilmFacts(joins_in(film, edits, jump), light_of(film), late, film.whole)


def playing_of(path: Path | str) -> Playing:
    """Who can play a file. Raises RecordingError where it cannot be read."""
    path = Path(path)
    layout = layout_of(path)
    with container_of(path, not_film(path)) as container:
        film = film_in(path, container)
        sounds = container.streams.audio
        codec = sounds[0].codec_context.name if sounds and sounds[0].codec_context is not None else None
        lacks = browser_lacks(
            container.format.name,
            None if film is None else film.codec_context.name,
            None if film is None else film.codec_context.pix_fmt,
            codec,
        )
    if layout is None:
        return Playing(lacks, None)
    return Playing(lacks, layout.header_first, layout.edits)


def _levels(path: Path, sound: SoundReport | None) -> NDArray[np.float64] | None:
    """The level of the sound, dB, one each `_HOP` seconds; None where the film is silent."""
    with container_of(path, not_film(path)) as container:
        if not container.streams.audio:
            return None
    size = round(_HOP * SAMPLE_RATE)
    data = np.frombuffer(b"".join(pcm(path, sound=sound)), "<i2")
    rows = data[: len(data) // size * size].reshape(-1, size) / _FULL
    return np.asarray(20 * np.log10(np.maximum(np.sqrt((rows**2).mean(axis=1)), _LEAST)))
