"""Which day is for what: every brief counted back from its deadline, and every date of a piece of its own.

Sending comes a day before the deadline, because an upload can fail; before it a day to choose with fresh
ears, a spare day for a second set of takes, the takes, a day that spares the voice, and two days with a
run-through each, because off book means clean on two different days. Where days are short, this is given up
in the order of `_GIVEN_UP`, and it is said with the days that would be needed. The order and the margins are
common practice, no source. What a nearer brief has already (a recording that serves this one too, days with
run-throughs of the same piece) is not asked for a second time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from offbook.schedule import Item

Kind = Literal["learn", "run", "quiet", "takes", "spare", "choose", "send", "day"]

CLEAN_DAYS = 2  # of run-throughs, until a piece is off book
TAKES = 5  # of a piece on one day; common practice, no source
_MOST_EARLIER = 7  # days that takes are moved forward, so that a day's voice is enough; set by hand
_RUN: tuple[Kind, ...] = ("run",)
_AFTER_RUNS: tuple[Kind, ...] = ("quiet", "takes", "spare", "choose", "send")
_GIVEN_UP: dict[Kind, str] = {
    "quiet": "no day that spares the voice before the takes",
    "spare": "no spare day for a second set of takes",
    "choose": "no day of its own for choosing: rest your ears after the takes, then choose",
}


@dataclass(frozen=True, slots=True)
class PieceNeed:
    """A piece as the calendar sees it. seconds: one run-through. clean_days: days on which a run-through
    was clean. items: its thoughts, as the schedule takes them. day: a date of its own, None without one."""

    key: str
    name: str
    seconds: float
    clean_days: int
    items: tuple[Item, ...]
    day: date | None = None


@dataclass(frozen=True, slots=True)
class BriefNeed:
    """What a brief asks of the calendar. deadline: the performer's local day. pieces: their keys, in order.
    takes: the most of a piece on one day. over: its moment has passed, though the day may be today."""

    name: str
    deadline: date
    pieces: tuple[str, ...]
    takes: int = TAKES
    over: bool = False


@dataclass(frozen=True, slots=True)
class RecordingNeed:
    """One recording that has to be made. pieces: what is on it, by key. briefs: whom it serves, by name, the
    nearest deadline first. made: a take is chosen for it already."""

    pieces: tuple[str, ...]
    briefs: tuple[str, ...]
    made: bool = False


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What cannot be done by a date, and what would make it possible. about: the brief or piece it is of."""

    about: str
    what: str
    do: str

    def __str__(self) -> str:
        """Both, as people read them."""
        return f"{self.what} {self.do}".strip()


@dataclass(frozen=True, slots=True)
class Occasion:
    """A day that is set for something. pieces: keys. briefs: names, empty for a date of the piece's own.
    seconds: of all its pieces once through. takes: the most of each. made_for: whose recording is sent.
    alone: nothing else is to be said aloud for the same pieces on that day."""

    day: date
    kind: Kind
    pieces: tuple[str, ...]
    briefs: tuple[str, ...]
    seconds: float
    takes: int = TAKES
    made_for: str | None = None
    alone: bool = True


def occasions(
    pieces: Sequence[PieceNeed],
    briefs: Sequence[BriefNeed],
    recordings: Sequence[RecordingNeed],
    today: date,
    voice_left: Callable[[date], float],
) -> tuple[list[Occasion], list[Shortfall]]:
    """The days that are set, the nearest brief's first; and what its days are too few for.

    briefs: the nearest deadline first, none of them over. voice_left: minutes of full voice that a day has.
    """
    known = {p.key: p for p in pieces}
    placed: list[Occasion] = []
    short: list[Shortfall] = []
    sent_by = {key: brief.deadline for brief in reversed(briefs) for key in brief.pieces}
    own = [p for p in pieces if p.day is not None and p.day >= today]
    first = [p for p in own if p.key in sent_by and p.day is not None and p.day < sent_by[p.key]]
    placed += _for_dates(first, placed, today)
    for brief in briefs:
        mine = [r for r in recordings if brief.name in r.briefs]
        to_make = [r for r in mine if not r.made and r.briefs[0] == brief.name]
        found, told = _for_brief(brief, mine, to_make, known, placed, today, voice_left)
        placed += found
        short += told
    placed += _for_dates([p for p in own if p not in first], placed, today)
    return placed, short


def _for_dates(pieces: Sequence[PieceNeed], placed: Sequence[Occasion], today: date) -> list[Occasion]:
    """The days before the pieces' own dates, the nearest first."""
    found: list[Occasion] = []
    for piece in sorted(pieces, key=lambda p: (p.day or today, p.name)):
        if piece.day is not None:
            found += _for_date(piece, piece.day, placed, today)
    return found


