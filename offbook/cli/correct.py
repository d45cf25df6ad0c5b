"""`offbook correct PIECE WORD`: contest a verdict; the score follows, the original stays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import click

from offbook.cli.screen import CONTEXT, listing_options, performer_option, print_listing, say
from offbook.desk import chosen_piece, opened_journal
from offbook.errors import JournalError
from offbook.phrasing import plural

if TYPE_CHECKING:
    from offbook.journal import Connection
    from offbook.records import RunRow
    from offbook.score import Verdict

COLUMNS = [("word", "Word"), ("text", "Script"), ("verdict", "Verdict"), ("heard", "Heard"), ("line", "In")]
_SHOWN = 6  # words round the one in question


@click.command("correct", context_settings=CONTEXT)
@click.argument("piece")
@click.argument("word", required=False)
@performer_option
@click.option("--run", "run_id", metavar="NUMBER", help="The run-through; the newest if not given.")
@click.option(
    "--as",
    "verdict",
    type=click.Choice(["said", "unsure", "changed", "dropped"]),
    default="said",
    show_default=True,
    help="What it was.",
)
@click.option("--note", default="", help="Why, for yourself.")
@click.option(
    "--always",
    is_flag=True,
    help="You do say this word, though another is heard: here, in earlier run-throughs and from now on.",
)
@listing_options
def correct_command(
    piece: str,
    word: str | None,
    performer: str | None,
    run_id: str | None,
    verdict: str,
    note: str,
    always: bool,
    json_: bool,
    csv_: bool,
) -> None:
    """Correct a verdict of a run-through by hand.

    WORD is its number, or the word itself if it is in question only once. Without WORD, the words in
    question are listed.
    """
    from offbook.desk import confirm_word, correct_word, run_named
    from offbook.score import accuracy_share

    with opened_journal() as journal:
        with journal.reading() as conn:
            found = chosen_piece(conn, piece, performer)
            run = run_named(conn, found, run_id)
            rows = _in_question(conn, run)
        if word is None:
            print_listing(
                "words",
                rows,
                COLUMNS,
                json_=json_,
                csv_=csv_,
                empty="Nothing is in question: every word was said.",
            )
            return
        number = _number(word, rows, run.words)
        if always and verdict != "said":
            raise click.UsageError("--always is for a word that you do say")
        if always:
            many = confirm_word(journal, found, run.id, number - 1)
            say(f"Corrected in {plural(many, 'run-through')}, and in every one to come.")
        else:
            correct_word(journal, found, run.id, number - 1, cast("Verdict", verdict), note)
        with journal.reading() as conn:
            after = run_named(conn, found, run.id)
    say(
        f"Word {number}: {verdict}. Words said: {accuracy_share(run.accuracy)} before, "
        f"{accuracy_share(after.accuracy)} now; "
        "the first verdict is kept beside it."
    )


def _in_question(conn: Connection, run: RunRow) -> list[dict[str, Any]]:
    from offbook.journal import corrections, scored_run

    words = scored_run(conn, run.id).words
    mended = {c.word: c for c in corrections(conn, run.id)}
    rows = []
    for w in words:
        if w.verdict == "said" and w.i not in mended:
            continue
        first = max(0, w.i - _SHOWN // 2)
        about = [f"[{x.text}]" if x.i == w.i else x.text for x in words[first : w.i + _SHOWN // 2 + 1]]
        by_hand = f" (by hand, was {mended[w.i].was})" if w.i in mended else ""
        rows.append(
            {
                "word": w.i + 1,
                "text": w.text,
                "verdict": w.verdict + by_hand,
                "heard": w.heard if w.verdict in ("changed", "unsure") else None,
                "line": " ".join(about),
            }
        )
    return rows


def _number(word: str, rows: list[dict[str, Any]], count: int) -> int:
    if word.isdecimal():
        if not 1 <= int(word) <= count:
            raise JournalError(f"the run-through has no word {word}", f"give a number from 1 to {count}")
        return int(word)
    fits = [r["word"] for r in rows if r["text"].lower() == word.lower()]
    if len(fits) != 1:
        many = "more than once" if fits else "nowhere"
        raise JournalError(
            f"“{word}” is in question {many} in this run-through",
            "see the numbers with `offbook correct PIECE`, and give the number",
        )
    return int(fits[0])
