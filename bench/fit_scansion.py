"""Learn the weights of `offbook/verse/learnt.py` from lines scanned by hand, and test them on poems left
out.

    python bench/fit_scansion.py LINES.tsv [--folds 8]

LINES.tsv has the columns id, poem, author, line and real (a w or an s for each syllable). Lines whose id
begins with "fbfv" are marked as they are spoken, the others in feet. The possible readings of a line in its
metre (which the weights of `costs.py` choose) are weighed by a log-linear model, and the right reading is
the likeliest one that is possible. From the lines that are marked as they are spoken only the number of
syllables is learnt. Each weight is held near a simple starting value (`START`) and not near the weight that
was set by hand, so the figure for the poems left out does not depend on those. A poem that is in the file
twice is left out as a whole.
"""

from __future__ import annotations

import argparse
import csv
import random
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from offbook.script import parse_script
from offbook.verse.beats import MOST_BEATS, NONE, end_names, step_names
from offbook.verse.costs import COSTS, READING
from offbook.verse.prominence import FUNCTION
from offbook.verse.scansion import _stanza
from offbook.verse.syllables import VerseWord, tokens_of
from offbook.verse.whole import LineReadings, StanzaLine, _freedom, fitting_form, forms_by_block
from offbook.words import words_of

KEPT = 60  # readings of a line that are weighed
HELD = 1.0  # how strongly a weight is held at its start (a normal prior of variance 1)
FREE = {"Walt Whitman", "Thomas Stearns Eliot", "Edward Estlin Cummings", "William Carlos Williams"}
Array = NDArray[np.float64]

