"""Where a piece stands: everything the progress screens show, read from the journal at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from offbook.journal import (
    Connection,
    Marked,
    Piece,
    RunRow,
    Unit,
    Version,
    day_totals,
    local_day,
    marked,
    newest_version,
    practice_days,
    recalls,
    slots_by_version,
    units_by_version,
)
from offbook.progress.forecast import Forecast, Past, PastThought, forecast
from offbook.progress.history import (
    LATELY,
    OFF_BOOK,
    DayAccuracy,
    OffBook,
    Stretch,
    Timing,
    by_day,
    by_line,
    by_thought,
    count_words,
    off_book,
    timing_of,
)
from offbook.schedule import Item, items_of

HABIT_DAYS = 14  # days back over which the habit of practising is judged


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a piece stands today. days_left is None without a date; runs: the newest, oldest first."""

    piece: Piece
    today: date
    days_left: int | None
    days: tuple[DayAccuracy, ...]
    off_book: OffBook
    runs: tuple[RunRow, ...]
    timing: Timing | None
    forecast: Forecast | None
    seen: float

    @property
    def latest(self) -> RunRow | None:
        """The newest run-through."""
        return self.runs[-1] if self.runs else None


def standing(conn: Connection, piece: Piece, now: datetime) -> Standing:
    """Where `piece` stands at the moment `now`."""
    today = local_day(now, piece.zone)
    days = by_day(day_totals(conn, piece.id, OFF_BOOK))
    rated = recalls(conn, piece.id, LATELY)
    runs = tuple(row for row, _, _ in rated)
    items = items_of(conn, [piece])
    left = None if piece.due_day is None else (piece.due_day - today).days
    told = None
    if left is not None and left >= 0 and items:
        told = _foretold(conn, piece, today, items, rated)
    return Standing(
        piece,
        today,
        left,
        days,
        off_book(days, runs[-1] if runs else None),
        runs,
        timing_of(runs, piece.limit_seconds),
        told,
        sum(i.memory is not None for i in items) / len(items) if items else 0.0,
    )


def forecast_for(
    conn: Connection, piece: Piece, items: Sequence[Item], today: date, day: date
) -> Forecast | None:
    """The forecast of `piece`, whose thoughts are `items`, for a day that is not its own date; None where
    it has no thoughts."""
    if not items:
        return None
    dated = [replace(item, date=day) for item in items]
    return _foretold(conn, piece, today, dated, recalls(conn, piece.id, LATELY))


def _foretold(
    conn: Connection,
    piece: Piece,
    today: date,
    items: Sequence[Item],
    rated: Sequence[tuple[RunRow, str, str]],
) -> Forecast:
    past = pasts(rated, marked(conn, piece.id, LATELY), units_by_version(conn, piece.id))
    return forecast(items, [row for row, _, _ in rated], past, today, habit(conn, piece, today))


def habit(conn: Connection, piece: Piece, today: date) -> float:
    """The share of the last days, since the piece came in, on which it was practised."""
    began = local_day(piece.added_at, piece.zone)
    span = min(HABIT_DAYS, max(1, (today - began).days + 1))
    days = practice_days(conn, piece.id, today - timedelta(days=span - 1))
    return min(1.0, max(1 / HABIT_DAYS, len(days) / span))


def pasts(
    rated: Sequence[tuple[RunRow, str, str]],
    verdicts: Sequence[Marked],
    units: Mapping[str, Sequence[Unit]],
) -> list[Past]:
    """For each run-through: what was missed in each thought, and what had been foretold."""
    letters = {m.run_id: m.letters for m in verdicts}
    out = []
    for row, ratings, predicted in rated:
        thoughts = []
        for n, u in enumerate(units[row.version_id]):
            if ratings[n] == "0":
                continue
            part = letters[row.id][u.first : u.last + 1]
            mark = predicted[2 * n : 2 * n + 2]
            foretold = None if mark == "--" else int(mark) / 100
            thoughts.append(PastThought(u.key, u.words, part.count("c") + part.count("d"), foretold))
        out.append(Past(tuple(thoughts)))
    return out


@dataclass(frozen=True, slots=True)
class Detail:
    """The latest run-throughs line by line and thought by thought, on the newest draft."""

    version: Version
    lines: tuple[Stretch, ...]
    thoughts: tuple[Stretch, ...]


def detail(conn: Connection, piece: Piece, last: int = LATELY) -> Detail | None:
    """The `last` run-throughs laid on the newest draft; None while the piece has no script."""
    version = newest_version(conn, piece.id)
    if version is None:
        return None
    counts = count_words(version, marked(conn, piece.id, last), slots_by_version(conn, piece.id))
    return Detail(version, by_line(version, counts), by_thought(version, counts))
