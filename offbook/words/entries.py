"""Words: the unit of everything after this stage.

One `Word` for each spoken word, in order, with its place in the text and the ways it can be spoken:
a hyphenated compound counts as its parts, dashes, ellipses and slashes separate words, an apostrophe
never does; numbers, amounts and abbreviations are one word with several spoken tokens.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

from offbook.script import Line, Script
from offbook.words.spoken_forms import spoken_forms
from offbook.words.tokenise import IGNORED, Joiner, Pieces, Token, caseless, ends_sentence

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2009\u202f"), " ")
_LIGATURES = {"ﬀ": "ff", "ﬁ": "fi", "ﬂ": "fl", "ﬃ": "ffi", "ﬄ": "ffl", "ﬅ": "st", "ﬆ": "st", "ſ": "s"}
_LINE_END = re.compile(r"[ \t]*\n")
_RUN_ON = (",", ";", ":", "-", "–", "—")


@dataclass(frozen=True, slots=True)
class Word:
    """One spoken word. start, end: code points of `Script.text`, end exclusive.

    line: `Line.n`; sentence: counted from 1 over the whole speech. text: as printed, with ligatures
    opened, soft hyphens and other invisible characters taken out, and the two halves joined of a word
    divided at a line's end. spoken: the ways it may be said, the likeliest first, each a tuple of
    lower-case words with straight apostrophes:
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
    text, places = _readable(script)
    lines = _visible(script.lines, places)
    flat = caseless(" ".join(line.text for line in script.lines))
    finder, joiner, reach = Pieces(text), Joiner(text), _paragraph_ends(lines)
    pieces: list[Token] = []
    owners: list[Line] = []
    sentences: list[int] = []
    for line, start, end in lines:
        before = owners[-1] if owners else None
        if before is not None and before.paragraph != line.paragraph:
            finder.new_paragraph()
        for piece in finder.of(start, end, reach[line.paragraph]):
            ended = True
            if before is not None:
                gap = text[pieces[-1].end : piece.start]
                if _goes_on(before, line, gap) and joiner.joins(pieces[-1], gap, piece):
                    joined = pieces[-1].text + piece.text
                    pieces[-1] = replace(pieces[-1], text=joined, end=piece.end)
                    continue
                ended = _breaks(before, line, gap) or ends_sentence(pieces[-1], gap, piece, flat)
            pieces.append(piece)
            owners.append(line)
            sentences.append((sentences[-1] if sentences else script.first_sentence - 1) + ended)
            before = line
    forms = spoken_forms(pieces, text, flat)
    return tuple(
        Word(i, _printed(p.text), _place(places, p.start), _place(places, p.end - 1) + 1, line.n, s, spoken)
        for i, (p, line, s, spoken) in enumerate(zip(pieces, owners, sentences, forms, strict=True))
    )


def _readable(script: Script) -> tuple[str, list[int] | None]:
    """The text with what is left out blanked and invisible characters gone, and where each was."""
    text = script.text
    if script.left_out:
        chars = list(text)
        for out in script.left_out:
            for k in range(out.start, out.end):
                if chars[k] != "\n":
                    chars[k] = " "
        text = "".join(chars)
    text = text.translate(_SPACES)
    if not any(c in text for c in IGNORED):
        return text, None
    # A soft hyphen at a line's end stays: it says that the word goes on.
    kept = [
        k for k, c in enumerate(text) if c not in IGNORED or (c == "\u00ad" and _LINE_END.match(text, k + 1))
    ]
    return "".join(text[k] for k in kept), kept


def _place(places: list[int] | None, k: int) -> int:
    return k if places is None else places[k]


def _visible(lines: Sequence[Line], places: list[int] | None) -> list[tuple[Line, int, int]]:
    """Each line with its bounds in the readable text."""
    if places is None:
        return [(line, line.start, line.end) for line in lines]
    return [(line, bisect_left(places, line.start), bisect_left(places, line.end)) for line in lines]


def _paragraph_ends(lines: Sequence[tuple[Line, int, int]]) -> dict[int, int]:
    return {line.paragraph: end for line, _, end in lines}


def _goes_on(before: Line, line: Line, gap: str) -> bool:
    """Whether a word may run over from one line to the next: in verse only with a soft hyphen."""
    if before.n == line.n or before.paragraph != line.paragraph:
        return False
    return "\u00ad" in gap or not (before.verse and line.verse)


def _breaks(before: Line, line: Line, mark: str) -> bool:
    """Whether a sentence ends because a speech or a paragraph does.

    A sentence of verse may run over a stanza's end; a speech never runs over into another's.
    """
    if before.paragraph == line.paragraph:
        return False
    if before.speaker != line.speaker:
        return True
    return not (before.verse and line.verse and mark.rstrip().endswith(_RUN_ON))


def _printed(text: str) -> str:
    """A word as it would be printed in plain type: ligatures opened, one code point a letter."""
    if text.isascii():
        return text
    return unicodedata.normalize("NFC", "".join(_LIGATURES.get(c, c) for c in text))
