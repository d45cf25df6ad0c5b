"""One scanned line: its feet and their names, its spoken stress, its pauses, and where readers may differ."""

from __future__ import annotations

import re
from collections.abc import Sequence

from offbook.verse.beats import MetricalReading
from offbook.verse.feet import divide_feet
from offbook.verse.form import line_name
from offbook.verse.kinds import OpenReading, Scansion
from offbook.verse.metres import HEXAMETER, PENTAMETER
from offbook.verse.names import variations_of
from offbook.verse.spoken import likeliest, spoken_syllables
from offbook.verse.syllables import VerseWord
from offbook.verse.whole import StanzaLine

# Log odds: if the second reading is not worse by more than this (about two to one), both are good. Set by
# hand.
_OPEN = 0.7
_ELIDED = {
    "synaeresis": "synaeresis",
    "synaeresis of -ing": "synaeresis",
    "synaeresis of -er": "synaeresis",
    "synaeresis after stress": "synaeresis",
    "power in one": "synaeresis",
    "syncope": "syncope",
    "syncope of -en": "syncope",
    "syncope of -est": "syncope",
    "old contraction": "syncope",
    "synaloepha": "synaloepha",
    "synaloepha of to": "synaloepha",
    "synaloepha of -y": "synaloepha",
}
_EXPANDED = {"sounded -ed": "sounded -ed", "fire in two": "two syllables", "diaeresis of -ion": "diaeresis"}
# How strong a pause each stop makes; set by hand, only their order matters.
_STOPS = ((3, r"[.?!…]"), (3, r"[;:—–]|--"), (2, r","), (1, r"[()\"“”]"))


def _spoken(tokens: Sequence[VerseWord], reading: MetricalReading, place: StanzaLine) -> tuple[str, str]:
    """The spoken stress, and another that good readers might prefer; the same twice if none is good enough.

    They differ only in words of one syllable, because the stress of a longer word is not a matter of taste.
    """
    fixed = [each.settled for said in reading.said for each in said.syllables]
    syllables = spoken_syllables(tokens, reading, not place.foot.duple)
    best = likeliest(syllables, fixed if any(fixed) else None)[0]
    alone = [len(said.syllables) == 1 for said in reading.said for _ in said.syllables]
    held = [
        None if one and sure is None else mark for one, sure, mark in zip(alone, fixed, best[1], strict=True)
    ]
    ways = likeliest(syllables, held)
    near = len(ways) > 1 and best[0] - ways[1][0] < _OPEN
    return best[1], ways[1][1] if near else best[1]


def _why(tokens: Sequence[VerseWord], reading: MetricalReading, best: str, other: str) -> str:
    """In a performer's words, how two readings of the line differ."""
    owner = [k for k, said in enumerate(reading.said) for _ in said.syllables]
    gained, lost = (
        dict.fromkeys(owner[i] for i, (a, b) in enumerate(zip(best, other, strict=True)) if a + b == pair)
        for pair in ("ws", "sw")
    )
    up, down = (" ".join(tokens[k].word.text for k in ks) for ks in (gained, lost))
    if gained and lost:
        return f"stress “{up}” rather than “{down}”"
    return f"“{up}” may take stress as well" if gained else f"“{down}” may be said lightly"


def _caesura(tokens: Sequence[VerseWord], text: str) -> int | None:
    """The word after the main pause inside the line; None if no stop is printed there."""
    best: tuple[float, int] | None = None
    middle = len(tokens) / 2
    for k in range(1, len(tokens)):
        gap = text[tokens[k - 1].word.end : tokens[k].word.start]
        weight = max((w for w, pattern in _STOPS if re.search(pattern, gap)), default=0)
        if weight:
            key = (weight - abs(k - middle) / len(tokens), tokens[k].word.i)
            best = key if best is None or key[0] > best[0] else best
    return best[1] if best is not None else None


