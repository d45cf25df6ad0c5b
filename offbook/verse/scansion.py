"""Verse: the metre of a speech, and every line read in it.

The metre is chosen for the whole passage, because a single line can be read in several ways, and the other
lines show which one fits. Each line is then read in that metre: which syllables are beats, which words are
elided, where the line differs from the plain metre, and what a handbook calls that. There are two different
results: the feet (the line as the metre has it) and the spoken stress (the line as a reader says it). Prose
is not scanned; free verse gets its spoken stress in groups of syllables, but no metre.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from types import MappingProxyType

from offbook.script import Line, Script
from offbook.verse.beats import MetricalReading
from offbook.verse.form import RHYMED, accentual_name, form_name, irregularity, is_accentual, is_free
from offbook.verse.kinds import Fixes, Form, OpenReading, Scansion, Versification
from offbook.verse.lines import scansion
from offbook.verse.metres import IAMBIC, TROCHAIC
from offbook.verse.rhyme import rhymed_share
from offbook.verse.setting import FREE, set_metre
from offbook.verse.shared import cue_rows, join_shared_lines, share_with_cues
from offbook.verse.syllables import VerseWord, tokens_of
from offbook.verse.whole import (
    SAMPLE,
    LineReadings,
    StanzaLine,
    Whole,
    fitting_form,
    forms_by_block,
    read_at_places,
    turned,
)
from offbook.words import Word

__all__ = ["Fixes", "OpenReading", "Scansion", "Versification", "scan"]

# words: a line of a scene that has no more may be part of a line; set by hand
_PART_WORDS = 5
# variations that a part of a line has only because the rest of the line is missing
_OF_A_PART = ("short line", "headless", "monosyllabic foot")
_NO_FIXES: Fixes = MappingProxyType({})
_FIT_DECIMALS = 3
# the share of lines that begin and end with a beat, from which on the metre has two names; set by hand
_BOTH_NAMES = 0.34
_OPENING = len("sws")  # syllables of a line that begins with a beat in a metre of two


def scan(
    script: Script,
    words: Sequence[Word],
    fixes: Mapping[int | str, str] = _NO_FIXES,
    metre: str | None = None,
) -> Versification:
    """The versification of `script`: its form, its metre, and the scansion of each line of verse.

    fixes: the performer's own stresses, see `Fixes`. metre: the name that the performer gives it, see
    `setting.set_metre`; None to work it out from the lines. The scansion is None for a line of prose, and for
    a line that is too long for any metre (`LONGEST_LINE`). Raises MetreError for an unknown name.
    """
    by_line = _by_line(words)
    lines = [line for line in script.lines if line.n in by_line and line.verse]
    own = set_metre(metre) if metre is not None else None
    prose = Versification("prose", None, tuple(None for _ in script.lines))
    if not lines:
        return prose
    tokens = [tokens_of(by_line[line.n], script.text, fixes) for line in lines]
    heard = [LineReadings(each) for each in tokens]
    edges = _edges(script, lines)
    ends = [each[-1].word.text for each in tokens]
    places = _cycled(own[1], lines) if own and own[1] else _places_told(script, lines, heard, edges, ends)
    chosen = read_at_places(heard, places)
    if own is None:
        places = turned(chosen, places)
    if not any(chosen):
        return prose
    shared = join_shared_lines(lines, tokens, chosen, places)
    completed = share_with_cues(script, lines, tokens, chosen, places)
    parts = _shorter(edges, chosen, places) | set(shared) | set(completed)
    name = own[0] if own else _metre_name(chosen, places, ends, parts)
    free = name == FREE
    fit = round(max(0.0, 1.0 - irregularity(chosen, places, parts)), _FIT_DECIMALS)
    partners = {} if free else _partners(lines, shared, completed)
    scanned = _scanned(script, lines, tokens, chosen, places, free, partners)
    other = "" if free else _other_name(chosen, places)
    form: Form = "mixed" if script.form == "mixed" else "verse"
    return Versification(form, name, tuple(scanned.get(line.n) for line in script.lines), fit, other)


def _by_line(words: Sequence[Word]) -> dict[int, list[Word]]:
    """The words of each line, by the line's number."""
    found: dict[int, list[Word]] = {}
    for word in words:
        found.setdefault(word.line, []).append(word)
    return found


def _places_told(
    script: Script,
    lines: Sequence[Line],
    heard: Sequence[LineReadings],
    edges: frozenset[int],
    ends: Sequence[str],
) -> list[StanzaLine]:
    """The place (foot and length) of each line in the metre that fits the lines best."""
    rhymed = rhymed_share(ends) >= RHYMED
    whole = _of_scene(script, heard, edges) if edges else fitting_form(heard[:SAMPLE], _stanza(lines), rhymed)
    return forms_by_block(heard, [line.paragraph for line in lines], whole)


def _shorter(
    edges: Set[int], chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine]
) -> set[int]:
    """The lines next to another speaker's that have too few beats for the metre: they are parts of a line."""
    return {k for k in edges if (r := chosen[k]) is not None and r.beats < places[k].beats}


