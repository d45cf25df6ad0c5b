"""Fit the two weight tables of `offbook.thoughts.weights` again, and print them beside those in use.

It also says how well the tables and the signals of contrast do on documents that were not used to choose
them.

The data is a TSV file made from openly licensed documents of a discourse corpus (GUM and GENTLE; Zeldes
2017), with a row for each token: `doc`, `licence`, `token`, `space_after`, `para_end`, `line_end` (0 or 1),
`rst_rel`, and the `strength` of the boundary after the token: 0 none, 1 a unit like a clause ends, 2 a
sentence ends, or a clause that brings a new step. It is not part of the project. Documents whose licence
forbids commercial use are not used for the fit; they are scored separately.

The method: logistic regression with a ridge penalty, by Newton's steps, on the causes by their names. The
causes with the least evidence (squared weight over its variance) are removed, eight at a time, until the
wanted number is left. Then the base is moved by a threshold that is chosen for the best F1, and everything
is rounded to a tenth.

There is no table for turns inside the paragraphs of prose. They are the signals of contrast in `CONTRASTS`,
and steps whose score as a turn (`turn_weights`, fitted to other texts) is above a threshold. With
`--left-out`, each document in turn is scored by a set of signals and a threshold that were chosen on the
other documents alone: signals are added one at a time as long as the mean of the F1 of both kinds of turn
grows. But the grammar behind each signal was written after these documents had been read, and leaving one
out cannot undo that.

    python bench/fit_shift_weights.py shifts.tsv [--left-out]
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

from offbook.script import parse_script
from offbook.thoughts import parse_words, weights
from offbook.thoughts.causes import Places
from offbook.thoughts.contrast import Contrast
from offbook.thoughts.stance import Stance
from offbook.thoughts.turn_weights import turn_score
from offbook.thoughts.turning import Turning
from offbook.words import words_of

# What `table` is asked for: the least strength of a boundary, causes kept, ridge, threshold (log-odds).
PHRASE_FIT = (1, 70, 0.6, -0.7)
THOUGHT_FIT = (2, 50, 0.3, -1.3)
LEAST = 5  # places a cause must be found at to be weighed
BASE = "base"
KINDS = ("strong", "contrast")
NO_STEP = -99.0
IN_USE = 2.5  # log-odds from which a step inside a paragraph is a turn
THRESHOLDS = (1.5, 2.0, 2.5, 3.0, 4.0, 99.0)
Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place between two words.

    strength: of the boundary there. open: whether it may be used for the fit. paragraph: whether a
    paragraph or another speaker begins. strong, contrast: the two kinds of turn in the reference. signals:
    of a turn. score: as a turn of a speech without paragraphs, very low if no step begins there.
    """

    doc: str
    causes: frozenset[str]
    strength: int
    open: bool
    paragraph: bool
    strong: bool
    contrast: bool
    signals: frozenset[str]
    score: float


