"""`offbook mark SCRIPT`: thought shifts, scansion and running time."""

from __future__ import annotations

import click

from offbook import markup, timing, words
from offbook import script as scripts
from offbook.cli.common import print_json
from offbook.cli.timed import form_option, pace_for, pace_options, seconds_in


@click.command("mark", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("path", metavar="SCRIPT")
@click.option("--part", help="Mark the lines of this part.")
@form_option
@pace_options
@click.option("--limit", metavar="M:SS", help="The time limit.")
@click.option("--json", "json_", is_flag=True, help="Print the marks as JSON.")
def command(
    path: str,
    part: str | None,
    form: str | None,
    rate: str | None,
    pace_from: tuple[str, ...],
    limit: str | None,
    json_: bool,
) -> None:
    """Mark where the thought shifts, scan the verse and estimate the running time."""
    most = seconds_in(limit, "limit") if limit is not None else None
    script = markup.as_form(scripts.load(path, part), form)
    spoken = words.words_of(script)
    plain = timing.plain_of(script, spoken)
    marked = markup.mark(script, spoken, timing.running_time(plain, pace_for(plain, rate, pace_from)))
    if json_:
        print_json(markup.as_json(marked, most))
        return
    for line in marked.script.lines:
        click.echo(line.text)
