"""A run-through as other programs read it: the JSON of `offbook run --json`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from offbook.phrasing import CHANCE_DECIMALS, SECONDS_DECIMALS, SHARE_DECIMALS

if TYPE_CHECKING:
    from offbook.desk.listening import Heard
    from offbook.notes import Aside, Dry, Note, Pause, PlaceToWorkOn
    from offbook.score import Extra, WordVerdict

PLACES = 3  # places to work on; set by hand: more than that cannot be worked on in the next hour


def run_as_json(heard: Heard) -> dict[str, Any]:
    """The run as other programs read it."""
    review, run, sound = heard.review, heard.review.run, heard.sound
    return {
        "script": heard.script.source,
        "title": heard.script.title,
        "part": heard.script.part,
        "recording": str(heard.recording),
        "recorded_at": heard.recorded_at.isoformat(timespec="seconds"),
        "model": heard.model,
        "second_ear": heard.second_ear,
        "words": [_word(w) for w in run.words],
        "added": [_added(e) for e in review.added],
        "dropped_lines": [{"line": d.line, "words": [d.first, d.last]} for d in review.dropped_lines],
        "notes": [note_as_json(n) for n in review.notes],
        "asides": [_aside(a) for a in review.asides],
        "dries": [_pause(d) for d in review.dries],
        "longest_pause": _pause(review.longest_pause) if review.longest_pause is not None else None,
        "places": [_place(p) for p in review.places[:PLACES]],
        "accuracy": round(run.accuracy, SHARE_DECIMALS),
        "accuracy_low": round(run.accuracy_low, SHARE_DECIMALS),
        "seconds": _seconds(run.seconds),
        "speaking_seconds": _seconds(run.speaking_seconds),
        "rate_wpm": round(review.rate_wpm, 1),
        "sound": {
            "line": sound.line,
            "poor": sound.poor,
            "seconds": _seconds(sound.seconds),
            "loudness_lufs": _finite(sound.loudness),
            "snr_db": _finite(sound.snr),
        },
    }


def _word(w: WordVerdict) -> dict[str, Any]:
    return {
        "i": w.i,
        "text": w.text,
        "verdict": w.verdict,
        "heard": w.heard,
        "start": _seconds(w.start),
        "end": _seconds(w.end),
        "confidence": _rounded(w.confidence),
        "steps": [{"by": s.by, "verdict": s.verdict, "told": s.told} for s in w.steps],
    }


def _added(e: Extra) -> dict[str, Any]:
    return {
        "before_word": e.before_word,
        "heard": e.heard,
        "start": _seconds(e.start),
        "end": _seconds(e.end),
        "confidence": _rounded(e.confidence),
    }


def note_as_json(n: Note) -> dict[str, Any]:
    """A line note as other programs read it."""
    return {
        "kind": n.kind,
        "words": [n.first, n.last],
        "script": n.script,
        "heard": n.heard,
        "at": _seconds(n.at),
        "line": n.line,
        "detail": n.detail,
        "before_word": n.before_word,
    }


def _aside(a: Aside) -> dict[str, Any]:
    return {
        "kind": a.kind,
        "before_word": a.before_word,
        "heard": a.heard,
        "start": _seconds(a.start),
        "end": _seconds(a.end),
        "words": list(a.words) if a.words is not None else None,
    }


def _pause(p: Dry | Pause) -> dict[str, Any]:
    return {"before_word": p.before_word, "at": _seconds(p.at), "seconds": _seconds(p.seconds)}


def _place(p: PlaceToWorkOn) -> dict[str, Any]:
    return {
        "lines": list(p.lines),
        "words": [p.first, p.last],
        "at": _seconds(p.at),
        "what": p.what,
        "do": p.do,
    }


def _seconds(value: float | None) -> float | None:
    return None if value is None else round(value, SECONDS_DECIMALS)


def _rounded(chance: float | None) -> float | None:
    return None if chance is None else round(chance, CHANCE_DECIMALS)


def _finite(value: float) -> float | None:
    return round(value, 1) if abs(value) != float("inf") else None