def spots(path: pathlib.Path) -> list[Spot]:
    """Every place of every document, without titles at the beginning and without the ends of documents."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE, escapechar="\\"))
    return [spot for _, doc in groupby(rows, key=lambda r: r["doc"]) for spot in spots_of(list(doc))]


def spots_of(rows: Sequence[Row]) -> Iterable[Spot]:
    """Every place of one document, from its rows."""
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
    paragraphs, strong, contrast = set[int](), set[int](), set[int]()
    for r, anchor in zip(rows, anchors, strict=True):
        strength[anchor] = max(strength[anchor], int(r["strength"]))
        if r["para_end"] == "1" or r["speaker_change"] == "1":
            paragraphs.add(anchor)
        if r["strong"] == "1":
            strong.add(anchor)
        if int(r["strength"]) and r["rst_class"] in ("adversative", "topic"):
            contrast.add(anchor)
    script = parse_script(text.rstrip() + "\n")
    words = words_of(script)
    places = Places(parse_words(script, words), words)
    signals, scores = _turns(places, len(words))
    for i in range(1, len(words)):
        token = bisect_right(starts, words[i].start) - 1
        anchor = anchors[token - 1] if token > 0 else -1
        if top < anchor != anchors[-1]:
            yield Spot(
                rows[0]["doc"], places.causes(i), strength[anchor], "NC" not in rows[0]["licence"],
                anchor in paragraphs, anchor in strong, anchor in contrast,
                signals.get(i, frozenset()), scores.get(i, NO_STEP),
            )  # fmt: skip


def _turns(places: Places, count: int) -> tuple[dict[int, frozenset[str]], dict[int, float]]:
    """Signals of contrast and stance by place, and the score of each step as a turn."""
    turning = Turning(places, frozenset())
    scores = {step.first: turn_score(turning.signs(step)) for step in turning.steps}
    marked = {
        i
        for i in range(1, count)
        if weights.phrase_score(places.causes(i)) > 0 or weights.thought_score(places.causes(i)) > 0
    }
    units = [0, *sorted(marked | scores.keys())]
    contrast, stance = Contrast(places, units), Stance(places, units)
    return {i: contrast.signals(i) | stance.signals(i) for i in units[1:]}, scores


Array = NDArray[np.float64]


def regression(data: Sequence[Spot], least: int, keys: Sequence[str], ridge: float) -> tuple[Array, Array]:
    """The weights of `keys`, the base last, and the curvature at the solution."""
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
    """The `size` causes with the most evidence and their weights, rounded to a tenth."""
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


@dataclass(frozen=True, slots=True)
class Counts:
    """How many marks the reference has, how many were made, and how many of these are right."""

    true: int
    said: int
    right: int

    @property
    def f1(self) -> float:
        """Twice the right ones over both."""
        return 2 * self.right / max(1, self.true + self.said)


def counted(data: Sequence[Spot], signals: frozenset[str], threshold: float, kind: str) -> Counts:
    """The turns inside paragraphs that a set of signals and a threshold give. kind: `strong` or `contrast`."""
    inside = [s for s in data if not s.paragraph]
    said = [not signals.isdisjoint(s.signals) or s.score > threshold for s in inside]
    true = [bool(getattr(s, kind)) for s in inside]
    return Counts(sum(true), sum(said), sum(a and b for a, b in zip(said, true, strict=True)))


def chosen(data: Sequence[Spot]) -> tuple[frozenset[str], float]:
    """The signals and the threshold with the best mean F1 of both kinds, found one signal after the other."""

    def worth(signals: frozenset[str], threshold: float) -> float:
        return sum(counted(spots_, signals, threshold, kind).f1 for kind in KINDS)

    # Only places with a signal, a score that could pass or a turn can change the counts.
    spots_ = [s for s in data if s.signals or s.score > min(THRESHOLDS) or s.strong or s.contrast]
    names = sorted({name for s in data for name in s.signals})
    found, threshold = frozenset[str](), max(THRESHOLDS)
    best = worth(found, threshold)
    while True:
        tried = [(worth(found ^ {name}, threshold), found ^ {name}, threshold) for name in names]
        tried += [(worth(found, each), found, each) for each in THRESHOLDS]
        value, signals, each = max(tried, key=lambda t: t[0])
        if value <= best + 1e-9:
            return found, threshold
        best, found, threshold = value, signals, each


def left_out(data: Sequence[Spot]) -> None:
    """Print how phrases and turns inside paragraphs are found in documents that are left out in turn."""
    docs = sorted({s.doc for s in data})
    in_use = [counted(data, weights.CONTRASTS, IN_USE, kind) for kind in KINDS]
    totals = {kind: [0, 0, 0] for kind in KINDS}
    edges = [0, 0, 0]
    for doc in docs:
        others, own = [s for s in data if s.doc != doc], [s for s in data if s.doc == doc]
        signals, threshold = chosen(others)
        for kind in KINDS:
            c = counted(own, signals, threshold, kind)
            totals[kind] = [a + b for a, b in zip(totals[kind], (c.true, c.said, c.right), strict=True)]
        found = table([s for s in others if s.open], *PHRASE_FIT)
        marks = [(found[BASE] + sum(found.get(c, 0.0) for c in s.causes) > 0, s.strength >= 1) for s in own]
        edges = [a + sum(b) for a, b in zip(edges, (
            [t for _, t in marks], [m for m, _ in marks], [m and t for m, t in marks]), strict=True)]  # fmt: skip
        print(f"  without {doc}: {len(signals)} signals, threshold {threshold:g}")
    print(f"phrase edges, documents left out: F1 {Counts(*edges).f1:.3f}")
    for kind, used in zip(KINDS, in_use, strict=True):
        print(
            f"turns inside paragraphs ({kind}): F1 {Counts(*totals[kind]).f1:.3f} left out, {used.f1:.3f} in use"
        )


def main() -> None:
    """Fit both tables and print them with their F1, beside those in use with theirs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("tsv", type=pathlib.Path)
    parser.add_argument("--left-out", action="store_true", help="score each document without itself")
    asked = parser.parse_args()
    data = spots(asked.tsv)
    if asked.left_out:
        left_out(data)
        return
    fitted, apart = [s for s in data if s.open], [s for s in data if not s.open]
    for name, asked_for, used in (
        ("phrase", PHRASE_FIT, weights.PHRASE | {BASE: weights.PHRASE_BASE}),
        ("thought", THOUGHT_FIT, weights.THOUGHT | {BASE: weights.THOUGHT_BASE}),
    ):
        found, least = table(fitted, *asked_for), asked_for[0]
        for which, each in (("fitted anew", found), ("in use", used)):
            print(f"{name} {which}: {len(each) - 1} causes, F1 {f1(fitted, least, each):.3f} on the documents "
                  f"fitted on, {f1(apart, least, each):.3f} on the others")  # fmt: skip
        for key in sorted(found.keys() | used.keys(), key=lambda k: -found.get(k, used.get(k, 0.0))):
            new, old = found.get(key), used.get(key)
            print(f"  {key:40s}{'-' if new is None else new:>6}{'-' if old is None else old:>6}"
                  f"{'' if new == old else '  differs'}")  # fmt: skip


if __name__ == "__main__":
    main()
