"""`offbook piece`: the speeches to learn, their drafts, limits and dates."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import asking, print_json, quoted
from offbook.cli.screen import (
    CONTEXT,
    beside_head,
    chance_shown,
    json_plain,
    listing_options,
    performer_option,
    print_listing,
    say,
    seconds_shown,
)
from offbook.cli.selecting import selection_options
from offbook.desk import EVERY_PART, broken_off, chosen_piece, day_in, opened_journal, thought_rows
from offbook.errors import JournalError
from offbook.intake import MEGABYTE
from offbook.phrasing import KEY_SHOWN, plural
from offbook.typed_times import seconds_in

if TYPE_CHECKING:
    from datetime import date

    from offbook.desk import Revised
    from offbook.script import Selection

COLUMNS = [
    ("performer", "Performer"),
    ("piece", "Piece"),
    ("date", "Date"),
    ("days_left", "Days left"),
    ("limit", "Limit"),
    ("words", "Words"),
    ("thoughts", "Thoughts"),
    ("draft", "Draft"),
]


# Set by hand.
_ALIKE_SHOWN = 5  # pairs of thoughts that are easily confused


@click.group("piece", context_settings=CONTEXT)
def piece_command() -> None:
    """Add, revise, list, change and delete the pieces to learn."""


@piece_command.command("add", context_settings=CONTEXT)
@click.argument("path", metavar="SCRIPT")
@click.option("--name", help="What to call it; the file's name if not given.")
@performer_option
@selection_options
@click.option("--limit", metavar="M:SS", help="The time limit.")
@click.option("--date", "due", metavar="DAY", help="The day it must be ready: 2026-05-01, or +20.")
@click.option("--keep/--no-keep", default=True, help="Keep the recordings of run-throughs (the default).")
def piece_add(
    path: str,
    name: str | None,
    performer: str | None,
    wanted: Selection,
    limit: str | None,
    due: str | None,
    keep: bool,
) -> None:
    """Add a script to the journal, divided into thoughts to be learnt one by one."""
    from offbook.desk import add_from_file

    most = seconds_in(limit, "limit") if limit is not None else None
    with opened_journal() as journal:
        added = add_from_file(
            journal,
            path,
            name=name,
            performer=performer,
            wanted=wanted,
            ask_part=_ask_part if asking() and path != "-" else None,
            limit=most,
            due=due,
            keep=keep,
        )
    made = added.piece
    words, units = added.version.words, added.version.units
    say(f"{made.name}, for {made.performer}: {len(words)} words in {len(units)} thoughts.")
    _warn_if_over(made.due_day, added.today)
    say(f'Begin with: offbook drill "{made.name}"')


def _warn_if_over(day: date | None, today: date) -> None:
    """Say that a piece whose day has passed is not planned for."""
    if day is not None and day < today:
        say(f"{day} is over, so `offbook today` leaves it out. Change it: offbook piece set PIECE --date DAY")


def _ask_part(parts: Sequence[str]) -> str:
    """Which part is to be learnt, asked of whoever sits there."""
    say("Several people speak here: " + ", ".join(parts) + ".", err=True)
    while True:
        said: str = click.prompt(f"Which part is yours ({EVERY_PART} for all of them)", err=True)
        near = [p for p in parts if p.casefold().startswith(said.strip().casefold())]
        exact = [p for p in parts if p.casefold() == said.strip().casefold()]
        if said.strip().casefold() == EVERY_PART or exact or len(near) == 1:
            return (exact or near or [EVERY_PART])[0]
        say(f"No single part begins with {said!r}.", err=True)


@piece_command.command("revise", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("path", metavar="SCRIPT")
@performer_option
@selection_options
def revise(piece: str, path: str, performer: str | None, wanted: Selection) -> None:
    """Add a new draft; lines that stayed keep their history, changed thoughts are due again."""
    from offbook.desk import revise_from_file

    with opened_journal() as journal:
        r = revise_from_file(journal, piece, path, performer, wanted)
    say(_revised(r))


_WIDENED = (
    "Before, it was a stretch of the script; now it is this part in all of it. For a stretch again: "
    'offbook piece revise "{piece}" SCRIPT --part "{part}" --from … --to …'
)


def _revised(r: Revised) -> str:
    """What a new draft kept and what it brought."""
    same = r.thoughts - r.changed - r.new
    return (
        f"{r.piece.name}, draft {r.version.n}: {r.stayed} of {r.before} words stayed with their history, "
        f"{r.before - r.stayed} went, {len(r.version.slots) - r.stayed} are new.\n"
        f"Thoughts: {same} as they were, {r.changed} changed, {r.new} new."
    )


@piece_command.command("list", context_settings=CONTEXT)
@performer_option
@listing_options
def piece_list(performer: str | None, json_: bool, csv_: bool) -> None:
    """List the pieces, the nearest date first."""
    from offbook.journal import draft_counts, performer_named, pieces_of
    from offbook.moment import local_day

    with opened_journal() as journal, journal.reading() as conn:
        owner = performer_named(conn, performer).id if performer is not None else None
        rows: list[dict[str, Any]] = []
        drafts, now = draft_counts(conn, owner), journal.clock()
        owned = pieces_of(conn, owner)
        today = {zone: local_day(now, zone) for zone in {p.zone for p in owned}}
        for p in owned:
            v = drafts.get(p.id)
            left = None if p.due_day is None else (p.due_day - today[p.zone]).days
            rows.append(
                {
                    "performer": p.performer,
                    "piece": p.name,
                    "part": p.part,
                    "date": p.due_day,
                    "days_left": left,
                    "limit": seconds_shown(p.limit_seconds),
                    "words": v.words if v else 0,
                    "thoughts": v.thoughts if v else 0,
                    "draft": v.n if v else 0,
                    "keep_recordings": p.keep_recordings,
                }
            )
    print_listing("pieces", rows, COLUMNS, json_=json_, csv_=csv_, empty="No pieces yet.")


@piece_command.command("show", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print it as JSON.")
@click.option("--csv", "csv_", is_flag=True, help="Print its thoughts as CSV.")
def piece_show(piece: str, performer: str | None, json_: bool, csv_: bool) -> None:
    """Show a piece: its drafts, and its thoughts as they are learnt."""
    from offbook.drill import lookalikes
    from offbook.journal import memories, recordings, unjudged, versions

    with opened_journal() as journal, journal.reading() as conn:
        p = chosen_piece(conn, piece, performer)
        drafts = versions(conn, p.id)
        known = memories(conn, [p.id])[p.id]
        kept, waiting = recordings(conn, p.id), unjudged(conn, p.id)
        now = journal.clock()
    newest = drafts[-1]
    number = {u.key: u.n + 1 for u in newest.units}
    alike = [
        (number[pair.one], number[pair.other], pair.likeness)
        for pair in lookalikes(newest.units, newest.words)
    ]
    rows = thought_rows(newest, known, now)
    if csv_:
        flat = [
            {
                **{k: v for k, v in row.items() if k != "words"},
                "first": row["words"][0],
                "last": row["words"][1],
            }
            for row in rows
        ]
        print_listing("thoughts", flat, [], json_=json_, csv_=True, empty="")
        return
    if json_:
        print_json(
            {
                "piece": p.name,
                "performer": p.performer,
                "date": json_plain(p.due_day),
                "limit": p.limit_seconds,
                "drafts": [
                    {"n": v.n, "made_at": json_plain(v.made_at), "words": len(v.words)} for v in drafts
                ],
                "recordings": [{"id": r.id, "at": json_plain(r.at), "bytes": r.bytes} for r in kept],
                "unjudged": [r.id for r in waiting],
                "thoughts": rows,
                "alike": [{"thoughts": [a, b], "likeness": likeness} for a, b, likeness in alike],
            }
        )
        return
    say(f"{p.name}, for {p.performer}: draft {newest.n} of {newest.made_at:%Y-%m-%d}")
    for row in rows:
        state = "new" if row["recall"] is None else chance_shown(row["recall"])
        click.echo(beside_head(f"{row['thought']:>4}  {state:>5}  ", row["text"]))
    for a, b, likeness in alike[:_ALIKE_SHOWN]:
        say(f"Easily confused: {a} and {b} ({likeness:.0f} % alike).")
    say(f"{plural(len(kept), 'recording')} kept, {len(waiting)} not judged yet.")


@piece_command.command("set", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@click.option("--name", help="A new name.")
@click.option("--part", metavar="NAME", help="Learn this part from here on, or 'all' of them.")
@click.option("--limit", metavar="M:SS", help="The time limit; 'none' for none.")
@click.option("--date", "due", metavar="DAY", help="The day it must be ready: 2026-05-01, +20, or 'none'.")
@click.option("--keep/--no-keep", default=None, help="Keep the recordings of run-throughs.")
def piece_set(
    piece: str,
    performer: str | None,
    name: str | None,
    part: str | None,
    limit: str | None,
    due: str | None,
    keep: bool | None,
) -> None:
    """Change the name, part, limit or date of a piece, or whether its recordings are kept."""
    from offbook.desk import change_part
    from offbook.journal import change_piece
    from offbook.moment import local_day

    values: dict[str, Any] = {}
    if name is not None:
        values["name"] = name
    if limit is not None:
        values["limit_seconds"] = None if limit == "none" else seconds_in(limit, "limit")
    if keep is not None:
        values["keep_recordings"] = keep
    if not values and due is None and part is None:
        raise JournalError("nothing to change was given", "give --name, --part, --limit, --date or --keep")
    with opened_journal() as journal:
        if part is not None:
            revised = change_part(journal, piece, part, performer)
            say(_revised(revised))
            if revised.widened:
                say(_WIDENED.format(piece=revised.piece.name, part=part))
        with journal.writing() as conn:
            p = chosen_piece(conn, piece, performer)
            today = local_day(journal.clock(), p.zone)
            if due is not None:
                values["due_day"] = None if due == "none" else day_in(due, today)
            if values:
                change_piece(journal, conn, p.id, **values)
    say(f"{p.name}: changed.")
    _warn_if_over(values.get("due_day"), today)


RECORDING_COLUMNS = [
    ("recording", "Recording"),
    ("day", "Day"),
    ("megabytes", "MB"),
    ("judged", "Judged"),
    ("take", "Take"),
    ("there", "On disk"),
]


@piece_command.command("recordings", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@listing_options
def recordings_(piece: str, performer: str | None, json_: bool, csv_: bool) -> None:
    """List the recordings of a piece that the journal keeps, oldest first."""
    from offbook.journal import recordings, take_numbers, unjudged

    with opened_journal() as journal, journal.reading() as conn:
        p = chosen_piece(conn, piece, performer)
        waiting = {r.id for r in unjudged(conn, p.id)}
        numbers = take_numbers(conn, p.id)
        rows = [
            {
                "recording": r.id[:KEY_SHOWN],
                "day": r.day,
                "megabytes": round(r.bytes / MEGABYTE, 2),
                "judged": r.id not in waiting,
                "take": numbers.get(r.id),
                "there": (journal.recordings / r.path).is_file(),
                "path": str(journal.recordings / r.path),
            }
            for r in recordings(conn, p.id)
        ]
        left = broken_off(journal, p)
    empty = f"No recording of {p.name} is kept."
    print_listing("recordings", rows, RECORDING_COLUMNS, json_=json_, csv_=csv_, empty=empty)
    for file in left:
        say("From a rehearsal that is going on or was broken off, and was not judged:", err=True)
        click.echo(f"  offbook run {quoted(p.name)} {quoted(str(file))}", err=True)


@piece_command.command("forget", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("numbers", metavar="[RECORDING]...", nargs=-1)
@performer_option
@click.option("--unjudged", "waiting", is_flag=True, help="Those whose judging was never finished.")
@click.option("--all", "every", is_flag=True, help="All of this piece's recordings.")
@click.option("--yes", is_flag=True, help="Do not ask.")
def forget(
    piece: str, numbers: tuple[str, ...], performer: str | None, waiting: bool, every: bool, yes: bool
) -> None:
    """Delete recordings of a piece for good; their run-throughs and takes stay, without sound.

    RECORDING is a number as `offbook piece recordings` lists it.
    """
    from offbook.journal import delete_marked_files, forget_recording, recordings, unjudged

    if not (numbers or waiting or every):
        raise JournalError(
            "no recording was named", f'see `offbook piece recordings "{piece}"`, or give --unjudged or --all'
        )
    with opened_journal() as journal:
        with journal.reading() as conn:
            p = chosen_piece(conn, piece, performer)
            kept = recordings(conn, p.id)
            chosen = {r.id for r in (kept if every else unjudged(conn, p.id) if waiting else ())}
        for number in numbers:
            fits = [r.id for r in kept if r.id.startswith(number)]
            if len(fits) != 1:
                raise JournalError(
                    f"{'no' if not fits else 'more than one'} recording of {p.name} begins with {number!r}",
                    f'see `offbook piece recordings "{p.name}"`',
                )
            chosen.add(fits[0])
        if chosen and not yes:
            click.confirm(
                f"Delete {plural(len(chosen), 'recording')} of {p.name} for good?", abort=True, err=True
            )
        with journal.writing() as conn:
            for key in chosen:
                forget_recording(conn, key)
        delete_marked_files(journal)
    say(f"{plural(len(chosen), 'recording')} of {p.name} gone; archives you exported still hold them.")


@piece_command.command("delete", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@click.option("--yes", is_flag=True, help="Do not ask.")
def piece_delete(piece: str, performer: str | None, yes: bool) -> None:
    """Delete a piece with all its history and recordings, also from the copies kept before updates."""
    from offbook.journal import delete_marked_files, delete_piece, erase_copies

    with opened_journal() as journal:
        with journal.reading() as conn:
            p = chosen_piece(conn, piece, performer)
        if not yes:
            click.confirm(f"Delete {p.name} of {p.performer} with all its history?", abort=True, err=True)
        with journal.writing() as conn:
            delete_piece(conn, p.id)
        delete_marked_files(journal)
        erase_copies(journal)
    say(f"{p.name} is gone.")
