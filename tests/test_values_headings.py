"""What is printed above a single speech: acts, places, and the name of who speaks."""

from __future__ import annotations

import pytest

from tests.read_pages import around, lines_said, not_said
from tests.test_script_copied import POEM, PROSE

LOWER = """never asked for the lantern, and nobody in the village would have lit it or carried it.
But that night I set it down.
"""


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("TIDE\n", "name: TIDE"),
        ("TIDE\n\n", "name?: TIDE"),
        ("TIDE.\n\n", "name: TIDE."),
        ("TIDE:\n\n", "name: TIDE"),
        ("TIDE)\n\n", "heading?: TIDE)"),
        ("(TIDE)\n\n", "heading?: (TIDE)"),
        ("THE TIDE\n", "heading?: THE TIDE"),
        ("THE TIDE\n\n", "heading?: THE TIDE"),
        ("A TIDE\n", "heading?: A TIDE"),
        ("AN EBB TIDE\n", "heading?: AN EBB TIDE"),
        ("THE TIDE.\n", "name: THE TIDE."),
        ("THE TIDE:\n", "name: THE TIDE"),
        ("THE TIDE: ", "name: THE TIDE"),
        ("Tide\n\n", "heading?: Tide"),
        ("The Tide\n\n", "heading?: The Tide"),
        ("The Tide:\n", "name?: The Tide"),
        ("Tide:\n", "name?: Tide"),
        ("Tide\n", "heading?: Tide"),
        ("ROSA (sighs)\n\n", "name: ROSA; direction: (sighs)"),
        ("ROSA (sighs):\n", "name: ROSA; direction: (sighs)"),
        ("ROSA [sighs] \n", "name: ROSA; direction: [sighs]"),
        ("ROSA\n\n(She sits.)\n\n", "name?: ROSA; direction: (She sits.)"),
        ("R\n", "heading?: R"),
        ("R.\n", "said: R."),
        ("ROSA\n\n\n", "name?: ROSA"),
        ("ROSA ANN MARIE VON BERG\n", "name: ROSA ANN MARIE VON BERG"),
        ("ROSA ANN MARIE VON DEN BERG\n", "heading?: ROSA ANN MARIE VON DEN BERG"),
        ("ROSA & BEN & OSK\n", "name: ROSA & BEN & OSK"),
        ("ROSA & BEN & OSK & MAB\n", "heading?: ROSA & BEN & OSK & MAB"),
        ("MY ROSA\n", "heading: MY ROSA"),
        ("I ROSA\n", "heading: I ROSA"),
    ],
)
def test_a_name_alone_over_a_speech_is_its_speaker_and_could_be_a_title_if_a_blank_line_follows(
    above: str, left_out: str
) -> None:
    assert around(above, PROSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Act 2\n\nTHE TIDE\n\n", "heading: Act 2; name: THE TIDE"),
        ("Act 2\nTIDE\n\n", "heading: Act 2; name: TIDE"),
        ("The Lamp\n\nTIDE\n\n", "heading: The Lamp; name: TIDE"),
        ("The Lamp\nTIDE\n", "heading: The Lamp; name: TIDE"),
        ("Act 2\nTide\n", "heading: Act 2; name: Tide"),
        ("Act 2\n\nTide\n\n", "heading: Act 2; name: Tide"),
        ("Act 2\nTide.\n", "heading: Act 2; name: Tide."),
        ("Act 2\nTide)\n", "heading: Act 2; said: Tide)"),
        ("Act 2\nTide,\n", "heading: Act 2; said: Tide,"),
        ("(Act 2)\nTHE TIDE\n\n", "heading: (Act 2); name: THE TIDE"),
        ("Act 2\nThe Old Salt Road\n", "heading: Act 2; heading?: The Old Salt Road"),
        (
            "Act 2\nThe Old Salt Road by the Mill and the Long Stone Weir\n",
            "heading: Act 2; said: The Old Salt Road by the Mill and the Long Stone Weir",
        ),
        ("Act 2\nFIRE\n", "heading: Act 2; name: FIRE"),
        ("FIRE\n", "said: FIRE"),
        ("Act 2\nSTOP\n", "heading: Act 2; said: STOP"),
        ("STOP\n", "said: STOP"),
        ("SILENCE.\n", "said: SILENCE."),
        ("Act 2\nSILENCE.\n", "heading: Act 2; name: SILENCE."),
    ],
)
def test_a_title_or_an_act_above_makes_the_name_sure(above: str, left_out: str) -> None:
    assert around(above, PROSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("ROSA\nBEN\n", "heading: ROSA; name: BEN"),
        ("ROSA\n\nBEN\n\n", "heading: ROSA; name: BEN"),
        ("ROSA\nBen\n", "name: ROSA; said: Ben"),
        ("ROSA\nBen:\n", "name: ROSA; said: Ben:"),
        ("ROSA\n\nBen:\n", "heading: ROSA; name: Ben"),
        ("Rosa:\nBEN\n", "said: Rosa:; said: BEN"),
        ("Rosa:\n\nBEN\n", "said: Rosa:; said: BEN"),
        ("Rosa:\nBen:\n", "name?: Rosa; said: Ben:"),
        ("Act 2\nROSA\nBEN\n", "heading: Act 2; heading: ROSA; name: BEN"),
        ("Act 2\nROSA\n\nBen:\n", "heading: Act 2; name: ROSA; said: Ben:"),
        ("Act 2\n\nROSA\n\nBen\n", "heading: Act 2; name: ROSA; said: Ben"),
        ("Act 2\nRosa\nBen: ", "heading: Act 2; name: Rosa; said: Ben:"),
        ("Act 2\nRosa\n\nBen: ", "heading: Act 2; heading: Rosa; name: Ben"),
        ("TIDE\n\nTide\n\n", "heading: TIDE; name: Tide"),
        ("ROSA: BEN: ", "name: ROSA; said: BEN:"),
        ("Rosa: Ben: ", "name?: Rosa; said: Ben:"),
        ("ROSA\nEnter BEN\n", "name: ROSA; direction: Enter BEN"),
        ("ROSA\n\nEnter BEN\n\n", "name?: ROSA; direction: Enter BEN"),
        ("Enter ROSA and BEN\nROSA. ", "direction: Enter ROSA and BEN; name: ROSA."),
        ("Enter BEN\n\nROSA\n\n", "direction: Enter BEN; name: ROSA"),
        ("ROSA\nThe Lamp\n\n", "name: ROSA; said: The Lamp"),
        ("ROSA\n\nThe Lamp\nBEN\n", "heading: ROSA; heading: The Lamp; name: BEN"),
    ],
)
def test_of_two_names_the_last_is_the_speaker_unless_the_first_is_settled(above: str, left_out: str) -> None:
    assert around(above, PROSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("ROSA\nAct 2, Scene 1\n\n", "heading: ROSA; heading: Act 2, Scene 1"),
        ("ROSA\nby Ben Hale\n\n", "heading: ROSA; heading: by Ben Hale"),
        ("ROSA\nby nobody in particular\n\n", "heading: ROSA; heading: by nobody in particular"),
        ("ROSA\n\nby nobody in particular\n\n", "heading: ROSA; heading: by nobody in particular"),
        ("ROSA\nAct 2\nBEN\n", "heading: ROSA; heading: Act 2; name: BEN"),
        ("Rosa:\nAct 2, Scene 1\n\n", "heading: Rosa; heading: Act 2, Scene 1"),
        ("Rosa:\nAct 2, Scene 1\nBen:\n", "heading: Rosa; heading: Act 2, Scene 1; name: Ben"),
        ("THE BOY\nAct 2\n\n", "heading: THE BOY; heading: Act 2"),
        (
            "The Lamp\nby nobody in particular\nROSA\n",
            "heading: The Lamp; heading: by nobody in particular; name: ROSA",
        ),
        ("The Lamp\nI was there\nAct 2\n\n", "heading?: The Lamp; said: I was there; said: Act 2"),
        (
            "The Lamp\nI was there\nby nobody in particular\n\n",
            "heading?: The Lamp; said: I was there; said: by nobody in particular",
        ),
    ],
)
def test_what_looks_like_a_name_over_an_act_or_an_author_is_the_work(above: str, left_out: str) -> None:
    assert around(above, PROSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Act 2\nA street\nROSA\n", "heading: Act 2; heading: A street; name: ROSA"),
        ("A street\nROSA\n", "said: A street; said: ROSA"),
        ("Act 2\na street\nROSA\n", "heading: Act 2; heading: a street; name: ROSA"),
        ("Act 2\nI live here\nROSA\n", "heading: Act 2; said: I live here; said: ROSA"),
        ("Act 2\na street\nROSA: ", "heading: Act 2; heading: a street; name: ROSA"),
        ("Act 2\na street\nRosa: ", "heading: Act 2; said: a street; said: Rosa:"),
        ("Act 2\na street\nRosa\n", "heading: Act 2; heading: a street; name: Rosa"),
        ("Act 2\na street\nRosa.\n", "heading: Act 2; heading: a street; name: Rosa."),
        ("The Lamp\na street\nROSA\n", "said: The Lamp; said: a street; said: ROSA"),
        ("Act 2\na street\na house\nROSA\n", "heading: Act 2; said: a street; said: a house; said: ROSA"),
        ("Act 2\na street\n\n\nROSA\n", "heading: Act 2; heading: a street; name: ROSA"),
        (
            "Act 2\na street\nby my door\nROSA\n",
            "heading: Act 2; said: a street; said: by my door; said: ROSA",
        ),
        ("Act 2\na street, 12 o'clock\nROSA\n", "heading: Act 2; heading: a street, 12 o'clock; name: ROSA"),
        ("The sea\nAct 2\na street\nROSA\n", "said: The sea; said: Act 2; said: a street; said: ROSA"),
    ],
)
def test_a_row_between_an_act_and_a_name_is_the_place(above: str, left_out: str) -> None:
    assert around(above, PROSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("ROSA: ", "name: ROSA"),
        ("ROSA. ", "name: ROSA."),
        ("ROSA - ", "name: ROSA -"),
        ("ROSA — ", "name: ROSA —"),
        ("ROSA—", "name: ROSA—"),
        ("ROSA\t", "name: ROSA"),
        ("ROSA   ", "name: ROSA"),
        ("ROSA  ", "name: ROSA"),
        ("ROSA ", "said: ROSA"),
        ("ROSA (sighs) ", "direction: (sighs); said: ROSA"),
        ("ROSA (sighs): ", "name: ROSA; direction: (sighs)"),
        ("ROSA: (sighs) ", "name: ROSA; direction: (sighs)"),
        ("ROSA. [sighs] ", "name: ROSA.; direction: [sighs]"),
        ("Rosa: ", "name?: Rosa"),
        ("Rosa. ", "said: Rosa."),
        ("Rosa\t", "name?: Rosa"),
        ("Rosa   ", "name?: Rosa"),
        ("Rosa - ", "said: Rosa -"),
        ("Act 2\nRosa. ", "heading: Act 2; name: Rosa."),
        ("Act 2\nRosa: ", "heading: Act 2; name: Rosa"),
        ("Act 2\n\nRos. ", "heading: Act 2; name: Ros."),
        ("Act 2\nRosa - ", "heading: Act 2; said: Rosa -"),
        ("Enter Rosa\nRos. ", "direction: Enter Rosa; name: Ros."),
        ("Enter Rosa\nRosa. ", "direction: Enter Rosa; name: Rosa."),
        ("Enter Ben\nRos. ", "direction: Enter Ben; name: Ros."),
        ("Act 2\nRosa walks. ", "heading: Act 2; said: Rosa walks."),
        ("Act 2\n\nRosa walks. ", "heading: Act 2; said: Rosa walks."),
        ("2 ROSA: ", "name: 2 ROSA"),
        ("ROSA OF THE SEA: ", "name: ROSA OF THE SEA"),
        ("Rosa of the Sea: ", "name?: Rosa of the Sea"),
        ("X: ", "said: X:"),
        ("X. ", "said: X."),
        ("YES: ", "said: YES:"),
        ("FIRE. ", "said: FIRE."),
        ("FIRE: ", "said: FIRE:"),
        ("Act 2\nFIRE. ", "heading: Act 2; name: FIRE."),
        ("Dear Ben: ", "said: Dear Ben:"),
        ("I: ", "said: I:"),
        ("My Rosa: ", "said: My Rosa:"),
    ],
)
def test_a_name_in_front_of_the_speech_on_its_row_is_the_speaker(above: str, left_out: str) -> None:
    assert around(above, PROSE) == left_out


