"""`offbook performer`: who learns, in which time zone, and how much they practise a day."""

from __future__ import annotations

from typing import Any

import click

from offbook.cli.screen import CONTEXT, listing_options, print_listing, say
from offbook.desk import opened_journal
from offbook.errors import JournalError
from offbook.phrasing import MINUTE

COLUMNS = [
    ("name", "Performer"),
    ("zone", "Time zone"),
    ("minutes_a_day", "Minutes a day"),
    ("voice_minutes", "Full voice, min"),
    ("pieces", "Pieces"),
]


_MOST_MINUTES = 600  # a day; set by hand: ten hours, more than anybody practises


@click.group("performer", context_settings=CONTEXT)
def performer_command() -> None:
    """Add, list, change and delete performers."""


@performer_command.command("add", context_settings=CONTEXT)
@click.argument("name")
@click.option("--zone", metavar="ZONE", help="IANA time zone; this machine's if not given.")
def performer_add(name: str, zone: str | None) -> None:
    """Add a performer."""
    from offbook.journal import add_performer
    from offbook.moment import system_zone

    with opened_journal() as journal, journal.writing() as conn:
        made = add_performer(journal, conn, name, zone or system_zone())
    say(f"{made.name} is in the journal; their days follow the clock of {made.zone}.")


@performer_command.command("list", context_settings=CONTEXT)
@listing_options
def performer_list(json_: bool, csv_: bool) -> None:
    """List the performers."""
    from offbook.journal import performers, pieces_of

    with opened_journal() as journal, journal.reading() as conn:
        rows = [
            {
                "name": p.name,
                "zone": p.zone,
                "minutes_a_day": p.minutes_a_day,
                "voice_minutes": p.voice_minutes,
                "pieces": len(pieces_of(conn, p.id)),
                "added_at": p.added_at,
            }
            for p in performers(conn)
        ]
    print_listing("performers", rows, COLUMNS, json_=json_, csv_=csv_, empty="No performers yet.")


@performer_command.command("set", context_settings=CONTEXT)
@click.argument("name")
@click.option("--name", "new_name", metavar="NEW", help="A new name.")
@click.option(
    "--zone", metavar="ZONE", help="The time zone from now on; days that are over stay as they were."
)
@click.option("--minutes", type=click.FloatRange(1, _MOST_MINUTES), help="Minutes of drills a day.")
@click.option("--voice-minutes", type=click.FloatRange(1, _MOST_MINUTES), help="Minutes of full voice a day.")
def performer_set(
    name: str, new_name: str | None, zone: str | None, minutes: float | None, voice_minutes: float | None
) -> None:
    """Change a performer's name, time zone or minutes."""
    from offbook.journal import change_performer, performer_named

    given: dict[str, Any] = {
        "name": new_name,
        "zone": zone,
        "minutes_a_day": minutes,
        "voice_minutes": voice_minutes,
    }
    values = {k: v for k, v in given.items() if v is not None}
    if not values:
        raise JournalError("nothing to change was given", "give --name, --zone, --minutes or --voice-minutes")
    with opened_journal() as journal, journal.writing() as conn:
        change_performer(journal, conn, performer_named(conn, name).id, **values)
    say(f"{new_name or name}: changed.")


@performer_command.command("timed", context_settings=CONTEXT)
@click.argument("name")
@click.argument("text", metavar="TEXT")
@click.argument("time", metavar="M:SS")
def timed(name: str, text: str, time: str) -> None:
    """Note how long a performer took to read TEXT, for their own pace (`mark --performer`)."""
    from pathlib import Path

    from offbook import script as scripts
    from offbook import timing
    from offbook.journal import add_reading, performer_named
    from offbook.typed_times import seconds_in
    from offbook.words import words_of

    seconds = seconds_in(time, "time of a reading")
    script = scripts.load_script(text)
    words = words_of(script)
    timing.calibrate([timing.reading_of(script, words, seconds)], timing.tempo_of(script, words))
    with opened_journal() as journal, journal.writing() as conn:
        person = performer_named(conn, name)
        spoken = "\n".join(line.text for line in script.lines)
        add_reading(journal, conn, person, script.title or Path(text).stem, spoken, seconds)
    say(f"{person.name}: {len(words)} words in {seconds:g} s, {len(words) * MINUTE / seconds:.0f} a minute.")


@performer_command.command("delete", context_settings=CONTEXT)
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask.")
def performer_delete(name: str, yes: bool) -> None:
    """Delete a performer and everything of theirs: pieces, history, recordings, kept copies."""
    from offbook.journal import (
        delete_marked_files,
        delete_performer,
        erase_copies,
        performer_named,
        pieces_of,
    )

    with opened_journal() as journal:
        with journal.reading() as conn:
            found = performer_named(conn, name)
            count = len(pieces_of(conn, found.id))
        if not yes:
            click.confirm(
                f"Delete {found.name}, {count} piece{'s' * (count != 1)} and every recording for good?",
                abort=True,
                err=True,
            )
        with journal.writing() as conn:
            delete_performer(conn, found.id)
        delete_marked_files(journal)
        erase_copies(journal)
    say(f"{found.name} and everything of theirs is gone. Archives you exported still hold it.")
