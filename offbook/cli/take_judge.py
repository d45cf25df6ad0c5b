"""Judging a take: it is logged first, then measured, heard and compared with the brief, then committed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.screen import beside_head, say, wrapped
from offbook.desk import JudgedTake
from offbook.phrasing import plural

if TYPE_CHECKING:
    from offbook.takes import Check


def take_as_json(judged: JudgedTake) -> dict[str, Any]:
    """The take for other programs; `run` is what `offbook run --json` gives."""
    from offbook.desk import run_as_json
    from offbook.takes import unmet_checks

    take = judged.logged.take
    return {
        "piece": judged.logged.piece.name,
        "take": take.n,
        "takes_today": judged.logged.today,
        "intention": take.intention,
        "brief": None if judged.logged.brief is None else judged.logged.brief.name,
        "file": take.file,
        "seconds": round(judged.facts.seconds, 2),
        "checks": [asdict(c) for c in judged.checks],
        "met": not unmet_checks(judged.checks),
        "run": run_as_json(judged.heard) | {"run": judged.run},
    }


_MARK = {True: "yes", False: "NO", None: "look"}


def check_lines(checks: Sequence[dict[str, Any]]) -> list[str]:
    """The points for people: whether it is met, what was asked, what was found, what to do."""
    from offbook.takes import asked_for

    lines = []
    for c in checks:
        said = f"{c['what']}: {c['found']}"
        if c["what"] == "by eye":
            said = f"{c['wanted']}: {c['found']}"
        elif c["wanted"] != "not asked":
            said += f" ({'asked' if asked_for(c) else 'looked for'}: {c['wanted']})"
        if c["do"]:
            said += f". {c['do'][0].upper()}{c['do'][1:]}."
        head = f"  {_MARK[c['met']]:4}  "
        lines.append(beside_head(head, said))
    return lines


def print_checks(checks: Sequence[Check]) -> None:
    """Print the points for people, and how many are not met."""
    from offbook.takes import unmet_checks

    for line in check_lines([asdict(c) for c in checks]):
        click.echo(line)
    unmet = len(unmet_checks(checks))
    say(f"{plural(unmet, 'point')} not met." if unmet else "Everything that can be checked is met.")


def screen(judged: JudgedTake) -> None:
    """Print a take for people: its points, then the line notes, then what to do next."""
    from offbook.cli.run_report import report, saved_line
    from offbook.desk import CONSENT
    from offbook.plan import TAKES

    logged = judged.logged
    most = logged.brief.takes if logged.brief is not None and logged.brief.takes is not None else TAKES
    against = f", for {logged.brief.name}" if logged.brief is not None else ""
    say(f"{logged.piece.name}, take {logged.take.n}{against}: {logged.take.intention}")
    print_checks(judged.checks)
    click.echo("")
    report(judged.heard)
    if judged.saved is not None:
        say(saved_line(judged.saved))
    if logged.today >= most:
        say(
            wrapped(
                f"That was take {logged.today} of {most} for one day: stop here, rest the voice, and choose "
                f'tomorrow with `offbook take list "{logged.piece.name}"`.'
            )
        )
    else:
        say(f"Take {logged.today} of {most} for one day.")
    if judged.facts.picture is not None:
        click.echo(wrapped(CONSENT))
