"""Briefs as the journal keeps them: read, with the pieces they name and the takes chosen for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.desk.finding import who
from offbook.errors import JournalError

if TYPE_CHECKING:
    from offbook.brief import Brief
    from offbook.journal import BriefRow, Connection, Piece, TakeRow

CONSENT = (
    "When filming, local rules on consent and on safeguarding minors come first: ask whoever else is seen or"
    " heard, and for anybody under age a parent or guardian."
)


def read_briefs(conn: Connection, performer_id: str | None) -> list[tuple[BriefRow, Brief, list[Piece]]]:
    """The briefs in the journal, read, each with those of its pieces that are there."""
    from offbook import brief
    from offbook.errors import JournalError
    from offbook.journal import briefs, performers, piece_named, zone_named

    people = {p.id: p for p in performers(conn)}
    found = []
    for row in briefs(conn, performer_id):
        owner = people[row.performer_id]
        read = brief.parse(row.text, zone_named(owner.zone), row.name)
        owned = []
        for name in read.pieces:
            try:
                owned.append(piece_named(conn, name, owner.name))
            except JournalError:  # renamed or deleted since: `brief show` and `plan` say so
                continue
        found.append((row, read, owned))
    return found


def chosen_for(conn: Connection, row: BriefRow, owned: list[Piece]) -> list[tuple[Piece, TakeRow | None]]:
    """For each piece the take that was chosen, for this brief or for none in particular."""
    from offbook.journal import takes

    return [
        (
            piece,
            next(
                (take for take in takes(conn, piece.id) if take.chosen and take.brief_id in (None, row.id)),
                None,
            ),
        )
        for piece in owned
    ]


def one_brief(conn: Connection, name: str, performer: str | None) -> tuple[BriefRow, Brief, list[Piece]]:
    """The brief called `name`, read, with its pieces. Raises JournalError."""
    from offbook.journal import brief_named

    owner = None if performer is None else who(conn, performer).id
    row = brief_named(conn, name, owner)
    return next(found for found in read_briefs(conn, row.performer_id) if found[0].id == row.id)


def brief_for(conn: Connection, piece: Piece, name: str | None) -> tuple[BriefRow, Brief] | None:
    """The brief a take of `piece` is checked against: the one named, else the only open one with this piece.

    Gives its row and the brief, or None. Raises JournalError.
    """
    if name is not None:
        row, read, _ = one_brief(conn, name, piece.performer)
        return row, read
    fits = [
        (row, read)
        for row, read, owned in read_briefs(conn, piece.performer_id)
        if row.sent_at is None and any(p.id == piece.id for p in owned)
    ]
    if len(fits) > 1:
        raise JournalError(
            f"{len(fits)} briefs ask for {piece.name}: {', '.join(read.name for _, read in fits)}",
            "say which with --brief NAME",
        )
    return fits[0] if fits else None
