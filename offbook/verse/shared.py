"""Lines that two speakers complete between them: each half is read as its part of the whole line."""

from __future__ import annotations

import re
from collections.abc import Sequence

from offbook.script import Cue, Line, Script
from offbook.verse.beats import Reading, readings
from offbook.verse.syllables import Token, tokens_of
from offbook.verse.whole import Place
from offbook.words import Word

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*['’]?")
# how much dearer than two short lines one shared line may be
_DEARER = 1.5


def _joined(first: Sequence[Token], second: Sequence[Token], place: Place) -> Reading | None:
    """Both halves read as one line of the place; None where they do not make one."""
    return readings([*first, *second], place.foot).get(place.beats)


def _half(whole: Reading, start: int, end: int) -> Reading:
    """Words `start` to `end` (exclusive) of a reading, as a reading of their own."""
    before = sum(len(s.syllables) for s in whole.said[:start])
    count = sum(len(s.syllables) for s in whole.said[start:end])
    labels = whole.labels[before : before + count]
    return Reading(whole.cost, labels, whole.said[start:end], labels.count("s"))


def _makes_one(whole: Reading | None, first: Reading | None, second: Reading | None, place: Place) -> bool:
    if whole is None or first is None or second is None:
        return False
    short = (
        max(first.beats, second.beats) < place.beats
        and len(whole.labels) <= len(place.foot.plain) * place.beats + 2
    )
    return short and whole.cost <= first.cost + second.cost + _DEARER


def share(
    lines: Sequence[Line],
    tokens: Sequence[Sequence[Token]],
    chosen: list[Reading | None],
    places: Sequence[Place],
) -> dict[int, int]:
    """Find the lines that two speakers share and read them as one, in `chosen`.

    Gives for the index of each half the index of the other.
    """
    found: dict[int, int] = {}
    for k in range(len(lines) - 1):
        a, b = lines[k], lines[k + 1]
        if k in found or a.speaker is None or b.speaker is None or a.speaker == b.speaker:
            continue
        whole = _joined(tokens[k], tokens[k + 1], places[k])
        if whole is not None and _makes_one(whole, chosen[k], chosen[k + 1], places[k]):
            middle, end = len(tokens[k]), len(tokens[k]) + len(tokens[k + 1])
            chosen[k], chosen[k + 1] = _half(whole, 0, middle), _half(whole, middle, end)
            found[k], found[k + 1] = k + 1, k
    return found


def _cue_tokens(cue: Cue, last: bool) -> tuple[Token, ...]:
    """The last (or first) line of another speaker's words."""
    rows = [row for row in cue.text.split("\\n") if _WORD.search(row)]
    if not rows:
        return ()
    row = rows[-1 if last else 0]
    words = [
        Word(-1, m.group(), m.start(), m.end(), 0, 0, ((m.group().lower(),),)) for m in _WORD.finditer(row)
    ]
    return tokens_of(words, row, {})


def share_with_cues(
    script: Script,
    lines: Sequence[Line],
    tokens: Sequence[Sequence[Token]],
    chosen: list[Reading | None],
    places: Sequence[Place],
) -> dict[int, str]:
    """The performer's lines that complete, or are completed by, a cue: by index, the other speaker.

    Such a line is read as its part of the whole, in `chosen`.
    """
    found: dict[int, str] = {}
    index = {line.n: k for k, line in enumerate(lines)}
    for cue in script.cues:
        after = index.get(cue.before_line) if cue.before_line is not None else None
        ended = [k for k, line in enumerate(lines) if line.end <= cue.start]
        for k, last in ((after, True), (ended[-1] if ended else None, False)):
            if k is None or k in found:
                continue
            half = _completing(_cue_tokens(cue, last), last, tokens[k], chosen[k], places[k])
            if half is not None:
                chosen[k] = half
                found[k] = cue.speaker
    return found


def _completing(
    cue: Sequence[Token], before: bool, own: Sequence[Token], reading: Reading | None, place: Place
) -> Reading | None:
    """The performer's half line read as one with the cue's words before (or after) it, if they make one."""
    if not cue or reading is None or reading.beats >= place.beats:
        return None
    alone = min(readings(cue, place.foot).values(), key=lambda r: r.cost, default=None)
    whole = _joined(cue, own, place) if before else _joined(own, cue, place)
    if whole is None or not _makes_one(whole, alone, reading, place):
        return None
    start = len(cue) if before else 0
    return _half(whole, start, start + len(own))
