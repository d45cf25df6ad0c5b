"""Where a cut may begin and end: the edges of whole thoughts, and of whole lines in verse.

A cut consists of the words between two edges. An edge is before a word that begins a thought or a turn, if a
sentence ends there too, or if it at least has a stop there (a semicolon or a dash; in verse also a colon,
which old printers used as a stop). So whole sentences are left. In verse, both edges of a cut are at the
beginnings of lines. Only if no cut is possible in this way may both be at the same syllable of their lines,
so that the two half-lines make one whole line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from offbook.script import Script
from offbook.thoughts import THOUGHT_GRADE, TURN_GRADE, Shift
from offbook.verse import Versification
from offbook.words import Word

PARAGRAPH, TURN, THOUGHT = 3, 2, 1
# Of a longer script only so many are used, paragraphs and turns first; set by hand, to save time
MOST_EDGES = 120
_STOPS = re.compile(r"[;—–…]|--")


@dataclass(frozen=True, slots=True)
class Edge:
    """A place before a word.

    before: the word's index; the number of words for the end of the speech. sentence: whether a sentence
    begins there. line_start: whether a line begins there. verse: whether it is in a line of verse. syllables:
    how many its line has before it, None if the line is not scanned. level: PARAGRAPH, TURN or THOUGHT.
    """

    before: int
    sentence: bool
    line_start: bool
    verse: bool
    syllables: int | None
    level: int


def edges_of(
    script: Script, words: Sequence[Word], shifts: Sequence[Shift], versification: Versification
) -> tuple[Edge, ...]:
    """All edges of the speech in order, with its beginning and its end."""
    grade = {s.before_word: s.grade for s in shifts}
    inner = [i for i in range(1, len(words)) if grade.get(i, 0) >= THOUGHT_GRADE]
    verse = {line.n for line in script.lines if line.verse}
    clean = [i for i in inner if _clean(script, words, i, words[i - 1].line in verse)]
    chosen = clean or inner or [b.i for a, b in pairwise(words) if a.line != b.line]
    kept = _strongest(script, words, chosen, grade)
    return tuple(_edge(script, words, versification, grade, i) for i in [0, *kept, len(words)])


def _clean(script: Script, words: Sequence[Word], i: int, verse: bool) -> bool:
    if words[i - 1].sentence != words[i].sentence:
        return True
    gap = script.text[words[i - 1].end : words[i].start]
    return "," not in gap and bool(_STOPS.search(gap) or (verse and ":" in gap))


def _strongest(script: Script, words: Sequence[Word], at: list[int], grade: Mapping[int, int]) -> list[int]:
    """At most MOST_EDGES of the edges `at`, spread over the script: first paragraphs, then turns."""
    if len(at) <= MOST_EDGES:
        return at
    paragraph = {line.n: line.paragraph for line in script.lines}

    def rank(i: int) -> tuple[int, int]:
        opens = paragraph[words[i].line] != paragraph[words[i - 1].line]
        return (0 if opens else 1 if grade.get(i, 0) == TURN_GRADE else 2), i

    ranked = sorted(at, key=rank)
    top = [i for i in ranked if rank(i)[0] == 0] or ranked
    if len(top) > MOST_EDGES:  # leave some out, evenly
        step = len(top) / MOST_EDGES
        top = [top[int(k * step)] for k in range(MOST_EDGES)]
    elif len(top) < MOST_EDGES:
        rest = [i for i in ranked if i not in set(top)]
        step = max(1.0, len(rest) / (MOST_EDGES - len(top)))
        top += [rest[int(k * step)] for k in range(min(len(rest), MOST_EDGES - len(top)))]
    return sorted(top)


def _edge(
    script: Script, words: Sequence[Word], versification: Versification, grade: Mapping[int, int], i: int
) -> Edge:
    if i >= len(words):
        return Edge(i, True, True, script.lines[-1].verse, None, PARAGRAPH)
    first = i
    while first > 0 and words[first - 1].line == words[i].line:
        first -= 1
    k = next(k for k, line in enumerate(script.lines) if line.n == words[i].line)
    scansion = versification.lines[k]
    before = sum(scansion.word_syllables[: i - first]) if scansion is not None else None
    sentence = i == 0 or words[i - 1].sentence != words[i].sentence
    opens = i == 0 or script.lines[k].paragraph != _paragraph(script, words[i - 1])
    level = PARAGRAPH if opens else TURN if grade.get(i, 0) == TURN_GRADE else THOUGHT
    return Edge(i, sentence, first == i, script.lines[k].verse, before, level)


def _paragraph(script: Script, word: Word) -> int:
    return next(line.paragraph for line in script.lines if line.n == word.line)


def may_pair(a: Edge, b: Edge, halves: bool = False) -> bool:
    """Whether whole lines of verse are left after cutting from `a` up to `b`.

    halves: whether two half-lines may meet if together they are as long as the line that was cut.
    """
    if not (a.verse or b.verse) or (a.line_start and b.line_start):
        return True
    if not halves or a.line_start or b.line_start:
        return False
    return a.syllables is not None and a.syllables == b.syllables
