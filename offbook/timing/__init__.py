"""Running time: how many seconds a speech lasts, as a range, at a chosen rate or at the reader's own pace."""

from __future__ import annotations

from offbook.timing.durations import (
    seconds_of,
    token_syllables,
)
from offbook.timing.estimate import (
    Plain,
    RunningTime,
    TimedStretch,
    plain_of,
    reading_of,
    running_time,
    tempo_of,
)
from offbook.timing.pace import (
    PRESETS,
    EarlierReading,
    Pace,
    Tempo,
    at_rate,
    calibrate,
)
from offbook.timing.spreads import Spreads

__all__ = [
    "PRESETS",
    "EarlierReading",
    "Pace",
    "Plain",
    "RunningTime",
    "Spreads",
    "Tempo",
    "TimedStretch",
    "at_rate",
    "calibrate",
    "plain_of",
    "reading_of",
    "running_time",
    "seconds_of",
    "tempo_of",
    "token_syllables",
]
