"""`offbook take`: takes logged with an intention, checked, compared by the text, and chosen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook import desk
from offbook.cli.common import listening_bar, print_json
from offbook.cli.screen import (
    CONTEXT,
    json_plain,
    listing_options,
    performer_option,
    print_listing,
    say,
    seconds_shown,
    wrapped,
)
from offbook.desk import chosen_piece, opened_journal
from offbook.errors import JournalError, OffbookError
from offbook.phrasing import SHARE_DECIMALS

if TYPE_CHECKING:
    from offbook.desk import JudgedTake
    from offbook.records import RunRow, TakeRow

COLUMNS = [
    ("take", "Take"),
    ("day", "Day"),
    ("intention", "Intention"),
    ("length", "Length"),
    ("words", "Words"),
    ("heard", "Shifts heard"),
    ("unmet", "Not met"),
    ("state", ""),
]
_LONGEST = 300  # characters of an intention


@click.group("take", context_settings=CONTEXT)
def take_command() -> None:
    """Log takes with an intention, check them, compare them and choose."""


@take_command.command("add", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("recording", metavar="RECORDING")
@click.option(
    "--intention", metavar="TEXT", required=True, help="What this take tries: what you want, from whom."
)
@click.option(
    "--brief",
    metavar="NAME",
    help="Check it against this brief; if not given, against the open one that asks for this piece.",
)
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option("--keep/--no-keep", default=None, help="Keep the recording in the journal too, or not.")
@click.option("--json", "json_", is_flag=True, help="Print the take as JSON.")
@performer_option
def take_log(
    piece: str,
    recording: str,
    intention: str,
    brief: str | None,
    model: str | None,
    keep: bool | None,
    json_: bool,
    performer: str | None,
) -> None:
    """Log RECORDING as a take of PIECE: measure it, hear it, compare it with the brief and the text.

    The take is in the journal, and its recording where recordings are kept, before it is judged.
    """
    wish = " ".join(intention.split())
    if not 0 < len(wish) <= _LONGEST:
        raise JournalError(
            "the intention is empty or too long", f"say in up to {_LONGEST} characters what this take tries"
        )
    from offbook.desk import Loading, judge_logged, log_take

    loading = Loading(model)
    with opened_journal() as journal:
        logged = log_take(journal, piece, performer, Path(recording), wish, brief, keep)
        try:
            with listening_bar() as progress:
                judged = judge_logged(journal, logged, loading, progress)
        except OffbookError as e:
            again = f'offbook take delete "{logged.piece.name}" {logged.take.n}'
            raise type(e)(e.what, f"{e.do}; it stays logged as take {logged.take.n} unless: {again}") from e
    _print(judged, json_)


@take_command.command("judge", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("number", metavar="N", type=int)
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option("--json", "json_", is_flag=True, help="Print the take as JSON.")
@performer_option
def judge_again(piece: str, number: int, model: str | None, json_: bool, performer: str | None) -> None:
    """Judge take N of PIECE, whose judging was cut short or whose brief has changed."""
    from offbook.desk import Loading, judge_logged, logged_take

    loading = Loading(model)
    with opened_journal() as journal:
        logged = logged_take(journal, piece, performer, number)
        with listening_bar() as progress:
            judged = judge_logged(journal, logged, loading, progress)
    _print(judged, json_)


def _print(judged: JudgedTake, json_: bool) -> None:
    from offbook.cli.take_judge import screen, take_as_json

    if json_:
        print_json(take_as_json(judged))
    else:
        screen(judged)


@take_command.command("list", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@listing_options
def take_list(piece: str, performer: str | None, json_: bool, csv_: bool) -> None:
    """List the takes of PIECE, with what is not met and which is best by the text.

    A take is only called best if it meets the brief, has the words and was not prompted.
    """
    from offbook.journal import run_of_take, takes
    from offbook.score import accuracy_share
    from offbook.takes import CLEAN, best_take

    with opened_journal() as journal, journal.reading() as conn:
        found = chosen_piece(conn, piece, performer)
        logged = [(take, run_of_take(conn, take)) for take in takes(conn, found.id)]
    standings = [desk.standing_of(take, run) for take, run in logged]
    leading = best_take(standings)
    rows = []
    for (take, run), stand in zip(logged, standings, strict=True):
        leads = leading is not None and take.n == leading.n
        ready = leads and stand.unmet == 0 and run is not None and run.accuracy >= CLEAN and not run.prompts
        rows.append({**_row(take, run, ready), "nearest": leads and not ready})
    if not (json_ or csv_):
        rows = [
            {
                **row,
                "length": seconds_shown(row["seconds"]),
                "words": None if row["words"] is None else accuracy_share(row["words"], row["words"]),
                "heard": desk.shifts_heard(row["shifts"]),
                "unmet": None if row["unmet"] is None else ", ".join(row["unmet"]) or "nothing",
                "state": _state(row),
            }
            for row in rows
        ]
    elif csv_:
        rows = [
            {
                **row,
                "shifts": desk.shifts_heard(row["shifts"]),
                "unmet": None if row["unmet"] is None else "; ".join(row["unmet"]),
            }
            for row in rows
        ]
    print_listing("takes", rows, COLUMNS, json_=json_, csv_=csv_, empty=f"No takes of {found.name} yet.")


def _row(take: TakeRow, run: RunRow | None, leads: bool) -> dict[str, Any]:
    told = desk.findings_of_take(take)
    return {
        "take": take.n,
        "day": take.day,
        "intention": take.intention,
        "seconds": None if told is None else told["seconds"],
        "words": None if run is None else round(run.accuracy, SHARE_DECIMALS),
        "shifts": None if told is None else told.get("delivery", {}).get("shifts"),
        "unmet": None if told is None else desk.unmet_of(told),
        "best": leads,
        "chosen": take.chosen,
        "file": take.file,
    }


def _state(row: dict[str, Any]) -> str:
    if row["unmet"] is None:
        return "not judged yet"
    told = {"chosen": "chosen", "best": "best by the text", "nearest": "nearest so far, not there yet"}
    return ", ".join(said for word, said in told.items() if row[word])


@take_command.command("show", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("number", metavar="N", type=int)
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print it as JSON.")
def take_show(piece: str, number: int, performer: str | None, json_: bool) -> None:
    """Show take N of PIECE: its intention, where it lies, and every point that was checked."""
    from offbook.desk import note_as_json
    from offbook.journal import run_of_take, take_numbered, version_of
    from offbook.words import where

    with opened_journal() as journal, journal.reading() as conn:
        found = chosen_piece(conn, piece, performer)
        take = take_numbered(conn, found, number)
        run = run_of_take(conn, take)
        noted = [] if run is None else desk.run_notes(conn, run)
        places = []
        if run is not None:
            draft = version_of(conn, run.version_id)
            places = [where(draft.script, draft.words, n.first, n.first) for n in noted]
    told = desk.findings_of_take(take)
    if json_:
        print_json(
            {
                "piece": found.name,
                **{k: json_plain(v) for k, v in _row(take, run, False).items() if k != "best"},
                "run": take.run_id,
                "checks": (told or {}).get("checks"),
                "notes": [note_as_json(n) for n in noted],
            }
        )
        return
    from offbook.cli.take_judge import check_lines

    say(f"{found.name}, take {take.n}{', chosen' if take.chosen else ''}: {take.intention}")
    click.echo(take.file)
    if told is None:
        say(f'Not judged yet: offbook take judge "{found.name}" {take.n}')
        return
    for line in check_lines(told["checks"]):
        click.echo(line)
    for n, there in zip(noted, places, strict=True):
        at = "" if n.at is None else f" at {seconds_shown(n.at)}"
        click.echo(wrapped(f"{there[0].upper()}{there[1:]}{at}, {n.kind}: {n.detail}"))


@take_command.command("choose", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("number", metavar="N", type=int)
@performer_option
def take_choose(piece: str, number: int, performer: str | None) -> None:
    """Choose take N of PIECE to be sent, in place of one chosen before."""
    from offbook.journal import choose_take, take_numbered

    with opened_journal() as journal, journal.writing() as conn:
        found = chosen_piece(conn, piece, performer)
        take = take_numbered(conn, found, number)
        choose_take(journal, conn, take)
    say(f"{found.name}: take {take.n} is chosen, {take.file}")
    told = desk.findings_of_take(take)
    if told is None:
        say(f'It is not judged yet: offbook take judge "{found.name}" {take.n}')
    elif unmet := desk.unmet_of(told):
        click.echo(wrapped(f"Not met: {', '.join(unmet)}."))


@take_command.command("delete", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("number", metavar="N", type=int)
@click.option("--recording", is_flag=True, help="Delete the journal's copy of its recording too, for good.")
@performer_option
def take_delete(piece: str, number: int, recording: bool, performer: str | None) -> None:
    """Remove take N of PIECE from the log.

    Its run-through stays, and so does its recording, unless you give --recording.
    """
    from offbook.journal import delete_marked_files, delete_take, forget_recording, take_numbered, takes

    gone = "its recording is not deleted"
    with opened_journal() as journal:
        with journal.writing() as conn:
            found = chosen_piece(conn, piece, performer)
            take = take_numbered(conn, found, number)
            delete_take(conn, take.id)
            kept = take.recording_id
            also = [t.n for t in takes(conn, found.id) if kept is not None and t.recording_id == kept]
            if recording and also:
                gone = f"its recording stays: take {also[0]} is of it too"
            elif recording:
                gone = "and its recording with it"
                if kept is not None:
                    forget_recording(conn, kept)
        delete_marked_files(journal)
    say(f"{found.name}: take {take.n} is out of the log, {gone}.")
