"""`offbook margin`: a coach's notes beside the lines of a piece, until they are worked on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from offbook.cli.screen import CONTEXT, hanging, json_plain, listing_options, performer_option, print_listing
from offbook.desk import chosen_piece, opened_journal

if TYPE_CHECKING:
    from offbook.desk import PlacedNote

COLUMNS = [
    ("note", "Note"),
    ("line", "Line"),
    ("where", "Where"),
    ("author", "By"),
    ("take", "Take"),
    ("text", "What"),
    ("quote", "Beside"),
    ("done", "Done"),
]
_QUOTED = 32  # characters of a line in the list


@click.group("margin", context_settings=CONTEXT)
def margin_command() -> None:
    """Write notes beside the lines of a piece, list them and tick them off."""


@margin_command.command("add", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("line")
@click.argument("text")
@click.option("--by", "author", metavar="NAME", default="coach", show_default=True, help="Who writes it.")
@click.option("--take", metavar="N", type=int, help="The take that the note is about.")
@performer_option
def margin_add(
    piece: str, line: str, text: str, author: str, take: int | None, performer: str | None
) -> None:
    """Write TEXT beside line LINE of PIECE, numbered as in the line notes: prose by its sentences.

    The note stays with its line when the script is revised, is shown by `offbook today` and `offbook review`,
    and goes with the journal into an archive.
    """
    from offbook.desk import write_margin_note

    with opened_journal() as journal:
        found, made = write_margin_note(journal, piece, performer, line, text, author, take)
    click.echo(hanging(f"{found.name}, note {made.note.n} beside {made.where}: {made.note.quote}", ""))


@margin_command.command("list", context_settings=CONTEXT)
@click.argument("piece")
@click.option("--all", "everything", is_flag=True, help="Those that are done too.")
@performer_option
@listing_options
def margin_list(piece: str, everything: bool, performer: str | None, json_: bool, csv_: bool) -> None:
    """List the notes in the margin of PIECE, in the order of its lines."""
    from offbook.desk import placed_notes

    with opened_journal() as journal, journal.reading() as conn:
        found = chosen_piece(conn, piece, performer)
        placed = placed_notes(conn, found)
    rows = [_row(p) for p in placed if everything or p.note.done_at is None]
    if json_ or csv_:
        print_listing("notes", rows, COLUMNS, json_=json_, csv_=csv_, empty="")
        return
    if not rows:
        click.echo(f"No notes in the margin of {found.name}.")
    for p in placed:
        if everything or p.note.done_at is None:
            click.echo(hanging(note_paragraph(p), ""))
    if rows:
        click.echo(f'When one is worked on: offbook margin done "{found.name}" N')


def _row(p: PlacedNote) -> dict[str, Any]:
    n = p.note
    return {
        "note": n.n,
        "line": p.line,
        "where": p.where,
        "author": n.author,
        "take": n.take,
        "day": json_plain(n.day),
        "text": n.text,
        "quote": n.quote,
        "done": json_plain(n.done_at),
    }


def note_paragraph(p: PlacedNote) -> str:
    """A note in one paragraph: its number, its line, who wrote it, what, and beside which words."""
    n = p.note
    where = p.where or "a line that was cut"
    about = f", take {n.take}" if n.take is not None else ""
    quote = n.quote if len(n.quote) <= _QUOTED else n.quote[:_QUOTED].rsplit(" ", 1)[0] + " …"
    done = " (done)" if n.done_at is not None else ""
    return f"{n.n}  {where}{about}, {n.author}: {n.text}{done}  [{' '.join(quote.split())}]"


@margin_command.command("done", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("number", metavar="N", type=int)
@click.option("--undo", is_flag=True, help="It is still to be worked on.")
@performer_option
def done(piece: str, number: int, undo: bool, performer: str | None) -> None:
    """Tick off note N of PIECE."""
    from offbook.journal import margin_note_numbered, mark_margin_note_done

    with opened_journal() as journal, journal.writing() as conn:
        found = chosen_piece(conn, piece, performer)
        note = margin_note_numbered(conn, found, number)
        mark_margin_note_done(journal, conn, note, None if undo else journal.clock())
    click.echo(f"{found.name}, note {number}: {'open again' if undo else 'done'}.")


@margin_command.command("delete", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("number", metavar="N", type=int)
@performer_option
def margin_delete(piece: str, number: int, performer: str | None) -> None:
    """Delete note N of PIECE."""
    from offbook.journal import delete_margin_note, margin_note_numbered

    with opened_journal() as journal, journal.writing() as conn:
        found = chosen_piece(conn, piece, performer)
        delete_margin_note(conn, margin_note_numbered(conn, found, number))
    click.echo(f"{found.name}: note {number} is deleted.")
