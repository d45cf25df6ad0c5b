"""The review of a take as a screen and as a sheet to print."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from offbook.cli.run_report import name as speech_name
from offbook.cli.screen import hanging, plural, seconds_shown, wide, wrapped
from offbook.cli.sheets import filled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from offbook.delivery import ShiftStatement, StretchFinding
    from offbook.desk import PlacedNote, ReviewedTake, ShiftBeside

_GRADE = {1: "phrase", 2: "thought", 3: "turn"}
_BARS = {1: "|", 2: "||", 3: "|||"}
_QUOTED = 7  # words of a thought that are quoted on the screen


def review_screen(reviewed: ReviewedTake) -> str:
    """The review for people: the text with the evidence, the places worth a listen, what stands out."""
    from offbook.delivery import CANNOT_KNOW

    out = [wrapped(_headline(reviewed)), ""]
    if reviewed.intention:
        out += [wrapped(f"The intention as you stated it: {reviewed.intention}"), ""]
    out += [_shift_line(reviewed, s) for s in reviewed.delivery.shifts if s.grade > 1]
    if reviewed.delivery.worth_a_look:
        out += ["", "Most worth a listen"]
        out += [_place(reviewed, n, p) for n, p in enumerate(reviewed.delivery.worth_a_look, 1)]
    if reviewed.delivery.findings:
        out += ["", "Over longer stretches"]
        out += [_finding(reviewed, f) for f in reviewed.delivery.findings]
    if reviewed.margin:
        out += ["", "In the margin"]
        out += [hanging(in_the_margin(p), "  ") for p in reviewed.margin]
    return "\n".join([*out, "", wrapped(CANNOT_KNOW)])


def in_the_margin(p: PlacedNote) -> str:
    """A note of a coach's as it stands on the sheet."""
    where = f"line {p.line}" if p.line is not None else "a line that was cut"
    return f"{where}, {p.note.author}: {p.note.text}"


def _headline(reviewed: ReviewedTake) -> str:
    d, run = reviewed.delivery, reviewed.heard.review.run
    lost = sum(w.verdict in ("changed", "dropped") for w in run.words)
    shifts = sum(s.grade > 1 for s in d.shifts)
    name = speech_name(reviewed.heard) + (f", take {reviewed.take}" if reviewed.take is not None else "")
    told = f"{d.count('heard')} heard, {d.count('slight')} slight, {d.count('not heard')} not heard"
    if unmeasured := d.count("not measured"):
        told += f", {unmeasured} could not be measured"
    return (
        f"{name}: {seconds_shown(run.seconds)}, {plural(lost, 'word')} lost or changed. "
        f"Of {plural(shifts, 'shift')} of thought: {told}."
    )


def quoted(reviewed: ReviewedTake, first: int, last: int | None = None) -> str:
    """The first words of a stretch, as they stand in the script."""
    words = reviewed.heard.words
    ends = [first + _QUOTED - 1, len(words) - 1 if last is None else last]
    ends += [s.before_word - 1 for s in reviewed.delivery.shifts if s.grade > 1 and s.before_word > first][:1]
    end = min(ends)
    from offbook.drill import as_written

    return as_written(reviewed.heard.script, words, first, end)


def _shift_line(reviewed: ReviewedTake, s: ShiftStatement) -> str:
    at = "" if s.audible == "not measured" and s.at == 0.0 else (seconds_shown(s.at) or "")
    head = f"{at:>6}  {_BARS[s.grade]:<3}  "
    return textwrap.fill(
        f"{quoted(reviewed, s.before_word)} … {s.told}",
        wide(),
        initial_indent=head,
        subsequent_indent=" " * len(head),
        break_on_hyphens=False,
    )


def _place(reviewed: ReviewedTake, n: int, p: ShiftStatement | StretchFinding) -> str:
    return textwrap.fill(
        f"{n}  {seconds_shown(p.at)}  {told_of(reviewed, p)}",
        wide(),
        initial_indent="  ",
        subsequent_indent=" " * 5,
        break_on_hyphens=False,
    )


def told_of(reviewed: ReviewedTake, p: ShiftStatement | StretchFinding) -> str:
    """A place worth a listen, in a sentence."""
    from offbook.delivery import ShiftStatement

    if isinstance(p, ShiftStatement):
        why = reviewed.reason(p.before_word)
        said = f"the {_GRADE[p.grade]} before “{quoted(reviewed, p.before_word)}”: {p.told}."
        return said + (f" The script shifts here: {why}." if why else "")
    return f"{p.kind}: “{quoted(reviewed, p.first, p.last)}”, {p.told}."


def _finding(reviewed: ReviewedTake, f: StretchFinding) -> str:
    return textwrap.fill(
        f"{seconds_shown(f.at):>6}  {told_of(reviewed, f)}",
        wide(),
        subsequent_indent=" " * 8,
        break_on_hyphens=False,
    )


def beside_screen(one: ReviewedTake, other: ReviewedTake, changed: Sequence[ShiftBeside]) -> str:
    """What changed between two takes, shift by shift."""
    out = [f"Take {one.take} beside take {other.take}"]
    for each in (one, other):
        if each.intention:
            out.append(wrapped(f"  take {each.take}: {each.intention}"))
    if not changed:
        return "\n".join([*out, "  Every shift is told alike in both."])
    for c in changed:
        out.append(
            textwrap.fill(
                f"{_BARS[c.grade]} {quoted(one, c.before_word)} … take {one.take}: {c.one.told}; "
                f"take {other.take}: {c.other.told}",
                wide(),
                initial_indent="  ",
                subsequent_indent=" " * 6,
                break_on_hyphens=False,
            )
        )
    return "\n".join(out)


def review_sheet(reviewed: ReviewedTake) -> str:
    """The review as an HTML page that prints on A4, with room for a pencil in the margin."""
    from markupsafe import Markup

    from offbook.delivery import CANNOT_KNOW

    return filled(
        "review.html",
        title=speech_name(reviewed.heard),
        headline=_headline(reviewed),
        intention=reviewed.intention,
        stretches=_stretches(reviewed),
        places=[(seconds_shown(p.at), told_of(reviewed, p)) for p in reviewed.delivery.worth_a_look],
        findings=[(seconds_shown(f.at), told_of(reviewed, f)) for f in reviewed.delivery.findings],
        picture=Markup(reviewed.picture),
        cannot=CANNOT_KNOW,
    )


def _stretches(reviewed: ReviewedTake) -> list[dict[str, Any]]:
    """The text thought by thought, each with the evidence at its beginning."""
    from offbook.drill import as_written

    words, script = reviewed.heard.words, reviewed.heard.script
    shifts = [s for s in reviewed.delivery.shifts if s.grade > 1]
    starts = [0, *(s.before_word for s in shifts)]
    ends = [*(s - 1 for s in starts[1:]), len(words) - 1]
    told = [None, *shifts]
    return [
        {
            "text": as_written(script, words, a, b),
            "bars": "" if s is None else _BARS[s.grade],
            "at": "" if s is None or s.at == 0.0 else seconds_shown(s.at),
            "told": "" if s is None else s.told,
            "notes": [in_the_margin(p) for p in reviewed.margin if p.word is not None and a <= p.word <= b],
        }
        for a, b, s in zip(starts, ends, told, strict=True)
        if b >= a
    ]
