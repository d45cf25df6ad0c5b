"""Learn the weights of `offbook/verse/spoken_weights.py` from verse marked as it is spoken, and test them.

    python bench/fit_spoken.py LINES.tsv [--folds 6] [--table]

LINES.tsv is the file of `fit_scansion.py`; the lines whose ids begin with "fbfv" are marked as they are
spoken. Each line is read in the metre that offbook finds for its poem, with the weights in use. Its
syllables are then a linear chain (Lafferty, McCallum and Pereira 2001), whose weights are learnt here with
a normal prior. The figures are for poems that are left out in turn. If a line's reading has another number
of syllables than its marks, nothing is learnt from it and it counts as wrong. There is free verse among the
lines.

With --table the weights learnt from all lines are printed, without those below 0.15 in either direction.
"""

from __future__ import annotations

import argparse
import csv
import random
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from fit_scansion import Array, descend
from numpy.typing import NDArray

from offbook.script import parse_script
from offbook.verse.form import RHYMED
from offbook.verse.rhyme import rhymed_share
from offbook.verse.scansion import _stanza
from offbook.verse.spoken import SpokenSyllable, likeliest, pair, single, spoken_syllables
from offbook.verse.syllables import tokens_of
from offbook.verse.whole import LineReadings, fitting_form, forms_by_block, read_at_places, turned
from offbook.words import words_of

HELD = 1.0  # variance of the normal prior of a weight; 0.5 and 2 are within half a line in a hundred
WEAKEST = 0.15  # log odds; smaller weights are left out of the table
WAYS = 4  # weak-weak, weak-strong, strong-weak, strong-strong


@dataclass(frozen=True, slots=True)
class Marked:
    """A line marked as it is spoken: its poem, its marks, and its syllables as they are read in the metre."""

    poem: str
    real: str
    line: tuple[SpokenSyllable, ...]

    @property
    def fits(self) -> bool:
        """Whether the reading has as many syllables as there are marks."""
        return len(self.line) == len(self.real)


def marked_lines(path: Path) -> list[Marked]:
    """The marked lines in the metres of their poems. A poem that is there twice has one name."""
    poems: dict[str, list[dict[str, str]]] = defaultdict(list)
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE):
            if row["id"].startswith("fbfv"):
                poems[row["id"].split(".")[0]].append(row)
    found: list[Marked] = []
    for key, rows in poems.items():
        script = parse_script("".join(f"{row['line']}\n" for row in rows))
        words = words_of(script)
        lines = [line for line in script.lines if any(word.line == line.n for word in words)]
        if len(lines) != len(rows):
            found += [Marked(key, row["real"], ()) for row in rows]
            continue
        tokens = [tokens_of([w for w in words if w.line == x.n], script.text, {}) for x in lines]
        heard = [LineReadings(each) for each in tokens]
        rhymed = rhymed_share([each[-1].word.text for each in tokens]) >= RHYMED
        places = forms_by_block(
            heard, [x.paragraph for x in lines], fitting_form(heard, _stanza(lines), rhymed)
        )
        chosen = read_at_places(heard, places)
        places = turned(chosen, places)
        for row, said, reading, place in zip(rows, tokens, chosen, places, strict=True):
            line = () if reading is None else spoken_syllables(said, reading, not place.foot.duple)
            found.append(Marked(key, row["real"], line))
    return found


