"""`offbook today`: what to work on, for how long, and how much voice is left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import print_json
from offbook.cli.screen import CONTEXT, beside_head, hanging, performer_option, print_listing, say, wrapped
from offbook.desk import chosen_performer, opened_journal
from offbook.phrasing import CHANCE_DECIMALS, minutes_shown, plural

if TYPE_CHECKING:
    from offbook.desk import Agenda, ClassRow
    from offbook.plan import PlanStep
    from offbook.records import Piece

COLUMNS = [
    ("piece", "Piece"),
    ("thought", "Thought"),
    ("opening", "Begins"),
    ("why", "Why"),
    ("recall", "Recall"),
    ("minutes", "Minutes"),
]

COACH_COLUMNS = [
    ("performer", "Performer"),
    ("first", "Most at risk"),
    ("pieces", "Pieces"),
    ("worked", "Worked"),
    ("to_send", "To send"),
]


@click.command("today", context_settings=CONTEXT)
@performer_option
@click.option("--json", "json_", is_flag=True, help="Print the day as JSON.")
@click.option("--csv", "csv_", is_flag=True, help="Print the thoughts due as CSV.")
def today_command(performer: str | None, json_: bool, csv_: bool) -> None:
    """Show the pieces and thoughts due today, the minutes they take, and the voice used.

    If the journal has several performers, each has one line, most at risk first; --performer shows one in
    full.
    """
    from offbook.desk import agenda, class_rows
    from offbook.journal import performers
    from offbook.plan import WEEK

    with opened_journal() as journal, journal.reading() as conn:
        now = journal.clock()
        people = performers(conn) if performer is None else ()
        if len(people) > 1 and not (json_ or csv_):
            _coach(class_rows(conn, now))
            return
        chosen = people if len(people) > 1 else (chosen_performer(conn, performer),)
        days = [agenda(conn, p, now, journal.recordings, most_days=WEEK) for p in chosen]
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


def _coach(rows: list[ClassRow]) -> None:
    """A line for each performer, most at risk first, as many as fit on a screen; the caution once."""
    from offbook.cli.class_view import rows_on_a_screen
    from offbook.schedule import CAUTION

    theirs: dict[str, list[ClassRow]] = {}
    for row in rows:
        theirs.setdefault(row.piece.performer, []).append(row)
    most = rows_on_a_screen() - 2
    listed = [_their_line(name, found) for name, found in list(theirs.items())[:most]]
    say(f"{plural(len(theirs), 'performer')} with work ahead, most at risk first")
    empty = "Nobody has a piece with a day to come."
    print_listing("performers", listed, COACH_COLUMNS, json_=False, csv_=False, empty=empty)
    if len(theirs) > most:
        say(f"{len(theirs) - most} more, less at risk.")
    say("One of them in full: offbook today --performer NAME")
    click.echo(wrapped(CAUTION))


def _their_line(name: str, found: list[ClassRow]) -> dict[str, Any]:
    """One performer in one line. found: their pieces, most at risk first."""
    from offbook.cli.class_view import ago

    worked = max((r.stand.last_work for r in found if r.stand.last_work is not None), default=None)
    open_ = {r.brief.row.id: r for r in found if r.brief is not None and not r.sent}
    late = sum(r.late for r in open_.values())
    first = found[0]
    left = first.days_left
    when = "no date" if left is None else f"in {left} d" if left > 0 else "today" if left == 0 else "passed"
    return {
        "performer": name,
        "first": f"{first.piece.name}: {when}",
        "pieces": len(found),
        "worked": "never" if worked is None else ago(worked, first.today),
        "to_send": f"{len(open_)}, {late} LATE" if late else str(len(open_)) if open_ else None,
    }


def _rows(d: Agenda) -> list[dict[str, Any]]:
    names = {p.id: p.name for p in d.pieces}
    return [
        {
            "piece": names[t.piece_id],
            "thought": t.unit.n + 1,
            "opening": t.unit.opening,
            "why": t.why,
            "recall": None if t.why in ("new", "again") else round(t.recall, CHANCE_DECIMALS),
            "minutes": round(t.minutes, 2),
        }
        for t in d.plan.today.load.tasks
    ]


def _as_json(d: Agenda) -> dict[str, Any]:
    from offbook.schedule import CAUTION

    return {
        "performer": d.performer.name,
        "day": d.day.isoformat(),
        "minutes": round(d.plan.today.load.minutes, 2),
        "minutes_a_day": d.performer.minutes_a_day,
        "minutes_done": round(d.done, 2),
        "steps": [
            {
                "kind": s.kind,
                "what": s.what,
                "minutes": round(s.minutes, 1),
                "voice_minutes": round(s.voice, 1),
            }
            for s in d.plan.today.steps
        ],
        "short": [str(s) for s in d.plan.short],
        "moved": d.plan.today.load.moved,
        "thoughts": _rows(d),
        "ahead": [{"day": x.day.isoformat(), "minutes": round(x.practice, 2)} for x in d.ahead],
        "voice_minutes": round(d.voice, 2),
        "voice_cap": d.performer.voice_minutes,
        "caution": CAUTION,
        "to_send": [{"brief": b.row.name, "deadline": b.row.deadline.isoformat()} for b in d.briefs],
        "unconfirmed": [row.name for row in d.unconfirmed],
        "margin": {p.name: d.margin[p.id] for p in d.pieces if p.id in d.margin},
        "unjudged": [str(d.folder / r.path) for r in d.waiting],
    }


def _screen(d: Agenda) -> str:
    from offbook.report import day_name
    from offbook.schedule import CAUTION, voice_note

    load = d.plan.today.load
    done = f", {minutes_shown(d.done)} done" if d.done >= _SHOWN_DONE else ""
    work = f"about {minutes_shown(load.minutes)} of work" if load.tasks else "nothing due"
    out = [wrapped(f"{day_name(d.day)} · {d.performer.name} · {work}{done}")]
    later = {t.piece_id for x in d.plan.days[1:] for t in x.load.tasks if t.why == "new"}
    for p in d.pieces:
        out += _piece_rows(d, p, p.id in later)
    if not d.pieces:
        out += ["", wrapped("No piece with a day to come. Add one: offbook piece add SCRIPT --date +20")]
    if load.moved:
        out += ["", wrapped(f"{load.moved} more thoughts are due; they are shared out over the days ahead.")]
    aloud = [s for s in d.plan.today.steps if s.kind != "learn"]
    if aloud:
        out.append("\nBesides the drills")
        out += [hanging(f"{s.what[0].upper()}{s.what[1:]}{_cost(s)}", "  ") for s in aloud]
    out += [wrapped(str(s)) for s in d.plan.short]
    ahead = "  ".join(f"{x.day:%a} {round(x.practice)}" for x in d.ahead)
    out += ["", wrapped(f"Minutes ahead: {ahead}", further="  ")]
    out += [*_unjudged_rows(d), *_sending_rows(d), *_margin_rows(d)]
    out.append(wrapped(voice_note(d.voice, d.performer.voice_minutes)))
    out.append(wrapped(CAUTION))
    return "\n".join(out)


_SHOWN_DONE = 0.5  # minutes of work done today from which it is shown: less would be rounded to none


def _piece_rows(d: Agenda, p: Piece, begun_later: bool) -> list[str]:
    """A piece with the thoughts that are due today, and the command that asks for them."""
    from offbook.score import chance_as_text

    tasks = [t for t in d.plan.today.load.tasks if t.piece_id == p.id]
    days = d.needed_in(p)
    out = [f"\n{p.name} ({'no date' if days is None else _left(days)})"]
    if not tasks:
        return [*out, f"  {_nothing(d, begun_later)}"]
    for t in tasks:
        recall = {"new": "new", "again": ""}.get(t.why, chance_as_text(t.recall))
        head = f"  {t.unit.n + 1:>3}  {recall:>4}  {_why(t.why):16}  "
        out.append(beside_head(head, f"{t.unit.opening} …"))
    minutes = max(1, round(sum(t.minutes for t in tasks)))
    return [*out, f'       offbook drill "{p.name}" --minutes {minutes}']


def _unjudged_rows(d: Agenda) -> list[str]:
    """The recordings that were kept but never judged to the end, and what to do with them."""
    from offbook.report import day_name

    names = {p.id: p.name for p in d.pieces}
    out: list[str] = []
    for r in d.waiting:
        name = names[r.piece_id]
        out.append(wrapped(f"A recording of {name} ({day_name(r.day)}) was never judged to the end:"))
        if r.id in d.takes:
            out.append(f'  offbook take judge "{name}" {d.takes[r.id]}')
        else:
            out.append(f'  offbook run "{name}" "{d.folder / r.path}"')
    if out:
        out.append(wrapped("Or delete what you do not need: offbook piece forget PIECE --unjudged"))
    return out


def _sending_rows(d: Agenda) -> list[str]:
    """What is still to be sent, and what was sent and not yet confirmed."""
    from offbook.brief import until

    out = [
        hanging(f'To send: {b.row.name}, {until(b.row.deadline, d.now)}. offbook plan "{b.row.name}"', "")
        for b in d.briefs
        if b.row.deadline >= d.now
    ]
    return out + [
        hanging(f'Ask whether it arrived: {row.name}. Then: offbook brief confirmed "{row.name}"', "")
        for row in d.unconfirmed
    ]


def _margin_rows(d: Agenda) -> list[str]:
    """The pieces with a coach's notes that are not yet worked on."""
    return [
        hanging(f'{plural(count, "note")} in the margin of {p.name}: offbook margin list "{p.name}"', "")
        for p in d.pieces
        if (count := d.margin.get(p.id))
    ]


def _cost(s: PlanStep) -> str:
    """What a step takes, for people."""
    aloud = f", {max(1, round(s.voice))} aloud" if s.voice else ""
    return f" ({minutes_shown(s.minutes)}{aloud})" if s.minutes else ""


def _nothing(d: Agenda, begun_later: bool) -> str:
    """Why a piece has no drill today: the minutes are used, others are more urgent, or it is safe so far."""
    if d.done >= d.performer.minutes_a_day / 2:
        return "done for today"
    if begun_later:
        return "today's minutes go to what is needed sooner; this piece begins later"
    return "nothing due: rest, or run it through"


def _left(days: int) -> str:
    return "today is the day" if days == 0 else f"{days} day{'s' * (days != 1)} left"


def _why(why: str) -> str:
    return {"late": "waiting", "new": "begin it", "again": "not yet sure"}.get(why, why)
