"""The marked script as the JSON that benches and other programs read. Fields are added, never renamed."""

from __future__ import annotations

from typing import Any

from offbook.markup.marked import MarkedLine, MarkedScript
from offbook.phrasing import CHANCE_DECIMALS


def marked_as_json(marked: MarkedScript, limit: float | None = None) -> dict[str, Any]:
    """`marked` in the shape that `offbook mark --json` prints. limit: seconds."""
    return {
        "title": marked.script.title,
        "form": marked.script.form,
        "metre": marked.versification.metre,
        "metre_open": marked.versification.open or None,
        "words": [
            {"i": w.i, "text": w.text, "start": w.start, "end": w.end, "line": w.line, "sentence": w.sentence}
            for w in marked.words
        ],
        "lines": [_line(each) for each in marked.lines],
        "shifts": [
            {
                "before_word": s.before_word,
                "grade": s.grade,
                "reason": s.reason,
                "reasons": list(s.reasons),
                "source": s.source,
                "open": s.open,
                "at": round(marked.time.starts[s.before_word], 2),
            }
            for s in marked.shifts
        ],
        "thoughts": [
            {
                "words": [t.first, t.last],
                "grade": t.grade,
                "at": round(t.time.start, 2),
                "seconds": round(t.time.seconds, 2),
                "voiced": round(t.time.voiced, 2),
                "pauses": round(t.time.pauses, 2),
            }
            for t in marked.thoughts
        ],
        "time": _time(marked, limit),
        "look_up": [
            {
                "word": x.word,
                "kinds": list(x.kinds),
                "shown": x.shown,
                "syllables": x.syllables,
                "stress": x.stress,
                "sure": x.sure,
                "note": x.note,
                "words": list(x.places),
                "lines": sorted({marked.words[i].line for i in x.places}),
            }
            for x in marked.look_up
        ],
        "pencil": {
            "only": marked.pencil.only,
            "unplaced": [{"row": u.row, "text": u.text, "why": u.why} for u in marked.pencil.unplaced],
        },
    }


def _line(each: MarkedLine) -> dict[str, Any]:
    s, t = each.scansion, each.time
    return {
        "n": each.line.n,
        "text": each.line.text,
        "words": None if each.first is None else [each.first, each.last],
        "stress": s.stress if s is not None else None,
        "feet": list(s.feet) if s is not None else None,
        "pattern": (s.pattern or None) if s is not None else None,
        "syllables": s.syllables if s is not None else None,
        "metre": s.metre if s is not None else None,
        "variations": list(s.variations) if s is not None else [],
        "caesura_before_word": s.caesura_before_word if s is not None else None,
        "word_syllables": list(s.word_syllables) if s is not None else None,
        "enjambed": s.enjambed if s is not None else None,
        "open": [{"stress": o.stress, "why": o.why, "variations": list(o.variations)} for o in s.open]
        if s is not None
        else [],
        "shared_with": s.shared_with if s is not None else None,
        "at": round(t.start, 2) if t is not None else None,
        "seconds": round(t.seconds, 2) if t is not None else None,
    }


def _time(marked: MarkedScript, limit: float | None) -> dict[str, Any]:
    t = marked.time
    return {
        "seconds": round(t.seconds, 2),
        "low": round(t.low, 2),
        "high": round(t.high, 2),
        "rate_wpm": round(t.rate_wpm, 1),
        "voiced": round(t.voiced, 2),
        "pauses": round(t.pauses, 2),
        "limit": limit,
        "fits": None if limit is None else t.seconds <= limit,
        "over_by": None if limit is None else round(t.seconds - limit, 2),
        "chance": None if limit is None else round(t.chance(limit), CHANCE_DECIMALS),
        "articulation_rate": round(t.articulation, 2),
        "tempo": t.tempo,
        "pace": t.pace.name,
    }
