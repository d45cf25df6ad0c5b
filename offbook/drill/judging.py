"""Judging an answer by its words: slips of spelling pass, wrong words do not.

The answer is aligned with the script's words, by the least number of substitutions, deletions and insertions,
as transcripts of speech recognition are scored. A typed word passes for the script's word where it is the
same, is said the same (`alike`), or is a slip of the fingers: a small optimal-string-alignment distance
(Damerau 1964: insertion, deletion, substitution and transposition are four fifths of all typing errors), and
not another word of English. Small words must be typed right, because they are the words that performers get
wrong. Accents make no difference, and a number passes however it is written: 1603 for sixteen hundred and
three, or the other way round.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rapidfuzz.distance import OSA

from offbook.drill.alike import one_word_spelled_twice, said_alike
from offbook.glossary import how_common
from offbook.lexicon import phones_of
from offbook.script import Line, Script
from offbook.spelling import plain_spelling
from offbook.words import Word, words_of

_TOKEN = re.compile(r"[£$€]?\d+(?:[.,:]\d+)*(?:[^\W\d_]+|%)?|[^\W_]+(?:['’][^\W_]+)*['’]?|&", re.UNICODE)
# Letters, set by hand: a shorter word must be typed right, and one of three may only have its letters in
# another order. Up to six letters one slip of the fingers passes, in longer words two.
_THREE_LETTERS, _ONE_SLIP, _MOST_SLIPS = 3, 6, 2
# Two neighbouring letters in the other order are a slip even where they make another entry of the dictionary
# ("freind", "thier" and "siad" are surnames), if that is rare and a hundred times rarer than what was meant.
_RARE, _RARER = 3.0, 2.0  # Zipf scale: once in a million words, and a factor of 100
# Answers that are kept: of spellings, of numbers, and of pairs of words. Set by hand: more than a speech has.
_WORDS_KEPT, _NUMBERS_KEPT, _PAIRS_KEPT = 8192, 1024, 4096
Kind = Literal["right", "typo", "changed", "lost", "added", "prompted"]


@dataclass(frozen=True, slots=True)
class ComparedWord:
    """One place of the comparison. word: the script's word number; None for an added word."""

    kind: Kind
    word: int | None
    script: str
    given: str


@dataclass(frozen=True, slots=True)
class JudgedAnswer:
    """An answer beside the script. right counts slips of the fingers too."""

    places: tuple[ComparedWord, ...]

    @property
    def right(self) -> int:
        """Words of the script that were given."""
        return sum(p.kind in ("right", "typo") for p in self.places)

    @property
    def words(self) -> int:
        """Words of the script in this stretch."""
        return sum(p.word is not None for p in self.places)

    @property
    def added(self) -> int:
        """Words that are nowhere in the script."""
        return sum(p.kind == "added" for p in self.places)

    @property
    def clean(self) -> bool:
        """Every word given, none added."""
        return self.right == self.words and not self.added

    def prompted(self, first: int, last: int) -> bool:
        """Whether a word of the script words first..last was prompted."""
        return any(p.kind == "prompted" and first <= (p.word or 0) <= last for p in self.places)

    def within(self, first: int, last: int) -> tuple[int, int]:
        """Words right and words asked among the script words first..last."""
        part = [p for p in self.places if p.word is not None and first <= p.word <= last]
        return sum(p.kind in ("right", "typo") for p in part), len(part)


def tokens(text: str) -> list[str]:
    """The words of an answer, as typed."""
    return _TOKEN.findall(unicodedata.normalize("NFC", text))


@lru_cache(maxsize=_WORDS_KEPT)
def _fold(text: str) -> str:
    """Letters and figures alone, without case or accents."""
    if text == "&":
        return "and"
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"['’ʼ`´,]", "", bare).casefold()


@lru_cache(maxsize=_NUMBERS_KEPT)
def _ways(number: str) -> frozenset[tuple[str, ...]]:
    """The ways to say a typed number ("1603", "3rd", "£5"); none for what has no figure in it."""
    if not any(c.isdecimal() for c in number):
        return frozenset()
    line = Line(1, 0, len(number), number, 1)
    read = words_of(Script("", "", number, "prose", (line,)))
    return frozenset(read[0].spoken) if len(read) == 1 else frozenset()