class Chain:
    """All lines as arrays: the weights for a stress on each syllable, and for each pair of syllables."""

    def __init__(self, lines: Sequence[Marked]) -> None:
        self.lines = [line for line in lines if line.fits]
        self.long = max(len(line.real) for line in self.lines)
        singles: dict[str, int] = {}
        pairs: dict[str, int] = {}
        own: list[tuple[int, int]] = []  # (cell, weight)
        both: list[tuple[int, int]] = []
        for n, line in enumerate(self.lines):
            for i in range(len(line.real)):
                cell = n * self.long + i
                own += [(cell, singles.setdefault(name, len(singles))) for name in single(line.line, i)]
                if i:
                    both += [(cell, pairs.setdefault(name, len(pairs))) for name in pair(line.line, i)]
        self.singles, self.pairs = singles, pairs
        self.own, self.both = np.array(own), np.array(both)
        self.length = np.array([len(line.real) for line in self.lines])
        marks = np.zeros((len(self.lines), self.long), int)
        for n, line in enumerate(self.lines):
            marks[n, : len(line.real)] = [mark == "s" for mark in line.real]
        self.marks = marks

    @property
    def count(self) -> int:
        """How many weights there are: one for each name of a single syllable, four for each name of a pair."""
        return len(self.singles) + WAYS * len(self.pairs)

    def scores(self, weights: Array) -> tuple[Array, Array]:
        """The scores of a stress, (lines, syllables), and of each kind of pair, (lines, syllables, 4)."""
        size = len(self.lines) * self.long
        alone, table = weights[: len(self.singles)], weights[len(self.singles) :].reshape(-1, WAYS)
        lean = np.bincount(self.own[:, 0], alone[self.own[:, 1]], size)
        follow = np.stack(
            [np.bincount(self.both[:, 0], table[self.both[:, 1], k], size) for k in range(WAYS)], -1
        )
        shape = (len(self.lines), self.long)
        return lean.astype(np.float64).reshape(shape), follow.astype(np.float64).reshape(*shape, WAYS)

    def loss(self, weights: Array, used: NDArray[np.bool_]) -> tuple[float, Array]:
        """Minus the log likelihood of the marks of the lines `used`, with the prior, and its slope."""
        lean, follow = self.scores(weights)
        log_sum, alone, both = _expected(lean, follow, self.length)
        rows = np.arange(len(self.lines))
        right = np.zeros(len(self.lines))
        said = np.zeros_like(alone)
        ways = np.zeros_like(both)
        for i in range(self.long):
            here = (i < self.length) & used
            mark = self.marks[:, i]
            right += np.where(here, lean[:, i] * mark, 0.0)
            said[:, i] = mark * here
            if i:
                way = 2 * self.marks[:, i - 1] + mark
                right += np.where(here, follow[rows, i, way], 0.0)
                ways[rows[here], i, way[here]] = 1.0
        off = ((alone * used[:, None]) - said).ravel()
        off_pairs = ((both * used[:, None, None]) - ways).reshape(-1, WAYS)
        slope = np.concatenate([
            np.bincount(self.own[:, 1], off[self.own[:, 0]], len(self.singles)),
            np.stack([np.bincount(self.both[:, 1], off_pairs[self.both[:, 0], k], len(self.pairs))
                      for k in range(WAYS)], -1).ravel(),
        ])  # fmt: skip
        loss = float(np.where(used, log_sum - right, 0.0).sum() + 0.5 * (weights**2).sum() / HELD)
        return loss, slope + weights / HELD

    def fit(self, used: NDArray[np.bool_]) -> Array:
        """The weights that fit the lines `used` best."""
        return descend(lambda weights: self.loss(weights, used), np.zeros(self.count))

    def table(self, weights: Array) -> tuple[dict[str, float], dict[str, tuple[float, ...]]]:
        """The weights by name, without the small ones."""
        alone = weights[: len(self.singles)]
        ways = weights[len(self.singles) :].reshape(-1, WAYS)

        def kept(value: float) -> float:
            return round(float(value), 2) if abs(value) >= WEAKEST else 0.0

        singles = {name: kept(alone[k]) for name, k in self.singles.items()}
        pairs = {name: tuple(kept(v) for v in ways[k]) for name, k in self.pairs.items()}
        return (
            {name: v for name, v in sorted(singles.items()) if v},
            {name: v for name, v in sorted(pairs.items()) if any(v)},
        )


