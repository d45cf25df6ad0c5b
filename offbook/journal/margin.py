"""Notes in the margin: what a coach writes beside a line, kept with the piece until it is worked on.

A note hangs on a word by the number that the word keeps from draft to draft, so that it moves with its line;
the line's words as they stood when it was written are kept with it, for the day when they have been cut.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from sqlalchemy import Connection, delete, func, insert, select

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.settling import change
from offbook.moment import local_day
from offbook.records import MarginNote, Piece

if TYPE_CHECKING:
    from datetime import datetime

    from offbook.journal.connection import Journal

_NOTE = t.columns_of(t.margin_note, MarginNote)


def add_margin_note(
    journal: Journal,
    conn: Connection,
    piece: Piece,
    *,
    slot: int,
    quote: str,
    text: str,
    author: str,
    take: int | None = None,
) -> MarginNote:
    """Write a note beside a word. slot: the number it keeps; quote: its line; take: the number of a take."""
    last = conn.execute(select(func.max(t.margin_note.c.n)).where(t.margin_note.c.piece_id == piece.id))
    now = journal.clock()
    made = MarginNote(
        id=journal.key(),
        piece_id=piece.id,
        at=now,
        day=local_day(now, piece.zone),
        zone=piece.zone,
        n=(last.scalar() or 0) + 1,
        slot=slot,
        quote=quote,
        take=take,
        author=author,
        text=text,
        done_at=None,
    )
    conn.execute(insert(t.margin_note).values(**asdict(made)))
    return made


def margin_notes(conn: Connection, piece_id: str) -> tuple[MarginNote, ...]:
    """The notes beside a piece's lines, in the order in which they were written."""
    query = select(*_NOTE).where(t.margin_note.c.piece_id == piece_id).order_by(t.margin_note.c.n)
    return tuple(MarginNote(*row) for row in conn.execute(query))


def open_margin_notes(conn: Connection, performer_id: str) -> dict[str, int]:
    """By the key of a performer's piece, how many notes are still to be worked on."""
    query = (
        select(t.margin_note.c.piece_id, func.count())
        .join(t.piece)
        .where(t.piece.c.performer_id == performer_id, t.margin_note.c.done_at.is_(None))
        .group_by(t.margin_note.c.piece_id)
    )
    return {row[0]: row[1] for row in conn.execute(query)}


def margin_note_numbered(conn: Connection, piece: Piece, n: int) -> MarginNote:
    """Note `n` of a piece. Raises JournalError where there is none."""
    query = select(*_NOTE).where(t.margin_note.c.piece_id == piece.id, t.margin_note.c.n == n)
    row = conn.execute(query).one_or_none()
    if row is None:
        raise JournalError(
            f"{piece.name} has no note {n} in its margin", f'see `offbook margin list "{piece.name}"`'
        )
    return MarginNote(*row)


def tick_margin_note(journal: Journal, conn: Connection, note: MarginNote, at: datetime | None) -> None:
    """Note when a note was worked on; None opens it again."""
    change(conn, t.margin_note, t.margin_note.c.id == note.id, {"done_at": at}, journal.clock())


def delete_margin_note(conn: Connection, note: MarginNote) -> None:
    """Delete a note."""
    conn.execute(delete(t.margin_note).where(t.margin_note.c.id == note.id))
