"""Verse: the metre of a speech and every line read in it.

The metre is chosen for the whole passage, because a single line can be read many ways and its
neighbours say which. Each line is then read in that metre: which syllables are beats, which words are
elided, where the line departs from the plain metre and what a handbook calls that. Two answers are kept
apart: the feet (what the metre makes of the line) and the spoken stress (what a reader says).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from offbook.script import Script
from offbook.verse.beats import Reading
from offbook.verse.feet import divide_feet, variations_of
from offbook.verse.kinds import Fixes, OpenReading, Scansion, Versification
from offbook.verse.metres import LENGTHS, Foot
from offbook.verse.syllables import Token, tokens_of
from offbook.verse.whole import choose, read_all, read_in
from offbook.words import Word

__all__ = ["Fixes", "OpenReading", "Scansion", "Versification", "scan"]


def scan(script: Script, words: Sequence[Word], fixes: Fixes | Mapping[int | str, str] = {}) -> Versification:  # noqa: B006
    """The versification of `script`: form, metre, and each of its lines scanned."""
    by_line: dict[int, list[Word]] = {}
    for word in words:
        by_line.setdefault(word.line, []).append(word)
    lines = [line for line in script.lines if line.n in by_line]
    tokens = [tokens_of(by_line[line.n], script.text, fixes) for line in lines]
    if not lines or script.form == "prose":
        return Versification("prose", None, tuple(None for _ in script.lines))
    found = read_all(tokens)
    whole = choose(found)
    chosen = read_in(tokens, found, whole)
    scanned = {}
    for k, line in enumerate(lines):
        place = whole.places[k % len(whole.places)]
        scanned[line.n] = _scansion(line.n, tokens[k], chosen[k], place.foot)
    name = ", ".join(sorted({f"{p.foot.name} {LENGTHS[p.beats]}" for p in whole.places}))
    return Versification("verse", name, tuple(scanned.get(line.n) for line in script.lines))


def _scansion(n: int, tokens: Sequence[Token], reading: Reading | None, foot: Foot) -> Scansion | None:
    if reading is None:
        return None
    feet = divide_feet(reading.labels, foot.name, reading.beats)
    counts = tuple(len(s.syllables) for s in reading.said)
    return Scansion(
        n, reading.labels, feet, foot.plain * reading.beats, len(reading.labels), counts,
        f"{foot.name} {LENGTHS[reading.beats]}", variations_of(feet, foot), None, False,
    )
