"""Recordings, run-throughs with the verdict of every word, and corrections by hand.

A run-through is written in two steps. First the recording is kept, on disk and in the journal, before it is
judged. Then the verdicts and everything that they change are written in one transaction. A recording
without a run-through is one whose judging was interrupted; it can be judged again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import (
    ColumnElement,
    Connection,
    Subquery,
    case,
    delete,
    func,
    insert,
    literal_column,
    select,
    update,
)

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.files import copy_in, keep_part, mark_for_deletion, plain_suffix
from offbook.journal.packing import (
    LETTER,
    VERDICT,
    pack_extras,
    pack_told,
    pack_verdicts,
    unpack,
    unpack_extras,
    unpack_told,
)
from offbook.journal.people import version_of
from offbook.moment import local_day
from offbook.phrasing import PERCENT
from offbook.records import (
    Circumstances,
    Correction,
    Piece,
    Recall,
    Recording,
    RunRow,
    Version,
)
from offbook.score import SOMETHING_ELSE, Run, Verdict, WordVerdict

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_MOST_PREDICTED = 99  # per cent: a prediction is stored in two digits
# The columns of a run-through that a `RunRow` has: without its words.
RUN_COLUMNS = tuple(t.run.c[f.name] for f in fields(RunRow))


def is_clean_run(percent: int) -> ColumnElement[int]:
    """An expression for the database: 1 for a clean run-through, 0 for any other.

    A run-through is clean if it had no prompt and at least `percent` per cent of its words were said; unsure
    words count as said.
    """
    r = t.run.c
    return case((((r.said + r.unsure) * PERCENT >= r.words * percent) & (r.prompts == 0), 1), else_=0)


def earliest_of_the_last(which: ColumnElement[bool] | None, last: int) -> Subquery:
    """For each piece that fits `which`, the moment of the earliest of its newest `last` run-throughs.

    It is "" if the piece has fewer. The index of pieces and moments gives it at once; ranking them would read
    every run-through in the journal.
    """
    p, r = t.piece.c, t.run.c
    nth = select(r.at).where(r.piece_id == p.id).order_by(r.at.desc()).limit(1).offset(last - 1)
    since = func.coalesce(nth.correlate(t.piece).scalar_subquery(), literal_column("''"))
    query = select(p.id, since.label("since"))
    return (query if which is None else query.where(which)).subquery()


def keep_recording(journal: Journal, piece: Piece, source: Path, at: datetime | None = None) -> Recording:
    """Copy a recording into the journal and commit its row, before it is judged.

    at: when it was recorded, now if None. Raises RecordingError if the recording cannot be read, JournalError
    if it cannot be kept.
    """
    moment = journal.clock() if at is None else at
    key, folder = journal.key(), journal.recordings / piece.id
    part, sha256, size = copy_in(journal, source)
    placed: Path | None = None
    try:
        with journal.writing() as conn:
            placed = keep_part(part, folder, key, plain_suffix(source), journal.key)
            path = f"{folder.name}/{placed.name}"
            day = local_day(moment, piece.zone)
            found = Recording(key, piece.id, moment, day, piece.zone, path, sha256, size)
            conn.execute(insert(t.recording).values(**asdict(found)))
    except BaseException:
        for file in (part, placed):
            if file is not None:
                file.unlink(missing_ok=True)
        raise
    part.unlink(missing_ok=True)
    return found


def recordings(conn: Connection, piece_id: str) -> tuple[Recording, ...]:
    """The kept recordings of a piece, oldest first."""
    query = select(t.recording).where(t.recording.c.piece_id == piece_id).order_by(t.recording.c.at)
    return tuple(Recording(*row) for row in conn.execute(query))


def unjudged(conn: Connection, *piece_ids: str) -> tuple[Recording, ...]:
    """The recordings of these pieces that have no run-through, because their judging was interrupted."""
    judged = select(t.run.c.recording_id).where(t.run.c.recording_id.is_not(None))
    query = (
        select(t.recording)
        .where(t.recording.c.piece_id.in_(piece_ids), t.recording.c.id.not_in(judged))
        .order_by(t.recording.c.at)
    )
    return tuple(Recording(*row) for row in conn.execute(query))


def forget_recording(conn: Connection, recording_id: str) -> None:
    """Delete a recording; its run-through stays. `delete_marked_files` then deletes the file."""
    path = conn.execute(select(t.recording.c.path).where(t.recording.c.id == recording_id)).scalar()
    if path is not None:
        mark_for_deletion(conn, [path])
        conn.execute(delete(t.recording).where(t.recording.c.id == recording_id))


def run_of_recording(conn: Connection, version_id: str, sha256: str, scored: Run) -> RunRow | None:
    """The run-through of a draft that was made from a recording; None if there is none.

    sha256: of the recording's bytes. scored: what is heard in it now. A run-through whose recording was not
    kept is recognised by that: no two readings have every word at the same millisecond.
    """
    r = t.run.c
    letters, _, times = pack_verdicts(scored.words)
    gone = t.recording.c.sha256.is_(None)
    alike = (r.letters == letters) & (r.times == times) & (r.seconds == scored.seconds)
    query = (
        select(*RUN_COLUMNS)
        .select_from(t.run.outerjoin(t.recording, t.recording.c.id == r.recording_id))
        .where(r.version_id == version_id, (t.recording.c.sha256 == sha256) | (gone & alike))
        .order_by(r.at, r.id)
        .limit(1)
    )
    row = conn.execute(query).one_or_none()
    return None if row is None else RunRow(*row)


def set_recording_of_run(conn: Connection, run_id: str, recording_id: str) -> None:
    """Write down which recording a run-through was heard from."""
    conn.execute(update(t.run).where(t.run.c.id == run_id).values(recording_id=recording_id))


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What is known about a run-through besides its score.

    at: when it was spoken. model: the speech model that heard it. added: how many words were spoken that are
    not in the script. prompts: how many were given. told: prompts, cues, and why words were judged so.
    """

    at: datetime
    model: str | None
    added: int
    prompts: int
    recording_id: str | None = None
    told: Circumstances = field(default_factory=Circumstances)


