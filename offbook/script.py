"""The script: what is on the page, and what of it is spoken.

A performer's script arrives as a file of some kind. This stage takes it as it is and says exactly
which characters are words to say and which were left out, and why. `load` gives a `Script`; every
later stage works on it and its offsets, and never looks at the file again.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from offbook.errors import ScriptError
from offbook.script_form import line_is_paragraph, verse_lines

Form = Literal["verse", "prose", "mixed"]


@dataclass(frozen=True, slots=True)
class Line:
    """One spoken verse line, or one spoken source line of prose.

    n: counted from 1 over the spoken lines of the whole file. start, end: code points of
    `Script.text`, end exclusive; stage directions inside the line are still between them.
    paragraph: counted from 1, a stanza or a paragraph (a blank line between). speaker: the part
    that says it, None where the script names no speakers. verse: its end is a verse line end.
    """

    n: int
    start: int
    end: int
    text: str
    paragraph: int
    speaker: str | None = None
    verse: bool = False


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A stretch of the text that is not spoken. reason: one short phrase for the performer."""

    start: int
    end: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class Cue:
    """Somebody else's line, kept as the cue for the performer's next line.

    before_line: `Line.n` of the performer's line that follows it, None after the last one.
    """

    start: int
    end: int
    text: str
    speaker: str
    before_line: int | None


@dataclass(frozen=True, slots=True)
class Script:
    """A script as read. text: the whole text, a byte-order mark removed, CRLF read as LF.

    For files that are not plain text (docx, odt, pdf) `text` is the text taken out of them.
    """

    title: str
    source: str
    text: str
    form: Form
    lines: tuple[Line, ...]
    left_out: tuple[LeftOut, ...] = ()
    cues: tuple[Cue, ...] = ()
    parts: tuple[str, ...] = ()
    part: str | None = None


def load(path: str | Path, part: str | None = None) -> Script:
    """Read the script at `path` ("-" for standard input) as the performer of `part` says it.

    Raises ScriptError where the file cannot be read, holds no words, or has no such part.
    """
    file = Path(path)
    try:
        text = file.read_text(encoding="utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except (OSError, UnicodeDecodeError) as e:
        raise ScriptError(f"cannot read {file}: {e}", "name a script file that exists and is text") from e
    return parse(text, title=file.stem, source=str(file))


def parse(text: str, title: str = "", source: str = "", part: str | None = None) -> Script:
    """`text` (plain text, LF line ends) as a `Script`."""
    blocks: list[list[tuple[int, str]]] = [[]]
    at = 0
    for raw in text.split("\n"):
        stripped = raw.strip()
        if any(c.isalnum() for c in stripped):
            blocks[-1].append((at + raw.index(stripped[0]), stripped))
        elif not stripped and blocks[-1]:
            blocks.append([])
        at += len(raw) + 1
    blocks = [b for b in blocks if b]
    if not blocks:
        raise ScriptError(f"{source or 'the text'} holds no words to say", "give a script with text in it")
    lines: list[Line] = []
    paragraph = 0
    shapes = verse_lines([[t for _, t in b] for b in blocks])
    for block, verse in zip(blocks, shapes, strict=True):
        apart = not verse and line_is_paragraph([t for _, t in block])
        paragraph += 1
        for k, (start, stripped) in enumerate(block):
            paragraph += apart and k > 0
            n = len(lines) + 1
            lines.append(Line(n, start, start + len(stripped), stripped, paragraph, verse=verse))
    form: Form = "mixed"
    if len({line.verse for line in lines}) == 1:
        form = "verse" if lines[0].verse else "prose"
    return Script(title=title, source=source, text=text, form=form, lines=tuple(lines))
