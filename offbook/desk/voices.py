"""Voices for the partner: a speaking program, or none.

A voice begins to speak and comes back at once; whether it is over is asked while the performer is heard.
"""

from __future__ import annotations

import shlex
import shutil
import subprocess
import time
from collections.abc import Callable
from typing import Protocol

from offbook.errors import OffbookError

# Speaking programs that are asked for where none is named, the first that is installed. All are free software
# but `say`, which comes with macOS.
_SPEAKERS = ("espeak-ng TEXT", "espeak TEXT", "spd-say -w TEXT", "say TEXT")
_READING = 2.5  # words a second in which a line that is only shown is read: 150 words a minute


class Voice(Protocol):
    """Says what the partner has to say."""

    def begin(self, text: str, line: int | None) -> None:
        """Begin to say `text`. line: the number of the cue in the scene, None for a prompt."""
        ...

    def over(self) -> bool:
        """Whether nothing is being said any more. Raises OffbookError where it could not be said."""
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
            'write TEXT in the place of the words to be spoken, as in "espeak-ng TEXT"',
        )
    return command


def split_command(command: str, example: str) -> list[str]:
    """The words of a command. Raises OffbookError where a quotation mark is left open."""
    try:
        return shlex.split(command)
    except ValueError as e:
        raise OffbookError(f"the command cannot be read: {e}", f'write it as in "{example}"') from e


class ProgramVoice:
    """Speaks through a program. command: as `speaking_command` gives it."""

    def __init__(self, command: str) -> None:
        self._words = shlex.split(command)
        self._child: subprocess.Popen[bytes] | None = None

    def begin(self, text: str, line: int | None) -> None:
        """As `Voice` says."""
        safe = text.lstrip("-")  # a cue that begins with a dash is no option of the program
        self.start("TEXT", safe)

    def start(self, word: str, by: str) -> None:
        """Start the program with `word` in its command replaced."""
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
        """As `Voice` says."""
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
        """As `Voice` says."""
        if self._child is not None and self._child.poll() is None:
            self._child.terminate()
            self._child.wait()
        self._child = None


class NoVoice:
    """Nothing speaks: a line is over when it has been read on the screen. clock: seconds."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._until = clock, 0.0

    def begin(self, text: str, line: int | None) -> None:
        """As `Voice` says."""
        self._until = self._clock() + (len(text.split()) / _READING if line is not None else 0.0)

    def over(self) -> bool:
        """As `Voice` says."""
        return self._clock() >= self._until

    def stop(self) -> None:
        """As `Voice` says."""
        self._until = 0.0