def _expected(lean: Array, follow: Array, length: NDArray[np.int_]) -> tuple[Array, Array, Array]:
    """The log of the sum over all markings, and the chance of each stress and each pair, for every line."""
    count, long = lean.shape
    own = np.stack([np.zeros_like(lean), lean], -1)
    step = follow.reshape(count, long, 2, 2) + own[:, :, None, :]
    ahead = np.zeros((count, long, 2))
    ahead[:, 0] = own[:, 0]
    for i in range(1, long):
        ahead[:, i] = np.logaddexp.reduce(ahead[:, i - 1, :, None] + step[:, i], axis=1)
    back = np.zeros((count, long, 2))
    for i in range(long - 2, -1, -1):
        onward = np.logaddexp.reduce(step[:, i + 1] + back[:, i + 1, None, :], axis=2)
        back[:, i] = np.where((i + 1 < length)[:, None], onward, 0.0)
    last = ahead[np.arange(count), length - 1]
    log_sum = np.logaddexp(last[:, 0], last[:, 1])
    inside = np.arange(long)[None, :] < length[:, None]
    alone = np.where(inside, np.exp(ahead[..., 1] + back[..., 1] - log_sum[:, None]), 0.0)
    both = np.zeros((count, long, 2, 2))
    both[:, 1:] = (
        np.exp(ahead[:, :-1, :, None] + step[:, 1:] + back[:, 1:, None, :] - log_sum[:, None, None, None])
        * inside[:, 1:, None, None]
    )
    return log_sum, alone, both.reshape(count, long, WAYS)


def read(line: Sequence[SpokenSyllable], chain: Chain, weights: Array) -> str:
    """The likeliest marking of a line by `weights`; names that were not learnt are ignored."""
    table = weights[len(chain.singles) :].reshape(-1, WAYS)
    best: dict[int, tuple[float, str]] = {}
    for i in range(len(line)):
        lean = sum(float(weights[chain.singles[n]]) for n in single(line, i) if n in chain.singles)
        ways = np.zeros(WAYS)
        for name in pair(line, i) if i else ():
            ways = ways + (table[chain.pairs[name]] if name in chain.pairs else 0.0)
        new = {}
        for y in (0, 1):
            options = [(score + float(ways[2 * x + y]), path) for x, (score, path) in best.items()] or [
                (0.0, "")
            ]
            score, path = max(options)
            new[y] = (score + lean * y, path + "ws"[y])
        best = new
    return max(best.values())[1] if best else ""


def told(pairs: Sequence[tuple[str, str]]) -> str:
    """Whole lines, and syllables of lines with the right number of them, that are right, in per cent."""
    same = [(a, b) for a, b in pairs if len(a) == len(b)]
    right = sum(x == y for a, b in same for x, y in zip(a, b, strict=True)) / sum(len(a) for a, _ in same)
    whole = sum(a == b for a, b in pairs) / len(pairs)
    return f"lines {100 * whole:.1f}, syllables {100 * right:.1f}, of {len(pairs)}"


def main() -> None:
    """Print the figures for the poems left out and for the table in use and, if asked, the table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("lines", type=Path, metavar="LINES.tsv")
    ask.add_argument("--folds", type=int, default=6)
    ask.add_argument("--table", action="store_true", help="print the weights learnt from all lines")
    asked = ask.parse_args()
    lines = marked_lines(asked.lines)
    chain = Chain(lines)
    poems = sorted({line.poem for line in lines})
    random.Random(3).shuffle(poems)
    pairs: list[tuple[str, str]] = []
    for k in range(asked.folds):
        out = set(poems[k :: asked.folds])
        weights = chain.fit(np.array([line.poem not in out for line in chain.lines]))
        pairs += [(line.real, read(line.line, chain, weights)) for line in lines if line.poem in out]
    print("poems left out:", told(pairs))
    in_use = [(x.real, likeliest(x.line)[0][1] if x.line else "") for x in lines]
    print("the table in use:", told(in_use))
    if asked.table:
        singles, ways = chain.table(chain.fit(np.ones(len(chain.lines), bool)))
        for name, value in (*singles.items(), *ways.items()):
            print(f'    "{name}": {value},')


if __name__ == "__main__":
    main()
