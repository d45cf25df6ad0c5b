"""The day's work of one performer, read from the journal: all pieces, one budget of minutes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from offbook.journal import (
    BriefRow,
    Connection,
    Performer,
    Piece,
    Recording,
    briefs,
    drill_seconds,
    local_day,
    memories,
    pieces,
    seconds_a_word,
    take_numbers,
    units_by_piece,
    unjudged,
    voice_seconds,
)
from offbook.schedule.spacing import DayLoad, Item, minutes_needed, plan

TYPED = 1.5  # seconds a word, 40 words a minute: common practice, no source; then as measured
BETWEEN = 6.0  # seconds to read a cue and look at the difference


@dataclass(frozen=True, slots=True)
class Today:
    """What one performer should do today. loads: today first, then the days ahead.

    needed: minutes a day that everything due takes. done: minutes drilled today. voice: minutes of
    full voice used so far. waiting: recordings that
    were kept but never judged, below `folder`. briefs: still to be sent, the nearest deadline first.
    takes: by the key of a recording, the number of the take that it is.
    """

    performer: Performer
    day: date
    pieces: tuple[Piece, ...]
    loads: tuple[DayLoad, ...]
    needed: float
    done: float
    voice: float
    waiting: tuple[Recording, ...]
    folder: Path
    now: datetime
    briefs: tuple[BriefRow, ...]
    takes: Mapping[str, int]


def items_of(conn: Connection, owned: Sequence[Piece]) -> list[Item]:
    """The thoughts of these pieces as the schedule sees them."""
    ids = [p.id for p in owned]
    units, known = units_by_piece(conn, ids), memories(conn, ids)
    out: list[Item] = []
    for p in owned:
        each = seconds_a_word(conn, p.id) or TYPED
        for u in units.get(p.id, ()):
            memory = known[p.id].get(u.key)
            out.append(Item(p.id, u, memory, p.due_day, p.zone, u.words * each + BETWEEN))
    return out


def today_for(conn: Connection, performer: Performer, now: datetime, folder: Path = Path()) -> Today:
    """The work of the performer's present local day and the six after it."""
    day = local_day(now, performer.zone)
    owned = tuple(p for p in pieces(conn, performer.id) if p.due_day is None or p.due_day >= day)
    items = items_of(conn, owned)
    done = drill_seconds(conn, performer.id, day) / 60
    waiting = tuple(r for p in owned for r in unjudged(conn, p.id))
    return Today(
        performer,
        day,
        owned,
        plan(items, day, performer.minutes_a_day, done=done),
        minutes_needed(items, day) if items else 0.0,
        done,
        voice_seconds(conn, performer.id, day) / 60,
        waiting,
        folder,
        now,
        tuple(b for b in briefs(conn, performer.id) if b.sent_at is None and b.deadline >= now),
        {key: n for piece in {r.piece_id for r in waiting} for key, n in take_numbers(conn, piece).items()},
    )
