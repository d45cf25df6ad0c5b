"""`offbook brief pack` and `offbook brief confirmed`: the bundle that is sent, and what becomes of it."""

from __future__ import annotations

from pathlib import Path

import click

from offbook import desk
from offbook.cli.screen import CONTEXT, performer_option, wrapped
from offbook.desk import opened_journal
from offbook.intake import MEGABYTE
from offbook.phrasing import plural

_SUM_SHOWN = 16  # characters of a checksum; set by hand: enough to compare by eye


@click.command("pack", context_settings=CONTEXT)
@click.argument("name")
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@performer_option
def brief_pack(name: str, folder: Path, performer: str | None) -> None:
    """Copy the chosen takes into a new FOLDER, named as the brief asks, with a checklist to print.

    Each copy is read back and compared by its SHA-256. offbook itself sends nothing.
    """
    from offbook.desk import pack_bundle as packed

    with opened_journal() as journal:
        bundle = packed(journal, name, performer, folder)
    files = plural(len(bundle.files), "file")
    click.echo(wrapped(f"{files} for {bundle.kept.row.name} in {folder}, each compared:"))
    for f in bundle.files:
        click.echo(f"  {f.name}")
        click.echo(
            wrapped(
                f"    {f.piece}, take {f.take}, {f.bytes / MEGABYTE:.1f} MB, SHA-256 {f.sha256[:_SUM_SHOWN]}…"
            )
        )
        if not f.judged:
            click.echo(f'    not judged yet: offbook take judge "{f.piece}" {f.take}')
        elif f.unmet:
            click.echo(wrapped(f"    not met: {', '.join(f.unmet)}"))
    click.echo(f"Print {folder / desk.CHECKLIST} and tick it off.")
    click.echo(f'When it has been sent:\n  offbook brief sent "{bundle.kept.row.name}" --to WHERE')


@click.command("confirmed", context_settings=CONTEXT)
@click.argument("name")
@click.argument("words", required=False, default="")
@click.option("--undo", is_flag=True, help="No confirmation has come after all.")
@performer_option
def brief_confirmed(name: str, words: str, undo: bool, performer: str | None) -> None:
    """Note that whoever receives it has confirmed that it came. WORDS: what they said, or its number."""
    from offbook.desk import note_confirmed, one_brief

    said = " ".join(words.split())
    with opened_journal() as journal, journal.writing() as conn:
        kept = one_brief(conn, name, performer)
        note_confirmed(journal, conn, kept, None if undo else journal.clock(), "" if undo else said)
    click.echo(f"{kept.row.name}: {'not confirmed after all' if undo else 'confirmed'}.")
