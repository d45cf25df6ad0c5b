"""What the commands about the journal share on the screen: options, listings, lengths of time, counts."""

from __future__ import annotations

import csv
import io
import re
import shutil
import textwrap
from collections.abc import Callable, Sequence
from datetime import date, datetime
from operator import gt
from typing import TYPE_CHECKING, Any, TypeVar

import click
from rich.cells import cell_len, set_cell_size
from rich.text import Text

from offbook.cli.common import console, print_json
from offbook.phrasing import clock_time, plural

if TYPE_CHECKING:
    from offbook.journal import Carried

F = TypeVar("F", bound=Callable[..., Any])
CONTEXT = {"help_option_names": ["-h", "--help"]}
# Set by hand.
_WIDE = 76  # columns of a window that has room for two blanks between the columns of a table
_NARROWEST, _WIDEST = 20, 78  # characters of a line of running text: fewer break words, more are hard to read


def performer_option(command: F) -> F:
    """--performer, as `performer`."""
    return click.option(
        "--performer",
        envvar="OFFBOOK_PERFORMER",
        metavar="NAME",
        help="Which performer; needed only if the journal has several.",
    )(command)


def listing_options(command: F) -> F:
    """--json and --csv, as `json_` and `csv_`."""
    command = click.option("--csv", "csv_", is_flag=True, help="Print the rows as CSV.")(command)
    return click.option("--json", "json_", is_flag=True, help="Print the rows as JSON.")(command)


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
        print_json({name: [{k: json_plain(v) for k, v in row.items()} for row in rows]})
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
            [heading for _, heading in columns],
            [[_shown(r.get(key)) for key, _ in columns] for r in rows],
        )


