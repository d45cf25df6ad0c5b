"""A coach's class, and the whole journal in one archive, to save and to read back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from flask import Blueprint, Response, request, send_file

from offbook import desk
from offbook import journal as journals
from offbook.errors import JournalError
from offbook.intake import at_least
from offbook.page.app import go, rendered, tell
from offbook.page.forms import FieldError, name_in
from offbook.page.room import Import, Room
from offbook.score import accuracy_share
from offbook.scratch import scratch

if TYPE_CHECKING:
    from datetime import date

    from offbook.desk import ClassRow

LARGEST_ARCHIVE = 250 << 20  # bytes; a larger one goes through the terminal
_MOST_ROWS = 60  # of a class, until it is asked for whole: forecasts take milliseconds each; set by hand
_MOST_MINUTES = 600  # a day that somebody may plan; set by hand


def add_everybody(place: Blueprint, room: Room) -> None:
    """The routes of the class and of the archives."""
    _add_class(place, room)
    _add_archives(place, room)


def _add_class(place: Blueprint, room: Room) -> None:
    @place.get("/class")
    def class_view() -> Response:
        with room.journal.reading() as conn:
            people = journals.performers(conn)
            everything = desk.class_rows(conn, room.clock())
            shown = everything if "all" in request.args else everything[:_MOST_ROWS]
            rows = desk.with_forecast(conn, shown)
        return rendered(
            "class.html",
            people=people,
            rows=rows,
            more=len(everything) - len(rows),
            percent=accuracy_share,
            says=_stands,
            sending=_sending,
            ago=_ago,
        )

    @place.post("/class")
    def add_person() -> Response:
        name = name_in(request.form.get("name", ""))
        if not name:
            raise FieldError("a performer needs a name", "write one")
        with room.journal.writing() as conn:
            zone = journals.performers(conn)[0].zone if journals.performers(conn) else _zone()
            journals.add_performer(room.journal, conn, name, zone)
        tell(room, f"{name} is in the class.")
        return go("class_view")

    @place.post("/class/<performer>")
    def change_person(performer: str) -> Response:
        with room.journal.writing() as conn:
            found = next((p for p in journals.performers(conn) if p.id == performer), None)
            if found is None:
                raise JournalError("there is no such performer", "look at the class again")
            journals.change_performer(
                room.journal,
                conn,
                found.id,
                minutes_a_day=_minutes("minutes_a_day"),
                voice_minutes=_minutes("voice_minutes"),
            )
        tell(room, f"{found.name}: changed.")
        return go("class_view")


def _zone() -> str:
    from offbook.moment import system_zone

    return system_zone()


def _minutes(field: str) -> float:
    try:
        minutes = float(request.form.get(field, ""))
    except ValueError:
        minutes = 0.0
    if not 1 <= minutes <= _MOST_MINUTES:
        raise FieldError("that is not a number of minutes", f"write a number from 1 to {_MOST_MINUTES}")
    return minutes


def _sending(r: ClassRow) -> str:
    """Where things stand with the brief that asks for this piece."""
    if r.sent:
        return "sent"
    if r.late:
        return "late, not sent"
    return "take chosen" if r.chosen else "no take chosen"


def _ago(day: date | None, today: date) -> str:
    """When somebody last worked on a piece."""
    if day is None:
        return "never"
    days = (today - day).days
    return "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"


def _stands(r: ClassRow) -> str:
    """How well a piece is known, in a few words."""
    if r.off_book:
        return "off book" if r.holds else "was off book, slipped in the newest run-through"
    if r.stand.clean_days:
        return "one clean day, needs another"
    if r.stand.runs:
        return f"{r.stand.run_days} day{'s' * (r.stand.run_days != 1)} of run-throughs, none clean yet"
    return f"{accuracy_share(r.seen)} of the thoughts begun, not run through yet" if r.seen else "not begun"


def _add_archives(place: Blueprint, room: Room) -> None:
    @place.get("/keep-safe")
    def keep_safe() -> Response:
        return rendered("keep_safe.html")

    @place.post("/keep-safe/export")
    def export() -> Response:
        with scratch() as folder:
            target = Path(folder) / "offbook.zip"
            journals.export(room.journal, target, desk.fits_brief)
            # Opened before it is unlinked: the archive goes to the browser and stays nowhere.
            opened = target.open("rb")
        day = room.clock().date().isoformat()
        answer: Response = send_file(
            opened, mimetype="application/zip", as_attachment=True, download_name=f"offbook-{day}.zip"
        )
        return answer

    @place.post("/keep-safe/import")
    def import_() -> Response:
        request.max_content_length = at_least(LARGEST_ARCHIVE)
        given = request.files.get("archive")
        if given is None or not given.filename:
            raise FieldError("no archive was chosen", "choose the file that offbook exported")
        with scratch() as folder:
            source = Path(folder) / "archive.zip"
            given.save(source)
            done = journals.read_in(room.journal, source, desk.fits_brief)
        parts = [f"{n} {table}{'s' * (n != 1)}" for table, n in done.rows.items() if n and table in _TOLD]
        read = f"Imported: {', '.join(parts) or 'nothing that was not already here'}."
        found = [each for differing in done.differing for each in desk.differences(differing)]
        if not found and not done.left:
            tell(room, read)
            return go("home")
        return go("imported", key=room.keep_import(Import(read, found, done.left)))

    @place.get("/keep-safe/import/<key>")
    def imported(key: str) -> Response:
        return rendered("read_in.html", key=key, done=_import(room, key))

    @place.post("/keep-safe/import/<key>/<int:n>")
    def take_other(key: str, n: int) -> Response:
        """Put the other one of two values that differ into the journal."""
        done = _import(room, key)
        if not 0 <= n < len(done.found):
            raise FieldError("there is no such difference", "load the page again")
        with room.journal.writing() as conn:
            done.found[n] = desk.take_other_value(room.journal, conn, done.found[n])
        return go("imported", key=key, _anchor=f"differs-{n}")


def _import(room: Room, key: str) -> Import:
    if key not in room.imports:
        raise JournalError(
            "this list of differences is no longer kept",
            "everything that was imported is in the journal: change it there",
        )
    return room.imports[key]


_TOLD = frozenset({"performer", "piece", "run", "answer", "take"})
