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


# All the numbers below were set by hand: on the texts of the tests, and on plays, poems and speeches as
# people copy them (bench/copied.py). Lengths are in characters, shares run from 0 to 1; the rest are
# counts of lines, syllables or blocks.

# A margin narrower than this is not believed to be one.
_NARROWEST = 28
# A fourteener, the longest common English line, runs to about this many characters.
_LONGEST_LINE = 75
# Longer lines than this are hardly ever verse unless they begin with capitals.
_LONG = 88
# With capitals at the heads, a line may be longer: free verse in the manner of a psalm.
_LONG_WITH_CAPITALS = 130
# A single line longer than this is a paragraph, and a page as wide as this has no margin to speak of.
_PARAGRAPH = 110
# One line longer than this among lines without capitals makes prose of them.
_LONGEST_WITHOUT_CAPITALS = 100
# Half a line of print: a paragraph of dialogue is longer than this somewhere.
_DIALOGUE = 60
# The narrowest column that a book or a mail is set in, and the narrowest of a newspaper.
_COLUMN, _NARROW_COLUMN = 55, 36

# From this share of capitals on, every line is taken to begin with one; up to _FEW_CAPITALS, none is.
_MOST_CAPITALS, _CAPITALS_OF_VERSE, _NEARLY_ALL_CAPITALS = 0.85, 0.8, 0.9
_SOME_CAPITALS, _FEW_CAPITALS = 0.6, 0.3
# Lines that end a sentence: more than half, most, nearly all.
_OFTEN_STOPPED, _PARAGRAPHS_STOPPED, _MOSTLY_STOPPED, _NEARLY_ALL_STOPPED = 0.6, 0.75, 0.8, 0.9
# Blocks that end a sentence, where each is a paragraph of dialogue.
_BLOCKS_STOPPED = 0.85
# Lines with the end of a sentence inside: verse has few of them, paragraphs many.
_MANY_INSIDE, _SOME_INSIDE = 0.3, 0.2
# Standard deviation of the lengths over their mean: sentences and paragraphs differ more than verse lines.
_UNEVEN_SENTENCES, _UNEVEN_DIALOGUE, _UNEVEN_VERSE, _UNEVEN_PARAGRAPHS = 0.25, 0.3, 0.35, 0.45
# Line ends without room for the next word: prose at a margin has hardly any others. Where lines begin with
# small letters, fewer are enough, and where a word is divided at a line's end, fewer still. The last: verse
# has no more of them than this.
_FILLED, _FILLED_SMALL, _FILLED_DIVIDED, _FILLED_VERSE = 0.8, 0.65, 0.5, 0.4

# Lines from which on a share says something: of sentences, of a stanza, of a column.
_FEW_LINES, _SOME_LINES, _MANY_LINES = 3, 4, 6
_COUPLE = 2  # two lines, whose one line end proves little
# A single line of verse: up to so many characters (a fourteener and a little more) and from a short line of
# two feet to an alexandrine with slack; a line shorter than six syllables must not end a sentence.
_LONGEST_SINGLE = 85
_LEAST_SYLLABLES, _SHORT_SYLLABLES, _MOST_SYLLABLES = 4, 6, 18

# The share of the lines, at the least, in blocks that are long enough to vote.
_VOTING_SHARE = 0.5
# A play with such a share of capitals, where a line continues a sentence, has both verse and prose.
_LEAST_MIXED, _MOST_MIXED = 0.1, 0.95
_MIXED_BEGINS_IN_VERSE = 0.5  # share of such capitals
# Blocks, at the least and by their share, of one line or two, where a text is short paragraphs.
_PARAGRAPHS, _SHORT_BLOCKS, _SINGLE_BLOCKS = 4, 0.6, 0.7


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
    if s.capital is not None and s.capital >= _MOST_CAPITALS:
        return not _capital_prose(s)
    return not _small_letter_prose(s)


