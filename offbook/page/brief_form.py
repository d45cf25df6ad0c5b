"""A brief as a form: its usual points are fields, and are written as the text in which a brief is kept."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from werkzeug.datastructures import MultiDict

from offbook.brief import Brief, Limit, as_toml, raw_of
from offbook.page.forms import FieldError
from offbook.phrasing import clock_tenths

_LONGEST = 200  # characters of a field
_POINTS = 20  # to look at, at most


@dataclass(frozen=True, slots=True)
class BriefFields:
    """What was typed, field by field."""

    name: str = ""
    deadline: str = ""
    clock: str = ""
    pieces: tuple[str, ...] = ()
    shortest: str = ""
    longest: str = ""
    slate: str = ""
    picture: str = ""
    kinds: str = ""
    megabytes: str = ""
    by_eye: str = ""
    together: str = ""
    unbroken: str = ""
    confirm_days: str = ""
    limits: Mapping[str, str] = field(default_factory=dict)
    from_list: tuple[str, ...] = ()
    free: tuple[str, ...] = ()


def given_in(form: MultiDict[str, str]) -> BriefFields:
    """The fields of a form that was sent."""
    one = {
        name: form.get(name, "").strip()[:_LONGEST]
        for name in (
            "name",
            "deadline",
            "clock",
            "shortest",
            "longest",
            "slate",
            "picture",
            "kinds",
            "megabytes",
            "together",
            "unbroken",
            "confirm_days",
        )
    }
    pieces = tuple(form.getlist("piece"))
    numbered = {form.get(f"name-{k}", ""): k for k in range(len(form.getlist("known")))}
    origin = {name: form.get(f"from-{numbered[name]}", "") for name in pieces if name in numbered}
    limits = {name: form.get(f"limit-{numbered[name]}", "").strip() for name in pieces if name in numbered}
    return BriefFields(
        **one,
        pieces=pieces,
        by_eye=form.get("by_eye", "").strip(),
        limits={name: limit[:_LONGEST] for name, limit in limits.items() if limit},
        from_list=tuple(name for name, how in origin.items() if how == "list"),
        free=tuple(name for name, how in origin.items() if how == "free"),
    )


def as_text(given: BriefFields) -> str:
    """The brief as a file would have it; what is empty is left out. Raises FieldError."""
    if not given.deadline:
        raise FieldError("a brief needs the day by which it must be there", "choose it")
    rows = [f"name = {_text(given.name)}", f"deadline = {_moment(given)}"]
    plain = (
        ("shortest", given.shortest), ("longest", given.longest), ("together", given.together),
        ("picture", given.picture),
    )  # fmt: skip
    rows += [f"{key} = {_text(value)}" for key, value in plain if value]
    if given.pieces:
        rows.append(f"pieces = {_texts(given.pieces)}")
    if given.limits:
        each = (f"{_text(name)} = {_limit(limit)}" for name, limit in given.limits.items())
        rows.append(f"limits = {{ {', '.join(each)} }}")
    rows += [
        f"{key} = {_texts(names)}"
        for key, names in (("set_list", given.from_list), ("free", given.free))
        if names
    ]
    if given.unbroken in ("true", "false"):
        rows.append(f"unbroken = {given.unbroken}")
    if given.confirm_days:
        rows.append(f"confirm_days = {_number(given.confirm_days)}")
    if given.slate in ("true", "false"):
        rows.append(f"slate = {given.slate}")
    kinds = given.kinds.replace(",", " ").replace(".", " ").lower().split()
    if kinds:
        rows.append(f"kinds = {_texts(kinds)}")
    if given.megabytes:
        rows.append(f"megabytes = {_number(given.megabytes)}")
    points = [" ".join(row.split())[:_LONGEST] for row in given.by_eye.splitlines() if row.strip()][:_POINTS]
    if points:
        rows.append(f"by_eye = {_texts(points)}")
    return "\n".join(rows) + "\n"


def fields_of(brief: Brief, names: Sequence[str]) -> BriefFields:
    """A brief as the fields of the form. names: of the performer's pieces, with their capitals."""
    known = {name.casefold(): name for name in names}

    def called(pieces: Sequence[str]) -> tuple[str, ...]:
        return tuple(known.get(name.casefold(), name) for name in pieces)

    def time(seconds: float | None) -> str:
        return "" if seconds is None else clock_tenths(seconds)

    def either(value: bool | None) -> str:
        return "" if value is None else str(value).lower()

    limits = {called([x.piece])[0]: _limit_shown(x) for x in brief.limits}
    return BriefFields(
        name=brief.name,
        deadline=f"{brief.deadline:%Y-%m-%d}",
        clock=f"{brief.deadline:%H:%M}",
        pieces=called(brief.pieces),
        shortest=time(brief.shortest),
        longest=time(brief.longest),
        slate=either(brief.slate),
        picture=brief.picture or "",
        kinds=", ".join(brief.kinds),
        megabytes="" if brief.megabytes is None else f"{brief.megabytes:g}",
        by_eye="\n".join(brief.by_eye),
        together=time(brief.together),
        unbroken=either(brief.unbroken),
        confirm_days="" if brief.confirm_days is None else str(brief.confirm_days),
        limits=limits,
        from_list=called(brief.set_list),
        free=called(brief.free),
    )


_RANGE = " to "  # between the shortest and the longest of one piece


def _limit_shown(x: Limit) -> str:
    longest = clock_tenths(x.longest) if x.longest is not None else ""
    return longest if x.shortest is None else f"{clock_tenths(x.shortest)}{_RANGE}{longest}"


def _limit(given: str) -> str:
    """A limit of one piece as TOML: the longest, or the shortest and the longest."""
    shortest, between, longest = given.partition(_RANGE)
    return _texts([shortest.strip(), longest.strip()]) if between else _text(given)


def changed_lines(before: BriefFields, after: BriefFields) -> tuple[list[str], list[str]]:
    """The lines of a brief that were changed in its form, and the keys of those that were emptied.

    Raises FieldError for what is no number or no day.
    """
    was, is_ = raw_of(as_text(before), "the brief"), raw_of(as_text(after), "the brief")
    lines = [f"{key} = {as_toml(value)}" for key, value in is_.items() if was.get(key) != value]
    return lines, [key for key in was if key not in is_]


def _moment(given: BriefFields) -> str:
    """A day, or a day and a time, as TOML writes them, without quotation marks."""
    moment = f"{given.deadline}T{given.clock}:00" if given.clock else given.deadline
    if not set(moment) <= set("0123456789-:T"):
        raise FieldError(
            f"“{given.deadline} {given.clock}” is not a day and time", "choose them in the fields"
        )
    return moment


def _number(value: str) -> str:
    try:
        return f"{float(value):g}"
    except ValueError as e:
        raise FieldError(f"“{value}” is not a number", "write it in figures, such as 200") from e


def _text(value: str) -> str:
    """A text as a TOML basic string; JSON's escapes are valid in TOML 1.0."""
    return json.dumps(value, ensure_ascii=False)


def _texts(values: Sequence[str]) -> str:
    return f"[{', '.join(map(_text, values))}]"
