"""Hearing a run-through of a piece and keeping it in the journal.

The script is compared with the piece's draft before anything is heard. The recording is in the journal before
it is judged. The verdicts, and everything that they change, are committed before anything is printed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.desk.finding import chosen_piece, draft_of
from offbook.desk.journal_open import opened_journal
from offbook.desk.speech_of import EVERY_PART, speech
from offbook.errors import JournalError
from offbook.intake import digest_of
from offbook.phrasing import MINUTE

if TYPE_CHECKING:
    from offbook.desk.listening import Heard, Progress
    from offbook.desk.model_loading import Loading
    from offbook.journal import Journal
    from offbook.notes import Aside
    from offbook.records import Circumstances, Piece, Recording, RunRow, Version
    from offbook.script import Script, Selection


@dataclass(frozen=True, slots=True)
class Saved:
    """What was committed.

    voice: a sentence on the minutes of full voice that were used that day; counted: the run-through is new;
    False where the same recording already had one, which then is `run`.
    """

    piece: str
    run: RunRow
    recording_kept: bool
    voice: str
    counted: bool = True


def hear_and_keep(
    piece_name: str,
    performer: str | None,
    script_path: str | None,
    recording: str,
    wanted: Selection | None,
    loading: Loading,
    keep: bool | None,
    progress: Progress | None = None,
) -> tuple[Heard, Saved]:
    """Hear `recording` as a run-through of the piece, and commit it. Raises OffbookError.

    script_path: a file that must have the same words as the piece's draft; None for the draft itself; wanted:
    which part and which stretch of that file; keep: keep the recording, None for what the piece says.
    """
    from offbook.desk.listening import listen_to

    with opened_journal() as journal:
        with journal.reading() as conn:
            piece = chosen_piece(conn, piece_name, performer)
            version = draft_of(conn, piece)
        script = version.script
        if script_path is not None:
            script = _same_words(piece, version, script_path, wanted)
        source = Path(recording)
        stored = _recording_in_journal(
            journal, piece, source, piece.keep_recordings if keep is None else keep
        )
        heard = listen_to(script, recording, loading, progress=progress)
        return heard, commit_run(journal, piece, version, heard, stored)


def _same_words(piece: Piece, version: Version, script_path: str, wanted: Selection | None) -> Script:
    from offbook.script import Selection
    from offbook.words import words_of

    wanted = wanted or Selection()
    if wanted.part is None:
        # A piece without a part was added as one speech, however many parts its script names.
        wanted = replace(wanted, part=piece.part or EVERY_PART)
    script = speech(script_path, wanted)
    words = words_of(script)
    if [w.text for w in words] != [w.text for w in version.words]:
        raise JournalError(
            f"{script_path} is not draft {version.n} of {piece.name}",
            f'add the new draft first: offbook piece revise "{piece.name}" {script_path}',
        )
    return script


def _recording_in_journal(journal: Journal, piece: Piece, source: Path, keep: bool) -> Recording | None:
    """The journal's copy of the recording: made now, or there already from a hearing that was cut short."""
    from offbook.journal import unjudged

    with journal.reading() as conn:
        for r in unjudged(conn, piece.id):
            if (journal.recordings / r.path).resolve() == source.resolve():
                return r
    return keep_recording_once(journal, piece, source) if keep else None


def keep_recording_once(
    journal: Journal, piece: Piece, source: Path, at: datetime | None = None
) -> Recording:
    """The journal's copy of the recording: one with the same bytes, or else made now. Raises OffbookError.

    at: when it was spoken; None to go by the file's own time.
    """
    from offbook.journal import keep_recording, recordings

    digest = digest_of(source)
    with journal.reading() as conn:
        for r in recordings(conn, piece.id):
            if r.sha256 == digest and (journal.recordings / r.path).is_file():
                return r
    return keep_recording(journal, piece, source, at or spoken_at(journal, piece, source))


def spoken_at(journal: Journal, piece: Piece, source: Path) -> datetime:
    """When it was spoken: the file's own time, unless that is before the piece was added or after now."""
    from datetime import UTC

    now = journal.clock()
    try:
        written = datetime.fromtimestamp(source.stat().st_mtime, UTC)
    except OSError:
        return now
    return written if piece.added_at <= written <= now else now


def commit_run(
    journal: Journal, piece: Piece, version: Version, heard: Heard, stored: Recording | None
) -> Saved:
    """Commit a run-through of the piece, with everything that it changes.

    A recording counts once: where it has already been heard for this draft, as a run-through or as a take, it
    is not counted again.
    """
    from offbook.journal import performer_named, voice_seconds
    from offbook.schedule import CAUTION, voice_note

    before = _same_reading(journal, version, heard, stored)
    row = _new_run(journal, piece, version, heard, stored) if before is None else before
    with journal.reading() as conn:
        used = voice_seconds(conn, piece.performer_id, row.day) / MINUTE
        cap = performer_named(conn, piece.performer).voice_minutes
    voice = f"{voice_note(used, cap)} {CAUTION}"
    return Saved(piece.name, row, stored is not None, voice, counted=before is None)


def _same_reading(
    journal: Journal, version: Version, heard: Heard, stored: Recording | None
) -> RunRow | None:
    """The run-through of this draft that the recording already has; it keeps the recording from now on."""
    from offbook.journal import run_of_recording, set_recording_of_run

    digest = digest_of(heard.recording) if stored is None else stored.sha256
    with journal.reading() as conn:
        before = run_of_recording(conn, version.id, digest, heard.review.run)
    if before is None or before.recording_id is not None or stored is None:
        return before
    with journal.writing() as conn:
        set_recording_of_run(conn, before.id, stored.id)
    return replace(before, recording_id=stored.id)


def _new_run(
    journal: Journal, piece: Piece, version: Version, heard: Heard, stored: Recording | None
) -> RunRow:
    from offbook.desk.learning import record_run
    from offbook.journal import RunFacts

    prompts = [a for a in heard.review.asides if a.kind == "prompt"]
    facts = RunFacts(
        at=stored.at if stored is not None else spoken_at(journal, piece, heard.recording),
        model=heard.model,
        added=len(heard.review.added),
        prompts=len(prompts),
        recording_id=stored.id if stored is not None else None,
        told=_circumstances(heard),
    )
    at_words = [a.words[0] if a.words is not None else a.before_word for a in prompts]
    return record_run(journal, piece, version, heard.review.run, facts, at_words)


def _circumstances(heard: Heard) -> Circumstances:
    """What the journal keeps of a run-through besides its verdicts."""
    from offbook.records import Circumstances, PromptGiven, Reason

    words = heard.review.run.words
    return Circumstances(
        tuple(
            PromptGiven(a.words[0], a.words[1], a.heard, max(0.0, a.start), a.asked)
            for a in heard.review.asides
            if a.given and a.words is not None
        ),
        heard.pick_ups,
        tuple(Reason(w.i, s.by, s.verdict, s.told) for w in words if w.verdict != "said" for s in w.steps),
    )


def prompts_kept(told: Circumstances) -> tuple[Aside, ...]:
    """The prompts of a run-through in the journal, as `notes.review` takes them."""
    from offbook.notes import Aside

    return tuple(
        Aside("prompt", p.first, p.text, p.at, p.at, (p.first, p.last), p.asked, given=True)
        for p in told.prompts
    )
