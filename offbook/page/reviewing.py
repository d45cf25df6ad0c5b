"""The review of a run-through, two takes side by side, and the notes in the margin of a piece."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, request

from offbook import desk
from offbook import journal as journals
from offbook.errors import JournalError
from offbook.page.app import go, rendered, tell
from offbook.page.forms import name_in
from offbook.page.opened import piece_of
from offbook.page.room import Room
from offbook.page.turns import Job

if TYPE_CHECKING:
    from collections.abc import Sequence

    from offbook.desk import ReviewedTake
    from offbook.records import Piece, RunRow, TakeRow


def add_reviewing(place: Blueprint, room: Room) -> None:
    """The routes of the review, of two takes side by side, and of the margin."""
    _add_review(place, room)
    _add_beside(place, room)
    _add_margin(place, room)


def _add_review(place: Blueprint, room: Room) -> None:
    @place.get("/piece/<piece>/notes/<run>/review")
    def review(piece: str, run: str) -> Response:
        found, row = _run(room, piece, run)
        reviewed = room.reviewed.get((row, room.opened(piece).penciled_at))
        if reviewed is None:
            job = Job(
                found.performer_id,
                found.id,
                found.name,
                lambda job: _measure(room, found, row, job),
                screen="review",
                doing="Measuring the recording",
            )
            return go("job", key=room.turns.add(job).key)
        shown = _shown(room, found, row, reviewed)
        return rendered("review.html", piece=found, units=desk.UNITS_EXPLAINED, **shown)


def _add_beside(place: Blueprint, room: Room) -> None:
    @place.get("/piece/<piece>/takes/<run>/beside")
    def beside(piece: str, run: str) -> Response:
        """Two takes, by their numbers: 3-1."""
        found, takes, rows = _two_takes(room, piece, run)
        at = room.opened(piece).penciled_at
        reviewed = [room.reviewed.get((row, at)) for row in rows]
        if None in reviewed:
            job = Job(
                found.performer_id,
                found.id,
                found.name,
                lambda job: _measure_both(room, found, rows, job, run),
                screen="beside",
                doing="Measuring both recordings",
            )
            return go("job", key=room.turns.add(job).key)
        both = [_as_take(r, take) for r, take in zip(reviewed, takes, strict=True) if r is not None]
        shown = _shown_beside(rows, both)
        return rendered("beside.html", piece=found, units=desk.UNITS_EXPLAINED, **shown)


def _add_margin(place: Blueprint, room: Room) -> None:
    @place.post("/piece/<piece>/margin")
    def write_note(piece: str) -> Response:
        with room.journal.reading() as conn:
            found = piece_of(conn, piece)
        line = request.form.get("line", "").strip()
        _, placed = desk.write_margin_note(
            room.journal,
            found.name,
            found.performer,
            line,
            request.form.get("text", ""),
            name_in(request.form.get("author", "")) or "coach",
        )
        tell(room, f"Noted beside {placed.where}.")
        return go("text", piece=piece, _anchor="margin")

    @place.post("/piece/<piece>/margin/<int:n>")
    def tick_note(piece: str, n: int) -> Response:
        with room.journal.writing() as conn:
            found = piece_of(conn, piece)
            note = journals.margin_note_numbered(conn, found, n)
            journals.mark_margin_note_done(room.journal, conn, note, room.clock())
        tell(room, f"Note {n} is ticked off.")
        return go("text", piece=piece, _anchor="margin")


def _run(room: Room, piece: str, run: str) -> tuple[Piece, RunRow]:
    with room.journal.reading() as conn:
        found = piece_of(conn, piece)
        return found, desk.run_named(conn, found, run)


def _as_take(measured: ReviewedTake, take: TakeRow | None) -> ReviewedTake:
    """The review as one of a take: the run-through may have been logged as a take since it was measured."""
    return measured if take is None else replace(measured, take=take.n, intention=take.intention)


def _two_takes(room: Room, piece: str, numbers: str) -> tuple[Piece, list[TakeRow], list[RunRow]]:
    """Two takes and their run-throughs. Raises JournalError where one does not exist or is not judged."""
    asked = re.fullmatch(r"(\d{1,6})-(\d{1,6})", numbers)
    if asked is None:
        raise JournalError("two takes were not named", "choose them under Takes")
    takes, rows = [], []
    with room.journal.reading() as conn:
        found = piece_of(conn, piece)
        for n in map(int, asked.groups()):
            takes.append(journals.take_numbered(conn, found, n))
            row = journals.run_of_take(conn, takes[-1])
            if row is None:
                raise JournalError(f"take {n} is not judged yet", "judge it under Takes")
            rows.append(row)
    return found, takes, rows


def _measure_both(room: Room, piece: Piece, rows: Sequence[RunRow], job: Job, numbers: str) -> str:
    for done, row in enumerate(rows, 1):
        if (row, room.opened(piece.id).penciled_at) not in room.reviewed:
            _measure(room, piece, row, job, share=done / len(rows))
    return numbers


def _shown_beside(rows: Sequence[RunRow], takes: Sequence[ReviewedTake]) -> dict[str, Any]:
    """What changed between two takes, shift by shift, and what each was to try."""
    one, other = takes
    changed = desk.review_differences(one, other)
    return {
        "takes": [(row, take, desk.review_headline(take)) for row, take in zip(rows, takes, strict=True)],
        "changed": [(c, desk.written_opening(one, c.before_word)) for c in changed],
        "alike": min(len(one.delivery.shifts), len(other.delivery.shifts)) - len(changed),
    }


def _measure(room: Room, piece: Piece, row: RunRow, job: Job, share: float = 1.0) -> str:
    from offbook import pencil

    there = room.opened(piece.id)
    penciled_at = there.penciled_at  # before the marks are read: what is written meanwhile is measured again
    own = (
        pencil.load_pencil(there.pencil, there.version.words) if there.version.id == row.version_id else None
    )
    room.keep_reviewed((row, penciled_at), desk.review_kept(room.journal, piece, row, own))
    job.step(share)
    return row.id


def _shown(room: Room, piece: Piece, row: RunRow, measured: ReviewedTake) -> dict[str, Any]:
    """What the screen shows: everything in words, and the picture."""
    from markupsafe import Markup

    from offbook.delivery import CANNOT_KNOW
    from offbook.page.run_notes import kept_sound

    with room.journal.reading() as conn:
        placed = desk.placed_notes(conn, piece, journals.version_of(conn, row.version_id))
        take = next((t for t in journals.takes(conn, piece.id) if t.run_id == row.id), None)
    reviewed = _as_take(measured, take)
    reviewed = replace(reviewed, margin=desk.still_open(placed, reviewed.take))
    return {
        "row": row,
        "sound": kept_sound(room, row),
        "headline": desk.review_headline(reviewed),
        "intention": reviewed.intention,
        "stretches": [(s, s.words_apart(reviewed)) for s in desk.reviewed_stretches(reviewed)],
        "places": [(p.at, desk.place_in_words(reviewed, p)) for p in reviewed.delivery.worth_a_look],
        "findings": [(p.at, desk.place_in_words(reviewed, p)) for p in desk.other_findings(reviewed)],
        "picture": Markup(reviewed.picture),
        "told_note": desk.margin_note_in_words,
        "cannot": CANNOT_KNOW,
    }
