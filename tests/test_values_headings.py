"""What is printed above and below a single speech: titles, acts, places, authors, sources, and who speaks."""

from __future__ import annotations

import pytest

from tests.read_pages import around, lines_said, not_said
from tests.test_script_copied import POEM, PROSE, VERSE


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


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Kept\n\n", "heading?: Kept"),
        ("We kept the old lamp\n\n", "perhaps: We kept the old lamp; said: We kept the old lamp"),
        ("we kept the old lamp\n\n", "perhaps: we kept the old lamp; said: we kept the old lamp"),
        ("They kept the lamp\n\n", "perhaps: They kept the lamp; said: They kept the lamp"),
        ("A lamp in the old house\n\n", "perhaps: A lamp in the old house; said: A lamp in the old house"),
        (
            "A lamp in the old white house\n\n",
            "perhaps: A lamp in the old white house; said: A lamp in the old white house",
        ),
        ("A lamp was in the house by the sea\n\n", "said: A lamp was in the house by the sea"),
        ("A lamp was in the house by the sea there\n\n", "said: A lamp was in the house by the sea there"),
        ("How the lamp was kept.\n\n", "said: How the lamp was kept."),
        ("How the lamp was kept,\n\n", "said: How the lamp was kept,"),
        ("How the lamp was kept?\n\n", "said: How the lamp was kept?"),
        ("How the lamp was kept\n", "said: How the lamp was kept"),
        ("Silence\n\n", "said: Silence"),
        ("silence\n\n", "said: silence"),
        ("the lamp\n\n", "heading?: the lamp"),
        ("It was late\n\n", "perhaps: It was late; said: It was late"),
        ("My lamp\n\n", "perhaps: My lamp; said: My lamp"),
    ],
)
def test_a_short_first_line_with_a_blank_line_below_it_is_taken_for_a_title(
    above: str, left_out: str
) -> None:
    assert around(above, VERSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("The Lamp\n", "heading?: The Lamp"),
        ("The Lamp\nRosa Vane\n", "heading: The Lamp; name: Rosa Vane"),
        ("The Lamp\n\nRosa Vane\n\n", "heading: The Lamp; name: Rosa Vane"),
        ("The Lamp\nRosa Vane\n1962\n", "heading: The Lamp; heading: Rosa Vane; heading: 1962"),
        ("The Lamp\nRosa Vane\nBen Hale\n\n", "heading: The Lamp; name: Rosa Vane; said: Ben Hale"),
        (
            "The Lamp\nRosa Vane\nBen Hale\nAnna Grey\n\n",
            "heading: The Lamp; name: Rosa Vane; said: Ben Hale; said: Anna Grey",
        ),
        ("One Two Three Four Five Six Seven\n", "heading?: One Two Three Four Five Six Seven"),
        ("One Two Three Four Five Six Seven Eight\n", "said: One Two Three Four Five Six Seven Eight"),
        ("One Two Three Four Five Six Seven Eight\n\n", "heading?: One Two Three Four Five Six Seven Eight"),
        ("The Lamp.\n", "said: The Lamp."),
        ("The Lamp.\n\n", "said: The Lamp."),
        ("The Lamp,\n\n", "said: The Lamp,"),
        ("The Lamp!\n", "said: The Lamp!"),
        ("The Lamp!\n\n", "heading?: The Lamp!"),
        ("Silence\n", "said: Silence"),
        ("I Kept It\n\n", "perhaps: I Kept It; said: I Kept It"),
        ("I Kept It\n", "said: I Kept It"),
        ("It Was\n", "said: It Was"),
        ("The Lamp of the Old House by the Salt Sea\n", "said: The Lamp of the Old House by the Salt Sea"),
        ("Sonnet\n", "heading?: Sonnet"),
        ("Sonnet 18\n", "heading: Sonnet 18"),
        ("1962\n", "heading?: 1962"),
        ("1962\n\n", "heading?: 1962"),
        ("Monologue\n", "heading?: Monologue"),
        ("A comic monologue\n", "heading: A comic monologue"),
    ],
)
def test_a_title_or_an_author_over_a_speech_is_known_by_its_capitals_and_its_length(
    above: str, left_out: str
) -> None:
    assert around(above, VERSE) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Tyger\n\n", "heading: Tyger"),
        ("Tyger\n", "heading?: Tyger"),
        ("Tyger Tyger\n", "heading?: Tyger Tyger"),
        ("Tyger Tyger burning\n\n", "heading: Tyger Tyger burning"),
        ("tyger tyger\n\n", "heading: tyger tyger"),
        ("The Tyger\n", "heading?: The Tyger"),
        ("Tyger burning\n\n", "heading?: Tyger burning"),
        ("Tyger Tyger (1794)\n\n", "heading?: Tyger Tyger (1794)"),
        ("Tyger Tyger (1794)\n", "said: Tyger Tyger (1794)"),
        ("Tyger Tyger, William Blake\n\n", "heading: Tyger Tyger, William Blake"),
        ("Tyger Tyger, William Blake\n", "said: Tyger Tyger, William Blake"),
        ("Tyger Tyger, and so on\n\n", "heading?: Tyger Tyger, and so on"),
        ("William Blake\nTyger Tyger\n\n", "heading: William Blake; name: Tyger Tyger"),
        ("William Blake\nTyger Tyger\n", "heading: William Blake; name: Tyger Tyger"),
        ("and so\nTyger Tyger\n\n", "said: and so; said: Tyger Tyger"),
        ("Tyger Tyger\nWilliam Blake\n\n", "heading: Tyger Tyger; name: William Blake"),
        ("Tyger Tyger\nand so\n\n", "said: Tyger Tyger; said: and so"),
    ],
)
def test_a_title_that_is_the_first_words_of_the_poem_is_left_out(above: str, left_out: str) -> None:
    assert around(above, POEM) == left_out


