"""How much each sign of a turn is worth: one short table that is added up.

Fitted by ridge-penalised logistic regression on speeches in verse and prose whose turns we marked by
reading (`bench/turns_read.txt`), the weakest signs dropped one by one, the rest rounded to a tenth:
`bench/fit_turn_weights.py` fits it anew. `docs/thoughts.md` gives the figures, every speech left out in turn.
"""

from __future__ import annotations

from collections.abc import Iterable

TURN_BASE = -2.3
TURN: dict[str, float] = {
    "paragraph": 2.4, "sentence": 2.1, "you begins": 1.4, "somebody comes": 1.3, "resolves": 1.2,
    "opens with and": 1.0, "sentence opens with what": 1.0, "long before": 1.0, "opens with well": 1.0,
    "opens with but": 1.0, "long ahead": 1.0, "called on": 0.9, "opens with for": 0.9, "verse": 0.8,
    "sentence opens with but": 0.8, "sentence opens with so": 0.7, "asks": 0.6, "time word": 0.6,
    "I comes or goes": 0.2, "opening heard before": -0.4, "same words": -0.4, "after a question": -0.7,
    "after a cry": -0.8, "sentence opens with for": -1.0, "sentence opens with and": -1.1,
    "opening repeated": -1.1, "short before": -1.2, "scrap before": -1.2, "opens with when": -1.4,
    "near the start": -1.5, "dash": -1.5, "semicolon": -1.8,
}  # fmt: skip
"""For a turn as a performer plays it."""

SURE = 1.0
"""Log-odds from which most readers turn: left out of the fit, 86 of 100 such marks are right, below it 54."""


def turn_score(signs: Iterable[str]) -> float:
    """Log-odds that a performer turns here; above 0 it is marked."""
    return TURN_BASE + sum(TURN.get(sign, 0.0) for sign in signs)
