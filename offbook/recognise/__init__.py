"""Recognising speech: the one place that knows vosk."""

from __future__ import annotations

from offbook.recognise.vosk_recogniser import (
    BYTES_PER_SECOND,
    UNKNOWN,
    Alternative,
    HeardWord,
    LiveDecoder,
    LiveRecogniser,
    Recogniser,
    VoskRecogniser,
)

__all__ = [
    "BYTES_PER_SECOND",
    "UNKNOWN",
    "Alternative",
    "HeardWord",
    "LiveDecoder",
    "LiveRecogniser",
    "Recogniser",
    "VoskRecogniser",
]
