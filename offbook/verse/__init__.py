"""Verse: the metre of a speech and every line read in it.

The metre is chosen for the whole passage, because a single line can be read many ways and its
neighbours say which. Each line is then read in that metre: which syllables are beats, which words are
elided, where the line departs from the plain metre and what a handbook calls that. Two answers are kept
apart: the feet (what the metre makes of the line) and the spoken stress (what a reader says). Prose is
left alone; free verse gets its spoken stress, in groups of syllables, and no metre.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from offbook.script import Line, Script
from offbook.verse.beats import Reading
from offbook.verse.form import FREE, form_name, irregularity, is_free
from offbook.verse.kinds import Fixes, Form, OpenReading, Scansion, Versification
from offbook.verse.lines import scansion
from offbook.verse.metres import IAMBIC, TROCHAIC
from offbook.verse.shared import share, share_with_cues
from offbook.verse.syllables import Token, tokens_of
from offbook.verse.whole import SAMPLE, Heard, Place, choose, forms_by_block, read_in
from offbook.words import Word

__all__ = ["Fixes", "OpenReading", "Scansion", "Versification", "scan"]

_NO_FIXES: Fixes = MappingProxyType({})


def scan(script: Script, words: Sequence[Word], fixes: Mapping[int | str, str] = _NO_FIXES) -> Versification:
    """The versification of `script`: its form, its metre, and each of its verse lines scanned.

    fixes: the performer's own stresses, see `Fixes`. Lines that are prose (`Line.verse` false), and lines
    no metre can hold (more than 45 words), come back as None. Never fails on odd text.
    """
    by_line: dict[int, list[Word]] = {}
    for word in words:
        by_line.setdefault(word.line, []).append(word)
    lines = [line for line in script.lines if line.n in by_line and line.verse]
    form: Form = "prose" if not lines else "mixed" if script.form == "mixed" else "verse"
    if not lines:
        return Versification("prose", None, tuple(None for _ in script.lines))
    tokens = [tokens_of(by_line[line.n], script.text, fixes) for line in lines]
    heard = [Heard(each) for each in tokens]
    places = forms_by_block(heard, [line.paragraph for line in lines], choose(heard[:SAMPLE], _stanza(lines)))
    chosen = read_in(heard, places)
    if not any(chosen):
        return Versification("prose", None, tuple(None for _ in script.lines))
    ends = [each[-1].word.text for each in tokens]
    free = is_free(chosen, places, ends)
    name = FREE if free else form_name(places, ends)
    fit = round(max(0.0, 1.0 - irregularity(chosen, places)), 3)
    scanned = _scanned(script, lines, tokens, chosen, places, free)
    other = "" if free else _other_name(chosen, places)
    return Versification(form, name, tuple(scanned.get(line.n) for line in script.lines), fit, other)


def _stanza(lines: Sequence[Line]) -> int | None:
    """The number of lines in a printed stanza, where all have the same."""
    sizes = set(Counter(line.paragraph for line in lines).values())
    return sizes.pop() if len(sizes) == 1 else None


def _scanned(
    script: Script,
    lines: Sequence[Line],
    tokens: Sequence[Sequence[Token]],
    chosen: list[Reading | None],
    places: Sequence[Place],
    free: bool,
) -> dict[int, Scansion]:
    shared = {} if free else share(lines, tokens, chosen, places)
    completed = {} if free else share_with_cues(script, lines, tokens, chosen, places)
    found = {}
    for k, line in enumerate(lines):
        made = scansion(
            tokens[k],
            chosen[k],
            places[k],
            script.text,
            enjambed=_runs_on(script, lines, tokens, k),
            free=free,
        )
        if made is None:
            continue
        if k in shared or k in completed:
            with_whom = lines[shared[k]].speaker if k in shared else completed[k]
            kept = [v for v in made.variations if not v.startswith(("short line", "headless"))]
            made = replace(
                made,
                variations=(f"shared line (with {with_whom})", *kept),
                shared_with=lines[shared[k]].n if k in shared else None,
            )
        found[line.n] = made
    return found


def _runs_on(script: Script, lines: Sequence[Line], tokens: Sequence[Sequence[Token]], k: int) -> bool:
    """Whether line `k` runs on into the next without a stop. False where the text has no stops at all."""
    if k + 1 >= len(lines):
        return False
    line, after = lines[k], lines[k + 1]
    if line.speaker != after.speaker or line.paragraph != after.paragraph or after.n != line.n + 1:
        return False
    end = script.text[tokens[k][-1].word.end : tokens[k + 1][0].word.start]
    return not re.search(r"[.,;:?!—–)…-]", end) and bool(re.search(r"[.,;:?!]", script.text))


def _other_name(chosen: Sequence[Reading | None], places: Sequence[Place]) -> str:
    """The other name of a metre of two that can be called iambic without its first syllable, or trochaic
    without its last, where such lines are a third of the passage or more."""
    read = [r.labels for r in chosen if r is not None]
    bare = sum(x[0] == "s" and x[-1] == "s" and "sws" in x[:3] for x in read)
    if bare < 0.34 * len(read):
        return ""
    feet = {place.foot for place in places}
    if feet == {IAMBIC}:
        return "trochaic, its last syllable left off (catalectic)"
    return "iambic, its first syllable left off (headless)" if feet == {TROCHAIC} else ""
