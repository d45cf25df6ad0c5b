"""Fit the table of `offbook.thoughts.turn_weights` again, and say how well it finds turns it was not fitted
to.

The data is `turns_read.txt` beside this file: speeches in which one of us marked where a performer begins a
new beat, by reading for the meaning, before looking at any mark of offbook. `@` is before a turn, `~`
before one that some performers would make. The letter after it says what changes (W: to whom it is said, F:
what for, A: what about, T: when). Folders on the command line are read as more speeches, one in a file,
with @ and ~ but without letters.

The method: logistic regression with a ridge penalty on the signs of each step of a speech; a `~` counts
half. The signs with the least evidence (squared weight over its variance) are removed one by one until the
wanted number is left, and the base is moved by a threshold. The figure to trust is `left out`: every speech
is scored by a table that was fitted to the other speeches, and whose signs were chosen on them too.

    python bench/fit_turn_weights.py [FOLDER ...]

A turn is found if a mark is at most 3 words away from it; a mark near a `~` counts neither as right nor as
wrong.
"""

from __future__ import annotations

import argparse
import pathlib
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from offbook.script import parse_script
from offbook.thoughts import parse_words
from offbook.thoughts.causes import Places
from offbook.thoughts.turn_weights import TURN, TURN_BASE, turns_apart
from offbook.thoughts.turning import Turning
from offbook.words import words_of

NEAR = 3  # words
LEAST = 6  # steps a sign must be found at to be weighed
SIGNS = 52  # signs kept; 34 to 52 score within .015 of each other left out
RIDGE = 1.0
THRESHOLD = -0.85  # log-odds from which a step is a turn: as many turns are marked as there are
HALF = 0.5  # what a `~` counts
BASE = "base"
HERE = pathlib.Path(__file__).resolve().parent
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Speech:
    """A speech with its turns. steps: (first word, signs); sure, some: the words before which @ and ~ are."""

    name: str
    steps: tuple[tuple[int, frozenset[str]], ...]
    sure: tuple[int, ...]
    some: tuple[int, ...]


def speeches(folders: Sequence[pathlib.Path]) -> Iterator[Speech]:
    """The speeches of `turns_read.txt`, then those of the folders."""
    for block in re.split(r"(?m)^# ", (HERE / "turns_read.txt").read_text(encoding="utf-8"))[1:]:
        head, body = block.split("\n", 1)
        yield _speech(head.split("|")[0].strip(), re.sub(r"([@~])[WFAT]", r"\1", body.strip("\n") + "\n"))
    for folder in folders:
        for path in sorted(folder.glob("*.txt")):
            yield _speech(f"{folder.name}/{path.stem}", path.read_text(encoding="utf-8"))


def _speech(name: str, marked: str) -> Speech:
    text = "".join(c for c in marked if c not in "@~")
    script = parse_script(text)
    words = words_of(script)
    lines = {line.n for line in script.lines if line.verse}
    turning = Turning(
        Places(parse_words(script, words), words), frozenset(w.i for w in words if w.line in lines)
    )
    places: dict[str, list[int]] = {"@": [], "~": []}
    at = 0
    for c in marked:
        if c in places:
            places[c].append(next(w.i for w in words if w.end > at))
        else:
            at += 1
    steps = tuple((step.first, turning.signs(step)) for step in turning.steps)
    return Speech(name, steps, tuple(places["@"]), tuple(places["~"]))


def labels(speech: Speech) -> Array:
    """1 for the step nearest to an @, a half for a ~, 0 for every other."""
    found = np.zeros(len(speech.steps))
    for places, worth in ((speech.some, HALF), (speech.sure, 1.0)):
        for place in places:
            nearest = min(range(len(speech.steps)), key=lambda n: abs(speech.steps[n][0] - place))
            if abs(speech.steps[nearest][0] - place) <= NEAR:
                found[nearest] = worth
    return found


def matrix(speech: Speech, signs: Sequence[str]) -> Array:
    """A row for each step, a column for each sign, and a first column of ones for the base."""
    rows = [[1.0, *(float(sign in found) for sign in signs)] for _, found in speech.steps]
    return np.array(rows).reshape(len(speech.steps), len(signs) + 1)


