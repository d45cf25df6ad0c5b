"""A take: it is logged first; then it is measured, heard and compared with its brief."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from offbook.desk.briefs import brief_for, read_briefs
from offbook.desk.finding import chosen_piece, draft_of
from offbook.desk.run_throughs import commit_run, keep_recording_once, spoken_at

if TYPE_CHECKING:
    from datetime import datetime

    from offbook.brief import Brief
    from offbook.desk.listening import Heard, Progress
    from offbook.desk.model_loading import Loading
    from offbook.desk.run_throughs import Saved
    from offbook.journal import Connection, Journal
    from offbook.notes import Note
    from offbook.records import Piece, Recording, RunRow, TakeRow, Version
    from offbook.takes import Check, RecordingFacts, TakeStanding


@dataclass(frozen=True, slots=True)
class Logged:
    """A take in the journal that is to be judged.

    path: where its recording is; stored: the journal's copy of it, None where it keeps none; today: how many
    takes of the piece were made on the same day.
    """

    piece: Piece
    version: Version
    take: TakeRow
    brief: Brief | None
    path: Path
    stored: Recording | None
    today: int


@dataclass(frozen=True, slots=True)
class JudgedTake:
    """A take with everything that was found.

    saved: the run-through of its recording, None where the take had been judged before; run: that
    run-through's key.
    """

    logged: Logged
    facts: RecordingFacts
    checks: tuple[Check, ...]
    heard: Heard
    saved: Saved | None
    run: str | None


def log_take(
    journal: Journal,
    name: str,
    performer: str | None,
    source: Path,
    intention: str,
    brief: str | None,
    keep: bool | None,
) -> Logged:
    """Commit that a take was made, with its recording where recordings are kept. Raises OffbookError.

    brief: the name of the brief it is for, None for the only open one that asks for the piece; keep: keep the
    recording, None for what the piece says.
    """
    from offbook import audio
    from offbook.journal import add_take, takes_on

    with journal.reading() as conn:
        piece = chosen_piece(conn, name, performer)
        version = draft_of(conn, piece)
        asked = brief_for(conn, piece, brief)
    audio.probe(source)  # a file that is not a recording is refused before anything is written
    at: datetime = spoken_at(journal, piece, source)
    kept = piece.keep_recordings if keep is None else keep
    stored = keep_recording_once(journal, piece, source) if kept else None
    with journal.writing() as conn:
        take = add_take(
            journal,
            conn,
            piece,
            at=at,
            intention=intention,
            file=str(source.absolute()),
            recording_id=None if stored is None else stored.id,
            brief_id=None if asked is None else asked.row.id,
        )
        today = takes_on(conn, piece.id, take.day)
    return Logged(piece, version, take, None if asked is None else asked.brief, source, stored, today)


def logged_take(journal: Journal, name: str, performer: str | None, number: int) -> Logged:
    """A take logged earlier, with its recording found again. Raises JournalError."""
    from offbook.journal import recordings, take_numbered, takes_on

    with journal.reading() as conn:
        piece = chosen_piece(conn, name, performer)
        version = draft_of(conn, piece)
        take = take_numbered(conn, piece, number)
        stored = next((r for r in recordings(conn, piece.id) if r.id == take.recording_id), None)
        kept = read_briefs(conn, piece.performer_id)
        read = next((b.brief for b in kept if b.row.id == take.brief_id), None)
        today = takes_on(conn, piece.id, take.day)
    path = journal.recordings / stored.path if stored is not None else Path(take.file)
    return Logged(piece, version, take, read, path, stored, today)


def judge_logged(
    journal: Journal, logged: Logged, loading: Loading, progress: Progress | None = None
) -> JudgedTake:
    """Measure and hear a take, and commit what was found. Raises OffbookError; the take stays logged."""
    from offbook.desk.delivery_review import delivery_summary, review_heard
    from offbook.desk.listening import listen_to
    from offbook.journal import judge_take, run_of_take
    from offbook.takes import checks_of, facts_of, spoken_of

    facts = facts_of(logged.path)
    heard = listen_to(logged.version.script, logged.path, loading, facts.sound, progress)
    piece = logged.piece
    checks = checks_of(facts, logged.brief, piece.limit_seconds, spoken_of(heard.review), piece.name)
    with journal.reading() as conn:
        before = run_of_take(conn, logged.take) if logged.take.run_id is not None else None
    # A take that was judged before does not get a second run-through.
    saved = None if before else commit_run(journal, logged.piece, logged.version, heard, logged.stored)
    run = saved.run if saved is not None else before
    reviewed = review_heard(heard, logged.take.intention, logged.take.n)
    told = {
        "seconds": round(facts.seconds, 2),
        "checks": [asdict(c) for c in checks],
        "delivery": delivery_summary(reviewed),
    }
    with journal.writing() as conn:
        judge_take(
            journal,
            conn,
            logged.take.id,
            None if run is None else run.id,
            json.dumps(told, ensure_ascii=False),
        )
    return JudgedTake(logged, facts, checks, heard, saved, None if run is None else run.id)


def findings_of_take(take: TakeRow) -> dict[str, Any] | None:
    """What was found when a take was judged: its seconds and its checks; None where it was not judged."""
    return None if take.checks is None else dict(json.loads(take.checks))


def unmet_of(told: dict[str, Any]) -> list[str]:
    """The points of a judged take that are not met, by name."""
    return [c["what"] for c in told["checks"] if c["met"] is False]


def shifts_heard(shifts: dict[str, int] | None) -> str | None:
    """Of the shifts of thought in a take, how many could be heard: 9 of 12."""
    return None if shifts is None else f"{shifts['heard']} of {sum(shifts.values())}"


def standing_of(take: TakeRow, run: RunRow | None) -> TakeStanding:
    """A take as `takes.best_take` compares it; hand corrections of its run-through count."""
    from offbook.takes import TakeStanding

    told = findings_of_take(take)
    if told is None:
        return TakeStanding(take.n, 0, None, None)
    # The words are compared as they are now, not as they were first judged.
    unmet = sum(what != "words" for what in unmet_of(told))
    wrong = None if run is None else run.changed + run.dropped + run.added
    return TakeStanding(take.n, unmet, wrong, None if run is None else run.prompts)


def run_notes(conn: Connection, run: RunRow) -> Sequence[Note]:
    """The line notes of a run-through in the journal, hand corrections counted in."""
    from offbook.journal import scored_run, version_of
    from offbook.notes import notes_on

    version = version_of(conn, run.version_id)
    return notes_on(version.script, version.words, scored_run(conn, run.id)).notes
