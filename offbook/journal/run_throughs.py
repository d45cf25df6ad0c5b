"""Recordings, run-throughs with every word verdict, and the corrections made by hand.

A run-through is written in two steps: the recording first, on disk and in the journal, before it is
judged; then the verdicts, together with all they change, in one transaction. A recording without a
run-through is one that was never judged to the end, and can be judged again.
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
from offbook.journal.files import copy_in, doom, ending, keep_part
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
from offbook.records import (
    Circumstances,
    Correction,
    Piece,
    Recall,
    Recording,
    RunRow,
    Version,
)
from offbook.score import Run, Verdict

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

LISTED = tuple(t.run.c[f.name] for f in fields(RunRow))


def is_clean_run(percent: int) -> ColumnElement[int]:
    """1 for a run-through that is clean, else 0, as the database reckons it: without a prompt, and
    with at least so many per cent of the words said or unsure."""
    r = t.run.c
    return case((((r.said + r.unsure) * 100 >= r.words * percent) & (r.prompts == 0), 1), else_=0)


def moment_of_the_last(which: ColumnElement[bool] | None, last: int) -> Subquery:
    """For each piece (of `which`), when the earliest of its `last` run-throughs was; "" where it has fewer.

    The index of pieces and moments gives it at once, where ranking would read every run-through there is.
    """
    p, r = t.piece.c, t.run.c
    nth = select(r.at).where(r.piece_id == p.id).order_by(r.at.desc()).limit(1).offset(last - 1)
    since = func.coalesce(nth.correlate(t.piece).scalar_subquery(), literal_column("''"))
    query = select(p.id, since.label("since"))
    return (query if which is None else query.where(which)).subquery()


def keep_recording(journal: Journal, piece: Piece, source: Path, at: datetime | None = None) -> Recording:
    """Copy a recording into the journal and commit its row. Do this before judging it.

    Raises RecordingError where it cannot be read, JournalError where it cannot be kept.
    """
    moment = journal.clock() if at is None else at
    key, folder = journal.key(), journal.recordings / piece.id
    part, sha256, size = copy_in(journal, source)
    placed: Path | None = None
    try:
        with journal.writing() as conn:
            placed = keep_part(part, folder, key, ending(source), journal.key)
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
    """Recordings of these pieces that have no run-through yet: their judging was cut short."""
    judged = select(t.run.c.recording_id).where(t.run.c.recording_id.is_not(None))
    query = (
        select(t.recording)
        .where(t.recording.c.piece_id.in_(piece_ids), t.recording.c.id.not_in(judged))
        .order_by(t.recording.c.at)
    )
    return tuple(Recording(*row) for row in conn.execute(query))


def forget_recording(conn: Connection, recording_id: str) -> None:
    """Delete a recording; its run-through stays. `files.sweep` then unlinks the file."""
    path = conn.execute(select(t.recording.c.path).where(t.recording.c.id == recording_id)).scalar()
    if path is not None:
        doom(conn, [path])
        conn.execute(delete(t.recording).where(t.recording.c.id == recording_id))


def run_of_recording(conn: Connection, version_id: str, sha256: str, scored: Run) -> RunRow | None:
    """The run-through of a draft that was heard from the recording with these bytes; None where none was.

    scored: how it is heard now. A run-through whose recording is not kept is known again by that: no two
    readings have each word at the same millisecond.
    """
    r = t.run.c
    letters, _, times = pack_verdicts(scored.words)
    gone = t.recording.c.sha256.is_(None)
    alike = (r.letters == letters) & (r.times == times) & (r.seconds == scored.seconds)
    query = (
        select(*LISTED)
        .select_from(t.run.outerjoin(t.recording, t.recording.c.id == r.recording_id))
        .where(r.version_id == version_id, (t.recording.c.sha256 == sha256) | (gone & alike))
        .order_by(r.at, r.id)
        .limit(1)
    )
    row = conn.execute(query).one_or_none()
    return None if row is None else RunRow(*row)


def give_recording(conn: Connection, run_id: str, recording_id: str) -> None:
    """Note which recording a run-through was heard from."""
    conn.execute(update(t.run).where(t.run.c.id == run_id).values(recording_id=recording_id))


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What is known of a run-through besides its score. at: when it was spoken."""

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
    """Write a run-through of `version`, with the rating of each thought beside it.

    Raises JournalError where the score is not of this draft's words.
    """
    if [w.text for w in scored.words] != [w.text for w in version.words]:
        raise JournalError(
            f"the run-through is not of draft {version.n} of {piece.name}",
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
        per_cent = None if r is None or r.predicted is None else min(99, int(r.predicted * 100))
        predicted.append("--" if per_cent is None else f"{per_cent:02d}")
    return {"ratings": "".join(ratings), "predicted": "".join(predicted)}


def set_recalls(conn: Connection, run_id: str, version: Version, recalls: Sequence[Recall]) -> None:
    """Rate the thoughts of a run-through again, after a correction."""
    conn.execute(update(t.run).where(t.run.c.id == run_id).values(**_recall_columns(version, recalls)))


def runs(conn: Connection, piece_id: str, last: int | None = None) -> tuple[RunRow, ...]:
    """The run-throughs of a piece (only the `last` ones where given), oldest first."""
    query = select(*LISTED).where(t.run.c.piece_id == piece_id).order_by(t.run.c.at.desc(), t.run.c.id)
    rows = conn.execute(query if last is None else query.limit(last)).all()
    return tuple(RunRow(*row) for row in reversed(rows))


def run_of(conn: Connection, run_id: str) -> RunRow:
    """The run-through with this key or the beginning of it. Raises JournalError where there is not one."""
    query = select(*LISTED).where(t.run.c.id.startswith(run_id, autoescape=True)).limit(2)
    found = conn.execute(query).all()
    if len(found) != 1:
        raise JournalError(
            f"{'no' if not found else 'more than one'} run-through begins with {run_id!r}",
            "see `offbook progress PIECE --runs` for their numbers",
        )
    return RunRow(*found[0])


def voice_seconds(conn: Connection, performer_id: str, day: Any) -> float:
    """Seconds of full voice that a performer used on a local day: run-throughs and spoken drills."""
    owned = select(t.piece.c.id).where(t.piece.c.performer_id == performer_id)
    spoken = select(func.coalesce(func.sum(t.run.c.seconds), 0.0)).where(
        t.run.c.piece_id.in_(owned), t.run.c.day == day
    )
    drilled = select(func.coalesce(func.sum(t.answer.c.seconds), 0.0)).where(
        t.answer.c.piece_id.in_(owned), t.answer.c.day == day, t.answer.c.spoken
    )
    return float(conn.execute(spoken).scalar_one()) + float(conn.execute(drilled).scalar_one())


def corrected_verdicts(conn: Connection, where: ColumnElement[bool]) -> dict[str, dict[int, Verdict]]:
    """By run-through and word, what the corrections that fit `where` have put in place of a verdict."""
    found: dict[str, dict[int, Verdict]] = {}
    query = select(t.correction.c.run_id, t.correction.c.word, t.correction.c.now).where(where)
    for row in conn.execute(query.order_by(t.correction.c.at)):
        found.setdefault(row.run_id, {})[row.word] = cast(Verdict, row.now)
    return found


def mended_letters(letters: str, changes: Mapping[int, Verdict]) -> str:
    """The letters of a run-through's verdicts, with these corrected."""
    if not changes:
        return letters
    chars = list(letters)
    for i, verdict in changes.items():
        chars[i] = LETTER[verdict]
    return "".join(chars)


def scored(conn: Connection, run_id: str, *, original: bool = False) -> Run:
    """A run-through as it was scored, word by word; hand corrections counted in unless `original`."""
    row = conn.execute(select(t.run).where(t.run.c.id == run_id)).one()
    version = version_of(conn, row.version_id)
    words = unpack([w.text for w in version.words], row.letters, row.heard, row.times)
    if not original:
        changes = corrected_verdicts(conn, t.correction.c.run_id == run_id).get(run_id, {})
        words = tuple(replace(w, verdict=changes.get(w.i, w.verdict)) for w in words)
    return Run(words, unpack_extras(row.extras), row.seconds, row.speaking_seconds)


def circumstances_of(conn: Connection, run_id: str) -> Circumstances:
    """The prompts and cues of a run-through, and why its doubtful words were judged as they were."""
    return unpack_told(conn.execute(select(t.run.c.told).where(t.run.c.id == run_id)).scalar_one())


def correct(
    journal: Journal, conn: Connection, run_id: str, word: int, verdict: Verdict, note: str
) -> Correction:
    """Change one verdict by hand; the counts follow in the same transaction, the original stays.

    Raises JournalError where the run-through has no such word.
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
    """Count the words of a run-through again, its corrections counted in."""
    letters = conn.execute(select(t.run.c.letters).where(t.run.c.id == run_id)).scalar_one()
    changes = corrected_verdicts(conn, t.correction.c.run_id == run_id).get(run_id, {})
    counts = Counter(mended_letters(letters, changes))
    values = {name: counts[letter] for name, letter in LETTER.items()}
    conn.execute(update(t.run).where(t.run.c.id == run_id).values(values))


def corrections(conn: Connection, run_id: str) -> tuple[Correction, ...]:
    """The corrections of a run-through, oldest first."""
    query = select(t.correction).where(t.correction.c.run_id == run_id).order_by(t.correction.c.at)
    return tuple(Correction(*row) for row in conn.execute(query))


def recalls(conn: Connection, piece_id: str, last: int | None = None) -> list[tuple[RunRow, str, str]]:
    """Each run-through with its ratings (a digit a thought) and predictions (two digits), oldest first."""
    query = (
        select(*LISTED, t.run.c.ratings, t.run.c.predicted)
        .where(t.run.c.piece_id == piece_id)
        .order_by(t.run.c.at.desc(), t.run.c.id)
    )
    rows = conn.execute(query if last is None else query.limit(last)).all()
    return [(RunRow(*row[:-2]), row[-2], row[-1]) for row in reversed(rows)]


CONFIRMED = "heard so each time"  # the note of a correction that holds for every run-through to come


def confirmed_words(conn: Connection, piece_id: str) -> set[tuple[int, str]]:
    """What the performer has confirmed to say though it is heard otherwise: (slot of the word, heard)."""
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
