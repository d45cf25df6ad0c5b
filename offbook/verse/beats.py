"""Reading one line in one metre: which syllables are beats, at the lowest cost, for each number of beats.

A line is heard as beats with weak syllables before, between and after them (Attridge, "Poetic Rhythm", 1995,
from memory). A metre has a usual number of weak syllables in each place; any other number has a cost. Dynamic
programming finds the cheapest path over the words, the ways to say them, and their syllables.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from offbook.verse.costs import COSTS, Purpose
from offbook.verse.metres import Foot
from offbook.verse.syllables import SaidWord, VerseWord

MOST_BEATS = 8  # of a line; set by hand, because the longest line with a name is the octameter
# What the path has just passed: no beat yet; one beat, on the first syllable; nothing unusual; two beats
# without a weak syllable between them; two weak syllables in a metre of two.
_KINDS = NONE, FIRST, PLAIN, CLASH, DOUBLE = (0, 1, 2, 3, 4)
_BEAM = 9.0  # natural log units: a path that costs so much more than the best is dropped; set by hand

State = tuple[int, int, int]
Path = tuple[float, str, tuple[int, ...]]
# Weak syllables in a row: one more than a foot of two has, and more than any foot has.
_TWO_WEAK, _MOST_WEAK = 2, 3


@dataclass(frozen=True, slots=True)
class MetricalReading:
    """A line read in a metre.

    cost: in natural log units, lower is better. labels: w or s for each syllable. said: how each word is
    said.
    """

    cost: float
    labels: str
    said: tuple[SaidWord, ...]
    beats: int


def step_names(foot: Foot, run: int, kind: int, pause: bool) -> tuple[tuple[str, ...], int]:
    """The costs (keys of `Costs.step`) of a beat after `run` weak syllables, and the kind of the new state.

    kind: of the state before. pause: whether there is a pause before the beat.
    """
    if kind == NONE:
        return (f"start {run}",), FIRST if run == 0 else PLAIN
    names: tuple[str, ...] = ()
    if kind == FIRST and foot.rising:
        if run == _TWO_WEAK and foot.duple:
            return ("inversion",), PLAIN
        names = ("headless",) if run == 1 or not foot.duple else ()
    if run == 0:
        if pause:
            names += ("clash at pause",)
        if kind == DOUBLE:
            return (*names, "clash after double"), PLAIN
        return (*names, "between 0", *(("clash again",) if kind == CLASH else ())), CLASH
    if run == _TWO_WEAK and foot.duple:
        return (("double after clash",), PLAIN) if kind == CLASH else ((*names, "between 2"), DOUBLE)
    return (*names, f"between {run}", *(("clash again",) if kind == CLASH else ())), PLAIN


def end_names(foot: Foot, run: int, kind: int) -> tuple[str, ...]:
    """The costs (keys of `Costs.step`) of ending the line after `run` weak syllables. kind: of the state."""
    names: tuple[str, ...] = (f"end {run}",) if run < _MOST_WEAK else ("end 2", "end 2")
    if kind == CLASH:
        names += ("double after clash",) if run == _TWO_WEAK and foot.duple else ("clash again",)
    if kind == FIRST and foot.rising:
        names += ("headless",)
    return names


Steps = dict[tuple[int, int, bool], tuple[float, int]]


@cache
def _steps(foot: Foot, freedom: float, purpose: Purpose) -> Steps:
    """For (weak syllables passed, kind of state, whether a pause is here): a beat's cost and the new kind."""
    found: Steps = {}
    costs = COSTS[purpose]
    step = costs.step[foot.name]
    for run in range(_MOST_WEAK + 1):
        for kind in _KINDS:
            for pause in (False, True):
                names, become = step_names(foot, run, kind, pause)
                doubles = sum(n in ("between 2", "start 2") for n in names) if foot.duple else 0
                freed = freedom * costs.freedom * doubles
                found[run, kind, pause] = (sum(step[n] for n in names) - freed, become)
    return found


@cache
def _end(foot: Foot, run: int, kind: int, purpose: Purpose) -> float:
    step = COSTS[purpose].step[foot.name]
    return sum(step[n] for n in end_names(foot, run, kind))


def metrical_readings(
    tokens: Sequence[VerseWord], foot: Foot, purpose: Purpose, freedom: float = 0.0
) -> dict[int, MetricalReading]:
    """The cheapest reading of the line for each number of beats.

    purpose: which weights are used, `costs.CHOOSING` or `costs.READING`. freedom: how much less than usual
    two weak syllables in a row cost in a metre of two, in natural log units.
    """
    states: dict[State, Path] = {(0, 0, NONE): (0.0, "", ())}
    steps = _steps(foot, freedom, purpose)
    for token in tokens:
        merged: dict[State, Path] = {}
        for k, said in enumerate(token.ways):
            for state, path in _through(states, said, token.pause > 0, steps, purpose).items():
                held = merged.get(state)
                if held is None or path[0] < held[0]:
                    merged[state] = (path[0], path[1], (*path[2], k))
        limit = min((p[0] for p in merged.values()), default=0.0) + _BEAM
        states = {s: p for s, p in merged.items() if p[0] <= limit}
    best: dict[int, MetricalReading] = {}
    for (beats, run, kind), (cost, labels, ways) in states.items():
        total = cost + _end(foot, run, kind, purpose)
        if beats and (beats not in best or total < best[beats].cost):
            chosen = tuple(t.ways[k] for t, k in zip(tokens, ways, strict=True))
            best[beats] = MetricalReading(total, labels, chosen, beats)
    return best


def _through(
    states: dict[State, Path], said: SaidWord, pause: bool, steps: Steps, purpose: Purpose
) -> dict[State, Path]:
    """The states after a word that is said in one way."""
    price = said.cost(purpose)
    current = {s: (p[0] + price, p[1], p[2]) for s, p in states.items()}
    variant = COSTS[purpose].variant
    against = (0.0, variant["stress against the word"], variant["stress turned at the line's end"])
    for i, syllable in enumerate(said.syllables):
        after: dict[State, Path] = {}
        weak, strong = syllable.weak[purpose], syllable.strong[purpose]
        for (beats, run, kind), (cost, labels, ways) in current.items():
            if run < _MOST_WEAK:
                new = cost + weak + (against[syllable.rise] if i and syllable.rise > 0 and run == 0 else 0.0)
                key = (beats, run + 1, kind)
                if key not in after or new < after[key][0]:
                    after[key] = (new, labels + "w", ways)
            if beats < MOST_BEATS:
                step, become = steps[run, kind, pause and i == 0]
                new = (
                    cost
                    + strong
                    + step
                    + (against[-syllable.rise] if i and syllable.rise < 0 and run else 0.0)
                )
                key = (beats + 1, 0, become)
                if key not in after or new < after[key][0]:
                    after[key] = (new, labels + "s", ways)
        current = after
    return current
