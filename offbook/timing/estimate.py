"""Running time: how long the speech will take, with an honest range.

The sounds of every word (`timing.durations`) and the silences between them (`timing.pauses`) are added
up at a plain pace, then stretched by a pace (`timing.pace`): a preset for the kind of speech, a rate
in words a minute, or the performer's own, from readings timed earlier. The result knows when every
word begins, so that a thought or a line can be timed alone, and how likely the speech is to end
within a limit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

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


@dataclass(frozen=True, slots=True)
class Plain:
    """A text at the plain pace. voiced, pauses: seconds of each word and of the silence after it.

    spoken: how many words are said (a number may be several), syllables: how many all together.
    """

    voiced: tuple[float, ...]
    pauses: tuple[float, ...]
    spoken: int
    syllables: int
    tempo: Tempo


@dataclass(frozen=True, slots=True)
class TimedStretch:
    """Seconds of a run of words: from the start of its first to the end of its last."""

    start: float
    end: float
    voiced: float
    pauses: float

    @property
    def seconds(self) -> float:
        """How long it takes, the pauses inside it counted."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class RunningTime:
    """The seconds of a speech; `voiced` and `pauses` add up to `seconds`.

    low, high: seven readings in eight should end between them. rate_wpm: speech rate, words a minute
    with the pauses counted. articulation: syllables a second of voiced time, pauses left out.
    starts, ends: seconds from the first word at which each word begins and ends. spread: standard
    deviation of the logarithm of the seconds.
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
        """The words `first` to `last`, inclusive."""
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
# "We" with what is done now or shall be done: a speaker who carries the hearers along. "We were" tells.
_CARRIED = re.compile(
    r"\b(we (are|have|shall|will|must|can|cannot|do|may|should|need|know|dare|stand|owe)|let us|let's|our)\b",
    re.IGNORECASE,
)
_CARRIED_ENOUGH = 0.02  # of the words


def tempo_of(script: Script, words: Sequence[Word]) -> Tempo:
    """The kind of speech, for its preset: verse, a formal address, or prose read aloud.

    Verse is a text most of whose lines, at least two, are verse lines. An address speaks to an
    audience by name, or goes on saying what we are, must and shall do.
    """
    verse = sum(line.verse for line in script.lines)
    if verse > 1 and verse * 2 > len(script.lines):
        return "verse"
    if _AUDIENCE.search(script.text):
        return "address"
    carried = len(_CARRIED.findall(script.text))
    return "address" if carried >= _LEAST_CARRIED and carried >= _CARRIED_ENOUGH * len(words) else "narration"


def plain_of(script: Script, words: Sequence[Word], tempo: Tempo | None = None) -> Plain:
    """`words` at the plain pace of the duration table."""
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
    """An earlier reading of `words` that took `seconds` (`speaking` of them voiced, where measured).

    occasion: what the readings of one sitting share, such as their day.
    """
    if not math.isfinite(seconds) or seconds <= 0:
        raise PaceError(
            f"an earlier reading cannot have taken {seconds:g} s", "give its seconds as a number above 0"
        )
    plain = plain_of(script, words)
    return EarlierReading(sum(plain.voiced), sum(plain.pauses), seconds, plain.tempo, speaking, occasion)


def running_time(plain: Plain, pace: Pace | None = None) -> RunningTime:
    """How long a text takes at `pace`, the preset of its kind where None."""
    used = pace if pace is not None else preset(plain.tempo)
    voice, pause = used.voice, used.pause
    if used.rate is not None:
        plainly = voice * sum(plain.voiced) + pause * sum(plain.pauses)
        fit = plain.spoken * 60 / used.rate / plainly if plainly > 0 else 1.0
        voice, pause = voice * fit, pause * fit
    starts, ends, at = [], [], 0.0
    for v, p in zip(plain.voiced, plain.pauses, strict=True):
        starts.append(at)
        ends.append(at + voice * v)
        at = ends[-1] + pause * p
    seconds = max(ends[-1], 0.05) if ends else 0.05
    voiced = min(voice * sum(plain.voiced), seconds)
    spread = used.spread(sum(plain.voiced), sum(plain.pauses))
    return RunningTime(
        seconds=seconds,
        low=seconds * math.exp(-_REACH * spread),
        high=seconds * math.exp(_REACH * spread),
        rate_wpm=plain.spoken * 60 / seconds,
        articulation=plain.syllables / max(voiced, 0.05),
        voiced=voiced,
        pauses=max(0.0, seconds - voiced),
        starts=tuple(starts),
        ends=tuple(ends),
        spread=spread,
        pace=used,
        tempo=plain.tempo,
    )
