"""Running time: how long the speech will take, as a range.

The durations of every word (`timing.durations`) and of the silences between words (`timing.pauses`) are added
up at the plain pace, then multiplied by the factors of a pace (`timing.pace`): a preset for the kind of
speech, a rate in words a minute, or the performer's own pace from earlier timed readings. The result has the
time at which every word begins, so that a thought or a line can be timed alone, and the chance of ending
within a limit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from offbook.phrasing import MINUTE
from offbook.script import Script
from offbook.timing.durations import seconds_of, token_syllables
from offbook.timing.pace import PRESETS, EarlierReading, Pace, PaceError, Tempo, at_rate, calibrate, preset
from offbook.timing.pauses import plain_pauses, stops_of
from offbook.words import Word

__all__ = [
    "PRESETS",
    "EarlierReading",
    "Pace",
    "PaceError",
    "Plain",
    "RunningTime",
    "Tempo",
    "TimedStretch",
    "at_rate",
    "calibrate",
    "plain_of",
    "preset",
    "reading_of",
    "running_time",
]

INSIDE = 0.85  # the share of readings that should end between low and high
_NORMAL = NormalDist()
_REACH = _NORMAL.inv_cdf((1 + INSIDE) / 2)
_LEAST_CARRIED = 4  # times that an address says "we are", "we must" and the like; set by hand
_LEAST_SECONDS = 0.05  # of a speech, so that nothing is divided by zero


@dataclass(frozen=True, slots=True)
class Plain:
    """A text at the plain pace.

    voiced, pauses: the seconds of each word, and of the silence after it. spoken: how many words are said (a
    number may be several). syllables: how many there are in all. tempo: the kind of speech.
    """

    voiced: tuple[float, ...]
    pauses: tuple[float, ...]
    spoken: int
    syllables: int
    tempo: Tempo


@dataclass(frozen=True, slots=True)
class TimedStretch:
    """The times of some words in a row, in seconds: the start of the first, and the end of the last.

    voiced, pauses: how long they are spoken, and how long the pauses between them are.
    """

    start: float
    end: float
    voiced: float
    pauses: float

    @property
    def seconds(self) -> float:
        """How long it takes, with the pauses inside it."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class RunningTime:
    """The seconds of a speech; `voiced` and `pauses` add up to `seconds`.

    low, high: about 85 in 100 readings should end between them (`INSIDE`). rate_wpm: the speech rate in words
    a minute, with the pauses. articulation: syllables a second, without the pauses. starts, ends: when each
    word begins and ends, in seconds from the first word. spread: the standard deviation of the logarithm of
    the seconds.
    """

    seconds: float
    low: float
    high: float
    rate_wpm: float
    articulation: float
    voiced: float
    pauses: float
    starts: tuple[float, ...]
    ends: tuple[float, ...]
    spread: float
    pace: Pace
    tempo: Tempo

    def stretch(self, first: int, last: int) -> TimedStretch:
        """The times of the words `first` to `last`, both included."""
        start, end = self.starts[first], self.ends[last]
        voiced = sum(self.ends[i] - self.starts[i] for i in range(first, last + 1))
        return TimedStretch(start, end, voiced, max(0.0, end - start - voiced))

    def chance(self, limit: float) -> float:
        """The probability of ending within `limit` seconds, 0 to 1."""
        return _NORMAL.cdf(math.log(limit / self.seconds) / self.spread) if limit > 0 else 0.0


_AUDIENCE = re.compile(
    r"\b(ladies and gentlemen|my fellow [a-z]+|fellow [a-z]+s|distinguished guests|honou?red guests|"
    r"dear (friends|guests|colleagues|families)|(mister|mr\.?|madam) (president|speaker|chair\w*)|"
    r"your (majest|excellenc|honou?r)\w*|class of \w+|graduates)\b",
    re.IGNORECASE,
)
# "We" with the present or the future: the speaker includes the audience. "We were" tells a story.
_CARRIED = re.compile(
    r"\b(we (are|have|shall|will|must|can|cannot|do|may|should|need|know|dare|stand|owe)|let us|let's|our)\b",
    re.IGNORECASE,
)
_CARRIED_ENOUGH = 0.02  # of the words: the smallest share of these in an address; set by hand


