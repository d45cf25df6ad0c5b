"""A performer's plan: all of it, or the part that is for one brief."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from offbook.desk.agendas import Agenda, agenda
from offbook.desk.briefs import BriefKept, one_brief
from offbook.desk.standings import kept_by_piece
from offbook.errors import JournalError
from offbook.journal import Connection
from offbook.moment import zone_named
from offbook.plan import CalendarDay, Deadline, PlanStep, Shortfall, as_icalendar
from offbook.progress import Forecast, forecast_for
from offbook.records import Performer, Piece
from offbook.schedule import CAUTION


@dataclass(frozen=True, slots=True)
class Foretold:
    """How likely a piece is to be off book on the day it is first needed."""

    piece: str
    day: date
    forecast: Forecast | None


@dataclass(frozen=True, slots=True)
class Planned:
    """A performer's plan. only: the brief that it is for, None for everything; briefs: those it shows."""

    agenda: Agenda
    only: BriefKept | None
    briefs: tuple[BriefKept, ...]
    forecasts: tuple[Foretold, ...]

    def steps_of(self, day: CalendarDay) -> tuple[PlanStep, ...]:
        """The steps of a day that are shown."""
        if self.only is None:
            return day.steps
        names = {p.name for p in self.only.pieces}
        wanted = self.only.row.name
        last = max((d.day for d in self.agenda.plan.days if _sends(d, wanted)), default=day.day)
        if day.day > last:
            return ()
        return tuple(s for s in day.steps if wanted in s.briefs or (not s.briefs and names & set(s.pieces)))

    @property
    def short(self) -> tuple[Shortfall, ...]:
        """What cannot be done, of what is shown."""
        if self.only is None:
            return self.agenda.plan.short
        about = {self.only.row.name, *(p.name for p in self.only.pieces)}
        return tuple(s for s in self.agenda.plan.short if s.about in about)


def _sends(day: CalendarDay, brief: str) -> bool:
    return any(s.kind == "send" and brief in s.briefs for s in day.steps)


def plans_of(
    conn: Connection, chosen: Sequence[Performer], now: datetime, brief: str | None = None
) -> list[Planned]:
    """The plans of these performers, or of the one whose brief is named. Raises JournalError."""
    if brief is None:
        return [_planned(conn, person, now, None) for person in chosen]
    only = one_brief(conn, brief, chosen[0].name if len(chosen) == 1 else None)
    if only.row.sent_at is not None:
        raise JournalError(f"{only.row.name} was sent", "if it was not: offbook brief sent NAME --undo")
    if only.brief.deadline < now:
        raise JournalError(
            f"the deadline of {only.row.name} is over: {only.brief.deadline:%Y-%m-%d %H:%M}",
            "ask for a new deadline, and add the brief again with it",
        )
    if only.missing:
        raise JournalError(
            f"{only.missing} of the pieces of {only.row.name} are not in the journal",
            "correct the names in the brief",
        )
    if not only.pieces:
        raise JournalError(
            f"{only.row.name} names no piece to plan for", 'add a line such as pieces = ["the_lamp"] to it'
        )
    owner = next(p for p in chosen if p.id == only.row.performer_id)
    return [_planned(conn, owner, now, only)]


def _planned(conn: Connection, person: Performer, now: datetime, only: BriefKept | None) -> Planned:
    made = agenda(conn, person, now)
    shown = tuple(b for b in made.briefs if only is None or b.row.id == only.row.id)
    wanted = made.pieces if only is None else only.pieces
    needed = {piece.id: day for piece in wanted if (day := _needed_on(made, piece)) is not None}
    kept = kept_by_piece(conn, [piece for piece in wanted if piece.id in needed], made.day)
    forecasts = [
        Foretold(piece.name, day, forecast_for(piece, kept[piece.id], made.day, day))
        for piece in wanted
        if (day := needed.get(piece.id)) is not None
    ]
    return Planned(made, only, shown, tuple(forecasts))


def _needed_on(made: Agenda, piece: Piece) -> date | None:
    """The day of the first takes of a piece, else its own date; None where it is needed on no day."""
    steps = [(d.day, s) for d in made.plan.days for s in d.steps if piece.name in s.pieces]
    return min((day for day, s in steps if s.kind in ("takes", "day")), default=None)


def calendar_file(planned: Planned) -> bytes:
    """The plan as an iCalendar file."""
    made = planned.agenda
    deadlines = [Deadline(b.row.name, b.brief.deadline) for b in made.briefs if b.brief.deadline >= made.now]
    zone = zone_named(made.performer.zone)
    return as_icalendar(made.plan, deadlines, made.performer.name, zone, made.now, CAUTION)
