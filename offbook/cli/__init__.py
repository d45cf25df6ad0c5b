"""The command line: the only place, with the local page, that prints or draws.

Each command lives in a module of its own and is imported only when it is called, so that
`offbook --help` and mistyped commands answer at once.
"""

from __future__ import annotations

import errno
import os
import sys
from importlib import import_module
from typing import Any, NoReturn

import click

from offbook import __version__
from offbook.cli.guarded import guard_streams
from offbook.errors import OffbookError
from offbook.intake import MOST_MEGABYTES, allowing

# name -> (module, help shown in the list). The function in the module is called NAME_command.
COMMANDS: dict[str, tuple[str, str]] = {
    "setup": ("offbook.cli.setup", "Fetch and verify the speech model."),
    "read": ("offbook.cli.read", "Show what of a script is spoken and what was left out."),
    "mark": ("offbook.cli.mark", "Mark thought shifts, scan verse, estimate running time."),
    "fit": ("offbook.cli.fit", "Fit a speech to a time limit and propose cuts."),
    "run": ("offbook.cli.run", "Hear a recorded run-through and give line notes."),
    "page": ("offbook.cli.page", "Open the page: everything without a terminal, in your browser."),
    "hear": ("offbook.cli.hear_pile", "Hear a whole folder of recordings into the journal."),
    "review": ("offbook.cli.review", "Review a take: can each shift of thought be heard?"),
    "today": ("offbook.cli.today", "What to work on today, and for how long."),
    "drill": ("offbook.cli.drill", "Drill a piece by thought, typed or spoken."),
    "partner": ("offbook.cli.partner", "Run a piece through with a partner who gives cues and prompts."),
    "progress": (
        "offbook.cli.progress",
        "Accuracy over the days, the mistakes that come back, and the forecast.",
    ),
    "plan": ("offbook.cli.plan", "Plan back from a deadline: learn, run, take, choose, send."),
    "check": ("offbook.cli.check", "Check a recording's length, picture and sound, against a brief."),
    "take": ("offbook.cli.take", "Log takes with an intention, compare them and choose."),
    "brief": ("offbook.cli.brief", "Keep what somebody asks for, and by when."),
    "margin": ("offbook.cli.margin", "A coach's notes beside the lines of a piece."),
    "correct": ("offbook.cli.correct", "Correct a verdict of a run-through by hand."),
    "class": ("offbook.cli.class_view", "Every performer and piece, most at risk first."),
    "piece": ("offbook.cli.piece", "Add, revise, list and delete the pieces to learn."),
    "performer": ("offbook.cli.performer", "Add, list, change and delete performers."),
    "export": ("offbook.cli.export", "Write the whole journal into one archive."),
    "import": ("offbook.cli.import_archive", "Read an archive into the journal."),
}


class LateGroup(click.Group):
    """A group whose commands are imported when they are called, not when they are listed."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        found: click.Command = getattr(import_module(COMMANDS[cmd_name][0]), f"{cmd_name}_command")
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=LateGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="offbook")
@click.option("--debug", is_flag=True, help="Show the full traceback of an error.")
@click.option(
    "--largest",
    type=click.IntRange(1, MOST_MEGABYTES),
    metavar="MB",
    help="Accept files of up to MB megabytes; a script may then also take as long as it needs.",
)
@click.pass_context
def group(context: click.Context, debug: bool, largest: int | None) -> None:
    """From the page to word-perfect: marks, times, drills and hears a speech, offline."""
    context.with_resource(allowing(largest))


_OWNER_ONLY = 0o077  # a mask: what a command writes can be read by the person who runs it, and by nobody else
# Exit status of a program that was interrupted: 128 and the number of SIGINT, as shells give it.
_INTERRUPTED = 130


def main(args: list[str] | None = None) -> None:
    """Run the command line. Exit status 1 after a two-line error, 2 for a wrong command line.

    args: None for the arguments of this process. It then ends here, and its output is guarded
    (`guard_streams`); a program that passes arguments of its own keeps its streams as they are.
    """
    if args is None:
        guard_streams()
    os.umask(_OWNER_ONLY)
    status = _status(sys.argv[1:] if args is None else args)
    if args is None:
        _leave(status)
    sys.exit(status)


def _status(argv: list[str]) -> int:
    """Run a command line; --debug may come anywhere in it, even last."""
    debug = "--debug" in argv
    argv = [word for word in argv if word != "--debug"]
    try:
        result: Any = group.main(args=argv, prog_name="offbook", standalone_mode=False)
    except OffbookError as e:
        if debug:
            raise
        click.echo(f"offbook: {e.what}\n{e.do}", err=True)
        return 1
    except click.ClickException as e:
        e.show()
        return e.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("offbook: stopped", err=True)
        return _INTERRUPTED
    except OSError as e:
        if e.errno not in _NO_MORE:
            raise
        return _unwritten(e)
    return result if isinstance(result, int) else 0


# The errors of writing to standard output when nobody reads it any more, or the disk that it goes to is full.
_NO_MORE = {errno.EPIPE, errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EBADF}


def _unwritten(e: OSError) -> int:
    """Say that the output could not be written, unless whoever read it has stopped reading."""
    sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  (what is still in it is lost)
    if e.errno != errno.EPIPE:
        click.echo(
            f"offbook: the output cannot be written: {e.strerror}\n"
            "free some space, or write it to another place; everything that was saved is still there",
            err=True,
        )
    return 1


def _leave(status: int) -> NoReturn:
    """End the process at once.

    Everything is written by now, and freeing a speech model piece by piece takes time.
    """
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError as e:
        status = status or _unwritten(e)
    os._exit(status)
