"""`offbook export FILE`: the whole journal as one archive."""

from __future__ import annotations

from pathlib import Path

import click

from offbook.cli.screen import CONTEXT, carried
from offbook.desk import opened


@click.command("export", context_settings=CONTEXT)
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
def command(target: Path) -> None:
    """Write the whole journal, recordings and all, into one archive (JSON lines in a zip)."""
    from offbook.journal import export

    with opened() as journal:
        done = export(journal, target)
    click.echo(f"{target}: {carried(done)}.")
