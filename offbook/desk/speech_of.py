"""The speech that one performer says, from a script file, pasted text, or a piece in the journal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.errors import JournalError, ScriptError

if TYPE_CHECKING:
    from offbook.script import Script, Selection

EVERY_PART = "all"  # the name that stands for all the parts of a scene together


def speech(path: str, wanted: Selection | str | None = None, performer: str | None = None) -> Script:
    """What one performer says in the script at `path`, or in the piece with that name.

    wanted: which part and which stretch of it; a text alone is the name of a part, or `EVERY_PART` for all of
    them as one speech; performer: whose piece it is. Raises ScriptError as `script.load_script` does, and
    where several parts speak and none was chosen.
    """
    from offbook.script import Selection

    wanted = wanted if isinstance(wanted, Selection) else Selection(part=wanted)
    script = excerpt_of(path, wanted, performer)
    if wanted.part is None and script.part is None and len(script.parts) > 1:
        raise several_parts(script)
    return script


def excerpt_of(path: str, wanted: Selection, performer: str | None = None) -> Script:
    """The same as `speech`, but it may have several parts. Raises ScriptError."""
    from offbook import script as scripts
    from offbook.words import words_of

    whole = script_of(path, None if _is_every(wanted.part) else wanted.part, performer)
    around = scripts.excerpt(whole, replace(wanted, first=None, last=None))
    if wanted.first is None and wanted.last is None:
        return around
    found = scripts.excerpt(around, scripts.Selection(first=wanted.first, last=wanted.last), _numbered)
    start = found.lines[0].start
    sentence = next(w.sentence for w in words_of(around) if w.end > start)
    return replace(found, first_sentence=sentence)


def _numbered(script: Script, number: str) -> tuple[int, int] | None:
    """Where the verse line, or the sentence of prose, with this number begins and ends."""
    from offbook.words import at_number, words_of

    words = words_of(script)
    there = at_number(script, words, number)
    return None if there is None else (words[there.first].start, words[there.last].end)


def speech_again(script: Script, part: str) -> Script:
    """Another part, or all parts, of a script that was read before; from its file, or else from its text."""
    from offbook import script as scripts

    chosen = None if _is_every(part) else part
    if script.source and Path(script.source).exists():
        return scripts.load_script(script.source, chosen)
    return scripts.parse_script(script.text, script.title, script.source, chosen)


def several_parts(script: Script) -> ScriptError:
    """The error for a script in which several parts speak and none was chosen."""
    from offbook.script import part_names

    example = f'"{script.parts[0]}"' if " " in script.parts[0] else script.parts[0]
    return ScriptError(
        f"{script.source} has several parts: {part_names(script.parts)}",
        f"choose yours, for instance --part {example}; --part {EVERY_PART} takes them all as one speech",
    )


def _is_every(part: str | None) -> bool:
    return part is not None and part.strip().casefold() == EVERY_PART


def script_of(path: str, part: str | None = None, performer: str | None = None) -> Script:
    """The script in the file `path` ("-": standard input); without such a file, that of the piece `path`."""
    from offbook import script as scripts

    if path == "-" or Path(path).exists() or not is_piece(path, performer):
        return scripts.load_script(path, part)
    script = _of_piece(path, performer)
    if part is None or (script.part is not None and script.part.casefold() == part.casefold()):
        return script
    return speech_again(script, part)


def is_piece(name: str, performer: str | None = None) -> bool:
    """Whether the journal has a piece with this name. A journal is not made for asking."""
    from offbook.desk.finding import chosen_piece
    from offbook.desk.journal_open import opened_journal
    from offbook.journal import has_journal

    if not has_journal():
        return False
    with opened_journal() as journal, journal.reading() as conn:
        try:
            chosen_piece(conn, name, performer)
        except JournalError as e:
            return "several" in e.what
    return True


def _of_piece(name: str, performer: str | None) -> Script:
    from offbook.desk.finding import chosen_piece, draft_of
    from offbook.desk.journal_open import opened_journal

    with opened_journal() as journal, journal.reading() as conn:
        return draft_of(conn, chosen_piece(conn, name, performer)).script
