"""What was settled otherwise on the two sides of an import, with the command that takes the other."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from offbook.phrasing import clock_tenths

if TYPE_CHECKING:
    from offbook.journal import Differing


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that differs. said: both values, and which one the journal has now; command: the words after
    `offbook` that take the other one, none where that needs more than a command. theirs: the command takes
    what the archive has."""

    said: str
    command: tuple[str, ...]
    theirs: bool


_CALLED = {
    "name": "name",
    "part": "part",
    "limit_seconds": "limit",
    "due_day": "date",
    "keep_recordings": "recordings",
    "zone": "time zone",
    "minutes_a_day": "minutes of practice a day",
    "voice_minutes": "minutes of full voice a day",
    "sent_at": "sent",
    "confirmed_at": "confirmed",
    "done_at": "done",
    "chosen": "take chosen",
    "checks": "what was checked",
}
_OPTIONS = {
    "name": "--name",
    "part": "--part",
    "limit_seconds": "--limit",
    "due_day": "--date",
    "zone": "--zone",
    "minutes_a_day": "--minutes",
    "voice_minutes": "--voice-minutes",
}


def differences(found: Differing) -> list[Difference]:
    """One difference in words; a brief's text gives one for each line of it that differs."""
    if found.column == "text":
        return _of_brief(found)
    here, there = _value(found.column, found.here), _value(found.column, found.there)
    about = found.name if found.number is None or found.column == "chosen" else _numbered(found)
    said = f"{about}: {_CALLED[found.column]} {here} here, {there} there. {_which(found)}"
    return [Difference(said, _command(found, here if found.taken else there), not found.taken)]


def _numbered(found: Differing) -> str:
    return f"{found.name}, {'take' if found.table == 'take' else 'note'} {found.number}"


def _which(found: Differing) -> str:
    """Which of the two the journal has now, and why."""
    if found.taken:
        return "Theirs was changed later, and is taken."
    if found.together:
        return "Neither is known to be later: yours stays."
    if found.later_there:
        return "Theirs was changed later, but another one here has that name: yours stays."
    return "Yours was changed later, and stays."


def _value(column: str, value: Any) -> str:
    if column == "keep_recordings":
        return "kept" if value else "not kept"
    if column == "checks":
        return "judged" if value else "not judged"
    if value is None:
        if column == "part":
            return "all"
        return "none" if column in _OPTIONS or column == "chosen" else "not yet"
    if column == "limit_seconds":
        return clock_tenths(float(value))
    if isinstance(value, datetime | date):
        return f"{value:%Y-%m-%d}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _command(found: Differing, other: str) -> tuple[str, ...]:
    """The words that take the other value."""
    undo = ("--undo",) if (found.here if found.taken else found.there) is None else ()
    match found.column:
        case "sent_at":
            return ("brief", "sent", found.name, *undo)
        case "confirmed_at":
            return ("brief", "confirmed", found.name, *undo)
        case "done_at":
            return ("margin", "done", found.name, str(found.number), *undo)
        case "chosen":
            return () if other == "none" else ("take", "choose", found.name, other)
        case "checks":
            return ("take", "judge", found.name, str(found.number))
        case "keep_recordings":
            return ("piece", "set", found.name, "--keep" if other == "kept" else "--no-keep")
    return (found.table, "set", found.name, _OPTIONS[found.column], other)


def _of_brief(found: Differing) -> list[Difference]:
    """The lines of two texts of a brief that differ."""
    from offbook.brief import as_toml, raw_of

    here, there = raw_of(str(found.here), "the brief"), raw_of(str(found.there), "the brief")
    other = here if found.taken else there
    out = []
    for key in [*here, *(key for key in there if key not in here)]:
        if here.get(key) == there.get(key):
            continue
        told = [f"{key} = {as_toml(side[key])}" if key in side else f"no {key}" for side in (here, there)]
        words = (f"{key} = {as_toml(other[key])}",) if key in other else ("--unset", key)
        said = f"{found.name}: {told[0]} here, {told[1]} there. {_which(found)}"
        out.append(Difference(said, ("brief", "set", found.name, *words), not found.taken))
    return out
