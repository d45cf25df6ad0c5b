"""`offbook import FILE`: read an archive into the journal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from offbook.cli.common import quoted
from offbook.cli.left_out import print_left
from offbook.cli.screen import CONTEXT, carried, hanging, say
from offbook.desk import differences, import_from
from offbook.phrasing import plural

if TYPE_CHECKING:
    from offbook.journal import Carried


@click.command("import", context_settings=CONTEXT)
@click.argument("source", metavar="FILE", type=click.Path(path_type=Path))
def import_command(source: Path) -> int:
    """Read an archive that `offbook export` wrote.

    Everything whole in it goes in, all at once; what is not whole is left out and named, and then the exit
    status is 3. Where a date, a limit, a name, a brief or a chosen take was settled otherwise on the two
    sides, the one that was changed later is right; both are shown, with the command that takes the other.
    """
    done = import_from(source)
    say(f"Read in: {carried(done)}; {done.present} rows were here already.")
    if done.remembered:
        say(f"{plural(done.remembered, 'thought')} had been drilled there later: that memory was taken.")
    _print_differing(done)
    return print_left(done.left)


def _print_differing(done: Carried) -> None:
    """Both sides of what differs, which one holds now, and the command that takes the other."""
    found = [each for differing in done.differing for each in differences(differing)]
    if not found:
        return
    click.echo("These differ between the two sides:")
    for each in found:
        whose = "theirs" if each.theirs else "yours"
        command = " ".join(quoted(word) for word in each.command)
        take = f" To take {whose}: offbook {command}" if command else ""
        click.echo(hanging(f"{each.said}{take}", "  "))
