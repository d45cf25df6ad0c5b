"""`offbook brief`: what whoever receives a recording asks for, taken in, shown and ticked off."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.brief_pack import confirmed, pack
from offbook.cli.common import print_json
from offbook.cli.screen import (
    CONTEXT,
    hanging,
    listing_options,
    performer_option,
    plain,
    print_listing,
    say,
    wrapped,
)
from offbook.desk import CONSENT, chosen_for, one_brief, opened, read_briefs, who
from offbook.errors import JournalError, OffbookError
from offbook.outgoing import write_whole

if TYPE_CHECKING:
    from offbook.desk import BriefKept
    from offbook.journal import Connection
    from offbook.records import Parcel

COLUMNS = [
    ("brief", "Brief"),
    ("performer", "Performer"),
    ("deadline", "Deadline"),
    ("left", "Left"),
    ("pieces", "Pieces"),
    ("stands", "Where it stands"),
]
_LONGEST_PLACE = 200  # characters


@click.group("brief", context_settings=CONTEXT)
def command() -> None:
    """Take in, show and tick off what somebody asks for."""


@command.command("blank", context_settings=CONTEXT)
@click.argument("file", metavar="FILE")
@click.option(
    "--piece", "pieces", metavar="NAME", multiple=True, help="A piece it asks for; may be given again."
)
def blank(file: str, pieces: tuple[str, ...]) -> None:
    """Write a brief to fill in: a text file with every line it can have, explained."""
    from offbook import brief
    from offbook.desk import process_clock

    path = Path(file)
    text = brief.blank((process_clock()() + timedelta(days=14)).date(), pieces)
    try:
        write_whole(path, text, new=True)
    except FileExistsError as e:
        raise OffbookError(f"there is a file {path} already", "name a new file; nothing was changed") from e
    except OSError as e:
        raise OffbookError(
            f"cannot write the brief {path}: {e.strerror}", "name a file in a folder that exists"
        ) from e
    say(f"{path} is written. Fill it in, then: offbook brief add {path}")


@command.command("add", context_settings=CONTEXT)
@click.argument("file", metavar="FILE")
@performer_option
def add(file: str, performer: str | None) -> None:
    """Take a brief into the journal; one of the same name is replaced."""
    from offbook import brief
    from offbook.journal import keep_brief, piece_named
    from offbook.moment import zone_named

    with opened() as journal, journal.writing() as conn:
        owner = who(conn, performer)
        read, text = brief.load(file, zone_named(owner.zone))
        for name in read.pieces:
            piece_named(conn, name, owner.name)  # refused here rather than on the day of the takes
        _, before = keep_brief(journal, conn, owner, read.name, text, read.deadline)
        left = brief.until(read.deadline, journal.clock())
    say(f"{read.name}, for {owner.name}: {'taken in anew' if before else 'taken in'}, {left}.")
    if read.pieces:
        say(f'Plan back from it with: offbook plan "{read.name}"')
    else:
        say('It names no piece to plan for. Add a line such as pieces = ["the_lamp"] and take it in anew.')


@command.command("list", context_settings=CONTEXT)
@performer_option
@listing_options
def list_(performer: str | None, json_: bool, csv_: bool) -> None:
    """List the briefs, the nearest deadline first."""
    from offbook.brief import until
    from offbook.journal import performers
    from offbook.moment import zone_named

    with opened() as journal, journal.reading() as conn:
        people = {p.id: p for p in performers(conn)}
        owner = None if performer is None else who(conn, performer).id
        now = journal.clock()
        rows: list[dict[str, Any]] = []
        for kept in read_briefs(conn, owner):
            row, read = kept.row, kept.brief
            rows.append(
                {
                    "brief": row.name,
                    "performer": people[row.performer_id].name,
                    "deadline": read.deadline.astimezone(zone_named(people[row.performer_id].zone)),
                    "left": "sent" if row.sent_at is not None else until(read.deadline, now),
                    "pieces": ", ".join(read.pieces),
                    "stands": _stands(conn, kept, now),
                    "sent_at": row.sent_at,
                }
            )
    if not (json_ or csv_):
        rows = [{**r, "deadline": f"{r['deadline']:%Y-%m-%d %H:%M}"} for r in rows]
    print_listing("briefs", rows, COLUMNS, json_=json_, csv_=csv_, empty="No briefs yet.")


def _stands(conn: Connection, kept: BriefKept, now: datetime) -> str:
    if kept.row.sent_at is not None:
        from offbook.desk import overdue
        from offbook.journal import parcels

        found = parcels(conn, [kept.row.id]).get(kept.row.id, [])
        told = ""
        if found and found[-1].confirmed_at is not None:
            told = ", confirmed"
        elif found and found[-1].confirm_by is not None:
            told = ", NOT CONFIRMED" if overdue(found[-1], _today(conn, kept, now)) else ", awaited"
        return f"sent {kept.row.sent_at:%Y-%m-%d}{told}"
    if not kept.pieces:
        return "names no piece of the journal"
    chosen = sum(take is not None for _, take in chosen_for(conn, kept))
    return f"{chosen} of {len(kept.pieces)} chosen"


def _parcel(p: Parcel) -> dict[str, Any]:
    """A parcel for other programs."""
    return {
        "packed_at": plain(p.at),
        "folder": p.folder,
        "files": json.loads(p.files),
        "sent_at": plain(p.sent_at),
        "sent_to": p.sent_to,
        "confirm_by": plain(p.confirm_by),
        "confirmed_at": plain(p.confirmed_at),
        "confirmation": p.confirmation,
    }


@command.command("show", context_settings=CONTEXT)
@click.argument("name")
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print it as JSON.")
def show(name: str, performer: str | None, json_: bool) -> None:
    """Show what a brief asks for, and which takes are chosen for it."""
    from dataclasses import asdict

    from offbook.brief import told, until
    from offbook.desk import told_of_parcel
    from offbook.journal import parcels

    with opened() as journal, journal.reading() as conn:
        kept = one_brief(conn, name, performer)
        row, read = kept.row, kept.brief
        now = journal.clock()
        chosen = chosen_for(conn, kept)
        packed = parcels(conn, [row.id]).get(row.id, [])
        went = [told_of_parcel(p, _today(conn, kept, now)) for p in packed]
    if json_:
        print_json(
            {
                "brief": {k: plain(v) for k, v in asdict(read).items()},
                "sent_at": plain(row.sent_at),
                "takes": [
                    {
                        "piece": p.name,
                        "chosen": None if t is None else t.n,
                        "file": None if t is None else t.file,
                    }
                    for p, t in chosen
                ],
                "parcels": [_parcel(p) for p in packed],
            }
        )
        return
    left = f"sent {row.sent_at:%Y-%m-%d}" if row.sent_at is not None else until(read.deadline, now)
    say(f"{read.name} ({left})")
    for what, asked in told(read):
        click.echo(wrapped(f"  {what:10} {asked}", further=" " * 13))
    for piece, take in chosen:
        say(f"  {piece.name}: " + ("no take chosen yet" if take is None else f"take {take.n}, {take.file}"))
    for stands in went:
        click.echo(hanging(stands, "  "))
    if kept.missing:
        say(f"{kept.missing} of its pieces are not in the journal under that name any more.")
    click.echo(wrapped(CONSENT))


@command.command("sent", context_settings=CONTEXT)
@click.argument("name")
@performer_option
@click.option("--to", "where", metavar="WHERE", help="Where it went; else as the brief says.")
@click.option(
    "--confirm-by", metavar="DAY", help="The day by which they should confirm it: 2026-05-01, or +3."
)
@click.option("--undo", is_flag=True, help="It was not sent after all.")
@click.option("--anyway", is_flag=True, help="Note it although a piece has no take chosen.")
def sent(
    name: str, performer: str | None, where: str | None, confirm_by: str | None, undo: bool, anyway: bool
) -> None:
    """Note that what a brief asks for was sent, and where. offbook itself sends nothing.

    Every piece it names needs a take that is chosen, so that it is known later what went; --anyway notes it
    without.
    """
    from offbook.desk import day_in, note_sent, take_back_sent, told_of_parcel

    with opened() as journal, journal.writing() as conn:
        kept = one_brief(conn, name, performer)
        now = journal.clock()
        without = [piece.name for piece, take in chosen_for(conn, kept) if take is None]
        if without and not (undo or anyway):
            raise JournalError(
                f"no take is chosen of {', '.join(without)}; nothing was noted",
                f'choose with: offbook take choose "{without[0]}" N, or note it with --anyway',
            )
        if undo:
            take_back_sent(conn, kept)
        else:
            by = day_in(confirm_by, _today(conn, kept, now))
            parcel = note_sent(journal, conn, kept, None if where is None else _place(where), by)
            stands = told_of_parcel(parcel, _today(conn, kept, now))
    if undo:
        say(f"{kept.row.name}: open again.")
        return
    late = now > kept.brief.deadline
    say(f"{kept.row.name}: noted as sent{', after its deadline' if late else ''}.")
    click.echo(wrapped(f"{stands[0].upper()}{stands[1:]}."))
    if without:
        say(f"Without a chosen take of {', '.join(without)}.")


def _place(where: str) -> str:
    """Where it went, on one line. Raises JournalError."""
    place = " ".join(where.split())
    if not (0 < len(place) <= _LONGEST_PLACE and place.isprintable()):
        raise JournalError(
            "where it went is empty or too long", f"say it in up to {_LONGEST_PLACE} characters"
        )
    return place


def _today(conn: Connection, kept: BriefKept, now: datetime) -> date:
    """The performer's local day."""
    from offbook.journal import performers
    from offbook.moment import local_day

    return local_day(now, next(p.zone for p in performers(conn) if p.id == kept.row.performer_id))


command.add_command(pack)
command.add_command(confirmed)


@command.command("delete", context_settings=CONTEXT)
@click.argument("name")
@performer_option
def delete(name: str, performer: str | None) -> None:
    """Delete a brief; the takes made for it stay."""
    from offbook.journal import delete_brief

    with opened() as journal, journal.writing() as conn:
        row = one_brief(conn, name, performer).row
        delete_brief(conn, row.id)
    say(f"{row.name} is gone; its takes stay.")
