"""The briefs in the journal, each with its pieces that the journal has, and the takes chosen for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass

from offbook import brief
from offbook.brief import Brief
from offbook.desk.finding import chosen_performer
from offbook.errors import JournalError
from offbook.journal import Connection, Journal, briefs, keep_brief, performers, piece_among, pieces_of, takes
from offbook.moment import zone_named
from offbook.records import BriefRow, Performer, Piece, TakeRow
from offbook.spelling import plain_name

CONSENT = (
    "When filming, local rules on consent and on safeguarding minors come first: ask whoever else is seen or"
    " heard, and for anybody under age a parent or guardian."
)


@dataclass(frozen=True, slots=True)
class BriefKept:
    """A brief in the journal. pieces: those that it names and the journal has, in the brief's order."""

    row: BriefRow
    brief: Brief
    pieces: tuple[Piece, ...]

    @property
    def missing(self) -> int:
        """How many of the pieces that it names the journal does not have under that name."""
        return len(self.brief.pieces) - len(self.pieces)


def briefs_of(conn: Connection, owner: Performer, owned: Sequence[Piece] | None = None) -> list[BriefKept]:
    """The briefs of a performer, the nearest deadline first. owned: their pieces; None to read them here."""
    rows = briefs(conn, owner.id)
    if not rows:
        return []
    return briefs_read(rows, owner, pieces_of(conn, owner.id) if owned is None else owned)


def briefs_read(rows: Sequence[BriefRow], owner: Performer, owned: Sequence[Piece]) -> list[BriefKept]:
    """The briefs of these rows, each with those of `owned`, its performer's pieces, that it names."""
    return [_kept(row, owner, owned) for row in rows]


def _kept(row: BriefRow, owner: Performer, owned: Sequence[Piece]) -> BriefKept:
    read = brief.parse_brief(row.text, zone_named(owner.zone), row.name)
    found = []
    for name in read.pieces:
        with suppress(JournalError):  # renamed or deleted since: `brief show` and `plan` say so
            found.append(piece_among(owned, name))
    return BriefKept(row, read, tuple(found))


def read_briefs(conn: Connection, performer_id: str | None = None) -> list[BriefKept]:
    """The briefs of everybody, or of one performer, the nearest deadline first."""
    people = [p for p in performers(conn) if performer_id in (None, p.id)]
    found = [kept for person in people for kept in briefs_of(conn, person)]
    return sorted(found, key=lambda kept: (kept.row.deadline, kept.row.name))


def one_brief(conn: Connection, name: str, performer: str | None = None) -> BriefKept:
    """The brief that somebody means by `name`. performer: the name of whose brief it is. Raises JournalError.

    A brief is found by its own name, by its file's, by the beginning of either, or by words of its name or of
    where it goes, tried in this order. Capitals, blanks and underscores make no difference.
    """
    there = read_briefs(conn, None if performer is None else chosen_performer(conn, performer).id)
    loose = plain_name(name)
    fitting = ([kept for kept in there if fits(kept, loose)] for fits in _KNOWN_BY) if loose else iter(())
    found = next(filter(None, fitting), [])
    if len(found) == 1:
        return found[0]
    if not found:
        known = "; ".join(map(_told, there[:_NAMED])) + ("; …" if len(there) > _NAMED else "")
        raise JournalError(
            f"there is no brief called {name}",
            f"these are here: {known}" if there else "add one: offbook brief add FILE",
        )
    raise JournalError(
        f"several briefs fit {name}: {'; '.join(map(_told, found[:_NAMED]))}",
        "give the whole name, or name the performer with --performer NAME",
    )


def brief_by_key(conn: Connection, key: str) -> BriefKept:
    """The brief with this key. Raises JournalError where there is none."""
    for kept in read_briefs(conn):
        if kept.row.id == key:
            return kept
    raise JournalError("there is no such brief", "go back to the list of briefs")


def correct_brief(
    journal: Journal, conn: Connection, kept: BriefKept, lines: Sequence[str], gone: Sequence[str]
) -> Brief:
    """Replace lines of a brief by these, key by key, and take out the lines whose keys are in `gone`.

    Returns the brief as it is then. Raises BriefError where a line makes no sense, and JournalError where the
    name would be another.
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


def _told(kept: BriefKept) -> str:
    """The brief's name, and its file's in brackets."""
    return kept.row.name + (f" ({kept.row.file})" if kept.row.file else "")


def _file_names(kept: BriefKept) -> tuple[str, ...]:
    """The name of its file, with and without the ending."""
    file = kept.row.file
    return () if file is None else (plain_name(file), plain_name(file.rpartition(".")[0] or file))


_KNOWN_BY: tuple[Callable[[BriefKept, str], bool], ...] = (
    lambda kept, name: plain_name(kept.row.name) == name,
    lambda kept, name: name in _file_names(kept),
    lambda kept, name: plain_name(kept.row.name).startswith(name),
    lambda kept, name: any(each.startswith(name) for each in _file_names(kept)),
    lambda kept, name: any(
        f" {_words(name)} " in f" {_words(each)} " for each in (kept.row.name, kept.brief.send_to or "")
    ),
)


def _words(text: str) -> str:
    """The words of a text, without what stands between them."""
    return plain_name("".join(c if c.isalnum() or c in "_'" else " " for c in text))


def brief_for(conn: Connection, piece: Piece, name: str | None) -> BriefKept | None:
    """The brief that a take of `piece` is checked against; None where there is none.

    name: the brief's; None for the only open brief that asks for this piece. Raises JournalError.
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
    """For each piece of a brief the take that is chosen.

    It is chosen for this brief, for none in particular, or for another where one recording serves both.
    beside: the performer's briefs; None to read them here.
    """
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
