"""`offbook progress [PIECE]`: accuracy across days, the mistakes that come back, time, and the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import print_json
from offbook.cli.screen import (
    CONTEXT,
    chance_shown,
    hanging,
    line_width,
    listing_options,
    performer_option,
    print_listing,
    say,
    seconds_shown,
    wrapped,
)
from offbook.desk import chosen_performer, chosen_piece, opened_journal
from offbook.outgoing import write_named
from offbook.phrasing import CHANCE_DECIMALS, KEY_SHOWN, PERCENT, SHARE_DECIMALS, plural

if TYPE_CHECKING:
    from datetime import datetime

    from offbook.desk import ClassRow
    from offbook.journal import Connection
    from offbook.progress import Detail, Mistake, Standing, StretchHistory

RUN_COLUMNS = [
    ("id", "Run-through"),
    ("at", "When"),
    ("accuracy", "Words said"),
    ("prompts", "Prompts"),
    ("time", "Time"),
    ("rate_wpm", "Words/min"),
]
PIECE_COLUMNS = [
    ("piece", "Piece"),
    ("days_left", "Days left"),
    ("latest", "Latest"),
    ("off_book", "Off book"),
    ("forecast", "Forecast"),
]
# Set by hand.
DAYS_SHOWN = 14  # newest days of the chart
_OFTEN_SHOWN = 4  # mistakes of a line that are shown
_MOST_RUNS, _USUAL_RUNS = 1000, 10  # run-throughs that can be looked back on, and that are
_UNDER_LINE = "      "  # indent of a mistake under its line
# Columns that the number and the figure beside a line take, as `report.text_stretches` sets them.
_BESIDE_TEXT = 20


@click.command("progress", context_settings=CONTEXT)
@click.argument("piece", required=False)
@performer_option
@click.option(
    "--all", "all_", is_flag=True, help="Without PIECE: every piece, not only as many as fit on a screen."
)
@click.option("--runs", "runs_", is_flag=True, help="List the run-throughs, with their numbers.")
@click.option("--lines", is_flag=True, help="Show every line.")
@click.option("--thoughts", is_flag=True, help="Show every thought.")
@click.option(
    "--last",
    type=click.IntRange(1, _MOST_RUNS),
    default=_USUAL_RUNS,
    show_default=True,
    help="Run-throughs to look back on.",
)
@click.option(
    "--svg",
    type=click.Path(path_type=Path),
    help="Write the chart by day to this file, and by line beside it.",
)
@listing_options
def progress_command(
    piece: str | None,
    performer: str | None,
    all_: bool,
    runs_: bool,
    lines: bool,
    thoughts: bool,
    last: int,
    svg: Path | None,
    json_: bool,
    csv_: bool,
) -> None:
    """Show the progress of a piece, or of all pieces."""
    from offbook.desk import detail, standing

    with opened_journal() as journal, journal.reading() as conn:
        if piece is None:
            _list_pieces(conn, journal.clock(), performer, all_, json_, csv_)
            return
        found = chosen_piece(conn, piece, performer)
        if runs_:
            from offbook.journal import runs

            _list_runs([_run_row(r) for r in runs(conn, found.id)], json_, csv_)
            return
        stand = standing(conn, found, journal.clock())
        seen = detail(conn, found, last)
    if svg is not None:
        _write_svg(svg, stand, seen)
    if json_ and csv_:
        raise click.UsageError("--json and --csv cannot both be given")
    if json_:
        print_json(_as_json(stand, seen))
    elif csv_:
        _csv(stand, seen, lines, thoughts)
    else:
        click.echo(_screen(stand, seen, lines, thoughts))


def _list_pieces(
    conn: Connection, now: datetime, performer: str | None, all_: bool, json_: bool, csv_: bool
) -> None:
    """One performer's pieces, most at risk first, as many as fit on a screen."""
    from offbook.cli.class_view import rows_on_a_screen
    from offbook.desk import class_rows, with_forecast

    everything = class_rows(conn, now, chosen_performer(conn, performer).id, past=True)
    shown = with_forecast(conn, everything if all_ else everything[: rows_on_a_screen()])
    rows = [_piece_row(row) for row in shown]
    print_listing("pieces", rows, PIECE_COLUMNS, json_=json_, csv_=csv_, empty="No pieces yet.")
    if not (json_ or csv_) and len(everything) > len(shown):
        say(f"{len(everything) - len(shown)} more, less at risk: offbook progress --all")


