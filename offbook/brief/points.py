"""The points of a brief, and how a brief is read from its file.

A brief is a small TOML file (the TOML 1.0 standard) beside the scripts: the deadline, which pieces, how long,
what kind of file, what is asked of the picture and the sound, and what only a person can check. What a brief
does not say is not asked for, and is never shown as if it were.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from pathlib import Path
from typing import Any, Literal

from rapidfuzz import fuzz, process

from offbook.errors import OffbookError
from offbook.intake import BRIEF, read_text
from offbook.phrasing import MINUTE
from offbook.typed_times import TypedTimeError, seconds_in

Picture = Literal["landscape", "portrait", "either", "none"]
PICTURES: tuple[Picture, ...] = ("landscape", "portrait", "either", "none")
# Set by hand, because nobody means more: characters of a name, takes of a piece on one day, and the other
# limits.
_LONGEST_NAME, _MOST_TAKES, _MOST_PIECES, _MOST_CONFIRM_DAYS = 200, 100, 100, 365
_LEAST_MEGABYTES, _MOST_MEGABYTES, _MOST_LINES, _MOST_FRAMES = 0.1, 1_000_000, 10_000, 1_000
# How similar, 0 to 100, an unknown key must be to a known one to be taken for a misspelling; set by hand
_NEAR = 70
_YEARS = range(2000, 3000)  # in which a deadline may be; set by hand, far from the ends of Python's calendar
# What may be written in the pattern of a file's name.
NAMED_BY = ("{performer}", "{piece}", "{brief}", "{number}", "{take}")
FILE_NAME = "{number}_{performer}_{piece}"  # the pattern if a brief asks for none
_PLACE = re.compile("|".join(re.escape(each) for each in NAMED_BY))
_DAY = 24 * 60 * MINUTE  # seconds
END_OF_DAY = time(23, 59)  # when a deadline that is only a day, or "midnight", is over
GATE_LUFS = -70  # sound that is softer does not count for the loudness (ITU-R BS.1770-4)
_PAIR = 2  # the softest and the loudest, the shortest and the longest


class BriefError(OffbookError):
    """A brief cannot be read, or asks for something that makes no sense."""


@dataclass(frozen=True, slots=True)
class Limit:
    """How long a recording of one piece may be. shortest, longest: seconds, None if nothing is said."""

    piece: str
    shortest: float | None
    longest: float | None


def same_name(one: str, other: str) -> bool:
    """Whether two names of pieces are the same, ignoring upper and lower case."""
    return one.casefold() == other.casefold()


@dataclass(frozen=True, slots=True)
class Brief:
    """What is asked for. A field is None or empty if the brief does not say.

    deadline: aware. pieces: names, in the order in which they are sent. shortest, longest: of one recording,
    in seconds. slate: whether the name must be said first. kinds: file endings in lower case. megabytes: the
    most, of 10^6 bytes. lines: the fewest pixels on the picture's shorter side. frames: the fewest a second.
    lufs: the lowest and the highest integrated loudness. by_eye: what a person must check. takes: the most of
    one piece on one day. file_name: the pattern of a file's name without its ending, see `NAMED_BY`. send_to:
    where to send it. together: the most that all recordings may last, in seconds. limits: pieces with their
    own shortest and longest length, instead of the usual one. unbroken: True for one continuous take, False
    if cuts are allowed. how_many: how many pieces are asked for. set_list, free: which pieces are from the
    receiver's list, and which are the performer's own choice. confirm_days: after how many days the receiver
    should have confirmed it.
    """

    name: str
    deadline: datetime
    pieces: tuple[str, ...] = ()
    shortest: float | None = None
    longest: float | None = None
    slate: bool | None = None
    kinds: tuple[str, ...] = ()
    megabytes: float | None = None
    picture: Picture | None = None
    lines: int | None = None
    frames: float | None = None
    lufs: tuple[float, float] | None = None
    by_eye: tuple[str, ...] = ()
    takes: int | None = None
    file_name: str | None = None
    send_to: str | None = None
    confirm_days: int | None = None
    together: float | None = None
    limits: tuple[Limit, ...] = ()
    unbroken: bool | None = None
    how_many: int | None = None
    set_list: tuple[str, ...] = ()
    free: tuple[str, ...] = ()

    def length_of(self, piece: str | None) -> tuple[float | None, float | None]:
        """The shortest and the longest length in seconds of a recording of `piece`; None if not said."""
        own = next((x for x in self.limits if piece is not None and same_name(x.piece, piece)), None)
        return (self.shortest, self.longest) if own is None else (own.shortest, own.longest)


def load_brief(path: Path | str, zone: tzinfo) -> tuple[Brief, str]:
    """The brief in the file `path`, and the file's text. zone: see `parse_brief`. Raises BriefError."""
    text = read_text(path, BRIEF, BriefError)
    return parse_brief(text, zone, shown(str(path))), text


