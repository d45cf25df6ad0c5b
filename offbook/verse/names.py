"""The names of the variations from the plain metre, foot by foot, given the stresses that are shown.

One function gives all names, so that the marks and the names always agree. The names are those of the
handbooks (Abrams, "A Glossary of Literary Terms", under Meter; Fussell, "Poetic Meter and Poetic Form", 1965,
ch. 3; the names of the three-syllable feet are the classical ones; all from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

from offbook.verse.metres import LEAST_REVERSED, Foot

FOOT_NAMES = {
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
_PLACES = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def place_name(k: int) -> str:
    """The place of foot `k` (from 0) in words: "first"."""
    return _PLACES[k] if k < len(_PLACES) else f"{k + 1}th"


def variations_of(sizes: Sequence[int], stress: str, foot: Foot) -> tuple[str, ...]:
    """The names of a line's variations from the plain `foot`, in order.

    sizes: how many syllables each foot has; their sum is the length of `stress`. stress: the marks (w and s)
    that are shown for the line; only they decide the name of a foot.
    """
    if _turned(sizes, stress, foot):
        return ("trochaic line (falling throughout)" if foot.rising else "iambic line (rising throughout)",)
    found = []
    last, at = len(sizes) - 1, 0
    for k, size in enumerate(sizes):
        marks = stress[at : at + size]
        at += size
        found += _departures(marks, foot, k, last)
    return tuple(found)


def _turned(sizes: Sequence[int], stress: str, foot: Foot) -> bool:
    """Whether the whole line is in the opposite metre: "Never, never, never, never, never!"."""
    in_twos = foot.duple and set(sizes) == {2}
    return in_twos and len(sizes) >= LEAST_REVERSED and stress == foot.plain[::-1] * len(sizes)


def _departures(marks: str, foot: Foot, k: int, last: int) -> list[str]:
    """The names of one foot's variations; the last foot may have two, of which one is an ending."""
    if marks == foot.plain:
        return []
    return _of_rising(marks, foot, k, last) if foot.rising else _of_falling(marks, foot, k, last)


def _of_rising(marks: str, foot: Foot, k: int, last: int) -> list[str]:
    """The variations of a foot in a rising metre: the last may have an ending, the first may be headless."""
    plain = foot.plain
    extra = marks[len(plain) :]
    if k == last and extra and set(extra) == {"w"}:
        ending = "feminine ending" if len(extra) == 1 else "triple ending"
        return [*_departures(marks[: len(plain)], foot, k, -1), ending]
    if not foot.duple and k == last and marks == "wsw":
        return ["feminine ending"]  # an iamb for the anapaest, and one more light syllable
    if k == 0 and len(marks) == 1:
        return ["headless (acephalous)"]
    return [_name(marks, plain, k)]


def _of_falling(marks: str, foot: Foot, k: int, last: int) -> list[str]:
    """The variations of a foot in a falling metre: the last may be short, the first may have an upbeat."""
    plain = foot.plain
    if k == last and (len(marks) == 1 or plain.startswith(marks)):
        return ["catalexis"]
    if k == 0 and marks == "w" + plain:
        return ["anacrusis"]
    return [_name(marks, plain, k)]


def _name(marks: str, plain: str, k: int) -> str:
    where = place_name(k)
    if len(marks) == 1:
        return f"monosyllabic foot ({where} foot)"
    if (plain, marks) in (("ws", "sw"), ("sw", "ws")):
        name = "trochee" if marks == "sw" else "iamb"
        return f"{'initial inversion' if k == 0 else 'inversion'} ({name}, {where} foot)"
    if (plain, marks) == ("ws", "wws"):
        return f"anapaestic substitution ({where} foot)"
    if (plain, marks) == ("sw", "sww"):
        return f"dactylic substitution ({where} foot)"
    return f"{FOOT_NAMES.get(marks, f'foot of {len(marks)} syllables')} ({where} foot)"
