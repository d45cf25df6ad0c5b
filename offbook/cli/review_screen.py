"""The review of a take as a screen and as a sheet to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.cli.screen import beside_head, hanging, wrapped
from offbook.desk import (
    UNITS_EXPLAINED,
    filled_template,
    margin_note_in_words,
    other_findings,
    place_in_words,
    review_headline,
    reviewed_stretches,
    speech_name,
    was_measured,
    written_opening,
)
from offbook.markup import BARS
from offbook.phrasing import clock_time

if TYPE_CHECKING:
    from collections.abc import Sequence

    from offbook.delivery import ShiftStatement, StretchFinding
    from offbook.desk import ReviewedTake, ShiftBeside


def review_screen(reviewed: ReviewedTake) -> str:
    """The review for people: the text with the evidence, the places worth a listen, what stands out."""
    from offbook.delivery import CANNOT_KNOW

    out = [wrapped(review_headline(reviewed)), wrapped(UNITS_EXPLAINED), ""]
    if reviewed.intention:
        out += [wrapped(f"The intention as you stated it: {reviewed.intention}"), ""]
    out += [_shift_line(reviewed, s) for s in reviewed.delivery.shifts if s.grade > 1]
    if reviewed.delivery.worth_a_look:
        out += ["", "Most worth a listen"]
        out += [_place(reviewed, n, p) for n, p in enumerate(reviewed.delivery.worth_a_look, 1)]
    if besides := other_findings(reviewed):
        out += ["", "Over longer stretches"]
        out += [_finding(reviewed, f) for f in besides]
    if reviewed.margin:
        out += ["", "In the margin"]
        out += [hanging(margin_note_in_words(p), "  ") for p in reviewed.margin]
    return "\n".join([*out, "", wrapped(CANNOT_KNOW)])


_UNDER_NUMBER, _UNDER_BARS = " " * len("  1  "), " " * len("  ||  ")  # indents of further rows


def _shift_line(reviewed: ReviewedTake, s: ShiftStatement) -> str:
    at = clock_time(s.at) if was_measured(s) else ""
    head = f"{at:>6}  {BARS[s.grade]:<3}  "
    return beside_head(head, f"{written_opening(reviewed, s.before_word)} … {s.told}")


def _place(reviewed: ReviewedTake, n: int, p: ShiftStatement | StretchFinding) -> str:
    return wrapped(f"{n}  {clock_time(p.at)}  {place_in_words(reviewed, p)}", "  ", _UNDER_NUMBER)


def _finding(reviewed: ReviewedTake, f: StretchFinding) -> str:
    return beside_head(f"{clock_time(f.at):>6}  ", place_in_words(reviewed, f))


def beside_screen(one: ReviewedTake, other: ReviewedTake, changed: Sequence[ShiftBeside]) -> str:
    """What changed between two takes, shift by shift."""
    out = [f"Take {one.take} beside take {other.take}"]
    for each in (one, other):
        if each.intention:
            out.append(wrapped(f"  take {each.take}: {each.intention}"))
    if not changed:
        return "\n".join([*out, "  Every shift came out the same in both."])
    out.append(wrapped(UNITS_EXPLAINED))
    for c in changed:
        told = (
            f"{BARS[c.grade]} {written_opening(one, c.before_word)} … take {one.take}: {c.one.told}; "
            f"take {other.take}: {c.other.told}"
        )
        out.append(wrapped(told, "  ", _UNDER_BARS))
    return "\n".join(out)


def review_sheet(reviewed: ReviewedTake) -> str:
    """The review as an HTML page that prints on A4, with room for a pencil in the margin."""
    from markupsafe import Markup

    from offbook.delivery import CANNOT_KNOW

    return filled_template(
        "review.html",
        title=speech_name(reviewed.heard),
        headline=review_headline(reviewed),
        intention=reviewed.intention,
        stretches=[
            {
                "text": s.text,
                "bars": s.bars,
                "at": "" if s.at is None else clock_time(s.at),
                "told": s.told,
                "notes": [margin_note_in_words(p) for p in s.notes],
            }
            for s in reviewed_stretches(reviewed)
        ],
        places=[(clock_time(p.at), place_in_words(reviewed, p)) for p in reviewed.delivery.worth_a_look],
        findings=[(clock_time(f.at), place_in_words(reviewed, f)) for f in other_findings(reviewed)],
        picture=Markup(reviewed.picture),
        units=UNITS_EXPLAINED,
        cannot=CANNOT_KNOW,
    )
