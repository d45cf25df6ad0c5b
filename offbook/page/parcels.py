"""What is sent for a brief: the chosen takes in one file to save, noted as sent and as confirmed."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from flask import Blueprint, Response, request

from offbook import desk
from offbook import journal as journals
from offbook.errors import JournalError
from offbook.journal import Connection
from offbook.moment import local_day
from offbook.page.app import go, tell
from offbook.page.forms import name_in
from offbook.page.room import Room
from offbook.scratch import scratch

_BLOCK = 1 << 20  # bytes that go out at a time
_SAVED = "a file that the browser saved"  # where the journal says that the packed takes lie


def add_parcels(place: Blueprint, room: Room) -> None:
    """The routes of packing, of sending and of the confirmation."""

    @place.post("/brief/<key>/pack")
    def pack(key: str) -> Response:
        with room.journal.reading() as conn:
            kept = desk.brief_by_key(conn, key)
            _check_chosen(conn, kept, "so there is nothing to save yet")
            owner = next(p.name for p in journals.performers(conn) if p.id == kept.row.performer_id)
        folder = scratch()  # goes when the last block has gone out
        try:
            packed = desk.pack_bundle(
                room.journal, kept.row.name, owner, Path(folder.name) / "bundle", place=_SAVED
            )
            whole = Path(folder.name) / "bundle.zip"
            with zipfile.ZipFile(whole, "w", zipfile.ZIP_STORED) as archive:  # films are as small as they get
                for each in sorted(packed.folder.iterdir()):
                    archive.write(each, each.name)
            size = whole.stat().st_size
        except BaseException:
            folder.cleanup()
            raise
        answer = Response(_blocks(whole, folder), mimetype="application/zip")
        named = re.sub(r"[^A-Za-z0-9]+", "-", kept.row.name).strip("-") or "takes"
        answer.headers["Content-Disposition"] = f'attachment; filename="{named}.zip"'
        answer.headers["Content-Length"] = str(size)
        return answer

    @place.post("/brief/<key>/sent")
    def sent(key: str) -> Response:
        undo = "undo" in request.form
        with room.journal.writing() as conn:
            kept = desk.brief_by_key(conn, key)
            if undo:
                desk.take_back_sent(room.journal, conn, kept)
            else:
                _check_chosen(conn, kept, "so it was not noted as sent")
                desk.note_sent(room.journal, conn, kept, name_in(request.form.get("where", "")) or None, None)
        tell(room, "Open again." if undo else "Noted as sent. offbook itself sends nothing.")
        return go("brief", key=key)

    @place.post("/brief/<key>/confirmed")
    def confirmed(key: str) -> Response:
        with room.journal.writing() as conn:
            words = name_in(request.form.get("words", ""))
            desk.note_confirmed(room.journal, conn, desk.brief_by_key(conn, key), room.clock(), words)
        tell(room, "Noted: it has arrived.")
        return go("brief", key=key)


def _check_chosen(conn: Connection, kept: desk.BriefKept, so: str) -> None:
    """Raise JournalError where a piece of the brief has no chosen take."""
    missing = [p.name for p, take in desk.chosen_for(conn, kept) if take is None]
    if missing:
        raise JournalError(
            f"no take is chosen of {', '.join(missing)}, {so}", "choose one under Takes of the piece"
        )


def _blocks(whole: Path, folder: TemporaryDirectory[str]) -> Iterator[bytes]:
    with folder, open(whole, "rb") as file:
        while block := file.read(_BLOCK):
            yield block


def parcel_on_screen(room: Room, conn: Connection, kept: desk.BriefKept) -> dict[str, Any]:
    """Where the last parcel of a brief is, in words, and whether it still has to be confirmed."""
    found = journals.parcels(conn, [kept.row.id]).get(kept.row.id, [])
    if not found:
        return {"stands": "", "awaited": False}
    zone = next(p.zone for p in journals.performers(conn) if p.id == kept.row.performer_id)
    stands = desk.parcel_in_words(found[-1], local_day(room.clock(), zone))
    awaited = found[-1].sent_at is not None and found[-1].confirmed_at is None
    return {"stands": f"{stands[0].upper()}{stands[1:]}.", "awaited": awaited}
