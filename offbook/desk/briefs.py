"""The briefs in the journal, read, each with those of its pieces that are there and the takes chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from offbook import brief
from offbook.brief import Brief
from offbook.desk.finding import who
from offbook.errors import JournalError
from offbook.journal import Connection, Journal, among, briefs, keep_brief, performers, pieces_of, takes
from offbook.moment import zone_named
from offbook.records import BriefRow, Performer, Piece, TakeRow

CONSENT = (
    "When filming, local rules on consent and on safeguarding minors come first: ask whoever else is seen or"
    " heard, and for anybody under age a parent or guardian."
)


@dataclass(frozen=True, slots=True)
class BriefKept:
    """A brief in the journal. pieces: those it names that the journal has, in its order."""

    row: BriefRow
    brief: Brief
    pieces: tuple[Piece, ...]

    @property
    def missing(self) -> int:
        """How many of the pieces it names are not in the journal, or not under that name any more."""
        return len(self.brief.pieces) - len(self.pieces)


def briefs_of(conn: Connection, owner: Performer, owned: Sequence[Piece] | None = None) -> list[BriefKept]:
    """The briefs of a performer, the nearest deadline first. owned: their pieces, where they are at hand."""
    rows = briefs(conn, owner.id)
    if not rows:
        return []
    return briefs_read(rows, owner, pieces_of(conn, owner.id) if owned is None else owned)


def briefs_read(rows: Sequence[BriefRow], owner: Performer, owned: Sequence[Piece]) -> list[BriefKept]:
    """These rows read, each with those of its performer's pieces that it names."""
    return [_kept(row, owner, owned) for row in rows]


def _kept(row: BriefRow, owner: Performer, owned: Sequence[Piece]) -> BriefKept:
    read = brief.parse_brief(row.text, zone_named(owner.zone), row.name)
    found = []
    for name in read.pieces:
        try:
            found.append(among(owned, name))
        except JournalError:  # renamed or deleted since: `brief show` and `plan` say so
            continue
    return BriefKept(row, read, tuple(found))


def read_briefs(conn: Connection, performer_id: str | None = None) -> list[BriefKept]:
    """The briefs of everybody, or of one performer, the nearest deadline first."""
    people = [p for p in performers(conn) if performer_id in (None, p.id)]
    found = [kept for person in people for kept in briefs_of(conn, person)]
    return sorted(found, key=lambda kept: (kept.row.deadline, kept.row.name))


def one_brief(conn: Connection, name: str, performer: str | None = None) -> BriefKept:
    """The brief that somebody means by `name`, read. performer: by name. Raises JournalError.

    A brief is known by its own name, by its file's, by the beginning of either, and by words of its name or
    of where it goes, in this order; letter case, blanks and underscores do not matter.
    """
    there = read_briefs(conn, None if performer is None else who(conn, performer).id)
    loose = _loose(name)
    fitting = ([kept for kept in there if fits(kept, loose)] for fits in _KNOWN_BY) if loose else iter(())
    found = next(filter(None, fitting), [])
    if len(found) == 1:
        return found[0]
    if not found:
        known = "; ".join(map(_told, there[:_NAMED])) + ("; …" if len(there) > _NAMED else "")
        raise JournalError(
            f"there is no brief called {name}",
            f"these are here: {known}" if there else "take one in: offbook brief add FILE",
        )
    raise JournalError(
        f"several briefs fit {name}: {'; '.join(map(_told, found[:_NAMED]))}",
        "give the whole name, or name the performer with --performer NAME",
    )


def brief_by_key(conn: Connection, key: str) -> BriefKept:
    """The brief with this key, read. Raises JournalError where there is none."""
    for kept in read_briefs(conn):
        if kept.row.id == key:
            return kept
    raise JournalError("there is no such brief", "go back to the list of briefs")


def correct_brief(
    journal: Journal, conn: Connection, kept: BriefKept, lines: Sequence[str], gone: Sequence[str]
) -> Brief:
    """Put lines of a brief in the place of those of the same keys, take away those of the keys in `gone`.

    The rest stays; gives the brief as it then is. Raises BriefError for what no brief can say, JournalError
    for another name.
    """
    owner = next(p for p in performers(conn) if p.id == kept.row.performer_id)
    zone = zone_named(owner.zone)
    text = brief.with_lines(kept.row.text, lines, gone, zone)
    read = brief.parse_brief(text, zone)
    if read.name != kept.row.name:
        raise JournalError("a brief keeps its name", "add it again under the other name")
    keep_brief(journal, conn, owner, read.name, text, read.deadline)
    return read


_NAMED = 8  # briefs in an error; set by hand, what can be read at a glance


def _loose(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())


def _told(kept: BriefKept) -> str:
    """A brief by its names."""
    return kept.row.name + (f" ({kept.row.file})" if kept.row.file else "")


def _file_names(kept: BriefKept) -> tuple[str, ...]:
    """The name of its file, with and without the ending."""
    file = kept.row.file
    return () if file is None else (_loose(file), _loose(file.rpartition(".")[0] or file))


_KNOWN_BY: tuple[Callable[[BriefKept, str], bool], ...] = (
    lambda kept, name: _loose(kept.row.name) == name,
    lambda kept, name: name in _file_names(kept),
    lambda kept, name: _loose(kept.row.name).startswith(name),
    lambda kept, name: any(each.startswith(name) for each in _file_names(kept)),
    lambda kept, name: any(
        f" {_words(name)} " in f" {_words(each)} " for each in (kept.row.name, kept.brief.send_to or "")
    ),
)


def _words(text: str) -> str:
    """A text as its words alone, loosely."""
    return _loose("".join(c if c.isalnum() or c in "_'" else " " for c in text))


def brief_for(conn: Connection, piece: Piece, name: str | None) -> BriefKept | None:
    """The brief a take of `piece` is checked against: the one named, else the only open one with this piece.

    None where there is none. Raises JournalError.
    """
    if name is not None:
        return one_brief(conn, name, piece.performer)
    fits = [
        kept
        for kept in read_briefs(conn, piece.performer_id)
        if kept.row.sent_at is None and any(p.id == piece.id for p in kept.pieces)
    ]
    if len(fits) > 1:
        raise JournalError(
            f"{len(fits)} briefs ask for {piece.name}: {', '.join(kept.row.name for kept in fits)}",
            "say which with --brief NAME",
        )
    return fits[0] if fits else None


def chosen_for(
    conn: Connection, kept: BriefKept, beside: Sequence[BriefKept] | None = None
) -> list[tuple[Piece, TakeRow | None]]:
    """For each piece the take that was chosen: for this brief, for none in particular, or for another brief
    that one recording serves as well. beside: the performer's briefs, where they are at hand."""
    others = read_briefs(conn, kept.row.performer_id) if beside is None else beside
    return [(piece, _chosen(takes(conn, piece.id), kept, piece, others)) for piece in kept.pieces]


def _chosen(
    found: Sequence[TakeRow], kept: BriefKept, piece: Piece, others: Sequence[BriefKept]
) -> TakeRow | None:
    chosen = {take.brief_id: take for take in found if take.chosen}
    own = chosen.get(kept.row.id, chosen.get(None))
    if own is not None:
        return own
    for other in others:
        take = chosen.get(other.row.id)
        if take is not None and not brief.clashes(kept.brief, other.brief, piece.name):
            return take
    return None
