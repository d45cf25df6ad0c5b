"""Dividing a line's syllables into feet, and naming what differs from the plain metre.

The names are those of the handbooks (Abrams, "A Glossary of Literary Terms", under Meter; Fussell,
"Poetic Meter and Poetic Form", 1965, ch. 3; both from memory).
"""

from __future__ import annotations

from functools import lru_cache

from offbook.verse.metres import Foot

# cost of a foot (its syllables) in each metre: anywhere, first only, last only
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


@lru_cache(maxsize=20000)
def divide_feet(labels: str, metre: str, count: int) -> tuple[str, ...]:
    """`labels` (w and s) in the feet of `metre`, `count` of them where that is possible at all."""
    anywhere, first, last = _FEET[metre]
    best: dict[tuple[int, int], tuple[float, tuple[str, ...]]] = {(0, 0): (0.0, ())}
    n = len(labels)
    for at in range(n):
        for feet in range(at + 1):
            held = best.get((at, feet))
            if held is None:
                continue
            for size in range(1, min(5, n - at) + 1):
                foot = labels[at : at + size]
                costs = [anywhere.get(foot, 99.0)]
                if at == 0:
                    costs.append(first.get(foot, 99.0))
                if at + size == n:
                    costs.append(last.get(foot, 99.0))
                cost = held[0] + min(costs)
                key = (at + size, feet + 1)
                if cost < 90 and (key not in best or cost < best[key][0]):
                    best[key] = (cost, (*held[1], foot))
    ends = {feet: path for (at, feet), path in best.items() if at == n}
    if not ends:
        return (labels,)
    return ends[min(ends, key=lambda f: ends[f][0] + 1.5 * abs(f - count))][1]


_FOOT_NAMES = {
    "ww": "pyrrhic",
    "ss": "spondee",
    "ws": "iamb",
    "sw": "trochee",
    "wws": "anapaest",
    "sww": "dactyl",
    "sws": "cretic",
    "wss": "bacchius",
    "wsw": "amphibrach",
    "sss": "molossus",
    "www": "tribrach",
    "ssw": "antibacchius",
}


def variations_of(feet: tuple[str, ...], foot: Foot, stress: str) -> tuple[str, ...]:
    """The departures from the plain `foot` by their handbook names, in the order of the line.

    A foot that keeps to the metre but is spoken (`stress`) with two stresses or none is named for that.
    """
    found = []
    last, at = len(feet) - 1, 0
    for k, each in enumerate(feet):
        spoken = stress[at : at + len(each)]
        at += len(each)
        name = _departure(each, foot.plain, k, last)
        if name is None and spoken in ("ss", "ww"):
            name = f"{_FOOT_NAMES[spoken]} ({_place(k)} foot)"
        if name:
            found.append(name)
    return tuple(found)


def _place(k: int) -> str:
    return (
        ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")[k]
        if k < 8
        else f"{k + 1}th"
    )


def _departure(each: str, plain: str, k: int, last: int) -> str | None:
    rising = plain.endswith("s")
    where = f" ({_place(k)} foot)"
    if each == plain:
        return None
    if rising and k == last and each.endswith("w") and each not in ("w", "sw", "ww"):
        body = each.rstrip("w")
        extra = len(each) - len(body)
        name = "feminine ending" if extra == 1 else "triple ending"
        inner = _departure(body, plain, k, -1) if body != plain else None
        return f"{inner}, {name}" if inner else name
    if rising and k == 0 and each == "s":
        return "headless (acephalous)"
    if not rising and k == last and len(each) < len(plain) and plain.startswith(each):
        return "catalexis"
    if not rising and k == 0 and each.startswith("w") and plain.startswith(each[1:]) and len(each) > 2:
        return "anacrusis"
    if plain == "ws" and each == "sw":
        return ("initial inversion" if k == 0 else "inversion") + f" (trochee, {_place(k)} foot)"
    if each == "wws" and plain == "ws":
        return "anapaestic substitution" + where
    if each == "sww" and plain == "sw":
        return "dactylic substitution" + where
    return _FOOT_NAMES.get(each, f"irregular foot {each}") + where