def _piece_row(r: ClassRow) -> dict[str, Any]:
    from offbook.score import accuracy_share

    latest = r.latest
    return {
        "piece": r.piece.name,
        "days_left": r.days_left,
        "latest": None if latest is None else accuracy_share(latest.accuracy_low, latest.accuracy),
        "off_book": r.off_book,
        "forecast": None if r.forecast is None else chance_shown(r.forecast.chance) or "too early",
    }


def _run_row(r: Any) -> dict[str, Any]:
    return {
        "id": r.id,
        "at": r.at,
        "day": r.day,
        "zone": r.zone,
        "accuracy": round(r.accuracy, SHARE_DECIMALS),
        "accuracy_low": round(r.accuracy_low, SHARE_DECIMALS),
        "words": r.words,
        "said": r.said,
        "unsure": r.unsure,
        "changed": r.changed,
        "dropped": r.dropped,
        "added": r.added,
        "prompts": r.prompts,
        "seconds": r.seconds,
        "rate_wpm": round(r.rate_wpm, 1),
        "recording": r.recording_id,
        "model": r.model,
    }


def _list_runs(rows: list[dict[str, Any]], json_: bool, csv_: bool) -> None:
    from offbook.score import accuracy_share

    if not (json_ or csv_):
        rows = [
            {
                **r,
                "id": r["id"][:KEY_SHOWN],
                "at": f"{r['day']} ({r['at']:%H:%M} UTC)",
                "accuracy": accuracy_share(r["accuracy_low"], r["accuracy"]),
                "time": seconds_shown(r["seconds"]),
            }
            for r in rows
        ]
    print_listing("runs", rows, RUN_COLUMNS, json_=json_, csv_=csv_, empty="No run-throughs yet.")


def _write_svg(path: Path, s: Standing, seen: Detail | None) -> None:
    from offbook.report import accuracy_svg, lines_svg

    write_named(path, accuracy_svg(s.piece.name, s.days))
    if seen is not None:
        by_line = path.with_name(f"{path.stem}-lines{path.suffix}")
        write_named(by_line, lines_svg(s.piece.name, seen.lines))


def _csv(s: Standing, seen: Detail | None, lines: bool, thoughts: bool) -> None:
    rows: list[dict[str, Any]]
    if (lines or thoughts) and seen is not None:
        stretches = seen.lines if lines else seen.thoughts
        rows = [
            {
                "n": x.n,
                "text": x.text,
                "runs": x.runs,
                "accuracy": round(x.accuracy, SHARE_DECIMALS) if x.runs else None,
                "latest": round(x.latest, SHARE_DECIMALS) if x.runs else None,
                "going": "; ".join(_mistake_in_words(g, x.runs) for g in x.mistakes),
            }
            for x in stretches
        ]
        columns = [(k, "") for k in ("n", "text", "runs", "accuracy", "latest", "going")]
    else:
        rows = [
            {
                "day": d.day,
                "runs": d.runs,
                "accuracy": round(d.high, SHARE_DECIMALS),
                "accuracy_low": round(d.low, SHARE_DECIMALS),
                "prompts": d.prompts,
                "seconds": round(d.seconds, 2),
            }
            for d in s.days
        ]
        columns = [(k, "") for k in ("day", "runs", "accuracy", "accuracy_low", "prompts", "seconds")]
    print_listing("rows", rows, columns, json_=False, csv_=True, empty="")


