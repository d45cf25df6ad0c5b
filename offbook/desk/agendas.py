"""What one performer has to do: the one plan over all their pieces, briefs and dates, from the journal.

`today`, `plan` and `drill` all read it here, so that they cannot say different things.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from statistics import mean

from offbook.brief import recordings_of
from offbook.desk.briefs import BriefKept, briefs_of, chosen_for
from offbook.desk.bundle import overdue
from offbook.journal import (
    Connection,
    drill_seconds,
    memories,
    open_margin_notes,
    parcels,
    pieces_of,
    seconds_a_word,
    summaries,
    take_numbers,
    units_by_piece,
    unjudged,
    voice_seconds,
)
from offbook.moment import local_day
from offbook.phrasing import MINUTE
from offbook.plan import (
    CLEAN_DAYS,
    TAKES,
    WEEK,
    Allowance,
    BriefNeed,
    Calendar,
    CalendarDay,
    PieceNeed,
    RecordingNeed,
    calendar,
)
from offbook.progress import OFF_BOOK, is_clean
from offbook.records import NOTHING_YET, BriefRow, Performer, Piece, Recording, Summary
from offbook.schedule import Item

TYPED = 1.5  # s to type a word, 40 words a minute, until it has been measured; common practice, no source
BETWEEN = 6.0  # s to read a cue and to look at what differs; set by hand
# Words a minute of a piece that was never run through, as `timing` has it for verse and addresses.
PLAIN_RATE = 130.0
TIMED_RUNS = 3  # newest run-throughs that say how long a piece takes; set by hand
# Words a minute: a slower run-through was interrupted, so its length says nothing; set by hand.
LEAST_RATE = 40.0


@dataclass(frozen=True, slots=True)
class Agenda:
    """What one performer has to do.

    pieces: those that are planned for, the nearest date first; briefs: those that are still to be sent; done:
    minutes drilled today; voice: minutes of full voice used today; waiting: recordings that were kept and
    never judged, in `folder`; takes: for a recording's key, the number of its take; unconfirmed: briefs that
    should have been confirmed by now; margin: for a piece's key, how many notes in its margin are still to be
    worked on.
    """

    performer: Performer
    day: date
    now: datetime
    pieces: tuple[Piece, ...]
    briefs: tuple[BriefKept, ...]
    plan: Calendar
    done: float
    voice: float
    waiting: tuple[Recording, ...] = ()
    folder: Path = Path()
    takes: Mapping[str, int] = field(default_factory=dict)
    unconfirmed: tuple[BriefRow, ...] = ()
    margin: Mapping[str, int] = field(default_factory=dict)

    @property
    def ahead(self) -> tuple[CalendarDay, ...]:
        """The days of the week after today."""
        return self.plan.days[1:WEEK]

    def needed_in(self, piece: Piece) -> int | None:
        """Days until the piece's own date or the nearest deadline to come; None where it has neither."""
        left = [] if piece.due_day is None else [(piece.due_day - self.day).days]
        for b in self.briefs:
            if piece in b.pieces and b.row.deadline >= self.now:
                # Whole days, as beside the brief; for the last two days the calendar's days are what people
                # count.
                whole = (b.row.deadline - self.now).days
                by_day = (local_day(b.row.deadline, piece.zone) - self.day).days
                left.append(whole if whole > 1 else by_day)
        return min((days for days in left if days >= 0), default=None)


def items_of(conn: Connection, owned: Sequence[Piece]) -> list[Item]:
    """The thoughts of these pieces as the schedule sees them."""
    ids = [p.id for p in owned]
    units, known, paces = units_by_piece(conn, ids), memories(conn, ids), seconds_a_word(conn, ids)
    out: list[Item] = []
    for p in owned:
        each = paces.get(p.id) or TYPED
        for u in units.get(p.id, ()):
            memory = known[p.id].get(u.key)
            out.append(Item(p.id, u, memory, p.due_day, p.zone, u.words * each + BETWEEN))
    return out


