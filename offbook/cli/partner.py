"""`offbook partner PIECE`: run through a scene or a speech with somebody who gives cues and prompts."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING

import click

from offbook import late
from offbook.cli.common import console
from offbook.cli.screen import CONTEXT, performer_option, say, wrapped
from offbook.desk import (
    Front,
    Loading,
    NoVoice,
    ProgramVoice,
    RecordedVoice,
    Rehearsed,
    Voice,
    Wishes,
    cues_in_words,
    cut_lines,
    microphone_for,
    playing_command,
    rehearse,
    speaking_command,
)
from offbook.scratch import scratch

if TYPE_CHECKING:
    from offbook.partner import Act, PartnerLine

SILENCE = 4.0  # s; set by hand: shorter than a dry in the notes, longer than a pause inside a sentence


@click.command("partner", context_settings=CONTEXT)
@click.argument("piece")
@performer_option
@click.option(
    "--silence",
    type=click.FloatRange(min=0.0),
    default=SILENCE,
    show_default=True,
    metavar="SECONDS",
    help="Prompt you after a silence of so many seconds; 0: only when you ask.",
)
@click.option("--show-prompts", is_flag=True, help="Show the prompts instead of speaking them.")
@click.option("--say-cues", metavar="COMMAND", help='A program that speaks, such as "espeak-ng TEXT".')
@click.option("--cues", metavar="RECORDING", help="Play the other parts' lines as somebody recorded them.")
@click.option(
    "--play-with", metavar="COMMAND", help='With --cues: a program that plays, such as "aplay FILE".'
)
@click.option("--no-voice", is_flag=True, help="Show the other parts' lines instead of speaking them.")
@click.option("--record-with", metavar="COMMAND", help='A program that records, such as "arecord -q FILE".')
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option("--keep/--no-keep", default=None, help="Keep the recording in the journal too, or not.")
def partner_command(
    piece: str,
    performer: str | None,
    silence: float,
    show_prompts: bool,
    say_cues: str | None,
    cues: str | None,
    play_with: str | None,
    no_voice: bool,
    record_with: str | None,
    model: str | None,
    keep: bool | None,
) -> None:
    """Run a piece straight through with a partner.

    The partner reads the other parts and comes in when your line is done, follows your place in the text,
    and gives you the next word when you are stuck: after a silence, or when you say "line" or press Enter.
    It waits at a pause that you marked in the pencil file or that you always make. At the end you get the
    line notes, which are saved in the journal too.
    """
    loading = Loading(model)
    late.whole("offbook.desk")  # while the models are read, and before the threads of the rehearsal begin
    voice = _voice(say_cues, no_voice)
    screen = _Screen(speaks=not isinstance(voice, NoVoice))
    wishes = Wishes(silence or None, not show_prompts and not isinstance(voice, NoVoice), keep)
    with scratch() as folder:
        said = voice if cues is None else _recorded(Path(cues), play_with, voice, Path(folder))
        _tell(
            rehearse(
                piece, performer, lambda: microphone_for(record_with), said, loading, wishes, screen.front
            )
        )


def _recorded(
    recording: Path, play_with: str | None, other: Voice, folder: Path
) -> Callable[[tuple[PartnerLine, ...], Loading], Voice]:
    player = playing_command(play_with)

    def made(lines: tuple[PartnerLine, ...], loading: Loading) -> Voice:
        files = cut_lines(recording, lines, loading, folder)
        missing = [line for line in lines if line.n not in files]
        if missing:
            click.echo(wrapped(f"Not in the recording: {len(missing)} of {len(lines)} lines."))
        return RecordedVoice(files, player, other)

    return made


def _voice(say_cues: str | None, no_voice: bool) -> Voice:
    found = None if no_voice else speaking_command(say_cues)
    if found is None and not no_voice:
        say("No speaking program was found, so lines are shown. Debian has one: espeak-ng.", err=True)
    return NoVoice() if found is None else ProgramVoice(found)


class _Screen:
    """What the performer sees and types while it runs."""

    def __init__(self, speaks: bool) -> None:
        self._speaks = speaks
        self._asked, self._stopped = Event(), Event()
        self.front = Front(self._ready, self._told, lambda place: None, self._was_asked, self._stopped.is_set)

    def _ready(self) -> None:
        click.echo(wrapped("Say “line” or press Enter for your next word; q and Enter to stop."))
        if self._speaks:
            click.echo(wrapped("With headphones the partner's voice stays out of the recording."))
        click.echo()
        # A daemon: at the end nobody waits for another key.
        Thread(target=self._read, name="keys", daemon=True).start()

    def _read(self) -> None:
        for typed in iter(sys.stdin.readline, ""):
            if typed.strip().lower() in ("q", "quit"):
                self._stopped.set()
                return
            self._asked.set()

    def _was_asked(self) -> bool:
        asked = self._asked.is_set()
        self._asked.clear()
        return asked

    def _told(self, act: Act) -> None:
        from offbook.partner import Hold, Over, Say

        if isinstance(act, Say) and act.line is not None:
            click.echo(wrapped(f"{act.line.speaker}: {act.text}"))
        elif isinstance(act, Say):
            click.echo(f"   … {act.text}")
        elif isinstance(act, Hold):
            click.echo("   (your pause: say “line” or press Enter for the words)")
        elif isinstance(act, Over):
            click.echo("\nThat was the end.\n")


def _tell(done: Rehearsed) -> None:
    from offbook.cli.run_report import report, saved_line

    report(done.heard)
    out = console()
    for k, line in enumerate(told := cues_in_words(done.heard.pick_ups)):
        out.print(f"  {line}" if k else line, markup=False)
    if told:
        out.print()
    click.echo(saved_line(done.saved))
