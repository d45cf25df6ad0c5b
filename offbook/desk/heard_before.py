"""A run-through that is in the journal: its verdicts as they were, and its recording measured again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from offbook.desk.delivery_review import review_heard
from offbook.desk.listening import Heard
from offbook.desk.margins import placed_notes, still_open
from offbook.desk.run_throughs import prompts_kept
from offbook.errors import JournalError, RecordingError

if TYPE_CHECKING:
    from offbook.desk.delivery_review import ReviewedTake
    from offbook.journal import Connection, Journal
    from offbook.pencil import Pencil
    from offbook.records import Piece, Recording, RunRow, TakeRow


def run_named(conn: Connection, piece: Piece, run_id: str | None) -> RunRow:
    """The run-through of a piece with this key; for None the newest. Raises JournalError."""
    from offbook.journal import run_of, runs

    if run_id is not None:
        found = run_of(conn, run_id)
        if found.piece_id != piece.id:
            raise JournalError(
                f"run-through {run_id} is of another piece", "see `offbook progress PIECE --runs`"
            )
        return found
    newest = runs(conn, piece.id, 1)
    if not newest:
        raise JournalError(f"{piece.name} has no run-through yet", "record one: offbook run PIECE RECORDING")
    return newest[0]


def review_kept(journal: Journal, piece: Piece, run: RunRow, pencil: Pencil | None = None) -> ReviewedTake:
    """Review a run-through that was heard before, with its hand corrections; nothing is heard again.

    Where it belongs to a take, the review has the take's intention and number. pencil: the performer's own
    marks; None for those in the file beside the script. Raises JournalError, and RecordingError where the
    recording is no longer kept.
    """
    from offbook.audio import survey
    from offbook.journal import circumstances_of, scored_run, takes, version_of
    from offbook.notes import notes_on

    with journal.reading() as conn:
        version = version_of(conn, run.version_id)
        words_scored = scored_run(conn, run.id)
        asides = prompts_kept(circumstances_of(conn, run.id))
        take = next((t for t in takes(conn, piece.id) if t.run_id == run.id), None)
        placed = placed_notes(conn, piece, version)
        path = _sound_of(conn, journal, piece, run, take)
    heard = Heard(
        script=version.script,
        words=version.words,
        recording=path,
        recorded_at=run.at,
        model=run.model or "",
        sound=survey(path),
        review=notes_on(version.script, version.words, words_scored, asides),
    )
    number = None if take is None else take.n
    margin = still_open(placed, number)
    return review_heard(heard, "" if take is None else take.intention, number, margin, pencil)


def kept_recording(conn: Connection, journal: Journal, run: RunRow) -> Recording | None:
    """The recording of a run-through; None where the journal keeps none, or its file is gone."""
    from offbook.journal import recordings

    kept = next((r for r in recordings(conn, run.piece_id) if r.id == run.recording_id), None)
    return kept if kept is not None and (journal.recordings / kept.path).is_file() else None


def _sound_of(conn: Connection, journal: Journal, piece: Piece, run: RunRow, take: TakeRow | None) -> Path:
    """Where the recording of a run-through is: in the journal, or else where the take's own file was."""
    kept = kept_recording(conn, journal, run)
    if kept is not None:
        return journal.recordings / kept.path
    found = None if take is None else Path(take.file)
    if found is None or not found.is_file():
        raise RecordingError(
            f"the recording of this run-through of {piece.name} is no longer kept",
            "give the file itself: offbook review PIECE RECORDING",
        )
    return found
