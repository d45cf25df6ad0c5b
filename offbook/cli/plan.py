"""`offbook plan`: counted back from a brief's deadline, what to do on each day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import print_json
from offbook.cli.desk import CONTEXT, chance_shown, opened, performer_option, print_listing, wide, wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime

    from offbook.brief import Brief
    from offbook.journal import BriefRow, Connection, Journal, Performer, Piece
    from offbook.plan import Need, Plan
    from offbook.progress import Forecast

COLUMNS = [
    ("day", "Day"),
    ("what", "What"),
    ("minutes", "Minutes"),
    ("voice_minutes", "Full voice"),
]
_NOTHING = "No brief that names a piece is still to be sent; see `offbook brief list`."
_LATELY = 3  # run-throughs that tell how long a piece takes


@dataclass(frozen=True, slots=True)
class _Planned:
    performer: Performer
    brief: Brief
    today: date
    left: str
    plan: Plan
    takes_on: date
    chances: tuple[tuple[str, Forecast | None], ...]  # for the day of the takes


@click.command("plan", context_settings=CONTEXT)
@click.argument("brief", metavar="[BRIEF]", required=False)
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print the plan as JSON.")
@click.option("--csv", "csv_", is_flag=True, help="Print the steps as CSV.")
def command(brief: str | None, performer: str | None, json_: bool, csv_: bool) -> None:
    """Plan back from a brief's deadline: learn, run through, take, choose, send.

    Without BRIEF, from every one that is still to be sent, the nearest first. The plan is made anew each
    time, from where the pieces stand; plans made together share the cap on full voice.
    """
    if json_ and csv_:
        raise click.UsageError("--json and --csv cannot both be given")
    with opened() as journal, journal.reading() as conn:
        made = _planned(journal, conn, brief, performer)
    if json_:
        print_json({"plans": [_as_json(p) for p in made]})
    elif csv_:
        rows = [{"brief": p.brief.name, **row} for p in made for row in _rows(p.plan)]
        print_listing("steps", rows, [("brief", "Brief"), *COLUMNS], json_=False, csv_=True, empty="")
    else:
        click.echo("\n\n".join([*map(_screen, made), _cautions()]) if made else _NOTHING)


def _planned(journal: Journal, conn: Connection, name: str | None, performer: str | None) -> list[_Planned]:
    from offbook.cli.brief import one_brief, read_briefs
    from offbook.cli.desk import who
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
) -> _Planned:
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
    return _Planned(performer, read, today, until(read.deadline, now), made, takes_on, chances)


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
    from offbook.cli.pace_kept import readings_in
    from offbook.journal import newest_version

    version = newest_version(conn, piece.id)
    if version is None:
        return piece.limit_seconds or read.longest or 60.0
    tempo = timing.tempo_of(version.script, version.words)
    pace = timing.calibrate(readings_in(conn, piece.performer_id), tempo)
    return timing.running_time(timing.plain_of(version.script, version.words, tempo), pace).seconds


def _rows(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "day": day.day,
            "kind": step.kind,
            "what": step.what,
            "minutes": round(step.minutes, 1),
            "voice_minutes": round(step.voice, 1),
        }
        for day in plan.days
        for step in day.steps
    ]


def _as_json(p: _Planned) -> dict[str, Any]:
    from offbook.cli.brief import CONSENT
    from offbook.schedule import CAUTION

    return {
        "brief": p.brief.name,
        "performer": p.performer.name,
        "deadline": p.brief.deadline.isoformat(),
        "today": p.today.isoformat(),
        "steps": [{**row, "day": row["day"].isoformat()} for row in _rows(p.plan)],
        "short": list(p.plan.short),
        "takes_on": p.takes_on.isoformat(),
        "forecast": [
            {
                "piece": name,
                "chance": None if f is None else f.chance,
                "reason": None if f is None else f.reason,
            }
            for name, f in p.chances
        ],
        "voice_cap": p.performer.voice_minutes,
        "cautions": [CAUTION, CONSENT],
    }


def _screen(p: _Planned) -> str:
    import textwrap

    from offbook.journal import zone_named
    from offbook.report import day_name

    when = p.brief.deadline.astimezone(zone_named(p.performer.zone))
    head = f"{p.brief.name} · {p.performer.name} · by {day_name(when.date())}, {when:%H:%M} · {p.left}"
    out = [wrapped(head), ""]
    for day in p.plan.days:
        name = "today" if day.day == p.today else day_name(day.day)
        for n, step in enumerate(day.steps):
            minutes = f"{max(1, round(step.minutes))} min" if step.minutes else ""
            voice = f", {max(1, round(step.voice))} aloud" if step.voice else ""
            tail = f" ({minutes}{voice})" if minutes else ""
            head = f"{name if n == 0 else '':>10}  "
            out.append(
                textwrap.fill(
                    step.what + tail,
                    wide(),
                    initial_indent=head,
                    subsequent_indent=" " * 14,
                    break_on_hyphens=False,
                )
            )
    out += ["", wrapped(f"Off book by the takes ({day_name(p.takes_on)}): {_told(p.chances)}.")]
    out += [wrapped(each) for each in p.plan.short]
    return "\n".join(out)


def _told(chances: tuple[tuple[str, Forecast | None], ...]) -> str:
    """The forecasts for people: how likely 98 % of the words are on that day."""
    told = []
    for name, f in chances:
        chance = None if f is None else chance_shown(f.chance)
        told.append(f"{name} {chance or 'too early to say'}")
    return ", ".join(told)


def _cautions() -> str:
    from offbook.cli.brief import CONSENT
    from offbook.schedule import CAUTION

    return f"{wrapped(CAUTION)}\n{wrapped(CONSENT)}"