def _changes(tokens: Sequence[VerseWord], reading: MetricalReading) -> list[str]:
    """The names of the line's elisions and expansions, each with its word."""
    found = []
    for token, said in zip(tokens, reading.said, strict=True):
        if said.name in _ELIDED:
            found.append(f"elision ({token.word.text}: {_ELIDED[said.name]})")
        elif said.name in _EXPANDED:
            found.append(f"expansion ({token.word.text}: {_EXPANDED[said.name]})")
        elif _left_out(token.form):
            found.append(f"elision as printed ({token.word.text})")
        elif token.form.endswith("èd"):
            found.append(f"expansion as printed ({token.word.text})")
    return found


_PRINTED = re.compile(r"[a-z]'(?!s$)[a-z]|^o'er|^e'er|^th'")
_MODERN = re.compile(r"(?:n't|'ll|'re|'ve|i'm|'m|i'd)$")
# participles and adjectives whose -ed is, or may be, a syllable today, so that -'d leaves it out
_MAY_SOUND = """
aged belov bless bow'r crook curs dogg hallow jagg learn leg naked ragg rugg sacr wick wing wretch
"""


def _left_out(form: str) -> bool:
    """Whether the spelling leaves out a syllable that is said today, or may be: heav'n, bless'd, not charm'd.

    -'d for a silent -ed is only an old spelling.
    """
    if not _PRINTED.search(form) or _MODERN.search(form):
        return False
    stem = form.removesuffix("'d")
    if stem == form or "'" in stem:
        return True
    return stem.endswith(("t", "d")) or stem in _MAY_SOUND.split()


def _feet_of(reading: MetricalReading, place: StanzaLine) -> int:
    """How many feet the line has: as many as beats, or as many as its place if it has syllables for them.

    A line of ten syllables and four beats among pentameters has five feet, one of them a pyrrhic.
    """
    short = len(place.foot.plain) * place.beats - len(reading.labels)
    full = short in ((0, -1) if place.foot.rising else (0, 1))
    return place.beats if place.foot.duple and full else reading.beats


def _length(feet: int, place: StanzaLine) -> list[str]:
    if feet == place.beats:
        return []
    if place.foot.name == "iambic" and (feet, place.beats) == (HEXAMETER, PENTAMETER):
        return ["alexandrine"]
    kind = "short" if feet < place.beats else "long"
    return [f"{kind} line ({line_name(StanzaLine(place.foot, feet))})"]


def scansion(
    tokens: Sequence[VerseWord],
    reading: MetricalReading | None,
    place: StanzaLine,
    text: str,
    *,
    enjambed: bool,
    free: bool,
) -> Scansion | None:
    """The scanned line; None if it has no reading.

    place: its foot and length in the stanza. text: of the whole script. enjambed: whether the sentence
    continues on the next line. free: whether it is free verse, which has stress and groups of syllables but
    no metre.
    """
    if reading is None:
        return None
    stress, other = _spoken(tokens, reading, place)
    count = _feet_of(reading, place)
    feet = divide_feet(reading.labels, place.foot.name, count)
    sizes = [len(foot) for foot in feet]
    length, changes = _length(count, place), _changes(tokens, reading)

    def named(marks: str) -> tuple[str, ...]:
        return () if free else (*length, *variations_of(sizes, marks, place.foot), *changes)

    others: tuple[OpenReading, ...] = ()
    if other != stress:
        others = (OpenReading(other, _why(tokens, reading, stress, other), named(other)),)
    return Scansion(
        n=tokens[0].word.line,
        stress=stress,
        feet=feet,
        pattern="" if free else place.foot.plain * count,
        syllables=len(stress),
        word_syllables=tuple(len(s.syllables) for s in reading.said),
        metre=None if free else line_name(StanzaLine(place.foot, count)),
        variations=named(stress),
        caesura_before_word=_caesura(tokens, text),
        enjambed=enjambed,
        open=others,
    )