def _print_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table for people, each column as wide as it needs or, in a narrow window, as its longest word.

    Where not even the longest words have room, or a row would get too tall, each row is a short paragraph.
    """
    out = console()
    space = 2 if out.width >= _WIDE else 1
    columns = list(zip(headings, *rows, strict=True))
    widths = [max(map(len if _plain("".join(column)) else _widest, column)) for column in columns]
    room = out.width - space * len(headings)
    if sum(widths) > room:
        least = [max(_width(w) for cell in column for w in _held(cell).split() or [""]) for column in columns]
        while sum(widths) > max(room, sum(least)):
            # The column that has most room to lose is made narrower first.
            k = max(range(len(widths)), key=lambda k: widths[k] - least[k])
            widths[k] -= 1
    gap = " " * space
    tall = [_row_lines(row, widths, gap) for row in [headings, *rows]]
    if sum(widths) > room or max(map(len, tall[1:]), default=0) > _TALLEST:
        click.echo("\n".join(hanging(_as_paragraph(headings, row), "") for row in rows))
        return
    head, *body = ["\n".join(lines) for lines in tall]
    out.print(Text(head, style="bold"), soft_wrap=True)
    if body:
        click.echo("\n".join(body))


_TALLEST = 3  # lines of a row; a taller one is easier to read as a paragraph; set by hand


def _as_paragraph(headings: Sequence[str], row: Sequence[str]) -> str:
    """A row with the heading before each cell that says something: Performer: Wren; Piece: The lamp."""
    told = (" ".join(cell.split()) for cell in row)
    return "; ".join(f"{h}: {cell}" if h else cell for h, cell in zip(headings, told, strict=True) if cell)


def _row_lines(row: Sequence[str], widths: Sequence[int], gap: str) -> list[str]:
    """A row of a table as lines: a cell too wide for its column goes on below itself."""
    if _plain("".join(row)) and not any(map(gt, map(len, row), widths)):  # as nearly all rows are
        return [gap.join(map(str.ljust, row, widths)).rstrip()]
    pairs = list(zip(row, widths, strict=True))
    cells = [_folded(cell, width) for cell, width in pairs]
    tall = max(len(lines) for lines in cells)
    return [
        gap.join(
            _padded(lines[n] if n < len(lines) else "", width)
            for lines, width in zip(cells, widths, strict=True)
        ).rstrip()
        for n in range(tall)
    ]


def _plain(text: str) -> bool:
    """Whether each character takes one column: quick to find out, and nearly always so."""
    return "\n" not in text and text.replace(_NOTHING, "").isascii()


def _width(text: str) -> int:
    """Columns that a text takes on a terminal; for plain letters, which are most, no table is needed."""
    return len(text) if text.isascii() else cell_len(text)


def _widest(cell: str) -> int:
    """Columns that the widest line of a cell takes."""
    return max(map(_width, cell.split("\n"))) if "\n" in cell else _width(cell)


def _padded(text: str, width: int) -> str:
    return text.ljust(width) if text.isascii() else set_cell_size(text, width)


def _folded(cell: str, width: int) -> list[str]:
    """A cell in lines of at most `width`, broken between words, or within one where it is wider."""
    if "\n" not in cell and _width(cell) <= width:
        return [cell]
    lines = []
    for part in cell.split("\n"):
        lines += textwrap.wrap(_held(part), width, break_on_hyphens=False) or [""]
    return [line.replace(_HELD, " ") for line in lines]


def json_plain(value: Any) -> Any:
    """A value as JSON takes it: moments and days as ISO 8601 text."""
    if isinstance(value, datetime):
        return value.isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _cell(value: Any) -> Any:
    """A value as a cell of CSV. A text that a spreadsheet would take for a formula gets a quote before it.

    After the OWASP Foundation's page on CSV injection: a cell that begins with = + - @, their wide forms, a
    tab or a return; and the same after any character at which another program would begin a new cell.
    """
    if isinstance(value, str):
        value = value.replace("\r\n", "\n").replace("\r", "\n")  # a line end that every reader of CSV knows
        return _FORMULA.sub(r"\1'", value)
    return "" if value is None else json_plain(value)


_FORMULA = re.compile("(^|[;\t\n] *)(?=[=+\\-@＝＋－＠\t\n])")


_NOTHING = "–"  # in a cell for which there is no value


def _shown(value: Any) -> str:
    kind = type(value)
    if kind is str or kind is int:
        return str(value)
    if value is None:
        return _NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def seconds_shown(seconds: float | None) -> str | None:
    """Seconds for people: 1:05; None stays None."""
    return None if seconds is None else clock_time(seconds)


def line_width() -> int:
    """Characters of a line of running text: `_WIDEST`, or as many as a narrower window has."""
    return max(_NARROWEST, min(_WIDEST, shutil.get_terminal_size().columns))


# A command to be typed as it is: between back quotes, or from a colon or a full stop to the end of the text.
_COMMAND = re.compile(r"`offbook [^`]*`|(?:(?<=: )|(?<=\. ))offbook [a-z].*$")
_HELD = "\ue000"  # stands for a blank at which no line may end; a character that no text has
_BEFORE_A_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|d|days?|h|hours?|min|minutes?|s|seconds?|words?|dB|LUFS|MB|GB|k?Hz|aloud)(?![\w-]))"
)


def _held(text: str) -> str:
    """A text whose commands, and whose numbers with their units, have no blank at which a line may end."""
    held = _COMMAND.sub(lambda m: m.group().replace(" ", _HELD), text)
    return _BEFORE_A_UNIT.sub(_HELD, held)


def wrapped(text: str, first: str = "", further: str = "") -> str:
    """A paragraph for people in lines, none broken in a word, a command, or a number with its unit.

    first, further: what comes before the first line and before the others.
    """
    told = textwrap.fill(
        _held(text),
        line_width(),
        initial_indent=first,
        subsequent_indent=further,
        break_on_hyphens=False,
        break_long_words=False,
    )
    return told.replace(_HELD, " ")


def hanging(text: str, indent: str) -> str:
    """A paragraph behind an indent, its further lines two characters further in."""
    return wrapped(text, indent, f"{indent}  ")


def beside_head(head: str, text: str) -> str:
    """A paragraph beside a head, its further lines below its first word."""
    return wrapped(text, head, " " * len(head))


def say(text: str, *, err: bool = False) -> None:
    """Print text for people, each line of it as a paragraph that fits the window."""
    click.echo("\n".join(wrapped(part) for part in text.split("\n")), err=err)


def chance_shown(chance: float | None) -> str | None:
    """A chance for people: 94 %."""
    from offbook.score import chance_as_text

    return None if chance is None else chance_as_text(chance)


def carried(done: Carried) -> str:
    """What an export or import carried, for people."""
    names = {t: t for t in ("performer", "piece", "run", "answer", "take")} | {"run": "run-through"}
    told = (table for table in names if done.rows[table] or table != "take")
    parts = [plural(done.rows[table], names[table]) for table in told]
    return ", ".join([*parts, plural(done.recordings, "recording")])