@lru_cache(maxsize=_PAIRS_KEPT)
def passes(script: str, given: str) -> Literal["right", "typo", "no"]:
    """Whether a typed word passes for the script's word (one word each)."""
    a, b = _fold(script), _fold(given)
    if a == b:
        # An apostrophe left out is a slip of typing; one put in is meant: ill is not I'll.
        meant = "'" in plain_spelling(given) and "'" not in plain_spelling(script)
        return (
            "no" if meant and phones_of(plain_spelling(given)) and not said_alike(script, given) else "right"
        )
    if one_word_spelled_twice(script, given):
        return "right"
    if any(c.isdecimal() for c in a + b):
        return "no"  # a figure is never nearly right
    if said_alike(script, given):
        return "typo"  # their for there: said aloud it is right
    if phones_of(plain_spelling(given)) and not _turned_round(a, b):
        return "no"  # another word of English is a wrong word, however near it is
    longest = max(len(a), len(b))
    if len(a) < _THREE_LETTERS:
        return "no"
    allowed = 1 if longest <= _ONE_SLIP else _MOST_SLIPS
    if len(a) == _THREE_LETTERS:  # "teh" is a slip for "the"; a letter more or less may be another small word
        return "typo" if sorted(a) == sorted(b) else "no"
    return "typo" if OSA.distance(a, b, score_cutoff=allowed) <= allowed else "no"


def _turned_round(meant: str, typed: str) -> bool:
    """Whether `typed` is `meant` with two neighbouring letters swapped, and itself hardly ever a word."""
    if len(meant) != len(typed) or OSA.distance(meant, typed) != 1 or sorted(meant) != sorted(typed):
        return False
    # The table ends at _RARE: what is not in it may be nearly as common as that.
    return how_common(typed) <= _RARE and how_common(meant) >= _RARE + _RARER


def judge(
    words: Sequence[Word], answer: str, before: Sequence[Word] = (), after: Sequence[Word] = ()
) -> JudgedAnswer:
    """Compare `answer` with a stretch of the script's words.

    before, after: the script on both sides. To begin a little early, or to go on a little, is not a mistake:
    words of the answer that are the script's own there are left out of the comparison.
    """
    given = tokens(answer)
    near = len(given)
    lead, tail = list(before[max(0, len(before) - near) :]), list(after[:near])
    places = _compare([*lead, *words, *tail], given, len(lead), len(lead) + len(words))
    inside = {w.i for w in words}
    core = [k for k, p in enumerate(places) if p.word in inside]
    if not core:
        return JudgedAnswer(())
    first, last = core[0], core[-1]
    while first > 0 and places[first - 1].word is None:  # added right before the stretch
        first -= 1
    while last + 1 < len(places) and places[last + 1].word is None:
        last += 1
    return JudgedAnswer(tuple(p for p in places[first : last + 1] if p.word is None or p.word in inside))


def _compare(words: Sequence[Word], given: list[str], first: int, end: int) -> list[ComparedWord]:
    """The cheapest alignment.

    Words outside [first, end) are around the stretch: leaving them out costs nothing.
    """
    n, m = len(words), len(given)
    # best[i][j]: (errors, slips, -right) for the first i words and j given; the least is best.
    best: list[list[tuple[int, int, int]]] = [[(0, 0, 0)] * (m + 1) for _ in range(n + 1)]
    back: list[list[tuple[int, int, Kind]]] = [[(0, 0, "right")] * (m + 1) for _ in range(n + 1)]
    for i in range(n + 1):
        for j in range(m + 1):
            if i or j:
                free = not first < i <= end
                best[i][j], back[i][j] = min(
                    _steps(words, given, i, j, best, free), key=lambda s: (s[0], s[1][2] != "right")
                )
    return _walk(words, given, back)


_Step = tuple[tuple[int, int, int], tuple[int, int, Kind]]


def _steps(
    words: Sequence[Word],
    given: list[str],
    i: int,
    j: int,
    best: list[list[tuple[int, int, int]]],
    free: bool,
) -> list[_Step]:
    """Every way to come to (i, j), with what it costs."""
    found: list[_Step] = []

    def add(di: int, dj: int, kind: Kind, errors: int, slips: int) -> None:
        e, s, r = best[i - di][j - dj]
        hit = kind in ("right", "typo")
        found.append(((e + errors, s + slips, r - di * hit), (di, dj, kind)))

    if i:
        add(1, 0, "lost", 0 if free else 1, 0)
    if j:
        add(0, 1, "added", 1, 0)
    if i and j:
        verdict = passes(words[i - 1].text, given[j - 1])
        kind: Kind = "changed" if verdict == "no" else verdict
        add(1, 1, kind, int(verdict == "no"), int(verdict == "typo"))
        for di, dj in (*_written_apart(words, given, i, j), *_said_otherwise(words, given, i, j)):
            add(di, dj, "right", 0, 0)
    return found


