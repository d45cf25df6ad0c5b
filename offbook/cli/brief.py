"""`offbook brief`: what the receiver of a recording asks for: added, shown and ticked off."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook import desk
from offbook.cli.brief_pack import brief_confirmed, brief_pack
from offbook.cli.common import late_in_words, print_json, quoted
from offbook.cli.screen import (
    CONTEXT,
    beside_head,
    hanging,
    json_plain,
    listing_options,
    performer_option,
    print_listing,
    say,
    wrapped,
)
from offbook.desk import chosen_performer, opened_journal
from offbook.errors import JournalError
from offbook.outgoing import write_named

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from offbook.brief import Asked, Brief
    from offbook.desk import BriefKept, Served, Serving
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
TABLE = [
    ("performer", "Performer"),
    ("piece", "Piece"),
    ("briefs", "Serves"),
    ("by", "By"),
    ("length", "Length"),
    ("filming", "Filming"),
    ("recording", "Recording"),
]
_LONGEST_PLACE = 200  # characters


@click.group("brief", context_settings=CONTEXT)
def brief_command() -> None:
    """Add, show and tick off what somebody asks for."""


@brief_command.command("blank", context_settings=CONTEXT)
@click.argument("file", metavar="FILE")
@click.option(
    "--piece",
    "pieces",
    metavar="NAME",
    multiple=True,
    help="A piece it asks for; can be given several times.",
)
@click.option("--name", metavar="NAME", help="Whose brief it is.")
@click.option(
    "--deadline", metavar="DAY", help="By when it must be there: 2026-05-01, or +20 (days from today)."
)
@click.option("--message", metavar="TEXTFILE", help="Fill in what this message says outright.")
def brief_blank(
    file: str, pieces: tuple[str, ...], name: str | None, deadline: str | None, message: str | None
) -> None:
    """Write a brief to fill in: a text file with every line it can have, explained.

    Its name and its deadline are left empty where they are not given here; `offbook brief add` takes a brief
    that has both. With --message, what somebody wrote (a mail, a page, saved as text) is read for limits,
    deadline, one take or cuts, file and picture; each point that is found is written in with the words that
    say so. Look it over: what the message leaves open stays open.
    """
    from offbook import brief
    from offbook.desk import day_in, process_clock
    from offbook.moment import system_zone, zone_named

    path = Path(file)
    today = process_clock()().date()
    found = () if message is None else brief.read_message(message, today, zone_named(system_zone()))
    values = {each.key: (brief.line(each.key, each.value), each.quoted) for each in found}
    given = day_in(deadline, today)
    write_named(path, brief.blank_brief(name or "", given, pieces, values), new=True)
    if message is not None:
        _say_found(found)
    there = {"name": bool(name), "deadline": given is not None or "deadline" in values}
    say(f"{path} is written.{_still_empty(there)} Fill it in, then: offbook brief add {quoted(str(path))}")


def _still_empty(there: Mapping[str, bool]) -> str:
    """Which places of a blank brief have to be filled in. there: what is given, by its key."""
    empty = [key for key, given in there.items() if not given]
    if not empty:
        return ""
    return f" Its {' and its '.join(empty)} {'are' if len(empty) > 1 else 'is'} still empty."


def _say_found(found: Sequence[Asked]) -> None:
    """Say what was found in a message, so that it can be compared."""
    from offbook import brief

    say("Found in the message; compare each with what they wrote:" if found else "Nothing was found in it.")
    for each in found:
        click.echo(hanging(f"{brief.line(each.key, each.value)}: “{each.quoted}”", "  "))


@brief_command.command("add", context_settings=CONTEXT)
@click.argument("file", metavar="FILE")
@performer_option
def brief_add(file: str, performer: str | None) -> None:
    """Add a brief to the journal; one with the same name is replaced."""
    from offbook import brief
    from offbook.journal import keep_brief, piece_named
    from offbook.moment import zone_named

    with opened_journal() as journal, journal.writing() as conn:
        owner = chosen_performer(conn, performer)
        read, text = brief.load_brief(file, zone_named(owner.zone))
        for name in read.pieces:
            piece_named(conn, name, owner.name)  # refused here rather than on the day of the takes
        _, before = keep_brief(journal, conn, owner, read.name, text, read.deadline, Path(file).name)
        now = journal.clock()
    left = brief.until(read.deadline, now)
    say(f"{read.name}, for {owner.name}: {'replaced' if before else 'added'}, {left}.")
    click.echo(_open_points(read), nl=bool(brief.unsaid(read)))
    if passed := late_in_words(read, now):
        click.echo(wrapped(f"Careful. {passed}"))
    elif read.pieces:
        say(f'Plan back from it with: offbook plan "{read.name}"')
    else:
        say(
            'It names no piece to plan for. Add a line such as pieces = ["the_lamp"] and add the brief again.'
        )


def _open_points(read: Brief) -> str:
    """What the brief leaves open, in a sentence; empty where it says everything that is often missed."""
    from offbook import brief

    points = brief.unsaid(read)
    return wrapped(f"They do not say: {', '.join(points)}. Ask them if it matters.") if points else ""


@brief_command.command("set", context_settings=CONTEXT)
@click.argument("name")
@click.argument("lines", metavar="LINE...", nargs=-1)
@click.option("--unset", "gone", metavar="KEY", multiple=True, help="They do not say this after all.")
@performer_option
def brief_set(name: str, lines: tuple[str, ...], gone: tuple[str, ...], performer: str | None) -> None:
    """Correct lines of a brief, written as in its file: 'longest = "1:30"', 'unbroken = true'.

    Each line replaces the one with the same key; the rest of the brief stays.
    """
    if not lines and not gone:
        raise click.UsageError("give a line such as 'longest = \"1:30\"', or --unset KEY")
    with opened_journal() as journal, journal.writing() as conn:
        read = desk.correct_brief(journal, conn, desk.one_brief(conn, name, performer), lines, gone)
    say(f"{read.name}: corrected.")
    _say_points(read)


def _say_points(read: Brief) -> None:
    """What a brief asks, point by point, then what it leaves open."""
    from offbook.brief import brief_in_words

    for what, asked in brief_in_words(read):
        click.echo(beside_head(f"  {what:10} ", asked))
    if still := _open_points(read):
        click.echo(still)


@brief_command.command("table", context_settings=CONTEXT)
@performer_option
@listing_options
def brief_table(performer: str | None, json_: bool, csv_: bool) -> None:
    """Show which recording goes to whom, what conflicts between the open briefs, and what is missing."""
    from offbook.desk import serving_of
    from offbook.journal import performers

    with opened_journal() as journal, journal.reading() as conn:
        people = performers(conn) if performer is None else (chosen_performer(conn, performer),)
        found = [serving_of(conn, p, journal.clock()) for p in people]
    rows = [_served_row(s, r) for s in found for r in s.served]
    notes = {
        "late": [said for s in found for said in s.late],
        "conflicts": [said for s in found for said in s.conflicts],
        "missing": [said for s in found for said in s.missing],
    }
    if json_:
        print_json({"recordings": rows, **notes})
        return
    columns = [c for c in TABLE if c[0] != "performer" or csv_ or len(people) > 1]
    shown = rows if csv_ else [{**r, "by": r["by"][:_DAY], "briefs": ", ".join(r["briefs"])} for r in rows]
    print_listing("recordings", shown, columns, json_=False, csv_=csv_, empty="No open brief names a piece.")
    if not csv_:
        _say_notes(notes)
        if rows and not any(notes.values()):
            say("Nothing conflicts and nothing is missing.")


_DAY = len("2026-03-02")  # of a moment as ISO 8601 writes it


# The heading over each kind of note, and what can be done about it.
_NOTES = {
    "late": (
        "Too late",
        "If one of them was sent, note it: offbook brief sent NAME. If not, ask them for a new deadline.",
    ),
    "conflicts": ("What conflicts", ""),
    "missing": (
        "What is missing",
        "Choose a take with: offbook take choose PIECE N. Check one with: offbook take judge PIECE N",
    ),
}


def _say_notes(notes: Mapping[str, Sequence[str]]) -> None:
    """What is too late, conflicts or is missing, each under its heading."""
    for kind, (heading, advice) in _NOTES.items():
        if notes[kind]:
            click.echo(f"\n{heading}")
            for each in notes[kind]:
                click.echo(hanging(f"{each[0].upper()}{each[1:]}", "  "))
            click.echo(wrapped(advice), nl=bool(advice))


def _served_row(serving: Serving, r: Served) -> dict[str, Any]:
    from offbook.brief import length_told

    unsaid = r.shortest is None and r.longest is None
    filming = {True: "one take", False: "cuts allowed", None: "not said"}[r.unbroken]
    return {
        "performer": serving.performer.name,
        "piece": r.piece,
        "briefs": list(r.briefs),
        "by": json_plain(r.by),
        "length": "not said" if unsaid else length_told(r.shortest, r.longest),
        "filming": filming,
        "recording": "none chosen" if r.take is None else f"take {r.take.n}",
    }


@brief_command.command("list", context_settings=CONTEXT)
@performer_option
@listing_options
def brief_list(performer: str | None, json_: bool, csv_: bool) -> None:
    """List the briefs, the nearest deadline first."""
    from offbook.brief import until
    from offbook.journal import performers
    from offbook.moment import zone_named

    with opened_journal() as journal, journal.reading() as conn:
        people = {p.id: p for p in performers(conn)}
        owner = None if performer is None else chosen_performer(conn, performer).id
        now = journal.clock()
        rows: list[dict[str, Any]] = []
        for kept in desk.read_briefs(conn, owner):
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
            told = ", NOT CONFIRMED" if overdue(found[-1], _today(conn, kept, now)) else ", no word yet"
        return f"sent {kept.row.sent_at:%Y-%m-%d}{told}"
    if not kept.pieces:
        return "names no piece of the journal"
    chosen = sum(take is not None for _, take in desk.chosen_for(conn, kept))
    return f"{chosen} of {len(kept.pieces)} chosen"


def _parcel(p: Parcel) -> dict[str, Any]:
    """A parcel for other programs."""
    return {
        "packed_at": json_plain(p.at),
        "folder": p.folder,
        "files": json.loads(p.files),
        "sent_at": json_plain(p.sent_at),
        "sent_to": p.sent_to,
        "confirm_by": json_plain(p.confirm_by),
        "confirmed_at": json_plain(p.confirmed_at),
        "confirmation": p.confirmation,
    }


@brief_command.command("show", context_settings=CONTEXT)
@click.argument("name")
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print it as JSON.")
def brief_show(name: str, performer: str | None, json_: bool) -> None:
    """Show what a brief asks for, and which takes are chosen for it."""
    from dataclasses import asdict

    from offbook.brief import until
    from offbook.desk import parcel_in_words
    from offbook.journal import parcels

    with opened_journal() as journal, journal.reading() as conn:
        kept = desk.one_brief(conn, name, performer)
        row, read = kept.row, kept.brief
        now = journal.clock()
        chosen = desk.chosen_for(conn, kept)
        packed = parcels(conn, [row.id]).get(row.id, [])
        went = [parcel_in_words(p, _today(conn, kept, now)) for p in packed]
    if json_:
        print_json(
            {
                "brief": {k: json_plain(v) for k, v in asdict(read).items()},
                "sent_at": json_plain(row.sent_at),
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
    if row.sent_at is None and (passed := late_in_words(read, now)):
        click.echo(wrapped(passed))
    _say_points(read)
    for piece, take in chosen:
        say(f"  {piece.name}: " + ("no take chosen yet" if take is None else f"take {take.n}, {take.file}"))
    for stands in went:
        click.echo(hanging(stands, "  "))
    if kept.missing:
        say(f"{kept.missing} of its pieces are no longer in the journal under that name.")
    click.echo(wrapped(desk.CONSENT))


@brief_command.command("sent", context_settings=CONTEXT)
@click.argument("name")
@performer_option
@click.option("--to", "where", metavar="WHERE", help="Where it went; if not given, where the brief says.")
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
    from offbook.desk import day_in, note_sent, parcel_in_words, take_back_sent

    with opened_journal() as journal, journal.writing() as conn:
        kept = desk.one_brief(conn, name, performer)
        now = journal.clock()
        without = [piece.name for piece, take in desk.chosen_for(conn, kept) if take is None]
        if without and not (undo or anyway):
            raise JournalError(
                f"no take is chosen of {', '.join(without)}; nothing was noted",
                f'choose with: offbook take choose "{without[0]}" N, or note it with --anyway',
            )
        if undo:
            take_back_sent(journal, conn, kept)
        else:
            by = day_in(confirm_by, _today(conn, kept, now))
            parcel = note_sent(journal, conn, kept, None if where is None else _place(where), by)
            stands = parcel_in_words(parcel, _today(conn, kept, now))
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
            "the place where it went is empty or too long", f"write up to {_LONGEST_PLACE} characters"
        )
    return place


def _today(conn: Connection, kept: BriefKept, now: datetime) -> date:
    """The performer's local day."""
    from offbook.journal import performers
    from offbook.moment import local_day

    return local_day(now, next(p.zone for p in performers(conn) if p.id == kept.row.performer_id))


brief_command.add_command(brief_pack)
brief_command.add_command(brief_confirmed)


@brief_command.command("delete", context_settings=CONTEXT)
@click.argument("name")
@performer_option
def brief_delete(name: str, performer: str | None) -> None:
    """Delete a brief; the takes made for it stay."""
    from offbook.journal import delete_brief

    with opened_journal() as journal, journal.writing() as conn:
        row = desk.one_brief(conn, name, performer).row
        delete_brief(conn, row.id)
    say(f"{row.name} is gone; its takes stay.")
