"""Notes in the margin of a piece: written beside a line, found again where that line is today."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from offbook.desk.finding import chosen_piece, draft_of
from offbook.errors import JournalError
from offbook.journal import add_margin_note, margin_notes, take_numbered
from offbook.words import at_number, number_of, where

if TYPE_CHECKING:
    from offbook.journal import Connection, Journal
    from offbook.records import MarginNote, Piece, Version

_LONGEST, _LONGEST_AUTHOR = 2000, 200  # characters of a note, and of who wrote it; set by hand


@dataclass(frozen=True, slots=True)
class PlacedNote:
    """A note, and where it is in a draft.

    where: "line 5" or "sentence 3"; line: the number of its line in the script; word: the word that it was
    written beside. All three are None where that word has been cut.
    """

    note: MarginNote
    where: str | None
    line: int | None
    word: int | None


def placed_notes(conn: Connection, piece: Piece, version: Version | None = None) -> tuple[PlacedNote, ...]:
    """The notes of a piece in the order of its lines; those whose words were cut come last.

    version: the draft they are placed in, the newest where none is given.
    """
    found = margin_notes(conn, piece.id)
    if not found:
        return ()
    draft = draft_of(conn, piece) if version is None else version
    at = {slot: i for i, slot in enumerate(draft.slots)}
    placed = [
        PlacedNote(note, None, None, None) if note.slot not in at else _placed(draft, note, at[note.slot])
        for note in found
    ]
    return tuple(sorted(placed, key=lambda p: (p.word is None, p.word or 0, p.note.n)))


def _placed(draft: Version, note: MarginNote, word: int) -> PlacedNote:
    return PlacedNote(note, where(draft.script, draft.words, word, word), draft.words[word].line, word)


def still_open(placed: Iterable[PlacedNote], take: int | None) -> tuple[PlacedNote, ...]:
    """The notes that are still to be worked on: those on any take, and those on take `take`."""
    return tuple(p for p in placed if p.note.done_at is None and p.note.take in (None, take))


def write_margin_note(
    journal: Journal,
    name: str,
    performer: str | None,
    line: str,
    text: str,
    author: str,
    take: int | None = None,
) -> tuple[Piece, PlacedNote]:
    """Write a note beside a line of a piece, or beside a sentence of prose.

    line: its number, as in the line notes ("4", "s4"). Raises JournalError.
    """
    said, by = " ".join(text.split()), " ".join(author.split())
    if not 0 < len(said) <= _LONGEST or not said.isprintable():
        raise JournalError("the note is empty or too long", f"write up to {_LONGEST} characters of text")
    if not 0 < len(by) <= _LONGEST_AUTHOR or not by.isprintable():
        raise JournalError("the name of who writes is empty or too long", "give a name, as in --by Ivo")
    with journal.writing() as conn:
        piece = chosen_piece(conn, name, performer)
        version = draft_of(conn, piece)
        there = at_number(version.script, version.words, line)
        if there is None:
            last = number_of(version.script, version.words[-1])
            raise JournalError(
                f"{piece.name} has no spoken words at {line}",
                f"give a number as `offbook mark` shows it, up to {last}; nothing was noted",
            )
        if take is not None:
            take_numbered(conn, piece, take)
        note = add_margin_note(
            journal,
            conn,
            piece,
            slot=version.slots[there.first],
            quote=version.script.text[version.words[there.first].start : version.words[there.last].end],
            text=said,
            author=by,
            take=take,
        )
    return piece, _placed(version, note, there.first)
