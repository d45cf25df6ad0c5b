"""Verse or prose: decided by the shape of the lines alone.

A line of verse ends where the poet ended it; a line of prose ends at the margin or at the end of the
paragraph. Three things on the page tell them apart. *Filled lines*: in prose that is wrapped to a margin, the
first word of the next line would not have fitted on this one; in verse it usually would. *Capitals*:
traditional verse begins every line with a capital. *Ends*: if each line is a whole paragraph, it ends like a
sentence, and the lengths of the lines vary widely.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

# A stop, and the closing marks after it, at the end of a line
ENDS_SENTENCE = re.compile(r"[.?!…][\"'”’)\]]*$")
_INNER_STOP = re.compile(r"[.?!…][\"'”’)\]]*\s+[\"'“‘(]*[A-Z]")
_DIVIDED = re.compile(r"[^\W\d_][-\u00ad]$")
_VOWELS = re.compile(r"[aeiouyàâäéèêëïîôöùûü]+")
_FIRST_LETTER = re.compile(r"[^\W\d_]")


def mean(values: Sequence[float]) -> float:
    """The arithmetic mean.

    Not that of `statistics`, because importing that module would slow down every start.
    """
    return sum(values) / len(values)


def _relative_spread(values: Sequence[int]) -> float:
    """The standard deviation over the mean."""
    middle = mean(values)
    return math.sqrt(mean([(v - middle) ** 2 for v in values])) / middle


# All the numbers below were set by hand: on the texts of the tests, and on plays, poems and speeches as
# people copy them (bench/copied.py). Lengths are in characters, shares run from 0 to 1; the rest are
# counts of lines, syllables or blocks.

# The narrowest margin that prose is wrapped to.
_NARROWEST = 28
# A fourteener, the longest common English line, runs to about this many characters.
_LONGEST_LINE = 75
# Longer lines than this are hardly ever verse, unless they begin with capitals.
_LONG = 88
# Lines that begin with capitals may be longer and still be verse: long free verse, as in the psalms.
_LONG_WITH_CAPITALS = 130
# A single line longer than this is a paragraph. On a page wider than this lines are not wrapped to a margin.
_PARAGRAPH = 110
# If lines do not begin with capitals and one of them is longer than this, they are prose.
_LONGEST_WITHOUT_CAPITALS = 100
# In a text of short paragraphs of dialogue, at least one line is longer than this (about half a printed
# line).
_DIALOGUE = 60
# The narrowest column of a book or an e-mail, and the narrowest of a newspaper.
_COLUMN, _NARROW_COLUMN = 55, 36

# The share of lines that begin with a capital. From MOST_CAPITALS on, every line is taken to begin with one;
# up to _FEW_CAPITALS, none is.
MOST_CAPITALS, _CAPITALS_OF_VERSE, _NEARLY_ALL_CAPITALS = 0.85, 0.8, 0.9
_SOME_CAPITALS, _FEW_CAPITALS = 0.6, 0.3
# The share of lines that end a sentence: more than half, most, nearly all.
_OFTEN_STOPPED, _PARAGRAPHS_STOPPED, _MOSTLY_STOPPED, _NEARLY_ALL_STOPPED = 0.6, 0.75, 0.8, 0.9
# The share of blocks that end a sentence, in a text where each block is a paragraph of dialogue.
_BLOCKS_STOPPED = 0.85
# The share of lines with the end of a sentence inside: verse has few of them, paragraphs many.
_MANY_INSIDE, _SOME_INSIDE = 0.3, 0.2
# The standard deviation of the lengths over their mean: sentences and paragraphs differ more than lines of
# verse.
_UNEVEN_SENTENCES, _UNEVEN_DIALOGUE, _UNEVEN_VERSE, _UNEVEN_PARAGRAPHS = 0.25, 0.3, 0.35, 0.45
# The share of line ends without room for the next word. In wrapped prose nearly all are so: this share at
# least, a smaller one if lines begin with small letters, and a still smaller one if a word is divided at a
# line's end. Verse has at most the last.
_FILLED, _FILLED_SMALL, _FILLED_DIVIDED, _FILLED_VERSE = 0.8, 0.65, 0.5, 0.4

# The fewest lines for a share to mean anything: of sentences, of a stanza, of a column.
_FEW_LINES, _SOME_LINES, _MANY_LINES = 3, 4, 6
COUPLE = 2  # two lines have a single line end, which proves little about a margin
# A single line is verse if it is not longer than this (a fourteener and a little more) and has from four
# syllables (two feet) to eighteen (an alexandrine and some more). With fewer than six it must not end a
# sentence.
_LONGEST_SINGLE = 85
_LEAST_SYLLABLES, _SHORT_SYLLABLES, _MOST_SYLLABLES = 4, 6, 18

# The smallest share of the lines that must be in blocks long enough to vote.
_VOTING_SHARE = 0.5
# Among the lines of a play that continue a sentence, the share that begin with a capital: between these two,
# the play has both verse and prose, and from the third on it is taken to begin in verse.
_LEAST_MIXED, _MOST_MIXED = 0.1, 0.95
_MIXED_BEGINS_IN_VERSE = 0.5
# A text of short paragraphs: the fewest blocks, the share of blocks with one or two lines, and of those with
# one.
_PARAGRAPHS, _SHORT_BLOCKS, _SINGLE_BLOCKS = 4, 0.6, 0.7


@dataclass(frozen=True, slots=True)
class Shape:
    """What a block of lines looks like. Shares are from 0 to 1; lengths are in characters.

    count: how many lines. middle, longest: the median and the greatest length. filled: the share of line ends
    that had no room for the next word. capital: the share of lines after the first that begin with a capital,
    None if the text has no small letters or no capitals. stopped: the share of lines that end a sentence.
    several: the share with the end of a sentence inside. spread: the standard deviation of the lengths over
    their mean. divided: whether a word is divided at a line's end.
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

    margin: the right margin of the whole page in characters, if it is known. pairs: each line with the one
    below it, to be given if `lines` come from several blocks.
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
        stopped=mean([bool(ENDS_SENTENCE.search(line)) for line in lines]),
        several=mean([bool(_INNER_STOP.search(line)) for line in lines]),
        spread=_relative_spread(sizes),
        divided=any(_DIVIDED.search(line) and after[:1].islower() for line, after in pairs),
    )


