"""Titles, authors and sources around a single speech, and what is above a play."""

from __future__ import annotations

import pytest

from tests.read_pages import around, lines_said, not_said
from tests.test_script_copied import POEM, VERSE

FORTY = "\n".join(f"The lamp was lit before the tide came {k}n" for k in ("i", "o", "u", "a")) + "\n"
HAVE = "I have a lamp that nobody can see,\nAnd so it burns for nobody but me.\nAnd so it burns.\n"
ONE = "the lamp was lit before the tide came in and nobody was told of it\n"


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
    ("above", "left_out"),
    [
        ("The Lamp of the Old Salt Roades\n", "heading?: The Lamp of the Old Salt Roades"),
        ("The Lamp of the Old Salt Roadess\n", "said: The Lamp of the Old Salt Roadess"),
        ("La Da La Da La Da La\n", "heading?: La Da La Da La Da La"),
        ("La Da La Da La Da La Da\n", "said: La Da La Da La Da La Da"),
    ],
)
def test_a_title_right_over_the_speech_is_short_and_has_at_most_seven_words(
    above: str, left_out: str
) -> None:
    assert around(above, FORTY) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Tyger Tyger, William Blake\nand so\n\n", "said: Tyger Tyger, William Blake; said: and so"),
        ("William Blake\nTyger Tyger, Songs\n\n", "heading: William Blake; heading: Tyger Tyger, Songs"),
        ("Tyger Tyger, Tyger\n\n", "heading?: Tyger Tyger, Tyger"),
        ("The Lamp, William Blake\n\n", "heading?: The Lamp, William Blake"),
        ("Tyger Tyger, The Lamp, William Blake\n\n", "heading: Tyger Tyger, The Lamp, William Blake"),
        ("and so Tyger Tyger\n\n", "heading?: and so Tyger Tyger"),
    ],
)
def test_the_first_words_of_a_poem_may_stand_beside_its_author(above: str, left_out: str) -> None:
    assert around(above, POEM) == left_out


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("I Have\n", "said: I Have"),
        ("I Have\n\n", "heading: I Have"),
        ("I have\n\n", "heading: I have"),
    ],
)
def test_a_title_with_a_pronoun_needs_a_blank_line_below_it(above: str, left_out: str) -> None:
    assert around(above, HAVE) == left_out


@pytest.mark.parametrize(
    ("above", "below", "left_out"),
    [
        ("kept\n\n", "", "said: kept"),
        ("kept\n\n", "(She exits.)\n", "heading?: kept; direction: (She exits.)"),
    ],
)
def test_a_title_has_two_rows_below_it(above: str, below: str, left_out: str) -> None:
    assert around(above, ONE, below) == left_out
