"""`offbook run SCRIPT RECORDING`: a recorded run-through, heard and noted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from offbook.cli.common import listening_bar, print_json
from offbook.cli.screen import performer_option, say
from offbook.cli.selecting import selection_options
from offbook.desk import Loading, run_as_json
from offbook.errors import OffbookError
from offbook.outgoing import write_named

if TYPE_CHECKING:
    from offbook.script import Selection


@click.command("run", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("script", metavar="SCRIPT")
@click.argument("recording", metavar="RECORDING", required=False)
@selection_options
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option("--json", "json_", is_flag=True, help="Print the verdicts and notes as JSON.")
@click.option(
    "--explain",
    metavar="WORD-OR-TIME",
    multiple=True,
    help="Say what decided the verdict of this word, or of the word at this time; can be given "
    "several times.",
)
@click.option("--html", "html", metavar="FILE", help="Write a page to print as well.")
@click.option("--piece", metavar="NAME", help="Save it in the journal as a run-through of this piece.")
@performer_option
@click.option("--keep/--no-keep", default=None, help="With --piece: keep the recording too, or not.")
def run_command(
    script: str,
    recording: str | None,
    wanted: Selection,
    model: str | None,
    json_: bool,
    explain: tuple[str, ...],
    html: str | None,
    piece: str | None,
    performer: str | None,
    keep: bool | None,
) -> None:
    """Hear a recorded run-through and give line notes.

    SCRIPT is the text or a piece's name, RECORDING any audio or video file of somebody saying it.
    Everything is heard on this machine and nothing is sent. If SCRIPT is a piece, or you give --piece, the
    run-through is saved in the journal; otherwise nothing is stored.
    """
    text, recording, piece = _named(script, recording, piece, performer, wanted)
    page = _page_path(html) if html is not None else None
    loading = Loading(model)  # first: while it loads, the rest is imported
    saved = None
    if piece is None:
        from offbook.desk import listen

        with listening_bar() as progress:
            heard = listen(text or "", recording, wanted, loading, progress)
    else:
        from offbook.desk import hear_and_keep

        with listening_bar() as progress:
            heard, saved = hear_and_keep(piece, performer, text, recording, wanted, loading, keep, progress)
    if page is not None:
        from offbook.cli.run_page import page_of

        write_named(page, page_of(heard))
    if json_:
        print_json(run_as_json(heard) | ({"run": saved.run.id} if saved is not None else {}))
    else:
        from offbook.cli.run_report import report, saved_line

        report(heard)
        if saved is not None:
            say(saved_line(saved))
        for asked in explain:
            from offbook.cli.run_explain import explained

            click.echo("\n" + explained(heard, asked))
    if page is not None:
        say(f"Wrote {page}.", err=True)


def _named(
    script: str, recording: str | None, piece: str | None, performer: str | None, wanted: Selection
) -> tuple[str | None, str, str | None]:
    """The script's file, None for the piece's own; the recording; and the piece, None where there is none."""
    from offbook.desk import is_piece

    if recording is None:
        if piece is None:
            raise click.UsageError("Missing argument 'RECORDING'.")
        return None, script, piece
    if script != "-" and not Path(script).exists() and is_piece(script, performer):
        if piece is None and wanted.whole and wanted.part is None:
            return None, recording, script
        if piece == script:
            return None, recording, piece
    return script, recording, piece


def _page_path(name: str) -> Path:
    """The path of the page. Raises OffbookError, before anything is heard, where it could not be written."""
    path = Path(name)
    if path.is_dir() or not path.absolute().parent.is_dir():
        raise OffbookError(f"cannot write {path}", "name a file in a folder you can write to")
    return path