def add_run(
    journal: Journal,
    conn: Connection,
    piece: Piece,
    version: Version,
    scored: Run,
    facts: RunFacts,
    recalls: Sequence[Recall],
) -> RunRow:
    """Write a run-through of `version`, together with the ratings of its thoughts.

    Raises JournalError if the words that were scored are not those of this draft.
    """
    if [w.text for w in scored.words] != [w.text for w in version.words]:
        raise JournalError(
            f"the words of the run-through are not those of draft {version.n} of {piece.name}",
            "bring the piece up to date with `offbook piece revise`, then run it again",
        )
    counts = Counter(w.verdict for w in scored.words)
    row = RunRow(
        id=journal.key(),
        piece_id=piece.id,
        version_id=version.id,
        recording_id=facts.recording_id,
        at=facts.at,
        day=local_day(facts.at, piece.zone),
        zone=piece.zone,
        model=facts.model,
        seconds=scored.seconds,
        speaking_seconds=scored.speaking_seconds,
        words=len(scored.words),
        said=counts["said"],
        unsure=counts["unsure"],
        changed=counts["changed"],
        dropped=counts["dropped"],
        added=facts.added,
        prompts=facts.prompts,
    )
    letters, heard, times = pack_verdicts(scored.words)
    conn.execute(
        insert(t.run).values(
            **asdict(row),
            letters=letters,
            heard=heard,
            times=times,
            extras=pack_extras(scored.extras),
            told=pack_told(facts.told),
            **_recall_columns(version, recalls),
        )
    )
    return row


def _recall_columns(version: Version, recalls: Sequence[Recall]) -> dict[str, str]:
    by_unit = {r.unit: r for r in recalls}
    ratings, predicted = [], []
    for unit in version.units:
        r = by_unit.get(unit.key)
        ratings.append("0" if r is None else str(r.rating))
        per_cent = (
            None if r is None or r.predicted is None else min(_MOST_PREDICTED, int(r.predicted * PERCENT))
        )
        predicted.append("--" if per_cent is None else f"{per_cent:02d}")
    return {"ratings": "".join(ratings), "predicted": "".join(predicted)}


