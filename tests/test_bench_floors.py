"""A small part of each bench, with a seed and a floor, so that a change for the worse is noticed.

The whole benches and their figures are in docs/results.md and docs/benches.md. Each part here takes well
under a second on one core. The floors are set by hand, a little below what the part gives.
"""

from __future__ import annotations

import random
from itertools import accumulate, islice
from pathlib import Path

import copied
import copied_kinds
import fit_scansion
import fit_turn_weights as turns
import forecast
import forecast_coverage
import numpy as np
import pytest
from copied_texts import Piece

from offbook.script import parse_script
from offbook.thoughts import shifts_of
from offbook.thoughts.turn_weights import TURN, TURN_BASE
from offbook.words import words_of
from tests.test_notes import LINES
from tests.test_verse import BLANK, HIAWATHA, SENNACHERIB


@pytest.mark.heavy
def test_the_turns_found_in_five_hand_marked_speeches_stay_above_their_floor() -> None:
    """The first five of bench/turns_read.txt, which the table was fitted on."""
    table = TURN | {turns.BASE: TURN_BASE}
    there, marked, found, right = sum(
        (turns.tally(s, [i for i, _ in turns.said(s, table)]) for s in islice(turns.speeches([]), 5)),
        np.zeros(4),
    )
    precision, recall = right / marked, found / there
    assert there == 18
    assert 2 * precision * recall / (precision + recall) >= 0.72


@pytest.mark.heavy
@pytest.mark.parametrize("ways", [copied_kinds.SPEECHES, copied_kinds.KEPT_SPEECHES], ids=["seen", "kept"])
def test_a_speech_copied_with_any_kind_of_heading_is_read_without_the_heading(
    ways: dict[str, copied_kinds.Above], tmp_path: Path
) -> None:
    """One speech for each kind: at most one in ten is read differently, and no word is lost unlisted."""
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
def test_a_forecast_is_more_accurate_than_always_giving_the_average_chance() -> None:
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


# Our own sentences, divided as the Discourse Tagging Reference Manual (Carlson & Marcu 2001, section 2)
# divides such clauses: what is said from who says it; relative, adverbial and coordinated clauses; purposes.
DIVIDED = """
He left / because the lamp was out.
She said / that the boat was late.
The boat / that came in at dawn / was empty.
To light the lamp, / he climbed the stairs.
Although it rained all night, / they rowed on.
He rowed / and she sang.
The keeper climbed the stairs / to light the lamp.
When the tide turned, / the boat lifted / and the rope went slack.
If nobody comes, / I will go down / and open the door myself.
My father, / who never learned to swim, / kept the light for forty years.
I would have told you, / but you never asked.
They waited on the wall / until the last boat was in.
"The oil is finished," / he said, / and he shut the door.
We carried it up, / step by step, / while the wind shook the glass.
"""


def test_the_phrases_found_in_fourteen_sentences_stay_above_their_floor() -> None:
    right = found = there = 0
    for row in DIVIDED.strip().splitlines():
        parts = [part.split() for part in row.split(" / ")]
        edges = set(accumulate(len(part) for part in parts[:-1]))
        script = parse_script(" ".join(word for part in parts for word in part) + "\n")
        marked = {s.before_word for s in shifts_of(script, words_of(script))}
        right, found, there = right + len(edges & marked), found + len(marked), there + len(edges)
    assert there == 20
    assert 2 * right / (found + there) >= 0.92


@pytest.mark.heavy
def test_the_ranges_of_forecasts_are_right_about_as_often_as_they_state() -> None:
    """Eight simulated learners of four families, each forecast lived through four times: "eight in ten"."""
    said = [
        case
        for family in ("halving", "power", "words", "plateau")
        for seed in (9000, 9001)
        for case in forecast_coverage.cases(forecast.learner(family, seed), 4)
        if not case.early
    ]
    inside = [c.accuracy_low <= a <= c.accuracy_high for c in said for a in c.lives]
    chance = [forecast_coverage.within_beta(c.low, c.high, c.hits, len(c.lives)) for c in said]
    assert len(said) >= 8
    assert np.mean(inside) >= 0.7
    assert np.mean(chance) >= 0.6


SCANNED = ((BLANK, "ws" * 5), (HIAWATHA, "sw" * 4), (SENNACHERIB, "wws" * 4))


def test_the_share_of_lines_scanned_as_in_the_handbooks_stays_above_its_floor(tmp_path: Path) -> None:
    """Regular lines, each half read with what the other teaches (their feet: common practice, no source)."""
    rows = [
        f"{n}.{k}\tpoem {n}\tA poet\t{line}\t{real}"
        for n, (text, real) in enumerate(SCANNED)
        for k, line in enumerate(text.splitlines())
    ]
    table = tmp_path / "lines.tsv"
    table.write_text("\n".join(["id\tpoem\tauthor\tline\treal", *rows]) + "\n", encoding="utf-8")
    model = fit_scansion.Model(fit_scansion.samples(table))
    half = np.arange(len(model.lines)) % 2 == 0
    found = []
    for out in (half, ~half):
        read = zip(model.lines, model.read(model.fit(~out)), strict=True)
        found += [(line.real, said) for (line, said), held in zip(read, out, strict=True) if held]
    assert len(found) == 20
    assert sum(real == said for real, said in found) >= 14, found
