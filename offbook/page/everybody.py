"""A coach's class, and everything in one archive: out, and in again."""

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
from offbook.page.room import Room
from offbook.score import accuracy_share
from offbook.scratch import scratch

if TYPE_CHECKING:
    from offbook.progress import Standing

LARGEST_ARCHIVE = 250 << 20  # bytes; a larger one goes through the terminal
_MOST_MINUTES = 600  # a day that somebody may plan; set by hand


def add_everybody(place: Blueprint, room: Room) -> None:
    """The routes of the class and of the archives."""
    _add_class(place, room)
    _add_archives(place, room)


def _add_class(place: Blueprint, room: Room) -> None:
    @place.get("/class")
    def class_view() -> Response:
        with room.journal.reading() as conn:
            now = room.clock()
            people = journals.performers(conn)
            found = [desk.standing(conn, p, now) for p in journals.pieces_of(conn)]
        open_ = [s for s in found if s.days_left is None or s.days_left >= 0]
        return rendered(
            "class.html", people=people, stands=sorted(open_, key=_risk), percent=accuracy_share, says=_stands
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
        raise FieldError("that is no number of minutes", f"write a number from 1 to {_MOST_MINUTES}")
    return minutes


def _risk(s: Standing) -> tuple[float, int]:
    """Most at risk first: an unsafe forecast, then little seen, then few days; without a date last."""
    if s.days_left is None:
        return (2.0, 0)
    chance = s.forecast.chance if s.forecast is not None else None
    if chance is None:
        chance = 0.5 * s.seen + min(0.4, s.days_left / 50)
    return (chance, s.days_left)


def _stands(s: Standing) -> str:
    """Where a piece stands, in a few words."""
    if s.off_book.since is not None:
        return "off book" if s.off_book.holds else "was off book, slipped in the newest run-through"
    if s.off_book.clean_days:
        return "one clean day, needs another"
    if s.runs:
        return f"{len(s.days)} day{'s' * (len(s.days) != 1)} of run-throughs, none clean yet"
    return f"{accuracy_share(s.seen)} of the thoughts begun, not run through yet" if s.seen else "not begun"


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
        tell(room, f"Read in: {', '.join(parts) or 'nothing that was not here already'}.")
        return go("home")


_TOLD = frozenset({"performer", "piece", "run", "answer", "take"})
