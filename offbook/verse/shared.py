"""Lines that two speakers complete between them: each half is read as its part of the whole line."""

from __future__ import annotations

from collections.abc import Sequence

from offbook.script import Cue, Line, Script
from offbook.spelling import PRINTED_WORD
from offbook.verse.beats import MetricalReading, metrical_readings
from offbook.verse.costs import READING
from offbook.verse.syllables import VerseWord, tokens_of
from offbook.verse.whole import StanzaLine
from offbook.words import Word

_DEARER = 1.5  # natural log units: one shared line may cost so much more than two short lines; set by hand
_MOST_PARTS = 4  # of one line; set by hand, because more are hardly ever printed
_EXTRA_SYLLABLES = 2  # that a shared line may have more than its feet; set by hand


def _joined(parts: Sequence[Sequence[VerseWord]], place: StanzaLine) -> MetricalReading | None:
    """All parts read as one line at the place; None if they cannot be read so."""
    return metrical_readings([token for part in parts for token in part], place.foot, READING).get(
        place.beats
    )


def _half(whole: MetricalReading, start: int, end: int) -> MetricalReading:
    """Words `start` to `end` (exclusive) of a reading, as a reading of their own."""
    before = sum(len(s.syllables) for s in whole.said[:start])
    count = sum(len(s.syllables) for s in whole.said[start:end])
    labels = whole.labels[before : before + count]
    return MetricalReading(whole.cost, labels, whole.said[start:end], labels.count("s"))


def _makes_one(
    whole: MetricalReading | None, parts: Sequence[MetricalReading | None], place: StanzaLine
) -> bool:
    """Whether the parts, each with too few beats, make one line that does not cost much more than they do."""
    alone = [part for part in parts if part is not None]
    if whole is None or len(alone) < len(parts) or any(part.beats >= place.beats for part in alone):
        return False
    if len(whole.labels) > len(place.foot.plain) * place.beats + _EXTRA_SYLLABLES:
        return False
    return whole.cost <= sum(part.cost for part in alone) + _DEARER * (len(alone) - 1)


def join_shared_lines(
    lines: Sequence[Line],
    tokens: Sequence[Sequence[VerseWord]],
    chosen: list[MetricalReading | None],
    places: Sequence[StanzaLine],
) -> dict[int, tuple[int, ...]]:
    """Find the lines that two or more speakers share, and change `chosen` to their reading as one line.

    Returns for the index of each part the indices of the other parts.
    """
    found: dict[int, tuple[int, ...]] = {}
    k = 0
    while k < len(lines) - 1:
        parts = _parts_from(k, lines, tokens, chosen, places)
        start = 0
        for n in parts[0]:
            assert parts[1] is not None
            chosen[n] = _half(parts[1], start, start + len(tokens[n]))
            start += len(tokens[n])
            found[n] = tuple(other for other in parts[0] if other != n)
        k += max(1, len(parts[0]))
    return found


def _parts_from(
    k: int,
    lines: Sequence[Line],
    tokens: Sequence[Sequence[VerseWord]],
    chosen: Sequence[MetricalReading | None],
    places: Sequence[StanzaLine],
) -> tuple[range, MetricalReading | None]:
    """The fewest lines from `k` on that make one line together, and its reading; no lines if none do."""
    for end in range(k + 2, min(k + _MOST_PARTS, len(lines)) + 1):
        before, after = lines[end - 2].speaker, lines[end - 1].speaker
        if before is None or after is None or before == after:
            break
        whole = _joined(tokens[k:end], places[k])
        if _makes_one(whole, chosen[k:end], places[k]):
            return range(k, end), whole
    return range(k, k), None


def cue_rows(cue: Cue) -> list[tuple[VerseWord, ...]]:
    """The lines of a cue, prepared for the metre."""
    found = []
    for row in cue.text.split("\n"):
        words = [
            Word(-1, m.group(), m.start(), m.end(), 0, 0, ((m.group().lower(),),))
            for m in PRINTED_WORD.finditer(row)
        ]
        if words:
            found.append(tokens_of(words, row, {}))
    return found


def share_with_cues(
    script: Script,
    lines: Sequence[Line],
    tokens: Sequence[Sequence[VerseWord]],
    chosen: list[MetricalReading | None],
    places: Sequence[StanzaLine],
) -> dict[int, str]:
    """The performer's lines that make one line with a cue: the other speaker by the index of the line.

    The reading of such a line in `chosen` is changed to its part of the whole line.
    """
    found: dict[int, str] = {}
    index = {line.n: k for k, line in enumerate(lines)}
    said = [(cue, rows) for cue in script.cues if (rows := cue_rows(cue))]
    # Of several cues in a row only the last is next to the line after them, and the first to the line before.
    before = {cue.before_line: cue for cue, _ in said}
    begun: set[int] = set()
    for cue, rows in said:
        after = index.get(cue.before_line) if cue.before_line is not None else None
        ended = next((k for k in range(len(lines) - 1, -1, -1) if lines[k].end <= cue.start), None)
        beside = [(after, True)] if before[cue.before_line] is cue else []
        if ended is not None and ended not in begun:
            begun.add(ended)
            beside.append((ended, False))
        for k, last in beside:
            if k is None or k in found:
                continue
            half = _completing(rows[-1 if last else 0], last, tokens[k], chosen[k], places[k])
            if half is not None:
                chosen[k] = half
                found[k] = cue.speaker
    return found


def _completing(
    cue: Sequence[VerseWord],
    before: bool,
    own: Sequence[VerseWord],
    reading: MetricalReading | None,
    place: StanzaLine,
) -> MetricalReading | None:
    """The reading of the performer's part of a line that begins or ends in a cue; None if it does not."""
    if reading is None or reading.beats >= place.beats:
        return None
    alone = min(metrical_readings(cue, place.foot, READING).values(), key=lambda r: r.cost, default=None)
    whole = _joined((cue, own) if before else (own, cue), place)
    if whole is None or not _makes_one(whole, (alone, reading), place):
        return None
    start = len(cue) if before else 0
    return _half(whole, start, start + len(own))
