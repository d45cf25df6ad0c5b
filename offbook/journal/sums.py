"""Sums over many pieces in a few queries: for the plan of all pieces, and for a whole class.

The database does all the adding up, so a journal of ten years with thousands of pieces answers about as
quickly as a new one.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from sqlalchemy import (
    JSON,
    ColumnElement,
    Connection,
    Integer,
    Select,
    cast,
    func,
    literal_column,
    select,
)

from offbook.journal import tables as t
from offbook.journal.run_throughs import RUN_COLUMNS, earliest_of_the_last, is_clean_run
from offbook.records import RunRow, Summary


def summaries(
    conn: Connection, performer_id: str | None = None, *, clean_percent: int, newest: int = 1
) -> dict[str, Summary]:
    """What has been done for each piece so far, by the key of the piece.

    performer_id: only the pieces of this performer. clean_percent: a run-through without a prompt is clean
    if at least so many per cent of its words were said. newest: how many of the newest run-throughs to
    return.
    """
    owned = _owned(performer_id)
    lately = _newest(conn, owned, newest)
    days = _run_days(conn, owned, clean_percent)
    asked = dict(_rows(conn, _counted(t.memory, func.count(), owned)))
    drilled = dict(_rows(conn, _counted(t.answer, func.max(t.answer.c.day), owned)))
    found = {}
    for piece_id in {*lately, *days, *asked, *drilled}:
        runs = lately.get(piece_id, [])
        total, clean, last = days.get(piece_id, (0, 0, None))
        work = [day for day in (last, drilled.get(piece_id)) if day is not None]
        found[piece_id] = Summary(tuple(runs), total, clean, asked.get(piece_id, 0), max(work, default=None))
    return found


def _owned(performer_id: str | None) -> Select[Any] | None:
    if performer_id is None:
        return None
    return select(t.piece.c.id).where(t.piece.c.performer_id == performer_id)


def _rows(conn: Connection, query: Select[Any]) -> list[tuple[Any, Any]]:
    return [(row[0], row[1]) for row in conn.execute(query).all()]


def _counted(table: Any, what: ColumnElement[Any], owned: Select[Any] | None) -> Select[Any]:
    query = select(table.c.piece_id, what).group_by(table.c.piece_id)
    return query if owned is None else query.where(table.c.piece_id.in_(owned))


def _newest(conn: Connection, owned: Select[Any] | None, many: int) -> dict[str, list[RunRow]]:
    """The newest run-throughs of each piece, oldest first."""
    r = t.run.c
    begin = earliest_of_the_last(None if owned is None else t.piece.c.id.in_(owned), many)
    query = select(*RUN_COLUMNS).join(begin, begin.c.id == r.piece_id).where(r.at >= begin.c.since)
    found: dict[str, list[RunRow]] = {}
    for row in conn.execute(query.order_by(r.at, r.id.desc())).all():
        run = RunRow(*row)
        found.setdefault(run.piece_id, []).append(run)
    return {piece_id: runs[-many:] for piece_id, runs in found.items()}


def _run_days(
    conn: Connection, owned: Select[Any] | None, clean_percent: int
) -> dict[str, tuple[int, int, Any]]:
    """For each piece: how many days had a run-through, how many a clean one, and the last such day."""
    r = t.run.c
    by_day = select(r.piece_id, r.day, func.max(is_clean_run(clean_percent)).label("clean")).group_by(
        r.piece_id, r.day
    )
    if owned is not None:
        by_day = by_day.where(r.piece_id.in_(owned))
    d = by_day.subquery().c
    query = select(d.piece_id, func.count(), func.sum(d.clean), func.max(d.day)).group_by(d.piece_id)
    return {piece: (days, int(clean), last) for piece, days, clean, last in conn.execute(query).all()}


class DraftCounts(NamedTuple):
    """The number of the newest draft of a piece, and how many words and thoughts it has."""

    n: int
    words: int
    thoughts: int


def draft_counts(conn: Connection, performer_id: str | None = None) -> dict[str, DraftCounts]:
    """The newest draft of each piece in numbers, by the key of the piece. No script is read."""
    v, server = t.version.c, conn.dialect.name == "postgresql"
    lengths = [
        _length(column, server).label(column.name) for column in (v.slots, v.units)
    ]  # a word has one slot
    query = select(v.piece_id, v.n, *lengths).order_by(v.piece_id, v.n)
    owned = _owned(performer_id)
    if owned is not None:
        query = query.where(v.piece_id.in_(owned))
    return {piece_id: DraftCounts(*counts) for piece_id, *counts in conn.execute(query).all()}


def _length(column: ColumnElement[Any], server: bool) -> ColumnElement[int]:
    """An expression for the database: how many values a list in JSON has.

    SQLite has the lengths in an index (revision 0007), and uses it only for exactly the same expression.
    """
    if server:
        return func.json_array_length(cast(column, JSON))
    return literal_column(t.LENGTH_ON_SQLITE.format(f"version.{column.key}"), Integer)
