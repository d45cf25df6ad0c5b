"""`offbook plan`: the one calendar of a performer, day by day, and what it cannot hold."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook import desk
from offbook.cli.common import print_json
from offbook.cli.screen import CONTEXT, chance_shown, performer_option, print_listing, say, wrapped
from offbook.desk import chosen_performer, opened_journal
from offbook.errors import OffbookError
from offbook.outgoing import write_named

if TYPE_CHECKING:
    from offbook.desk import Planned
    from offbook.plan import PlanStep

COLUMNS = [
    ("day", "Day"),
    ("what", "What"),
    ("minutes", "Minutes"),
    ("voice_minutes", "Full voice"),
]

_LISTS = ("pieces", "briefs")


@click.command("plan", context_settings=CONTEXT)
@click.argument("brief", metavar="[BRIEF]", required=False)
@performer_option
@click.option(
    "--ics",
    metavar="FILE",
    help="Write it as a calendar file (iCalendar) with alarms the evening before.",
)
@click.option("--json", "json_", is_flag=True, help="Print the plan as JSON.")
@click.option("--csv", "csv_", is_flag=True, help="Print the steps as CSV.")
def plan_command(brief: str | None, performer: str | None, ics: str | None, json_: bool, csv_: bool) -> None:
    """Plan every day up to the deadlines: what to learn, run through, record, choose and send.

    The plan is worked out again each time from how well the pieces are known. It keeps to your minutes a
    day and to the limit on full voice. With BRIEF only the steps that are for it are shown. `offbook today`
    is the first day of the same plan.
    """
    from offbook.desk import plans_of
    from offbook.journal import performers

    if json_ and csv_:
        raise click.UsageError("--json and --csv cannot both be given")
    with opened_journal() as journal, journal.reading() as conn:
        people = performers(conn) if performer is None else ()
        chosen = people if len(people) > 1 else (chosen_performer(conn, performer),)
        made = plans_of(conn, chosen, journal.clock(), brief)
    if ics is not None:
        _write_ics(Path(ics), made)
    elif json_:
        print_json({"plans": [_as_json(p) for p in made]})
    elif csv_:
        rows = [{"performer": p.agenda.performer.name, **row} for p in made for row in _rows(p)]
        listed = [("performer", "Performer"), *COLUMNS]
        print_listing("steps", rows, listed, json_=False, csv_=True, empty="")
    else:
        click.echo("\n\n".join([*(_screen(p) for p in made), _cautions()]))


def _write_ics(path: Path, made: list[Planned]) -> None:
    """One file for one performer's plan. Raises OffbookError."""
    from offbook.desk import calendar_file

    if len(made) != 1:
        raise OffbookError(
            "a calendar file holds one performer's plan", "name the performer with --performer NAME"
        )
    write_named(path, calendar_file(made[0]))
    say(f"{path} is written. Open it with your calendar program. Written again, it updates what has changed.")


def _rows(p: Planned) -> list[dict[str, Any]]:
    return [
        {
            "day": day.day,
            "kind": step.kind,
            "what": step.what,
            "pieces": "; ".join(step.pieces),
            "briefs": "; ".join(step.briefs),
            "minutes": round(step.minutes, 1),
            "voice_minutes": round(step.voice, 1),
        }
        for day in p.agenda.plan.days
        for step in p.steps_of(day)
    ]


def _as_json(p: Planned) -> dict[str, Any]:
    from offbook.schedule import CAUTION

    plan = p.agenda.plan
    return {
        "performer": p.agenda.performer.name,
        "today": p.agenda.day.isoformat(),
        "briefs": [
            {
                "brief": b.row.name,
                "deadline": b.brief.deadline.isoformat(),
                "takes_on": None if (on := plan.takes_on.get(b.row.name)) is None else on.isoformat(),
            }
            for b in p.briefs
        ],
        "steps": [
            {**row, "day": row["day"].isoformat()} | {k: row[k].split("; ") if row[k] else [] for k in _LISTS}
            for row in _rows(p)
        ],
        "short": [str(s) for s in p.short],
        "forecast": [
            {
                "piece": f.piece,
                "day": f.day.isoformat(),
                "chance": None if f.forecast is None else f.forecast.chance,
                "reason": None if f.forecast is None else f.forecast.reason,
            }
            for f in p.forecasts
        ],
        "minutes_a_day": p.agenda.performer.minutes_a_day,
        "voice_cap": p.agenda.performer.voice_minutes,
        "cautions": [CAUTION, desk.CONSENT],
    }


def _screen(p: Planned) -> str:
    from offbook.brief import until
    from offbook.moment import zone_named
    from offbook.report import day_name

    person = p.agenda.performer
    out = [
        wrapped(
            f"{person.name} · {person.minutes_a_day:g} minutes of practice a day, at most "
            f"{person.voice_minutes:g} at full voice"
        )
    ]
    for b in p.briefs:
        when = b.brief.deadline.astimezone(zone_named(person.zone))
        left = until(b.brief.deadline, p.agenda.now)
        out.append(wrapped(f"{b.row.name} · by {day_name(when.date())}, {when:%H:%M} · {left}"))
    out.append("")
    steps = [(day.day, p.steps_of(day)) for day in p.agenda.plan.days]
    for day, found in steps:
        name = "today" if day == p.agenda.day else day_name(day)
        out += [_line(step, name if n == 0 else "") for n, step in enumerate(found)]
    if not any(found for _, found in steps):
        out.append(wrapped("Nothing to plan for: add a piece with a date, or a brief that names one."))
    if p.forecasts:
        out += ["", wrapped(f"Off book on the day it is needed: {_told(p)}.")]
    out += [wrapped(str(s)) for s in p.short]
    return "\n".join(out)


def _line(step: PlanStep, name: str) -> str:
    """One step for people, under the name of its day."""
    minutes = f"{max(1, round(step.minutes))} min" if step.minutes else ""
    voice = f", {max(1, round(step.voice))} aloud" if step.voice else ""
    tail = f" ({minutes}{voice})" if minutes else ""
    what = f"{step.what[0].upper()}{step.what[1:]}{tail}"
    head = f"{name:>10}  "
    return wrapped(what, head, " " * (len(head) + 2))


def _told(p: Planned) -> str:
    """The forecasts for people: how likely 98 % of the words are on that day."""
    from offbook.report import day_name

    told = []
    for f in p.forecasts:
        chance = None if f.forecast is None else chance_shown(f.forecast.chance)
        told.append(f"{f.piece} {chance or 'too early to say'} ({day_name(f.day)})")
    return ", ".join(told)


def _cautions() -> str:
    from offbook.schedule import CAUTION

    return f"{wrapped(CAUTION)}\n{wrapped(desk.CONSENT)}"
