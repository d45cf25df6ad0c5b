"""What a whole film is like: its joins and light, whether its sound is in step, and who can play the file."""

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
from offbook.sampling import AMPLITUDE_DB, FULL_SCALE, SAMPLE_RATE

_HOP = 0.02  # s from one level of the sound to the next; set by hand, half a picture of 25 a second
_SOFTEST = 1e-5  # the amplitude that silence counts as, so that it has a logarithm: -100 dBFS


@dataclass(frozen=True, slots=True)
class FilmFacts:
    """What was seen in a film.

    joins: the places that look as if two pieces were joined there. sound_late: by how many seconds the sound
    comes late (negative: early), None if that cannot be told. whole: False if the film is so long that its
    end was not watched.
    """

    joins: tuple[Join, ...]
    light: Light
    sound_late: float | None
    whole: bool


@dataclass(frozen=True, slots=True)
class Playing:
    """Who can play a file.

    lacks: the part of it that some browsers cannot play, None if all can play it. header_first: whether it
    can begin to play before all of it has arrived, None for files other than MP4 and MOV. edits: the times,
    s, at which its edit list goes on with another part of what was recorded.
    """

    lacks: str | None
    header_first: bool | None
    edits: tuple[float, ...] = ()


def film_facts_of(path: Path | str, sound: SoundReport | None = None) -> FilmFacts | None:
    """Watch a film; None if the recording has no moving picture. Raises RecordingError if it cannot be read.

    sound: what `survey` reported about the file; it is measured here if it is not given.
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
    """Find out who can play a file. Raises RecordingError if it cannot be read."""
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
    """The level of the sound, dBFS, one every `_HOP` seconds, shape (n,); None if the film has no sound."""
    with container_of(path, not_film(path)) as container:
        if not container.streams.audio:
            return None
    size = round(_HOP * SAMPLE_RATE)
    data = np.frombuffer(b"".join(pcm(path, sound=sound)), "<i2")
    rows = data[: len(data) // size * size].reshape(-1, size) / float(FULL_SCALE)
    return np.asarray(AMPLITUDE_DB * np.log10(np.maximum(np.sqrt((rows**2).mean(axis=1)), _SOFTEST)))
