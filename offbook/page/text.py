"""The text of a piece: marked, in layers, with the performer's pencil marks; its running time, and cuts."""

from __future__ import annotations

from http import HTTPStatus
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, request

from offbook import desk, pencil
from offbook import words as numbering
from offbook.errors import OffbookError
from offbook.outgoing import write_whole
from offbook.page import drafts
from offbook.page.app import go, rendered, tell
from offbook.page.forms import FieldError, limit_in, limit_shown
from offbook.page.opened import Opened
from offbook.page.room import Room
from offbook.phrasing import clock_time
from offbook.records import Version

if TYPE_CHECKING:
    from offbook.fit import Fitting
    from offbook.markup import MarkedScript

LAYERS = {
    "thoughts": "Thoughts and turns",
    "phrases": "Phrases",
    "stress": "Stress",
    "clock": "Clock",
    "numbers": "Line numbers",
    "words": "Words worth a look",
}
HIDDEN_AT_FIRST = {"phrases"}  # the finer edges are shown only when somebody asks for them
_LONGEST_REASON, _LONGEST_STRESS = 300, 60  # characters of what is typed; set by hand
GRADES: dict[str, pencil.Mark | None] = {"own": None, "0": 0, "1": 1, "2": 2, "3": 3}
NAMES = {
    "|": "phrase",
    "||": "thought",
    "|||": "turn",
    "|||?": "open turn",
    "||?": "open thought",
    "|?": "open phrase",
}


def add_text(place: Blueprint, room: Room) -> None:
    """The routes of the marked script, of the pencil and of the time."""

    @place.get("/piece/<piece>")
    def text(piece: str) -> Response:
        return _marked_screen(room, room.opened(piece))

    @place.post("/piece/<piece>/pencil")
    def pencil_in(piece: str) -> Response:
        there = room.opened(piece)
        word = _word(request.form.get("word", ""), there.version)
        try:
            _pencil_change(there, word)
        except OffbookError as e:
            return _marked_screen(room, there, word, e)
        return go("text", piece=piece, _anchor=f"w{word}")

    @place.get("/piece/<piece>/time")
    def time(piece: str) -> Response:
        there = room.opened(piece)
        limit = limit_in(request.args.get("limit", "")) or there.piece.limit_seconds
        found = None if limit is None else _fitted(room, there, limit, "ends" in request.args)
        return rendered(
            "time.html",
            there=there,
            piece=there.piece,
            marked=room.marked(there),
            limit=limit_shown(limit),
            found=found,
            ends="ends" in request.args,
            views=[] if found is None else _proposals(there, found),
            **_words_for(room.marked(there)),
        )

    @place.post("/piece/<piece>/cut")
    def cut(piece: str) -> Response:
        there = room.opened(piece)
        return _cut(room, there)


def _marked_screen(
    room: Room, there: Opened, word: int | None = None, failed: OffbookError | None = None
) -> Response:
    marked = room.marked(there)
    at = word
    if at is None and request.args.get("word"):
        at = _word(request.args["word"], there.version)
    shown = request.args.getlist("show") or [name for name in LAYERS if name not in HIDDEN_AT_FIRST]
    with room.journal.reading() as conn:
        noted = desk.placed_notes(conn, there.piece, there.version)
    return rendered(
        "text.html",
        HTTPStatus.OK if failed is None else HTTPStatus.BAD_REQUEST,
        there=there,
        piece=there.piece,
        marked=marked,
        blocks=_blocks(marked),
        scanned=any(m.scansion is not None for m in marked.lines),
        layers=LAYERS,
        hidden=[name for name in LAYERS if name not in shown],
        penciled="pencil" in request.args or at is not None,
        at=None if at is None else _at(marked, at),
        failed=failed,
        margin=[p for p in noted if p.note.done_at is None],
        told_note=desk.margin_note_in_words,
        **_words_for(marked),
    )


def _words_for(marked: MarkedScript) -> dict[str, Any]:
    from offbook import markup

    return {
        "facts": markup.summary(marked),
        "look_up": markup.look_up_rows(marked),
        "unplaced": [f"row {u.row}: {u.why}: {u.text}" for u in marked.pencil.unplaced],
        "clock": clock_time,
        "counted": numbering.counted(marked.script),
        "names": NAMES,
    }


def _blocks(marked: MarkedScript) -> list[dict[str, Any]]:
    """The speech block by block: a verse line, or a thought of prose."""
    from offbook import markup

    marks = str.maketrans("ws", "x/")
    return [
        {
            "number": b.count,
            "verse": b.line is not None,
            "gap": b.new_paragraph,
            "before": b.before,
            "clock": clock_time(b.at),
            "bar": next((markup.bar_of(s) for s in marked.shifts_from(b.first, b.first)), ""),
            "notes": markup.block_notes(marked, b),
            "cells": [(c, list(zip(c.syllables, c.stress.translate(marks), strict=False)))
                      for c in markup.cells(marked, b.first, b.last)],
        }
        for b in markup.marked_blocks(marked)
    ]  # fmt: skip


