"""Spoken stress: which syllables of a line a reader stresses, if its beats are known.

The metre says which syllables are beats, but a voice does not follow it everywhere. A heavy word between two
beats keeps its stress (a spondee), a light word on a beat may not get any (a pyrrhic), and neighbouring
syllables influence one another. Each syllable gets weights for its word class, its place on or off the beat
and the syllables beside it, and each pair of syllables gets weights for how they follow one another. The
likeliest stress of the whole line is chosen (a linear-chain conditional random field: Lafferty, McCallum and
Pereira 2001). The weights are in `spoken_weights`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from offbook.verse.beats import MetricalReading
from offbook.verse.prominence import FUNCTION
from offbook.verse.spoken_weights import PAIR, SINGLE
from offbook.verse.syllables import VerseWord

_STRONG = frozenset({"content", "light verb", "number", "main stress"})
_LINE_EDGE = 3  # the pause at the beginning and the end of a line


@dataclass(frozen=True, slots=True)
class SpokenSyllable:
    """One syllable whose spoken stress is to be decided.

    name: its word class, or its stress in a longer word. kind: S strong, W weak, F function word, M between.
    beat: s on the beat, w off it. before, after: the pause there (0 none, 1 a comma, 2 a longer stop, 3 the
    line's edge). triple: whether the metre has feet of three syllables.
    """

    name: str
    kind: str
    beat: str
    before: int
    after: int
    triple: bool


_NAMES_KEPT = 200  # names of kinds of syllable that are remembered; set by hand, more than there are


@lru_cache(maxsize=_NAMES_KEPT)
def _kind(name: str) -> str:
    if name in _STRONG:
        return "S"
    if name.startswith("unstressed"):
        return "W"
    return "F" if name in FUNCTION else "M"


def spoken_syllables(
    tokens: Sequence[VerseWord], reading: MetricalReading, triple: bool
) -> tuple[SpokenSyllable, ...]:
    """The syllables of a line as it is read in its metre."""
    plain: list[tuple[str, int]] = []
    for token, said in zip(tokens, reading.said, strict=True):
        for j, each in enumerate(said.syllables):
            fixed = "main stress" if each.settled == "s" else "unstressed apart"
            name = each.names[0] if each.names else fixed
            plain.append((name, token.pause if j == 0 else 0))
    found = []
    for i, (name, pause) in enumerate(plain):
        before = pause if i else _LINE_EDGE
        after = plain[i + 1][1] if i + 1 < len(plain) else _LINE_EDGE
        found.append(SpokenSyllable(name, _kind(name), reading.labels[i], before, after, triple))
    return tuple(found)


def single(line: Sequence[SpokenSyllable], i: int) -> list[str]:
    """The names of the weights (`spoken_weights.SINGLE`) for stress on syllable `i`."""
    x = line[i]
    last = i + 1 == len(line)
    at = f"{x.kind} {'on' if x.beat == 's' else 'off'}"
    on = at[2:]
    kind_before = line[i - 1].kind if not x.before else "pause"
    kind_after = line[i + 1].kind if not x.after else "pause"
    found = [
        f"{x.name}, {on}",
        on,
        f"{at}, after {kind_before}",
        f"{at}, before {kind_after}",
        f"{at}, then {'edge' if last else line[i + 1].beat}",
        f"{at}, from {line[i - 1].beat if i else 'edge'}",
    ]
    if i == 0:
        found += [f"{at}, first", f"{x.name}, {on}, first"]
    if last:
        found.append(f"{at}, last")
    if x.after in (1, 2):
        found.append(f"{at}, before a stop")
    if x.before in (1, 2):
        found.append(f"{at}, after a stop")
    if x.triple:
        found += [f"triple, {on}", f"triple, {at}"]
    if x.name == "content" and not last and not x.after and line[i + 1].name == "content":
        found.append(f"content {on} before content")
    if x.name == "content" and i and not x.before and line[i - 1].name == "content":
        found.append(f"content {on} after content")
    return found


def pair(line: Sequence[SpokenSyllable], i: int) -> list[str]:
    """The names of the weights (`spoken_weights.PAIR`) for how syllable `i` follows the one before."""
    a, b = line[i - 1], line[i]
    return [f"beats {a.beat}{b.beat}", f"kinds {a.kind}{b.kind}", "across a stop" if b.before else "together"]


def _single_score(line: Sequence[SpokenSyllable], i: int) -> float:
    return sum(SINGLE.get(name, 0.0) for name in single(line, i))


def _pair_scores(line: Sequence[SpokenSyllable], i: int) -> tuple[float, float, float, float]:
    rows = [PAIR[name] for name in pair(line, i) if name in PAIR]
    ww, ws, sw, ss = (sum(column) for column in zip(*rows, strict=True)) if rows else (0.0, 0.0, 0.0, 0.0)
    return ww, ws, sw, ss


def likeliest(
    line: Sequence[SpokenSyllable], fixed: Sequence[str | None] | None = None
) -> list[tuple[float, str]]:
    """The two likeliest stress strings of the line with their scores (natural log units), best first.

    fixed: for each syllable w or s if the performer has decided it, else None.
    """
    beams: dict[str, list[tuple[float, str]]] = {}
    for i in range(len(line)):
        lean = _single_score(line, i)
        ways: dict[str, list[tuple[float, str]]] = {"w": [], "s": []}
        pairs = _pair_scores(line, i) if i else (0.0, 0.0, 0.0, 0.0)
        for y, own in (("w", 0.0), ("s", lean)):
            if fixed is not None and fixed[i] not in (None, y):
                continue
            if not i:
                ways[y] = [(own, y)]
                continue
            for x, paths in beams.items():
                step = own + pairs[2 * (x == "s") + (y == "s")]
                ways[y] += [(score + step, path + y) for score, path in paths]
            ways[y] = sorted(ways[y], reverse=True)[:2]
        beams = ways
    return sorted((p for paths in beams.values() for p in paths), reverse=True)[:2]
