"""Words: the unit of everything after this stage.

One `Word` for each spoken word, in order, with its place in the text and the ways it can be spoken:
a hyphenated compound counts as its parts, dashes, ellipses and slashes separate words, an apostrophe
never does; numbers, amounts and abbreviations are one word with several spoken tokens.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from offbook.script import Script

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*['’]?", re.UNICODE)


@dataclass(frozen=True, slots=True)
class Word:
    """One spoken word. start, end: code points of `Script.text`, end exclusive.

    line: `Line.n`; sentence: counted from 1 over the whole file. spoken: the ways it may be said,
    the likeliest first, each a tuple of lower-case words with straight apostrophes:
    "1603" -> (("sixteen", "oh", "three"), ("sixteen", "hundred", "and", "three"), ...);
    "Feed'st" -> (("feed'st",),).
    """

    i: int
    text: str
    start: int
    end: int
    line: int
    sentence: int
    spoken: tuple[tuple[str, ...], ...]


def words_of(script: Script) -> tuple[Word, ...]:
    """The spoken words of `script`, in order."""
    found: list[Word] = []
    sentence, ended = 0, True
    for line in script.lines:
        for m in _WORD.finditer(script.text, line.start, line.end):
            gap = script.text[found[-1].end : m.start()] if found else "."
            ended = bool(re.search(r"[.?!]", gap)) or "\n\n" in gap
            sentence += ended
            text = m.group()
            form = text.replace("’", "'").lower()
            found.append(Word(len(found), text, m.start(), m.end(), line.n, sentence, ((form,),)))
    return tuple(found)
