"""`offbook plan`: counted back from a brief's deadline, what to do on each day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import print_json
from offbook.cli.screen import CONTEXT, chance_shown, performer_option, print_listing, wide, wrapped
from offbook.desk import Planned, opened, plans_for

if TYPE_CHECKING:
    from offbook.plan import Plan
    from offbook.progress import Forecast

COLUMNS = [
    ("day", "Day"),
    ("what", "What"),
    ("minutes", "Minutes"),
    ("voice_minutes", "Full voice"),
]
_NOTHING = "No brief that names a piece is still to be sent; see `offbook brief list`."


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
        made = plans_for(journal, conn, brief, performer)
    if json_:
        print_json({"plans": [_as_json(p) for p in made]})
    elif csv_:
        rows = [{"brief": p.brief.name, **row} for p in made for row in _rows(p.plan)]
        print_listing("steps", rows, [("brief", "Brief"), *COLUMNS], json_=False, csv_=True, empty="")
    else:
        click.echo("\n\n".join([*map(_screen, made), _cautions()]) if made else _NOTHING)


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


def _as_json(p: Planned) -> dict[str, Any]:
    from offbook.desk import CONSENT
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


def _screen(p: Planned) -> str:
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
    from offbook.desk import CONSENT
    from offbook.schedule import CAUTION

    return f"{wrapped(CAUTION)}\n{wrapped(CONSENT)}"
