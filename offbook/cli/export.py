"""`offbook export FILE`: the whole journal as one archive."""

from __future__ import annotations

from pathlib import Path

import click

from offbook.cli.left_out import print_left
from offbook.cli.screen import CONTEXT, carried, say
from offbook.desk import export_to


@click.command("export", context_settings=CONTEXT)
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
def export_command(target: Path) -> int:
    """Write the whole journal, recordings and all, into one archive (JSON lines in a zip).

    The archive is read back and checked. Anything that is damaged, such as a recording on a bad disk, is
    listed, and everything else is written all the same; the exit status is then 3.
    """
    done = export_to(target)
    say(f"{target}: {carried(done)}. Read back and compared.")
    return print_left(done.left)