def _as_json(s: Standing, seen: Detail | None) -> dict[str, Any]:
    f, t = s.forecast, s.timing
    return {
        "piece": s.piece.name,
        "performer": s.piece.performer,
        "today": s.today.isoformat(),
        "days_left": s.days_left,
        "off_book": s.off_book.since is not None,
        "off_book_since": s.off_book.since.isoformat() if s.off_book.since else None,
        "clean_days": [d.isoformat() for d in s.off_book.clean_days],
        "days": [
            {
                "day": d.day.isoformat(),
                "runs": d.runs,
                "accuracy": round(d.high, SHARE_DECIMALS),
                "accuracy_low": round(d.low, SHARE_DECIMALS),
                "prompts": d.prompts,
            }
            for d in s.days
        ],
        "lines": [_stretch_json(x) for x in seen.lines] if seen else [],
        "thoughts": [_stretch_json(x) for x in seen.thoughts] if seen else [],
        "same_each_time": [
            {"word": w.word, "text": w.text, "heard": w.heard, "times": w.times} for w in seen.same
        ]
        if seen
        else [],
        "time": None
        if t is None
        else {
            "seconds": t.seconds,
            "shortest": t.shortest,
            "longest": t.longest,
            "limit": t.limit,
            "over": t.over,
            "runs": t.runs,
            "rate_wpm": round(t.rate_wpm, 1),
        },
        "forecast": None
        if f is None
        else {
            "chance": None if f.chance is None else round(f.chance, CHANCE_DECIMALS),
            "low": round(f.low, CHANCE_DECIMALS),
            "high": round(f.high, CHANCE_DECIMALS),
            "reason": f.reason,
            "expected_accuracy": round(f.expected_accuracy, SHARE_DECIMALS),
            "accuracy_low": round(f.accuracy_low, SHARE_DECIMALS),
            "accuracy_high": round(f.accuracy_high, SHARE_DECIMALS),
        },
    }


def _stretch_json(x: StretchHistory) -> dict[str, Any]:
    return {
        "n": x.n,
        "words": [x.first, x.last],
        "text": x.text,
        "runs": x.runs,
        "accuracy": round(x.accuracy, SHARE_DECIMALS) if x.runs else None,
        "latest": round(x.latest, SHARE_DECIMALS) if x.runs else None,
        "going": [
            {"word": g.word, "text": g.text, "how": g.how, "heard": g.instead, "times": g.times}
            for g in x.mistakes
        ],
    }


def _screen(s: Standing, seen: Detail | None, lines: bool, thoughts: bool) -> str:
    from offbook.progress import OFF_BOOK, often_wrong
    from offbook.report import TEXT_FROM, text_chart, text_stretches
    from offbook.schedule import CAUTION

    out = [wrapped(_heading(s, seen)), _off_book(s), _forecast(s), ""]
    if not s.days:
        return "\n".join(
            [
                *out,
                wrapped(f'No run-through yet: offbook run "{s.piece.name}" RECORDING'),
                wrapped(CAUTION),
            ]
        )
    shown = s.days[-DAYS_SHOWN:]
    key = (
        f"Words said, by day. A bar begins at {PERCENT * TEXT_FROM:.0f} %. "
        f"Solid: sure; shaded: with the unsure; | is at {OFF_BOOK} %."
    )
    out += [wrapped(key), text_chart(shown, line_width())]
    if len(s.days) > len(shown):
        earlier = plural(len(s.days) - len(shown), "earlier day")
        out.append(wrapped(f"{earlier}: --csv or --svg shows them all."))
    bad = often_wrong(seen.lines) if seen else ()
    out += ["", "Lines that go wrong again and again" if bad else "No line has gone wrong twice lately."]
    for x in bad:
        out.append(hanging(f"{x.noun} {x.n}: {x.text}", "  "))
        often = [_mistake_in_words(g, x.runs) for g in _in_rows(x.mistakes) if g.times > 1][:_OFTEN_SHOWN]
        out += [hanging(each, _UNDER_LINE) for each in often]
    for w in seen.same if seen is not None else ():
        asked = (
            f"“{w.text}” was heard as “{w.heard}” {w.times} times in a row. Did you say it? Then it is not a "
            f'mistake: offbook correct "{s.piece.name}" {w.word + 1} --always'
        )
        out += ["", wrapped(asked)]
    if seen is not None and lines:
        out += ["", "Every line", text_stretches(seen.lines, line_width() - _BESIDE_TEXT)]
    if seen is not None and thoughts:
        out += ["", "Every thought", text_stretches(seen.thoughts, line_width() - _BESIDE_TEXT)]
    return "\n".join([*out, "", _time(s)])


