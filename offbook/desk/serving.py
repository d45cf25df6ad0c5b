"""Which recording serves whom, what conflicts and what is missing, over all open briefs of a performer.

The length of a piece is that of the chosen take, or else that of the last run-throughs; where there are
neither, nothing is said of its length.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import combinations
from statistics import mean
from typing import TYPE_CHECKING

from offbook.brief import SharedRecording, clashes, late, length_told, recordings_of, separate_files
from offbook.desk.agendas import TIMED_RUNS
from offbook.desk.briefs import BriefKept, briefs_of, chosen_for
from offbook.desk.take_log import findings_of_take, unmet_of
from offbook.journal import summaries
from offbook.moment import local_day
from offbook.phrasing import clock_tenths
from offbook.progress import OFF_BOOK

if TYPE_CHECKING:
    from offbook.brief import Brief
    from offbook.journal import Connection
    from offbook.records import Performer, TakeRow

_ROUNDING = 0.5  # s that a length may be over the limit, as in a take's own checks


@dataclass(frozen=True, slots=True)
class Served:
    """One recording.

    briefs: those that it serves, the nearest deadline first; by: that deadline; shortest, longest: seconds,
    None where no brief says; unbroken: True where one of them wants one continuous take, False where none
    does and one allows cuts, None where none says; take: the chosen one, None where none is.
    """

    piece: str
    briefs: tuple[str, ...]
    by: datetime
    shortest: float | None
    longest: float | None
    unbroken: bool | None
    take: TakeRow | None


@dataclass(frozen=True, slots=True)
class Serving:
    """What a performer's open briefs need together. conflicts, missing, late: sentences for people."""

    performer: Performer
    served: tuple[Served, ...]
    conflicts: tuple[str, ...]
    missing: tuple[str, ...]
    late: tuple[str, ...]


def serving_of(conn: Connection, performer: Performer, now: datetime) -> Serving:
    """What a performer's open briefs need together. Those whose deadline has passed are listed apart."""
    known = briefs_of(conn, performer)
    kept = [b for b in known if b.row.sent_at is None]
    due = [b for b in kept if b.brief.deadline >= now]
    chosen = {b.row.name: {p.name: t for p, t in chosen_for(conn, b, known)} for b in due}
    named = [_as_journal(b) for b in due]
    lengths = _lengths(conn, performer, due, chosen)
    served = tuple(_served(r, chosen) for r in recordings_of(named))
    conflicts = [
        *_between(named, performer),
        *(said for b in named for said in _against(b, chosen[b.name], lengths)),
    ]
    missing = [said for b in due for said in _missing(b, chosen[b.row.name])]
    passed = tuple(late(replace(b.brief, name=b.row.name), now) for b in kept if b.brief.deadline < now)
    return Serving(performer, served, tuple(conflicts), tuple(missing), passed)


def _as_journal(kept: BriefKept) -> Brief:
    """A brief under the names that the journal has."""
    return replace(kept.brief, name=kept.row.name, pieces=tuple(p.name for p in kept.pieces))


def _served(r: SharedRecording, chosen: Mapping[str, Mapping[str, TakeRow | None]]) -> Served:
    take = next((t for b in r.briefs if (t := chosen[b.name].get(r.piece)) is not None), None)
    said = [b.unbroken for b in r.briefs if b.unbroken is not None]
    names = tuple(b.name for b in r.briefs)
    by = min(b.deadline for b in r.briefs)
    return Served(r.piece, names, by, r.shortest, r.longest, any(said) if said else None, take)


