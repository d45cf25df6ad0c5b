"""A piece's settings: its name, limit and date, new drafts, its recordings, and deleting it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, request

from offbook import desk
from offbook import journal as journals
from offbook.page.app import go, rendered, tell
from offbook.page.forms import FieldError, limit_in, limit_shown, name_in, typed_day
from offbook.page.opened import piece_of
from offbook.page.room import Room
from offbook.report import accuracy_svg, lines_svg
from offbook.score import accuracy_share

if TYPE_CHECKING:
    from offbook.progress import StretchHistory

STRETCHES = 40  # lines of a speech that a chart shows; a longer one has a table


def add_settings(place: Blueprint, room: Room) -> None:
    """The routes of the settings, of the recordings that are kept, and of the progress."""
    _add_settings(place, room)
    _add_recordings(place, room)
    _add_progress(place, room)


def _add_settings(place: Blueprint, room: Room) -> None:
    @place.get("/piece/<piece>/settings")
    def settings(piece: str) -> Response:
        with room.journal.reading() as conn:
            found = piece_of(conn, piece)
            kept = journals.recordings(conn, found.id)
            waiting = {r.id for r in journals.unjudged(conn, found.id)}
            numbers = journals.take_numbers(conn, found.id)
            drafts = journals.versions(conn, found.id)
        return rendered(
            "settings.html",
            piece=found,
            limit=limit_shown(found.limit_seconds),
            drafts=drafts,
            recordings=[(r, r.id in waiting, numbers.get(r.id), _is_there(room, r.path)) for r in kept],
        )

    @place.post("/piece/<piece>/settings")
    def change(piece: str) -> Response:
        form = request.form
        values: dict[str, Any] = {
            "name": name_in(form.get("name", "")),
            "limit_seconds": limit_in(form.get("limit", "")),
            "due_day": typed_day(form.get("day", "")),
            "keep_recordings": "keep" in form,
        }
        with room.journal.writing() as conn:
            journals.change_piece(room.journal, conn, piece_of(conn, piece).id, **values)
        tell(room, "Changed.")
        return go("settings", piece=piece)

    @place.post("/piece/<piece>/delete")
    def delete(piece: str) -> Response:
        with room.journal.writing() as conn:
            found = piece_of(conn, piece)
            if name_in(request.form.get("name", "")) != found.name:
                raise FieldError(
                    "the name does not fit, so nothing was deleted", f"write “{found.name}” to delete it"
                )
            journals.delete_piece(conn, found.id)
        journals.delete_marked_files(room.journal)
        journals.erase_copies(room.journal)
        tell(room, f"{found.name} is gone, with all its history and recordings.")
        return go("home")


def _is_there(room: Room, path: str) -> bool:
    return (room.journal.recordings / path).is_file()


def _add_recordings(place: Blueprint, room: Room) -> None:
    @place.post("/piece/<piece>/forget")
    def forget(piece: str) -> Response:
        chosen = set(request.form.getlist("recording"))
        with room.journal.writing() as conn:
            found = piece_of(conn, piece)
            gone = [r.id for r in journals.recordings(conn, found.id) if r.id in chosen]
            for key in gone:
                journals.forget_recording(conn, key)
        journals.delete_marked_files(room.journal)
        count = f"{len(gone)} recording{'s' * (len(gone) != 1)}"
        tell(room, f"{count} gone for good; the notes stay. Archives that you exported still contain them.")
        return go("settings", piece=piece)


def _add_progress(place: Blueprint, room: Room) -> None:
    @place.get("/piece/<piece>/progress")
    def progress(piece: str) -> Response:
        from offbook.progress import often_wrong

        with room.journal.reading() as conn:
            found = piece_of(conn, piece)
            stand = desk.standing(conn, found, room.clock())
            seen = desk.detail(conn, found)
        lines = seen.lines if seen is not None else ()
        return rendered(
            "progress.html",
            piece=found,
            stand=stand,
            chart=_drawn(accuracy_svg(found.name, stand.days), "days") if stand.days else "",
            by_line=_drawn(lines_svg(found.name, lines), "lines") if 0 < len(lines) <= STRETCHES else "",
            lines=lines,
            going=[(each, _mistakes_in_words(each)) for each in often_wrong(lines)],
            percent=accuracy_share,
        )


def _mistakes_in_words(line: StretchHistory) -> list[tuple[str, str, int]]:
    """The mistakes in a line that come back, in its order: the words, what becomes of them, and how often.

    Words in a row that are dropped equally often are shown as one stretch.
    """
    found: list[tuple[str, str, int]] = []
    before = -1
    for g in sorted((m for m in line.mistakes if m.times > 1), key=lambda m: m.word):
        how = g.how if g.how == "dropped" else f"became “{g.instead}”" if g.instead else "changed"
        if found and how == "dropped" and before == g.word - 1 and found[-1][1:] == (how, g.times):
            found[-1] = (f"{found[-1][0]} {g.text}", how, g.times)
        else:
            found.append((g.text, how, g.times))
        before = g.word
    return found


def _drawn(svg: str, name: str) -> str:
    """A chart in the colours of the page, with ids that no other chart on the page has."""
    for colour, ink in (("#fff", "none"), ("#000", "currentColor"), ("#444", "currentColor")):
        svg = svg.replace(f'fill="{colour}"', f'fill="{ink}"').replace(
            f'stroke="{colour}"', f'stroke="{ink}"'
        )
    svg = svg.replace("<svg ", '<svg fill="currentColor" ', 1)
    for each in ("t", "d", "unsure"):
        svg = svg.replace(f'id="{each}"', f'id="{name}-{each}"').replace(
            f"url(#{each})", f"url(#{name}-{each})"
        )
    return svg.replace('aria-labelledby="t d"', f'aria-labelledby="{name}-t {name}-d"')
