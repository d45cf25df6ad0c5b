"""The speech row by row as it is shown before it is marked: verse by its lines, prose by its sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from offbook.script import Line, Script
from offbook.words import Numbered, Word, as_written, numbered

_OPENING = "“‘\"'([¿¡«—–"  # marks that belong to the word after them


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A verse line, or a sentence of prose.

    number: the one shown beside it, empty where nothing in it is said; start, end: code points of the
    script's text, `end` exclusive.
    """

    number: str
    text: str
    start: int
    end: int
    paragraph: int


def shown_rows(script: Script, words: Sequence[Word]) -> tuple[ShownRow, ...]:
    """All that is taken as spoken, in order. words: of `script`."""
    sentences: dict[int, list[Numbered]] = {}
    for each in numbered(script, words):
        sentences.setdefault(words[each.first].line, []).append(each)
    speaks = {w.line for w in words}
    found: list[ShownRow] = []
    for line in script.lines:
        if line.verse or line.n not in speaks:
            number = str(line.n) if line.verse else ""
            found.append(ShownRow(number, line.text, line.start, line.end, line.paragraph))
        else:
            found += _sentences(script, words, line, sentences.get(line.n, ()))
    return tuple(found)


def _sentences(
    script: Script, words: Sequence[Word], line: Line, each: Sequence[Numbered]
) -> Iterator[ShownRow]:
    """The sentences that begin in a line of prose; the last of them may end in a later line."""
    lines = {x.n: x for x in script.lines}
    for one in each:
        opens = words[one.first].i == 0 or words[one.first - 1].line != line.n
        start = line.start if opens else _opening(script, words[one.first].start)
        last = words[one.last]
        closes = one.last + 1 == len(words) or words[one.last + 1].line != last.line
        end = lines[last.line].end if closes else _opening(script, words[one.last + 1].start)
        end = start + len(script.text[start:end].rstrip())
        text = as_written(script, words, one.first, one.last)
        yield ShownRow(one.number, text, start, end, line.paragraph)


def _opening(script: Script, start: int) -> int:
    """Where a word begins, with the quotation marks or brackets right before it."""
    while start and script.text[start - 1] in _OPENING:
        start -= 1
    return start
