"""Notes in the margin: what a coach writes beside a line. They are kept with the piece.

A note belongs to a word, by the number that the word keeps in all drafts, so the note moves with its line.
The line is kept with the note as it was when the note was written, in case the line is cut later.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from sqlalchemy import Connection, delete, func, insert, select

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.settling import change_and_note
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
    """Write a note beside a word.

    slot: the number that the word keeps in all drafts. quote: the line it is in. take: the number of the take
    that the note is about, None if it is about none.
    """
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
    """The notes of a piece, in the order in which they were written."""
    query = select(*_NOTE).where(t.margin_note.c.piece_id == piece_id).order_by(t.margin_note.c.n)
    return tuple(MarginNote(*row) for row in conn.execute(query))


def open_margin_notes(conn: Connection, performer_id: str) -> dict[str, int]:
    """How many notes are still to be worked on, by the key of each piece of a performer that has any."""
    query = (
        select(t.margin_note.c.piece_id, func.count())
        .join(t.piece)
        .where(t.piece.c.performer_id == performer_id, t.margin_note.c.done_at.is_(None))
        .group_by(t.margin_note.c.piece_id)
    )
    return {row[0]: row[1] for row in conn.execute(query)}


def margin_note_numbered(conn: Connection, piece: Piece, n: int) -> MarginNote:
    """The note of a piece with the number `n`. Raises JournalError if there is none."""
    query = select(*_NOTE).where(t.margin_note.c.piece_id == piece.id, t.margin_note.c.n == n)
    row = conn.execute(query).one_or_none()
    if row is None:
        raise JournalError(
            f"{piece.name} has no note {n} in its margin", f'see `offbook margin list "{piece.name}"`'
        )
    return MarginNote(*row)


def mark_margin_note_done(journal: Journal, conn: Connection, note: MarginNote, at: datetime | None) -> None:
    """Write down that a note was worked on at the moment `at`; None opens it again."""
    change_and_note(conn, t.margin_note, t.margin_note.c.id == note.id, {"done_at": at}, journal.clock())


def delete_margin_note(conn: Connection, note: MarginNote) -> None:
    """Delete a note of the margin."""
    conn.execute(delete(t.margin_note).where(t.margin_note.c.id == note.id))
