"""Finding what somebody named: a performer, a piece and its newest draft in the journal, and a day."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from offbook.errors import JournalError

if TYPE_CHECKING:
    from offbook.journal import Connection
    from offbook.records import Performer, Piece, Version


def chosen_performer(conn: Connection, name: str | None) -> Performer:
    """The performer with this name; for None the only one there is. Raises JournalError."""
    from offbook.journal import performer_named, performers

    if name is not None:
        return performer_named(conn, name)
    found = performers(conn)
    if not found:
        raise JournalError(
            "the journal is still empty", "add your first piece: offbook piece add SCRIPT --date +20"
        )
    if len(found) > 1:
        raise JournalError(
            f"the journal has {len(found)} performers",
            "name the performer with --performer NAME or OFFBOOK_PERFORMER",
        )
    return found[0]


def chosen_piece(conn: Connection, name: str, performer: str | None) -> Piece:
    """The piece called `name`, of this performer where one is named. Raises JournalError."""
    from offbook.journal import piece_named

    return piece_named(conn, name, performer)


def draft_of(conn: Connection, piece: Piece) -> Version:
    """The newest draft of a piece. Raises JournalError where it has none."""
    from offbook.journal import newest_version

    version = newest_version(conn, piece.id)
    if version is None:
        raise JournalError(f"{piece.name} has no script yet", "give it one: offbook piece revise")
    return version


def day_in(value: str | None, today: date) -> date | None:
    """A day given as 2026-05-01 or +20 (days from today). Raises JournalError."""
    if value is None:
        return None
    try:
        return today + timedelta(days=int(value)) if value.startswith("+") else date.fromisoformat(value)
    except (ValueError, OverflowError) as e:
        raise JournalError(
            f"{value!r} is not a day", "write it as 2026-05-01, or +20 for twenty days from now"
        ) from e
