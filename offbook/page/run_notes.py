"""The notes of a run-through at their places in the text, with the sound of every word."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, request, send_file

from offbook import journal as journals
from offbook.desk import cues_in_words, kept_recording, prompts_kept
from offbook.errors import JournalError, RecordingError
from offbook.page.app import go, rendered, tell
from offbook.page.forms import FieldError
from offbook.page.opened import piece_of
from offbook.page.room import Room
from offbook.phrasing import jump_clock
from offbook.records import Circumstances, Piece, RunRow, Version
from offbook.score import SOMETHING_ELSE, Verdict, accuracy_share
from offbook.words import counted, number_of, where

if TYPE_CHECKING:
    from offbook.notes import Note, NotedLine, NotedWord, PlaceToWorkOn, Review
    from offbook.score import Run

KEY = {
    "dropped": "not said",
    "changed": "other words were said, shown above",
    "added": "added",
    "swapped": "in another order or place",
    "repeated": "said twice",
    "prompted": "prompted",
    "unsure": "not sure",
}
VERDICTS: dict[str, Verdict] = {
    "said": "said",
    "unsure": "unsure",
    "changed": "changed",
    "dropped": "dropped",
}
BEFORE = 0.35  # s that are played before a word
# A note of up to so many words offers each of them by itself for "I did say that"; a longer one is a whole
# phrase or line, whose words would fill the screen. Set by hand.
_MOST_WORDS_OFFERED = 8
PLACES = 3  # to work on: more is no help in the next hour


@dataclass(frozen=True, slots=True)
class ShownRun:
    """A run-through as the screen shows it."""

    piece: Piece
    version: Version
    row: RunRow
    run: Run
    review: Review
    mended: frozenset[int]
    sound: str | None  # the key of its recording, None where none is kept
    beside: Circumstances


# Words marked together, and above them: a longer stretch may be broken over two rows in a narrow window,
# where no more stands above it than fits over a part of it.
_ON_ONE_ROW, _ABOVE_ONE_ROW = 3, 2


def add_notes(place: Blueprint, room: Room) -> None:
    """The routes of the notes, of corrections and of the sound."""

    @place.get("/piece/<piece>/notes")
    def runs(piece: str) -> Response:
        with room.journal.reading() as conn:
            found = piece_of(conn, piece)
            rows = journals.runs(conn, found.id)
        return rendered("runs.html", piece=found, rows=list(reversed(rows)), percent=accuracy_share)

    @place.get("/piece/<piece>/notes/<run>")
    def notes(piece: str, run: str) -> Response:
        told = _shown_run(room, piece, run)
        return rendered(
            "notes.html",
            piece=told.piece,
            told_run=told,
            **(_shown(told) | {"sound_line": room.sounds.get(told.row.id)}),
        )

    @place.post("/piece/<piece>/notes/<run>/correct")
    def correct(piece: str, run: str) -> Response:
        from offbook.desk import correct_word

        told = _shown_run(room, piece, run)
        first, last = _span(request.form.get("words", ""), len(told.version.words))
        verdict = VERDICTS.get(request.form.get("verdict", "said"))
        if verdict is None:
            raise FieldError("that is not a verdict", "choose one that is offered")
        for word in range(first, last + 1):
            if told.run.words[word].verdict != verdict:
                correct_word(room.journal, told.piece, told.row.id, word, verdict, "")
        after = _shown_run(room, piece, run).row
        was, now = accuracy_share(told.row.accuracy), accuracy_share(after.accuracy)
        tell(room, f"Corrected: {was} of the words before, {now} now. The first verdict is kept beside it.")
        return go("notes", piece=piece, run=run, _anchor=f"w{first}")

    @place.get("/recording/<key>")
    def recording(key: str) -> Response:
        with room.journal.reading() as conn:
            for piece in journals.pieces_of(conn):
                for each in journals.recordings(conn, piece.id):
                    if each.id == key:
                        path = room.journal.recordings / each.path
                        if not path.is_file():
                            break
                        answer: Response = send_file(path.absolute(), conditional=True)
                        answer.headers["Cache-Control"] = "private, max-age=3600"
                        return answer
        raise RecordingError("this recording is no longer kept", "its notes stay")


def _shown_run(room: Room, piece: str, run: str) -> ShownRun:
    from offbook.notes import notes_on

    with room.journal.reading() as conn:
        found = piece_of(conn, piece)
        row = journals.run_of(conn, run)
        if row.piece_id != found.id:
            raise JournalError("this run-through is of another piece", "look at the notes of that piece")
        version = journals.version_of(conn, row.version_id)
        scored = journals.scored_run(conn, row.id)
        beside = journals.circumstances_of(conn, row.id)
        mended = frozenset(c.word for c in journals.corrections(conn, row.id))
    sound = kept_sound(room, row)
    as_heard = room.reviews.get(row.id) if not mended else None
    reviewed = as_heard or notes_on(version.script, version.words, scored, prompts_kept(beside))
    return ShownRun(found, version, row, scored, reviewed, mended, sound, beside)


def kept_sound(room: Room, row: RunRow) -> str | None:
    """The key of the recording of a run-through; None where none is kept."""
    with room.journal.reading() as conn:
        kept = kept_recording(conn, room.journal, row)
    return None if kept is None else kept.id


def _span(value: str, count: int) -> tuple[int, int]:
    first, _, last = value.partition("-")
    if not (first.isdecimal() and last.isdecimal() and int(first) <= int(last) < count):
        raise FieldError("these are not words of the speech", "load the page again")
    return int(first), int(last)


def _shown(told: ShownRun) -> dict[str, Any]:
    from offbook.notes import CARE, SAID_BEFORE, marks_used, noted_lines

    review, script = told.review, told.version.script
    drawn = noted_lines(script, told.version.words, review)
    numbers = {id(n): k for k, n in enumerate(review.notes)}
    return {
        "sound_line": None,
        "headline": _headline(told),
        "facts": _facts(told),
        "dropped": [row for row in drawn if row.dropped],
        "lines": [_line(row, told, numbers) for row in drawn],
        "noun": "sentence" if script.form == "prose" else "line",
        "counted": counted(script),
        "used": marks_used(drawn),
        "key": KEY,
        "spoken": SAID_BEFORE,
        "notes": [_note(n, told) for n in review.notes],
        "places": [_work_on(p, told) for p in review.places[:PLACES]],
        "times": _times(told),
        "care": CARE,
        "percent": accuracy_share,
        "before": BEFORE,
    }


def _headline(told: ShownRun) -> str:
    if told.row.said + told.row.unsure == told.row.words and not told.review.added:
        return "Word-perfect" if told.row.unsure == 0 else "Word-perfect, as far as could be heard"
    return f"{accuracy_share(told.row.accuracy)} of the words"


def _facts(told: ShownRun) -> str:
    row = told.row
    said = f"{row.said + row.unsure} of {row.words} words as written"
    if row.unsure:
        said += (
            f"; {row.unsure} could not be judged and count{'s' if row.unsure == 1 else ''} as said: "
            f"without {'it' if row.unsure == 1 else 'them'} {accuracy_share(row.accuracy_low)}"
        )
    return said


def _times(told: ShownRun) -> list[str]:
    review = told.review

    out = [f"{jump_clock(told.run.seconds)} from first word to last, {review.rate_wpm:.0f} words a minute."]
    limit = told.piece.limit_seconds
    if limit is not None:
        over = told.run.seconds - limit
        apart = jump_clock(abs(over)) if abs(over) >= 1 else f"{abs(over):.1f} s"
        out.append(f"The limit is {jump_clock(limit)}: {apart} {'over it' if over > 0 else 'to spare'}.")
    if review.longest_pause is not None:
        out.append(
            f"Longest pause {review.longest_pause.seconds:.1f} s, at {jump_clock(review.longest_pause.at)}."
        )
    out += cues_in_words(told.beside.pick_ups)
    fillers = [a for a in review.asides if a.kind == "filler"]
    if fillers:
        heard = ", ".join(dict.fromkeys(f"“{a.heard}”" for a in fillers))
        out.append(f"Not counted: {len(fillers)} filler{'s' * (len(fillers) > 1)} ({heard}).")
    return out


def _line(row: NotedLine, told: ShownRun, numbers: dict[int, int]) -> dict[str, Any]:
    """A verse line or a sentence, in stretches of words that share a note or have none."""
    starts: dict[int | None, float | None] = {w.i: w.start for w in told.run.words}

    def words(cells: list[NotedWord]) -> list[dict[str, Any]]:
        return [{"glue": c.glue, "text": c.text, "i": c.word, "at": starts.get(c.word)} for c in cells]

    spans = []
    for _, group in groupby(row.cells, key=lambda c: (id(c.note), not c.text)):
        cells = list(group)
        note = cells[0].note
        spans.append(
            {
                "glue": cells[0].glue,
                "words": words(cells),
                "kind": None if note is None else note.kind,
                "above": cells[0].above,
                "long": len(cells) > _ON_ONE_ROW and len(cells[0].above.split()) <= _ABOVE_ONE_ROW,
                "note": None if note is None else numbers[id(note)],
                "text": cells[0].text + "".join(c.glue + c.text for c in cells[1:]),
            }
        )
    at = next((at for c in row.cells if (at := starts.get(c.word)) is not None), None)
    return {"number": row.number, "spans": spans, "at": at, "stanza": row.stanza, "dropped": row.dropped}


def _note(note: Note, told: ShownRun) -> dict[str, Any]:
    return {
        "n": note,
        "number": number_of(told.version.script, told.version.words[note.first]),
        "where": where(told.version.script, told.version.words, note.first, note.first),
        "mended": any(i in told.mended for i in range(note.first, note.last + 1)),
        "can_be_said": note.kind in ("dropped", "changed", "unsure", "swapped"),
        "words": _words_to_contest(note, told),
        "why": _why(note),
        "steps": _steps(note, told.beside),
    }


def _words_to_contest(note: Note, told: ShownRun) -> list[tuple[int, str]]:
    """The words of a note that do not count as said yet, each with its number; none where it is only one."""
    wrong = [
        (w.i, told.version.words[w.i].text)
        for w in told.run.words[note.first : note.last + 1]
        if w.verdict != "said"
    ]
    return wrong if 1 < len(wrong) <= _MOST_WORDS_OFFERED else []


def _work_on(place: PlaceToWorkOn, told: ShownRun) -> dict[str, Any]:
    there = where(told.version.script, told.version.words, place.first, place.last)
    return {"where": f"{there[0].upper()}{there[1:]}", "what": place.what, "at": place.at, "do": place.do}


def _steps(note: Note, beside: Circumstances) -> list[str]:
    """What decided the verdicts on the words of a note, in order; each step once."""
    if note.kind not in ("unsure", "changed", "dropped"):
        return []
    mine = [r for r in beside.reasons if note.first <= r.word <= note.last]
    return list(dict.fromkeys(f"{r.told[:1].upper()}{r.told[1:]}." for r in mine))


def _why(note: Note) -> str:
    """Why a word is unsure, for somebody who wants to know."""
    if note.kind != "unsure":
        return ""
    if note.heard and SOMETHING_ELSE not in note.heard:
        return (
            f"It sounded like “{note.heard}”, but not clearly enough to hold it against you. "
            "Press Hear it and judge for yourself."
        )
    return "Too little of it came through to tell. Press Hear it and judge for yourself."
