"""The review of a take: a recording heard, its delivery measured, both compared with the marked script."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from offbook.phrasing import SHARE_DECIMALS
from offbook.sampling import FULL_SCALE, SAMPLE_RATE

if TYPE_CHECKING:
    from offbook.delivery import ShiftStatement, SpokenWord, TakeReview
    from offbook.desk.listening import Heard
    from offbook.desk.margins import PlacedNote
    from offbook.pencil import Pencil
    from offbook.thoughts import Shift

_STOP = re.compile(r"[,.;:?!\u2014\u2013]|--")
_TURN = 3  # the grade of a turn


@dataclass(frozen=True, eq=False)
class ReviewedTake:
    """A recording with its line notes, and with what its delivery shows.

    marks: the shifts of the script, with the performer's own marks; spoken: the words that were heard;
    intention: what the take tries, as it was logged, empty where nothing was; take: its number, None where it
    is no take; margin: the notes that somebody wrote beside its lines.
    """

    heard: Heard
    marks: tuple[Shift, ...]
    spoken: tuple[SpokenWord, ...]
    delivery: TakeReview
    intention: str = ""
    take: int | None = None
    margin: tuple[PlacedNote, ...] = ()

    @property
    def picture(self) -> str:
        """The picture of the take, as an SVG document."""
        from offbook.delivery import delivery_picture

        texts = [w.text for w in self.heard.words]
        return delivery_picture(self.delivery, self.spoken, texts, self.heard.script.title)

    def reason(self, before_word: int) -> str:
        """Why the script shifts before this word."""
        return next((m.reason for m in self.marks if m.before_word == before_word), "")


def review_heard(
    heard: Heard,
    intention: str = "",
    take: int | None = None,
    margin: tuple[PlacedNote, ...] = (),
    pencil: Pencil | None = None,
) -> ReviewedTake:
    """Review a recording that was heard. Raises RecordingError where its sound can no longer be read.

    pencil: the performer's own marks; None for those in the file beside the script.
    """
    import numpy as np

    from offbook import audio
    from offbook.delivery import MarkedShift, review_delivery
    from offbook.thoughts import marks_of
    from offbook.verse import hardly_stressed

    marks = marks_of(heard.script, heard.words, pencil)
    spoken = spoken_words(heard)
    sound = np.frombuffer(b"".join(audio.pcm(heard.recording, sound=heard.sound)), "<i2")
    samples = (sound / FULL_SCALE).astype(np.float32)
    lines = [(first, last) for first, last, verse in _lines(heard) if verse]
    delivery = review_delivery(
        samples,
        SAMPLE_RATE,
        spoken,
        [MarkedShift(m.before_word, m.grade, m.reason) for m in marks],
        word_count=len(heard.words),
        stops=_stops(heard),
        lines=lines,
        snr_db=heard.sound.snr,
        between=_between(heard),
        light=frozenset(w.i for w in heard.words if hardly_stressed(w.text)),
    )
    return ReviewedTake(heard, marks, spoken, delivery, intention, take, margin)


def spoken_words(heard: Heard) -> tuple[SpokenWord, ...]:
    """The words of the script that were said, or may have been, with how long their sounds usually last."""
    from offbook.delivery import SpokenWord
    from offbook.timing import seconds_of, token_syllables

    found = []
    for word, verdict in zip(heard.words, heard.review.run.words, strict=True):
        if verdict.start is None or verdict.end is None or verdict.verdict == "dropped":
            continue
        tokens = word.spoken[0]
        expected = sum(seconds_of(token, False) for token in tokens)
        syllables = sum(token_syllables(token) for token in tokens)
        found.append(SpokenWord(word.i, verdict.start, verdict.end, expected, syllables))
    return tuple(found)


# Talk between two words of the speech: the silence around it is not a pause that the speaker makes.
_BETWEEN = {
    "prompt": "a prompt came here",
    "restart": "the line was begun again here",
    "cue": "somebody else spoke before it",
    "talk": "there is talk before it",
    "filler": "a filler was said before it",
    "correction": "a slip was corrected before it",
}


def _between(heard: Heard) -> dict[int, str]:
    """For each script word that talk came before, what it was."""
    return {a.before_word: _BETWEEN[a.kind] for a in heard.review.asides if a.kind in _BETWEEN}


def _stops(heard: Heard) -> frozenset[int]:
    """The script words that come right after a stop, a comma or a dash."""
    text, words = heard.script.text, heard.words
    return frozenset(b.i for a, b in pairwise(words) if _STOP.search(text[a.end : b.start]))


def _lines(heard: Heard) -> list[tuple[int, int, bool]]:
    """First and last word of each line, and whether it is verse."""
    verse = {line.n: line.verse for line in heard.script.lines}
    spans: dict[int, tuple[int, int]] = {}
    for w in heard.words:
        first, _ = spans.get(w.line, (w.i, w.i))
        spans[w.line] = (first, w.i)
    return [(first, last, verse.get(n, False)) for n, (first, last) in spans.items()]


@dataclass(frozen=True, slots=True)
class ShiftBeside:
    """One shift in two takes."""

    before_word: int
    grade: int
    one: ShiftStatement
    other: ShiftStatement


def review_differences(one: ReviewedTake, other: ReviewedTake) -> tuple[ShiftBeside, ...]:
    """The shifts of which more, or less, can be heard in the other take of the same words."""
    there = {s.before_word: s for s in other.delivery.shifts}
    return tuple(
        ShiftBeside(s.before_word, s.grade, s, there[s.before_word])
        for s in one.delivery.shifts
        if s.before_word in there and there[s.before_word].audible != s.audible
    )


def delivery_summary(reviewed: ReviewedTake) -> dict[str, Any]:
    """A take in a few numbers: how many of its shifts, and of its turns, could be heard, and how many not."""
    names = ("heard", "slight", "not heard", "not measured")
    return {
        "shifts": {name: reviewed.delivery.count(name) for name in names},
        "turns": {name: reviewed.delivery.count(name, _TURN) for name in names},
        "findings": len(reviewed.delivery.findings),
    }


def review_as_json(reviewed: ReviewedTake) -> dict[str, Any]:
    """The review for other programs. Times in seconds, pitch in semitones, levels in LU and LUFS."""
    return {
        "script": reviewed.heard.script.source,
        "recording": str(reviewed.heard.recording),
        "take": reviewed.take,
        "intention": reviewed.intention,
        "shifts": [
            {
                "before_word": s.before_word,
                "grade": s.grade,
                "reason": reviewed.reason(s.before_word),
                "at": round(s.at, 2),
                "audible": s.audible,
                "confidence": round(s.confidence, 2),
                "carried_by": list(s.carried_by),
                "told": s.told,
                "pause": None if s.cues is None else round(s.cues.pause, 2),
                "lengthening": None if s.cues is None else round(s.cues.lengthening, 2),
                "pitch_reset": _rounded(None if s.cues is None else s.cues.pitch_reset),
                "level_reset": _rounded(None if s.cues is None else s.cues.level_reset),
                "rate_change": _rounded(s.rate_change, 2),
            }
            for s in reviewed.delivery.shifts
        ],
        "thoughts": [
            {
                "words": [t.first, t.last],
                "start": round(t.start, 2),
                "end": round(t.end, 2),
                "syllables_a_second": round(t.rate, 2),
                "pitch_range": _rounded(t.pitch_range),
                "loudness_range": round(t.loudness_range, 1),
            }
            for t in reviewed.delivery.thoughts
        ],
        "findings": [
            {"kind": f.kind, "words": [f.first, f.last], "at": round(f.at, 2), "told": f.told}
            for f in reviewed.delivery.findings
        ],
        "margin": [
            {
                "line": p.line,
                "where": p.where,
                "before_word": p.word,
                "author": p.note.author,
                "text": p.note.text,
            }
            for p in reviewed.margin
        ],
        "energy": list(reviewed.delivery.energy),
        "summary": delivery_summary(reviewed),
        "accuracy": round(reviewed.heard.review.run.accuracy, SHARE_DECIMALS),
        "seconds": round(reviewed.heard.review.run.seconds, 2),
    }


def _rounded(value: float | None, digits: int = 1) -> float | None:
    return None if value is None else round(value, digits)