def _capital_prose(s: Shape) -> bool:
    """Whether lines that begin with capitals are prose: paragraphs, or a list of sentences."""
    every_line_stops = s.stopped == 1.0
    if s.count == _COUPLE and every_line_stops and s.longest > _LONGEST_LINE:
        return True  # two short paragraphs, one under the other
    if s.stopped >= _OFTEN_STOPPED and s.several > _MANY_INSIDE and s.count >= _FEW_LINES:
        return True
    if s.stopped >= _NEARLY_ALL_STOPPED and s.count >= _FEW_LINES:
        sentences = s.count >= _SOME_LINES and every_line_stops and s.spread > _UNEVEN_SENTENCES
        return s.middle > _LONG or sentences
    return s.middle > _LONG_WITH_CAPITALS or (s.longest > _PARAGRAPH and s.stopped >= _OFTEN_STOPPED)


def _small_letter_prose(s: Shape) -> bool:
    """Whether lines of which some begin with small letters are prose, though not wrapped to a margin."""
    if s.middle > _LONG or (s.several >= _MANY_INSIDE and s.longest > _DIALOGUE):
        return True
    no_capitals = s.capital is None or s.capital < _SOME_CAPITALS
    return s.longest > _LONGEST_WITHOUT_CAPITALS and (no_capitals or s.stopped > _OFTEN_STOPPED)


def is_wrapped(s: Shape) -> bool:
    """Whether a block is prose wrapped to a right margin."""
    if s.longest < _NARROWEST:
        return False
    if _wrapped_with_small_letters(s):
        return True
    if s.filled < _FILLED:
        return False
    if s.capital is not None and s.capital >= _CAPITALS_OF_VERSE:
        return False
    if s.count == _COUPLE:  # one line end proves little: only a line as long as print sets it
        return s.longest >= _COLUMN and s.capital == 0.0
    return s.count >= _MANY_LINES or s.longest >= _NARROW_COLUMN


def _wrapped_with_small_letters(s: Shape) -> bool:
    """Whether nearly all lines begin small, and enough of them are filled or a word is divided."""
    if s.capital is None or s.capital > _FEW_CAPITALS or s.count < _SOME_LINES:
        return False
    return (s.divided and s.filled >= _FILLED_DIVIDED) or (s.filled >= _FILLED_SMALL and s.longest >= _COLUMN)


def _single(line: str) -> bool:
    """One line by itself: a verse line if it is about as long as one and is one sentence at most."""
    if len(line) > _LONGEST_SINGLE or len(_INNER_STOP.findall(line)) > 1:
        return False
    if line[:1].islower() and line.endswith("."):
        return False  # the tail of a sentence
    syllables = len(_VOWELS.findall(line.lower()))
    if _SHORT_SYLLABLES <= syllables <= _MOST_SYLLABLES:
        return True
    return _LEAST_SYLLABLES <= syllables < _SHORT_SYLLABLES and not _STOP.search(line)


def verse_lines(blocks: Sequence[Sequence[str]], speeches: bool = False) -> list[bool]:
    """For each block of lines, whether it is verse; blocks too small to tell go with the whole.

    speeches: the blocks are the speeches of a play, where short prose speeches look like verse lines.
    """
    every = [line for block in blocks for line in block]
    if not every:
        return []
    widest = max(len(line) for line in every)
    margin = None if widest > _PARAGRAPH else widest
    whole = _whole(blocks, every)
    if speeches:
        heads = _heads([pair for block in blocks for pair in pairwise(block)])
        if heads is not None and _LEAST_MIXED <= heads <= _MOST_MIXED and _has_small_letters(every):
            return _mixed_play(blocks, heads >= _MIXED_BEGINS_IN_VERSE)
        whole = _play(blocks, every, whole)
    return [_block_is_verse(block, margin, whole) for block in blocks]