def _at(marked: MarkedScript, word: int) -> dict[str, Any]:
    """What the pencil form shows for a word."""
    from offbook import markup

    shift = next((s for s in marked.shifts if s.before_word == word), None)
    own = next((s for s in marked.pencil.shifts if s.before_word == word), None)
    cell = markup.cells(marked, word, word)[0]
    said = "-".join(
        part.upper() if mark == "s" else part.lower()
        for part, mark in zip(cell.syllables, cell.stress, strict=False)
    )
    return {
        "word": word,
        "text": marked.words[word].text,
        "where": numbering.where(marked.script, marked.words, word, word),
        "grade": "own" if own is None else str(own.grade),
        "computed": "no mark"
        if shift is None or shift.source == "performer"
        else NAMES[markup.bar_of(shift)],
        "reason": "" if own is None or shift is None else shift.reason,
        "said": said,
        "scanned": bool(cell.stress),
        "fixed": word in marked.pencil.fixes,
    }


def _word(value: str, version: Version) -> int:
    if not value.isdecimal() or int(value) >= len(version.words):
        raise FieldError("there is no such word in this speech", "load the page again")
    return int(value)


def _pencil_change(there: Opened, word: int) -> None:
    """Write what the form says about a word into the pencil file."""
    form, words = request.form, there.version.words
    try:
        old = there.pencil.read_text(encoding="utf-8-sig") if there.pencil.is_file() else ""
    except (OSError, UnicodeDecodeError) as e:
        raise pencil.PencilError("your pencil marks cannot be read", "move the pencil file away") from e
    new = old
    if form.get("grade") in GRADES and word > 0:
        new = pencil.with_mark(
            new, words, word, GRADES[form["grade"]], form.get("reason", "")[:_LONGEST_REASON]
        )
    if "said" in form:
        said = form["said"].strip()[:_LONGEST_STRESS]
        was = form.get("was", "")
        if said != was or "unfix" in form:
            new = pencil.with_stress(new, words, word, None if "unfix" in form or not said else said)
    if new == old:
        return
    try:
        there.pencil.parent.mkdir(parents=True, exist_ok=True)
        write_whole(there.pencil, new)
    except OSError as e:
        raise pencil.PencilError(
            f"your pencil marks cannot be written: {e.strerror}",
            "free some space on the disk, or allow writing to it",
        ) from e


def _fitted(room: Room, there: Opened, limit: float, ends_too: bool) -> Fitting:
    from offbook import fit

    marked = room.marked(there)
    return fit.fit(
        marked.script, marked.words, marked.shifts, marked.versification, marked.time.pace, limit,
        fit.Pins((), (), ends_too),
    )  # fmt: skip


def _proposals(there: Opened, found: Fitting) -> list[dict[str, Any]]:
    """The proposals, each with the words that go and the text that stays."""
    from offbook import fit
    from offbook.words import as_written

    script, words = there.version.script, there.version.words
    return [
        {
            "p": p,
            "cuts": [
                {
                    "where": numbering.where(script, words, c.first, c.after - 1),
                    "seconds": c.seconds,
                    "text": as_written(script, words, c.first, c.after - 1),
                }
                for c in p.cuts
            ],
            "text": fit.spoken(words, script, p.cuts),
        }
        for p in (*found.proposals, *((found.shortest,) if found.shortest is not None else ()))
    ]


def _cut(room: Room, there: Opened) -> Response:
    """The speech without the cuts of a proposal, as a new draft to look at before it is kept."""
    from offbook import fit

    form = request.form
    limit = limit_in(form.get("limit", "")) or there.piece.limit_seconds
    if limit is None:
        raise FieldError("there is not a time limit to cut to", "give one, such as 2:00")
    found = _fitted(room, there, limit, "ends" in form)
    every = (*found.proposals, *((found.shortest,) if found.shortest is not None else ()))
    number = form.get("proposal", "")
    if not number.isdecimal() or int(number) >= len(every):
        raise FieldError("this proposal no longer exists", "look at the time again")
    text = fit.without(there.version.script, there.version.words, every[int(number)].cuts)
    draft = drafts.save(
        room.home / "coming-in", text.encode(), "", there.version.script.title, there.piece.id
    )
    tell(
        room,
        "The cut script is ready. Look at it before it is kept; your pencil marks find their places again.",
    )
    return go("draft", key=draft.key)
