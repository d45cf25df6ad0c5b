"""`offbook today`: what to work on, for how long, and how much voice is left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import print_json
from offbook.cli.screen import CONTEXT, performer_option, print_listing, wrapped
from offbook.desk import opened

if TYPE_CHECKING:
    from offbook.schedule import Today

COLUMNS = [
    ("piece", "Piece"),
    ("thought", "Thought"),
    ("opening", "Begins"),
    ("why", "Why"),
    ("recall", "Recall"),
    ("minutes", "Minutes"),
]


@click.command("today", context_settings=CONTEXT)
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print the day as JSON.")
@click.option("--csv", "csv_", is_flag=True, help="Print the thoughts due as CSV.")
def command(performer: str | None, json_: bool, csv_: bool) -> None:
    """Show the pieces and thoughts due today, the minutes they take, and the voice used."""
    from offbook.desk import who
    from offbook.journal import performers
    from offbook.schedule import today_for

    with opened() as journal, journal.reading() as conn:
        people = performers(conn) if performer is None else ()
        chosen = people if len(people) > 1 else (who(conn, performer),)
        now = journal.clock()
        days = [today_for(conn, p, now, journal.recordings) for p in chosen]
    if json_ and csv_:
        raise click.UsageError("--json and --csv cannot both be given")
    if json_:
        print_json({"performers": [_as_json(d) for d in days]})
    elif csv_:
        rows = [{"performer": d.performer.name, **row} for d in days for row in _rows(d)]
        columns = [("performer", "Performer"), *COLUMNS]
        print_listing("thoughts", rows, columns, json_=False, csv_=True, empty="")
    else:
        for n, d in enumerate(days):
            click.echo(("\n" if n else "") + _screen(d))


def _rows(d: Today) -> list[dict[str, Any]]:
    names = {p.id: p.name for p in d.pieces}
    return [
        {
            "piece": names[t.piece_id],
            "thought": t.unit.n + 1,
            "opening": t.unit.opening,
            "why": t.why,
            "recall": None if t.why in ("new", "again") else round(t.recall, 3),
            "minutes": round(t.minutes, 2),
        }
        for t in d.loads[0].tasks
    ]


def _as_json(d: Today) -> dict[str, Any]:
    from offbook.schedule import CAUTION

    return {
        "performer": d.performer.name,
        "day": d.day.isoformat(),
        "minutes": round(d.loads[0].minutes, 2),
        "minutes_a_day": d.performer.minutes_a_day,
        "minutes_done": round(d.done, 2),
        "minutes_needed": round(d.needed, 2),
        "moved": d.loads[0].moved,
        "thoughts": _rows(d),
        "ahead": [{"day": x.day.isoformat(), "minutes": round(x.minutes, 2)} for x in d.loads[1:]],
        "voice_minutes": round(d.voice, 2),
        "voice_cap": d.performer.voice_minutes,
        "caution": CAUTION,
        "to_send": [{"brief": b.name, "deadline": b.deadline.isoformat()} for b in d.briefs],
        "unjudged": [str(d.folder / r.path) for r in d.waiting],
    }


def _screen(d: Today) -> str:
    from offbook.brief import until
    from offbook.report import day_name
    from offbook.schedule import CAUTION, voice_note

    load = d.loads[0]
    done = f", {_minutes(d.done)} done" if d.done >= 0.5 else ""
    work = f"about {_minutes(load.minutes)} of work" if load.tasks else "nothing due"
    out = [f"{day_name(d.day)} · {d.performer.name} · {work}{done}"]
    for p in d.pieces:
        tasks = [t for t in load.tasks if t.piece_id == p.id]
        left = "no date" if p.due_day is None else _left((p.due_day - d.day).days)
        out.append(f"\n{p.name} ({left})")
        if not tasks:
            full = d.done >= d.performer.minutes_a_day / 2
            out.append(f"  {'done for today' if full else 'nothing due: rest, or run it through'}")
        for t in tasks:
            recall = {"new": "new", "again": ""}.get(t.why, f"{t.recall:.0%}")
            out.append(f"  {t.unit.n + 1:>3}  {recall:>4}  {_why(t.why):16}  {t.unit.opening} …")
        if tasks:
            minutes = max(1, round(sum(t.minutes for t in tasks)))
            out.append(f'       offbook drill "{p.name}" --minutes {minutes}')
    if not d.pieces:
        out.append("\nNo piece with a day to come. Add one: offbook piece add SCRIPT --date +20")
    if load.moved:
        out.append(f"\n{load.moved} more thoughts are due; they are shared out over the days ahead.")
    if d.needed > d.performer.minutes_a_day * 1.05:
        out.append(
            f"Everything due takes about {_minutes(d.needed)} a day; you allow {d.performer.minutes_a_day:g}."
        )
    ahead = "  ".join(f"{x.day:%a} {round(x.minutes)}" for x in d.loads[1:])
    out.append(f"\nMinutes ahead: {ahead}")
    if d.waiting:
        names = {p.id: p.name for p in d.pieces}
        for r in d.waiting:
            name = names[r.piece_id]
            out.append(f"A recording of {name} ({day_name(r.day)}) was never judged to the end:")
            if r.id in d.takes:
                out.append(f'  offbook take judge "{name}" {d.takes[r.id]}')
            else:
                out.append(f'  offbook run SCRIPT "{d.folder / r.path}" --piece "{name}"')
        out.append("  or delete what is no use: offbook piece forget PIECE --unjudged")
    for b in d.briefs:
        out.append(f'To send: {b.name}, {until(b.deadline, d.now)}. offbook plan "{b.name}"')
    out.append(voice_note(d.voice, d.performer.voice_minutes))
    out.append(wrapped(CAUTION))
    return "\n".join(out)


def _left(days: int) -> str:
    return "today is the day" if days == 0 else f"{days} day{'s' * (days != 1)} left"


def _why(why: str) -> str:
    return {"late": "waiting", "new": "begin it", "again": "not yet sure"}.get(why, why)


def _minutes(minutes: float) -> str:
    return f"{max(1, round(minutes)) if minutes else 0} min"
