"""How well a piece is known: everything the progress screens show, from what the journal keeps of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from offbook.moment import local_day
from offbook.phrasing import PERCENT
from offbook.progress.forecast import Forecast, Past, PastThought, forecast
from offbook.progress.history import (
    DayAccuracy,
    OffBook,
    SameEachTime,
    StretchHistory,
    Timing,
    by_day,
    by_line,
    by_thought,
    count_words,
    off_book,
    same_each_time,
    timing_of,
)
from offbook.records import DayTotal, Piece, RunRow, Unit, VerdictLetters, Version
from offbook.schedule import Item

HABIT_DAYS = 14  # last days from which it is judged how often somebody practises; set by hand
# As the journal packs what a run-through said of each thought: its rating in one digit, "0" for not rated,
# and the recall predicted for it in two digits of per cent, "--" for none.
UNRATED = "0"
_NO_RECALL, _RECALL_DIGITS = "--", 2


@dataclass(frozen=True, slots=True)
class Kept:
    """What the journal keeps of a piece.

    totals: by local day, oldest first; rated: the newest run-throughs, oldest first, each with its packed
    ratings and recalls; verdicts: of the same run-throughs; units: the thoughts of each draft, by its key;
    items: the thoughts of the newest draft; practised: the days lately on which anything was practised.
    """

    totals: tuple[DayTotal, ...]
    rated: Sequence[tuple[RunRow, str, str]]
    verdicts: Sequence[VerdictLetters]
    units: Mapping[str, Sequence[Unit]]
    items: Sequence[Item]
    practised: frozenset[date]


@dataclass(frozen=True, slots=True)
class Standing:
    """How well a piece is known today.

    days_left: None without a date; runs: the newest ones, oldest first; seen: the share of its thoughts that
    a drill has asked for, 0 to 1.
    """

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


def standing_from(piece: Piece, today: date, kept: Kept, *, foretell: bool = True) -> Standing:
    """How well `piece` is known on the local day `today`. foretell: with the forecast for its date."""
    days = by_day(kept.totals)
    runs = tuple(row for row, _, _ in kept.rated)
    left = None if piece.due_day is None else (piece.due_day - today).days
    told = None
    if foretell and left is not None and left >= 0 and kept.items:
        told = _foretold(piece, today, kept, kept.items)
    return Standing(
        piece,
        today,
        left,
        days,
        off_book(days, runs[-1] if runs else None),
        runs,
        timing_of(runs, piece.limit_seconds),
        told,
        sum(i.memory is not None for i in kept.items) / len(kept.items) if kept.items else 0.0,
    )


def forecast_for(piece: Piece, kept: Kept, today: date, day: date) -> Forecast | None:
    """The forecast of `piece` for a day that is not its own date; None where it has no thoughts."""
    if not kept.items:
        return None
    return _foretold(piece, today, kept, [item.aimed_at(day) for item in kept.items])


def _foretold(piece: Piece, today: date, kept: Kept, items: Sequence[Item]) -> Forecast:
    past = pasts(kept.rated, kept.verdicts, kept.units)
    rate = habit(piece, today, kept.practised)
    return forecast(items, [row for row, _, _ in kept.rated], past, today, rate)


def habit(piece: Piece, today: date, practised: frozenset[date]) -> float:
    """The share of the last days, or those since the piece was added, on which it was practised."""
    began = local_day(piece.added_at, piece.zone)
    span = min(HABIT_DAYS, max(1, (today - began).days + 1))
    since = today - timedelta(days=span - 1)
    return min(1.0, max(1 / HABIT_DAYS, sum(day >= since for day in practised) / span))


def recall_in(packed: str, n: int) -> float | None:
    """The recall of thought `n` among packed recalls, 0 to 1; None where it has none."""
    digits = packed[_RECALL_DIGITS * n : _RECALL_DIGITS * (n + 1)]
    return None if digits == _NO_RECALL else int(digits) / PERCENT


def pasts(
    rated: Sequence[tuple[RunRow, str, str]],
    verdicts: Sequence[VerdictLetters],
    units: Mapping[str, Sequence[Unit]],
) -> list[Past]:
    """Each run-through thought by thought: the words missed, and the recall that had been predicted."""
    letters = {m.run_id: m.letters for m in verdicts}
    out = []
    for row, ratings, predicted in rated:
        thoughts = []
        for n, u in enumerate(units[row.version_id]):
            if ratings[n] == UNRATED:
                continue
            part = letters[row.id][u.first : u.last + 1]
            foretold = recall_in(predicted, n)
            thoughts.append(PastThought(u.key, u.words, part.count("c") + part.count("d"), foretold))
        out.append(Past(tuple(thoughts)))
    return out


@dataclass(frozen=True, slots=True)
class Detail:
    """The newest run-throughs line by line and thought by thought, for the newest draft."""

    version: Version
    lines: tuple[StretchHistory, ...]
    thoughts: tuple[StretchHistory, ...]
    same: tuple[SameEachTime, ...] = ()


def detail_of(
    version: Version, verdicts: Sequence[VerdictLetters], slots: Mapping[str, Sequence[int]]
) -> Detail:
    """Run-throughs counted for a draft. slots: of the words of each draft, by its key."""
    counts = count_words(version, verdicts, slots)
    same = same_each_time(version, verdicts, slots)
    return Detail(version, by_line(version, counts), by_thought(version, counts), same)
