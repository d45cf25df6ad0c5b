"""What the performer says is spoken, or is not, if a script can be read in two ways.

The choices are saved beside the script in a small text file (`the_lamp.txt.spoken`), so that every command
reads the script in the same way:

    # what is spoken in the_lamp.txt, where it can be read in two ways
    spoken: Twelfth Night
    left out: She waits.

They overrule what offbook finds. A choice whose words are no longer in the script is ignored.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.errors import ScriptError
from offbook.intake import CHOICES, read_text
from offbook.outgoing import write_whole
from offbook.script.sheet import Sheet

if TYPE_CHECKING:
    from offbook.script.reading import LeftOut, Script

SUFFIX = ".spoken"
YOUR_CHOICE = "your choice"
_LINE = re.compile(r"(?P<kind>spoken|left out)\s*:\s*(?P<text>\S.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Choices:
    """The texts that the performer says are spoken, and those that the performer says are not."""

    spoken: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def choices_path(source: str | Path) -> Path | None:
    """Where the choices for a script are saved, whether or not the file exists; None for standard input."""
    path = Path(source)
    return None if str(source) in ("", "-") else path.with_name(path.name + SUFFIX)


def read_choices(source: str | Path) -> Choices:
    """The choices saved beside a script, if any. Raises ScriptError if the file cannot be read."""
    path = choices_path(source)
    if path is None or not os.path.lexists(path):
        return Choices()
    text = read_text(path, CHOICES, ScriptError)
    found = [m for line in text.splitlines() if (m := _LINE.fullmatch(line.strip()))]
    return Choices(
        tuple(m["text"] for m in found if m["kind"].lower() == "spoken"),
        tuple(m["text"] for m in found if m["kind"].lower() != "spoken"),
    )


def write_choices(source: str | Path, choices: Choices) -> Path:
    """Save the choices beside the script, and return the file. Raises ScriptError if that cannot be done."""
    path = choices_path(source)
    if path is None:
        raise ScriptError(
            "a choice cannot be saved for pasted text",
            "save the text to a file, or put what nobody says into [square brackets]",
        )
    rows = [f"# what is spoken in {Path(source).name}, where it can be read in two ways"]
    rows += [f"spoken: {text}" for text in choices.spoken]
    rows += [f"left out: {text}" for text in choices.left_out]
    try:
        write_whole(path, "\n".join(rows) + "\n")
    except OSError as e:
        raise ScriptError(
            f"cannot write {path}: {e.strerror}", "copy the script into a folder you can write to"
        ) from e
    return path


def add_choice(choices: Choices, *, spoken: str = "", left_out: str = "") -> Choices:
    """The choices with one added. It replaces an earlier choice about the same text."""
    gone = {_words_only(spoken), _words_only(left_out)}
    said = tuple(t for t in choices.spoken if _words_only(t) not in gone)
    unsaid = tuple(t for t in choices.left_out if _words_only(t) not in gone)
    return Choices(said + ((spoken,) if spoken else ()), unsaid + ((left_out,) if left_out else ()))


def keep_choice(script: Script, *, spoken: str | None = None, left_out: str | None = None) -> Path:
    """Save beside the script that a text is spoken, or is not, and return the file.

    A stretch that was left out, or that is shown as doubtful, may be given by its first words. Raises
    ScriptError if the words are not in the script or the choice cannot be saved.
    """
    choices = read_choices(script.source)
    if spoken is not None:
        choices = add_choice(choices, spoken=_whole_text(script, spoken, script.left_out))
    if left_out is not None:
        choices = add_choice(choices, left_out=_whole_text(script, left_out, script.perhaps))
    return write_choices(script.source, choices)


def _whole_text(script: Script, words: str, shown: Sequence[LeftOut]) -> str:
    """The stretch among `shown` that begins with the words, or else the words themselves."""
    wanted = _words_only(words)
    for out in sorted(shown, key=lambda out: out.sure):
        if wanted and f"{_words_only(out.text)} ".startswith(f"{wanted} "):
            return " ".join(out.text.split())
    if not word_places(script.text, words):
        raise ScriptError(
            f"{words!r} was not found in {script.source}", "give the words as `offbook read` shows them"
        )
    return " ".join(words.split())


def apply_choices(sheet: Sheet, choices: Choices) -> None:
    """Mark the choices on a page, before the finders look at it."""
    for text in choices.spoken:
        sheet.kept += word_places(sheet.page.text, text)
    for text in choices.left_out:
        found = word_places(sheet.page.text, text)
        whole = [(a, b) for a, b in found if any(a == r.start and b >= r.end - 1 for r in sheet.rows)]
        for start, end in whole or found[:1]:
            sheet.leave_out(start, end, YOUR_CHOICE)


def word_places(text: str, wanted: str) -> list[tuple[int, int]]:
    """Where (start, end) the words of `wanted` follow one another, whatever stops are between them."""
    words = _words_only(wanted).split()
    if not words:
        return []
    pattern = r"(?<![^\W_])" + r"[\W_]+".join(map(re.escape, words)) + r"(?![^\W_])[.!?…\"”’)\]]*"
    return [m.span() for m in re.finditer(pattern, text, re.IGNORECASE)]


def _words_only(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))
