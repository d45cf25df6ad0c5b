"""A brief in words: one to fill in, what it asks and what it leaves open, and how long is left."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime, tzinfo
from typing import Any

from offbook.brief.points import (
    EXAMPLES,
    KEYS,
    NAMED_BY,
    Brief,
    BriefError,
    Limit,
    figure,
    raw_of,
    read_raw,
    shown,
)
from offbook.phrasing import clock_tenths

_SAID: Mapping[str, str] = {
    "name": "whose brief it is",
    "deadline": "by when it must be there; a day alone is over at its end, where you are",
    "pieces": "which pieces of the journal are sent, in this order",
    "shortest": "the shortest time that each recording may last",
    "longest": "and the longest",
    "limits": "for one piece its own time, in the place of the two above; two times are least and most",
    "together": "the longest time that all of them may last together",
    "how_many": "how many pieces they want",
    "set_list": "those of your pieces that are from their list",
    "free": "those that are your own choice",
    "unbroken": "true: one continuous take; false: cuts are allowed",
    "slate": "true: say your name before the speech; false: do not",
    "kinds": "endings of the file that are taken",
    "megabytes": "most a file may have",
    "picture": "landscape, portrait, either, or none for sound alone",
    "lines": "least pixels on the shorter side of the picture",
    "frames": "least pictures a second",
    "lufs": "softest and loudest that the whole recording may be: integrated loudness by ITU-R BS.1770",
    "by_eye": "what only a person can look at",
    "takes": "most takes of a piece on one day",
    "file_name": f"how a file is to be called, without its ending; may hold {', '.join(NAMED_BY)}",
    "send_to": "where it goes",
    "confirm_days": "days after sending by which they should have confirmed that it came",
}


def blank_brief(
    deadline: date, pieces: Sequence[str] = (), found: Mapping[str, tuple[str, str]] | None = None
) -> str:
    """A brief to fill in: every line it can have, explained, all but the name, the deadline and, where some
    are given, the pieces put aside.

    found: for a key its line and the words of a message that say so; such a line is written out.
    """
    lines = [
        "# What is asked for. Take away the # before a line that the brief has; what comes after a # is",
        "# not asked for. Copy from the one who asks, and ask them if they leave something open.",
    ]
    for key, said in _SAID.items():
        lines += ["", f"# {said}"]
        if found is not None and key in found:
            said_so, quoted = found[key]
            lines += [f"# they write: {quoted}", said_so]
        elif key == "name":
            lines.append(EXAMPLES[key])
        elif key == "deadline":
            lines.append(f"deadline = {deadline.isoformat()}")
        elif key == "pieces" and pieces:
            lines.append(f"pieces = {as_toml(tuple(pieces))}")
        else:
            lines.append(f"# {EXAMPLES[key]}")
    return "\n".join(lines) + "\n"


def as_toml(value: Any) -> str:
    """A value of a brief, or of its file as it was read, as TOML 1.0 writes it. Limits are given by piece."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        # A string of JSON is one of TOML too, but for DEL, which JSON leaves as it is.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, tuple) and value and isinstance(value[0], Limit):
        each = (f"{as_toml(x.piece)} = {_limit(x)}" for x in value)
        return f"{{ {', '.join(each)} }}"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{as_toml(k)} = {as_toml(v)}' for k, v in value.items())} }}"
    if isinstance(value, tuple | list):
        return f"[{', '.join(map(as_toml, value))}]"
    return f"{value:.10g}"


def line(key: str, value: Any) -> str:
    """A line of a brief's file, times as people write them."""
    return f"{key} = {_time(value) if key in _TIMES else as_toml(value)}"


_TIMES = ("shortest", "longest", "together")


def _time(seconds: float) -> str:
    """A time as "1:30", or as a number where the tenth would not say all of it."""
    return as_toml(clock_tenths(seconds)) if round(10 * seconds) == 10 * seconds else as_toml(seconds)


def _limit(x: Limit) -> str:
    longest = "" if x.longest is None else _time(x.longest)
    return longest if x.shortest is None else f"[{_time(x.shortest)}, {longest}]"


def written(brief: Brief) -> str:
    """The brief as a file that says the same."""
    values = ((key, getattr(brief, key)) for key in KEYS)
    return "".join(f"{line(key, value)}\n" for key, value in values if value not in (None, ()))


def with_lines(text: str, lines: Sequence[str], gone: Sequence[str], zone: tzinfo) -> str:
    """A brief's text with these lines in the place of those of the same keys, and without the keys in `gone`.

    Raises BriefError where it could not be read afterwards.
    """
    raw = tomllib.loads(text)
    for line in lines:
        for key, value in raw_of(line, "what you set").items():
            raw[key] = value
    unknown = [key for key in gone if key not in KEYS]
    if unknown:
        raise BriefError(f"a brief has no line called {shown(unknown[0])}", f"known are: {', '.join(KEYS)}")
    return written(read_raw({k: v for k, v in raw.items() if k not in gone}, zone, "the brief"))


def brief_in_words(brief: Brief) -> list[tuple[str, str]]:
    """The brief for people: what, and what is asked; the deadline in its own zone."""
    found = [(what, said) for what, say in _TOLD for said in say(brief)]
    return found + [("by eye", each) for each in brief.by_eye]