def parse_brief(text: str, zone: tzinfo, source: str = "the brief") -> Brief:
    """The brief in `text`.

    zone: the performer's, for a deadline without an offset; a deadline without a time is at the end of the
    day. source: what to call the text in a message. Raises BriefError, with the key, if something is missing,
    unknown or makes no sense.
    """
    return read_raw(raw_of(text, source), zone, source)


def read_raw(found: Mapping[str, Any], zone: tzinfo, source: str) -> Brief:
    """The brief with these values of a TOML file. Raises BriefError."""
    for key in found:
        if key not in KEYS:
            like = process.extractOne(key.lower(), KEYS, scorer=fuzz.ratio, score_cutoff=_NEAR)
            hint = f"did you mean {like[0]}?" if like is not None else f"choose one of: {', '.join(KEYS)}"
            raise BriefError(f"{source} has a line called {shown(key)}, which a brief cannot have", hint)
    for key in ("name", "deadline"):
        if key not in found:
            raise BriefError(f"{source} has no {key}", f"add a line such as {EXAMPLES[key]}")
    values = {key: _read(key, found[key], source) for key in _READ if key in found}
    brief = Brief(_name(found["name"], source), _deadline(found["deadline"], zone, source), **values)
    if brief.shortest is not None and brief.longest is not None and brief.shortest > brief.longest:
        raise BriefError(f"{source}: shortest is more than longest", "give the shorter time as shortest")
    _pieces_known(brief, source)
    if brief.picture == "none" and (brief.lines is not None or brief.frames is not None):
        raise BriefError(
            f"{source} asks for no picture, but also says what the picture must be like",
            'delete the lines and frames, or picture = "none"',
        )
    return brief


def _pieces_known(brief: Brief, source: str) -> None:
    """Raise BriefError if a line names a piece that is not among the pieces, or a piece is in both lists."""
    asked = {name.casefold() for name in brief.pieces}
    named = {"limits": [x.piece for x in brief.limits], "set_list": brief.set_list, "free": brief.free}
    for key, names in named.items():
        strange = [name for name in names if name.casefold() not in asked]
        if strange:
            what = f"{source}: {key} names {shown(strange[0])}, which is not among its pieces"
            raise BriefError(what, f"add it to pieces, or delete it; {_write('pieces')}")
    both = {name.casefold() for name in brief.set_list} & {name.casefold() for name in brief.free}
    if both:
        raise BriefError(
            f"{source}: {shown(min(both))} is in set_list and in free", "keep it in only one of them"
        )