def _metre_name(
    chosen: Sequence[MetricalReading | None],
    places: Sequence[StanzaLine],
    ends: Sequence[str],
    parts: Set[int],
) -> str:
    """The name of the metre, or "free verse"."""
    if is_free(chosen, places, ends, parts):
        return FREE
    return accentual_name(places[0]) if is_accentual(chosen, places, ends) else form_name(places, ends)


def _cycled(stanza: Sequence[StanzaLine], lines: Sequence[Line]) -> list[StanzaLine]:
    """The places of a stanza, repeated for all lines; a new paragraph begins with the first place again."""
    found: list[StanzaLine] = []
    at = 0
    for k, line in enumerate(lines):
        at = 0 if k and line.paragraph != lines[k - 1].paragraph else at
        found.append(stanza[at % len(stanza)])
        at += 1
    return found


def _stanza(lines: Sequence[Line]) -> int | None:
    """The number of lines in a printed stanza, None if the stanzas differ."""
    sizes = set(Counter(line.paragraph for line in lines).values())
    return sizes.pop() if len(sizes) == 1 else None


def _scanned(
    script: Script,
    lines: Sequence[Line],
    tokens: Sequence[Sequence[VerseWord]],
    chosen: list[MetricalReading | None],
    places: Sequence[StanzaLine],
    free: bool,
    partners: Mapping[int, tuple[str, int | None]],
) -> dict[int, Scansion]:
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
        if k in partners:
            with_whom, other = partners[k]
            kept = [v for v in made.variations if not v.startswith(_OF_A_PART)]
            if other is not None and other > line.n:  # another speaker continues the line
                kept = [v.removesuffix(", feminine ending") for v in kept if v != "feminine ending"]
            made = replace(
                made,
                variations=(f"shared line (with {with_whom})", *kept),
                shared_with=other,
            )
        found[line.n] = made
    return found


def _partners(
    lines: Sequence[Line], shared: Mapping[int, tuple[int, ...]], completed: Mapping[int, str]
) -> dict[int, tuple[str, int | None]]:
    """For each part of a shared line, by index: who says the rest, and the number of the nearest part."""
    found: dict[int, tuple[str, int | None]] = {k: (name, None) for k, name in completed.items()}
    for k, others in shared.items():
        names = dict.fromkeys(lines[n].speaker or "" for n in others)
        nearest = min(others, key=lambda n: (abs(n - k), -n))  # the next part, or for the last the one before
        found[k] = (" and ".join(names), lines[nearest].n)
    return found


def _edges(script: Script, lines: Sequence[Line]) -> frozenset[int]:
    """The indices of lines before or after which somebody else speaks: they may be parts of a line."""
    after_cue = {cue.before_line for cue in script.cues}
    found = set()
    for k in range(1, len(lines)):
        if lines[k - 1].speaker != lines[k].speaker or lines[k].n in after_cue:
            found |= {k - 1, k}
    return frozenset(found)


def _of_scene(script: Script, heard: Sequence[LineReadings], edges: frozenset[int]) -> Whole:
    """The place (foot and length) for all lines of a scene, chosen by the lines that are not parts of a line.

    The lines of the cues are used as well.
    """
    inner = [line for k, line in enumerate(heard) if k not in edges or len(line.tokens) > _PART_WORDS]
    inner = inner[:SAMPLE]
    for cue in script.cues:
        if len(inner) >= SAMPLE:
            break
        inner += [LineReadings(row) for row in cue_rows(cue) if len(row) > _PART_WORDS]
    found = fitting_form(inner or list(heard[:SAMPLE]))
    if len(found.places) == 1:
        return found
    common = max(found.places, key=found.places.count)
    return Whole((common,), found.cost)


def _runs_on(script: Script, lines: Sequence[Line], tokens: Sequence[Sequence[VerseWord]], k: int) -> bool:
    """Whether line `k` continues in the next without a stop. False for a text without any stops."""
    if k + 1 >= len(lines):
        return False
    line, after = lines[k], lines[k + 1]
    if line.speaker != after.speaker or line.paragraph != after.paragraph or after.n != line.n + 1:
        return False
    end = script.text[tokens[k][-1].word.end : tokens[k + 1][0].word.start]
    return not re.search(r"[.,;:?!—–)…-]", end) and bool(re.search(r"[.,;:?!]", script.text))


def _other_name(chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine]) -> str:
    """The other name of a metre, if many lines begin and end with a beat; otherwise "".

    Such lines can be called iambic without the first syllable, or trochaic without the last.
    """
    read = [r.labels for r in chosen if r is not None]
    bare = sum(x[0] == "s" and x[-1] == "s" and "sws" in x[:_OPENING] for x in read)
    if bare < _BOTH_NAMES * len(read):
        return ""
    feet = {place.foot for place in places}
    if feet == {IAMBIC}:
        return "trochaic, its last syllable left off (catalectic)"
    return "iambic, its first syllable left off (headless)" if feet == {TROCHAIC} else ""