def _heading(s: Standing, seen: Detail | None) -> str:
    from offbook.report import day_name

    parts = [s.piece.name, s.piece.performer]
    if s.piece.due_day is not None and s.days_left is not None:
        left = f"{s.days_left} days left" if s.days_left != 1 else "1 day left"
        parts.append(f"{day_name(s.piece.due_day)}, {left if s.days_left >= 0 else 'past'}")
    if seen is not None:
        parts.append(f"draft {seen.version.n}")
    return " · ".join(parts)


def _off_book(s: Standing) -> str:
    from offbook.progress import OFF_BOOK
    from offbook.report import day_name

    o = s.off_book
    if o.since is not None:
        slipped = "" if o.holds else "; the newest run-through fell below it"
        return wrapped(f"Off book since {day_name(o.since)}{slipped}.")
    rule = f"{OFF_BOOK} % of the words without a prompt, on two different days"
    if o.clean_days:
        day = day_name(o.clean_days[0])
        return wrapped(f"Off book: not yet. One clean day ({day}); it takes two. ({rule})")
    return wrapped(f"Off book: not yet. ({rule})")


def _forecast(s: Standing) -> str:
    f = s.forecast
    if f is None:
        return "Forecast: none without a date to come."
    if f.chance is None:
        return wrapped(f"Forecast: {f.reason}.")
    from offbook.progress import OFF_BOOK
    from offbook.score import accuracy_share

    likely = f"{chance_shown(f.low)} to {chance_shown(f.high)}"
    words = accuracy_share(f.accuracy_low, f.accuracy_high)
    told = (
        f"Forecast: {chance_shown(f.chance)} to say {OFF_BOOK} % of the words on the day. "
        f"Eight times in ten the true chance lies between {likely}, "
        f"and the words said on the day between {words}."
    )
    return f"{wrapped(told)}\n{wrapped(f.reason + '.')}"


def _in_rows(going: Sequence[Mistake]) -> list[Mistake]:
    """The same, with words that were dropped side by side and equally often shown as one stretch."""
    out: list[Mistake] = []
    end = -1
    for g in sorted(going, key=lambda g: (-g.times, g.how != "dropped", g.word)):
        last = out[-1] if out else None
        if (
            last is not None
            and last.how == g.how == "dropped"
            and last.times == g.times
            and g.word == end + 1
        ):
            out[-1] = replace(last, text=f"{last.text} {g.text}")
        else:
            out.append(g)
        end = g.word
    return out


def _mistake_in_words(g: Mistake, runs: int) -> str:
    what = "dropped" if g.how == "dropped" else f"became “{g.instead}”" if g.instead else "changed"
    return f"“{g.text}” {what}: {g.times} of the last {runs}"


def _time(s: Standing) -> str:
    t = s.timing
    if t is None:
        return "Time: no whole run-through yet."
    text = f"Time: {seconds_shown(t.seconds)} ({seconds_shown(t.shortest)} to {seconds_shown(t.longest)})"
    if t.limit is not None:
        text += f", limit {seconds_shown(t.limit)}: over it in {t.over} of the last {t.runs}"
    return wrapped(f"{text}.") + f"\nPace: {t.rate_wpm:.0f} words a minute."
