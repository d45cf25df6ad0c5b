"""Fit the weights by which a doubtful place is decided (`offbook/hear/decide.py`).

    python bench/fit_weighing.py FOLDER [FOLDER ...] [--seeds 3] [--cache FILE] [--one-ear]

FOLDER holds recordings of word-perfect readings with their texts, as for `bench/hearing.py`, which plants
the slips. Every place that was weighed is a case: what was found there, and whether its words were said. A
place that is there with every seed counts once in all. It prints the weights, and what they do to each
reading if they are fitted to the others alone. The last weight is for how much rarer swaps are in the whole
run-through than was assumed (`offbook/hear/whole_run.py`). The weights for both ears are fitted
separately for places where the script has no word, and --one-ear fits those of the first ear alone. Then it
prints what changes, with the weights in use, for a voice that is hard to follow: how much is added to the
odds, and how much less the weights count. FOLDER must have such voices for that.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from hearing import Planted, Reading, installed, installed_second, page, plant, readings
from numpy.typing import NDArray

from offbook.align.alignment import FILLERS
from offbook.hear import Listener, voice_difficulty
from offbook.hear.decide import WeighedPlace
from offbook.hear.whole_run import log_odds_in_run, log_odds_of, swap_rarities
from offbook.recognise import Recogniser, WordingScorer

KINDS = ("perfect", "near", "far", "dropped", "added")
RARER = "rarer swaps"
NAMES = {
    "one ear": (
        "constant", "lead", "free had it", "leaning had it", "contested had it", "none had it",
        "free rival", "contested rival", "distance", "more words", "fewer words", RARER,
    ),
    "both ears": (
        "constant", "lead", "more words", "fewer words", "hearings rival", "all, in time", RARER,
    ),
    "both ears, a word put in": ("constant", "lead", "all had rival", "all, longer", RARER),
}  # fmt: skip
RIDGE = 0.3  # keeps the weights finite where the cases are told apart without an error
CUTS = ((0.1, 0.5), (0.2, 0.5), (0.3, 0.5), (0.4, 0.6))

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class Case:
    """A place that was weighed in `reading`: what was found, whether its words were said, and which place
    it is.

    part: whether some of its words were said. odds: the logarithm of the odds by which it was decided, and
    what the whole run-through added to it. hard: how hard the voice was to follow.
    """

    reading: str
    of: str
    found: tuple[float, ...]
    said: bool
    place: tuple[str, float, bool, str]
    part: bool
    odds: tuple[float, float]
    hard: float


def case_of(
    reading: Reading, planted: Planted, words: Sequence[str], w: WeighedPlace, rarer: float, hard: float
) -> Case | None:
    """The case that a weighed place makes, or None.

    It is None if a word was taken out of the script there and nobody can tell whether the rival has that
    word: for one ear, beside a slip, and if the rival has no more words than the script. It is also None
    for a hesitation in the script, because that is never called wrong.
    """
    if FILLERS.intersection(w.script.split()):
        return None
    slips = planted.slips[w.script_from : w.script_to]
    gone = any(w.script_from <= p <= w.script_to for p in planted.gone)
    longer = len(w.rival.split()) > len(w.script.split())
    if gone and (not w.by_second or any(slips) or (slips and not longer)):
        return None
    said = not any(slips) and not gone
    text = " ".join(words[w.script_from : w.script_to])
    place = (reading.name, round(w.start, 1), said, text)
    put = log_odds_in_run(w, rarer, 0.0) - log_odds_of(w)
    of = "one ear" if not w.by_second else "both ears" if slips else "both ears, a word put in"
    part = any(slips) and not all(slips)
    return Case(reading.name, of, (*w.evidence, rarer), said, place, part, (log_odds_of(w), put), hard)


def cases_of(
    reading: Reading, kind: str, seed: int, recogniser: Recogniser, scorer: WordingScorer | None
) -> list[Case]:
    """Every case of one run-through against a planted script."""
    planted = plant(reading.lines, kind, seed)
    script, words = page(planted.lines)
    listener = Listener(words, recogniser, lines=script.lines, scorer=scorer)
    for at in range(0, len(reading.sound), 32_000):
        listener.feed(reading.sound[at : at + 32_000])
    run = listener.finish()
    heard = sum(w.heard is not None for w in run.words) + len(run.extras)
    places = [w for each in listener.settled for w in each.weighed if w.evidence]
    texts, hard = [w.text for w in words], voice_difficulty(listener.settled)
    made = [
        case_of(reading, planted, texts, *one, hard)
        for one in zip(places, swap_rarities(places, heard), strict=True)
    ]
    return [case for case in made if case is not None]


def fit(found: Vector, said: Vector, counts: Vector, given: Vector | None = None) -> Vector:
    """Logistic regression by Newton's method; a step is halved until it helps.

    Shapes (n, k), (n,), (n,); returns (k,). given: the logarithm of the odds that is there already, (n,).
    With it there is no constant, and every weight is pulled towards 0.
    """
    put = np.zeros(len(said)) if given is None else given
    weights = np.zeros(found.shape[1])
    ridge = RIDGE * np.eye(len(weights))
    if given is None:
        ridge[0, 0] = 0.0

    def loss(weights: Vector) -> float:
        odds = found @ weights + put
        return float((counts * (np.logaddexp(0, odds) - said * odds)).sum() + weights @ ridge @ weights / 2)

    for _ in range(200):
        chance = 1 / (1 + np.exp(-np.clip(found @ weights + put, -30, 30)))
        slope = found.T @ (counts * (said - chance)) - ridge @ weights
        bend = (found.T * (counts * np.maximum(chance * (1 - chance), 1e-4))) @ found + ridge
        step = np.linalg.solve(bend + 1e-9 * np.eye(len(weights)), slope)
        while loss(weights + step) > loss(weights) and np.abs(step).max() > 1e-6:
            step = step / 2
        weights = weights + step
        if np.abs(step).max() < 1e-6:
            break
    return weights


def print_hard(cases: Sequence[Case], counts: Vector) -> None:
    """Print what changes for a voice that is hard to follow, and how many such cases there are."""
    hard = np.array([c.hard for c in cases])
    odds, put = np.array([c.odds for c in cases]).T
    said = np.array([float(c.said) for c in cases])
    bias, less = fit(np.column_stack([hard, hard * odds]), said, counts, odds + put)
    print(f"\nhard to follow     {int((hard > 0).sum())} cases\nput to the odds  {bias:7.2f}")
    print(f"count less by    {-less:7.2f}")


def print_fit(of: str, cases: Sequence[Case]) -> None:
    """Print the weights for one kind of case, and what each reading gives with those of the others."""
    often = Counter(c.place for c in cases)
    found = np.array([c.found for c in cases])
    said = np.array([float(c.said) for c in cases])
    counts = np.array([1 / often[c.place] for c in cases])
    print(f"\n{of}: {len(cases)} cases, {len(often)} places, {sum(p[2] for p in often)} of them said")
    if len(set(said)) < 2:
        print("all of a kind: nothing to fit")
        return
    for name, weight in zip(NAMES[of], fit(found, said, counts), strict=True):
        print(f"{name:17s}{weight:7.2f}")
    chance = np.zeros(len(cases))
    names = np.array([c.reading for c in cases])
    for name in sorted(set(names)):
        rest = names != name
        weights = fit(found[rest], said[rest], counts[rest])
        chance[~rest] = 1 / (1 + np.exp(-np.clip(found[~rest] @ weights, -30, 30)))
    sure = np.where(said == 1, chance, 1 - chance)
    print(
        f"each reading by the others' weights; log loss {-(counts * np.log(np.maximum(sure, 1e-6))).sum():.1f}"
    )
    print("rival up to  script from   said: wrong  unsure    of    not said: missed  unsure    of")
    for low, high in CUTS:
        a, b = said == 1, said == 0
        between = (chance > low) & (chance < high)
        print(
            f"{low:11.2f}{high:13.2f}{int((chance[a] <= low).sum()):14d}{int(between[a].sum()):8d}{int(a.sum()):6d}"
            f"{int((chance[b] >= high).sum()):19d}{int(between[b].sum()):8d}{int(b.sum()):6d}"
        )


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folders", type=Path, nargs="+")
    ap.add_argument("--seeds", type=int, default=3)
    ap.add_argument("--cache", type=Path)
    ap.add_argument("--one-ear", action="store_true", help="without the second ear")
    args = ap.parse_args()

    recogniser = installed(args.cache)
    scorer = None if args.one_ear else installed_second(recogniser)
    cases = [
        case
        for folder in args.folders
        for reading in readings(folder, ())
        for kind in KINDS
        for seed in range(args.seeds if kind != "perfect" else 1)
        for case in cases_of(reading, kind, seed, recogniser, scorer)
    ]
    for of in NAMES:
        kind = [c for c in cases if c.of == of and not c.part]
        if kind:
            print_fit(of, kind)
    often = Counter(c.place for c in cases)
    print_hard(cases, np.array([1 / often[c.place] for c in cases]))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
