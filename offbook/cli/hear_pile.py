"""`offbook hear`: a whole folder or table of recordings, heard into the journal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import console
from offbook.cli.screen import CONTEXT, listing_options, print_listing, say, seconds_shown, wrapped
from offbook.desk import filled_template
from offbook.errors import OffbookError
from offbook.outgoing import write_whole
from offbook.phrasing import SHARE_DECIMALS, plural

if TYPE_CHECKING:
    from datetime import datetime

    from offbook.desk import CountDone, NotPlaced, PileHeard, Placed, UnsurePiece

COLUMNS = [
    ("performer", "Performer"),
    ("piece", "Piece"),
    ("accuracy", "Words"),
    ("dropped_lines", "Lines dropped"),
    ("length", "Length"),
    ("over", "Over limit"),
    ("sound", "Sound"),
    ("recording", "Recording"),
]


_MOST_WORKERS = 256  # set by hand: no machine that this was tried on has more cores


@click.command("hear", context_settings=CONTEXT)
@click.argument("source", metavar="FOLDER-OR-TABLE")
@click.option(
    "--pattern",
    metavar="PATTERN",
    help="How a file's name says whose it is, below the folder: {performer}/{piece} (the default), "
    "{performer}_{piece}, ...",
)
@click.option(
    "--workers",
    metavar="N",
    type=click.IntRange(1, _MOST_WORKERS),
    help="How many to hear at the same time; if not given, as many as the cores and the memory allow.",
)
@click.option("--cluster", metavar="ADDRESS", help="Hear on the Dask scheduler at this address.")
@click.option("--send", is_flag=True, help="With --cluster: send the recordings too.")
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option(
    "--html",
    "page",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the summary as a page that prints on A4 too.",
)
@click.option("--yes", is_flag=True, help="Do not ask whether each recording belongs to the right piece.")
@listing_options
def hear_command(
    source: str,
    pattern: str | None,
    workers: int | None,
    cluster: str | None,
    send: bool,
    model: str | None,
    page: Path | None,
    yes: bool,
    json_: bool,
    csv_: bool,
) -> None:
    """Hear many recordings, each as a run-through of its performer's piece.

    FOLDER-OR-TABLE is a folder whose names say who is heard, or a CSV table with the columns performer,
    piece and recording. Before anything is stored you see which recording belongs to whom. If one fails,
    the others still go on; run the same command again to continue where it stopped.
    """
    from offbook.desk import (
        USUAL_PATTERN,
        cluster_workers,
        hear_pile,
        local_workers,
        match_recordings,
        opened_journal,
        pile_of,
        workers_here,
    )

    entries = pile_of(Path(source), pattern or USUAL_PATTERN)
    count = min(workers or workers_here(), max(1, len(entries)))
    one_core = cluster is not None or count > 1
    made = partial(cluster_workers, cluster, model) if cluster else partial(local_workers, count, model)
    hear = partial(hear_pile, workers=made, model=model, send_bytes=send, one_core=one_core)
    with opened_journal() as journal:
        with journal.reading() as conn:
            placed, lost = match_recordings(conn, entries)
        if not yes and placed:
            _ask(placed)
        with _bar() as told:
            now = journal.clock()
            heard = hear(journal, placed, told=told)
        if heard.unsure and not (yes or json_ or csv_) and (chosen := _which(heard.unsure)):
            with _bar() as told:
                again = hear(journal, chosen, told=told)
            heard = heard.and_then(again, chosen)
    from offbook.score import accuracy_share

    failed = (*lost, *heard.failed)
    rows = _rows(heard)
    shown = [{**r, "accuracy": accuracy_share(r["accuracy"])} for r in rows]
    empty = "Nothing new was heard."
    listed = rows if json_ or csv_ else shown
    print_listing("heard", listed, COLUMNS, json_=json_, csv_=csv_, empty=empty)
    _tell(heard, failed, err=json_ or csv_)
    if page is not None:
        _write_page(page, Path(source), shown, _counted(heard, failed), failed, now)


def _ask(placed: list[Placed]) -> None:
    """Show whose each recording seems to be, and ask whether that is right."""
    for each in placed[:_SHOWN]:
        piece = "piece to be found by hearing" if each.piece is None else each.piece.name
        click.echo(f"  {each.entry.recording.name}: {each.entry.performer}, {piece}", err=True)
    if len(placed) > _SHOWN:
        click.echo(f"  and {len(placed) - _SHOWN} more", err=True)
    click.confirm(f"Hear {plural(len(placed), 'recording')} so?", default=True, abort=True, err=True)


def _which(unsure: tuple[UnsurePiece, ...]) -> list[Placed]:
    """Ask which piece each recording is that was not recognised; returns those for which somebody said."""
    from offbook.score import chance_as_text

    chosen = []
    for each in unsure:
        click.echo(
            f"Which piece is {each.placed.entry.recording.name}, of {each.placed.entry.performer}?", err=True
        )
        for n, (piece, like) in enumerate(each.likely, 1):
            click.echo(f"  {n}  {piece.name}, {chance_as_text(like)} like it", err=True)
        answer = click.prompt(
            "Its number, or 0 to leave it out",
            type=click.IntRange(0, len(each.likely)),
            default=0,
            err=True,
        )
        if answer:
            chosen.append(replace(each.placed, piece=each.likely[answer - 1][0]))
    return chosen


_SHOWN = 20  # recordings listed before asking


@contextmanager
def _bar() -> Iterator[CountDone]:
    """A progress bar on standard error where somebody is looking."""
    out = console(err=True)
    if not out.is_terminal:
        yield lambda done, of: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=out, transient=True) as bar:
        task = bar.add_task("hearing", total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)


def _rows(heard: PileHeard) -> list[dict[str, Any]]:
    """A row for each recording, those that need most work first: fewest words said, most lines dropped."""
    rows = []
    for line in sorted(
        heard.heard, key=lambda x: (x.accuracy, -x.dropped_lines, x.piece.performer, x.recording)
    ):
        limit = line.piece.limit_seconds
        over = None if limit is None or line.length <= limit else seconds_shown(line.length - limit)
        rows.append(
            {
                "performer": line.piece.performer,
                "piece": line.piece.name,
                "accuracy": round(line.accuracy, SHARE_DECIMALS),
                "dropped_lines": line.dropped_lines,
                "length": seconds_shown(line.length),
                "over": over,
                "sound": line.sound,
                "recording": line.recording.name,
                "run": line.saved.run.id,
            }
        )
    return rows


def _counted(heard: PileHeard, failed: tuple[NotPlaced, ...]) -> str:
    """How many recordings were heard now, how many had been heard before, and how many were not heard."""
    told = f"{plural(len(heard.heard), 'recording')} heard"
    if heard.before:
        told += f", {len(heard.before)} heard before"
    return f"{told}, {len(failed)} not heard."


def _write_page(
    page: Path,
    source: Path,
    rows: list[dict[str, Any]],
    told: str,
    failed: tuple[NotPlaced, ...],
    now: datetime,
) -> None:
    """The summary as a page to print. Raises OffbookError where it cannot be written."""

    from offbook import __version__

    text = filled_template(
        "pile.html",
        title=source.resolve().stem,
        told=told,
        day=f"{now:%d %B %Y}".lstrip("0"),
        columns=COLUMNS,
        numbers={"accuracy", "dropped_lines", "length", "over"},
        rows=rows,
        failed=failed,
        version=__version__,
    )
    try:
        write_whole(page, text)
    except OSError as e:
        raise OffbookError(
            f"cannot write {page}: {e.strerror}; what was heard is kept",
            "name a file in a folder that exists",
        ) from e
    say(f"Wrote {page}: open it in a browser and print it on A4.", err=True)


def _tell(heard: PileHeard, failed: tuple[NotPlaced, ...], *, err: bool) -> None:
    """Say how many were heard, and for each that failed, in two lines, why and what to do."""
    say(_counted(heard, failed), err=err)
    for each in failed:
        say(wrapped(f"{each.recording.name}: {each.what}"), err=True)
        say(wrapped(f"  {each.do}"), err=True)
