"""A small seeded part of a bench, with a floor: what a change may not cost without anybody noticing.

The whole benches and their figures stand in docs/results.md and docs/benches.md. Here a part that takes well
under a second of a core keeps each above a floor, set by hand a little below what it gives.
"""

from __future__ import annotations

import random
from itertools import islice
from pathlib import Path

import copied
import copied_kinds
import fit_turn_weights as turns
import forecast
import numpy as np
import pytest
from copied_texts import Piece

from offbook.thoughts.turn_weights import TURN, TURN_BASE
from tests.test_notes import LINES
from tests.test_verse import BLANK


@pytest.mark.heavy
def test_turns_of_five_speeches_that_were_marked_by_reading_keep_their_floor() -> None:
    """The first five of bench/turns_read.txt, which the table was fitted on."""
    table = TURN | {turns.BASE: TURN_BASE}
    there, marked, found, right = sum(
        (turns.tally(s, [i for i, _ in turns.said(s, table)]) for s in islice(turns.speeches([]), 5)),
        np.zeros(4),
    )
    precision, recall = right / marked, found / there
    assert there == 18
    assert 2 * precision * recall / (precision + recall) >= 0.72


@pytest.mark.parametrize("ways", [copied_kinds.SPEECHES, copied_kinds.KEPT_SPEECHES], ids=["seen", "kept"])
def test_a_speech_copied_with_its_heading_in_any_of_the_ways_is_read_without_it(
    ways: dict[str, copied_kinds.Above], tmp_path: Path
) -> None:
    """One speech for each way: at most one in ten is read otherwise, and no spoken word is lost unseen."""
    dice = random.Random(3)
    texts = (BLANK, "\n".join(LINES))
    pieces = [
        Piece(
            "The Keeper", "Rosa Vane", 2, 3, "A harbour.", "MARA", "verse", tuple((True, row) for row in rows)
        )
        for rows in (text.strip().splitlines() for text in texts)
    ]
    found = [
        copied.judge(copied.Item(piece, way, above(piece, dice) + piece.said + "\n"), tmp_path)
        for way, above in ways.items()
        for piece in pieces
    ]
    wrong = [result.item.way for result in found if not result.right]
    assert len(wrong) <= len(found) / 10, wrong
    assert not [result.item.way for result in found if result.unseen]


@pytest.mark.heavy
def test_a_forecast_is_better_than_always_saying_how_often_it_comes_true() -> None:
    """Sixteen simulated learners, four of each family of forgetting (Brier score, 1950)."""
    told = [
        t
        for family in ("halving", "power", "words", "plateau")
        for seed in range(9000, 9004)
        for t in forecast.simulate(forecast.learner(family, seed))
    ]
    said = [(t.chance, t.came) for t in told if t.chance is not None]
    base = sum(came for _, came in said) / len(said)
    brier = sum((chance - came) ** 2 for chance, came in said) / len(said)
    assert len(said) >= 20
    assert brier < base * (1 - base)
