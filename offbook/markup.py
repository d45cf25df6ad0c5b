"""The marked script: everything found about a speech, put together in one place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from offbook.script import Script
from offbook.timing import RunningTime
from offbook.words import Word


@dataclass(frozen=True, slots=True)
class Marked:
    """A marked script. lines and shifts are in the contract's JSON shape for now."""

    script: Script
    words: tuple[Word, ...]
    lines: tuple[dict[str, Any], ...]
    shifts: tuple[dict[str, Any], ...]
    time: RunningTime


def _shifts(script: Script, words: tuple[Word, ...]) -> tuple[dict[str, Any], ...]:
    try:
        from offbook.thoughts import shifts_of
    except ImportError:
        return tuple(_shifts_by_stops(script, words))
    return tuple(
        {"before_word": s.before_word, "grade": s.grade, "reason": s.reason} for s in shifts_of(script, words)
    )


def _shifts_by_stops(script: Script, words: tuple[Word, ...]) -> list[dict[str, Any]]:
    found = []
    for a, b in pairwise(words):
        gap = script.text[a.end : b.start]
        if any(c in gap for c in ".?!;:—"):
            turns = b.spoken[0][0] in {"but", "yet"}
            reason = f'"{b.text}" turns against what was just said' if turns else "the thought is complete"
            found.append({"before_word": b.i, "grade": 3 if turns else 2, "reason": reason})
        elif "," in gap:
            found.append({"before_word": b.i, "grade": 1, "reason": "a comma"})
    return found


def _lines(script: Script, words: tuple[Word, ...]) -> tuple[str, tuple[dict[str, Any], ...]]:
    spans: dict[int, list[int]] = {}
    for w in words:
        spans.setdefault(w.line, []).append(w.i)
    try:
        from offbook import verse

        scanned = {s.n: s for s in verse.scan(script, words).lines if s is not None}
    except (ImportError, AttributeError):
        scanned = {}
    rows = []
    for line in script.lines:
        at = spans.get(line.n)
        s = scanned.get(line.n)
        rows.append(
            {
                "n": line.n,
                "text": line.text,
                "words": [at[0], at[-1]] if at else None,
                "stress": getattr(s, "stress", None) or None,
                "feet": list(getattr(s, "feet", ()) or ()) or None,
                "pattern": getattr(s, "pattern", None) or None,
                "syllables": getattr(s, "syllables", None),
                "metre": getattr(s, "metre", None),
                "variations": list(getattr(s, "variations", ()) or ()),
                "caesura_before_word": getattr(s, "caesura_before_word", None),
            }
        )
    return script.form, tuple(rows)


def as_form(script: Script, form: str | None) -> Script:
    """`script` taken as verse or prose, whatever it looks like; as it is where `form` is None."""
    if form is None:
        return script
    lines = tuple(replace(line, verse=form == "verse") for line in script.lines)
    return replace(script, form="verse" if form == "verse" else "prose", lines=lines)


def mark(script: Script, words: tuple[Word, ...], time: RunningTime) -> Marked:
    """Mark `script`."""
    _, lines = _lines(script, words)
    return Marked(script, words, lines, _shifts(script, words), time)


def as_json(marked: Marked, limit: float | None = None) -> dict[str, Any]:
    """`marked` in the shape that `offbook mark --json` prints."""
    t = marked.time
    return {
        "title": marked.script.title,
        "form": marked.script.form,
        "words": [
            {"i": w.i, "text": w.text, "start": w.start, "end": w.end, "line": w.line, "sentence": w.sentence}
            for w in marked.words
        ],
        "lines": list(marked.lines),
        "shifts": list(marked.shifts),
        "time": {
            "seconds": round(t.seconds, 2),
            "low": round(t.low, 2),
            "high": round(t.high, 2),
            "rate_wpm": round(t.rate_wpm, 1),
            "voiced": round(t.voiced, 2),
            "pauses": round(t.pauses, 2),
            "limit": limit,
            "fits": None if limit is None else t.seconds <= limit,
            "over_by": None if limit is None else round(t.seconds - limit, 2),
        },
    }
