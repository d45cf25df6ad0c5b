"""Running time: how long the speech will take, with an honest range."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from offbook.script import Script
from offbook.words import Word

RATE = 140.0


@dataclass(frozen=True, slots=True)
class RunningTime:
    """Seconds for the whole speech; voiced and pauses add up to `seconds`."""

    seconds: float
    low: float
    high: float
    rate_wpm: float
    voiced: float
    pauses: float


def syllables_of(word: str) -> int:
    """Syllables of one lower-case word."""
    from offbook.lexicon import phones_of

    found = phones_of(word)
    if found:
        return sum(p[-1].isdigit() for p in found[0])
    return max(1, len(re.findall(r"[aeiouy]+", word)))


def running_time(script: Script, words: Sequence[Word], rate: float | None = None) -> RunningTime:
    """The running time of `words` at `rate` words a minute."""
    wpm = rate if rate is not None else (110.0 if script.form == "verse" else RATE)
    k = 141 / wpm
    voiced = sum(syllables_of(t) for w in words for t in w.spoken[0]) / 4.4 * k
    pauses = 0.0
    for a, b in pairwise(words):
        gap = script.text[a.end : b.start]
        if re.search(r"[.?!]", gap):
            pauses += 0.8
        elif re.search(r"[;:—–]", gap):
            pauses += 0.45
        elif "," in gap:
            pauses += 0.3
        if "\n\n" in gap:
            pauses += 0.4
    pauses *= k
    total = max(voiced + pauses, 0.2)
    return RunningTime(total, total * 0.8, total * 1.25, wpm, voiced, pauses)