@pytest.mark.parametrize(
    ("above", "below", "left_out"),
    [
        ("", "Twelfth Night 2.2\n", "source: Twelfth Night 2.2"),
        ("", "\nTwelfth Night 2.2\n", "source: Twelfth Night 2.2"),
        ("", "Twelfth Night\n", "said: Twelfth Night"),
        ("", "\nTwelfth Night\n", "source?: Twelfth Night"),
        ("", "- Twelfth Night\n", "source: - Twelfth Night"),
        ("", "-- Twelfth Night\n", "source: -- Twelfth Night"),
        ("", "--- Twelfth Night\n", "source: --- Twelfth Night"),
        ("", "— Twelfth Night\n", "source: — Twelfth Night"),
        ("", "~ Twelfth Night\n", "source: ~ Twelfth Night"),
        ("", "-Twelfth Night\n", "source: -Twelfth Night"),
        ("", "\nTwelfth Night.\n", "said: Twelfth Night."),
        ("", "- Twelfth Night.\n", "source: - Twelfth Night."),
        ("", "\nSilence\n", "direction?: Silence"),
        ("", "- Silence\n", "source: - Silence"),
        ("", "\nMy Lamp\n", "said: My Lamp"),
        ("", "\nSource: The Lamp\n", "source?: Source: The Lamp"),
        ("", "Source: The Lamp\n", "said: Source: The Lamp"),
        ("", "Exit.\nTwelfth Night 2.2\n", "direction: Exit.; source: Twelfth Night 2.2"),
        ("", "Twelfth Night 2.2\nExit.\n", "source: Twelfth Night 2.2; direction: Exit."),
        ("", "\nTwelfth Night 2.2\nand so on\n", "said: Twelfth Night 2.2; said: and so on"),
        (
            "",
            "\nTwelfth Night\n\nRosa Vane\n\n1962\n\nThe Lamp\n",
            "source?: Twelfth Night; source?: Rosa Vane; source?: 1962; source?: The Lamp",
        ),
        (
            "",
            "\nTwelfth Night\n\nRosa Vane\n\n1962\n\nThe Lamp\n\nBen Hale\n",
            "source?: Rosa Vane; source?: 1962; source?: The Lamp; source?: Ben Hale; said: Twelfth Night",
        ),
        ("", "*Twelfth Night*\n", "said: *Twelfth Night*"),
        ("", "\n_Twelfth Night_\n", "source?: Twelfth Night"),
        ("", "https://a.example/lamp\n", "source: https://a.example/lamp"),
        ("", "© 1962 Rosa Vane\n", "copyright line: © 1962 Rosa Vane"),
    ],
)
def test_what_is_below_a_speech_and_says_where_it_is_from_is_its_source(
    above: str, below: str, left_out: str
) -> None:
    assert around(above, VERSE, below) == left_out


