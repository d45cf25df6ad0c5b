"""`offbook review`: what a take's delivery shows, set against the marked script."""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING

import click

from offbook.cli.common import listening_bar, print_json
from offbook.cli.screen import CONTEXT, performer_option, say
from offbook.errors import OffbookError
from offbook.outgoing import write_named

if TYPE_CHECKING:
    from offbook.desk import Loading, ReviewedTake


@click.command("review", context_settings=CONTEXT)
@click.argument("text", metavar="SCRIPT-OR-PIECE")
@click.argument("recording", metavar="[RECORDING]", required=False)
@click.option("--take", "number", metavar="N", type=int, help="Review take N of the piece.")
@click.option(
    "--run", "run_id", metavar="NUMBER", help="Review this run-through of the piece; newest: the newest one."
)
@click.option("--beside", "other", metavar="M", type=int, help="Set take M of the piece beside it.")
@click.option("--part", metavar="NAME", help="Take this part's lines as the speech; all: every part's.")
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option("--html", "html", metavar="FILE", help="Write a sheet to print as well.")
@click.option("--picture", metavar="FILE", help="Write the picture of the take, as SVG.")
@click.option("--json", "json_", is_flag=True, help="Print the review as JSON.")
@performer_option
def review_command(
    text: str,
    recording: str | None,
    number: int | None,
    run_id: str | None,
    other: int | None,
    part: str | None,
    model: str | None,
    html: str | None,
    picture: str | None,
    json_: bool,
    performer: str | None,
) -> None:
    """Review a recording against the marked script: can each shift of thought be heard?

    Give a script and a RECORDING of it, or the name of a piece with --take N or --run NUMBER. What is
    measured is silence, length, pitch and loudness, compared with the speaker's own; the judgement stays
    with you.
    """
    from offbook.cli.review_screen import beside_screen, review_screen, review_sheet
    from offbook.desk import Loading, review_as_json, review_differences

    if sum(given is not None for given in (recording, number, run_id)) != 1:
        raise OffbookError(
            "what to review was not named, or more than once",
            "give a script and a recording, or a piece with --take N or with --run NUMBER",
        )
    loading = Loading(model)
    with ExitStack() as stack:
        progress = stack.enter_context(listening_bar())
        if recording is not None:
            from offbook.desk import listen, review_heard

            reviewed = review_heard(listen(text, recording, part, loading, progress))
        elif run_id is not None:
            reviewed = _run_through(text, None if run_id == "newest" else run_id, performer)
        else:
            assert number is not None
            reviewed = _take(text, number, performer, loading)
        against = None if other is None else _take(text, other, performer, loading)
    if picture is not None:
        write_named(picture, reviewed.picture)
        say(f"Wrote {picture}.", err=True)
    if html is not None:
        write_named(html, review_sheet(reviewed))
        say(f"Wrote {html}.", err=True)
    if json_:
        extra = {} if against is None else {"beside": review_as_json(against)}
        print_json(review_as_json(reviewed) | extra)
        return
    click.echo(review_screen(reviewed))
    if against is not None:
        click.echo("\n" + beside_screen(reviewed, against, review_differences(reviewed, against)))


def _take(piece: str, number: int, performer: str | None, loading: Loading) -> ReviewedTake:
    from offbook.desk import listen_to, logged_take, opened_journal, placed_notes, review_heard, still_open

    with opened_journal() as journal:
        logged = logged_take(journal, piece, performer, number)
        with journal.reading() as conn:
            placed = placed_notes(conn, logged.piece, logged.version)
    heard = listen_to(logged.version.script, logged.path, loading)
    return review_heard(heard, logged.take.intention, logged.take.n, still_open(placed, number))


def _run_through(piece: str, run_id: str | None, performer: str | None) -> ReviewedTake:
    from offbook.desk import chosen_piece, opened_journal, review_kept, run_named

    with opened_journal() as journal:
        with journal.reading() as conn:
            found = chosen_piece(conn, piece, performer)
            run = run_named(conn, found, run_id)
        return review_kept(journal, found, run)
