"""Dividing a line's syllables into the feet of its metre, the likeliest way."""

from __future__ import annotations

from functools import lru_cache

from offbook.verse.metres import LEAST_REVERSED

# The cost of a foot (its syllables) in each metre: anywhere, only as the first, only as the last. Set by
# hand, on the handbook lines of the tests: 0 is the plain foot, and the more unusual a foot is, the higher is
# its cost.
_FEET: dict[str, tuple[dict[str, float], dict[str, float], dict[str, float]]] = {
    "iambic": (
        {
            "ws": 0.0,
            "sw": 1.0,
            "wws": 1.1,
            "ww": 1.4,
            "ss": 1.4,
            "sww": 2.6,
            "wsw": 2.2,
            "wss": 2.4,
            "www": 3.0,
            "wwws": 3.5,
            "w": 6.0,
            "s": 4.0,
        },
        {"s": 1.2},
        {"wsw": 0.4, "wsww": 0.9, "wwsw": 1.5, "ssw": 1.6, "swsw": 3.0, "www": 2.0, "sws": 2.5, "wwsww": 3.0},
    ),
    "trochaic": (
        {"sw": 0.0, "ws": 1.3, "sww": 1.0, "ww": 1.4, "ss": 1.4, "swww": 3.0, "s": 2.5, "w": 6.0, "wsw": 3.0},
        {"wsw": 0.9, "ws": 1.0, "wsww": 2.0},
        {"s": 0.3, "ws": 1.2, "sws": 2.5},
    ),
    "anapaestic": (
        {
            "wws": 0.0,
            "ws": 0.6,
            "sws": 0.7,
            "wss": 0.9,
            "sss": 2.0,
            "ss": 1.4,
            "www": 1.8,
            "ww": 2.0,
            "sw": 2.0,
            "s": 3.5,
            "w": 6.0,
            "wwws": 1.6,
            "wsw": 2.6,
            "ssw": 3.0,
            "sww": 3.0,
        },
        {"s": 1.5, "sw": 1.4},
        {"wwsw": 0.4, "wsw": 0.8, "swsw": 1.1, "wwsww": 1.0, "wssw": 1.4, "wsww": 1.2},
    ),
    "dactylic": (
        {
            "sww": 0.0,
            "sw": 0.6,
            "sws": 0.8,
            "ssw": 1.0,
            "ss": 1.2,
            "swww": 1.6,
            "ws": 2.0,
            "ww": 2.0,
            "www": 2.0,
            "s": 2.5,
            "w": 6.0,
            "wws": 2.5,
            "wsw": 2.6,
        },
        {"wsww": 1.0, "wsw": 1.2},
        {"s": 0.3, "sw": 0.2},
    ),
}


# the foot of a line that is in the opposite metre throughout ("Never, never, never, never, never!")
_REVERSED = {"iambic": "sw", "trochaic": "ws"}
_NEVER = 99.0  # the cost of syllables that are not a foot: far more than that of any foot in the table
_POSSIBLE = 90  # a division with a lower cost contains only possible feet
_LONGEST_FOOT = 5  # syllables: the longest foot in the table
_ANOTHER_COUNT = 1.5  # the cost of each foot more or less than was asked for; set by hand


_LINES_KEPT = 20_000  # lines of marks that are remembered: many lines of a play have the same; set by hand


@lru_cache(maxsize=_LINES_KEPT)
def divide_feet(labels: str, metre: str, count: int) -> tuple[str, ...]:
    """`labels` (w and s) divided into the feet of `metre`, if possible into `count` feet."""
    if count >= LEAST_REVERSED and labels == _REVERSED.get(metre, "") * count:
        return (_REVERSED[metre],) * count
    anywhere, first, last = _FEET[metre]
    best: dict[tuple[int, int], tuple[float, tuple[str, ...]]] = {(0, 0): (0.0, ())}
    n = len(labels)
    for at in range(n):
        for feet in range(at + 1):
            held = best.get((at, feet))
            if held is None:
                continue
            for size in range(1, min(_LONGEST_FOOT, n - at) + 1):
                foot = labels[at : at + size]
                costs = [anywhere.get(foot, _NEVER)]
                if at == 0:
                    costs.append(first.get(foot, _NEVER))
                if at + size == n:
                    costs.append(last.get(foot, _NEVER))
                cost = held[0] + min(costs)
                key = (at + size, feet + 1)
                if cost < _POSSIBLE and (key not in best or cost < best[key][0]):
                    best[key] = (cost, (*held[1], foot))
    ends = {feet: path for (at, feet), path in best.items() if at == n}
    if not ends:
        return (labels,)
    return ends[min(ends, key=lambda f: ends[f][0] + _ANOTHER_COUNT * abs(f - count))][1]
