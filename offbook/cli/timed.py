"""The options about time that several commands share: a rate, earlier readings, a limit, a form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from offbook import script as scripts
from offbook import timing, words
from offbook.errors import OffbookError
from offbook.typed_times import seconds_in

F = TypeVar("F", bound=Callable[..., Any])


class RateError(OffbookError):
    """The pace that was asked for on the command line cannot be used."""


_PERFORMER = "offbook.performer"


def _note_performer(context: click.Context, parameter: click.Parameter, value: str | None) -> None:
    context.meta[_PERFORMER] = value


def pace_options(command: F) -> F:
    """--rate, --pace-from and --performer, as `rate` and `pace_from`; `pace_for` finds the performer."""
    command = click.option(
        "--performer",
        metavar="NAME",
        expose_value=False,
        callback=_note_performer,
        help="Use this performer's own pace, from their timed readings and run-throughs in the journal.",
    )(command)
    command = click.option(
        "--pace-from",
        multiple=True,
        metavar="TEXT=SECONDS",
        help="An earlier reading of yours: a text and how long it took. Can be given several times.",
    )(command)
    return click.option(
        "--rate",
        metavar="WPM",
        help=f"Words a minute, pauses counted; or a usual pace: {', '.join(timing.PRESETS)}.",
    )(command)


def form_option(command: F) -> F:
    """--form, as `form`."""
    return click.option(
        "--form", type=click.Choice(["verse", "prose"]), help="Take the script as verse or as prose."
    )(command)


def tempo_for(rate: str | None) -> timing.Tempo | None:
    """The kind of speech that `--rate` names, None where it names none."""
    for name in timing.PRESETS:
        if rate == name:
            return name
    return None


def pace_for(tempo: timing.Tempo, rate: str | None, pace_from: Sequence[str]) -> timing.Pace:
    """The pace that the options ask for; the preset of `tempo` where they ask for none."""
    context = click.get_current_context(silent=True)
    performer = None if context is None else context.meta.get(_PERFORMER)
    if rate is not None and (pace_from or performer is not None):
        other = "--pace-from" if pace_from else "--performer"
        raise RateError(f"--rate and {other} both set the pace", "give one of them")
    if rate is not None and tempo_for(rate) is None:
        try:
            return timing.at_rate(float(rate), tempo)
        except ValueError as e:
            raise RateError(
                f"{rate!r} is not a rate",
                f"give words a minute, such as 130, or one of {', '.join(timing.PRESETS)}",
            ) from e
    readings = [_earlier(each) for each in pace_from]
    if performer is not None:
        from offbook.desk import readings_of

        readings = readings_of(performer) + readings
    return timing.calibrate(readings, tempo)


def _earlier(pair: str) -> timing.EarlierReading:
    path, sign, value = pair.rpartition("=")
    if not sign or not path:
        raise RateError(
            f"{pair!r} names no earlier reading",
            "write the text and its time, such as --pace-from sonnet.txt=52.4",
        )
    seconds = seconds_in(value, "time of an earlier reading")
    script = scripts.load_script(path)
    return timing.reading_of(script, words.words_of(script), seconds)
