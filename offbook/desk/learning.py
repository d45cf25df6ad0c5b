"""Writing a run-through or an answer into the journal, with what it changes in the memory of each thought.

Both belong in one transaction: a journal that has a run-through of which the schedule knows nothing would be
only half written. Every run-through and every answer goes into the journal through this module.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from offbook.drill import Exercise, GivenAnswer, JudgedAnswer, remembered_after
from offbook.errors import JournalError
from offbook.journal import (
    CONFIRMED,
    Connection,
    Journal,
    RunFacts,
    add_answer,
    add_correction,
    add_run,
    answers,
    confirmed_words,
    memories,
    newest_runs,
    rated_runs,
    run_of,
    save_memories,
    scored_run,
    set_recalls,
    slots_by_version,
    versions,
)
from offbook.moment import local_day
from offbook.progress import UNRATED, recall_in
from offbook.records import Answer, Memory, Piece, Recall, RunRow, Session, Version
from offbook.schedule import RIGHT, rating_of, ratings_of, recall_at, review
from offbook.score import Run, Verdict

MOST_RUNS = 1000  # newest run-throughs in which a confirmed word is corrected; set by hand


def record_run(
    journal: Journal,
    piece: Piece,
    version: Version,
    run: Run,
    facts: RunFacts,
    prompted: Sequence[int] = (),
) -> RunRow:
    """Commit a run-through, its verdicts, and what it says about the memory of each thought.

    prompted: the script words at which a prompt was given. Raises JournalError.
    """
    with journal.writing() as conn:
        known = memories(conn, [piece.id])[piece.id]
        held = confirmed_words(conn, piece.id)
        said = [w.i for w in run.words if w.verdict == "changed" and (version.slots[w.i], w.heard) in held]
        words = tuple(replace(w, verdict="said") if w.i in said else w for w in run.words)
        changed, told = [], []
        for key, rating in ratings_of(version.units, replace(run, words=words), prompted).items():
            before = known.get(key)
            told.append(Recall(key, rating, None if before is None else recall_at(before, facts.at)))
            changed.append(review(before, piece.id, key, rating, facts.at))
        row = add_run(journal, conn, piece, version, run, facts, told)
        save_memories(conn, changed)
        for word in said:  # the first verdict stays, and the performer's own stands beside it
            add_correction(journal, conn, row.id, word, "said", CONFIRMED)
        return run_of(conn, row.id) if said else row


def record_answer(
    journal: Journal,
    piece: Piece,
    version: Version,
    session: Session,
    exercise: Exercise,
    given: GivenAnswer,
    judged: JudgedAnswer | None,
    ratings: Mapping[int, int],
) -> dict[int, Memory]:
    """Commit an answer for every thought it asked for; returns the memory of those thoughts by their keys.

    judged: None where no answer was given; ratings: by the keys of the thoughts.
    """
    whole = exercise.last - exercise.first + 1
    out: dict[int, Memory] = {}
    with journal.writing() as conn:
        known = memories(conn, [piece.id])[piece.id]
        for u in version.units:
            if u.key not in ratings:
                continue
            first, last = max(u.first, exercise.first), min(u.last, exercise.last)
            right, words = (0, last - first + 1) if judged is None else judged.within(first, last)
            before = known.get(u.key)
            add_answer(
                conn,
                Answer(
                    id=journal.key(),
                    piece_id=piece.id,
                    version_id=version.id,
                    session_id=session.id,
                    at=given.at,
                    day=local_day(given.at, piece.zone),
                    zone=piece.zone,
                    kind=exercise.kind,
                    unit=u.key,
                    help=exercise.help,
                    first=first,
                    last=last,
                    given=given.text,
                    right=right,
                    words=words,
                    seconds=given.seconds * words / whole,
                    pick_up=given.pick_up,
                    spoken=given.spoken,
                    rating=ratings[u.key],
                    predicted=None if before is None else recall_at(before, given.at),
                ),
            )
            rating, every = ratings[u.key], right == words
            after = remembered_after(before, piece.id, u.key, rating, exercise, given.at, every)
            if after is not None:
                out[u.key] = after
        save_memories(conn, list(out.values()))
    return out


def correct_word(journal: Journal, piece: Piece, run_id: str, word: int, verdict: Verdict, note: str) -> None:
    """Commit a hand correction of one word; counts, ratings and memory are worked out again from it."""
    with journal.writing() as conn:
        add_correction(journal, conn, run_id, word, verdict, note)
        rows = {row.id: (row, ratings, told) for row, ratings, told in rated_runs(conn, piece.id)}
        row, ratings, told = rows[run_id]
        drafts = versions(conn, piece.id)
        draft = next(v for v in drafts if v.id == row.version_id)
        at = next((n for n, u in enumerate(draft.units) if u.first <= word <= u.last), None)
        if at is None or ratings[at] == UNRATED:
            return
        unit = draft.units[at]
        part = scored_run(conn, run_id).words[unit.first : unit.last + 1]
        fresh = rating_of(sum(w.verdict in RIGHT for w in part), len(part))
        anew = [
            Recall(
                u.key,
                fresh if u is unit else int(ratings[n]),
                recall_in(told, n),
            )
            for n, u in enumerate(draft.units)
        ]
        set_recalls(conn, run_id, draft, [r for r in anew if r.rating])
        _replay(conn, piece, drafts, unit.key)


def confirm_word(journal: Journal, piece: Piece, run_id: str, word: int) -> int:
    """Note that a word was said as written although another was heard: here, earlier, and from now on.

    Returns how many run-throughs are corrected by it. Raises JournalError where no other word was heard
    there.
    """
    with journal.reading() as conn:
        row = run_of(conn, run_id)
        slots = slots_by_version(conn, piece.id)
        judged = newest_runs(conn, [piece.id], MOST_RUNS)[piece.id].marked
        here = next(m for m in judged if m.run_id == row.id)
        heard = here.heard.get(word)
        if heard is None:
            raise JournalError(
                f"word {word + 1} was not heard as another word there",
                "see what is in question with `offbook correct PIECE`, or leave out --always",
            )
        slot = slots[row.version_id][word]
        alike = [
            (m.run_id, k)
            for m in judged
            for k, h in m.heard.items()
            if h == heard and slots[m.version_id][k] == slot and (m.letters[k] == "c" or m.run_id == row.id)
        ]
    for run, at in alike:
        correct_word(journal, piece, run, at, "said", CONFIRMED)
    return len(alike)


def _replay(conn: Connection, piece: Piece, drafts: Sequence[Version], key: int) -> None:
    """Work out the memory of one thought again, from everything that was measured of it."""
    before = memories(conn, [piece.id])[piece.id].get(key)
    memory: Memory | None = None
    for at, rating in sorted(_events(conn, piece, drafts, key, None)):
        memory = review(memory, piece.id, key, rating, at)
    if memory is not None and before is not None:
        save_memories(conn, [memory])


def _events(
    conn: Connection, piece: Piece, drafts: Sequence[Version], key: int, until: datetime | None
) -> list[tuple[datetime, int]]:
    """When a thought was rated, and how, before `until`; also the ratings of the thought it came from."""
    place = {v.id: {u.key: n for n, u in enumerate(v.units)} for v in drafts}
    found = [(a.at, a.rating) for a in answers(conn, piece.id, unit=key) if a.rating]
    for row, ratings, _ in rated_runs(conn, piece.id):
        n = place[row.version_id].get(key)
        if n is not None and ratings[n] != UNRATED:
            found.append((row.at, int(ratings[n])))
    first = next((v for v in drafts if key in place[v.id]), None)
    parent = next((u.parent for u in first.units if u.key == key), None) if first is not None else None
    if first is not None and parent is not None and parent != key:
        found += _events(conn, piece, drafts, parent, first.made_at)
    return [f for f in found if until is None or f[0] < until]
