"""A brief in words: one to fill in, what it asks and does not say, and how much time is left."""

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
from offbook.phrasing import MINUTE, clock_tenths

_HINTS: Mapping[str, str] = {
    "name": "whose brief it is, between the quotation marks",
    "deadline": "when it must arrive, without quotation marks; a day alone means its end, where you are",
    "pieces": "which pieces of the journal are sent, in this order",
    "shortest": "the shortest time that each recording may last",
    "longest": "the longest time that each recording may last",
    "limits": "the time for one piece, in place of the two above; two times: shortest, longest",
    "together": "the longest time that all of them may last together",
    "how_many": "how many pieces they want",
    "set_list": "those of your pieces that are from their list",
    "free": "those of your pieces that are your own choice",
    "unbroken": "true: one continuous take; false: cuts are allowed",
    "slate": "true: say your name before the speech; false: do not",
    "kinds": "the kinds of file that they accept, by the ending",
    "megabytes": "the largest size of a file",
    "picture": "landscape, portrait, either, or none for a recording of the sound only",
    "lines": "the fewest pixels on the shorter side of the picture",
    "frames": "the fewest pictures a second",
    "lufs": "the softest and the loudest for the whole recording: integrated loudness by ITU-R BS.1770",
    "by_eye": "what only a person can check",
    "takes": "the most takes of a piece on one day",
    "file_name": f"how to name a file, without its ending; may contain {', '.join(NAMED_BY)}",
    "send_to": "where to send it",
    "confirm_days": "how many days after sending they should confirm that it has arrived",
}


def blank_brief(
    name: str = "",
    deadline: date | None = None,
    pieces: Sequence[str] = (),
    found: Mapping[str, tuple[str, str]] | None = None,
) -> str:
    """The text of a brief to fill in, with every line that it can have explained.

    All lines have a # before them, except the name, the deadline, and the pieces if some are given. A name or
    a deadline that is not given is an empty place, and `parse_brief` asks for it. found: lines that a message
    asks for, by their key: the line, and the words of the message; these lines have no # either.
    """
    lines = [
        "# What is asked for. Delete the # before each line that you need; lines with a # are not asked for.",
        "# Copy what the brief says, and ask them about anything that it does not say.",
    ]
    for key, said in _HINTS.items():
        lines += ["", f"# {said}"]
        if found is not None and key in found:
            said_so, quoted = found[key]
            lines += [f"# they write: {quoted}", said_so]
        elif key == "name":
            lines.append(f"name = {as_toml(name)}")
        elif key == "deadline":
            lines.append(f"deadline = {as_toml('' if deadline is None else deadline)}")
        elif key == "pieces" and pieces:
            lines.append(f"pieces = {as_toml(tuple(pieces))}")
        else:
            lines.append(f"# {EXAMPLES[key]}")
    return "\n".join(lines) + "\n"


def as_toml(value: Any) -> str:
    """A value of a brief, or of its file, in TOML 1.0.

    Limits become a table with one entry for each piece.
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        # A string in JSON is also one in TOML, except that TOML does not allow DEL.
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
    """A line of a brief's file, with times as people write them."""
    return f"{key} = {_time(value) if key in _TIMES else as_toml(value)}"


_TIMES = ("shortest", "longest", "together")
_TENTHS = 10  # of a second


def _time(seconds: float) -> str:
    """A time as "1:30", or as a number of seconds if it has more than tenths."""
    whole_tenths = round(_TENTHS * seconds) == _TENTHS * seconds
    return as_toml(clock_tenths(seconds)) if whole_tenths else as_toml(seconds)


def _limit(x: Limit) -> str:
    longest = "" if x.longest is None else _time(x.longest)
    return longest if x.shortest is None else f"[{_time(x.shortest)}, {longest}]"