@pytest.mark.parametrize(("more", "place"), [("e", True), ("ee", False)])
def test_a_place_has_at_most_120_characters(more: str, place: bool) -> None:
    row = ("a street and a wall and " * 5)[:119] + more
    left = ("Act 2", "heading"), (row, "heading"), ("ROSA", "speaker name")
    assert not_said(f"Act 2\n{row}\nROSA\n{PROSE}") == [*(left if place else left[:1])]


@pytest.mark.parametrize(
    "row",
    [
        *("ROSA ", "Rosa. ", "Rosa - ", "X: ", "X. ", "YES: ", "FIRE. ", "FIRE: ", "Dear Ben: ", "I: "),
        *("My Rosa: ", "NO MORE OF THIS OR THAT: "),
    ],
)
def test_words_before_the_speech_that_name_nobody_are_spoken(row: str) -> None:
    assert lines_said(row + PROSE) == (row + PROSE).splitlines() and not_said(row + PROSE) == []


@pytest.mark.parametrize("row", ["Rosa walks. ", "Rosa - ", "Rosa - walks: ", "Rosa. and ", "NO, NEVER. "])
def test_under_an_act_too_words_before_the_speech_that_name_nobody_are_spoken(row: str) -> None:
    text = f"Act 2\n\n{row}{PROSE}"
    assert not_said(text) == [("Act 2", "heading")] and lines_said(text) == (row + PROSE).splitlines()


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("ROSA: ", "name: ROSA"),
        ("ROSA. ", "said: ROSA."),
        ("ROSA - ", "said: ROSA -"),
        ("ROSA—", "said: ROSA—"),
        ("Rosa: ", "said: Rosa:"),
        ("Rosa:\t", "name?: Rosa"),
        ("Rosa\t", "name?: Rosa"),
        ("Rosa   ", "name?: Rosa"),
        ("Act 2\nRosa: ", "heading: Act 2; name: Rosa"),
        ("Act 2\nROSA. ", "heading: Act 2; name: ROSA."),
        ("Act 2\nROSA - ", "heading: Act 2; name: ROSA -"),
        ("Act 2\nRosa. ", "heading: Act 2; said: Rosa."),
        ("Enter Rosa\nRos. ", "direction: Enter Rosa; name: Ros."),
        ("Enter Rosa\nRosa. ", "direction?: Enter Rosa; said: Rosa."),
        ("Enter Ben\nRos. ", "direction?: Enter Ben; said: Ros."),
        ("Enter ROSA\nRos. ", "direction: Enter ROSA; name: Ros."),
    ],
)
def test_a_name_before_small_letters_is_known_by_a_colon_a_tab_or_what_is_above(
    above: str, left_out: str
) -> None:
    assert around(above, LOWER) == left_out


