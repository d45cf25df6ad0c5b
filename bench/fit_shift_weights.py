"""Fits the two weight tables of `offbook.thoughts.weights` anew and prints them beside those in use.

The data is a TSV made from openly licensed documents of a discourse corpus (GUM and GENTLE; Zeldes 2017), one
row a token: `doc`, `licence`, `token`, `space_after`, `para_end`, `line_end` (0 or 1), `rst_rel`, and
`strength` of the boundary after the token: 0 none, 1 a clause-like unit ends, 2 a sentence or a clause that
carries a new step. It is not part of the project. Documents whose licence forbids commercial use take no
part in the fit and are scored apart.

Method: ridge-penalised logistic regression by Newton's steps on the named causes; the causes with the least
evidence (squared weight over its variance) are dropped, eight at a time, until the wanted number is left;
then the base is moved by a threshold chosen for F1 and everything is rounded to a tenth.

    python bench/fit_shift_weights.py shifts.tsv
"""

from __future__ import annotations

import argparse
import collections
import csv
import pathlib
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from offbook.script import parse
from offbook.thoughts import parse_words, weights
from offbook.thoughts.causes import Places
from offbook.words import words_of

LEAST = 5  # places a cause must be found at to be weighed
BASE = "base"
Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place between two words. strength: of the boundary that stands there. open: may be fitted on."""

    causes: frozenset[str]
    strength: int
    open: bool


def spots(path: pathlib.Path) -> list[Spot]:
    """Every place of every document, titles at the top and document ends left out."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE, escapechar="\\"))
    return [spot for _, doc in groupby(rows, key=lambda r: r["doc"]) for spot in _of(list(doc))]


def _of(rows: Sequence[Row]) -> Iterable[Spot]:
    text, starts, anchors, last = "", list[int](), list[int](), -1
    for k, r in enumerate(rows):
        starts.append(len(text))
        last = k if any(c.isalnum() for c in r["token"]) else last
        anchors.append(last)  # a boundary is known by the last lettered token before it
        gap = "\n\n" if r["para_end"] == "1" else "\n" if r["line_end"] == "1" else " "
        text += r["token"] + (gap if gap != " " or r["space_after"] == "1" else "")
    titles = [
        anchors[k]
        for k, r in enumerate(rows[:60])
        if r["rst_rel"] == "organization-heading" and r["para_end"] == "1"
    ]
    top, strength = max(titles, default=-1), collections.Counter[int]()
    for r, anchor in zip(rows, anchors, strict=True):
        strength[anchor] = max(strength[anchor], int(r["strength"]))
    script = parse(text.rstrip() + "\n")
    words = words_of(script)
    places = Places(parse_words(script, words), words)
    for i in range(1, len(words)):
        token = bisect_right(starts, words[i].start) - 1
        anchor = anchors[token - 1] if token > 0 else -1
        if top < anchor != anchors[-1]:
            yield Spot(places.causes(i), strength[anchor], "NC" not in rows[0]["licence"])


Array = NDArray[np.float64]


def regression(data: Sequence[Spot], least: int, keys: Sequence[str], ridge: float) -> tuple[Array, Array]:
    """The weights of `keys` and, last, of the base; the curvature at the answer."""
    column = {key: n for n, key in enumerate(keys)}
    x = np.zeros((len(data), len(keys) + 1))
    x[:, -1] = 1
    for n, spot in enumerate(data):
        x[n, [column[c] for c in spot.causes if c in column]] = 1
    y = np.array([spot.strength >= least for spot in data], dtype=float)
    penalty = np.full(len(keys) + 1, ridge)
    penalty[-1] = 1e-6
    w = np.zeros(len(keys) + 1)
    for _ in range(40):
        p = 1 / (1 + np.exp(-x @ w))
        curve = (x.T * (p * (1 - p))) @ x + np.diag(penalty)
        step = np.linalg.solve(curve, x.T @ (p - y) + penalty * w)
        w -= step
        if abs(step).max() < 1e-5:
            break
    return w, curve


def table(data: Sequence[Spot], least: int, size: int, ridge: float, threshold: float) -> dict[str, float]:
    """The `size` causes with most evidence and their weights, rounded to a tenth."""
    counts = collections.Counter(c for spot in data for c in spot.causes)
    keys = [c for c, n in counts.items() if n >= LEAST]
    while True:
        w, curve = regression(data, least, keys, ridge)
        if len(keys) <= size:
            break
        evidence = w[:-1] ** 2 / np.diag(np.linalg.inv(curve))[:-1]
        gone = set(np.argsort(evidence, kind="stable")[: max(1, min(8, len(keys) - size))].tolist())
        keys = [key for n, key in enumerate(keys) if n not in gone]
    found = {key: round(float(v), 1) for key, v in zip(keys, w[:-1], strict=True)}
    return {key: v for key, v in found.items() if v} | {BASE: round(float(w[-1]) - threshold, 1)}


def f1(data: Iterable[Spot], least: int, found: Mapping[str, float]) -> float:
    """F1 of the marks that the table gives."""
    pairs = [(found[BASE] + sum(found.get(c, 0.0) for c in s.causes) > 0, s.strength >= least) for s in data]
    return 2 * sum(a and b for a, b in pairs) / max(1, sum(a + b for a, b in pairs))


def main() -> None:
    """Fit both tables and print them with their F1, and those in use with theirs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("tsv", type=pathlib.Path)
    data = spots(parser.parse_args().tsv)
    fitted, apart = [s for s in data if s.open], [s for s in data if not s.open]
    for name, least, size, ridge, used in (
        ("phrase", 1, 70, 0.6, weights.PHRASE | {BASE: weights.PHRASE_BASE}),
        ("thought", 2, 50, 0.3, weights.THOUGHT | {BASE: weights.THOUGHT_BASE}),
    ):
        found = table(fitted, least, size, ridge, -0.7)
        for which, each in (("fitted anew", found), ("in use", used)):
            print(f"{name} {which}: {len(each) - 1} causes, F1 {f1(fitted, least, each):.3f} on the documents "
                  f"fitted on, {f1(apart, least, each):.3f} on the others")  # fmt: skip
        for key in sorted(found.keys() | used.keys(), key=lambda k: -found.get(k, used.get(k, 0.0))):
            new, old = found.get(key), used.get(key)
            print(f"  {key:40s}{'-' if new is None else new:>6}{'-' if old is None else old:>6}"
                  f"{'' if new == old else '  differs'}")  # fmt: skip


if __name__ == "__main__":
    main()
