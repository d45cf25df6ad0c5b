"""A script corrected by hand: a stretch that is spoken after all, or that is not.

What is spoken was worked out from the page; the performer knows better. A choice names a stretch of the
text by its offsets, and the lines are drawn again from what is spoken then, row by row, each keeping the
speaker, the kind and the paragraph of the line it was, or of its neighbour where it was none.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from offbook.errors import ScriptError
from offbook.script.reading import Cue, Form, LeftOut, Line, Script

BY_HAND = "you took it out"
_ROW = re.compile(r"[^\n]+")


@dataclass(frozen=True, slots=True)
class RespokenStretch:
    """text[start:end] is spoken, or is not, whatever the page looks like."""

    start: int
    end: int
    spoken: bool


def respoken(script: Script, choices: Iterable[RespokenStretch]) -> Script:
    """`script` with the choices made, the later ones over the earlier.

    Raises ScriptError where nothing would be left to say.
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
    kinds = {line.verse for line in lines}
    form: Form = "mixed" if len(kinds) > 1 else "verse" if kinds == {True} else "prose"
    return replace(
        script,
        form=form,
        lines=lines,
        left_out=tuple(sorted(left_out, key=lambda x: (x.start, x.end))),
        cues=_cues(script.cues, lines),
    )


def _mask(script: Script) -> bytearray:
    """1 for every character that is spoken."""
    mask = bytearray(len(script.text))
    for line in script.lines:
        mask[line.start : line.end] = b"\1" * (line.end - line.start)
    for out in script.left_out:
        mask[out.start : out.end] = bytes(out.end - out.start)
    return mask


def _without(text: str, out: LeftOut, choice: RespokenStretch) -> list[LeftOut]:
    """What of `out` lies outside the choice."""
    if choice.end <= out.start or out.end <= choice.start:
        return [out]
    parts = [(out.start, choice.start), (choice.end, out.end)]
    return [LeftOut(a, b, text[a:b], out.reason) for a, b in parts if a < b and text[a:b].strip()]


def _lines(script: Script, mask: bytearray) -> tuple[Line, ...]:
    """The rows that hold spoken characters, as lines."""
    text = script.text
    starts = [line.start for line in script.lines]
    found: list[tuple[float, Line]] = []
    for row in _ROW.finditer(text):
        said = [k for k in range(row.start(), row.end()) if mask[k] and not text[k].isspace()]
        if not any(text[k].isalnum() for k in said):
            continue
        start, end = said[0], said[-1] + 1
        kept = "".join(text[k] if mask[k] else " " for k in range(start, end))
        words = re.sub(r"\s+([,.;:!?])", r"\1", " ".join(kept.split()))
        k = bisect_right(starts, end - 1) - 1
        old = script.lines[k] if k >= 0 and script.lines[k].end > start else None
        like = old or script.lines[max(0, k)]
        touching = _paragraph(text, script.lines, k, start, end)
        paragraph = float(like.paragraph) if old is not None else touching
        found.append((paragraph, replace(like, start=start, end=end, text=words)))
    ranks = {p: n for n, p in enumerate(sorted({p for p, _ in found}), 1)}
    return tuple(replace(line, n=n, paragraph=ranks[p]) for n, (p, line) in enumerate(found, 1))


def _paragraph(text: str, lines: Sequence[Line], k: int, start: int, end: int) -> float:
    """The paragraph of a row that was no line: that of the line it touches, else one of its own."""
    if k >= 0 and text[lines[k].end : start].count("\n") == 1:
        return float(lines[k].paragraph)
    if k + 1 < len(lines) and text[end : lines[k + 1].start].count("\n") == 1:
        return float(lines[k + 1].paragraph)
    return (lines[k].paragraph if k >= 0 else 0) + 0.5


def _cues(cues: Sequence[Cue], lines: Sequence[Line]) -> tuple[Cue, ...]:
    """The cues before the lines as they are counted now."""
    return tuple(
        replace(c, before_line=next((line.n for line in lines if line.start >= c.end), None)) for c in cues
    )