# Where the weights begin: what any handbook would say, in round numbers.
LEANS = {
    "content": 1.5, "light verb": 1.0, "number": 0.5, "main stress": 2.0, "main stress of a light word": 1.0,
    "secondary stress beside main": -0.5, "unstressed beside stress": -2.0, "unstressed apart": -0.5,
    "unstressed last": -1.0, "at the line's end": 1.5, "before a pause": 1.0,
}  # fmt: skip
A_FUNCTION_WORD, A_VARIANT = -1.5, 1.5
DUPLE = {
    "between 0": 3.0, "between 1": 0.0, "between 2": 1.0, "between 3": 4.0, "start 3": 5.0, "inversion": 1.0,
    "headless": 1.0, "clash again": 1.5, "clash after double": 2.0, "double after clash": 0.5,
    "clash at pause": -1.0,
}  # fmt: skip
START: dict[str, dict[str, float]] = {
    "iambic": DUPLE | {"start 0": 1, "start 1": 0, "start 2": 2, "end 0": 0, "end 1": 0.7, "end 2": 2.5},
    "trochaic": DUPLE | {"start 0": 0, "start 1": 2, "start 2": 3, "end 0": 0.5, "end 1": 0, "end 2": 2.5},
    "anapaestic": DUPLE | {"between 1": 1, "between 2": 0, "start 0": 1, "start 1": 0.5, "start 2": 0.2,
                           "end 0": 0, "end 1": 0.7, "end 2": 2.5},
    "dactylic": DUPLE | {"between 1": 1, "between 2": 0, "start 0": 0, "start 1": 2, "start 2": 3,
                         "end 0": 0.5, "end 1": 0, "end 2": 0},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sample:
    """A line scanned by hand: its poem, its marks, and its possible readings, each with what it counts."""

    poem: str
    voice: bool
    real: str
    readings: tuple[tuple[str, Counter[str]], ...]


def counted(
    tokens: Sequence[VerseWord], place: StanzaLine, freedom: float
) -> tuple[tuple[str, Counter[str]], ...]:
    """The likeliest readings of a line by the present weights, and how often each name counts in them."""
    costs, foot = COSTS[READING], place.foot
    step = costs.step[foot.name]
    beam: list[tuple[float, str, tuple[int, int, int], tuple[str, ...]]] = [(0.0, "", (0, 0, NONE), ())]
    for token in tokens:
        best: dict[str, tuple[float, str, tuple[int, int, int], tuple[str, ...]]] = {}
        for said in token.ways:
            own = (f"V {said.name}",) if said.name else ()
            paths = [(c + said.cost(READING), x, s, f + own) for c, x, s, f in beam]
            for i, syllable in enumerate(said.syllables):
                after = []
                for cost, labels, (beats, run, kind), names in paths:
                    turned = ("V stress against the word",)
                    if run < 3:
                        odd = turned if i and syllable.rise > 0 and run == 0 else ()
                        price = cost + syllable.weak[READING] + len(odd) * costs.variant[turned[0][2:]]
                        after.append((price, labels + "w", (beats, run + 1, kind), names + odd))
                    if beats < MOST_BEATS:
                        steps, become = step_names(foot, run, kind, token.pause > 0 and i == 0)
                        odd = turned if i and syllable.rise < 0 and run else ()
                        price = cost + syllable.strong[READING] + sum(step[n] for n in steps)
                        price += len(odd) * costs.variant[turned[0][2:]]
                        lean = tuple(f"L {n}" for n in syllable.names)
                        more = (*lean, *(f"S {foot.name} {n}" for n in steps), *odd)
                        after.append((price, labels + "s", (beats + 1, 0, become), names + more))
                paths = sorted(after)[: 3 * KEPT]
            for path in paths:
                if path[1] not in best or path[0] < best[path[1]][0]:
                    best[path[1]] = path
        beam = sorted(best.values())[:KEPT]
    found = []
    for _, labels, (beats, run, kind), names in beam:
        if beats:
            count: Counter[str] = Counter(names)
            count.update(f"S {foot.name} {n}" for n in end_names(foot, run, kind))
            doubles = sum(n.endswith(("between 2", "start 2")) for n in names) if foot.duple else 0
            found.append((labels, count + Counter({"freedom": 0})))
            found[-1][1]["freedom"] = round(1000 * freedom * doubles)
            found[-1][1]["off"] = min(2, abs(beats - place.beats))
    return tuple(found)


def samples(path: Path) -> list[Sample]:
    """The metrical lines of the file, each with its metre."""
    poems: dict[str, list[dict[str, str]]] = defaultdict(list)
    with path.open(encoding="utf-8", newline="") as f:
        for row in csv.DictReader(f, delimiter="\t", quoting=csv.QUOTE_NONE):
            if row["author"] not in FREE:
                poems[row["id"].split(".")[0]].append(row)
    found, first = [], dict[str, str]()
    for key, rows in poems.items():
        opening = re.sub(r"[^a-z]", "", rows[0]["line"].lower())[:12]
        name = first.setdefault(opening, key)
        heard, places = [], []
        script = parse_script("".join(f"{row['line']}\n" for row in rows))
        words = words_of(script)
        lines = [line for line in script.lines if any(w.line == line.n for w in words)]
        if len(lines) != len(rows):
            continue
        heard = [LineReadings(tokens_of([w for w in words if w.line == x.n], script.text, {})) for x in lines]
        places = forms_by_block(heard, [x.paragraph for x in lines], fitting_form(heard, _stanza(lines)))
        freedom = _freedom(heard, places)
        for row, line, place in zip(rows, heard, places, strict=True):
            voice = key.startswith("fbfv")
            found.append(Sample(name, voice, row["real"], counted(line.tokens, place, freedom)))
    return found


class Model:
    """The readings of all lines as one sparse matrix, and the likelihood of the right ones."""

    def __init__(self, lines: Sequence[Sample]) -> None:
        self.lines = lines
        names: dict[str, int] = {}
        columns: list[int] = []
        values: list[float] = []
        rows: list[int] = []
        starts, right = [0], list[bool]()
        for line in lines:
            for labels, count in line.readings:
                for name, n in count.items():
                    columns.append(names.setdefault(name, len(names)))
                    values.append(n / 1000 if name == "freedom" else n)
                    rows.append(len(right))
                right.append(len(labels) == len(line.real) if line.voice else labels == line.real)
            starts.append(len(right))
        self.names = names
        self.columns, self.values, self.rows = np.array(columns), np.array(values, float), np.array(rows)
        self.starts, self.right = np.array(starts), np.array(right)
        self.owner = np.repeat(np.arange(len(lines)), np.diff(self.starts))
        self.reachable = np.add.reduceat(self.right.astype(int), self.starts[:-1]) > 0
        self.start = np.array([_start(name) for name in names])
        self.held = np.array([1e4 if name == "off" else HELD for name in names])

    def cost(self, weights: Array) -> Array:
        """The cost of every reading."""
        found = np.bincount(self.rows, self.values * weights[self.columns], len(self.right))
        return found.astype(np.float64)

    def loss(self, weights: Array, lines: NDArray[np.bool_]) -> tuple[float, Array]:
        """Minus the log likelihood of the right readings of `lines`, with the prior, and its slope."""
        score = -self.cost(weights)
        score = np.exp(score - np.maximum.reduceat(score, self.starts[:-1])[self.owner])
        total = np.add.reduceat(score, self.starts[:-1])
        good = np.maximum(np.add.reduceat(score * self.right, self.starts[:-1]), 1e-300)
        used = self.reachable & lines
        moved = (score * self.right / good[self.owner] - score / total[self.owner]) * used[self.owner]
        slope = np.bincount(self.columns, self.values * moved[self.rows], len(weights))
        away = weights - self.start
        loss = -np.where(used, np.log(good) - np.log(total), 0.0).sum() + 0.5 * (self.held * away**2).sum()
        return float(loss), slope + self.held * away

    def fit(self, lines: NDArray[np.bool_]) -> Array:
        """The weights that fit `lines` best."""
        return descend(lambda weights: self.loss(weights, lines), self.start)

    def read(self, weights: Array) -> list[str]:
        """The cheapest reading of every line."""
        cost = self.cost(weights)
        return [
            line.readings[int(np.argmin(cost[a:b]))][0] if b > a else ""
            for line, a, b in zip(self.lines, self.starts, self.starts[1:], strict=False)
        ]


def descend(loss_of: Callable[[Array], tuple[float, Array]], start: Array, steps: int = 120) -> Array:
    """The place at which a loss is least, found from its value and its slope.

    By limited-memory BFGS (Nocedal & Wright 2006, chapter 7, from memory).
    """
    weights = start.copy()
    moves: list[tuple[Array, Array]] = []
    loss, slope = loss_of(weights)
    for _ in range(steps):
        way = _direction(slope, moves)
        size = 1.0
        while size > 1e-6:
            new = weights - size * way
            new_loss, new_slope = loss_of(new)
            if new_loss <= loss - 1e-4 * size * float(slope @ way):
                break
            size /= 2
        if (new - weights) @ (new_slope - slope) > 1e-10:
            moves = [*moves[-7:], (new - weights, new_slope - slope)]
        done = loss - new_loss < 1e-5 * loss
        weights, loss, slope = new, new_loss, new_slope
        if done:
            break
    return weights


def _direction(slope: Array, moves: Sequence[tuple[Array, Array]]) -> Array:
    way, steps = slope.copy(), []
    for moved, changed in reversed(moves):
        steps.append((moved @ way) / (changed @ moved))
        way = way - steps[-1] * changed
    if moves:
        moved, changed = moves[-1]
        way = way * (moved @ changed) / (changed @ changed)
    else:
        way = way / max(1.0, float(np.linalg.norm(slope)))
    for (moved, changed), step in zip(moves, reversed(steps), strict=True):
        way = way + moved * (step - (changed @ way) / (changed @ moved))
    return way


def _start(name: str) -> float:
    kind, _, rest = name.partition(" ")
    if kind == "L":
        return -LEANS.get(rest, A_FUNCTION_WORD if rest in FUNCTION else 0.0)
    if kind == "S":
        foot, _, what = rest.partition(" ")
        return START[foot][what]
    return {"V": A_VARIANT, "freedom": -1.0, "off": 2.0}[kind]


def told(lines: Iterable[tuple[Sample, str]]) -> str:
    """How many whole lines, syllables and numbers of syllables are right, in per cent.

    Syllables are counted in lines with the right number of them.
    """
    pairs = [(line.real, said) for line, said in lines]
    same = [(a, b) for a, b in pairs if len(a) == len(b)]
    syllables = sum(x == y for a, b in same for x, y in zip(a, b, strict=True)) / sum(len(a) for a, _ in same)
    whole = sum(a == b for a, b in pairs) / len(pairs)
    return (
        f"lines {100 * whole:.1f}, syllables {100 * syllables:.1f}, counts {100 * len(same) / len(pairs):.1f}"
    )


def main() -> None:
    """Print the figures for the poems left out, then the weights learnt from all poems."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("lines", type=Path, metavar="LINES.tsv")
    ask.add_argument("--folds", type=int, default=8)
    asked = ask.parse_args()
    model = Model(samples(asked.lines))
    poems = sorted({line.poem for line in model.lines})
    random.Random(3).shuffle(poems)
    said = [""] * len(model.lines)
    for k in range(asked.folds):
        out = set(poems[k :: asked.folds])
        weights = model.fit(np.array([line.poem not in out for line in model.lines]))
        for i, (line, marks) in enumerate(zip(model.lines, model.read(weights), strict=True)):
            if line.poem in out:
                said[i] = marks
    pairs = list(zip(model.lines, said, strict=True))
    print("poems left out, feet:", told(p for p in pairs if not p[0].voice))
    print("poems left out, voice (counts only):", told(p for p in pairs if p[0].voice))
    weights = model.fit(np.ones(len(model.lines), bool))
    for name, k in sorted(model.names.items()):
        print(f"{name}: {-weights[k] if name[0] == 'L' else weights[k]:.2f}")


if __name__ == "__main__":
    main()
