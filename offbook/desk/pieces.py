"""Pieces: a script taken into the journal, divided into the thoughts it is learnt in, and its new drafts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from offbook.desk.finding import chosen_performer, chosen_piece, day_in, draft_of
from offbook.desk.speech_of import EVERY_PART, excerpt_of, speech, speech_again
from offbook.phrasing import CHANCE_DECIMALS

if TYPE_CHECKING:
    from datetime import date, datetime

    from offbook.journal import Connection, Journal
    from offbook.records import Memory, Performer, Piece, Unit, Version
    from offbook.script import Script, Selection
    from offbook.words import Word

AskPart = Callable[[Sequence[str]], str]  # takes the names of the parts, returns the one to learn


@dataclass(frozen=True, slots=True)
class Added:
    """A piece that was added, with its first draft. today: the performer's local day."""

    piece: Piece
    version: Version
    today: date


@dataclass(frozen=True, slots=True)
class Revised:
    """A new draft of a piece.

    before, stayed: how many words the old draft had, and how many of them are still there; thoughts, changed,
    new: how many thoughts the new draft has, and how many of them were changed or are new; widened: until now
    only a stretch of the script was learnt, and now all of it is.
    """

    piece: Piece
    version: Version
    before: int
    stayed: int
    thoughts: int
    changed: int
    new: int
    widened: bool = False


def words_and_thoughts(script: Script) -> tuple[tuple[Word, ...], tuple[Unit, ...]]:
    """The words and the thoughts of a script."""
    from offbook.drill import units_of
    from offbook.thoughts import marks_of
    from offbook.words import words_of

    words = words_of(script)
    return words, units_of(script, words, marks_of(script, words))


def owner_named(journal: Journal, conn: Connection, name: str | None) -> Performer:
    """The performer with this name; for None the only one there is, see `performers_or_me`.

    Raises JournalError.
    """
    if name is None:
        performers_or_me(journal, conn)
    return chosen_performer(conn, name)


def performers_or_me(journal: Journal, conn: Connection) -> tuple[Performer, ...]:
    """All performers; if there are none yet, one called Me is added, in the time zone of this machine."""
    from offbook.journal import add_performer, performers
    from offbook.moment import system_zone

    return performers(conn) or (add_performer(journal, conn, "Me", system_zone()),)


def add_from_file(
    journal: Journal,
    path: str,
    *,
    name: str | None = None,
    performer: str | None = None,
    wanted: Selection | None = None,
    ask_part: AskPart | None = None,
    limit: float | None = None,
    due: str | None = None,
    keep: bool = True,
) -> Added:
    """Take the script at `path` ("-": standard input) into the journal as a new piece. Raises OffbookError.

    wanted: which part, or which stretch of the script; ask_part: called where several parts speak and none
    was chosen, which without it is an error; limit: seconds; due: a day as 2026-05-01, or +20 for twenty days
    from today; keep: keep the recordings of this piece.
    """
    from offbook.journal import add_piece, add_version
    from offbook.moment import local_day
    from offbook.script import Selection

    script = _chosen(path, wanted or Selection(), ask_part)
    words, units = words_and_thoughts(script)
    with journal.writing() as conn:
        owner = owner_named(journal, conn, performer)
        today = local_day(journal.clock(), owner.zone)
        made = add_piece(
            journal,
            conn,
            owner,
            name or (script.title if path == "-" else Path(path).stem),
            part=script.part,
            limit_seconds=limit,
            due_day=day_in(due, today),
            keep_recordings=keep,
        )
        version, _ = add_version(journal, conn, made.id, script, words, units)
    return Added(made, version, today)


def _chosen(path: str, wanted: Selection, ask_part: AskPart | None) -> Script:
    """The speech that is wanted; where several parts speak and none was chosen, `ask_part` is called."""
    if wanted.part is not None or ask_part is None:
        return speech(path, wanted)
    script = excerpt_of(path, wanted)
    if len(script.parts) <= 1 or script.part is not None:
        return script
    return speech(path, replace(wanted, part=ask_part(script.parts)))


def change_part(journal: Journal, piece: str, part: str, performer: str | None = None) -> Revised:
    """Learn another part of a piece's script, or `EVERY_PART`, as its next draft. Raises OffbookError."""
    from offbook.journal import change_piece

    with journal.reading() as conn:
        found = chosen_piece(conn, piece, performer)
        draft = draft_of(conn, found)
    script = speech_again(draft.script, part)
    before = speech_again(draft.script, draft.script.part or EVERY_PART)
    revised = _next_draft(journal, piece, script, performer)
    with journal.writing() as conn:
        change_piece(journal, conn, found.id, part=script.part)
    return replace(revised, widened=len(before.lines) > len(draft.script.lines))


def revise_from_file(
    journal: Journal,
    piece: str,
    path: str,
    performer: str | None = None,
    wanted: Selection | None = None,
) -> Revised:
    """Take in the script at `path` as the next draft of a piece. Raises OffbookError.

    wanted: which stretch of it; the part is the piece's own where none is named.
    """
    from offbook.script import Selection

    wanted = wanted or Selection()
    if wanted.part is None:
        with journal.reading() as conn:
            part = chosen_piece(conn, piece, performer).part
        wanted = replace(wanted, part=part or EVERY_PART)
    return _next_draft(journal, piece, speech(path, wanted), performer)


def _next_draft(journal: Journal, piece: str, script: Script, performer: str | None) -> Revised:
    from offbook.journal import add_version, newest_version

    words, units = words_and_thoughts(script)
    with journal.writing() as conn:
        found = chosen_piece(conn, piece, performer)
        old = newest_version(conn, found.id)
        made, carried = add_version(journal, conn, found.id, script, words, units)
    before = set(old.slots) if old is not None else set()
    return Revised(
        found,
        made,
        before=len(before),
        stayed=len(before & set(made.slots)),
        thoughts=len(carried),
        changed=sum(c.changed and c.copied_from is not None for c in carried),
        new=sum(c.copied_from is None for c in carried),
    )


def thought_rows(draft: Version, known: dict[int, Memory], now: datetime) -> list[dict[str, Any]]:
    """The thoughts of a draft as rows: words, text, how often it was asked for, and its recall, 0 to 1."""
    from offbook.schedule import recall_at
    from offbook.words import as_written

    return [
        {
            "thought": u.n + 1,
            "words": [u.first, u.last],
            "text": as_written(draft.script, draft.words, u.first, u.last),
            "asked": known[u.key].times if u.key in known else 0,
            "recall": round(recall_at(known.get(u.key), now), CHANCE_DECIMALS) if u.key in known else None,
        }
        for u in draft.units
    ]
