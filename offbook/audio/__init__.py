"""Sound: any recording as a stream of samples at one rate and level, and how good that sound is."""

from __future__ import annotations

from offbook.audio.arriving import (
    Arriving,
)
from offbook.audio.decode import (
    RATE,
    check_length,
    probe,
)
from offbook.audio.loudness import (
    Loudness,
    loudness_of,
)
from offbook.audio.picture import (
    Picture,
    picture_of,
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
    "ECHO_SECONDS",
    "RATE",
    "Arriving",
    "Loudness",
    "Picture",
    "SoundReport",
    "check_length",
    "loudness_of",
    "pcm",
    "picture_of",
    "probe",
    "survey",
]
