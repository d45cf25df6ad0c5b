"""Sound: turns any recording into samples at one rate and level, and measures how good it is."""

from __future__ import annotations

from offbook.audio.arriving import (
    Arriving,
)
from offbook.audio.decode import (
    check_length,
    probe,
)
from offbook.audio.film import (
    FilmFacts,
    Playing,
    film_facts_of,
    playing_of,
)
from offbook.audio.in_step import (
    EARLIEST,
    LATEST,
)
from offbook.audio.joins import (
    Join,
)
from offbook.audio.light import (
    Light,
)
from offbook.audio.loudness import (
    Loudness,
    loudness_of,
)
from offbook.audio.picture import (
    Picture,
    moving_picture,
)
from offbook.audio.quality import (
    ECHO_SECONDS,
    SoundReport,
    survey,
)
from offbook.audio.stream import (
    pcm,
)

__all__ = [
    "EARLIEST",
    "ECHO_SECONDS",
    "LATEST",
    "Arriving",
    "FilmFacts",
    "Join",
    "Light",
    "Loudness",
    "Picture",
    "Playing",
    "SoundReport",
    "check_length",
    "film_facts_of",
    "loudness_of",
    "moving_picture",
    "pcm",
    "playing_of",
    "probe",
    "survey",
]
