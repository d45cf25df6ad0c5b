"""Verse or prose: read off the shape of the lines alone.

A verse line ends where the poet ended it; a prose line ends where the margin was, or where the
paragraph was. Three things on the page tell them apart. *Filled lines*: in prose wrapped to a margin
the first word of the next line would not have fitted on this one; in verse it mostly would.
*Capitals*: verse that keeps the old custom begins every line with one. *Ends*: where each line is a
whole paragraph it ends like a sentence, and the lengths are all over the place.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

_STOP = re.compile(r"[.?!…][\"'”’)\]]*$")
_INNER_STOP = re.compile(r"[.?!…][\"'”’)\]]*\s+[\"'“‘(]*[A-Z]")
_DIVIDED = re.compile(r"[^\W\d_][-\u00ad]$")
_VOWELS = re.compile(r"[aeiouyàâäéèêëïîôöùûü]+")
_FIRST_LETTER = re.compile(r"[^\W\d_]")


def mean(values: Sequence[float]) -> float:
    """The arithmetic mean (the library's own takes longer to import than to use)."""
    return sum(values) / len(values)


def _spread(values: Sequence[int]) -> float:
    middle = mean(values)
    return math.sqrt(mean([(v - middle) ** 2 for v in values])) / middle


# A margin narrower than this many characters is not believed to be one.
_NARROWEST = 28
# A fourteener, the longest common English line, runs to about this many characters.
_LONGEST_LINE = 75
# Longer lines than this, in characters, are hardly ever verse unless they begin with capitals.
_LONG = 88


@dataclass(frozen=True, slots=True)
class Shape:
    """What a block of lines looks like. All shares run from 0 to 1; lengths are characters.

    filled: of the line ends, how many had no room for the next word. capital: of the lines after the
    first, how many begin with a capital, None where the text has no small letters or no capitals.
    stopped: lines that end a sentence. several: lines that hold the end of a sentence inside.
    spread: standard deviation of the lengths over their mean. divided: a word is parted at a line's end.
    """

    count: int
    middle: float
    longest: int
    filled: float
    capital: float | None
    stopped: float
    several: float
    spread: float
    divided: bool


_Pairs = Sequence[tuple[str, str]]


def shape(lines: Sequence[str], margin: int | None = None, pairs: _Pairs | None = None) -> Shape:
    """The shape of one block.

    margin: the right margin of the whole page, where it is known. pairs: the lines that follow one
    another, where `lines` are of several blocks.
    """
    pairs = list(pairwise(lines)) if pairs is None else pairs
    sizes = [len(line) for line in lines]
    width = max(sizes) if margin is None else max(margin, max(sizes))
    ends = [len(line) + 1 + len(after.split(maxsplit=1)[0]) > width for line, after in pairs]
    joined = "".join(lines)
    cased = any(c.islower() for c in joined) and any(c.isupper() for c in joined)
    firsts = [m.group() for _, after in pairs if (m := _FIRST_LETTER.search(after))]
    return Shape(
        count=len(lines),
        middle=sorted(sizes)[len(sizes) // 2],
        longest=max(sizes),
        filled=mean(ends) if ends else 0.0,
        capital=mean([c.isupper() for c in firsts]) if cased and firsts else None,
        stopped=mean([bool(_STOP.search(line)) for line in lines]),
        several=mean([bool(_INNER_STOP.search(line)) for line in lines]),
        spread=_spread(sizes),
        divided=any(_DIVIDED.search(line) and after[:1].islower() for line, after in pairs),
    )


def is_verse(lines: Sequence[str], margin: int | None = None, pairs: _Pairs | None = None) -> bool:
    """Whether a block of lines (one speech, one stanza, or a whole text) is set out as verse."""
    if len(lines) == 1:
        return _single(lines[0])
    s = shape(lines, margin, pairs)
    if is_wrapped(s):
        return False
    if s.capital is not None and s.capital >= 0.85:
        if s.count == 2 and s.stopped == 1.0 and s.longest > _LONGEST_LINE:
            return False  # two short paragraphs, one under the other
        if s.stopped >= 0.6 and s.several > 0.3 and s.count >= 3:
            return False
        if s.stopped >= 0.9 and s.count >= 3:
            sentences = s.count >= 4 and s.stopped == 1.0 and s.spread > 0.25
            return not (s.middle > _LONG or sentences)
        return not (s.middle > 130 or (s.longest > 110 and s.stopped >= 0.6))
    if s.middle > _LONG or (s.several >= 0.3 and s.longest > 60):
        return False
    return not (s.longest > 100 and (s.capital is None or s.capital < 0.6 or s.stopped > 0.6))


def is_wrapped(s: Shape) -> bool:
    """Whether a block is prose wrapped to a right margin."""
    if s.longest < _NARROWEST:
        return False
    loose = s.capital is not None and s.capital <= 0.3 and s.count >= 4
    if loose and ((s.divided and s.filled >= 0.5) or (s.filled >= 0.65 and s.longest >= 55)):
        return True
    if s.filled < 0.8:
        return False
    if s.capital is not None and s.capital >= 0.8:
        return False
    if s.count == 2:  # one line end proves little: only a line as long as print sets it
        return s.longest >= 55 and s.capital == 0.0
    return s.count >= 6 or s.longest >= 36


def _single(line: str) -> bool:
    """One line by itself: a verse line if it is about as long as one and is one sentence at most."""
    if len(line) > 85 or len(_INNER_STOP.findall(line)) > 1:
        return False
    if line[:1].islower() and line.endswith("."):
        return False  # the tail of a sentence
    syllables = len(_VOWELS.findall(line.lower()))
    return 6 <= syllables <= 18 or (4 <= syllables < 6 and not _STOP.search(line))


def verse_lines(blocks: Sequence[Sequence[str]], speeches: bool = False) -> list[bool]:
    """For each block of lines, whether it is verse; blocks too small to tell go with the whole.

    speeches: the blocks are the speeches of a play, where short prose speeches look like verse lines.
    """
    every = [line for block in blocks for line in block]
    if not every:
        return []
    margin = max(len(line) for line in every)
    whole = _whole(blocks, every)
    if speeches:
        heads = _heads([pair for block in blocks for pair in pairwise(block)])
        if heads is not None and 0.1 <= heads <= 0.95 and any(c.islower() for line in every for c in line):
            return _mixed_play(blocks, heads >= 0.5)
        whole = _play(blocks, every, whole)
    found: list[bool] = []
    for block in blocks:
        s = shape(block, None if margin > 110 else margin)
        if len(block) >= 4:
            verse = is_verse(block, None if margin > 110 else margin)
            if verse != whole and not _sure(s, verse):
                verse = whole
        else:
            verse = whole and not (len(block) == 1 and s.longest > 110) and not is_wrapped(s)
        found.append(verse)
    return found


def _sure(s: Shape, verse: bool) -> bool:
    """Whether a block may differ from the text round it."""
    if verse:
        capitals = s.capital is not None and s.capital >= 0.9
        return s.longest <= 75 and s.stopped < 0.8 and (capitals or s.filled <= 0.4)
    return is_wrapped(s) or s.middle > _LONG


def _whole(blocks: Sequence[Sequence[str]], every: Sequence[str]) -> bool:
    """Verse or prose for the text as a whole: the blocks that are long enough vote by their lines."""
    voting = [block for block in blocks if len(block) >= 3]
    if sum(map(len, voting)) >= 0.5 * len(every) and len(voting) > 1:
        votes = sum(len(block) * (1 if is_verse(block) else -1) for block in voting)
        if votes or any(is_wrapped(shape(block)) for block in voting):
            return votes > 0
    inner = [pair for block in blocks for pair in pairwise(block)]
    return is_verse(every, pairs=inner if len(inner) >= 2 else None) and not _paragraph_each(blocks, every)


def _heads(pairs: _Pairs) -> float | None:
    """The share with a capital at the head of the lines that go on with a sentence; None if none do."""
    firsts = [
        m.group() for line, after in pairs if not _STOP.search(line) and (m := _FIRST_LETTER.search(after))
    ]
    return mean([c.isupper() for c in firsts]) if firsts else None


def _mixed_play(blocks: Sequence[Sequence[str]], verse: bool) -> list[bool]:
    """A play in verse and prose: each speech by the heads of its lines, short ones as the speech before."""
    found: list[bool] = []
    for block in blocks:
        heads = _heads(list(pairwise(block)))
        if heads is not None:
            verse = heads >= 0.8 and max(len(line) for line in block) <= 75
        found.append(verse)
    return found


def _play(blocks: Sequence[Sequence[str]], every: Sequence[str], whole: bool) -> bool:
    """Verse or prose for the speeches of a play: its verse keeps the capital at every line's head."""
    heads = _heads([pair for block in blocks for pair in pairwise(block)])
    s = shape(every)
    if heads is not None and any(c.islower() for line in every for c in line):
        return heads >= 0.6 and (whole or s.middle <= 60)
    return whole and s.stopped < 0.8 and (s.spread < 0.35 or heads is not None)


def _paragraph_each(blocks: Sequence[Sequence[str]], every: Sequence[str]) -> bool:
    """Whether the text is short prose paragraphs, dialogue for the most part, blank lines between."""
    if 2 <= len(blocks) == len(every) and all(_STOP.search(line) for line in every):
        return True  # a blank line after each: verse so spaced would somewhere run over a line's end
    if len(blocks) < 4 or sum(len(b) <= 2 for b in blocks) < 0.6 * len(blocks):
        return False
    s = shape(every)
    if sum(len(b) == 1 for b in blocks) >= 0.7 * len(blocks) and s.spread > 0.45 and s.longest > 60:
        return True
    ends = mean([bool(_STOP.search(block[-1])) for block in blocks])
    return ends >= 0.85 and s.several > 0.2 and s.spread > 0.3


def line_is_paragraph(lines: Sequence[str], wrapped_page: bool = False) -> bool:
    """Whether, in a block of prose, each line is a paragraph of its own (no blank lines between).

    wrapped_page: other prose of the page is wrapped to a margin, so two full lines are one paragraph.
    """
    if len(lines) < 2:
        return False
    s = shape(lines)
    full = s.filled >= 0.8 and wrapped_page
    return not is_wrapped(s) and not full and s.stopped >= 0.75