def _for_brief(
    brief: BriefNeed,
    mine: Sequence[RecordingNeed],
    to_make: Sequence[RecordingNeed],
    known: dict[str, PieceNeed],
    placed: Sequence[Occasion],
    today: date,
    voice_left: Callable[[date], float],
) -> tuple[list[Occasion], list[Shortfall]]:
    send = max(today, brief.deadline - timedelta(days=1))
    borrowed = next((r.briefs[0] for r in mine if not r.made and r.briefs[0] != brief.name), None)
    asked = tuple(key for key in brief.pieces if key in known)
    sending = Occasion(send, "send", asked, (brief.name,), 0.0, made_for=borrowed)
    keys = tuple(dict.fromkeys(key for r in to_make for key in r.pieces if key in known))
    if not keys:
        return [sending], []
    runs = max(_runs_wanted(known[key], placed, today) for key in keys)
    roles, short = roles_of((send - today).days + 1, runs, brief.name)
    seconds = sum(known[key].seconds for key in keys)
    serves = tuple(dict.fromkeys([brief.name, *(b for r in to_make for b in r.briefs)]))
    out: list[Occasion] = []
    for earlier in range(min(_MOST_EARLIER, (send - today).days + 1 - len(roles)) + 1):
        tried = _laid_out(roles, send, earlier, sending, keys, seconds, serves, brief.takes)
        if earlier == 0 or _room(tried, placed, voice_left):
            out = tried
        if _room(out, placed, voice_left):
            break
    return out, short


def _laid_out(
    roles: Sequence[tuple[Kind, ...]],
    send: date,
    earlier: int,
    sending: Occasion,
    keys: tuple[str, ...],
    seconds: float,
    serves: tuple[str, ...],
    takes: int,
) -> list[Occasion]:
    """The roles set on their days. earlier: days by which everything up to the takes is moved forward."""
    at_takes = next(n for n, together in enumerate(roles) if "takes" in together)
    out = []
    for n, together in enumerate(roles):
        day = send - timedelta(days=len(roles) - 1 - n + (earlier if n <= at_takes else 0))
        for kind in together:
            whose = serves if kind in ("takes", "spare") else serves[:1]
            alone = kind == "run" and "takes" not in together
            made = Occasion(day, kind, keys, whose, seconds, takes, None, alone)
            out.append(sending if kind == "send" else made)
    return out


def _room(found: Sequence[Occasion], placed: Sequence[Occasion], voice_left: Callable[[date], float]) -> bool:
    """Whether every day has the voice for all of it once through, with what is placed already."""
    wanted: dict[date, float] = {}
    for o in [*placed, *found]:
        if o.kind in ("run", "takes"):
            wanted[o.day] = wanted.get(o.day, 0.0) + o.seconds / 60
    return all(wanted[o.day] <= voice_left(o.day) for o in found if o.kind in ("run", "takes"))


def _runs_wanted(piece: PieceNeed, placed: Sequence[Occasion], today: date) -> int:
    """Days of run-throughs before the takes: two clean ones in all, and never none."""
    before = len({o.day for o in placed if o.kind == "run" and piece.key in o.pieces})
    return max(1, CLEAN_DAYS - piece.clean_days - before)


def _for_date(piece: PieceNeed, day: date, placed: Sequence[Occasion], today: date) -> list[Occasion]:
    """The days before a date of the piece's own: run-throughs that no brief has it make before, and the eve
    without voice."""
    quiet: tuple[Kind, ...] = ("quiet",)
    last: tuple[Kind, ...] = ("day",)
    before = {o.day for o in placed if o.kind in ("run", "takes") and piece.key in o.pieces and o.day < day}
    runs = _RUN * max(0, CLEAN_DAYS - piece.clean_days - len(before))
    ahead = (day - today).days
    kinds = runs + (quiet if ahead > len(runs) else ()) + last
    out = []
    for back, kind in enumerate(reversed(kinds)):
        if back <= ahead:
            out.append(Occasion(day - timedelta(days=back), kind, (piece.key,), (), piece.seconds))
    return out[::-1]


def roles_of(days: int, runs: int, name: str) -> tuple[list[tuple[Kind, ...]], list[Shortfall]]:
    """What each of the last days is for, the day of sending last; and what had to be given up.

    days: from today to the day of sending, both counted. runs: days of run-throughs that are wanted.
    """
    order = [*_RUN * runs, *_AFTER_RUNS]
    wanted = len(order)
    lost: list[str] = []
    for kind, said in _GIVEN_UP.items():
        if len(order) > days:
            order.remove(kind)
            lost.append(said)
    while order.count("run") > 1 and len(order) > days:
        order.remove("run")
        lost.append("only one day of run-throughs before the takes, and off book wants two")
    roles: list[tuple[Kind, ...]] = [(kind,) for kind in order]
    while len(roles) > max(1, days):  # what is left goes together on one day, the last two first
        roles[0:2] = [roles[0] + roles[1]]
    if "choose" not in order:
        roles[-1] = tuple(
            k for kind in roles[-1] for k in (("choose", "send") if kind == "send" else (kind,))
        )
    if len(roles[0]) > 1 and "run" in roles[0] and "takes" in roles[0]:
        lost.append("no day of its own for a run-through: run it once, rest, then take it")
    if not lost:
        return roles, []
    more = wanted - days
    what = f"{name}, for want of days: {'; '.join(lost)}."
    return roles, [Shortfall(name, what, f"A deadline {more} day{'s' * (more > 1)} later would have room.")]
