"""Words: what every later stage counts in.

There is one `Word` for each spoken word, in order, with its place in the text and the ways to say it. A
hyphenated compound counts as several words; dashes, ellipses and slashes separate words, an apostrophe never
does. A number, an amount or an abbreviation is one word, which may be said in several.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

from offbook.script import Line, Script
from offbook.words.spoken_forms import spoken_forms
from offbook.words.tokenise import IGNORED, Joiner, Pieces, Token, ends_sentence, is_caseless

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2009\u202f"), " ")
_LIGATURES = {"ﬀ": "ff", "ﬁ": "fi", "ﬂ": "fl", "ﬃ": "ffi", "ﬄ": "ffl", "ﬅ": "st", "ﬆ": "st", "ſ": "s"}
_LINE_END = re.compile(r"[ \t]*\n")
_RUN_ON = (",", ";", ":", "-", "–", "—")


@dataclass(frozen=True, slots=True)
class Word:
    """One spoken word.

    i: its index, from 0. text: as printed, but with separate letters for ligatures, without soft hyphens and
    other invisible characters, and with the halves of a word joined that is divided at a line's end. start,
    end: offsets in code points into `Script.text`, end exclusive. line: `Line.n`. sentence: counted from 1
    over the whole speech. spoken: the ways to say it, the likeliest first, each a tuple of lower-case words
    with straight apostrophes: "1603" -> (("sixteen", "oh", "three"), ("sixteen", "hundred", "and", "three"),
    ...); "Feed'st" -> (("feed'st",),).
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
    lines = _bounds_in_readable(script.lines, places)
    no_case = is_caseless(" ".join(line.text for line in script.lines))
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
                if _may_continue(before, line, gap) and joiner.joins(pieces[-1], gap, piece):
                    joined = pieces[-1].text + piece.text
                    pieces[-1] = replace(pieces[-1], text=joined, end=piece.end)
                    continue
                ended = _ends_speech(before, line, gap) or ends_sentence(pieces[-1], gap, piece, no_case)
            pieces.append(piece)
            owners.append(line)
            sentences.append((sentences[-1] if sentences else script.first_sentence - 1) + ended)
            before = line
    forms = spoken_forms(pieces, text, no_case)
    return tuple(
        Word(
            i,
            _in_plain_type(p.text),
            _original_offset(places, p.start),
            _original_offset(places, p.end - 1) + 1,
            line.n,
            s,
            spoken,
        )
        for i, (p, line, s, spoken) in enumerate(zip(pieces, owners, sentences, forms, strict=True))
    )


def _readable(script: Script) -> tuple[str, list[int] | None]:
    """The text with blanks for what is left out and without invisible characters.

    The second value has the original offset of each character, None if no character was removed.
    """
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
    # A soft hyphen at a line's end is kept: it shows that the word continues on the next line.
    kept = [
        k for k, c in enumerate(text) if c not in IGNORED or (c == "\u00ad" and _LINE_END.match(text, k + 1))
    ]
    return "".join(text[k] for k in kept), kept


def _original_offset(places: list[int] | None, k: int) -> int:
    return k if places is None else places[k]


def _bounds_in_readable(lines: Sequence[Line], places: list[int] | None) -> list[tuple[Line, int, int]]:
    """Each line with its start and end in the readable text."""
    if places is None:
        return [(line, line.start, line.end) for line in lines]
    return [(line, bisect_left(places, line.start), bisect_left(places, line.end)) for line in lines]


def _paragraph_ends(lines: Sequence[tuple[Line, int, int]]) -> dict[int, int]:
    return {line.paragraph: end for line, _, end in lines}


def _may_continue(before: Line, line: Line, gap: str) -> bool:
    """Whether a word may continue on the next line: in verse only with a soft hyphen."""
    if before.n == line.n or before.paragraph != line.paragraph:
        return False
    return "\u00ad" in gap or not (before.verse and line.verse)


def _ends_speech(before: Line, line: Line, mark: str) -> bool:
    """Whether a sentence ends because a speech or a paragraph ends.

    mark: what is printed between the two lines. A sentence of verse may continue in the next stanza, but no
    sentence continues in another part's speech.
    """
    if before.paragraph == line.paragraph:
        return False
    if before.speaker != line.speaker:
        return True
    return not (before.verse and line.verse and mark.rstrip().endswith(_RUN_ON))


def _in_plain_type(text: str) -> str:
    """A word with separate letters for ligatures, and one code point for each letter with its accent."""
    if text.isascii():
        return text
    return unicodedata.normalize("NFC", "".join(_LIGATURES.get(c, c) for c in text))
