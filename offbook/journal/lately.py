"""How well pieces are known: their days and their newest run-throughs, for many pieces in a few queries.

The screen of a class shows fifteen pieces. With separate queries for each of them it would need a hundred.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import Connection, func, select

from offbook.journal import tables as t
from offbook.journal.run_throughs import (
    RUN_COLUMNS,
    corrected_letters,
    corrected_verdicts,
    earliest_of_the_last,
    is_clean_run,
)
from offbook.records import DayTotal, RunRow, VerdictLetters


@dataclass(slots=True)
class Newest:
    """The newest run-throughs of a piece, oldest first.

    rated: each run-through with its ratings (one digit for each thought) and with the recall that was
    predicted for each thought (two digits, per cent, or "--"). marked: the verdicts of the same run-throughs.
    """

    rated: list[tuple[RunRow, str, str]] = field(default_factory=list)
    marked: list[VerdictLetters] = field(default_factory=list)


def day_totals(
    conn: Connection, piece_ids: Sequence[str], clean_percent: int
) -> dict[str, tuple[DayTotal, ...]]:
    """For each piece, the sums of its run-throughs by local day, the oldest day first.

    The database adds them up. clean_percent: a run-through without a prompt is clean if at least so many per
    cent of its words were said.
    """
    r = t.run.c
    sums = [func.sum(column) for column in (r.words, r.said, r.unsure, r.prompts)]
    clean = func.sum(is_clean_run(clean_percent))
    query = (
        select(r.piece_id, r.day, func.count(), *sums, func.avg(r.seconds), clean)
        .where(r.piece_id.in_(piece_ids))
        .group_by(r.piece_id, r.day)
        .order_by(r.day)
    )
    found: dict[str, list[DayTotal]] = {key: [] for key in piece_ids}
    for row in conn.execute(query).all():
        found[row[0]].append(DayTotal(*row[1:]))
    return {key: tuple(days) for key, days in found.items()}


def practice_days(conn: Connection, piece_ids: Sequence[str], since: date) -> dict[str, set[date]]:
    """For each piece, the local days on or after `since` with a drill answer or a run-through."""
    found: dict[str, set[date]] = {key: set() for key in piece_ids}
    for table in (t.answer, t.run):
        c = table.c
        query = select(c.piece_id, c.day).where(c.piece_id.in_(piece_ids), c.day >= since).distinct()
        for key, day in conn.execute(query).all():
            found[key].add(day)
    return found


def newest_runs(conn: Connection, piece_ids: Sequence[str], last: int) -> dict[str, Newest]:
    """For each piece, its newest `last` run-throughs with ratings and verdicts, corrections included."""
    r, begin = t.run.c, earliest_of_the_last(t.piece.c.id.in_(piece_ids), last)
    query = (
        select(*RUN_COLUMNS, r.ratings, r.predicted, r.letters, r.heard)
        .join(begin, begin.c.id == r.piece_id)
        .where(r.at >= begin.c.since)
        .order_by(r.at.desc(), r.id)
    )
    rows = conn.execute(query).all()
    mended = corrected_verdicts(conn, t.correction.c.run_id.in_([row.id for row in rows]))
    found = {key: Newest() for key in piece_ids}
    for *listed, ratings, predicted, letters, heard in rows:
        run = RunRow(*listed)
        its = found[run.piece_id]
        if len(its.rated) == last:  # it was at the same moment as the earliest of them
            continue
        told = {int(k): v for k, v in json.loads(heard).items()}
        its.rated.append((run, ratings, predicted))
        verdicts = corrected_letters(letters, mended.get(run.id, {}))
        its.marked.append(VerdictLetters(run.id, run.version_id, run.at, verdicts, told))
    for its in found.values():
        its.rated.reverse()
        its.marked.reverse()
    return found
