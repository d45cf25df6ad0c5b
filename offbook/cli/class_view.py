"""`offbook class`: every performer and piece, who is at risk first."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import late_in_words, print_json
from offbook.cli.screen import CONTEXT, chance_shown, listing_options, print_listing, say, wrapped
from offbook.desk import opened_journal
from offbook.phrasing import CHANCE_DECIMALS, SHARE_DECIMALS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from offbook.desk import ClassRow

COLUMNS = [
    ("performer", "Performer"),
    ("piece", "Piece"),
    ("needed", "Needed"),
    ("to_send", "To send"),
    ("last_work", "Worked"),
    ("latest", "Latest"),
    ("forecast", "Safe"),
    ("stands", "Where it stands"),
]
_AROUND = 9  # lines of a screen beside the rows: heading, sentences, caution, the terminal's own prompt
_LATE_TOLD = 2  # late briefs that get a sentence each; set by hand
_FEWEST = 8  # rows, however low the window is; set by hand


@click.command("class", context_settings=CONTEXT)
@click.option("--past", is_flag=True, help="Also pieces whose day is over.")
@click.option("--all", "all_", is_flag=True, help="Every piece, not only as many as fit on a screen.")
@listing_options
def class_command(past: bool, all_: bool, json_: bool, csv_: bool) -> None:
    """List every performer's pieces, most at risk first: days left, what is sent, last work, how sure it is.

    As many as fit on the screen are shown, with the forecast of each; --all shows every one.
    """
    from offbook.desk import class_rows, with_forecast
    from offbook.schedule import CAUTION

    if json_ and csv_:
        raise click.UsageError("--json and --csv cannot both be given")
    with opened_journal() as journal, journal.reading() as conn:
        now = journal.clock()
        everything = class_rows(conn, now, past=past)
        shown = with_forecast(conn, everything if all_ else everything[: rows_on_a_screen()])
    more = len(everything) - len(shown)
    if json_:
        print_json({"pieces": [_as_json(r) for r in shown], "more": more})
        return
    empty = "No pieces yet, or none with a day to come (--past shows those that are over)."
    rows = [_as_json(r) for r in shown] if csv_ else [_for_people(r) for r in shown]
    print_listing("pieces", rows, COLUMNS, json_=False, csv_=csv_, empty=empty)
    if not csv_ and shown:
        _warn_of_late(shown, now)
        if more:
            say(f"{more} more, less at risk: offbook class --all")
        click.echo(wrapped(CAUTION))


def _warn_of_late(rows: Sequence[ClassRow], now: datetime) -> None:
    """Say of each brief whose deadline has passed unsent what to do about it, the first few of them."""
    from dataclasses import replace

    passed = {r.brief.row.id: (r.piece.performer, r.brief) for r in rows if r.late and r.brief is not None}
    for performer, kept in list(passed.values())[:_LATE_TOLD]:
        named = replace(kept.brief, name=kept.row.name)
        click.echo(wrapped(f"{performer}: {late_in_words(named, now)}"))
    more = len(passed) - _LATE_TOLD
    if more > 0:
        say(f"{more} more {'brief is' if more == 1 else 'briefs are'} late: offbook brief list")


def rows_on_a_screen() -> int:
    """How many rows a listing may have so that nothing runs off the window."""
    return max(_FEWEST, shutil.get_terminal_size().lines - _AROUND)


def _as_json(r: ClassRow) -> dict[str, Any]:
    latest = r.latest
    return {
        "performer": r.piece.performer,
        "piece": r.piece.name,
        "date": None if r.needed is None else r.needed.isoformat(),
        "days_left": r.days_left,
        "brief": None if r.brief is None else r.brief.row.name,
        "sent_at": None
        if r.brief is None or r.brief.row.sent_at is None
        else r.brief.row.sent_at.isoformat(),
        "late": r.late,
        "take_chosen": r.chosen,
        "last_work": None if r.stand.last_work is None else r.stand.last_work.isoformat(),
        "latest": None if latest is None else round(latest.accuracy, SHARE_DECIMALS),
        "off_book": r.off_book,
        "forecast": r.forecast.chance if r.forecast is not None else None,
        "thoughts_asked": None if r.seen is None else round(r.seen, CHANCE_DECIMALS),
        "stands": _stands(r),
    }


def _for_people(r: ClassRow) -> dict[str, Any]:
    from offbook.score import accuracy_share

    latest = r.latest
    told = None if r.forecast is None else chance_shown(r.forecast.chance) or "early"
    return {
        "performer": r.piece.performer,
        "piece": r.piece.name,
        "needed": _needed(r),
        "to_send": _sending(r),
        "last_work": "never" if r.stand.last_work is None else ago(r.stand.last_work, r.today),
        "latest": None if latest is None else accuracy_share(latest.accuracy_low, latest.accuracy),
        "forecast": told,
        "stands": _stands(r),
    }


def _needed(r: ClassRow) -> str | None:
    left = r.days_left
    if left is None:
        return None
    return f"in {left} d" if left > 0 else "today" if left == 0 else f"{-left} d ago"


def _sending(r: ClassRow) -> str | None:
    if r.brief is None:
        return None
    if r.sent:
        return "sent"
    if r.late:
        return "LATE"
    return "chosen" if r.chosen else "no take"


def ago(day: date, today: date) -> str:
    """How long ago a day was, for people."""
    days = (today - day).days
    return "today" if days == 0 else f"{days} d ago"


def _stands(r: ClassRow) -> str:
    if r.off_book:
        return "off book" if r.holds else "slipped lately"
    if r.stand.clean_days:
        return "one clean day"
    if r.stand.runs:
        return f"run on {r.stand.run_days} day{'s' * (r.stand.run_days != 1)}"
    if r.seen:
        return f"{chance_shown(r.seen)} begun"
    return "not begun"