def regression(x: Array, y: Array) -> tuple[Array, Array]:
    """The weights and the curvature at the solution, by Newton's steps; a `~` weighs half."""
    worth = np.where((y > 0) & (y < 1), HALF, 1.0)
    penalty = np.full(x.shape[1], RIDGE)
    penalty[0] = 1e-6
    w = np.zeros(x.shape[1])
    curve = np.diag(penalty)
    for _ in range(40):
        p = 1 / (1 + np.exp(-x @ w))
        curve = (x.T * (worth * p * (1 - p))) @ x + np.diag(penalty)
        step = np.linalg.solve(curve, x.T @ (worth * (p - y)) + penalty * w)
        w -= step
        if abs(step).max() < 1e-6:
            break
    return w, curve


def table(data: Sequence[Speech]) -> dict[str, float]:
    """The signs that are kept with their weights, rounded to a tenth, and the base moved by the threshold."""
    counts = Counter(sign for speech in data for _, signs in speech.steps for sign in signs)
    signs = sorted(sign for sign, n in counts.items() if n >= LEAST)
    y = np.concatenate([labels(speech) for speech in data])
    while True:
        w, curve = regression(np.vstack([matrix(speech, signs) for speech in data]), y)
        if len(signs) <= SIGNS:
            break
        evidence = w**2 / np.diag(np.linalg.inv(curve))
        signs.pop(int(np.argmin(evidence[1:])))
    found = {sign: round(float(v), 1) for sign, v in zip(signs, w[1:], strict=True)}
    return {sign: v for sign, v in found.items() if v} | {BASE: round(float(w[0]) - THRESHOLD, 1)}


def said(speech: Speech, weights: Mapping[str, float]) -> list[tuple[int, float]]:
    """The places where `weights` mark a turn, and by how much."""
    scores = {
        i: round(weights[BASE] + fsum(weights.get(sign, 0.0) for sign in signs), 6)
        for i, signs in speech.steps
    }
    return [(i, scores[i]) for i in turns_apart(sorted(scores.items()))]


def tally(speech: Speech, marks: Sequence[int]) -> Array:
    """How many turns there are, how many marks count, how many turns are found, how many marks are right."""

    def near(place: int, places: Sequence[int]) -> bool:
        return any(abs(place - other) <= NEAR for other in places)

    counted = [m for m in marks if near(m, speech.sure) or not near(m, speech.some)]
    found = sum(near(place, marks) for place in speech.sure)
    return np.array(
        [len(speech.sure), len(counted), found, sum(near(m, speech.sure) for m in counted)], float
    )


def figures(t: Array) -> str:
    """Precision, recall and F1."""
    p, r = t[3] / max(1.0, t[1]), t[2] / max(1.0, t[0])
    return f"precision {p:.3f}, recall {r:.3f}, F1 {2 * p * r / max(1e-9, p + r):.3f}"


def _group(speech: Speech) -> str:
    """The folder that a speech comes from; verse or prose for those of `turns_read.txt`."""
    if "/" in speech.name:
        return speech.name.split("/")[0]
    return "verse" if any("verse" in signs for _, signs in speech.steps) else "prose"


def main() -> None:
    """Fit the table, print it beside the one in use, and score both."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", nargs="*", type=pathlib.Path, metavar="FOLDER")
    data = list(speeches(parser.parse_args().folders))
    groups = {each.name: _group(each) for each in data}
    in_use = TURN | {BASE: TURN_BASE}
    sums: dict[tuple[str, str], Array] = {}
    bands: dict[str, Array] = {"open": np.zeros(4), "sure": np.zeros(4)}
    for n, speech in enumerate(data):
        fitted = table([*data[:n], *data[n + 1 :]])
        marks = said(speech, fitted)
        for how, places in (
            ("left out", [i for i, _ in marks]),
            ("table in use", [i for i, _ in said(speech, in_use)]),
        ):
            for group in (groups[speech.name], "all"):
                key = (group, how)
                sums[key] = sums.get(key, np.zeros(4)) + tally(speech, places)
        bands["sure"] += tally(speech, [i for i, score in marks if score > 1])
        bands["open"] += tally(speech, [i for i, score in marks if score <= 1])
    for (group, how), t in sorted(sums.items()):
        print(f"{group}, {how}: {figures(t)} ({t[0]:.0f} turns)")
    for band, t in bands.items():
        print(f"left out, {band} turns: {t[3] / max(1.0, t[1]):.3f} of {t[1]:.0f} right")
    fitted = table(data)
    for sign in sorted(fitted.keys() | in_use.keys(), key=lambda k: -fitted.get(k, in_use.get(k, 0.0))):
        new, old = fitted.get(sign), in_use.get(sign)
        print(f"  {sign:32s}{'-' if new is None else new:>6}{'-' if old is None else old:>6}"
              f"{'' if new == old else '  differs'}")  # fmt: skip


if __name__ == "__main__":
    main()
