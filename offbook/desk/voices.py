"""Voices for the partner: a program that speaks, or none.

`begin` returns at once, and while the performer is heard, `over` says whether the voice has finished.
"""

from __future__ import annotations

import shlex
import shutil
import subprocess
import time
from collections.abc import Callable
from typing import Protocol

from offbook.errors import OffbookError

# Programs that speak; where none is named, the first one that is installed is taken. All are free software
# except `say`, which comes with macOS.
_SPEAKERS = ("espeak-ng TEXT", "espeak TEXT", "spd-say -w TEXT", "say TEXT")
_READING = 2.5  # words a second, 150 a minute, at which somebody reads a line that is only shown; set by hand


class Voice(Protocol):
    """Says what the partner has to say."""

    def begin(self, text: str, line: int | None) -> None:
        """Begin to say `text`. line: the number of the cue in the scene, None for a prompt."""
        ...

    def over(self) -> bool:
        """Whether the voice has finished. Raises OffbookError where it could not speak."""
        ...

    def stop(self) -> None:
        """Stop in the middle."""
        ...


def speaking_command(command: str | None) -> str | None:
    """The command that speaks: `command`, or one that is installed, or None. Raises OffbookError."""
    if command is None:
        return next((c for c in _SPEAKERS if shutil.which(c.split()[0])), None)
    if not any("TEXT" in w for w in split_command(command, "espeak-ng TEXT")[1:]):
        raise OffbookError(
            f"the speaking program has no TEXT in it: {command}",
            'write TEXT where the words to be spoken belong, as in "espeak-ng TEXT"',
        )
    return command


def split_command(command: str, example: str) -> list[str]:
    """The words of a command. Raises OffbookError where a quotation mark is left open."""
    try:
        return shlex.split(command)
    except ValueError as e:
        raise OffbookError(f"the command cannot be read: {e}", f'write it as in "{example}"') from e


class ProgramVoice:
    """A program that speaks. command: as `speaking_command` returns it."""

    def __init__(self, command: str) -> None:
        self._words = shlex.split(command)
        self._child: subprocess.Popen[bytes] | None = None

    def begin(self, text: str, line: int | None) -> None:
        """See `Voice`."""
        safe = text.lstrip("-")  # the program would take a cue that begins with a dash for an option
        self.start("TEXT", safe)

    def start(self, word: str, by: str) -> None:
        """Start the program, with `by` in the place of `word` in its command."""
        call = [self._words[0], *(w.replace(word, by) for w in self._words[1:])]
        self.stop()
        try:
            self._child = subprocess.Popen(
                call, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
            )
        except OSError as e:
            raise OffbookError(
                f"cannot start {call[0]}: {e.strerror}", "name a program that is installed"
            ) from e

    def over(self) -> bool:
        """See `Voice`."""
        if self._child is None:
            return True
        status = self._child.poll()
        if status is None:
            return False
        child, self._child = self._child, None
        if status:
            told = child.stderr.read().decode(errors="replace").strip().splitlines() if child.stderr else []
            raise OffbookError(
                f"{self._words[0]} failed: {told[-1] if told else f'exit status {status}'}",
                "try it by itself on a short text; what you said is kept",
            )
        return True

    def stop(self) -> None:
        """See `Voice`."""
        if self._child is not None and self._child.poll() is None:
            self._child.terminate()
            self._child.wait()
        self._child = None


class NoVoice:
    """No voice: a line is over as soon as somebody could have read it on the screen. clock: gives seconds."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._until = clock, 0.0

    def begin(self, text: str, line: int | None) -> None:
        """See `Voice`."""
        self._until = self._clock() + (len(text.split()) / _READING if line is not None else 0.0)

    def over(self) -> bool:
        """See `Voice`."""
        return self._clock() >= self._until

    def stop(self) -> None:
        """See `Voice`."""
        self._until = 0.0
