"""Sending: briefs taken in, takes logged with their intention, checked, chosen and noted as sent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from flask import Blueprint, Response, request

from offbook import brief as briefs
from offbook import desk
from offbook import journal as journals
from offbook.errors import JournalError, OffbookError, RecordingError
from offbook.intake import at_least
from offbook.moment import local_day, zone_named
from offbook.page.app import go, rendered, tell
from offbook.page.brief_form import BriefFields, as_text, changed_lines, fields_of, given_in
from offbook.page.forms import FieldError
from offbook.page.opened import piece_of
from offbook.page.parcels import parcel_on_screen
from offbook.page.room import Room
from offbook.page.turns import Job
from offbook.page.uploads import LARGEST_FORM, SLICE, begin_upload
from offbook.records import Performer
from offbook.score import accuracy_share
from offbook.takes import asked_for

LONGEST_INTENTION = 300  # characters, as in the terminal


def add_sending(place: Blueprint, room: Room) -> None:
    """The routes of briefs and takes."""
    _add_briefs(place, room)
    _add_one_brief(place, room)
    _add_takes(place, room)


def _add_briefs(place: Blueprint, room: Room) -> None:
    @place.get("/briefs", endpoint="briefs")
    def briefs_() -> Response:
        with room.journal.reading() as conn:
            people = {p.id: p for p in journals.performers(conn)}
            now = room.clock()
            rows = [(b, people[b.row.performer_id], desk.chosen_for(conn, b)) for b in desk.read_briefs(conn)]
            found = [desk.serving_of(conn, person, now) for person in people.values()]
        table = [s for s in found if s.served or s.late]
        told: dict[str, Any] = {"until": briefs.until, "length": briefs.length_told}
        return rendered("briefs.html", rows=rows, table=table, people=people, now=now, **told)

    @place.get("/brief/new")
    def new_brief() -> Response:
        with room.journal.reading() as conn:
            people = journals.performers(conn)
            names = [p.name for p in journals.pieces_of(conn)]
        if request.args.get("as") == "text":
            text = briefs.blank_brief(pieces=names[:1])
            return rendered("brief_text.html", text=text, people=people, owner="")
        return rendered(
            "brief_form.html", given=BriefFields(), people=people, owner="", pieces=names, kept=None
        )

    @place.post("/brief/new")
    def take_in() -> Response:
        """A brief as text, or field by field."""
        typed = request.form.get("text")
        given, chosen = given_in(request.form), request.form.get("performer", "")
        with room.journal.reading() as conn:
            people = journals.performers(conn)
            names = [p.name for p in journals.pieces_of(conn)]
        try:
            text = as_text(given) if typed is None else typed.replace("\r\n", "\n")
            row = _kept(room, _owner(people, chosen), text)
        except OffbookError as e:
            shown = {"people": people, "owner": chosen, "failed": e}
            if typed is None:
                return rendered(
                    "brief_form.html", HTTPStatus.BAD_REQUEST, given=given, pieces=names, kept=None, **shown
                )
            return rendered("brief_text.html", HTTPStatus.BAD_REQUEST, text=typed, **shown)
        return go("brief", key=row)


def _add_one_brief(place: Blueprint, room: Room) -> None:
    @place.get("/brief/<key>")
    def brief(key: str) -> Response:
        with room.journal.reading() as conn:
            kept = desk.brief_by_key(conn, key)
            chosen = desk.chosen_for(conn, kept)
            parcel = parcel_on_screen(room, conn, kept)
        return rendered(
            "brief.html", **parcel, kept=kept, points=briefs.brief_in_words(kept.brief), chosen=chosen,
            left=briefs.until(kept.brief.deadline, room.clock()), care=desk.CONSENT,
            open=briefs.unsaid(kept.brief),
            passed="" if kept.row.sent_at is not None else briefs.late(kept.brief, room.clock()),
        )  # fmt: skip

    @place.get("/brief/<key>/change")
    def change_brief(key: str) -> Response:
        with room.journal.reading() as conn:
            kept, people = desk.brief_by_key(conn, key), journals.performers(conn)
            names = [p.name for p in journals.pieces_of(conn, kept.row.performer_id)]
        owner = kept.row.performer_id
        if request.args.get("as") == "text":
            return rendered("brief_text.html", text=kept.row.text, people=people, owner=owner)
        given = fields_of(kept.brief, names)
        return rendered(
            "brief_form.html", given=given, people=people, owner=owner, pieces=_all(names, given), kept=kept
        )

    @place.post("/brief/<key>/change")
    def correct_brief(key: str) -> Response:
        """Change the lines of a brief whose fields were changed; all other lines stay."""
        with room.journal.reading() as conn:
            kept, people = desk.brief_by_key(conn, key), journals.performers(conn)
            names = [p.name for p in journals.pieces_of(conn, kept.row.performer_id)]
        given = replace(given_in(request.form), name=kept.row.name)
        try:
            lines, gone = changed_lines(fields_of(kept.brief, names), given)
            with room.journal.writing() as conn:
                desk.correct_brief(room.journal, conn, kept, lines, gone)
        except OffbookError as e:
            shown = {"people": people, "owner": kept.row.performer_id, "failed": e, "kept": kept}
            return rendered(
                "brief_form.html", HTTPStatus.BAD_REQUEST, given=given, pieces=_all(names, given), **shown
            )
        tell(room, "Corrected." if lines or gone else "Nothing was changed.")
        return go("brief", key=key)

    @place.post("/brief/<key>/delete")
    def delete_brief(key: str) -> Response:
        with room.journal.writing() as conn:
            journals.delete_brief(conn, desk.brief_by_key(conn, key).row.id)
        tell(room, "The brief is gone; takes made for it stay.")
        return go("briefs")


def _all(names: Sequence[str], given: BriefFields) -> list[str]:
    """The pieces that a brief can ask for: those of the performer, and others that it names."""
    return [*names, *(name for name in given.pieces if name not in names)]


def _owner(people: tuple[Performer, ...], key: str) -> Performer:
    if not people:
        raise JournalError("there is nobody to take it in for yet", "add a script first")
    return next((p for p in people if p.id == key), people[0])


def _kept(room: Room, owner: Performer, text: str) -> str:
    """Add a brief to the journal; returns its key."""
    read = briefs.parse_brief(text, zone_named(owner.zone))
    with room.journal.writing() as conn:
        for name in read.pieces:
            journals.piece_named(conn, name, owner.name)  # refused here rather than on the day of the takes
        row, _ = journals.keep_brief(room.journal, conn, owner, read.name, text, read.deadline)
    return row.id


def _add_takes(place: Blueprint, room: Room) -> None:
    @place.get("/piece/<piece>/takes")
    def takes(piece: str) -> Response:
        with room.journal.reading() as conn:
            found = piece_of(conn, piece)
            rows = _takes(conn, found.id)
            asked = [b for b in desk.read_briefs(conn, found.performer_id)
                     if b.row.sent_at is None and any(p.id == found.id for p in b.pieces)]  # fmt: skip
            today = journals.takes_on(conn, found.id, local_day(room.clock(), found.zone))
        return rendered(
            "takes.html",
            piece=found,
            takes=rows,
            briefs=asked,
            today=today,
            percent=accuracy_share,
            asked_for=asked_for,
            care=desk.CONSENT,
        )

    @place.post("/piece/<piece>/takes")
    def add_take(piece: str) -> Response:
        request.max_content_length = at_least(LARGEST_FORM)
        intention = " ".join(request.form.get("intention", "").split())[:LONGEST_INTENTION]
        given = request.files.get("recording")
        if not intention:
            raise FieldError(
                "a take needs its intention", "write what it tries: what you want, and from whom"
            )
        if given is None or not given.filename:
            raise RecordingError("no recording was chosen", "choose the file to be sent")
        there = room.opened(piece)
        upload = begin_upload(room.home / "coming-in", there.piece.id, given.filename)
        while block := given.stream.read(SLICE):
            upload.add(upload.slices, block)
        try:
            logged = desk.log_take(
                room.journal, there.piece.name, there.piece.performer, upload.path, intention,
                request.form.get("brief") or None, True,
            )  # fmt: skip
        finally:
            upload.drop()
        return go("job", key=_judged(room, there.piece.name, there.piece.performer, logged.take.n, piece))

    _add_take_changes(place, room)


def _add_take_changes(place: Blueprint, room: Room) -> None:
    @place.post("/piece/<piece>/takes/<int:n>")
    def change_take(piece: str, n: int) -> Response:
        done = request.form.get("do", "")
        with room.journal.writing() as conn:
            found = piece_of(conn, piece)
            take = journals.take_numbered(conn, found, n)
            if done == "choose":
                journals.choose_take(room.journal, conn, take)
            elif done == "delete":
                journals.delete_take(conn, take.id)
        if done == "judge":
            return go("job", key=_judged(room, found.name, found.performer, n, piece))
        told = {
            "choose": f"Take {n} is chosen.",
            "delete": f"Take {n} is out of the log; its recording stays.",
        }
        if done in told:
            tell(room, told[done])
        return go("takes", piece=piece)


def _judged(room: Room, name: str, performer: str, n: int, piece: str) -> str:
    """Put the judging of a take into the queue; returns the key of the job."""

    def work(job: Job) -> str:
        logged = desk.logged_take(room.journal, name, performer, n)
        judged = desk.judge_logged(room.journal, logged, room.loading, job.step)
        return judged.run or ""

    with room.journal.reading() as conn:
        owner = piece_of(conn, piece).performer_id
    return room.turns.add(Job(owner, piece, name, work)).key


def _takes(conn: journals.Connection, piece_id: str) -> list[dict[str, Any]]:
    """The takes of a piece, each with the numbers of those that it can be compared with."""
    rows = [_take(conn, t) for t in journals.takes(conn, piece_id)]
    heard = [r["take"].n for r in rows if r["run"] is not None]
    return [r | {"others": [n for n in heard if r["run"] and n != r["take"].n]} for r in rows]


def _take(conn: journals.Connection, take: Any) -> dict[str, Any]:
    told = desk.findings_of_take(take)
    run = journals.run_of_take(conn, take) if told is not None else None
    shifts = None if told is None else desk.shifts_heard(told.get("delivery", {}).get("shifts"))
    unmet = [] if told is None else desk.unmet_of(told)
    return {"take": take, "told": told, "run": run, "unmet": unmet, "shifts": shifts}
