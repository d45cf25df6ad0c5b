"""The list of the pieces, and adding a script: it is shown as it was understood before it is kept."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING

from flask import Blueprint, Response, request

from offbook import desk
from offbook import journal as journals
from offbook import script as scripts
from offbook.errors import OffbookError, ScriptError
from offbook.intake import at_least
from offbook.journal import Connection
from offbook.moment import local_day
from offbook.outgoing import write_whole
from offbook.page import drafts
from offbook.page.app import go, rendered, tell
from offbook.page.drafts import Draft
from offbook.page.forms import FieldError, limit_in, name_in, title_of_file, typed_day
from offbook.page.opened import piece_of
from offbook.page.room import Room
from offbook.records import Performer, Piece
from offbook.score import accuracy_share
from offbook.script import RespokenStretch, Script
from offbook.words import Word, numbered, words_of

if TYPE_CHECKING:
    from offbook.progress import Standing

BESIDE = 1 << 20  # bytes of a form beside its file; set by hand
_LONGEST_FIELD = 20  # characters of a time or a day; set by hand
_CHOICE = re.compile(r"([0-9]+)-([0-9]+)-([01])")  # where a stretch begins and ends, and whether it is spoken


@dataclass(frozen=True, slots=True)
class UnderstoodRow:
    """One row of a script as it was understood.

    kind: "line" (of prose, a sentence), "out" (not spoken) or "cue"; start, end: where it is in the script's
    text; n: the number beside it; why: the reason why it is not spoken, or who speaks; gap: a blank row comes
    before it.
    """

    kind: str
    text: str
    start: int
    end: int
    n: str = ""
    why: str = ""
    gap: bool = False


def add_pieces(place: Blueprint, room: Room) -> None:
    """The routes of the list of pieces and of adding one."""

    @place.get("/")
    def home() -> Response:
        with room.journal.reading() as conn:
            people = journals.performers(conn)
            now = room.clock()
            stands = [desk.standing(conn, p, now) for p in journals.pieces_of(conn)]
        return rendered("home.html", people=people, stands=stands, says=_says, left=days_left)

    @place.get("/add")
    def add() -> Response:
        return rendered("add.html", text="", name="", revises=_revised(room, request.args.get("revises", "")))

    @place.post("/add")
    def add_script() -> Response:
        request.max_content_length = request.max_form_memory_size = at_least(drafts.LARGEST_SCRIPT) + BESIDE
        text, name = request.form.get("text", ""), name_in(request.form.get("name", ""))
        revised = _revised(room, request.form.get("revises", ""))
        try:
            draft = _taken_in(room, text, name, "" if revised is None else revised.id)
        except OffbookError as e:
            return rendered(
                "add.html", HTTPStatus.BAD_REQUEST, text=text, name=name, revises=revised, failed=e
            )
        return go("draft", key=draft.key)

    @place.get("/add/<key>")
    def draft(key: str) -> Response:
        return _draft_screen(room, drafts.load_draft(_drafts(room), key))

    @place.post("/add/<key>")
    def change_draft(key: str) -> Response:
        return _change(room, drafts.load_draft(_drafts(room), key))


def _drafts(room: Room) -> Path:
    return room.home / "coming-in"


def _revised(room: Room, key: str) -> Piece | None:
    """The piece that a new draft belongs to; None for a new piece."""
    if not key:
        return None
    with room.journal.reading() as conn:
        return piece_of(conn, key)


def _taken_in(room: Room, text: str, name: str, revises: str) -> Draft:
    given = request.files.get("file")
    if given is not None and given.filename:
        data, called = given.stream.read(at_least(drafts.LARGEST_SCRIPT) + 1), given.filename
    elif text.strip():
        data, called = text.replace("\r\n", "\n").encode(), ""
    else:
        raise ScriptError("there is no script yet", "paste it into the field, or choose a file")
    draft = drafts.save(_drafts(room), data, called, name or title_of_file(called), revises)
    try:
        scripts.load_script(draft.folder / draft.file)
    except OffbookError as e:
        drafts.drop(draft)
        # The file's place in our folder says nothing to the person who gave it.
        what = str(e.what).replace(str(draft.folder / draft.file), called or "the pasted text")
        raise ScriptError(what, e.do) from e
    return draft


def _draft_screen(room: Room, draft: Draft, failed: OffbookError | None = None) -> Response:
    script = draft.script()
    spoken = words_of(script)
    with room.journal.reading() as conn:
        people = journals.performers(conn)
    whole = scripts.load_script(draft.folder / draft.file)
    return rendered(
        "draft.html",
        HTTPStatus.OK if failed is None else HTTPStatus.BAD_REQUEST,
        draft=draft,
        script=script,
        parts=whole.parts,
        rows=understood_rows(script, spoken),
        spoken=len(spoken),
        counted=_many_rows(script, spoken),
        people=people,
        revised=_revised(room, draft.revises),
        failed=failed,
    )


def _change(room: Room, draft: Draft) -> Response:
    form = request.form
    draft = replace(
        draft,
        title=name_in(form.get("name", draft.title)),
        limit=form.get("limit", draft.limit)[:_LONGEST_FIELD],
        day=form.get("day", draft.day)[:_LONGEST_FIELD],
    )
    anchor = None
    if "part" in form:
        draft = replace(draft, part=form["part"] or None, choices=())
    elif "turn" in form:
        choice = _choice(form["turn"])
        draft, anchor = replace(draft, choices=(*draft.choices, choice)), f"at-{choice.start}"
    try:
        draft.script()  # a choice that would leave nothing is refused here
        drafts.write(draft)
        if form.get("do") == "keep":
            return _keep(room, draft, form.get("performer", ""))
    except OffbookError as e:
        return _draft_screen(room, drafts.load_draft(_drafts(room), draft.key), e)
    if form.get("do") == "drop":
        drafts.drop(draft)
        return go("home")
    return go("draft", key=draft.key, _anchor=anchor)


def _choice(value: str) -> RespokenStretch:
    named = _CHOICE.fullmatch(value)
    start, end, spoken = (0, 0, 0) if named is None else map(int, named.groups())
    if not start < end:
        raise FieldError("this is not a part of the script", "load the page again")
    return RespokenStretch(start, end, bool(spoken))


def _many_rows(script: Script, words: Sequence[Word]) -> str:
    """How many lines a speech has, or sentences where it is prose."""
    n = len(numbered(script, words)) if script.form == "prose" else len(script.lines)
    return f"{n} {'sentence' if script.form == 'prose' else 'line'}{'s' if n != 1 else ''}"


def understood_rows(script: Script, words: Sequence[Word]) -> list[UnderstoodRow]:
    """The script row by row as it was understood, in the order of the page."""
    shown = desk.shown_rows(script, words)
    doubtful = {out.start: f"perhaps a {out.reason}" for out in script.perhaps}
    found = [
        UnderstoodRow("line", each.text, each.start, each.end, each.number, doubtful.get(each.start, ""))
        for each in shown
    ]
    found += [
        UnderstoodRow(
            "out", " ".join(out.text.split()), out.start, out.end, why=out.reason + ("" if out.sure else "?")
        )
        for out in script.left_out
        if not any(c.start <= out.start < c.end for c in script.cues)
    ]
    found += [
        UnderstoodRow("cue", " ".join(c.text.split()), c.start, c.end, why=c.speaker) for c in script.cues
    ]
    paragraphs = {each.start: each.paragraph for each in shown}
    out: list[UnderstoodRow] = []
    paragraph = 0
    for row in sorted(found, key=lambda r: (r.start, r.end)):
        now = paragraphs.get(row.start, paragraph) if row.kind == "line" else paragraph
        out.append(replace(row, gap=bool(out) and now != paragraph))
        paragraph = now
    return out


def _keep(room: Room, draft: Draft, performer: str) -> Response:
    """Take the draft into the journal; its file goes to where its pencil marks are kept."""
    script = draft.script()
    limit, day = limit_in(draft.limit), typed_day(draft.day)
    words, units = desk.words_and_thoughts(script)
    with room.journal.writing() as conn:
        if draft.revises:
            piece = piece_of(conn, draft.revises)
        else:
            owner = _owner(room, conn, performer)
            piece = journals.add_piece(
                room.journal, conn, owner, draft.title or script.title, part=script.part, limit_seconds=limit,
                due_day=day,
            )  # fmt: skip
        kept = room.home / "scripts" / piece.id / draft.file
        script = replace(script, source=str(kept))
        journals.add_version(room.journal, conn, piece.id, script, words, units)
        kept.parent.mkdir(parents=True, exist_ok=True)
        write_whole(kept, (draft.folder / draft.file).read_bytes())
    drafts.drop(draft)
    if draft.revises:
        tell(room, "The new draft is kept. Lines that stayed keep their history.")
    if day is not None and day < local_day(room.clock(), piece.zone):
        tell(room, "The day you gave is over. You can change it under Settings.")
    return go("text", piece=piece.id)


def _owner(room: Room, conn: Connection, performer: str) -> Performer:
    """The performer with this key; the first one if there is none with it."""
    people = desk.performers_or_me(room.journal, conn)
    return next((p for p in people if p.id == performer), people[0])


def days_left(due: date | None, today: date) -> str:
    """How long there is left, for people."""
    if due is None:
        return "no date"
    days = (due - today).days
    if days < 0:
        return f"was due {due:%-d %B}"
    return "today is the day" if days == 0 else f"{days} day{'s' * (days != 1)} left, {due:%a %-d %b}"


def _says(s: Standing) -> str:
    """What the list says about a piece."""
    if s.latest is None:
        return "not spoken yet"
    said = f"{accuracy_share(s.latest.accuracy)} of the words in the last run-through"
    return f"off book: {said}" if s.off_book.since is not None else said
