"""`offbook import FILE`: read an archive into the journal."""

from __future__ import annotations

from pathlib import Path

import click

from offbook.cli.screen import CONTEXT, carried
from offbook.desk import opened


@click.command("import", context_settings=CONTEXT)
@click.argument("source", metavar="FILE", type=click.Path(path_type=Path))
def command(source: Path) -> None:
    """Read an archive that `offbook export` wrote; all of it goes in, or nothing."""
    from offbook.journal import read_in

    with opened() as journal:
        done = read_in(journal, source)
    click.echo(f"Read in: {carried(done)}; {done.present} rows were here already.")
