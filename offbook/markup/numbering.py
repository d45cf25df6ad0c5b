"""Where something stands in a speech, as people count: verse by its lines, prose by its sentences.

A line of verse is a line on everybody's page. A line of prose is whatever the file made of it, often the
whole speech, so prose is counted by sentences. A script with both has both, and says which.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from offbook.script import Script
from offbook.words import Word


@cache
def _verse_lines(script: Script) -> frozenset[int]:
    return frozenset(line.n for line in script.lines if line.verse)


def number_of(script: Script, word: Word) -> str:
    """The number that stands beside a word: of its verse line, or of its sentence; "s4" beside verse."""
    verse = _verse_lines(script)
    if word.line in verse:
        return str(word.line)
    return f"s{word.sentence}" if verse else str(word.sentence)


def where(script: Script, words: Sequence[Word], first: int, last: int) -> str:
    """Where a stretch of words stands: "line 5", "lines 5-8", "sentence 3", "sentences 3-4"."""
    verse = _verse_lines(script)
    one, other = words[first], words[last]
    if one.line in verse and other.line in verse:
        return _many("line", one.line, other.line)
    if one.line not in verse and other.line not in verse:
        return _many("sentence", one.sentence, other.sentence)
    return f"{where(script, words, first, first)} to {where(script, words, last, last)}"


def places(script: Script, words: Sequence[Word], at: Sequence[int], most: int = 6) -> str:
    """Where single words stand: "line 2", "lines 2, 5, 9", "sentence 4"; of many the first `most`."""
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
    """What the numbers beside the speech count, for people."""
    verse = _verse_lines(script)
    if not verse:
        return "Numbers count sentences."
    return (
        "Numbers count lines." if len(verse) == len(script.lines) else "Numbers count lines; s4: sentence 4."
    )


def _many(noun: str, first: int, last: int) -> str:
    return f"{noun} {first}" if first == last else f"{noun}s {first}-{last}"
