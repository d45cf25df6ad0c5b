"""Plans counted back from the deadlines of briefs, from where the pieces stand in the journal."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from offbook.desk.briefs import one_brief, read_briefs
from offbook.desk.finding import who
from offbook.desk.own_pace import readings_in

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime

    from offbook.brief import Brief
    from offbook.journal import BriefRow, Connection, Journal, Performer, Piece
    from offbook.plan import Need, Plan
    from offbook.progress import Forecast

_LATELY = 3  # run-throughs that tell how long a piece takes


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan back from one brief, with what was asked and how likely each piece is by the takes."""

    performer: Performer
    brief: Brief
    today: date
    left: str
    plan: Plan
    takes_on: date
    chances: tuple[tuple[str, Forecast | None], ...]  # for the day of the takes


def plans_for(journal: Journal, conn: Connection, name: str | None, performer: str | None) -> list[Planned]:
    """The plans back from the brief called `name`, or from every open one, nearest deadline first.

    Raises JournalError or PlanError.
    """
    from offbook.journal import performers
    from offbook.plan import MOST_DAYS

    people = {p.id: p for p in performers(conn)}
    now, far = journal.clock(), timedelta(days=MOST_DAYS)
    if name is not None:
        chosen = [one_brief(conn, name, performer)]
    else:
        owner = None if performer is None else who(conn, performer).id
        chosen = [
            each
            for each in read_briefs(conn, owner)
            if each[0].sent_at is None and each[2] and timedelta() <= each[1].deadline - now <= far
        ]
    voice: dict[str, dict[date, float]] = {}  # by performer: what the nearer plans want of each day
    made = []
    for row, read, owned in chosen:
        wanted = voice.setdefault(row.performer_id, {})
        made.append(_plan(conn, people[row.performer_id], row, read, owned, now, wanted))
        for day in made[-1].plan.days:
            wanted[day.day] = wanted.get(day.day, 0.0) + day.voice
    return made


def _plan(
    conn: Connection,
    performer: Performer,
    row: BriefRow,
    read: Brief,
    owned: list[Piece],
    now: datetime,
    elsewhere: Mapping[date, float],
) -> Planned:
    from offbook.brief import until
    from offbook.journal import drill_seconds, local_day, voice_seconds
    from offbook.plan import TAKES, PlanError, plan_back
    from offbook.progress import forecast_for

    if row.sent_at is not None:
        raise PlanError(f"{read.name} was sent", "if it was not: offbook brief sent NAME --undo")
    if read.deadline < now:
        raise PlanError(
            f"the deadline of {read.name} is over: {read.deadline:%Y-%m-%d %H:%M}",
            "ask for a new one, and take the brief in anew with it",
        )
    gone = len(read.pieces) - len(owned)
    if gone:
        raise PlanError(
            f"{gone} of the pieces of {read.name} are not in the journal", "put the names in the brief right"
        )
    today = local_day(now, performer.zone)
    needs = [_need(conn, piece, read) for piece in owned]
    made = plan_back(
        needs,
        today,
        local_day(read.deadline, performer.zone),
        minutes_a_day=performer.minutes_a_day,
        voice_minutes=performer.voice_minutes,
        takes=read.takes or TAKES,
        minutes_done=drill_seconds(conn, performer.id, today) / 60,
        voice_used=voice_seconds(conn, performer.id, today) / 60,
        elsewhere=elsewhere,
    )
    takes_on = next(day.day for day in made.days if any(step.kind == "takes" for step in day.steps))
    chances = tuple(
        (piece.name, forecast_for(conn, piece, need.items, today, takes_on))
        for piece, need in zip(owned, needs, strict=True)
    )
    return Planned(performer, read, today, until(read.deadline, now), made, takes_on, chances)


def _need(conn: Connection, piece: Piece, read: Brief) -> Need:
    """What the plan has to know of a piece. Its length is as run lately, else as the text lets expect."""
    from offbook.journal import day_totals, runs
    from offbook.plan import CLEAN_DAYS, Need
    from offbook.progress import OFF_BOOK, by_day, off_book
    from offbook.schedule import items_of

    newest = runs(conn, piece.id, _LATELY)
    lately = [r.seconds for r in newest if r.seconds > 0]
    seconds = sum(lately) / len(lately) if lately else _expected(conn, piece, read)
    rule = off_book(by_day(day_totals(conn, piece.id, OFF_BOOK)), newest[-1] if newest else None)
    clean = len(rule.clean_days)
    if not rule.holds:
        clean = min(clean, CLEAN_DAYS - 1)  # it slipped since: once more at least
    return Need(piece.name, seconds, clean, tuple(items_of(conn, [piece])))


def _expected(conn: Connection, piece: Piece, read: Brief) -> float:
    """Seconds that a piece is expected to take, at the performer's own pace where that is known."""
    from offbook import timing
    from offbook.journal import newest_version

    version = newest_version(conn, piece.id)
    if version is None:
        return piece.limit_seconds or read.longest or 60.0
    tempo = timing.tempo_of(version.script, version.words)
    pace = timing.calibrate(readings_in(conn, piece.performer_id), tempo)
    return timing.running_time(timing.plain_of(version.script, version.words, tempo), pace).seconds
