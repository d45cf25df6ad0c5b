"""The weight of each sign of a turn, in one short table. The weights of all signs at a place are added up.

They were fitted by ridge-penalised logistic regression on speeches in verse and prose whose turns we marked
while reading them (`bench/turns_read.txt`). The weakest signs were dropped one by one, and the other weights
rounded to a tenth. `bench/fit_turn_weights.py` fits them again. `docs/thoughts.md` has the figures, with each
speech left out in turn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import fsum

from offbook.thoughts.weights import SCORE_DECIMALS

TURN_BASE = -1.6
TURN: dict[str, float] = {
    "paragraph": 2.2, "sentence": 1.7, "somebody comes": 1.4, "a cry stands alone": 1.3,
    "a marker stands alone": 1.2, "sentence opens with what": 1.2, "sentence opens with but": 1.1,
    "called on": 1.0, "opens with yet": 1.0, "sentence opens with so": 1.0, "you begins": 1.0,
    "long before": 0.9, "opens with and": 0.9, "first question": 0.7, "opens with but": 0.7, "verse": 0.7,
    "I begins": 0.6, "future begins": 0.6, "long ahead": 0.6, "near the end": 0.6, "orders end": 0.6,
    "time word": 0.6, "opens with for": 0.5, "opens with now": 0.4, "sentence opens with now": 0.4,
    "much new": 0.3, "I comes or goes": 0.2, "opens with well": 0.2, "resolves": 0.2, "nothing new": -0.2,
    "opening heard before": -0.2, "same subject": -0.2, "opens with no": -0.3, "opens with when": -0.4,
    "same words": -0.4, "scrap ahead": -0.4, "sentence opens with yet": -0.4,
    "a noun heard before is the subject": -0.5, "after a question": -0.5, "sentence opens with and": -0.6,
    "stop inside": -0.6, "after a cry": -0.7, "opening repeated": -0.9, "opens with it": -0.9,
    "question upon question": -1.0, "sentence opens with for": -1.0, "called on after a stop": -1.1,
    "near the start": -1.1, "short before": -1.2, "dash": -1.3, "scrap before": -1.5, "semicolon": -1.9,
}  # fmt: skip
"""The weights for a turn as a performer plays it, in log odds."""

SURE = 1.0
"""Log odds from which on most readers turn: in speeches left out of the fit, 82 of 100 such marks are right,
and 56 of 100 below."""


def turn_score(signs: Iterable[str]) -> float:
    """The log odds that a performer turns here; a turn is marked if they are above 0."""
    return round(TURN_BASE + fsum(TURN.get(sign, 0.0) for sign in signs), SCORE_DECIMALS)


CLOSE = 20  # words
CLOSE_PRICE = 1.0
"""Two turns with fewer than CLOSE words between them cost up to CLOSE_PRICE (log odds), the nearer the more.
Chosen on the same speeches, each left out in turn: without a price F1 is .76, with prices of 1 to 3 over 12
to 25 words .74 to .78."""


def turns_apart(scores: Sequence[tuple[int, float]]) -> list[int]:
    """The words of the turns to mark: the choice with the highest sum, by dynamic programming.

    scores: (word, log odds) in order. A turn that is close to another one needs a higher score.
    """
    worth: list[float] = []  # the sum of the best choice that ends with each turn
    back: list[int] = []  # the turn before it in that choice, -1 for none
    best, far = -1, 0  # the best choice that ends at least CLOSE words before
    for n, (place, score) in enumerate(scores):
        while place - scores[far][0] >= CLOSE:
            best = far if best < 0 or worth[far] > worth[best] else best
            far += 1
        value, before = (score, -1) if best < 0 or worth[best] <= 0 else (score + worth[best], best)
        for k in range(far, n):
            near = CLOSE_PRICE * (1 - (place - scores[k][0]) / CLOSE)
            if worth[k] + score - near > value:
                value, before = worth[k] + score - near, k
        worth.append(value)
        back.append(before)
    n = max(range(len(worth)), key=lambda k: worth[k], default=-1)
    chosen = []
    while n >= 0 and worth[n] > 0:
        chosen.append(scores[n][0])
        n = back[n]
    return chosen[::-1]