def tempo_of(script: Script, words: Sequence[Word]) -> Tempo:
    """The kind of speech, which decides the preset: verse, a formal address, or prose read aloud.

    In verse most lines, and at least two, are lines of verse. A formal address names its audience, or often
    says what we are, must and shall do.
    """
    verse = sum(line.verse for line in script.lines)
    if verse > 1 and verse * 2 > len(script.lines):
        return "verse"
    if _AUDIENCE.search(script.text):
        return "address"
    carried = len(_CARRIED.findall(script.text))
    return "address" if carried >= _LEAST_CARRIED and carried >= _CARRIED_ENOUGH * len(words) else "narration"


def plain_of(script: Script, words: Sequence[Word], tempo: Tempo | None = None) -> Plain:
    """`words` at the plain pace. tempo: the kind of speech, None to work it out."""
    stops = stops_of(script, words)
    said = [w.spoken[0] if w.spoken else () for w in words]
    syllables = [sum(map(token_syllables, tokens)) for tokens in said]
    voiced = tuple(
        sum(seconds_of(t, stop.any and j == len(tokens) - 1) for j, t in enumerate(tokens))
        for tokens, stop in zip(said, stops, strict=True)
    )
    kind = tempo if tempo is not None else tempo_of(script, words)
    return Plain(voiced, plain_pauses(stops, syllables), sum(map(len, said)), sum(syllables), kind)


def reading_of(
    script: Script,
    words: Sequence[Word],
    seconds: float,
    speaking: float | None = None,
    occasion: str | None = None,
) -> EarlierReading:
    """An earlier reading of `words` that took `seconds`.

    speaking: how many of them were voiced, if measured. occasion: the same for all readings of one sitting,
    such as its day. Raises PaceError if the seconds are not a number above 0.
    """
    if not math.isfinite(seconds) or seconds <= 0:
        raise PaceError(
            f"an earlier reading cannot have taken {seconds:g} s", "give its seconds as a number above 0"
        )
    plain = plain_of(script, words)
    return EarlierReading(sum(plain.voiced), sum(plain.pauses), seconds, plain.tempo, speaking, occasion)


def running_time(plain: Plain, pace: Pace | None = None) -> RunningTime:
    """How long a text takes at `pace`; None for the preset of its kind."""
    used = pace if pace is not None else preset(plain.tempo)
    voice, pause = used.voice, used.pause
    if used.rate is not None:
        plainly = voice * sum(plain.voiced) + pause * sum(plain.pauses)
        fit = plain.spoken * MINUTE / used.rate / plainly if plainly > 0 else 1.0
        voice, pause = voice * fit, pause * fit
    starts, ends, at = [], [], 0.0
    for v, p in zip(plain.voiced, plain.pauses, strict=True):
        starts.append(at)
        ends.append(at + voice * v)
        at = ends[-1] + pause * p
    seconds = max(ends[-1], _LEAST_SECONDS) if ends else _LEAST_SECONDS
    voiced = min(voice * sum(plain.voiced), seconds)
    spread = used.spread(sum(plain.voiced), sum(plain.pauses))
    return RunningTime(
        seconds=seconds,
        low=seconds * math.exp(-_REACH * spread),
        high=seconds * math.exp(_REACH * spread),
        rate_wpm=plain.spoken * MINUTE / seconds,
        articulation=plain.syllables / max(voiced, _LEAST_SECONDS),
        voiced=voiced,
        pauses=max(0.0, seconds - voiced),
        starts=tuple(starts),
        ends=tuple(ends),
        spread=spread,
        pace=used,
        tempo=plain.tempo,
    )
