"""Where something is in a speech, as people count: verse by its lines, prose by its sentences.

A line of verse is the same on everybody's page. A line of prose depends on the file, and is often the whole
speech, so prose is counted by sentences. In a script with both, an s before the number shows that it is a
sentence.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from offbook.script import Script
from offbook.words.entries import Word

_NUMBER = re.compile(r"(s?)(\d{1,9})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Numbered:
    """What has one number: a line of verse, or a sentence of prose.

    number: as it is printed beside the speech. first, last: the indices of its first and last word.
    """

    number: str
    first: int
    last: int

    @property
    def span(self) -> range:
        """The indices of its words."""
        return range(self.first, self.last + 1)


@cache
def _verse_lines(script: Script) -> frozenset[int]:
    return frozenset(line.n for line in script.lines if line.verse)


def numbered(script: Script, words: Sequence[Word]) -> tuple[Numbered, ...]:
    """The numbered lines and sentences of the speech, in order."""
    found: list[Numbered] = []
    for word in words:
        number = number_of(script, word)
        if found and found[-1].number == number:
            found[-1] = Numbered(number, found[-1].first, word.i)
        else:
            found.append(Numbered(number, word.i, word.i))
    return tuple(found)


def at_number(script: Script, words: Sequence[Word], told: str) -> Numbered | None:
    """The line or sentence with this number, None if there is none.

    told: the number as people write it: "4", or "s4" for a sentence. "s4" is accepted in a speech of prose
    too, and "4" means a sentence if no line of verse has that number.
    """
    match = _NUMBER.fullmatch(told.strip())
    if match is None:
        return None
    n, known = int(match[2]), {each.number: each for each in numbered(script, words)}
    ways = (f"s{n}", *(() if _verse_lines(script) else (str(n),))) if match[1] else (str(n), f"s{n}")
    return next((known[way] for way in ways if way in known), None)


def number_of(script: Script, word: Word) -> str:
    """The number beside a word: of its line of verse, or of its sentence ("s4" in a speech with both)."""
    verse = _verse_lines(script)
    if word.line in verse:
        return str(word.line)
    return f"s{word.sentence}" if verse else str(word.sentence)


def where(script: Script, words: Sequence[Word], first: int, last: int) -> str:
    """Where a stretch of words is: "line 5", "lines 5-8", "sentence 3", "sentences 3-4"."""
    verse = _verse_lines(script)
    one, other = words[first], words[last]
    if one.line in verse and other.line in verse:
        return _many("line", one.line, other.line)
    if one.line not in verse and other.line not in verse:
        return _many("sentence", one.sentence, other.sentence)
    return f"{where(script, words, first, first)} to {where(script, words, last, last)}"


_MOST_LISTED = 6  # numbers in a message; set by hand, so that it stays on one line


def where_each(script: Script, words: Sequence[Word], at: Sequence[int], most: int = _MOST_LISTED) -> str:
    """Where single words are: "line 2", "lines 2, 5, 9", "sentence 4".

    at: the words' indices. most: how many numbers of each kind are listed.
    """
    verse = _verse_lines(script)
    told = []
    for noun, numbers in (
        ("line", sorted({words[i].line for i in at if words[i].line in verse})),
        ("sentence", sorted({words[i].sentence for i in at if words[i].line not in verse})),
    ):
        if numbers:
            shown = ", ".join(map(str, numbers[:most])) + (" …" if len(numbers) > most else "")
            told.append(f"{noun if len(numbers) == 1 else noun + 's'} {shown}")
    return "; ".join(told)


def counted(script: Script) -> str:
    """A sentence that says what the numbers beside the speech count."""
    verse = _verse_lines(script)
    if not verse:
        return "Numbers count sentences."
    return (
        "Numbers count lines." if len(verse) == len(script.lines) else "Numbers count lines; s4: sentence 4."
    )


def _many(noun: str, first: int, last: int) -> str:
    return f"{noun} {first}" if first == last else f"{noun}s {first}-{last}"
