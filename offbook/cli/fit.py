"""`offbook fit SCRIPT --limit M:SS`: does the speech keep to its limit, and what could go."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from textwrap import wrap
from typing import Any

import click

from offbook import fit as fitting
from offbook import markup, thoughts, timing, verse, words
from offbook.cli.common import print_json
from offbook.cli.screen import say
from offbook.cli.selecting import selection_options
from offbook.cli.timed import form_option, pace_for, pace_options, tempo_for
from offbook.desk import speech
from offbook.errors import OffbookError
from offbook.fit import Fitting, Pins, Proposal
from offbook.markup import NARROWEST
from offbook.outgoing import write_named
from offbook.phrasing import CHANCE_DECIMALS, PERCENT, clock_time
from offbook.script import Script, Selection
from offbook.typed_times import seconds_in
from offbook.words import Word, where

LONGEST_SHOWN = 3000  # words, about 20 minutes: more than anybody reads in a terminal; set by hand
PASSAGE_END = 14  # words shown of each end of a long cut; set by hand
_WHOLE = 3 * PASSAGE_END  # words of a cut that is shown whole: a shorter gap would not be worth its mark
_INDENT = "    "  # of the text that remains
# Numbers up to a hundred whose English names begin with a vowel: eight, eleven, eighteen, and all from eighty
# on.
_SAID_WITH_AN = (8, 11, 18, *range(80, 90))


class FitError(OffbookError):
    """The cut script cannot be written."""


@click.command("fit", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("path", metavar="SCRIPT")
@click.option("--limit", required=True, metavar="M:SS", help="The time limit.")
@selection_options
@form_option
@pace_options
@click.option(
    "--keep", multiple=True, metavar="TEXT", help="A passage that stays: its words, or numbers as 5-8."
)
@click.option("--cut", multiple=True, metavar="TEXT", help="A passage that goes: words, or numbers as 5-8.")
@click.option("--ends-too", is_flag=True, help="The opening and the last thought may go too.")
@click.option(
    "--write", "target", type=click.Path(dir_okay=False), metavar="FILE", help="Write the cut script."
)
@click.option(
    "--proposal", type=int, default=1, show_default=True, metavar="N", help="The proposal to write."
)
@click.option("--json", "json_", is_flag=True, help="Print the answer as JSON.")
def fit_command(
    path: str,
    limit: str,
    wanted: Selection,
    form: str | None,
    rate: str | None,
    pace_from: tuple[str, ...],
    keep: tuple[str, ...],
    cut: tuple[str, ...],
    ends_too: bool,
    target: str | None,
    proposal: int,
    json_: bool,
) -> None:
    """Say whether the speech keeps to a limit, and propose cuts of whole thoughts."""
    most = seconds_in(limit, "limit")
    script = markup.as_form(speech(path, wanted), form)
    spoken = words.words_of(script)
    pace = pace_for(tempo_for(rate) or timing.tempo_of(script, spoken), rate, pace_from)
    pins = Pins(
        tuple(fitting.passage(script, spoken, each) for each in keep),
        tuple(fitting.passage(script, spoken, each) for each in cut),
        ends_too,
    )
    own, metre = markup.with_metre(thoughts.pencil_beside(script, spoken))
    shifts = thoughts.marks_of(script, spoken, own)
    versification = verse.scan(script, spoken, own.fixes, metre)
    found = fitting.fit(script, spoken, shifts, versification, pace, most, pins)
    if target is not None:
        _write(target, path, script, spoken, fitting.chosen_proposal(found, proposal))
    if json_:
        print_json(_as_json(script, spoken, found))
    else:
        _show(script, spoken, found)


def _write(target: str, source: str, script: Script, spoken: tuple[Word, ...], what: Proposal) -> None:
    file = Path(target)
    if source != "-" and file.exists() and Path(source).exists() and file.samefile(source):
        raise FitError(f"{target} is the script itself", "write the cut script to another file")
    write_named(file, fitting.without(script, spoken, what.cuts), new=True)
    say(f"Wrote {target}: {clock_time(what.time.seconds)}, {clock_time(what.saved)} shorter.", err=True)


def _as_json(script: Script, spoken: tuple[Word, ...], found: Fitting) -> dict[str, Any]:
    return {
        "title": script.title,
        "limit": found.limit,
        "fits": found.fits,
        "over_by": round(found.over_by, 2),
        "chance": round(found.chance, CHANCE_DECIMALS),
        "time": _time(found.time),
        "proposals": [_proposal(script, spoken, p) for p in found.proposals],
        "shortest": _proposal(script, spoken, found.shortest) if found.shortest is not None else None,
    }


def _time(t: timing.RunningTime) -> dict[str, Any]:
    figures = {"seconds": t.seconds, "low": t.low, "high": t.high, "voiced": t.voiced, "pauses": t.pauses}
    return {k: round(v, 2) for k, v in figures.items()} | {
        "rate_wpm": round(t.rate_wpm, 1),
        "pace": t.pace.name,
    }


def _proposal(script: Script, spoken: tuple[Word, ...], p: Proposal) -> dict[str, Any]:
    return {
        "cuts": [
            {
                "words": [c.first, c.after - 1],
                "lines": [spoken[c.first].line, spoken[c.after - 1].line],
                "text": script.text[spoken[c.first].start : spoken[c.after - 1].end],
                "seconds": round(c.seconds, 2),
            }
            for c in p.cuts
        ],
        "saved": round(p.saved, 2),
        "time": _time(p.time),
        "chance": round(p.chance, CHANCE_DECIMALS),
        "check": list(p.check),
        "goes": list(p.goes),
        "text": fitting.spoken(spoken, script, p.cuts),
    }


def _show(script: Script, spoken: tuple[Word, ...], found: Fitting) -> None:
    from offbook.cli.common import console, drawing_width

    out = console()
    for row in _page(script, spoken, found, max(drawing_width(out), NARROWEST)):
        out.print(row, markup=False, soft_wrap=True)


def _page(script: Script, spoken: tuple[Word, ...], found: Fitting, width: int) -> Iterator[str]:
    t, over = found.time, found.over_by
    fits = f"fits with {clock_time(-over)} to spare" if over <= 0 else f"is {clock_time(over)} over"
    said = (
        f"{script.title or 'The speech'} runs {clock_time(t.seconds)} "
        f"(likely {clock_time(t.low)} to {clock_time(t.high)}, at {t.pace.name}) "
        f"and {fits} against {clock_time(found.limit)}: "
        f"{_in_hundred(found.chance)} chance of ending in time."
    )
    yield from wrap(said, width)
    if found.shortest is not None:
        yield ""
        yield from wrap(
            f"No cut of whole thoughts ends within {clock_time(found.limit)} in four readings of five. "
            "The most that may go is shown below; --ends-too lets the opening and the last thought go, "
            "--cut names a passage that goes whatever it breaks.",
            width,
        )
        yield ""
        yield from _proposal_rows(script, spoken, found.shortest, None, width)
    elif not found.proposals and found.chance < fitting.LIKELY:
        yield ""
        yield from wrap(
            "There is no whole thought that may go: --ends-too lets the opening and the last thought go, "
            "--cut names a passage that goes whatever it breaks.",
            width,
        )
    for k, p in enumerate(found.proposals, 1):
        yield ""
        yield from _proposal_rows(script, spoken, p, k, width)


def _proposal_rows(
    script: Script, spoken: tuple[Word, ...], p: Proposal, k: int | None, width: int
) -> Iterator[str]:
    """A proposal in rows. k: its number from 1, None for the most that may go."""
    name = "The most that may go" if k is None else f"Proposal {k}"
    yield from wrap(
        f"{name}: {_cuts(len(p.cuts))}, {p.saved:.0f} s saved, then {clock_time(p.time.seconds)}, "
        f"{_in_hundred(p.chance)} chance of ending in time.",
        width,
    )
    for c in p.cuts:
        place = where(script, spoken, c.first, c.after - 1)
        text = _in_short(script.text[spoken[c.first].start : spoken[c.after - 1].end].split())
        yield from wrap(
            f"Cut {place}, {c.seconds:.0f} s: {text}",
            width - 2,
            initial_indent="  ",
            subsequent_indent="    ",
        )
    for what in p.goes:
        yield from wrap(f"Gives up: {what}", width - 2, initial_indent="  ", subsequent_indent="    ")
    for note in p.check:
        yield from wrap(f"Check: {note}.", width - 2, initial_indent="  ", subsequent_indent="    ")
    if len(spoken) > LONGEST_SHOWN:
        yield f"  Too long to show here: --write FILE --proposal {k or 1} writes it, --json prints it."
        return
    yield "  It then reads:"
    for row in fitting.spoken(spoken, script, p.cuts).splitlines():
        yield from wrap(
            row, width - len(_INDENT), initial_indent=_INDENT, subsequent_indent=f"{_INDENT}  "
        ) or [""]


def _in_short(said: list[str]) -> str:
    """A passage by its two ends, where it is long."""
    whole = len(said) <= _WHOLE
    return " ".join(said if whole else [*said[:PASSAGE_END], "…", *said[-PASSAGE_END:]])


def _cuts(n: int) -> str:
    return "one cut" if n == 1 else f"{n} cuts"


def _in_hundred(chance: float) -> str:
    share = min(PERCENT - 1, max(1, round(PERCENT * chance)))
    return f"{'an' if share in _SAID_WITH_AN else 'a'} {share} in 100"
