"""Performers, their pieces, and the drafts of each piece."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Row, delete, func, insert, select
from sqlalchemy.exc import IntegrityError

from offbook.errors import JournalError, visible
from offbook.journal import tables as t
from offbook.journal.carry import CarriedUnit, DraftWords, carry_units, slots_of
from offbook.journal.files import mark_for_deletion, mark_pieces_for_deletion
from offbook.journal.settling import change_and_note
from offbook.moment import zone_named
from offbook.records import Performer, Piece, Unit, Version
from offbook.script import Cue, LeftOut, Line, Script
from offbook.spelling import plain_name, plain_spelling
from offbook.words import Word

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

MINUTES_A_DAY = 20.0  # of drills, until the performer sets another number; set by hand
VOICE_MINUTES = 45.0  # of full voice a day before the caution; common practice, no source
_LONGEST_NAME = 200  # characters: the width of the column
_PERFORMER = t.columns_of(t.performer, Performer)


def add_performer(journal: Journal, conn: Connection, name: str, zone: str) -> Performer:
    """Add a performer. zone: an IANA name.

    Raises JournalError if the name is taken or cannot be used, or if there is no such time zone.
    """
    zone_named(zone)
    found = Performer(journal.key(), _name(name), zone, MINUTES_A_DAY, VOICE_MINUTES, journal.clock())
    try:
        conn.execute(insert(t.performer).values(**asdict(found)))
    except IntegrityError as e:
        raise JournalError(f"there is already a performer called {name}", "choose another name") from e
    return found


def _name(name: str) -> str:
    clean = " ".join(name.split())
    if not clean or len(clean) > _LONGEST_NAME or visible(clean) != clean:
        raise JournalError(
            f"{name!r} cannot be used as a name",
            f"give a name of 1 to {_LONGEST_NAME} characters that can be printed",
        )
    return clean


def performers(conn: Connection) -> tuple[Performer, ...]:
    """All performers, by name."""
    query = select(*_PERFORMER).order_by(t.performer.c.name)
    return tuple(Performer(*row) for row in conn.execute(query))


def performer_named(conn: Connection, name: str) -> Performer:
    """The performer called `name`. Raises JournalError if there is none."""
    query = select(*_PERFORMER).where(t.performer.c.name == " ".join(name.split()))
    row = conn.execute(query).one_or_none()
    if row is None:
        raise JournalError(
            f"there is no performer called {name}", "see `offbook performer list`, or add them first"
        )
    return Performer(*row)


def change_performer(journal: Journal, conn: Connection, performer_id: str, **values: Any) -> None:
    """Change a performer's name, zone, minutes_a_day or voice_minutes.

    Everything that was recorded before stays as it is. Raises JournalError if the name is taken or cannot
    be used, or if there is no such time zone.
    """
    if "zone" in values:
        zone_named(values["zone"])
    if "name" in values:
        values["name"] = _name(values["name"])
    try:
        change_and_note(conn, t.performer, t.performer.c.id == performer_id, values, journal.clock())
    except IntegrityError as e:
        raise JournalError(
            f"there is already a performer called {values['name']}", "choose another name"
        ) from e


def delete_performer(conn: Connection, performer_id: str) -> None:
    """Delete a performer and all that belongs to them. `delete_marked_files` then deletes the recordings."""
    owned = select(t.recording.c.path).join(t.piece).where(t.piece.c.performer_id == performer_id)
    mark_for_deletion(conn, list(conn.execute(owned).scalars()))
    theirs = select(t.piece.c.id).where(t.piece.c.performer_id == performer_id)
    mark_pieces_for_deletion(conn, list(conn.execute(theirs).scalars()))
    conn.execute(delete(t.performer).where(t.performer.c.id == performer_id))


_PIECE = (
    t.piece.c.id,
    t.piece.c.performer_id,
    t.performer.c.name.label("performer"),
    t.performer.c.zone,
    t.piece.c.name,
    t.piece.c.part,
    t.piece.c.limit_seconds,
    t.piece.c.due_day,
    t.piece.c.keep_recordings,
    t.piece.c.added_at,
)


def add_piece(
    journal: Journal,
    conn: Connection,
    owner: Performer,
    name: str,
    *,
    part: str | None = None,
    limit_seconds: float | None = None,
    due_day: date | None = None,
    keep_recordings: bool = True,
) -> Piece:
    """Add a piece, without a script so far.

    Raises JournalError if the performer has a piece with this name, or if it cannot be used as a name.
    """
    row: dict[str, Any] = {
        "id": journal.key(),
        "performer_id": owner.id,
        "name": _name(name),
        "part": part,
        "limit_seconds": limit_seconds,
        "due_day": due_day,
        "keep_recordings": keep_recordings,
        "added_at": journal.clock(),
    }
    try:
        conn.execute(insert(t.piece).values(**row))
    except IntegrityError as e:
        raise JournalError(
            f"{owner.name} already has a piece called {name}",
            "choose another name, or use `offbook piece revise` for a new draft",
        ) from e
    return piece_named(conn, row["name"], owner.name)


def pieces_of(conn: Connection, performer_id: str | None = None) -> tuple[Piece, ...]:
    """The pieces of one performer, or of everybody. The nearest date comes first, then the names decide."""
    query = select(*_PIECE).select_from(t.piece.join(t.performer))
    if performer_id is not None:
        query = query.where(t.piece.c.performer_id == performer_id)
    found: Sequence[Any] = conn.execute(query).all()
    rows = [Piece(*row) for row in found]
    return tuple(sorted(rows, key=lambda p: (p.due_day or date.max, p.performer, p.name)))


def piece_named(conn: Connection, name: str, performer_name: str | None = None) -> Piece:
    """The piece called `name`.

    Capital letters, spaces and underscores make no difference, and the beginning of a name is enough if only
    one piece begins so. If two performers have a piece with the name, performer_name is needed. Raises
    JournalError if no piece, or more than one, is called so.
    """
    owner = None if performer_name is None else performer_named(conn, performer_name).id
    return piece_among(pieces_of(conn, owner), name)


def piece_among(there: Sequence[Piece], name: str) -> Piece:
    """The one of these pieces that is called `name`, by the same rules as in `piece_named`."""
    loose = plain_name(name)
    found = [p for p in there if p.name == name] or [p for p in there if plain_name(p.name) == loose]
    if not found and loose:
        found = [p for p in there if plain_name(p.name).startswith(loose)]
    if not found:
        raise JournalError(
            f"there is no piece called {name}", "see `offbook piece list`, or add it with `offbook piece add`"
        )
    if len({p.name for p in found}) > 1:
        raise JournalError(
            f"several pieces begin with {name}: {', '.join(sorted({p.name for p in found}))}",
            "give the whole name",
        )
    if len(found) > 1:
        raise JournalError(
            f"several performers have a piece called {name}", "name the performer with --performer NAME"
        )
    return found[0]


def change_piece(journal: Journal, conn: Connection, piece_id: str, **values: Any) -> None:
    """Change a piece's name, part, limit_seconds, due_day or keep_recordings.

    Raises JournalError if the performer has another piece with the name, or if it cannot be used as a name.
    """
    if "name" in values:
        values["name"] = _name(values["name"])
    try:
        change_and_note(conn, t.piece, t.piece.c.id == piece_id, values, journal.clock())
    except IntegrityError as e:
        raise JournalError(f"there is already a piece called {values['name']}", "choose another name") from e


def delete_piece(conn: Connection, piece_id: str) -> None:
    """Delete a piece and all its history. `delete_marked_files` then deletes the recordings."""
    mark_for_deletion(
        conn,
        list(conn.execute(select(t.recording.c.path).where(t.recording.c.piece_id == piece_id)).scalars()),
    )
    mark_pieces_for_deletion(conn, [piece_id])
    conn.execute(delete(t.piece).where(t.piece.c.id == piece_id))


# Drafts --------------------------------------------------------------------------------------------


def add_version(
    journal: Journal,
    conn: Connection,
    piece_id: str,
    script: Script,
    words: Sequence[Word],
    units: Sequence[Unit],
) -> tuple[Version, tuple[CarriedUnit, ...]]:
    """Add a draft to a piece.

    Words and thoughts that stayed keep their history and what the scheduler knows about them. A thought that
    changed should be asked at once. Returns the draft, and for each of its thoughts where it came from.
    """
    before = versions(conn, piece_id)
    drafts = [DraftWords(_plain(v.words), v.slots, v.units) for v in before]
    slots = slots_of(drafts, _plain(words))
    carried = carry_units(drafts, units, slots)
    made = Version(
        id=journal.key(),
        piece_id=piece_id,
        n=len(before) + 1,
        made_at=journal.clock(),
        script=script,
        words=tuple(words),
        slots=slots,
        units=tuple(c.unit for c in carried),
    )
    conn.execute(insert(t.version).values(_version_row(made)))
    _carry_memory(journal, conn, piece_id, carried)
    return made, carried


def _plain(words: Sequence[Word]) -> tuple[str, ...]:
    return tuple(plain_spelling(w.text) for w in words)


def _carry_memory(journal: Journal, conn: Connection, piece_id: str, carried: Sequence[CarriedUnit]) -> None:
    rows = {
        row["unit"]: dict(row)
        for row in conn.execute(select(t.memory).where(t.memory.c.piece_id == piece_id)).mappings()
    }
    for c in carried:  # what is known of a thought that was cut is kept: it may be put back
        known = [rows[key] for key in c.made_of if key in rows]
        if not known:
            continue
        row = min(known, key=lambda each: each["due"])  # a thought is as weak as the weakest of its parts
        whole = not c.changed and len(known) == len(c.made_of)
        due = row["due"] if whole else min(row["due"], journal.clock())
        conn.execute(delete(t.memory).where(t.memory.c.piece_id == piece_id, t.memory.c.unit == c.unit.key))
        conn.execute(insert(t.memory).values({**row, "unit": c.unit.key, "due": due}))


def newest_version(conn: Connection, piece_id: str) -> Version | None:
    """The draft that is being learnt; None if the piece has no script yet."""
    query = select(t.version).where(t.version.c.piece_id == piece_id).order_by(t.version.c.n.desc()).limit(1)
    row = conn.execute(query).one_or_none()
    return None if row is None else _version_from(row)


def version_of(conn: Connection, version_id: str) -> Version:
    """The draft with this key. Raises JournalError if there is none."""
    row = conn.execute(select(t.version).where(t.version.c.id == version_id)).one_or_none()
    if row is None:
        raise JournalError("there is no such draft", "see `offbook piece show`")
    return _version_from(row)


def versions(conn: Connection, piece_id: str) -> tuple[Version, ...]:
    """All drafts of a piece, oldest first."""
    query = select(t.version).where(t.version.c.piece_id == piece_id).order_by(t.version.c.n)
    return tuple(_version_from(row) for row in conn.execute(query))


def units_by_piece(conn: Connection, piece_ids: Sequence[str]) -> dict[str, tuple[Unit, ...]]:
    """The thoughts of the newest draft of each piece, without reading the scripts themselves."""
    newest = (
        select(t.version.c.piece_id, func.max(t.version.c.n).label("n"))
        .group_by(t.version.c.piece_id)
        .subquery()
    )
    query = (
        select(t.version.c.piece_id, t.version.c.units)
        .join(newest, (newest.c.piece_id == t.version.c.piece_id) & (newest.c.n == t.version.c.n))
        .where(t.version.c.piece_id.in_(piece_ids))
    )
    return {row.piece_id: _units_from(row.units) for row in conn.execute(query).all()}


def slots_by_version(conn: Connection, piece_id: str) -> dict[str, tuple[int, ...]]:
    """For each draft of a piece, the slots of its words."""
    query = select(t.version.c.id, t.version.c.slots).where(t.version.c.piece_id == piece_id)
    return {row.id: tuple(json.loads(row.slots)) for row in conn.execute(query)}


def units_by_version(conn: Connection, piece_ids: Sequence[str]) -> dict[str, tuple[Unit, ...]]:
    """For each draft of these pieces, its thoughts."""
    query = select(t.version.c.id, t.version.c.units).where(t.version.c.piece_id.in_(piece_ids))
    return {row.id: _units_from(row.units) for row in conn.execute(query)}


def _version_row(v: Version) -> dict[str, Any]:
    return {
        "id": v.id,
        "piece_id": v.piece_id,
        "n": v.n,
        "made_at": v.made_at,
        "script": json.dumps(asdict(v.script), ensure_ascii=False),
        "words": json.dumps([list(asdict(w).values())[1:] for w in v.words], ensure_ascii=False),
        "slots": json.dumps(v.slots),
        "units": json.dumps([list(asdict(u).values()) for u in v.units], ensure_ascii=False),
    }


def _units_from(text: str) -> tuple[Unit, ...]:
    return tuple(Unit(*row) for row in json.loads(text))


_PARTS: tuple[tuple[str, type], ...] = (
    ("lines", Line),
    ("left_out", LeftOut),
    ("cues", Cue),
    ("perhaps", LeftOut),
)
_SCRIPT_FIELDS = {f.name for f in fields(Script)}


def _version_from(row: Row[Any]) -> Version:
    raw: dict[str, Any] = {k: v for k, v in json.loads(row.script).items() if k in _SCRIPT_FIELDS}
    for name, kind in _PARTS:
        known = {f.name for f in fields(kind)}
        raw[name] = [kind(**{k: v for k, v in x.items() if k in known}) for x in raw.get(name, ())]
    columns: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}
    script = Script(**columns)
    words = tuple(
        Word(i, text, start, end, line, sentence, tuple(tuple(way) for way in spoken))
        for i, (text, start, end, line, sentence, spoken) in enumerate(json.loads(row.words))
    )
    slots = tuple(json.loads(row.slots))
    return Version(row.id, row.piece_id, row.n, row.made_at, script, words, slots, _units_from(row.units))
