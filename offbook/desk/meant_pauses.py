"""The pauses that a performer means: those they marked, and those they always make."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from offbook.records import Piece, Version

if TYPE_CHECKING:
    from offbook.journal import Connection
    from offbook.score import Run

# Set by hand.
_RUNS = 5  # newest run-throughs of this draft that are looked at
# At least so many of them must have both words around the pause, and all of those must have the pause.
_ALWAYS = 3
_PAUSE = 1.0  # s from which a silence is a pause; shorter ones are part of speaking
_DRY = 6.0  # s: a longer silence may be a dry, which nobody means to make (as in the line notes)


def marked_pauses(version: Version, path: Path | None = None) -> frozenset[int]:
    """The script words before which the performer has put a mark of their own.

    path: the pencil file; None for the one beside the script. A file that offbook wrote holds every computed
    mark: only those that the performer changed count. Raises PencilError where the file cannot be read.
    """
    from offbook import pencil

    path = pencil.pencil_path(version.script) if path is None else path
    if path is None or not path.is_file():
        return frozenset()
    pencilled = pencil.load_pencil(path, version.words)
    marks = {(s.before_word, s.grade) for s in pencilled.shifts if s.grade}
    if marks and pencilled.only:
        from offbook.thoughts import marks_of

        marks -= {(s.before_word, s.grade) for s in marks_of(version.script, version.words, pencil.Pencil())}
    return frozenset(word for word, _ in marks)


def usual_pauses(conn: Connection, piece: Piece, version: Version) -> dict[int, float]:
    """For each word before which all the newest run-throughs pause, their longest silence there (s)."""
    from offbook.journal import runs, scored_run

    newest = [r for r in runs(conn, piece.id, last=_RUNS) if r.version_id == version.id]
    return pauses_in([scored_run(conn, r.id) for r in newest])


def pauses_in(scored: list[Run]) -> dict[int, float]:
    """For each word before which all of several run-throughs pause, their longest silence there (s)."""
    silences: dict[int, list[float]] = {}
    for run in scored:
        for before, word in zip(run.words, run.words[1:], strict=False):
            if before.end is not None and word.start is not None:
                silences.setdefault(word.i, []).append(word.start - before.end)
    return {
        i: max(each)
        for i, each in silences.items()
        if len(each) >= _ALWAYS and all(_PAUSE <= s <= _DRY for s in each)
    }
