"""What the commands about the journal share: opening it, finding who and what, and listings.

`OFFBOOK_NOW` sets the clock, for tests and demonstrations: an ISO 8601 moment with its offset, and
after a blank, where given, the seconds that pass at each look at the clock.
"""

from __future__ import annotations

import csv
import io
import os
import shutil
import textwrap
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeVar

import click
from rich.table import Table
from rich.text import Text

from offbook.cli.common import console, print_json
from offbook.errors import JournalError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from offbook.journal import Carried, Connection, Journal, Performer, Piece, Version

F = TypeVar("F", bound=Callable[..., Any])
CONTEXT = {"help_option_names": ["-h", "--help"]}


def clock() -> Callable[[], datetime]:
    """The clock of this process: the machine's, or the one that `OFFBOOK_NOW` sets."""
    named = os.environ.get("OFFBOOK_NOW", "").split()
    if not named:
        return lambda: datetime.now(UTC)
    try:
        at = datetime.fromisoformat(named[0])
        step = timedelta(seconds=float(named[1]) if len(named) > 1 else 0.0)
    except ValueError as e:
        raise JournalError(f"OFFBOOK_NOW is no moment: {e}", "write it as 2026-03-02T18:00:00+00:00") from e
    if at.tzinfo is None:
        raise JournalError("OFFBOOK_NOW has no offset from UTC", "write it as 2026-03-02T18:00:00+00:00")
    looks = 0

    def look() -> datetime:
        nonlocal looks
        looks += 1
        return at + (looks - 1) * step

    return look


@contextmanager
def opened() -> Iterator[Journal]:
    """The journal, open for the length of a command."""
    from offbook.journal import open_journal

    journal = open_journal(clock())
    try:
        yield journal
    finally:
        journal.close()


def performer_option(command: F) -> F:
    """--performer, as `performer`."""
    return click.option(
        "--performer",
        envvar="OFFBOOK_PERFORMER",
        metavar="NAME",
        help="Whose; needed only where the journal has several performers.",
    )(command)


def listing_options(command: F) -> F:
    """--json and --csv, as `json_` and `csv_`."""
    command = click.option("--csv", "csv_", is_flag=True, help="Print the rows as CSV.")(command)
    return click.option("--json", "json_", is_flag=True, help="Print the rows as JSON.")(command)


def who(conn: Connection, name: str | None) -> Performer:
    """The performer named, or the only one there is. Raises JournalError."""
    from offbook.journal import performer_named, performers

    if name is not None:
        return performer_named(conn, name)
    found = performers(conn)
    if not found:
        raise JournalError(
            "the journal is still empty", "add your first piece: offbook piece add SCRIPT --date 2026-05-01"
        )
    if len(found) > 1:
        raise JournalError(
            f"the journal has {len(found)} performers", "say whose with --performer NAME or OFFBOOK_PERFORMER"
        )
    return found[0]


def which(conn: Connection, name: str, performer: str | None) -> Piece:
    """The piece called `name`, of this performer where one is named. Raises JournalError."""
    from offbook.journal import piece_named

    return piece_named(conn, name, performer)


def draft_of(conn: Connection, piece: Piece) -> Version:
    """The newest draft of a piece. Raises JournalError where it has none."""
    from offbook.journal import newest_version

    version = newest_version(conn, piece.id)
    if version is None:
        raise JournalError(f"{piece.name} has no script yet", "give it one: offbook piece revise")
    return version


def print_listing(
    name: str,
    rows: Sequence[dict[str, Any]],
    columns: Sequence[tuple[str, str]],
    *,
    json_: bool,
    csv_: bool,
    empty: str,
) -> None:
    """Print rows as a table for people, as JSON under `name`, or as CSV. columns: (key, heading)."""
    if json_ and csv_:
        raise click.UsageError("--json and --csv cannot both be given")
    if json_:
        print_json({name: [{k: plain(v) for k, v in row.items()} for row in rows]})
    elif csv_:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        keys = list(rows[0]) if rows else [key for key, _ in columns]
        writer.writerow(keys)
        writer.writerows([[_cell(row[k]) for k in keys] for row in rows])
        click.echo(out.getvalue(), nl=False)
    elif not rows:
        click.echo(empty)
    else:
        _print_table(
            [heading for _, heading in columns], [[_shown(r.get(key)) for key, _ in columns] for r in rows]
        )


def _print_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table for people, each column as wide as it needs or, in a narrow window, as its longest word."""
    out = console()
    space = 2 if out.width >= 76 else 1
    table = Table(box=None, pad_edge=False, padding=(0, space, 0, 0), header_style="bold")
    widths, least = [], []
    for k, heading in enumerate(headings):
        cells = [Text(each) for each in (heading, *(row[k] for row in rows))]
        widths.append(max(line.cell_len for cell in cells for line in cell.split() or [cell]))
        least.append(max(Text(word).cell_len for cell in cells for word in cell.plain.split() or [""]))
    room = out.width - space * len(headings)
    while sum(widths) > room and max(widths) > 1:
        # The column with most to give gives first; a word is broken only where nothing else is left.
        k = max(range(len(widths)), key=lambda k: (widths[k] > least[k], widths[k] - least[k], widths[k]))
        widths[k] -= 1
    for heading, width in zip(headings, widths, strict=True):
        table.add_column(heading, overflow="fold", width=width)
    for row in rows:
        table.add_row(*[Text(cell) for cell in row])
    out.print(table)


def plain(value: Any) -> Any:
    """A value as JSON takes it: moments and days as ISO 8601 text."""
    if isinstance(value, datetime):
        return value.isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _cell(value: Any) -> Any:
    return "" if value is None else plain(value)


def _shown(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def day_in(value: str | None, today: date) -> date | None:
    """A day given as 2026-05-01 or +20 (days from today). Raises JournalError."""
    if value is None:
        return None
    try:
        return today + timedelta(days=int(value)) if value.startswith("+") else date.fromisoformat(value)
    except (ValueError, OverflowError) as e:
        raise JournalError(f"{value!r} is no day", "write it as 2026-05-01, or +20 for twenty days on") from e


def seconds_shown(seconds: float | None) -> str | None:
    """Seconds for people: 1:05."""
    if seconds is None:
        return None
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def plural(count: int, noun: str) -> str:
    """A count for people: 1 thought, 2 thoughts."""
    return f"{count} {noun}{'s' * (count != 1)}"


def wide() -> int:
    """Characters to a line of running text here: 78, or what a narrower window has."""
    return max(20, min(78, shutil.get_terminal_size().columns))


def wrapped(text: str) -> str:
    """A paragraph for people, broken into lines."""
    return textwrap.fill(text, wide(), break_on_hyphens=False)


def chance_shown(chance: float | None) -> str | None:
    """A chance for people: 94 %."""
    return None if chance is None else f"{round(chance * 100)} %"


def carried(done: Carried) -> str:
    """What an export or import carried, for people."""
    names = {t: t for t in ("performer", "piece", "run", "answer", "take")} | {"run": "run-through"}
    told = (table for table in names if done.rows[table] or table != "take")
    parts = [plural(done.rows[table], names[table]) for table in told]
    return ", ".join([*parts, plural(done.recordings, "recording")])