def is_verse(lines: Sequence[str], margin: int | None = None, pairs: _Pairs | None = None) -> bool:
    """Whether a block of lines (one speech, one stanza, or a whole text) is verse.

    See `shape` for the arguments.
    """
    if len(lines) == 1:
        return _is_verse_line(lines[0])
    s = shape(lines, margin, pairs)
    if is_wrapped(s):
        return False
    if s.capital is not None and s.capital >= MOST_CAPITALS:
        return not _capital_prose(s)
    return not _small_letter_prose(s)


def _capital_prose(s: Shape) -> bool:
    """Whether lines that begin with capitals are prose: paragraphs, or a list of sentences."""
    every_line_stops = s.stopped == 1.0
    if s.count == COUPLE and every_line_stops and s.longest > _LONGEST_LINE:
        return True  # two short paragraphs, one under the other
    if s.stopped >= _OFTEN_STOPPED and s.several > _MANY_INSIDE and s.count >= _FEW_LINES:
        return True
    if s.stopped >= _NEARLY_ALL_STOPPED and s.count >= _FEW_LINES:
        sentences = s.count >= _SOME_LINES and every_line_stops and s.spread > _UNEVEN_SENTENCES
        return s.middle > _LONG or sentences
    return s.middle > _LONG_WITH_CAPITALS or (s.longest > _PARAGRAPH and s.stopped >= _OFTEN_STOPPED)


def _small_letter_prose(s: Shape) -> bool:
    """Whether lines that do not all begin with a capital are prose, though not wrapped to a margin."""
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
    if s.count == COUPLE:  # one line end proves little: only a line as long as print sets it
        return s.longest >= _COLUMN and s.capital == 0.0
    return s.count >= _MANY_LINES or s.longest >= _NARROW_COLUMN


def _wrapped_with_small_letters(s: Shape) -> bool:
    """Whether nearly all lines begin with a small letter and enough are full, or a word is divided."""
    if s.capital is None or s.capital > _FEW_CAPITALS or s.count < _SOME_LINES:
        return False
    return (s.divided and s.filled >= _FILLED_DIVIDED) or (s.filled >= _FILLED_SMALL and s.longest >= _COLUMN)


def _is_verse_line(line: str) -> bool:
    """Whether one line alone is verse: about as long as a line of verse, and not more than one sentence."""
    if len(line) > _LONGEST_SINGLE or len(_INNER_STOP.findall(line)) > 1:
        return False
    if line[:1].islower() and line.endswith("."):
        return False  # the tail of a sentence
    syllables = len(_VOWELS.findall(line.lower()))
    if _SHORT_SYLLABLES <= syllables <= _MOST_SYLLABLES:
        return True
    return _LEAST_SYLLABLES <= syllables < _SHORT_SYLLABLES and not ENDS_SENTENCE.search(line)


def verse_lines(blocks: Sequence[Sequence[str]], speeches: bool = False) -> list[bool]:
    """For each block of lines, whether it is verse; a block too small to tell is what the whole text is.

    speeches: whether the blocks are the speeches of a play, in which short speeches of prose look like verse.
    """
    every = [line for block in blocks for line in block]
    if not every:
        return []
    widest = max(len(line) for line in every)
    margin = None if widest > _PARAGRAPH else widest
    whole = _whole_is_verse(blocks, every)
    if speeches:
        heads = _capitals_inside_sentences([pair for block in blocks for pair in pairwise(block)])
        if heads is not None and _LEAST_MIXED <= heads <= _MOST_MIXED and _has_small_letters(every):
            return _mixed_play(blocks, heads >= _MIXED_BEGINS_IN_VERSE)
        whole = _play_is_verse(blocks, every, whole)
    return [_block_is_verse(block, margin, whole) for block in blocks]