def _if_given(value: Any, said: Callable[[Any], str]) -> list[str]:
    """What is said of a point where the brief has it, nothing where it leaves it open."""
    return [] if value is None or value == () else [said(value)]


def _deadline(brief: Brief) -> list[str]:
    return [f"{brief.deadline:%a} {brief.deadline.day} {brief.deadline:%b %Y, %H:%M} ({_zone(brief)})"]


def _lengths(brief: Brief) -> list[str]:
    each = [f"{x.piece} {length_told(x.shortest, x.longest)}" for x in brief.limits]
    if brief.shortest is None and brief.longest is None:
        return each
    return [length_told(brief.shortest, brief.longest), *each]


def _confirmation(days: int) -> str:
    return f"within {days} day{'s' * (days != 1)} of sending"


_PICTURES = {"either": "any", "none": "none, sound alone"}

# What a brief may ask, in the order in which people are told: a heading, and what is said under it.
_TOLD: tuple[tuple[str, Callable[[Brief], list[str]]], ...] = (
    ("by", _deadline),
    ("pieces", lambda b: _if_given(b.pieces, ", ".join)),
    ("length", _lengths),
    ("together", lambda b: _if_given(b.together, lambda x: f"at most {clock_tenths(x)}")),
    ("how many", lambda b: _if_given(b.how_many, lambda n: f"{n} piece{'s' * (n != 1)}")),
    ("set list", lambda b: _if_given(b.set_list, ", ".join)),
    ("own choice", lambda b: _if_given(b.free, ", ".join)),
    (
        "filming",
        lambda b: _if_given(b.unbroken, lambda x: "one continuous take" if x else "cuts are allowed"),
    ),
    ("slate", lambda b: _if_given(b.slate, lambda x: "wanted" if x else "not wanted")),
    ("file", lambda b: _if_given(b.kinds, " or ".join)),
    ("size", lambda b: _if_given(b.megabytes, lambda x: f"at most {figure(x)} MB")),
    ("picture", lambda b: _if_given(b.picture, lambda x: _PICTURES.get(x, x))),
    ("sharpness", lambda b: _if_given(b.lines, lambda x: f"at least {x} pixels on the shorter side")),
    ("motion", lambda b: _if_given(b.frames, lambda x: f"at least {figure(x)} pictures a second")),
    ("loudness", lambda b: _if_given(b.lufs, lambda x: f"{figure(x[0])} to {figure(x[1])} LUFS")),
    ("takes", lambda b: _if_given(b.takes, lambda x: f"at most {x} of a piece on one day")),
    ("file name", lambda b: _if_given(b.file_name, str)),
    ("send to", lambda b: _if_given(b.send_to, str)),
    ("confirmed", lambda b: _if_given(b.confirm_days, _confirmation)),
)


def unsaid(brief: Brief) -> list[str]:
    """What the brief leaves open of the points on which a recording is often sent back, for people."""
    known = {
        "how long each may be": brief.longest is not None or bool(brief.limits),
        "how long all together": brief.together is not None
        or max(len(brief.pieces), brief.how_many or 0) == 1,
        "one continuous take or cuts": brief.unbroken is not None,
        "set list or own choice": bool(brief.set_list or brief.free),
        "a slate": brief.slate is not None,
        "which kinds of file": bool(brief.kinds),
        "landscape or portrait": brief.picture is not None,
        "whether they confirm it": brief.confirm_days is not None,
    }
    return [what for what, said in known.items() if not said]


def _zone(brief: Brief) -> str:
    offset = brief.deadline.strftime("%z")
    return f"UTC{offset[:3]}:{offset[3:5]}" if brief.deadline.utcoffset() else "UTC"


def length_told(shortest: float | None, longest: float | None) -> str:
    """A length for people: 0:50 to 2:00."""
    if shortest is not None and longest is not None:
        return f"{clock_tenths(shortest)} to {clock_tenths(longest)}"
    return (
        f"at least {clock_tenths(shortest)}"
        if shortest is not None
        else f"at most {clock_tenths(longest or 0.0)}"
    )


_HOUR = 3600  # seconds
_IN_HOURS = 48  # from so many hours on, days are shown instead; set by hand


def until(deadline: datetime, now: datetime) -> str:
    """How long is left, for people."""
    left = (deadline.astimezone(UTC) - now.astimezone(UTC)).total_seconds()
    if left < 0:
        return f"deadline passed {_ago(-left)}"
    hours, rest = divmod(int(left), _HOUR)
    minutes = rest // 60
    if hours >= _IN_HOURS:
        return f"{hours // 24} days left"
    return f"{hours} h {minutes:02d} min left" if hours else f"{minutes} min left"


def _ago(seconds: float) -> str:
    """How long something is past, for people."""
    hours = int(seconds) // _HOUR
    if hours >= _IN_HOURS:
        return f"{hours // 24} days ago"
    return f"{hours} h ago" if hours else f"{int(seconds) // 60} min ago"


def late(brief: Brief, now: datetime) -> str:
    """What to say of a brief whose deadline has passed and that was not sent; empty before."""
    if brief.deadline.astimezone(UTC) >= now.astimezone(UTC):
        return ""
    ago = _ago((now.astimezone(UTC) - brief.deadline.astimezone(UTC)).total_seconds())
    return (
        f"The deadline of {brief.name} passed {ago}, and it is not noted as sent. If it went, note it: "
        f'offbook brief sent "{brief.name}". If not, ask them for a new one.'
    )