def agenda(
    conn: Connection,
    performer: Performer,
    now: datetime,
    folder: Path = Path(),
    *,
    most_days: int | None = None,
) -> Agenda:
    """The plan of a performer, from their present local day on.

    folder: where recordings are kept; most_days: how many of its days are planned, None for all. In a large
    journal a week takes much less time.
    """
    day = local_day(now, performer.zone)
    everything = pieces_of(conn, performer.id)
    known = briefs_of(conn, performer, everything)
    kept = tuple(b for b in known if b.row.sent_at is None)
    asked = {p.id for b in kept if b.brief.deadline >= now for p in b.pieces}
    owned = tuple(p for p in everything if p.due_day is None or p.due_day >= day or p.id in asked)
    stands = summaries(conn, performer.id, clean_percent=OFF_BOOK, newest=TIMED_RUNS)
    done = drill_seconds(conn, performer.id, day) / MINUTE
    voice = voice_seconds(conn, performer.id, day) / MINUTE
    allowance = Allowance(performer.minutes_a_day, performer.voice_minutes, done, voice)
    waiting = unjudged(conn, *(p.id for p in owned))
    plan = calendar(
        _needs(conn, owned, stands, day),
        [_brief_need(b, now, day) for b in kept],
        _recordings(conn, kept, known, now),
        day,
        allowance,
        most_days=most_days,
    )
    numbers = {
        key: n for piece in {r.piece_id for r in waiting} for key, n in take_numbers(conn, piece).items()
    }
    return Agenda(
        *(performer, day, now, owned, kept, plan, done, voice, waiting, folder, numbers),
        unconfirmed=_unconfirmed(conn, known, day),
        margin=open_margin_notes(conn, performer.id),
    )


def _unconfirmed(conn: Connection, known: Sequence[BriefKept], day: date) -> tuple[BriefRow, ...]:
    """The briefs that were sent and should have been confirmed by this day."""
    sent = {b.row.id: b.row for b in known if b.row.sent_at is not None}
    if not sent:
        return ()
    packed = parcels(conn, list(sent))
    return tuple(row for key, row in sent.items() if key in packed and overdue(packed[key][-1], day))


def _needs(
    conn: Connection, owned: Sequence[Piece], stands: Mapping[str, Summary], day: date
) -> list[PieceNeed]:
    """The pieces as the plan sees them."""
    by_piece: dict[str, list[Item]] = {p.id: [] for p in owned}
    for item in items_of(conn, owned):
        by_piece[item.piece_id].append(item)
    own_rate = _rate(stands.values())
    return [
        PieceNeed(
            p.id,
            p.name,
            _seconds(stands.get(p.id, NOTHING_YET), by_piece[p.id], own_rate),
            _clean_days(stands.get(p.id, NOTHING_YET)),
            tuple(by_piece[p.id]),
            p.due_day if p.due_day is not None and p.due_day >= day else None,
        )
        for p in owned
    ]


def _rate(stands: Iterable[Summary]) -> float:
    """Words a minute of this performer's newest run-throughs; `PLAIN_RATE` where there is none."""
    rates = [r.rate_wpm for s in stands for r in s.runs if r.rate_wpm >= LEAST_RATE]
    return mean(rates) if rates else PLAIN_RATE


def _seconds(stand: Summary, items: Sequence[Item], rate: float) -> float:
    """How long a run-through takes (s): as the newest did, or else as long as its words take at `rate`."""
    lately = [r.seconds for r in stand.runs if r.seconds > 0]
    return mean(lately) if lately else sum(i.unit.words for i in items) * MINUTE / rate


def _clean_days(stand: Summary) -> int:
    """Days with a clean run-through; one less than off book where the newest one slipped."""
    if stand.runs and not is_clean(stand.runs[-1]):
        return min(stand.clean_days, CLEAN_DAYS - 1)  # so that it is run at least once more
    return stand.clean_days


def _brief_need(kept: BriefKept, now: datetime, day: date) -> BriefNeed:
    deadline = local_day(kept.brief.deadline, kept.pieces[0].zone) if kept.pieces else day
    return BriefNeed(
        kept.row.name,
        deadline,
        tuple(p.id for p in kept.pieces),
        kept.brief.takes or TAKES,
        kept.brief.deadline < now,
    )


def _recordings(
    conn: Connection, kept: Sequence[BriefKept], known: Sequence[BriefKept], now: datetime
) -> list[RecordingNeed]:
    """The recordings that the open briefs need, made or not; one that serves several briefs is one recording.

    A brief whose deadline has passed is left out: nobody records for it any more.
    """
    due = [b for b in kept if b.brief.deadline >= now]
    has = {(b.row.name, p.id): take is not None for b in due for p, take in chosen_for(conn, b, known)}
    keys = {(b.row.name, p.name): p.id for b in due for p in b.pieces}
    named = [replace(b.brief, name=b.row.name, pieces=tuple(p.name for p in b.pieces)) for b in due]
    found = []
    for r in recordings_of(named):
        piece = keys[r.briefs[0].name, r.piece]
        made = any(has[b.name, piece] for b in r.briefs)
        found.append(RecordingNeed((piece,), tuple(b.name for b in r.briefs), made))
    return found
