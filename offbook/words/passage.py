"""A stretch of the speech as it is in the script, with its punctuation.

Thoughts and answers are kept as words, but a person learning them needs the stops, which show how a thought
is said. What was left out of the speech (directions, speakers' names, other parts) is left out here too.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from offbook.script import Line, Script
from offbook.words.entries import Word

_MARKUP = re.compile(r"[*_#~`^<>|\\\[\]{}]+")
_OPENING = "“‘\"'(¿¡«"  # punctuation that belongs to the word after it
LINE_END = " / "  # the end of a line of verse that is quoted in prose


def as_written(script: Script, words: Sequence[Word], first: int, last: int) -> str:
    """Words `first` to `last` (both included) with punctuation, and " / " where a line of verse ends."""
    between, texts = between_words(script, words, first, last), [w.text for w in words[first : last + 1]]
    row = between[0] + "".join(text + after for text, after in zip(texts, between[1:], strict=True))
    return re.sub(r" {2,}", " ", row).strip()


def between_words(script: Script, words: Sequence[Word], first: int, last: int) -> list[str]:
    """What is printed before word `first` and after each word up to `last`: stops, blanks, ends of lines."""
    lines = {line.n: line for line in script.lines}
    gone = sorted([(x.start, x.end) for x in script.left_out] + [(c.start, c.end) for c in script.cues])
    out = [_opening_mark(script, lines, gone, words, first)]
    for k in range(first, last + 1):
        w = words[k]
        after = words[k + 1] if k < last else None
        if after is not None and after.line == w.line:
            out.append(_clean(script, gone, w.end, after.start) or " ")
            continue
        tail = _stops_after(script, lines, gone, words, k)
        if after is not None:
            verse = lines[w.line].verse and lines[after.line].verse
            tail += (LINE_END if verse else " ") + _opening_mark(script, lines, gone, words, k + 1)
        out.append(tail)
    return out


def _stops_after(
    script: Script, lines: dict[int, Line], gone: list[tuple[int, int]], words: Sequence[Word], k: int
) -> str:
    """The stops that follow word k, up to the next word or the end of its line."""
    w = words[k]
    end = lines[w.line].end
    if k + 1 < len(words) and words[k + 1].line == w.line:
        end = words[k + 1].start
    gap = _clean(script, gone, w.end, max(w.end, end))
    stops = gap.split(" ")[0] if not gap.startswith(" ") else ""
    rest = gap[len(stops) :].strip()
    if not stops and rest[:1] in ("—", "–", "…"):  # a dash with a blank before it
        stops = f" {rest[0]}"
    return _only_punctuation(stops.rstrip(_OPENING.replace('"', "").replace("'", "")))


def _opening_mark(
    script: Script, lines: dict[int, Line], gone: list[tuple[int, int]], words: Sequence[Word], k: int
) -> str:
    """The opening quotation mark or bracket right before word k."""
    w = words[k]
    start = max(lines[w.line].start, words[k - 1].end if k else 0)
    gap = _clean(script, gone, min(start, w.start), w.start)
    mark = re.search(f"[{re.escape(_OPENING)}]+$", gap)
    return "" if mark is None else mark[0]


def _clean(script: Script, gone: list[tuple[int, int]], start: int, end: int) -> str:
    """The script between two offsets, without what was left out and without mark-up.

    gone: the stretches that were left out.
    """
    kept, at = [], start
    for a, b in gone:
        if b <= at or a >= end:
            continue
        kept.append(script.text[at : max(at, a)])
        at = max(at, b)
    kept.append(script.text[at:end] if at < end else "")
    return re.sub(r"\s+", " ", _MARKUP.sub("", " ".join(kept)))


def _only_punctuation(stops: str) -> str:
    """`stops` if they are only punctuation, else nothing."""
    return stops if all(unicodedata.category(c)[0] in "PSZ" for c in stops) else ""