@pytest.mark.parametrize(
    ("above", "below", "left_out"),
    [
        ("THE LAMP\n\n", "", "said: THE LAMP"),
        ("ACT 2\n", "", "heading: ACT 2"),
        ("ROSA: ", "", "said: ROSA:"),
        ("", "\nTWELFTH NIGHT 2.2\n", "said: TWELFTH NIGHT 2.2"),
        ("", "- ROSA VANE\n", "said: - ROSA VANE"),
    ],
)
def test_in_a_page_in_capitals_only_an_act_is_left_out(above: str, below: str, left_out: str) -> None:
    assert around(above, VERSE.upper(), below) == left_out


@pytest.mark.parametrize(("more", "place"), [("e", True), ("ee", False)])
def test_a_place_has_at_most_120_characters(more: str, place: bool) -> None:
    row = ("a street and a wall and " * 5)[:119] + more
    left = ("Act 2", "heading"), (row, "heading"), ("ROSA", "speaker name")
    assert not_said(f"Act 2\n{row}\nROSA\n{PROSE}") == [*(left if place else left[:1])]


@pytest.mark.parametrize(
    ("words", "above", "reason"),
    [
        *((11, "Act 2, Scene 1\n\n", ""), (12, "Act 2, Scene 1\n\n", "heading")),
        *((11, "ROSA\n", ""), (12, "ROSA\n", "speaker name")),
        *((11, "The Lamp\n\n", ""), (12, "The Lamp\n\n", "heading?")),
        *((11, "Rosa kept a lamp,\n", ""), (3, "ROSA: ", "speaker name")),
    ],
)
def test_above_fewer_than_twelve_words_only_a_name_with_a_colon_is_left_out(
    words: int, above: str, reason: str
) -> None:
    speech = " ".join(["and"] * (words - 2)) + "\nso on.\n"
    assert [why for _, why in not_said(above + speech)] == [reason] * bool(reason)


@pytest.mark.parametrize(
    ("below", "title"),
    [
        (VERSE, ["The Lamp"]),
        (f"{VERSE}The Lamp\n", []),
        (f"{VERSE}The Lamp\n{VERSE}", ["The Lamp"]),
        (f"{VERSE}The Lamp\n{VERSE}The Lamp\n{VERSE}", []),
    ],
)
def test_a_first_line_that_is_printed_three_times_or_is_also_the_last_is_a_refrain_and_spoken(
    below: str, title: list[str]
) -> None:
    text = f"The Lamp\n\n{below}"
    assert [out for out, _ in not_said(text)] == title
    assert lines_said(text).count("The Lamp") == text.count("The Lamp") - len(title)


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("THE LAMP\n(a room)\nAct 2, Scene 1\n\n", ["heading"] * 3),
        ("THE LAMP\nEnter ROSA\nAct 2, Scene 1\n\n", ["heading", "stage direction", "heading"]),
        ("THE LAMP\na room\nAct 2, Scene 1\n\n", ["before the first speech"] * 2 + ["heading"]),
        ("ROSA VANE:\nAct 2\n\n", ["before the first speech", "heading"]),
        ("Rosa:\nAct 2:\n\n", ["before the first speech", "heading"]),
        ("THE LAMP\nby Rosa Vane\n\n", ["heading"] * 2),
        ("THE LAMP\nby Rosa Vane\nA STREET\n\n", ["heading", "heading", "before the first speech"]),
        ("(A room)\n\nAct 2\n\n", ["heading"] * 2),
        ("The Lamp\n\nRosa Vane\n\nAct 2\nA street\n\n", ["heading"] * 3 + ["before the first speech"]),
        ("The Lamp\n\n", ["before the first speech"]),
        ("Sonnet 18\n\n", ["heading"]),
    ],
)
def test_above_a_play_what_is_surely_a_heading_is_one_and_all_else_comes_before_the_first_speech(
    above: str, left_out: list[str]
) -> None:
    play = "ANNA: Who goes there?\n\nBEN: Nobody.\n\nANNA: Then stay, all of you.\n"
    assert [why for _, why in not_said(above + play) if why != "speaker name"] == left_out
    assert lines_said(above + play) == ["Who goes there?", "Nobody.", "Then stay, all of you."]


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
