"""The silences between words: where a reader stops, and for how long at the plain pace.

The punctuation, the end of a line of verse and the end of a paragraph show where a reader stops. Besides the
mark, two things decide the length. A comma beside a very short phrase ("Now, as I said") is hardly heard, and
the longer the phrases on both sides are, the longer is the pause (Zvonik & Cummins, Eurospeech 2003;
Krivokapić, Journal of Phonetics 35, 2007). And nobody says a long stretch without punctuation in one breath,
so it gets short pauses in proportion to its length.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from offbook.script import Script
from offbook.words import Word

# Seconds. Measured in readings aloud: comma .20-.50, ; and : .57-.84, sentence end .62-.91.
COMMA, COLON, STOP = 0.40, 0.60, 0.85
# The next numbers were set by hand, with the figures of docs/timing.md in view.
LINE_END = 0.10  # added for a comma that ends a line of verse
OPEN_LINE_END = 0.20  # at the end of a line of verse without any mark
PARAGRAPH = 0.35  # added at the end of a paragraph or stanza
SILENCE = 1.0  # for a stage direction that asks for a pause; common practice, no source
SHORT_PHRASE = 6  # syllables: a comma beside a shorter phrase is shorter in proportion
_LEAST_OF_A_COLON = 0.5  # of its usual pause: a colon beside a short phrase keeps at least so much
BREATH_GROUP = 15  # syllables that are said in one breath without a mark
BREATH = 0.25  # for each BREATH_GROUP of syllables after the first

_ASKED_FOR = re.compile(r"\b(pauses?|silence|beat)\b", re.IGNORECASE)
_STOPS, _COLONS, _COMMAS = re.compile(r"[.?!。！？]"), re.compile(r"[;:—–…]|--|\.\.\."), re.compile(r"[,()]")


@dataclass(frozen=True, slots=True)
class Stop:
    """What comes after one word.

    mark: "," ":" "." or "" for none. line_end: whether a line of verse ends. paragraph_end: whether a
    paragraph or stanza ends. asked: whether a stage direction asks for a pause.
    """

    mark: str
    line_end: bool
    paragraph_end: bool
    asked: bool

    @property
    def any(self) -> bool:
        """Whether a reader stops here at all; then the word before is said more slowly."""
        return bool(self.mark) or self.line_end or self.paragraph_end


def stops_of(script: Script, words: Sequence[Word]) -> tuple[Stop, ...]:
    """The stop after each word; the last word has a full stop and nothing after it."""
    lines = {line.n: line for line in script.lines}
    left_out = sorted((x.start, x.end) for x in script.left_out)
    found = []
    for a, b in pairwise(words):
        at = bisect_left(left_out, (a.end, 0))
        upto = bisect_left(left_out, (b.start, 0))
        out = left_out[at:upto]
        gap = _gap(script.text, a.end, b.start, out)
        asked = any(_ASKED_FOR.search(script.text[s:e]) for s, e in out)
        line_end = a.line != b.line and lines[a.line].verse
        ends = lines[a.line].paragraph != lines[b.line].paragraph
        found.append(Stop(_mark(gap, a.sentence != b.sentence), line_end, ends, asked))
    if words:
        found.append(Stop(".", False, False, False))
    return tuple(found)


def _gap(text: str, start: int, end: int, out: Sequence[tuple[int, int]]) -> str:
    """The characters between two words without the directions between them. out: the directions."""
    kept, at = "", start
    for s, e in out:
        kept += text[at:s]
        at = e
    return kept + text[at:end]


def _mark(gap: str, sentence_ends: bool) -> str:
    if sentence_ends:
        return "." if _STOPS.search(gap) else ":"
    if _COLONS.search(gap):
        return ":"
    if "?" in gap or "!" in gap:  # inside a sentence: "What! are you there?"
        return ":"
    return "," if _COMMAS.search(gap) else ""


def plain_pauses(stops: Sequence[Stop], syllables: Sequence[int]) -> tuple[float, ...]:
    """The seconds of silence after each word at the plain pace; 0 after the last.

    syllables: how many each word has, for as many words as there are stops.
    """
    edges = [i for i, s in enumerate(stops) if s.any]
    starts = [0, *(i + 1 for i in edges[:-1])]
    lengths = [sum(syllables[a : b + 1]) for a, b in zip(starts, edges, strict=True)]
    pauses = [0.0] * len(stops)
    for j, (start, edge) in enumerate(zip(starts, edges, strict=True)):
        if edge + 1 < len(stops):
            pauses[edge] = _seconds(stops[edge], min(lengths[j], lengths[j + 1]))
        breath = BREATH * max(0, lengths[j] - BREATH_GROUP) / BREATH_GROUP
        for i in range(start, edge) if breath else ():
            pauses[i] += breath / (edge - start)
    return tuple(pauses)


def _seconds(stop: Stop, shorter_side: int) -> float:
    weight = min(1.0, shorter_side / SHORT_PHRASE)
    colon = COLON * (_LEAST_OF_A_COLON + (1 - _LEAST_OF_A_COLON) * weight)
    seconds = {"": 0.0, ",": COMMA * weight, ":": colon, ".": STOP}[stop.mark]
    if stop.line_end:
        seconds += LINE_END if stop.mark == "," else 0.0 if stop.mark else OPEN_LINE_END
    if stop.paragraph_end:
        seconds = max(seconds, STOP) + PARAGRAPH
    return seconds + (SILENCE if stop.asked else 0.0)
