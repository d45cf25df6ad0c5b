"""`offbook page`: everything without a terminal, in your own browser."""

from __future__ import annotations

import signal
from contextlib import nullcontext
from typing import TYPE_CHECKING

import click

from offbook.cli.screen import CONTEXT, say
from offbook.desk import opened_journal
from offbook.errors import OffbookError
from offbook.intake import MOST_MEGABYTES, allowing, lifted

if TYPE_CHECKING:
    from offbook.page import PageServer

_ENDS = ("SIGINT", "SIGTERM", "SIGHUP")  # Ctrl-C, a system that shuts down, a terminal that is closed


@click.command("page", context_settings=CONTEXT)
@click.option("--no-browser", is_flag=True, help="Only print the link; open no browser.")
@click.option(
    "--largest",
    type=click.IntRange(1, MOST_MEGABYTES),
    metavar="MB",
    help="Accept files of up to MB megabytes; otherwise 20 for a script, 4,000 for a recording, 250 "
    "for an archive.",
)
def page_command(no_browser: bool, largest: int | None) -> None:
    """Open the page: add, mark, speak, drill and send, in your own browser.

    It is served from this machine to this machine alone, and ends with Ctrl-C or "Close offbook" on the page.
    """
    with nullcontext() if largest is None else allowing(largest):
        _serve(no_browser)


def _serve(no_browser: bool) -> None:
    from offbook.page import SCREENS, PageServer, open_browser, running

    with opened_journal() as journal:
        link = running(journal.home)
        if link is not None:
            if lifted():
                raise OffbookError(
                    "offbook is open already, with the limits it was opened with", "close it there first"
                )
            _tell(link, no_browser or not open_browser(journal.home, link), "offbook is open already")
            return
        server = PageServer(journal, SCREENS)
        link = server.door.link()
        _tell(link, no_browser or not open_browser(journal.home, link), "offbook is open")
        _end_when_told(server)
        server.run()
        say("Closed. Everything is kept.")


def _end_when_told(server: PageServer) -> None:
    """Let the signals that end a program finish what is being heard; a second one does not wait."""
    for name in _ENDS:
        number = getattr(signal, name, None)  # Windows has no SIGHUP
        if number is None:
            continue

        def end(got: int, frame: object) -> None:
            signal.signal(got, signal.SIG_DFL)
            server.stop()

        signal.signal(number, end)


def _tell(link: str, by_hand: bool, what: str) -> None:
    say(f"{what}{':' if by_hand else ' in your browser. If no window came up:'}")
    click.echo(f"  {link}")
    say("The link works once. To close: Ctrl-C here, or “Close offbook” on the page.")
