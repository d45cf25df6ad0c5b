"""A script corrected by hand: the performer says that a stretch is spoken, or is not.

offbook works out from the page what is spoken; the performer knows better. A choice gives a stretch of the
text by its offsets. The lines are then made again, row by row. A row that was a line before keeps its
speaker, its kind (verse or prose) and its paragraph; one that was not takes them from the line beside it.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from offbook.errors import ScriptError
from offbook.script.reading import Cue, LeftOut, Line, Script, close_gaps, form_of

BY_HAND = "you took it out"
_BETWEEN_PARAGRAPHS = 0.5  # added to a paragraph's number: after it and before the next
_ROW = re.compile(r"[^\n]+")


@dataclass(frozen=True, slots=True)
class RespokenStretch:
    """The performer's word that text[start:end] of the script is spoken, or is not.

    Offsets in code points.
    """

    start: int
    end: int
    spoken: bool


def respoken(script: Script, choices: Iterable[RespokenStretch]) -> Script:
    """`script` with the choices applied in order, so that a later one wins over an earlier one.

    Raises ScriptError if nothing would be left to say.
    """
    chosen = list(choices)
    if not chosen:
        return script
    mask = _mask(script)
    left_out = list(script.left_out)
    for c in chosen:
        mask[c.start : c.end] = bytes([c.spoken]) * (min(c.end, len(mask)) - c.start)
        left_out = [part for out in left_out for part in _without(script.text, out, c)]
        if not c.spoken:
            left_out.append(LeftOut(c.start, c.end, script.text[c.start : c.end], BY_HAND))
    lines = _lines(script, mask)
    if not lines:
        raise ScriptError("nothing would be left to say", "leave at least one line spoken")
    return replace(
        script,
        form=form_of(lines),
        lines=lines,
        left_out=tuple(sorted(left_out, key=lambda x: (x.start, x.end))),
        cues=_cues(script.cues, lines),
    )


def _mask(script: Script) -> bytearray:
    """For each character of the script 1 if it is spoken, else 0."""
    mask = bytearray(len(script.text))
    for line in script.lines:
        mask[line.start : line.end] = b"\1" * (line.end - line.start)
    for out in script.left_out:
        mask[out.start : out.end] = bytes(out.end - out.start)
    return mask


def _without(text: str, out: LeftOut, choice: RespokenStretch) -> list[LeftOut]:
    """The parts of `out` that lie outside the choice."""
    if choice.end <= out.start or out.end <= choice.start:
        return [out]
    parts = [(out.start, choice.start), (choice.end, out.end)]
    return [LeftOut(a, b, text[a:b], out.reason) for a, b in parts if a < b and text[a:b].strip()]


def _lines(script: Script, mask: bytearray) -> tuple[Line, ...]:
    """The rows with spoken characters in them, as lines."""
    text = script.text
    starts = [line.start for line in script.lines]
    found: list[tuple[float, Line]] = []
    for row in _ROW.finditer(text):
        said = [k for k in range(row.start(), row.end()) if mask[k] and not text[k].isspace()]
        if not any(text[k].isalnum() for k in said):
            continue
        start, end = said[0], said[-1] + 1
        words = close_gaps("".join(text[k] if mask[k] else " " for k in range(start, end)))
        k = bisect_right(starts, end - 1) - 1
        old = script.lines[k] if k >= 0 and script.lines[k].end > start else None
        like = old or script.lines[max(0, k)]
        touching = _paragraph(text, script.lines, k, start, end)
        paragraph = float(like.paragraph) if old is not None else touching
        found.append((paragraph, replace(like, start=start, end=end, text=words)))
    ranks = {p: n for n, p in enumerate(sorted({p for p, _ in found}), 1)}
    return tuple(replace(line, n=n, paragraph=ranks[p]) for n, (p, line) in enumerate(found, 1))


def _paragraph(text: str, lines: Sequence[Line], k: int, start: int, end: int) -> float:
    """The paragraph of a row that was not a line before: that of the line it touches, else a new one.

    A new one lies halfway between the numbers of the paragraphs around it; the caller numbers them all again.
    """
    if k >= 0 and text[lines[k].end : start].count("\n") == 1:
        return float(lines[k].paragraph)
    if k + 1 < len(lines) and text[end : lines[k + 1].start].count("\n") == 1:
        return float(lines[k + 1].paragraph)
    return (lines[k].paragraph if k >= 0 else 0) + _BETWEEN_PARAGRAPHS


def _cues(cues: Sequence[Cue], lines: Sequence[Line]) -> tuple[Cue, ...]:
    """The cues, each before the line that follows it now."""
    return tuple(
        replace(c, before_line=next((line.n for line in lines if line.start >= c.end), None)) for c in cues
    )
