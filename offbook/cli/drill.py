"""`offbook drill PIECE`: recall drills, typed or spoken, for as long as you ask."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from offbook import desk
from offbook.cli.screen import (
    CONTEXT,
    beside_head,
    line_width,
    listing_options,
    performer_option,
    print_listing,
    say,
    wrapped,
)
from offbook.desk import chosen_piece, draft_of, opened_journal
from offbook.phrasing import plural

if TYPE_CHECKING:
    from offbook.cli.drill_cue import Voice
    from offbook.desk import AnswerListener
    from offbook.drill import Exercise, GivenAnswer, JudgedAnswer, Sitting
    from offbook.journal import Journal
    from offbook.records import Piece, Session, Version

# The same as offbook.drill.KINDS, which is not loaded for --help; a test makes sure of it.
KINDS = ("thought", "cue", "join", "build-up", "build-back", "drop-in", "tell-apart")
COLUMNS = [
    ("at", "When"),
    ("kind", "Drill"),
    ("thought", "Thought"),
    ("help", "Help"),
    ("right", "Right"),
    ("words", "Of"),
    ("given", "Given"),
]
_LEAVE = ("q", "quit")
# Minutes of a sitting; set by hand, the least so that a trial can be short.
_LEAST_MINUTES, _USUAL_MINUTES, _MOST_MINUTES = 0.1, 10.0, 180
_INDENT = "   "  # of what is said about an answer
# What a kind of exercise needs before it can be asked.
_WANTS = {
    "cue": "It needs another part's lines: add the piece with --part. Whole thoughts are asked instead.",
    "tell-apart": "It needs two thoughts that are alike, both begun. Whole thoughts are asked instead.",
}


@click.command("drill", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@click.option(
    "--minutes",
    type=click.FloatRange(_LEAST_MINUTES, _MOST_MINUTES),
    default=_USUAL_MINUTES,
    show_default=True,
    help="How long.",
)
@click.option(
    "--kind",
    "kinds",
    multiple=True,
    type=click.Choice(KINDS),
    help="Only this drill; can be given several times. See --explain.",
)
@click.option("--explain", is_flag=True, help="Say what each drill asks for, and stop.")
@click.option("--answers", is_flag=True, help="List the answers given so far, and stop.")
@click.option("--spoken", is_flag=True, help="Answer aloud: recorded, heard offline and judged word by word.")
@click.option(
    "--record-with",
    metavar="COMMAND",
    help='With --spoken: record with this program; FILE in it stands for the file, as in "arecord -q FILE".',
)
@click.option(
    "--say-cues",
    metavar="COMMAND",
    help="Have your partner's lines spoken by this program, not shown; TEXT in it becomes the line, as in "
    '"espeak-ng TEXT".',
)
@click.option("--model", metavar="NAME", help="With --spoken: hear with this speech model.")
@click.option("--seed", type=int, help="The same number gives the same sitting again.")
@listing_options
def drill_command(
    piece: str,
    performer: str | None,
    minutes: float,
    kinds: tuple[str, ...],
    explain: bool,
    answers: bool,
    spoken: bool,
    record_with: str | None,
    say_cues: str | None,
    model: str | None,
    seed: int | None,
    json_: bool,
    csv_: bool,
) -> None:
    """Drill a piece by thought, typed or spoken, for the minutes you ask.

    Type the words and press Enter. Spelling is forgiven, wrong words are not. Press Enter alone if you
    don't know. ? gives the next word, and a second ? the rest of its phrase; words that were prompted do
    not count as known. q stops the drill; your answers are kept.
    """
    from offbook.drill import KINDS as TOLD

    if explain:
        for name, text in TOLD.items():
            click.echo(beside_head(f"{name:11} ", text))
        return
    with opened_journal() as journal:
        if answers:
            _list_answers(journal, piece, performer, json_, csv_)
            return
        voice = ear = None
        if say_cues is not None:
            from offbook.cli.drill_cue import voice_for

            voice = voice_for(say_cues)
        if spoken:
            from offbook.desk import ear_for

            ear = ear_for(record_with, model, _enter)
        _sit(journal, piece, performer, minutes, kinds, seed, ear, voice)


def _enter() -> bool:
    click.echo("   Say it, then press Enter (q and Enter: leave). ", nl=False)
    line = sys.stdin.readline()
    return line != "" and line.strip().lower() not in _LEAVE


def _list_answers(journal: Journal, name: str, performer: str | None, json_: bool, csv_: bool) -> None:
    from offbook.journal import answers, newest_version

    with journal.reading() as conn:
        piece = chosen_piece(conn, name, performer)
        version = newest_version(conn, piece.id)
        number = {u.key: u.n + 1 for u in version.units} if version is not None else {}
        rows: list[dict[str, Any]] = [
            {
                "at": a.at,
                "day": a.day,
                "kind": a.kind,
                "thought": number.get(a.unit),
                "help": a.help,
                "right": a.right,
                "words": a.words,
                "given": a.given,
                "seconds": round(a.seconds, 2),
                "pick_up": a.pick_up,
                "spoken": a.spoken,
            }
            for a in answers(conn, piece.id)
        ]
    if not (json_ or csv_):
        rows = [{**r, "at": f"{r['at']:%Y-%m-%d %H:%M}", "given": r["given"] or "don't know"} for r in rows]
    print_listing("answers", rows, COLUMNS, json_=json_, csv_=csv_, empty="No answers yet.")


def _sit(
    journal: Journal,
    name: str,
    performer: str | None,
    minutes: float,
    kinds: tuple[str, ...],
    seed: int | None,
    ear: AnswerListener | None,
    voice: Voice | None,
) -> None:
    from offbook.journal import end_session, start_session

    with journal.reading() as conn:
        piece = chosen_piece(conn, name, performer)
        version = draft_of(conn, piece)
    sitting, now = desk.lay_out_sitting(journal, piece, version, minutes, kinds, seed), journal.clock
    with journal.writing() as conn:
        session = start_session(journal, conn, piece, minutes)
    say(f"{piece.name} · {minutes:g} min · {plural(len(sitting.wanted), 'thought')} to begin with")
    if ear is None:
        click.echo(wrapped('Type the words. ?: the next word. Enter alone: "don\'t know". q: leave.'))
    else:
        from offbook.schedule import CAUTION

        click.echo(f'Say the words. Saying nothing: "don\'t know".\n{wrapped(CAUTION)}')
    lacking = sitting.lacking()
    if lacking:
        click.echo(wrapped(f"Nothing to ask as {' or '.join(lacking)} yet. {_WANTS[lacking[0]]}"))
    asked = right = 0
    while (exercise := sitting.ask()) is not None:
        if sitting.closing == 1:
            say("\nTime is up. One more, to end on something that goes well.")
        answer = _ask(exercise, version, asked + 1, now, ear, voice)
        if answer is None:
            say(f"\nLeft after {plural(asked, 'question')}; every answer is kept.")
            return
        judged = _take(journal, piece, version, session, sitting, exercise, *answer)
        asked += 1
        right += judged is not None and judged.clean
    with journal.writing() as conn:
        end_session(journal, conn, session.id)
    say(f"\nTime. {right} of {asked} right, and the last one was. See what is left: offbook today")


def _ask(
    exercise: Exercise,
    version: Version,
    number: int,
    now: Callable[[], datetime],
    ear: AnswerListener | None,
    voice: Voice | None,
) -> tuple[GivenAnswer, JudgedAnswer | None] | None:
    """Put the question, read or hear the answer and judge it; None when the person leaves."""
    from offbook.drill import KINDS as TOLD
    from offbook.drill import GivenAnswer
    from offbook.words import as_written

    head = f"{number}. {exercise.kind}: {TOLD[exercise.kind]}"
    say(f"\n{head}")
    if exercise.first_look:
        text = as_written(version.script, version.words, exercise.first, exercise.last)
        click.echo(f"{_told('New. Read it once for what it means, then press Enter:')}\n{_told(text)}")
        if _leaves(_line()):
            return None
        if sys.stdin.isatty():
            click.clear()  # asked from memory, not from the screen
            say(head)
    _lead_in(exercise, voice)
    if ear is not None:
        said = ear.answer(version, exercise.first, exercise.last)
        if said is None:
            return None
        click.echo(_told(f"heard: {said.text or 'nothing'}"))
        return GivenAnswer(said.text, now(), said.seconds, said.pick_up, spoken=True), said.judged
    return _answer(exercise, version, now)


def _answer(
    exercise: Exercise, version: Version, now: Callable[[], datetime]
) -> tuple[GivenAnswer, JudgedAnswer | None] | None:
    """A typed answer, with a prompt each time one is asked for; None when the person leaves."""
    from offbook.drill import Answering, GivenAnswer, before_a_prompt

    answer = Answering(version.script, version.words, exercise.first, exercise.last)
    next_word = version.words[exercise.first].text
    began, first = now(), None
    while True:
        typed, key = _typed(now)
        first = first or key
        ended = now()
        if typed is None or _leaves(typed):
            return None
        before = before_a_prompt(typed, next_word)
        if before is None:
            break
        answer, prompt = answer.add(before).prompt()
        if not prompt:
            click.echo("   Nothing is left to prompt: that was the end.")
            typed = ""
            break
        click.echo(_told(f"prompt: {prompt}"))
    answer = answer.add(typed)
    pick_up = None if first is None else (first - began).total_seconds()
    given = GivenAnswer(answer.shown or None, ended, (ended - began).total_seconds(), pick_up)
    return given, None if given.text is None else answer.judged()


def _lead_in(exercise: Exercise, voice: Voice | None) -> None:
    """What leads into the answer: shown, or a partner's line spoken; and the help."""
    if exercise.speaker and voice is not None:
        click.echo(f"   {exercise.speaker}: (listen)")
        if exercise.hint:
            click.echo(_told(f"help: {exercise.hint}"))
        voice(exercise.shown)  # the pick-up is counted from its end
        return
    lead = f"{exercise.speaker}: {exercise.shown}" if exercise.speaker else exercise.shown
    click.echo(_told(lead or "(the beginning)"))
    if exercise.hint:
        click.echo(_told(f"help: {exercise.hint}"))


