"""`offbook check RECORDING`: a recording as whoever receives it will find it, compared with a brief."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from offbook.cli.common import print_json
from offbook.cli.screen import CONTEXT, performer_option, wrapped
from offbook.desk import opened_journal

if TYPE_CHECKING:
    from offbook.brief import Brief


_NOT_MET = 3  # exit status where a point is not met: 1 is an error, 2 a wrong command line


@click.command("check", context_settings=CONTEXT)
@click.argument("recording", metavar="RECORDING")
@click.option("--brief", metavar="NAME|FILE", help="Compare it with this brief: its file, or its name.")
@click.option("--limit", metavar="M:SS", help="The time limit, where the brief names none.")
@click.option("--json", "json_", is_flag=True, help="Print the points as JSON.")
@performer_option
def check_command(
    recording: str, brief: str | None, limit: str | None, json_: bool, performer: str | None
) -> int:
    """Check a recording's length, picture, loudness and noise, and what a brief asks of the file.

    Nothing is heard or stored; `offbook take add` does that. Exit status 3 where a point is not met.
    """
    from offbook.cli.take_judge import print_checks
    from offbook.takes import checks_of, facts_of, unmet_checks
    from offbook.typed_times import seconds_in

    asked = None if brief is None else _brief(brief, performer)
    most = None if limit is None else seconds_in(limit, "limit")
    facts = facts_of(recording)
    checks = checks_of(facts, asked, most)
    status = _NOT_MET if unmet_checks(checks) else 0
    if json_:
        print_json(
            {
                "recording": recording,
                "brief": None if asked is None else asked.name,
                "seconds": round(facts.seconds, 2),
                "checks": [asdict(c) for c in checks],
                "met": not status,
            }
        )
        return status
    against = f", for {asked.name}" if asked is not None else ""
    click.echo(wrapped(f"{Path(recording).name}{against}"))
    print_checks(checks)
    return status


def _brief(named: str, performer: str | None) -> Brief:
    """The brief in the file of this name, or else in the journal. Raises BriefError, JournalError."""
    from offbook import brief
    from offbook.moment import system_zone, zone_named

    if Path(named).suffix.lower() == ".toml" or Path(named).is_file():
        return brief.load_brief(named, zone_named(system_zone()))[0]
    from offbook.desk import one_brief

    with opened_journal() as journal, journal.reading() as conn:
        return one_brief(conn, named, performer).brief
