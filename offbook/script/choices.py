"""What the performer says is spoken, or is not, where a script can be read in two ways.

The choices are beside the script in a small text file (`the_lamp.txt.spoken`), so that every command reads
the script alike:

    # what is spoken in the_lamp.txt, where it can be read in two ways
    spoken: Twelfth Night
    left out: She waits.

They win over all that offbook finds. A choice whose words are no longer in the script is passed over.
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
    """The texts that are spoken whatever they look like, and those that are left out."""

    spoken: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def choices_path(source: str | Path) -> Path | None:
    """The path of the choices for a script, whether or not the file exists; None for standard input."""
    path = Path(source)
    return None if str(source) in ("", "-") else path.with_name(path.name + SUFFIX)


def kept_beside(source: str | Path) -> Choices:
    """The choices made for a script. Raises ScriptError where the file cannot be read."""
    path = choices_path(source)
    if path is None or not os.path.lexists(path):
        return Choices()
    text = read_text(path, CHOICES, ScriptError)
    found = [m for line in text.splitlines() if (m := _LINE.fullmatch(line.strip()))]
    return Choices(
        tuple(m["text"] for m in found if m["kind"].lower() == "spoken"),
        tuple(m["text"] for m in found if m["kind"].lower() != "spoken"),
    )


def keep(source: str | Path, choices: Choices) -> Path:
    """Write the choices for a script beside it. Raises ScriptError where that cannot be done."""
    path = choices_path(source)
    if path is None:
        raise ScriptError(
            "a choice cannot be kept for pasted text",
            "save it to a file, or put what nobody says into [square brackets]",
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


def with_choice(choices: Choices, *, spoken: str = "", left_out: str = "") -> Choices:
    """The choices with one more; what it says takes the place of what was said of the same text before."""
    gone = {_folded(spoken), _folded(left_out)}
    said = tuple(t for t in choices.spoken if _folded(t) not in gone)
    unsaid = tuple(t for t in choices.left_out if _folded(t) not in gone)
    return Choices(said + ((spoken,) if spoken else ()), unsaid + ((left_out,) if left_out else ()))


def keep_choice(script: Script, *, spoken: str | None = None, left_out: str | None = None) -> Path:
    """Keep the performer's word that a text is spoken, or is not, beside the script; gives the file.

    A stretch that was left out, or is pointed out as doubtful, may be named by its first words. Raises
    ScriptError where the words are not in the script or the choice cannot be kept.
    """
    choices = kept_beside(script.source)
    if spoken is not None:
        choices = with_choice(choices, spoken=_meant(script, spoken, script.left_out))
    if left_out is not None:
        choices = with_choice(choices, left_out=_meant(script, left_out, script.perhaps))
    return keep(script.source, choices)


def _meant(script: Script, words: str, shown: Sequence[LeftOut]) -> str:
    """The whole text that is named by its first words, or else the words themselves."""
    wanted = _folded(words)
    for out in sorted(shown, key=lambda out: out.sure):
        if wanted and f"{_folded(out.text)} ".startswith(f"{wanted} "):
            return " ".join(out.text.split())
    if not word_places(script.text, words):
        raise ScriptError(
            f"{words!r} was not found in {script.source}", "give the words as `offbook read` shows them"
        )
    return " ".join(words.split())


def apply(sheet: Sheet, choices: Choices) -> None:
    """Put the choices on a page that is about to be read."""
    for text in choices.spoken:
        sheet.kept += word_places(sheet.page.text, text)
    for text in choices.left_out:
        found = word_places(sheet.page.text, text)
        whole = [
            (a, b)
            for a, b in found
            if any(r.start <= a and b >= r.end - 1 and a == r.start for r in sheet.rows)
        ]
        for start, end in whole or found[:1]:
            sheet.out(start, end, YOUR_CHOICE)


def word_places(text: str, wanted: str) -> list[tuple[int, int]]:
    """Where the words of `wanted` are in a text one after the other, whatever is between them."""
    words = _folded(wanted).split()
    if not words:
        return []
    pattern = r"(?<![^\W_])" + r"[\W_]+".join(map(re.escape, words)) + r"(?![^\W_])[.!?…\"”’)\]]*"
    return [m.span() for m in re.finditer(pattern, text, re.IGNORECASE)]


def _folded(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))
