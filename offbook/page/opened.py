"""A piece that is asked for by its key, with its newest draft and its pencil marks."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from offbook import journal as journals
from offbook import pencil
from offbook.errors import JournalError
from offbook.journal import Connection, Journal
from offbook.records import Piece, Version


@dataclass(frozen=True, slots=True)
class Opened:
    """A piece with its newest draft and where its pencil marks are kept."""

    piece: Piece
    version: Version
    pencil: Path

    @property
    def penciled_at(self) -> float:
        """When the pencil marks were last written, s since 1970; 0 where there are none."""
        try:
            return self.pencil.stat().st_mtime
        except OSError:
            return 0.0


def piece_of(conn: Connection, key: str) -> Piece:
    """The piece with this key. Raises JournalError where there is none."""
    for piece in journals.pieces_of(conn):
        if piece.id == key:
            return piece
    raise JournalError("there is no such piece", "it may have been deleted: go back to the list of pieces")


def open_piece(journal: Journal, key: str) -> Opened:
    """The piece with this key. Raises JournalError."""
    with journal.reading() as conn:
        piece = piece_of(conn, key)
        version = journals.newest_version(conn, piece.id)
    if version is None:
        raise JournalError(f"{piece.name} has no script yet", "give it one under Settings")
    return Opened(piece, version, _pencil_of(journal.home, piece, version))


def _pencil_of(home: Path, piece: Piece, version: Version) -> Path:
    """Where the pencil file is: beside the script where its whole path is known, else with ours."""
    source = Path(version.script.source or "")
    if source.is_absolute() and source.is_file():
        return source.with_name(source.name + pencil.SUFFIX)
    return home / "scripts" / piece.id / f"script.txt{pencil.SUFFIX}"