def set_recalls(conn: Connection, run_id: str, version: Version, recalls: Sequence[Recall]) -> None:
    """Replace the ratings of the thoughts of a run-through, after a correction."""
    conn.execute(update(t.run).where(t.run.c.id == run_id).values(**_recall_columns(version, recalls)))


def runs(conn: Connection, piece_id: str, last: int | None = None) -> tuple[RunRow, ...]:
    """The run-throughs of a piece, oldest first. last: only so many of the newest."""
    query = select(*RUN_COLUMNS).where(t.run.c.piece_id == piece_id).order_by(t.run.c.at.desc(), t.run.c.id)
    rows = conn.execute(query if last is None else query.limit(last)).all()
    return tuple(RunRow(*row) for row in reversed(rows))


def run_of(conn: Connection, run_id: str) -> RunRow:
    """The run-through whose key is or begins with `run_id`.

    Raises JournalError unless there is exactly one.
    """
    query = select(*RUN_COLUMNS).where(t.run.c.id.startswith(run_id, autoescape=True)).limit(2)
    found = conn.execute(query).all()
    if len(found) != 1:
        raise JournalError(
            f"{'no' if not found else 'more than one'} run-through begins with {run_id!r}",
            "see `offbook progress PIECE --runs` for their numbers",
        )
    return RunRow(*found[0])


def voice_seconds(conn: Connection, performer_id: str, day: Any) -> float:
    """How many seconds a performer used their full voice on a local day: run-throughs and spoken drills."""
    owned = select(t.piece.c.id).where(t.piece.c.performer_id == performer_id)
    spoken = select(func.coalesce(func.sum(t.run.c.seconds), 0.0)).where(
        t.run.c.piece_id.in_(owned), t.run.c.day == day
    )
    drilled = select(func.coalesce(func.sum(t.answer.c.seconds), 0.0)).where(
        t.answer.c.piece_id.in_(owned), t.answer.c.day == day, t.answer.c.spoken
    )
    return float(conn.execute(spoken).scalar_one()) + float(conn.execute(drilled).scalar_one())


def corrected_verdicts(conn: Connection, where: ColumnElement[bool]) -> dict[str, dict[int, Verdict]]:
    """The corrected verdicts, by the key of the run-through and the number of the word.

    where: which corrections. If a word was corrected twice, the later correction counts.
    """
    found: dict[str, dict[int, Verdict]] = {}
    query = select(t.correction.c.run_id, t.correction.c.word, t.correction.c.now).where(where)
    for row in conn.execute(query.order_by(t.correction.c.at)):
        found.setdefault(row.run_id, {})[row.word] = cast(Verdict, row.now)
    return found


def corrected_letters(letters: str, changes: Mapping[int, Verdict]) -> str:
    """The letters of a run-through's verdicts after these corrections."""
    if not changes:
        return letters
    chars = list(letters)
    for i, verdict in changes.items():
        chars[i] = LETTER[verdict]
    return "".join(chars)


def scored_run(conn: Connection, run_id: str, *, original: bool = False) -> Run:
    """A run-through with the verdict of every word. original: without the corrections by hand."""
    row = conn.execute(select(t.run).where(t.run.c.id == run_id)).one()
    version = version_of(conn, row.version_id)
    words = unpack([w.text for w in version.words], row.letters, row.heard, row.times)
    if not original:
        changes = corrected_verdicts(conn, t.correction.c.run_id == run_id).get(run_id, {})
        words = tuple(_as_corrected(w, changes[w.i]) if w.i in changes else w for w in words)
    return Run(words, unpack_extras(row.extras), row.seconds, row.speaking_seconds)