def raw_of(text: str, source: str) -> dict[str, Any]:
    """The values of a TOML file. Raises BriefError."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as e:
        line = re.search(r"at line (\d+)", str(e))
        lines = text.split("\n")
        at = lines[int(line[1]) - 1] if line is not None and int(line[1]) <= len(lines) else ""
        key = at.partition("=")[0].strip()
        do = 'write each line like this one: longest = "2:00"; put words in "quotes"'
        raise BriefError(f"{source} cannot be read: {e}", _write(key) if key in EXAMPLES else do) from e
    except (ValueError, RecursionError) as e:  # too many digits or brackets for Python
        raise BriefError(
            f"{source} cannot be read: it has a number or a list that is far too large",
            "begin with a blank one: offbook brief blank FILE",
        ) from e


def shown(text: str) -> str:
    """Somebody else's text, made safe and short enough for one line of a message."""
    short = text if len(text) <= _LONGEST_NAME else text[:_LONGEST_NAME] + "…"
    return short if short and short.isprintable() else repr(short)


def _clean(value: Any) -> str:
    """A text on one line; "" if the value is not a text or has control characters in it."""
    text = " ".join(value.split()) if isinstance(value, str) else ""
    return "" if any(unicodedata.category(c) == "Cc" for c in text) else text


def _name(value: Any, source: str) -> str:
    clean = _clean(value)
    if value == "":
        raise BriefError(f"{source}: the name is still empty", _write("name"))
    if not 0 < len(clean) <= _LONGEST_NAME:
        raise BriefError(f"{source}: name must be 1 to {_LONGEST_NAME} characters", _write("name"))
    return clean


def _deadline(value: Any, zone: tzinfo, source: str) -> datetime:
    if value == "":
        raise BriefError(f"{source}: the deadline is still empty", f"{_write('deadline')}, without quotes")
    if isinstance(value, date) and value.year not in _YEARS:
        raise BriefError(f"{source}: deadline is in the year {value.year}", _write("deadline"))
    if isinstance(value, datetime):
        return value if value.tzinfo is not None else value.replace(tzinfo=zone)
    if isinstance(value, date):
        return datetime.combine(value, END_OF_DAY, zone)
    raise BriefError(f"{source}: deadline is not a day or a moment", f"{_write('deadline')}, without quotes")


def _read(key: str, value: Any, source: str) -> Any:
    try:
        return _READ[key](value)
    except ValueError as e:
        raise BriefError(f"{source}: {key} {e}", _write(key)) from None


def _write(key: str) -> str:
    return f"write it as in {EXAMPLES[key]}"


def _seconds(value: Any) -> float:
    if isinstance(value, str):
        try:
            found = seconds_in(value)
        except TypedTimeError as e:
            raise ValueError(f"cannot be used: {e.what}") from None
    else:
        found = _number(value)
    if not 0 < found < _DAY:
        raise ValueError("is not a possible length of a recording")
    return found


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError("must be a number")
    try:
        return float(value)
    except OverflowError:  # a whole number in TOML may have any size in Python
        raise ValueError("is far too large a number") from None


def _above(least: float, most: float) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        found = _number(value)
        if not least <= found <= most:
            raise ValueError(f"must be from {figure(least)} to {figure(most)}")
        return found

    return read


