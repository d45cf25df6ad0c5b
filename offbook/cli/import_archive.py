"""`offbook import FILE`: read an archive into the journal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from offbook.cli.common import quoted
from offbook.cli.left_out import print_left
from offbook.cli.screen import CONTEXT, carried, hanging, say
from offbook.desk import import_from

if TYPE_CHECKING:
    from offbook.journal import Differing


@click.command("import", context_settings=CONTEXT)
@click.argument("source", metavar="FILE", type=click.Path(path_type=Path))
def import_command(source: Path) -> int:
    """Read an archive that `offbook export` wrote.

    Everything whole in it goes in, all at once; what is not whole is left out and named, and then the exit
    status is 3. Rows that are here already stay as they are; where a date, a limit, a name or a brief was
    settled otherwise on the two sides, both are shown, with the command that takes the other.
    """
    done = import_from(source)
    say(f"Read in: {carried(done)}; {done.present} rows were here already.")
    if done.differing:
        click.echo("The archive has this otherwise; what is here stays:")
        for each in done.differing:
            click.echo(hanging(_told(each), "  "))
    return print_left(done.left)


_WORDS = {
    "name": ("name", "--name"),
    "part": ("part", "--part"),
    "limit_seconds": ("limit", "--limit"),
    "due_day": ("date", "--date"),
    "zone": ("time zone", "--zone"),
    "minutes_a_day": ("minutes of practice a day", "--minutes"),
    "voice_minutes": ("minutes of full voice", "--voice-minutes"),
}


def _told(d: Differing) -> str:
    """Both sides, and how to take the other."""
    if d.table == "brief":
        if d.column == "sent_at":
            here, there = ("sent" if at is not None else "not sent" for at in (d.here, d.there))
            return f'{d.name}: here {here}, there {there}. offbook brief sent "{d.name}" notes or undoes it'
        return f"{d.name}: the brief itself differs. If theirs is newer, ask for its file: offbook brief add"
    what, option = _WORDS[d.column]
    here, there = _value(d.column, d.here), _value(d.column, d.there)
    take = f'offbook {d.table} set "{d.name}" {option} {quoted(there)}'
    return f"{d.name}: {what} {here} here, {there} there. To take theirs: {take}"


def _value(column: str, value: object) -> str:
    if value is None:
        return "all" if column == "part" else "none"
    if column == "limit_seconds":
        from offbook.brief import lasting

        return lasting(float(str(value)))
    return f"{value:g}" if isinstance(value, float) else str(value)
