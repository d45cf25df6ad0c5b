"""Reading one line in one metre: which syllables are beats, at the least cost, for each number of beats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from offbook.verse.metres import FAR, Foot
from offbook.verse.syllables import Said, Token

MOST_BEATS = 8
# no beat yet; one beat on the first syllable; plain; two beats side by side; two weak syllables just passed
_NONE, _FIRST, _PLAIN, _CLASH, _DOUBLE = range(5)
_RISE_WRONG = 2.5
_BEAM = 9.0

State = tuple[int, int, int]
Path = tuple[float, object]


@dataclass(frozen=True, slots=True)
class Reading:
    """A line in a metre. labels: w and s. said: the way each word is said. cost: lower is better."""

    cost: float
    labels: str
    said: tuple[Said, ...]
    beats: int


def _gap(foot: Foot, state: State, pause: int) -> tuple[float, int]:
    _, run, kind = state
    if kind == _NONE:
        return foot.start[run], _FIRST if run == 0 else _PLAIN
    if kind == _FIRST and foot.plain == "ws":
        if run == 2:
            return foot.inversion, _PLAIN
        return (foot.between[run] + 1.5), _CLASH if run == 0 else _PLAIN
    if run == 0:
        cost = foot.between[0] - (0.8 if pause else 0.0)
        if kind == _DOUBLE:
            return max(0.3, cost - 1.0), _PLAIN
        return cost + (foot.clash if kind == _CLASH else 0.0), _CLASH
    if run == 2 and len(foot.plain) == 2:
        return (0.3 if kind == _CLASH else foot.between[2]), _PLAIN if kind == _CLASH else _DOUBLE
    return foot.between[run] + (foot.clash if kind == _CLASH else 0.0), _PLAIN


def _end(foot: Foot, state: State) -> float:
    _, run, kind = state
    cost = foot.end[run]
    if kind == _CLASH:
        cost += 0.0 if len(foot.plain) == 2 and run == 2 else foot.clash
    if kind == _FIRST and foot.plain == "ws":
        cost += 1.5
    return cost


def readings(tokens: Sequence[Token], foot: Foot) -> dict[int, Reading]:
    """The cheapest reading of the line for each number of beats."""
    states: dict[State, tuple[float, str, tuple[int, ...]]] = {(0, 0, _NONE): (0.0, "", ())}
    for token in tokens:
        merged: dict[State, tuple[float, str, tuple[int, ...]]] = {}
        for k, said in enumerate(token.ways):
            for state, path in _through(states, said, token.pause, foot).items():
                held = merged.get(state)
                if held is None or path[0] < held[0]:
                    merged[state] = (path[0], path[1], (*path[2], k))
        states = _pruned(merged)
    best: dict[int, Reading] = {}
    for state, (cost, labels, ways) in states.items():
        total, beats = cost + _end(foot, state), state[0]
        if beats and (beats not in best or total < best[beats].cost):
            chosen = tuple(t.ways[k] for t, k in zip(tokens, ways, strict=True))
            best[beats] = Reading(total, labels, chosen, beats)
    return best


def _pruned(
    states: dict[State, tuple[float, str, tuple[int, ...]]],
) -> dict[State, tuple[float, str, tuple[int, ...]]]:
    if not states:
        return states
    limit = min(p[0] for p in states.values()) + _BEAM
    return {s: p for s, p in states.items() if p[0] <= limit}


def _through(
    states: dict[State, tuple[float, str, tuple[int, ...]]], said: Said, pause: int, foot: Foot
) -> dict[State, tuple[float, str, tuple[int, ...]]]:
    """The states after one way of saying a word."""
    current = {s: (p[0] + said.cost, p[1], p[2]) for s, p in states.items()}
    for i, syllable in enumerate(said.syllables):
        after: dict[State, tuple[float, str, tuple[int, ...]]] = {}
        for state, (cost, labels, ways) in current.items():
            beats, run, kind = state
            if run < 3:
                wrong = _RISE_WRONG if syllable.rise > 0 and run == 0 and i else 0.0
                new, key = cost + syllable.weak + wrong, (beats, run + 1, kind)
                if key not in after or new < after[key][0]:
                    after[key] = (new, labels + "w", ways)
            if beats < MOST_BEATS:
                step, become = _gap(foot, state, pause if i == 0 else 0)
                if step >= FAR:
                    continue
                wrong = _RISE_WRONG if syllable.rise < 0 and run and i else 0.0
                new, key = cost + syllable.strong + step + wrong, (beats + 1, 0, become)
                if key not in after or new < after[key][0]:
                    after[key] = (new, labels + "s", ways)
        current = after
    return current
