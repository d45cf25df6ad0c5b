"""`offbook mark SCRIPT`: thought shifts, scansion and running time."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import click

from offbook import markup, pencil, thoughts, timing, words
from offbook.cli.common import print_json
from offbook.cli.screen import say
from offbook.cli.selecting import selection_options
from offbook.cli.timed import form_option, pace_for, pace_options, tempo_for
from offbook.desk import speech
from offbook.markup import MarkedScript, Row
from offbook.outgoing import write_named
from offbook.script import Selection
from offbook.typed_times import seconds_in

STYLES = {"bar": "bold", "stress": "cyan", "clock": "dim", "note": "italic", "cue": "dim", "head": "bold",
          "warning": "bold"}  # fmt: skip


@click.command("mark", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("path", metavar="SCRIPT")
@selection_options
@form_option
@pace_options
@click.option("--limit", metavar="M:SS", help="The time limit.")
@click.option(
    "--metre", metavar="NAME", help="Scan the verse in this metre: blank verse, trochaic tetrameter."
)
@click.option(
    "--pencil", "start_pencil", is_flag=True, help="Write a first pencil file beside SCRIPT to edit."
)
@click.option("--phrases", is_flag=True, help="Show the finer edges inside a thought too.")
@click.option(
    "--feet",
    is_flag=True,
    help="A teacher's sheet: feet, line numbers and rhymes, without the shifts.",
)
@click.option("--notes", "every_note", is_flag=True, help="Show every note, not the best one of each line.")
@click.option(
    "--html", "sheet", type=click.Path(dir_okay=False), metavar="FILE", help="Write a page to print."
)
@click.option("--json", "json_", is_flag=True, help="Print the marks as JSON.")
def mark_command(
    path: str,
    wanted: Selection,
    form: str | None,
    rate: str | None,
    pace_from: tuple[str, ...],
    limit: str | None,
    metre: str | None,
    start_pencil: bool,
    phrases: bool,
    feet: bool,
    every_note: bool,
    sheet: str | None,
    json_: bool,
) -> None:
    """Mark where the thought shifts, scan the verse and estimate the running time.

    Your own marks in SCRIPT.pencil win over every computed one.
    """
    most = seconds_in(limit, "limit") if limit is not None else None
    script = markup.as_form(speech(path, wanted), form)
    spoken = words.words_of(script)
    tempo = tempo_for(rate) or timing.tempo_of(script, spoken)
    pace = pace_for(tempo, rate, pace_from)
    own = thoughts.pencil_beside(script, spoken)
    marked = markup.mark(script, spoken, own, pace, tempo, metre)
    shown = marked if phrases else markup.without_phrases(marked)
    if start_pencil:
        _write_pencil(shown)
        return
    if sheet is not None:
        page = markup.teaching_sheet(marked) if feet else markup.sheet(shown, most, every_note)
        write_named(sheet, page)
        say(f"Wrote {sheet}: open it in a browser and print it on A4.", err=True)
    if json_:
        print_json(markup.marked_as_json(marked, most))
    elif sheet is None:
        _show(
            lambda width: (
                markup.teaching_rows(marked, width) if feet else _page(shown, most, width, every_note)
            )
        )


def _write_pencil(marked: MarkedScript) -> None:
    path = pencil.pencil_path(marked.script)
    if path is None:
        raise pencil.PencilError(
            "a script from standard input has no file to put the pencil file beside",
            "save it to a file and mark that",
        )
    marks = [(s.before_word, s.grade, s.reason) for s in marked.shifts]
    pencil.write_new(path, pencil.new_pencil_text(marked.script.title, marked.words, marks))
    say(f"Wrote {path} with {len(marks)} marks. Edit it; `offbook mark` will follow it.")


def _show(page: Callable[[int], Iterator[Row]]) -> None:
    from rich.text import Text

    from offbook.cli.common import console, drawing_width

    out = console()
    for row in page(drawing_width(out)):
        text = Text()
        for piece in row:
            text.append(piece.text, style=STYLES.get(piece.kind, ""))
        text.rstrip()
        out.print(text, soft_wrap=True)


def _page(marked: MarkedScript, limit: float | None, width: int, every_note: bool) -> Iterator[Row]:
    yield from markup.head(marked, limit, width)
    yield ()
    yield from markup.marked_rows(marked, width, every_note)
    yield ()
    yield from markup.foot(marked, width)