def _lengths(
    conn: Connection,
    performer: Performer,
    due: Sequence[BriefKept],
    chosen: Mapping[str, Mapping[str, TakeRow | None]],
) -> dict[tuple[str, str], tuple[float, str]]:
    """For each brief and piece, how long a recording lasts (s), and the words that say which recording."""
    stands = summaries(conn, performer.id, clean_percent=OFF_BOOK, newest=TIMED_RUNS)
    found: dict[tuple[str, str], tuple[float, str]] = {}
    for b in due:
        for piece in b.pieces:
            take = chosen[b.row.name].get(piece.name)
            told = None if take is None else findings_of_take(take)
            runs = [r.seconds for r in stands[piece.id].runs if r.seconds > 0] if piece.id in stands else []
            if take is not None and told is not None:
                found[b.row.name, piece.name] = (
                    float(told["seconds"]),
                    f"take {take.n} of {piece.name} lasts",
                )
            elif take is None and runs:
                found[b.row.name, piece.name] = (mean(runs), f"{piece.name}, as run lately, lasts")
    return found


def _between(named: Sequence[Brief], performer: Performer) -> Iterator[str]:
    """Where two briefs ask for different things that one recording, one file or one day cannot be."""
    for one, other in combinations(sorted(named, key=lambda b: b.deadline), 2):
        for piece in [p for p in one.pieces if p in other.pieces]:
            if apart := clashes(one, other, piece):
                yield f"{piece} needs two recordings. {_sentence(apart)}"
            elif files := separate_files(one, other):
                yield f"{piece}: one recording, and a file for each. {_sentence(files)}"
            if not apart and {one.unbroken, other.unbroken} == {True, False}:
                strict = one if one.unbroken else other
                yield f"{piece}: film it in one take, as {strict.name} wants it; the other allows cuts."
        if _day(one, performer) == _day(other, performer):
            yield f"{one.name} and {other.name} are due on the same day, {_day(one, performer):%Y-%m-%d}."


def _sentence(points: Sequence[str]) -> str:
    told = "; ".join(points)
    return f"{told[0].upper()}{told[1:]}."


def _day(brief: Brief, performer: Performer) -> date:
    return local_day(brief.deadline, performer.zone)


def _against(
    brief: Brief,
    chosen: Mapping[str, TakeRow | None],
    lengths: Mapping[tuple[str, str], tuple[float, str]],
) -> Iterator[str]:
    """Where a take or a run-through is not what a brief asks for."""
    total, counted = 0.0, 0
    for piece in brief.pieces:
        if (brief.name, piece) not in lengths:
            continue
        seconds, what = lengths[brief.name, piece]
        total, counted = total + seconds, counted + 1
        shortest, longest = brief.length_of(piece)
        over = longest is not None and seconds > longest + _ROUNDING
        if over or (shortest is not None and seconds < shortest - _ROUNDING):
            yield f"{what} {clock_tenths(seconds)}; {brief.name} wants {length_told(shortest, longest)}."
        take = chosen.get(piece)
        told = None if take is None else findings_of_take(take)
        unmet = [] if told is None else [w for w in unmet_of(told) if w != "length"]
        if take is not None and unmet:
            yield f"take {take.n} of {piece}, for {brief.name}: not met: {', '.join(unmet)}."
    if brief.together is not None and counted and total > brief.together + _ROUNDING:
        which = "all" if counted == len(brief.pieces) else f"{counted} of {len(brief.pieces)} pieces"
        last = f"{which} together last {clock_tenths(total)}"
        yield f"{brief.name}: {last}, and it asks for at most {clock_tenths(brief.together)}."


def _missing(kept: BriefKept, chosen: Mapping[str, TakeRow | None]) -> Iterator[str]:
    brief, name = kept.brief, kept.row.name
    if brief.how_many is not None and len(brief.pieces) < brief.how_many:
        yield f"{name} wants {brief.how_many} pieces and {len(brief.pieces)} are named."
    if not brief.pieces:
        yield f"{name} names no piece."
    if kept.missing:
        there = {p.name.casefold() for p in kept.pieces}
        gone = [p for p in brief.pieces if p.casefold() not in there]
        yield f"{name}: {', '.join(gone or brief.pieces)}: not in the journal under that name."
    without = [piece for piece, take in chosen.items() if take is None]
    if without:
        yield f"{name}: no take is chosen of {', '.join(without)}."
    for piece, take in chosen.items():
        if take is not None and findings_of_take(take) is None:
            yield f"{name}: take {take.n} of {piece} is not judged yet."