def _as_corrected(word: WordVerdict, verdict: Verdict) -> WordVerdict:
    """The verdict on a word as it was corrected by hand.

    Of a word that was dropped nothing was heard, and what was said instead of one that was taken for said is
    not known.
    """
    if verdict == "dropped":
        return replace(word, verdict=verdict, heard=None, start=None, end=None, confidence=None)
    if verdict == "changed" and word.verdict == "said":
        return replace(word, verdict=verdict, heard=SOMETHING_ELSE)
    return replace(word, verdict=verdict)


def circumstances_of(conn: Connection, run_id: str) -> Circumstances:
    """The prompts and the cues of a run-through, and why its doubtful words were judged as they were."""
    return unpack_told(conn.execute(select(t.run.c.told).where(t.run.c.id == run_id)).scalar_one())


def add_correction(
    journal: Journal, conn: Connection, run_id: str, word: int, verdict: Verdict, note: str
) -> Correction:
    """Correct the verdict of one word by hand.

    The counts are changed in the same transaction; the verdict that was given first stays too. Raises
    JournalError if the run-through has no word with that number.
    """
    row = conn.execute(select(t.run.c.letters).where(t.run.c.id == run_id)).one()
    if not 0 <= word < len(row.letters):
        raise JournalError(
            f"the run-through has no word {word + 1}", f"give a word from 1 to {len(row.letters)}"
        )
    changes = corrected_verdicts(conn, t.correction.c.run_id == run_id).get(run_id, {})
    was = changes.get(word, VERDICT[row.letters[word]])
    made = Correction(journal.key(), run_id, word, journal.clock(), was, verdict, note)
    conn.execute(insert(t.correction).values(**asdict(made)))
    recount(conn, run_id)
    return made


def recount(conn: Connection, run_id: str) -> None:
    """Count the verdicts of a run-through again, corrections by hand included."""
    letters = conn.execute(select(t.run.c.letters).where(t.run.c.id == run_id)).scalar_one()
    changes = corrected_verdicts(conn, t.correction.c.run_id == run_id).get(run_id, {})
    counts = Counter(corrected_letters(letters, changes))
    values = {name: counts[letter] for name, letter in LETTER.items()}
    conn.execute(update(t.run).where(t.run.c.id == run_id).values(values))


def corrections(conn: Connection, run_id: str) -> tuple[Correction, ...]:
    """The corrections of a run-through, oldest first."""
    query = select(t.correction).where(t.correction.c.run_id == run_id).order_by(t.correction.c.at)
    return tuple(Correction(*row) for row in conn.execute(query))


def rated_runs(conn: Connection, piece_id: str, last: int | None = None) -> list[tuple[RunRow, str, str]]:
    """The run-throughs of a piece, each with its ratings and predictions, oldest first.

    Ratings are one digit for each thought, predictions two digits (per cent, or "--"). last: only so many of
    the newest.
    """
    query = (
        select(*RUN_COLUMNS, t.run.c.ratings, t.run.c.predicted)
        .where(t.run.c.piece_id == piece_id)
        .order_by(t.run.c.at.desc(), t.run.c.id)
    )
    rows = conn.execute(query if last is None else query.limit(last)).all()
    return [(RunRow(*listed), ratings, predicted) for *listed, ratings, predicted in reversed(rows)]


CONFIRMED = "heard so each time"  # the note of a correction that is also made in every later run-through


def confirmed_words(conn: Connection, piece_id: str) -> set[tuple[int, str]]:
    """Words that the performer confirmed to say although another one is heard.

    Each is (slot of the word, what is heard).
    """
    import json

    query = (
        select(t.correction.c.word, t.run.c.heard, t.version.c.slots)
        .join(t.run, t.run.c.id == t.correction.c.run_id)
        .join(t.version, t.version.c.id == t.run.c.version_id)
        .where(t.run.c.piece_id == piece_id, t.correction.c.note == CONFIRMED, t.correction.c.now == "said")
    )
    found = set()
    for row in conn.execute(query):
        heard = json.loads(row.heard).get(str(row.word))
        if heard is not None:
            found.add((json.loads(row.slots)[row.word], heard))
    return found
