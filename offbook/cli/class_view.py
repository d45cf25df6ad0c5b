"""`offbook class`: every performer and piece, who is at risk first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from offbook.cli.screen import CONTEXT, chance_shown, listing_options, print_listing
from offbook.desk import opened

if TYPE_CHECKING:
    from offbook.progress import Standing

COLUMNS = [
    ("performer", "Performer"),
    ("piece", "Piece"),
    ("days_left", "Days left"),
    ("latest", "Latest"),
    ("off_book", "Off book"),
    ("forecast", "Forecast"),
    ("stands", "Where it stands"),
]


@click.command("class", context_settings=CONTEXT)
@click.option("--past", is_flag=True, help="Also pieces whose day is over.")
@listing_options
def command(past: bool, json_: bool, csv_: bool) -> None:
    """List every performer's pieces with the days left and where each stands, most at risk first."""
    from offbook.desk import standing
    from offbook.journal import pieces

    with opened() as journal, journal.reading() as conn:
        now = journal.clock()
        found = [standing(conn, p, now) for p in pieces(conn)]
    empty = (
        "No pieces yet." if not found else "No piece with a day to come; --past shows those that are over."
    )
    if not past:
        found = [s for s in found if s.days_left is None or s.days_left >= 0]
    rows = [_row(s) for s in sorted(found, key=risk)]
    if not (json_ or csv_):
        rows = [{**r, "forecast": chance_shown(r["forecast"]), "latest": _percent(r["latest"])} for r in rows]
    print_listing("pieces", rows, COLUMNS, json_=json_, csv_=csv_, empty=empty)


def risk(s: Standing) -> tuple[float, int]:
    """Sort key, most at risk first: an unsafe forecast, then little seen, then few days; no date last."""
    if s.days_left is None:
        return (2.0, 0)
    chance = s.forecast.chance if s.forecast is not None else None
    if chance is None:
        # Not yet known is itself a risk that grows as the days run out.
        chance = 0.5 * s.seen + min(0.4, s.days_left / 50)
    return (chance, s.days_left)


def _row(s: Standing) -> dict[str, Any]:
    latest = s.latest
    return {
        "performer": s.piece.performer,
        "piece": s.piece.name,
        "date": s.piece.due_day,
        "days_left": s.days_left,
        "latest": None if latest is None else round(latest.accuracy, 4),
        "off_book": s.off_book.since is not None,
        "forecast": s.forecast.chance if s.forecast is not None else None,
        "thoughts_asked": round(s.seen, 3),
        "stands": _stands(s),
    }


def _stands(s: Standing) -> str:
    if s.off_book.since is not None:
        return "off book" if s.off_book.holds else "was off book, slipped in the newest run-through"
    if s.off_book.clean_days:
        return "one clean day, needs another"
    if s.runs:
        return f"{len(s.days)} day{'s' * (len(s.days) != 1)} of run-throughs, none clean yet"
    if s.seen:
        return f"{s.seen:.0%} of the thoughts begun, not run through yet"
    return "not begun"


def _percent(value: float | None) -> str | None:
    return None if value is None else f"{int(value * 100)} %"