def written(brief: Brief, deadline: date | None = None) -> str:
    """The text of a file that says the same as the brief.

    deadline: the day or the moment as it was written, which may have no time zone; None for the brief's own
    moment.
    """
    values = ((key, getattr(brief, key)) for key in KEYS)
    if deadline is not None:
        values = ((key, deadline if key == "deadline" else value) for key, value in values)
    return "".join(f"{line(key, value)}\n" for key, value in values if value not in (None, ()))


def with_lines(text: str, lines: Sequence[str], gone: Sequence[str], zone: tzinfo) -> str:
    """A brief's text with these lines in place of those with the same keys, and without the keys in `gone`.

    The deadline stays as it is written: one that is only a day gets no time and no zone. zone: the
    performer's. Raises BriefError if the new text is not a brief.
    """
    raw = tomllib.loads(text)
    for line in lines:
        for key, value in raw_of(line, "what you set").items():
            raw[key] = value
    unknown = [key for key in gone if key not in KEYS]
    if unknown:
        raise BriefError(
            f"a brief has no line called {shown(unknown[0])}", f"choose one of: {', '.join(KEYS)}"
        )
    kept = {key: value for key, value in raw.items() if key not in gone}
    return written(read_raw(kept, zone, "the brief"), kept.get("deadline"))


def brief_in_words(brief: Brief) -> list[tuple[str, str]]:
    """The brief as people read it: pairs of a heading and what is asked. The deadline is in its own zone."""
    found = [(what, said) for what, say in _IN_WORDS for said in say(brief)]
    return found + [("by eye", each) for each in brief.by_eye]


def _if_given(value: Any, said: Callable[[Any], str]) -> list[str]:
    """What to say about a point, if the brief has it; otherwise nothing."""
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

# What a brief may ask, in the order in which people read it: a heading, and what is said under it.
_IN_WORDS: tuple[tuple[str, Callable[[Brief], list[str]]], ...] = (
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
    """The points that the brief does not say and for which recordings are often rejected."""
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
    hours, minutes = offset[: len("+01")], offset[len("+01") : len("+0100")]
    return f"UTC{hours}:{minutes}" if brief.deadline.utcoffset() else "UTC"


def length_told(shortest: float | None, longest: float | None) -> str:
    """A range of lengths as people read it: 0:50 to 2:00."""
    if shortest is not None and longest is not None:
        return f"{clock_tenths(shortest)} to {clock_tenths(longest)}"
    return (
        f"at least {clock_tenths(shortest)}"
        if shortest is not None
        else f"at most {clock_tenths(longest or 0.0)}"
    )


_HOUR = 60 * MINUTE  # seconds
_DAY_HOURS = 24
_IN_HOURS = 48  # with so many hours or more, days are shown instead; set by hand


def until(deadline: datetime, now: datetime) -> str:
    """How much time is left, in words."""
    left = (deadline.astimezone(UTC) - now.astimezone(UTC)).total_seconds()
    if left < 0:
        return f"deadline passed {_ago(-left)}"
    hours, rest = divmod(int(left), _HOUR)
    minutes = rest // MINUTE
    if hours >= _IN_HOURS:
        return f"{hours // _DAY_HOURS} days left"
    return f"{hours} h {minutes:02d} min left" if hours else f"{minutes} min left"


def _ago(seconds: float) -> str:
    """How long ago something was, in words."""
    hours = int(seconds) // _HOUR
    if hours >= _IN_HOURS:
        return f"{hours // _DAY_HOURS} days ago"
    return f"{hours} h ago" if hours else f"{int(seconds) // MINUTE} min ago"


def late(brief: Brief, now: datetime) -> str:
    """That the deadline of a brief that was not sent has passed; "" before the deadline."""
    if brief.deadline.astimezone(UTC) >= now.astimezone(UTC):
        return ""
    ago = _ago((now.astimezone(UTC) - brief.deadline.astimezone(UTC)).total_seconds())
    return f"The deadline of {brief.name} passed {ago}, and it is not noted as sent."
