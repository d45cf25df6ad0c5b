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

    Everything in it that is whole is put into the journal, in one step. Rows that are damaged are left out
    and listed, and then the exit status is 3. If a date, a limit, a name, a brief or a chosen take is
    different here and in the archive, the one that was changed later is taken; both are shown, with the
    command that takes the other one.
    """
    done = import_from(source)
    say(f"Imported: {carried(done)}; {done.present} rows were already here.")
    if done.remembered:
        thoughts = plural(done.remembered, "thought")
        say(f"{thoughts} had been drilled there later: what is known of them was taken over.")
    _print_differing(done)
    return print_left(done.left)


def _print_differing(done: Carried) -> None:
    """Print both values of what differs, which one the journal has now, and the command for the other."""
    found = [each for differing in done.differing for each in differences(differing)]
    if not found:
        return
    click.echo("These differ between the two sides:")
    for each in found:
        whose = "theirs" if each.theirs else "yours"
        command = " ".join(quoted(word) for word in each.command)
        take = f" To take {whose}: offbook {command}" if command else ""
        click.echo(hanging(f"{each.said}{take}", "  "))
