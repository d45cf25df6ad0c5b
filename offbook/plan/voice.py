"""How often each piece is said aloud on each day, within one cap on full voice for everything together.

First, everything planned for a day gets the minimum: once through. The voice that is left then goes to the
most urgent first, for more takes or more run-throughs. After a run-through comes a rest of the same length,
which takes time too. The counts are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil, floor

from offbook.phrasing import MINUTE
from offbook.plan.days import Kind, Occasion, PieceNeed, Shortfall
from offbook.report import day_name

MOST_RUNS = 3  # run-throughs of a piece on one day; common practice, no source
# Of the cap: run-throughs may use so much, the rest is for other speaking on that day; set by hand
VOICE_SHARE = 0.5
AROUND = 1.25  # a take costs the voice so many times its length, because of false starts; set by hand
# Minutes before the first take, to set up the camera and check it; common practice, no source
SETTING_UP = 15
_PRACTICE_SHARE = 2  # run-throughs take at most half of the minutes of practice; set by hand
_WITH_REST = 2  # a run-through or a take and the rest after it take so many times its length
_ROUNDING = 1e-9  # minutes: a sum may exceed another by so little and count as equal
_TENTHS = 10  # minutes of voice are given in tenths
_ALOUD = ("run", "takes", "spare")


@dataclass(frozen=True, slots=True)
class Voiced:
    """Something to say aloud on a day. names: of the pieces. minutes: in all. voice: at full voice."""

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
    """What is said aloud on each day, and the days on which saying everything once is too much for the voice.

    placed: the most urgent first. caps: the minutes of full voice left on a day, `cap` for a day that is not
    in it. practice: minutes of practice a day, of which run-throughs take at most half.
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
        if wanted > left + _ROUNDING:
            over.append((day, wanted, left, tuple(dict.fromkeys(n for v in out[day] for n in v.names))))
    return out, _too_loud(over)


def _one_day(
    found: Sequence[Occasion], known: Mapping[str, PieceNeed], cap: float, practice: float
) -> list[Voiced]:
    """Everything once, then more of the most urgent while there is voice left."""
    once = [(o, keys) for o, keys in _once_each(found)]
    least = [sum(known[key].seconds for key in keys) / MINUTE for _, keys in once]
    out: list[Voiced] = []
    used = 0.0
    time_left = practice / _PRACTICE_SHARE
    for n, (o, keys) in enumerate(once):
        left = max(0.0, cap - used - sum(least[n + 1 :]))
        names = tuple(known[key].name for key in keys)
        if o.kind == "run":
            made = _run(o, names, least[n], left, min(VOICE_SHARE * cap, left), time_left)
            time_left = max(0.0, time_left - made.minutes)
        elif o.kind == "spare" and left < least[n]:
            continue  # a spare day may be left out: the takes came before it
        else:
            made = _takes(o, names, least[n], left)
        used += made.voice
        out.append(made)
    return out


def _once_each(found: Sequence[Occasion]) -> list[tuple[Occasion, tuple[str, ...]]]:
    """Each occasion with its pieces, without those that a more urgent one already runs through."""
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
    """The run-throughs of a day.

    If there are takes too, there is one, at full voice only if enough is left for a take. each, left, share:
    minutes of voice of one run-through, left under the cap, and for run-throughs. minutes: of practice that
    are left.
    """
    count = _fit(min(share, minutes / _WITH_REST), each, MOST_RUNS) if o.alone else 1
    voice = count * each if o.alone or left >= 2 * each else 0.0
    what = f"run {joined_names(names)} through {_times(count)}{_rest(count)}"
    return Voiced(
        "run",
        what if voice or not each else f"{what}, at half voice",
        names,
        o.briefs,
        _WITH_REST * count * each,
        voice,
    )


def _takes(o: Occasion, names: tuple[str, ...], each: float, left: float) -> Voiced:
    """The takes of a day. each, left: minutes of voice of one take, and left under the cap."""
    count = _fit(left, each * AROUND, o.takes)
    voice = min(count * each * AROUND, max(left, each))
    whom = f" for {joined_names(o.briefs)}" if o.briefs else ""
    of_each = " of each" * (len(names) > 1)
    what = f"record {joined_names(names)}: up to {count} take{'s' * (count != 1)}{of_each}{whom}"
    what += ", an intention for each" if o.kind == "takes" else ", only if none so far will do"
    minutes = _WITH_REST * voice + SETTING_UP
    return Voiced(o.kind, what + _rest(count), names, o.briefs, minutes, voice)


def _fit(minutes: float, each: float, most: int) -> int:
    """How often `each` fits into `minutes`, at least once and at most `most` times."""
    return max(1, int(min(most, minutes / each + _ROUNDING))) if each > 0 else most


def joined_names(names: Sequence[str]) -> str:
    """Names as people list them: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _rest(count: int) -> str:
    return ", a rest as long as each between them" if count > 1 else ""


def _too_loud(over: Sequence[tuple[date, float, float, tuple[str, ...]]]) -> list[Shortfall]:
    """What to say about the days on which saying everything once is too much for the voice."""
    if not over:
        return []
    day, worst, cap, names = max(over, key=lambda found: found[1] - found[2])
    more = len(over) - 1
    who = day_name(day)
    who += f" and {more} more day{'s' * (more > 1)} need up to" if more else " needs"
    # up and down, so that the minutes needed are always shown as more than those left
    needed, left = ceil(_TENTHS * worst) / _TENTHS, floor(_TENTHS * cap) / _TENTHS
    return [
        Shortfall(
            names[0],
            f"{who} {needed:g} minutes of full voice, and {left:g} are left under the cap.",
            f"Spread {joined_names(names)} over more days, or use half voice.",
        )
    ]