def _told(text: str) -> str:
    """A passage under its question, broken into lines."""
    return wrapped(text, "   ", "   ")


def _leaves(line: str | None) -> bool:
    return line is None or line.strip().lower() in _LEAVE


def _line() -> str | None:
    line = sys.stdin.readline()
    return None if line == "" else line


def _typed(now: Callable[[], datetime]) -> tuple[str | None, datetime | None]:
    """The answer, and the moment of its first key where a person is typing."""
    click.echo("   > ", nl=False)
    if not sys.stdin.isatty():
        text = _line()
        click.echo("" if text is None else text.rstrip("\n"))
        return text, None
    try:
        import readline
    except ImportError:  # Windows: the line is read whole, and the pick-up goes unmeasured
        return _line(), None
    try:
        key = click.getchar()
    except EOFError:  # Ctrl-D
        click.echo()
        return None, None
    first = now()
    line, ended, _ = key.replace("\r", "\n").partition("\n")
    if ended:  # Enter alone, or a whole line typed ahead of the question
        click.echo(line)
        return line, first
    key = "".join(c for c in key if c.isprintable()) if not key.startswith("\x1b") else ""
    # The first key was read alone to time it; it is handed back so that it can still be deleted.
    readline.set_startup_hook(lambda: readline.insert_text(key))
    click.echo("\r", nl=False)
    try:
        return input("   > "), first
    except EOFError:
        return None, first
    finally:
        readline.set_startup_hook(None)


def _take(
    journal: Journal,
    piece: Piece,
    version: Version,
    session: Session,
    sitting: Sitting,
    exercise: Exercise,
    answer: GivenAnswer,
    judged: JudgedAnswer | None,
) -> JudgedAnswer | None:
    """Commit a judged answer, and show it beside the script."""
    from offbook.desk import record_answer
    from offbook.drill import side_by_side
    from offbook.words import as_written

    ratings = sitting.take(exercise, judged)
    sitting.memories.update(
        record_answer(journal, piece, version, session, exercise, answer, judged, ratings)
    )
    if judged is None:
        script = as_written(version.script, version.words, exercise.first, exercise.last)
        click.echo(_told(f"It goes: {script}"))
    elif judged.clean:
        slips = ", ".join(p.given for p in judged.places if p.kind == "typo")
        came = f" Came in after {answer.pick_up:.1f} s." if answer.pick_up is not None else ""
        click.echo(f"   Right.{f' (spelling: {slips})' if slips else ''}{came}")
    else:
        click.echo(f"   {judged.right} of {judged.words} words")
        click.echo(
            "\n".join(
                f"{_INDENT}{row}" for row in side_by_side(judged, line_width() - len(_INDENT)).splitlines()
            )
        )
    return judged
