"""How often each piece is said aloud on each day, so that the cap on full voice holds over everything.

Everything that is set for a day first gets what it cannot do without: once through. What is left under the
cap then goes to the most urgent first: more takes, more run-throughs. A run-through takes the time of a rest
as long as itself besides. Counts are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil, floor

from offbook.plan.days import Kind, Occasion, PieceNeed, Shortfall
from offbook.report import day_name

MOST_RUNS = 3  # run-throughs of a piece on one day; common practice, no source
VOICE_SHARE = 0.5  # of the cap that run-throughs may use: the rest is for whatever else the day holds
AROUND = 1.25  # of its length that a take costs the voice: a false start now and then
SETTING_UP = 15  # minutes to set up and look before the first take; common practice, no source
_ALOUD = ("run", "takes", "spare")


@dataclass(frozen=True, slots=True)
class Voiced:
    """Something to say aloud on a day. names: of the pieces. minutes in all; voice: of full voice."""

    kind: Kind
    what: str
    names: tuple[str, ...]
    briefs: tuple[str, ...]
    minutes: float
    voice: float


def voiced(
    placed: Sequence[Occasion],
    pieces: Sequence[PieceNeed],
    caps: Mapping[date, float],
    cap: float,
    practice: float,
) -> tuple[dict[date, list[Voiced]], list[Shortfall]]:
    """What is said aloud, by day, and the days on which even once through is more than the voice may do.

    placed: the most urgent first. caps: minutes of full voice left on a day, `cap` where it names none.
    practice: minutes of practice a day, of which run-throughs take at most half.
    """
    known = {p.key: p for p in pieces}
    by_day: dict[date, list[Occasion]] = {}
    for o in placed:
        if o.kind in _ALOUD:
            by_day.setdefault(o.day, []).append(o)
    out: dict[date, list[Voiced]] = {}
    over: list[tuple[date, float, float, tuple[str, ...]]] = []
    for day, found in sorted(by_day.items()):
        left = caps.get(day, cap)
        out[day] = _one_day(found, known, left, practice)
        wanted = sum(v.voice for v in out[day])
        if wanted > left + 1e-9:
            over.append((day, wanted, left, tuple(dict.fromkeys(n for v in out[day] for n in v.names))))
    return out, _too_loud(over)


def _one_day(
    found: Sequence[Occasion], known: Mapping[str, PieceNeed], cap: float, practice: float
) -> list[Voiced]:
    """Once through of everything, then more of the most urgent while the cap has room."""
    once = [(o, keys) for o, keys in _once_each(found)]
    least = [sum(known[key].seconds for key in keys) / 60 for _, keys in once]
    out: list[Voiced] = []
    used = 0.0
    time_left = practice / 2
    for n, (o, keys) in enumerate(once):
        left = max(0.0, cap - used - sum(least[n + 1 :]))
        names = tuple(known[key].name for key in keys)
        if o.kind == "run":
            made = _run(o, names, least[n], left, min(VOICE_SHARE * cap, left), time_left)
            time_left = max(0.0, time_left - made.minutes)
        elif o.kind == "spare" and left < least[n]:
            continue  # a spare day without a voice for it is no loss: the takes came first
        else:
            made = _takes(o, names, least[n], left)
        used += made.voice
        out.append(made)
    return out


def _once_each(found: Sequence[Occasion]) -> list[tuple[Occasion, tuple[str, ...]]]:
    """Each occasion with its pieces, less those that are said in the same way for a nearer one."""
    seen: set[tuple[str, str]] = set()
    out = []
    for o in found:
        keys = tuple(key for key in o.pieces if o.kind != "run" or (o.kind, key) not in seen)
        seen |= {(o.kind, key) for key in keys}
        if keys:
            out.append((o, keys))
    return out


def _run(
    o: Occasion, names: tuple[str, ...], each: float, left: float, share: float, minutes: float
) -> Voiced:
    """Run-throughs; before takes on the same day one, at full voice only where that leaves enough for one."""
    count = _fit(min(share, minutes / 2), each, MOST_RUNS) if o.alone else 1
    voice = count * each if o.alone or left >= 2 * each else 0.0
    what = f"run {joined_names(names)} through {_times(count)}{_rest(count)}"
    return Voiced(
        "run",
        what if voice or not each else f"{what}, at half voice",
        names,
        o.briefs,
        2 * count * each,
        voice,
    )


def _takes(o: Occasion, names: tuple[str, ...], each: float, left: float) -> Voiced:
    """Takes; where the cap has no room for a false start, one without."""
    count = _fit(left, each * AROUND, o.takes)
    voice = min(count * each * AROUND, max(left, each))
    whom = f" for {joined_names(o.briefs)}" if o.briefs else ""
    of_each = " of each" * (len(names) > 1)
    what = f"record {joined_names(names)}: up to {count} take{'s' * (count != 1)}{of_each}{whom}"
    what += ", an intention for each" if o.kind == "takes" else ", only if none so far will do"
    return Voiced(o.kind, what + _rest(count), names, o.briefs, 2 * voice + SETTING_UP, voice)


def _fit(minutes: float, each: float, most: int) -> int:
    """How often `each` goes into `minutes`, from once to `most` times."""
    return max(1, int(min(most, minutes / each + 1e-9))) if each > 0 else most


def joined_names(names: Sequence[str]) -> str:
    """Names for people: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _rest(count: int) -> str:
    return ", a rest as long as each between them" if count > 1 else ""


def _too_loud(over: Sequence[tuple[date, float, float, tuple[str, ...]]]) -> list[Shortfall]:
    """What to say where even once through is more than the voice may do."""
    if not over:
        return []
    day, worst, cap, names = max(over, key=lambda found: found[1] - found[2])
    more = len(over) - 1
    who = day_name(day)
    who += f" and {more} more day{'s' * (more > 1)} need up to" if more else " needs"
    needed, left = ceil(10 * worst) / 10, floor(10 * cap) / 10  # so that more always reads as more
    return [
        Shortfall(
            names[0],
            f"{who} {needed:g} minutes of full voice, and {left:g} are left under the cap.",
            f"Share {joined_names(names)} out over more days, or keep to half voice.",
        )
    ]