def _written_apart(words: Sequence[Word], given: list[str], i: int, j: int) -> Iterator[tuple[int, int]]:
    """How many words of script and answer end at (i, j) and differ only by a gap: any one, anyone."""
    if j > 1 and _fold(words[i - 1].text) == _fold("".join(given[j - 2 : j])):
        yield 1, 2
    if i > 1 and _fold(words[i - 2].text + words[i - 1].text) == _fold(given[j - 1]):
        yield 2, 1


def _said_otherwise(words: Sequence[Word], given: list[str], i: int, j: int) -> Iterator[tuple[int, int]]:
    """The same for a number that is typed as it is said, or in figures where the script has words."""
    for way in words[i - 1].spoken:  # "1603"
        k = len(way)
        if k <= j and [_fold(x) for x in way] == [_fold(x) for x in given[j - k : j]]:
            yield 1, k
    ways = _ways(given[j - 1])
    if not ways.isdisjoint(words[i - 1].spoken):
        yield 1, 1
    for k in sorted({len(way) for way in ways if len(way) <= i}):  # "21" for "twenty-one"
        if tuple(w.text.lower() for w in words[i - k : i]) in ways:
            yield k, 1


def _walk(
    words: Sequence[Word], given: list[str], back: list[list[tuple[int, int, Kind]]]
) -> list[ComparedWord]:
    i, j, out = len(words), len(given), list[ComparedWord]()
    while i or j:
        di, dj, kind = back[i][j]
        mine = " ".join(given[j - dj : j])
        if di > 1:
            out += [ComparedWord(kind, w.i, w.text, "") for w in reversed(words[i - di + 1 : i])]
            out.append(ComparedWord(kind, words[i - di].i, words[i - di].text, mine))
        else:
            word = words[i - 1] if di else None
            out.append(ComparedWord(kind, word.i if word else None, word.text if word else "", mine))
        i, j = i - di, j - dj
    return out[::-1]


# What is written under a place that differs, so that it can be read without colour.
_SIGNS: dict[Kind, str] = {
    "right": "",
    "typo": "",
    "changed": "not this",
    "lost": "lost",
    "added": "added",
    "prompted": "prompt",
}
_LABEL = 8  # columns for "script" and "yours" before the words
_WIDTH = 78  # columns of a comparison; set by hand, as wide as the other screens of the terminal


@dataclass(frozen=True, slots=True)
class ComparisonColumn:
    """One place of the comparison as people see it: the script's word, theirs below it, and what differs.

    script: "^" where the script has no word; given: "_" for each letter of a word that is missing; sign:
    empty where nothing differs.
    """

    script: str
    given: str
    sign: str


def compared(judged: JudgedAnswer) -> tuple[ComparisonColumn, ...]:
    """The script and the answer, place by place."""
    return tuple(
        ComparisonColumn(
            p.script or "^",
            p.given or ("" if p.kind in ("right", "typo") else "_" * len(p.script)),
            _SIGNS[p.kind],
        )
        for p in judged.places
    )


def side_by_side(judged: JudgedAnswer, width: int = _WIDTH) -> str:
    """The comparison for a terminal: rows of at most `width` columns, letters of one width."""
    rows: list[str] = []
    block: list[ComparisonColumn] = []
    used = _LABEL
    for column in compared(judged):
        size = _size(column) + 1
        if block and used + size > width:
            rows += _block(block)
            block, used = [], _LABEL
        block.append(column)
        used += size
    return "\n".join(rows + _block(block)) if block else ""


def _size(column: ComparisonColumn) -> int:
    return max(len(column.script), len(column.given), len(column.sign))


def _block(columns: list[ComparisonColumn]) -> list[str]:
    lines = []
    rows = {
        "script": [c.script for c in columns],
        "yours": [c.given for c in columns],
        "": [c.sign for c in columns],
    }
    for name, words in rows.items():
        cells = " ".join(word.ljust(_size(c)) for word, c in zip(words, columns, strict=True))
        if name or cells.strip():
            lines.append(f"{name:{_LABEL - 1}} {cells}".rstrip())
    return lines