@pytest.mark.parametrize(
    ("above", "below", "left_out"),
    [
        ("1962\n\nROSA\n\nBen:\n", "", "heading: 1962; name: ROSA; said: Ben:"),
        ("1962\n\nRosa:\n\nBen:\n", "", "heading: 1962; heading: Rosa; name: Ben"),
        ("ROSA: STOP NOW\n", "", "name: ROSA; said: STOP NOW"),
        ("ROSA: STOP IT NOW\n", "", "heading?: ROSA: STOP IT NOW"),
        ("ROSA\n\n", "\nPart Two\n========\nand so on\n", "name?: ROSA; heading: Part Two; said: and so on"),
        ("", "\nPart Two\n========\nand so on\n", "heading: Part Two; said: and so on"),
        ("Part Two\n========\nROSA\n\n", "", "heading: Part Two; name: ROSA"),
    ],
)
def test_a_name_in_capitals_under_a_title_is_settled_and_a_shout_is_no_speech(
    above: str, below: str, left_out: str
) -> None:
    assert around(above, PROSE, below) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Act 2\na street\n", "heading: Act 2; said: a street"),
        ("Act 2\na street\nRosa: ", "heading: Act 2; said: a street; said: Rosa:"),
    ],
)
def test_a_row_under_an_act_without_a_name_below_it_is_no_place(above: str, left_out: str) -> None:
    assert around(above, POEM) == left_out


@pytest.mark.parametrize(
    ("between", "place"), [("Enter BEN\n", True), ("Enter BEN\nExit BEN\n", True), ("Enter BEN\n" * 3, False)]
)
def test_the_name_comes_at_most_three_rows_below_the_place(between: str, place: bool) -> None:
    left = [out for out, _ in not_said(f"Act 2\na street\n{between}ROSA\n{PROSE}")]
    entrances = between.splitlines()
    assert left == (["Act 2", "a street", *entrances, "ROSA"] if place else ["Act 2", *entrances])
