"""Today and the calendar: the one plan over all pieces, briefs and dates, as the screens show it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, request

from offbook import desk
from offbook import journal as journals
from offbook.errors import JournalError
from offbook.page.app import rendered
from offbook.page.room import Room
from offbook.phrasing import minutes_shown
from offbook.records import Performer

if TYPE_CHECKING:
    from offbook.desk import Agenda
    from offbook.journal import Connection
    from offbook.plan import PlanStep
    from offbook.schedule import Task

_INNER = str.maketrans("“”", "‘’")  # quotation marks inside others
WHY = {"late": "waiting", "new": "begin it", "again": "not yet sure"}


def add_day(place: Blueprint, room: Room) -> None:
    """The routes of today and of the calendar."""

    @place.get("/today")
    def today() -> Response:
        from offbook.brief import until
        from offbook.plan import WEEK
        from offbook.schedule import CAUTION, voice_note

        with room.journal.reading() as conn:
            now = room.clock()
            days = [desk.agenda(conn, p, now, room.journal.recordings, most_days=WEEK) for p in _people(conn)]
        return rendered(
            "today.html",
            days=[(d, _pieces(d), voice_note(d.voice, d.performer.voice_minutes)) for d in days],
            cost=_cost,
            until=until,
            minutes=minutes_shown,
            care=CAUTION,
        )

    @place.get("/calendar")
    def calendar() -> Response:
        from offbook.schedule import CAUTION

        with room.journal.reading() as conn:
            plans = desk.plans_of(conn, _people(conn), room.clock())
        return rendered("calendar.html", plans=plans, cost=_cost, care=[CAUTION, desk.CONSENT])

    @place.get("/calendar/<performer>.ics")
    def calendar_file(performer: str) -> Response:
        with room.journal.reading() as conn:
            chosen = [p for p in journals.performers(conn) if p.id == performer]
            if not chosen:
                raise JournalError("there is no such performer", "go back to the calendar")
            plan = desk.plans_of(conn, chosen, room.clock())[0]
        answer = Response(desk.calendar_file(plan), mimetype="text/calendar")
        answer.headers["Content-Disposition"] = 'attachment; filename="offbook.ics"'
        return answer


def _people(conn: Connection) -> list[Performer]:
    """Everybody, or the performer whose key the address names."""
    wanted = request.args.get("who")
    return [p for p in journals.performers(conn) if wanted in (None, p.id)]


def _pieces(d: Agenda) -> list[dict[str, Any]]:
    """Each piece with its thoughts of today and why."""
    found = []
    for p in d.pieces:
        tasks = [t for t in d.plan.today.load.tasks if t.piece_id == p.id]
        found.append(
            {
                "piece": p,
                "left": d.needed_in(p),
                "tasks": [_task(t) for t in tasks],
                "minutes": sum(t.minutes for t in tasks),
                "nothing": _nothing(d, p.id),
            }
        )
    return found


def _task(t: Task) -> dict[str, Any]:
    opening = t.unit.opening.translate(_INNER)
    return {"n": t.unit.n + 1, "opening": opening, "why": WHY.get(t.why, t.why)}


def _nothing(d: Agenda, piece: str) -> str:
    """Why a piece has no drill today, in a sentence."""
    if d.done >= d.performer.minutes_a_day / 2:
        return "Done for today."
    if any(t.piece_id == piece and t.why == "new" for x in d.plan.days[1:] for t in x.load.tasks):
        return "Today's minutes go to what is needed sooner; this piece begins later."
    return "Nothing due: rest, or run it through."


def _cost(step: PlanStep) -> str:
    """What a step costs, in minutes and in minutes of full voice."""
    aloud = f", {max(1, round(step.voice))} aloud" if step.voice else ""
    return f"{minutes_shown(step.minutes)}{aloud}" if step.minutes else ""
