"""Which day is for what: counted back from the deadline of each brief, and from each piece's own date.

The recording is sent a day before the deadline, because an upload can fail. Before that come a day to choose
with fresh ears, a spare day for a second set of takes, the day of the takes, a day that rests the voice, and
two days with a run-through each, because off book means clean on two different days. If there are too few
days, some of these are given up in the order of `_GIVEN_UP`, and the performer is told how many days would be
needed. The order and the margins are common practice, no source. What is already planned for a brief with a
nearer deadline (a recording that serves this one too, run-throughs of the same piece) is not planned a second
time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from offbook.phrasing import MINUTE
from offbook.schedule import Item

Kind = Literal["learn", "run", "quiet", "takes", "spare", "choose", "send", "day"]

CLEAN_DAYS = 2  # days with a clean run-through until a piece is off book
TAKES = 5  # of a piece on one day, at most; common practice, no source
_MOST_EARLIER = 7  # days that takes may be moved to an earlier day, if the voice needs it; set by hand
_RUN: tuple[Kind, ...] = ("run",)
_AFTER_RUNS: tuple[Kind, ...] = ("quiet", "takes", "spare", "choose", "send")
_GIVEN_UP: dict[Kind, str] = {
    "quiet": "no day to rest the voice before the takes",
    "spare": "no spare day for a second set of takes",
    "choose": "no day of its own for choosing: rest your ears after the takes, then choose",
}


@dataclass(frozen=True, slots=True)
class PieceNeed:
    """A piece as the calendar sees it.

    key: identifies it. seconds: of one run-through. clean_days: how many days had a clean run-through. items:
    its thoughts for the schedule. day: the piece's own date, None without one.
    """

    key: str
    name: str
    seconds: float
    clean_days: int
    items: tuple[Item, ...]
    day: date | None = None


@dataclass(frozen=True, slots=True)
class BriefNeed:
    """A brief as the calendar sees it.

    deadline: in the performer's local time. pieces: their keys, in order. takes: the most takes of a piece on
    one day. over: whether the deadline has passed, even if it was earlier today.
    """

    name: str
    deadline: date
    pieces: tuple[str, ...]
    takes: int = TAKES
    over: bool = False


@dataclass(frozen=True, slots=True)
class RecordingNeed:
    """One recording that has to be made.

    pieces: the keys of the pieces on it. briefs: the names of the briefs it is for, the nearest deadline
    first. made: whether a take was already chosen for it.
    """

    pieces: tuple[str, ...]
    briefs: tuple[str, ...]
    made: bool = False


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What cannot be done by a date, and what would make it possible. about: the brief's or piece's name."""

    about: str
    what: str
    do: str

    def __str__(self) -> str:
        """The two sentences together."""
        return f"{self.what} {self.do}".strip()


@dataclass(frozen=True, slots=True)
class Occasion:
    """Something to do on a certain day.

    pieces: their keys. briefs: their names, empty if it is for the piece's own date. seconds: of all its
    pieces said once. takes: the most takes of each piece. made_for: the name of the brief for which the
    recording that is sent was made, None for a recording of its own. alone: whether nothing else is said
    aloud for these pieces on that day.
    """

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
    """What to do on which days, the nearest brief first; and what there are too few days for.

    briefs: the nearest deadline first, none of them over. voice_left: the minutes of full voice left on a
    day.
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
    """What to do before the pieces' own dates, the nearest first."""
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
    """What to do on which day. earlier: how many days earlier everything up to the takes is planned."""
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
    """Whether on every day the voice is enough to say everything once, with what was planned before."""
    wanted: dict[date, float] = {}
    for o in [*placed, *found]:
        if o.kind in ("run", "takes"):
            wanted[o.day] = wanted.get(o.day, 0.0) + o.seconds / MINUTE
    return all(wanted[o.day] <= voice_left(o.day) for o in found if o.kind in ("run", "takes"))


def _runs_wanted(piece: PieceNeed, placed: Sequence[Occasion], today: date) -> int:
    """How many days of run-throughs are needed before the takes: until two are clean, and at least one."""
    before = len({o.day for o in placed if o.kind == "run" and piece.key in o.pieces})
    return max(1, CLEAN_DAYS - piece.clean_days - before)


def _for_date(piece: PieceNeed, day: date, placed: Sequence[Occasion], today: date) -> list[Occasion]:
    """What to do before a piece's own date: the run-throughs that no brief has planned, and a day of rest."""
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

    days: how many there are from today to the day of sending, both included. runs: how many days of
    run-throughs are needed. name: of the brief.
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
    while len(roles) > max(1, days):  # several things on one day, beginning with the first two
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
    what = f"{name} has too few days: {'; '.join(lost)}."
    return roles, [Shortfall(name, what, f"A deadline {more} day{'s' * (more > 1)} later would be enough.")]
