"""`offbook import FILE`: read an archive into the journal."""

from __future__ import annotations

from pathlib import Path

import click

from offbook.cli.left_out import print_left
from offbook.cli.screen import CONTEXT, carried, say
from offbook.desk import import_from


@click.command("import", context_settings=CONTEXT)
@click.argument("source", metavar="FILE", type=click.Path(path_type=Path))
def command(source: Path) -> int:
    """Read an archive that `offbook export` wrote.

    Everything whole in it goes in, all at once; what is not whole is left out and named, and then the exit
    status is 3. Rows that are here already stay as they are.
    """
    done = import_from(source)
    say(f"Read in: {carried(done)}; {done.present} rows were here already.")
    return print_left(done.left)
