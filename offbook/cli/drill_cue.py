"""Cues spoken by a program of your own: `offbook drill --say-cues "espeak-ng TEXT"`."""

from __future__ import annotations

import shlex
import subprocess
from collections.abc import Callable

from offbook.errors import OffbookError

LONGEST = 120.0  # seconds a partner may speak; a program that hangs must not hold up the sitting

Voice = Callable[[str], None]  # speaks a text and comes back when it is over


def voice_for(command: str) -> Voice:
    """A voice that speaks through `command`, in which TEXT becomes the cue. Raises OffbookError."""
    try:
        words = shlex.split(command)
    except ValueError as e:
        raise OffbookError(
            f"the speaking program cannot be read: {e}", 'write it as in "espeak-ng TEXT"'
        ) from e
    if not any("TEXT" in w for w in words[1:]):
        raise OffbookError(
            f"the speaking program has no TEXT in it: {command}",
            'write TEXT in the place of the words to be spoken, as in "espeak-ng TEXT"',
        )

    def speak(text: str) -> None:
        safe = text.lstrip("-")  # a cue that begins with a dash is no option of the program
        call = [words[0], *(w.replace("TEXT", safe) for w in words[1:])]
        try:
            done = subprocess.run(
                call, stdin=subprocess.DEVNULL, capture_output=True, timeout=LONGEST, check=False
            )
        except OSError as e:
            raise OffbookError(
                f"cannot start {call[0]}: {e.strerror}", "name a speaking program that is installed"
            ) from e
        except subprocess.TimeoutExpired as e:
            raise OffbookError(
                f"{call[0]} was still speaking after {LONGEST:g} seconds", "try it by itself on a short text"
            ) from e
        if done.returncode:
            told = done.stderr.decode(errors="replace").strip().splitlines()
            raise OffbookError(
                f"{call[0]} failed: {told[-1] if told else f'exit status {done.returncode}'}",
                "try it by itself on a short text; what you answered is kept",
            )

    return speak
