"""`offbook mark SCRIPT`: thought shifts, scansion and running time."""

from __future__ import annotations

import click

from offbook import markup, script
from offbook.cli.common import print_json


@click.command("mark", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("path", metavar="SCRIPT")
@click.option("--json", "json_", is_flag=True, help="Print the marks as JSON.")
@click.option("--part", help="Mark the lines of this part.")
@click.option("--rate", type=float, metavar="WPM", help="Words a minute.")
def command(path: str, json_: bool, part: str | None, rate: float | None) -> None:
    """Mark where the thought shifts, scan the verse and estimate the running time."""
    marked = markup.mark(script.load(path, part), rate)
    if json_:
        print_json(markup.as_json(marked))
        return
    for line in marked.script.lines:
        click.echo(line.text)