def _block_is_verse(block: Sequence[str], margin: int | None, whole: bool) -> bool:
    """One block of a text that is verse or prose as a `whole`: only a block that is sure may differ."""
    s = shape(block, margin)
    if len(block) < _SOME_LINES:
        return whole and not (len(block) == 1 and s.longest > _PARAGRAPH) and not is_wrapped(s)
    verse = is_verse(block, margin)
    return verse if verse == whole or _sure(s, verse) else whole


def _has_small_letters(lines: Sequence[str]) -> bool:
    return any(c.islower() for line in lines for c in line)


def _sure(s: Shape, verse: bool) -> bool:
    """Whether a block may differ from the text around it."""
    if verse:
        capitals = s.capital is not None and s.capital >= _NEARLY_ALL_CAPITALS
        room = capitals or s.filled <= _FILLED_VERSE
        return s.longest <= _LONGEST_LINE and s.stopped < _MOSTLY_STOPPED and room
    return is_wrapped(s) or s.middle > _LONG


def _whole(blocks: Sequence[Sequence[str]], every: Sequence[str]) -> bool:
    """Verse or prose for the text as a whole: the blocks that are long enough vote by their lines."""
    voting = [block for block in blocks if len(block) >= _FEW_LINES]
    if sum(map(len, voting)) >= _VOTING_SHARE * len(every) and len(voting) > 1:
        votes = sum(len(block) * (1 if is_verse(block) else -1) for block in voting)
        if votes or any(is_wrapped(shape(block)) for block in voting):
            return votes > 0
    inner = [pair for block in blocks for pair in pairwise(block)]
    return is_verse(every, pairs=inner if len(inner) > 1 else None) and not _paragraph_each(blocks, every)


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
            verse = heads >= _CAPITALS_OF_VERSE and max(len(line) for line in block) <= _LONGEST_LINE
        found.append(verse)
    return found


def _play(blocks: Sequence[Sequence[str]], every: Sequence[str], whole: bool) -> bool:
    """Verse or prose for the speeches of a play: its verse keeps the capital at every line's head."""
    heads = _heads([pair for block in blocks for pair in pairwise(block)])
    s = shape(every)
    if heads is not None and _has_small_letters(every):
        return heads >= _SOME_CAPITALS and (whole or s.middle <= _DIALOGUE)
    return whole and s.stopped < _MOSTLY_STOPPED and (s.spread < _UNEVEN_VERSE or heads is not None)


def _paragraph_each(blocks: Sequence[Sequence[str]], every: Sequence[str]) -> bool:
    """Whether the text is short prose paragraphs, dialogue for the most part, blank lines between."""
    if 1 < len(blocks) == len(every) and all(_STOP.search(line) for line in every):
        return True  # a blank line after each: verse so spaced would somewhere run over a line's end
    short = sum(len(b) <= _COUPLE for b in blocks)
    if len(blocks) < _PARAGRAPHS or short < _SHORT_BLOCKS * len(blocks):
        return False
    s = shape(every)
    single = sum(len(b) == 1 for b in blocks) >= _SINGLE_BLOCKS * len(blocks)
    if single and s.spread > _UNEVEN_PARAGRAPHS and s.longest > _DIALOGUE:
        return True
    ends = mean([bool(_STOP.search(block[-1])) for block in blocks])
    return ends >= _BLOCKS_STOPPED and s.several > _SOME_INSIDE and s.spread > _UNEVEN_DIALOGUE


def line_is_paragraph(lines: Sequence[str], wrapped_page: bool = False) -> bool:
    """Whether, in a block of prose, each line is a paragraph of its own (no blank lines between).

    wrapped_page: other prose of the page is wrapped to a margin, so two full lines are one paragraph.
    """
    if len(lines) <= 1:
        return False
    s = shape(lines)
    full = s.filled >= _FILLED and wrapped_page
    return not is_wrapped(s) and not full and s.stopped >= _PARAGRAPHS_STOPPED
