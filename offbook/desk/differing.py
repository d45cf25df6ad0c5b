"""Values that differ between the journal and an archive, with the command that takes the other one."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from offbook.phrasing import clock_tenths

if TYPE_CHECKING:
    from offbook.journal import Connection, Differing, Journal


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that differs between the journal and an archive.

    what: whose value it is; here, there: the two values, in words; which: a sentence that says which one the
    journal has now, and why; command: the words after `offbook` that take the other one, none where one
    command cannot; theirs: the command takes the archive's; line: the key of the line, where it is one of a
    brief's text.
    """

    what: str
    here: str
    there: str
    which: str
    command: tuple[str, ...]
    theirs: bool
    found: Differing
    line: str | None = None

    @property
    def can_be_taken(self) -> bool:
        """Whether the other value can be taken. A take that was judged cannot become one that was not."""
        other = self.found.there if self.theirs else self.found.here
        return self.found.column != "checks" or other is not None

    @property
    def said(self) -> str:
        """Both values, and which one the journal has now."""
        return f"{self.what} {self.here} here, {self.there} there. {self.which}"


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
    """A difference in words; the text of a brief gives one for each line that differs."""
    if found.column == "text":
        return _of_brief(found)
    here, there = _value(found.column, found.here), _value(found.column, found.there)
    about = found.name if found.number is None or found.column == "chosen" else _numbered(found)
    what, command = f"{about}: {_CALLED[found.column]}", _command(found, here if found.taken else there)
    return [Difference(what, here, there, _which(found), command, not found.taken, found)]


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
    """The lines of two texts of a brief that do not mean the same; "90" and "1:30" do."""
    from offbook.brief import as_toml, raw_of, read_raw

    here, there = raw_of(str(found.here), "the brief"), raw_of(str(found.there), "the brief")
    mean_here, mean_there = (asdict(read_raw(side, UTC, "the brief")) for side in (here, there))
    # A deadline without a zone is in the performer's, and the journal has the moment that it stands for.
    moments = [side.get("deadline") for side in found.whole]
    if None not in moments:
        mean_here["deadline"], mean_there["deadline"] = moments
    other = here if found.taken else there
    out = []
    for key in [*here, *(key for key in there if key not in here)]:
        if mean_here[key] == mean_there[key]:
            continue
        mine, theirs = (
            f"{key} = {as_toml(side[key])}" if key in side else f"no {key}" for side in (here, there)
        )
        words = (f"{key} = {as_toml(other[key])}",) if key in other else ("--unset", key)
        command, what, which = ("brief", "set", found.name, *words), f"{found.name}:", _which(found)
        out.append(Difference(what, mine, theirs, which, command, not found.taken, found, key))
    return out


def take_other_value(journal: Journal, conn: Connection, each: Difference) -> Difference:
    """Put the other one of two values into the journal; of a brief's text, only the line that differs.

    Returns the difference as it is then. Raises JournalError or BriefError where the journal cannot take it.
    """
    if each.line is None:
        from offbook.journal import set_other_value

        set_other_value(journal, conn, each.found)
    else:
        _take_line(journal, conn, each.found, each.line, theirs=each.theirs)
    found = replace(each.found, taken=each.theirs)
    return replace(each, theirs=not each.theirs, found=found, which="")


def _take_line(journal: Journal, conn: Connection, found: Differing, key: str, *, theirs: bool) -> None:
    """Take one line of a brief as the other side has it."""
    from offbook.brief import as_toml, raw_of
    from offbook.desk.briefs import brief_by_key, correct_brief

    other = raw_of(str(found.there if theirs else found.here), "the brief")
    lines = [f"{key} = {as_toml(other[key])}"] if key in other else []
    correct_brief(journal, conn, brief_by_key(conn, found.key), lines, () if lines else (key,))