def _whole(least: int, most: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        found = _above(least, most)(value)
        if found != int(found):
            raise ValueError("must be a whole number")
        return int(found)

    return read


def _yes(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("must be true or false")
    return value


def _texts(value: Any) -> tuple[str, ...]:
    if isinstance(value, str):
        value = [value]
    if not isinstance(value, list) or not all(_clean(v) for v in value):
        raise ValueError("must be a list of words in quotes")
    return tuple(_clean(v) for v in value)


def _pieces(value: Any) -> tuple[str, ...]:
    found = _texts(value)
    if len({name.casefold() for name in found}) < len(found):
        raise ValueError("names a piece twice")
    return found


def _kinds(value: Any) -> tuple[str, ...]:
    found = tuple(v.lower().lstrip(".") for v in _texts(value))
    if not all(found):
        raise ValueError("must be a list of endings in quotes")
    return found


def _picture(value: Any) -> Picture:
    for known in PICTURES:
        if value == known:
            return known
    raise ValueError(f"must be one of {', '.join(PICTURES)}")


def _file_name(value: Any) -> str:
    clean = _clean(value)
    if not 0 < len(clean) <= _LONGEST_NAME:
        raise ValueError("must be a name in quotes")
    if {"{", "}"} & {*_PLACE.sub("", clean)}:
        raise ValueError(f"may have only these in braces: {', '.join(NAMED_BY)}")
    if clean.startswith(".") or any(c in '/\\:*?"<>|' for c in clean):
        raise ValueError("has characters that a file's name cannot have")
    return clean


def _line(value: Any) -> str:
    clean = _clean(value)
    if not 0 < len(clean) <= _LONGEST_NAME:
        raise ValueError("must be words in quotes")
    return clean


def _lufs(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != _PAIR:
        raise ValueError("must be two numbers, the softest and the loudest")
    low, high = (_number(v) for v in value)
    if not GATE_LUFS <= low <= high <= 0:  # full scale is near 0
        raise ValueError(f"must be two numbers from {GATE_LUFS} to 0, the softer first")
    return low, high


def _limits(value: Any) -> tuple[Limit, ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("must give each piece a time")
    found = []
    for name, told in value.items():
        clean = _clean(name)
        if not clean:
            raise ValueError("must give each piece a time")
        least, most = told if isinstance(told, list) and len(told) == _PAIR else (None, told)
        shortest = None if least is None else _seconds(least)
        longest = _seconds(most)
        if shortest is not None and shortest > longest:
            raise ValueError("has a shorter time after the longer one")
        found.append(Limit(clean, shortest, longest))
    if len({x.piece.casefold() for x in found}) < len(found):
        raise ValueError("names a piece twice")
    return tuple(found)


_READ: Mapping[str, Callable[[Any], Any]] = {
    "pieces": _pieces,
    "shortest": _seconds,
    "longest": _seconds,
    "slate": _yes,
    "kinds": _kinds,
    "megabytes": _above(_LEAST_MEGABYTES, _MOST_MEGABYTES),
    "picture": _picture,
    "lines": _whole(1, _MOST_LINES),
    "frames": _above(1, _MOST_FRAMES),
    "lufs": _lufs,
    "by_eye": _texts,
    "takes": _whole(1, _MOST_TAKES),
    "file_name": _file_name,
    "send_to": _line,
    "confirm_days": _whole(0, _MOST_CONFIRM_DAYS),
    "together": _seconds,
    "limits": _limits,
    "unbroken": _yes,
    "how_many": _whole(1, _MOST_PIECES),
    "set_list": _pieces,
    "free": _pieces,
}
EXAMPLES: Mapping[str, str] = {
    "name": 'name = "Saltmarrow Playhouse, first round"',
    "deadline": "deadline = 2026-12-14T17:00:00+01:00",
    "pieces": 'pieces = ["the_lamp", "full_house"]',
    "shortest": 'shortest = "0:50"',
    "longest": 'longest = "2:00"',
    "limits": 'limits = { the_lamp = "1:30", full_house = ["0:45", "1:00"] }',
    "together": 'together = "3:00"',
    "how_many": "how_many = 2",
    "set_list": 'set_list = ["the_lamp"]',
    "free": 'free = ["full_house"]',
    "unbroken": "unbroken = true",
    "slate": "slate = true",
    "kinds": 'kinds = ["mp4", "mov"]',
    "megabytes": "megabytes = 200",
    "picture": 'picture = "landscape"',
    "lines": "lines = 720",
    "frames": "frames = 24",
    "lufs": "lufs = [-24, -14]",
    "by_eye": 'by_eye = ["Framed from the chest up", "Plain wall behind"]',
    "takes": "takes = 5",
    "file_name": 'file_name = "{performer}_{piece}"',
    "send_to": 'send_to = "the playhouse\'s upload page"',
    "confirm_days": "confirm_days = 3",
}
KEYS: tuple[str, ...] = tuple(EXAMPLES)


def figure(value: float) -> str:
    """A number as people write it: 29.97, 1000000."""
    return f"{value:.10g}"
