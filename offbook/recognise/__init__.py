"""Recognising speech: the only place that knows the recognisers, two ears of different makes."""

from __future__ import annotations

from offbook.recognise.onnx_scorer import (
    OnnxScorer,
)
from offbook.recognise.vosk_recogniser import (
    UNKNOWN,
    Alternative,
    HeardWord,
    LiveDecoder,
    LiveRecogniser,
    Recogniser,
    VoskRecogniser,
)
from offbook.recognise.wordings import (
    Passage,
    Rival,
    WordingScorer,
)

__all__ = [
    "UNKNOWN",
    "Alternative",
    "HeardWord",
    "LiveDecoder",
    "LiveRecogniser",
    "OnnxScorer",
    "Passage",
    "Recogniser",
    "Rival",
    "VoskRecogniser",
    "WordingScorer",
]
