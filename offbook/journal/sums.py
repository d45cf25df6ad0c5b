"""What many pieces have come to, in a few queries: for a plan over all of them, and for a whole class.

Everything is summed by the database, so that a journal of ten years and thousands of pieces answers as
quickly as a new one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, case, func, select

from offbook.journal import tables as t
from offbook.journal.run_throughs import LISTED
from offbook.records import RunRow, Summary

_LATELY = 3  # run-throughs that tell how long a piece takes


def summaries(conn: Connection, performer_id: str | None = None, *, clean_percent: int) -> dict[str, Summary]:
    """By the key of the piece, what its run-throughs and drills have come to; all pieces, or a performer's.

    clean_percent: per cent of the words that a run-through without a prompt needs to be clean.
    """
    owned = _owned(performer_id)
    newest = _newest(conn, owned)
    days = _run_days(conn, owned, clean_percent)
    asked = dict(_rows(conn, _counted(t.memory, func.count(), owned)))
    drilled = dict(_rows(conn, _counted(t.answer, func.max(t.answer.c.day), owned)))
    found = {}
    for piece_id in {*newest, *days, *asked, *drilled}:
        runs = newest.get(piece_id, [])
        total, clean, second, last = days.get(piece_id, (0, 0, None, None))
        work = [day for day in (last, drilled.get(piece_id)) if day is not None]
        found[piece_id] = Summary(
            tuple(runs), total, clean, second, asked.get(piece_id, 0), max(work, default=None)
        )
    return found


def _owned(performer_id: str | None) -> Select[Any] | None:
    if performer_id is None:
        return None
    return select(t.piece.c.id).where(t.piece.c.performer_id == performer_id)


def _rows(conn: Connection, query: Select[Any]) -> list[tuple[Any, Any]]:
    return [(row[0], row[1]) for row in conn.execute(query)]


def _counted(table: Any, what: ColumnElement[Any], owned: Select[Any] | None) -> Select[Any]:
    query = select(table.c.piece_id, what).group_by(table.c.piece_id)
    return query if owned is None else query.where(table.c.piece_id.in_(owned))


def _newest(conn: Connection, owned: Select[Any] | None) -> dict[str, list[RunRow]]:
    """The newest run-throughs of each piece, oldest first."""
    place = func.row_number().over(partition_by=t.run.c.piece_id, order_by=(t.run.c.at.desc(), t.run.c.id))
    ranked = select(t.run.c.id, place.label("place"))
    if owned is not None:
        ranked = ranked.where(t.run.c.piece_id.in_(owned))
    inner = ranked.subquery()
    query = (
        select(*LISTED)
        .join(inner, inner.c.id == t.run.c.id)
        .where(inner.c.place <= _LATELY)
        .order_by(t.run.c.at, t.run.c.id.desc())
    )
    found: dict[str, list[RunRow]] = {}
    for row in conn.execute(query):
        found.setdefault(row.piece_id, []).append(RunRow(*row))
    return found


def _run_days(
    conn: Connection, owned: Select[Any] | None, clean_percent: int
) -> Mapping[str, tuple[int, int, Any, Any]]:
    """For each piece: days with run-throughs, clean ones among them, the second clean one, the last day."""
    r = t.run.c
    clean = case((((r.said + r.unsure) * 100 >= r.words * clean_percent) & (r.prompts == 0), 1), else_=0)
    query = select(r.piece_id, r.day, func.max(clean)).group_by(r.piece_id, r.day).order_by(r.piece_id, r.day)
    if owned is not None:
        query = query.where(r.piece_id.in_(owned))
    found: dict[str, tuple[int, int, Any, Any]] = {}
    for piece_id, day, good in conn.execute(query):
        total, clean_days, second, _ = found.get(piece_id, (0, 0, None, None))
        clean_days += good
        if second is None and clean_days == 2:
            second = day
        found[piece_id] = (total + 1, clean_days, second, day)
    return found