def _block_is_verse(block: Sequence[str], margin: int | None, whole: bool) -> bool:
    """Whether a block is verse. whole: whether the whole text is; only a clear block may differ from it."""
    s = shape(block, margin)
    if len(block) < _SOME_LINES:
        return whole and not (len(block) == 1 and s.longest > _PARAGRAPH) and not is_wrapped(s)
    verse = is_verse(block, margin)
    return verse if verse == whole or _is_clear(s, verse) else whole


def _has_small_letters(lines: Sequence[str]) -> bool:
    return any(c.islower() for line in lines for c in line)


def _is_clear(s: Shape, verse: bool) -> bool:
    """Whether a block is so clearly verse (or prose) that it may differ from the text around it."""
    if verse:
        capitals = s.capital is not None and s.capital >= _NEARLY_ALL_CAPITALS
        room = capitals or s.filled <= _FILLED_VERSE
        return s.longest <= _LONGEST_LINE and s.stopped < _MOSTLY_STOPPED and room
    return is_wrapped(s) or s.middle > _LONG


def _whole_is_verse(blocks: Sequence[Sequence[str]], every: Sequence[str]) -> bool:
    """Whether the text as a whole is verse. Each block that is long enough has as many votes as lines."""
    voting = [block for block in blocks if len(block) >= _FEW_LINES]
    if sum(map(len, voting)) >= _VOTING_SHARE * len(every) and len(voting) > 1:
        votes = sum(len(block) * (1 if is_verse(block) else -1) for block in voting)
        if votes or any(is_wrapped(shape(block)) for block in voting):
            return votes > 0
    inner = [pair for block in blocks for pair in pairwise(block)]
    return is_verse(every, pairs=inner if len(inner) > 1 else None) and not _is_short_paragraphs(
        blocks, every
    )


def _capitals_inside_sentences(pairs: _Pairs) -> float | None:
    """Of the lines that continue a sentence, the share that begin with a capital; None if no line does."""
    firsts = [
        m.group()
        for line, after in pairs
        if not ENDS_SENTENCE.search(line) and (m := _FIRST_LETTER.search(after))
    ]
    return mean([c.isupper() for c in firsts]) if firsts else None


def _mixed_play(blocks: Sequence[Sequence[str]], verse: bool) -> list[bool]:
    """For each speech of a play in verse and prose, whether it is verse.

    Decided by the capitals of its lines; a speech with no line that continues a sentence is like the one
    before. verse: what the first speech is if it has none.
    """
    found: list[bool] = []
    for block in blocks:
        heads = _capitals_inside_sentences(list(pairwise(block)))
        if heads is not None:
            verse = heads >= _CAPITALS_OF_VERSE and max(len(line) for line in block) <= _LONGEST_LINE
        found.append(verse)
    return found


def _play_is_verse(blocks: Sequence[Sequence[str]], every: Sequence[str], whole: bool) -> bool:
    """Whether a play is verse. whole: whether it would be, by its shape.

    Its verse begins every line with a capital.
    """
    heads = _capitals_inside_sentences([pair for block in blocks for pair in pairwise(block)])
    s = shape(every)
    if heads is not None and _has_small_letters(every):
        return heads >= _SOME_CAPITALS and (whole or s.middle <= _DIALOGUE)
    return whole and s.stopped < _MOSTLY_STOPPED and (s.spread < _UNEVEN_VERSE or heads is not None)


def _is_short_paragraphs(blocks: Sequence[Sequence[str]], every: Sequence[str]) -> bool:
    """Whether the text is short paragraphs of prose with blank lines between them, mostly dialogue."""
    if 1 < len(blocks) == len(every) and all(ENDS_SENTENCE.search(line) for line in every):
        return True  # verse would have a sentence that continues on the next line somewhere
    short = sum(len(b) <= COUPLE for b in blocks)
    if len(blocks) < _PARAGRAPHS or short < _SHORT_BLOCKS * len(blocks):
        return False
    s = shape(every)
    single = sum(len(b) == 1 for b in blocks) >= _SINGLE_BLOCKS * len(blocks)
    if single and s.spread > _UNEVEN_PARAGRAPHS and s.longest > _DIALOGUE:
        return True
    ends = mean([bool(ENDS_SENTENCE.search(block[-1])) for block in blocks])
    return ends >= _BLOCKS_STOPPED and s.several > _SOME_INSIDE and s.spread > _UNEVEN_DIALOGUE


def line_is_paragraph(lines: Sequence[str], wrapped_page: bool = False) -> bool:
    """Whether each line of a block of prose is a paragraph, with no blank lines between them.

    wrapped_page: whether other prose on the page is wrapped to a margin, so that two full lines are one
    paragraph.
    """
    if len(lines) <= 1:
        return False
    s = shape(lines)
    full = s.filled >= _FILLED and wrapped_page
    return not is_wrapped(s) and not full and s.stopped >= _PARAGRAPHS_STOPPED
