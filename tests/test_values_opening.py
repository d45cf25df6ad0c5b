"""Titles with their authors, sheets about a piece, who speaks, and the end, around a single speech."""

from __future__ import annotations

import pytest

from tests.read_pages import around, lines_said, not_said

SPEECH = """I kept the lamp for eleven winters, and nobody in the town ever asked me what it cost.

And then one night I let it go out.
"""
LONG = "x" * 80


def reasons(above: str, body: str = SPEECH) -> list[str]:
    """Why each row above a speech is left out, "said" for one that is not."""
    rows = [row for row in above.splitlines() if row]
    found = dict(not_said(above + body))
    return [found.get(row, "said") for row in rows]


@pytest.mark.parametrize(
    ("title", "left_out"),
    [
        *(("The Lamp\n", True), ("The Lamp\nof Mine\n", True), ("The Lamp\nof Mine\nand So\n", True)),
        *(("The Lamp\nof Mine\nand So\nIt Was\n", False), ("The Lamp\n\n", True)),
        *(("The Lamp\nof Mine\n\n", True), ("The Lamp\nof Mine\nand So\n\n", False)),
        *((f"{LONG}\n", True), (f"{LONG}x\n", False), ("", True)),
    ],
)
def test_a_title_with_its_author_has_four_rows_in_one_paragraph_or_two_over_the_author(
    title: str, left_out: bool
) -> None:
    """Each row has up to 80 characters."""
    found = reasons(f"{title}by Rosa Vane\n\n")
    assert set(found) == {"heading" if left_out else "said"}


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        *(("The Lamp by Rosa Vane", "heading"), ("The lamp by Rosa Vane", "said")),
        *(("I was there by Rosa Vane", "said"), ("from The Lamp, by Rosa Vane", "heading")),
        *(("written by Rosa Vane", "heading"), ("BY ROSA VANE", "heading"), ("by rosa vane", "said")),
        *(("By Rosa Vane (1962)", "heading"), ("© Rosa Vane", "heading"), ("(c) Rosa Vane", "heading")),
        *(("I was taught to read by Ben", "said"), ("a play by Rosa Vane", "heading")),
    ],
)
def test_a_row_that_names_the_author_with_or_without_a_title_is_a_heading(row: str, reason: str) -> None:
    assert reasons(f"{row}\n\n") == [reason]


@pytest.mark.parametrize(
    ("above", "left_out"),
    [
        ("Play: The Lamp\nCharacter: Rosa\n\n", "heading: Play: The Lamp; heading: Character: Rosa"),
        ("Play: The Lamp\nAge: 19\nand so\n\n", "heading: Play: The Lamp; heading: Age: 19; said: and so"),
        ("Character: Rosa\n", "heading: Character: Rosa"),
        ("Hero: Rosa\n\n", "heading?: Hero: Rosa"),
        ("Setting: I was there\n\n", "note above the speech: Setting: I was there"),
        ("Setting: I was there\n", "said: Setting: I was there"),
        (
            "Setting: I was there\nWho: me\n",
            "note above the speech: Setting: I was there; note above the speech: Who: me",
        ),
    ],
)
def test_rows_with_a_label_are_a_sheet_about_the_piece(above: str, left_out: str) -> None:
    """One that speaks as "I" or "me" needs another beside it, or a blank line below it."""
    assert around(above, SPEECH) == left_out


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        *((f"ROSA, {more}", "note above the speech") for more in ("19, a keeper", "early 20s", "a keeper")),
        *((f"ROSA, {more}", "note above the speech") for more in ("the keeper", "female", "an old woman")),
        *(("ROSA, kept it", "said"), ("Rosa, 19", "said"), ("ROSA, 1", "heading")),
    ],
)
def test_a_name_in_capitals_with_an_age_or_a_description_is_a_note(row: str, reason: str) -> None:
    assert reasons(f"{row}\n\n") == [reason]


def test_a_note_on_who_speaks_has_four_rows_at_most() -> None:
    rows = "ROSA, 19\na keeper\nof a lamp\nby the sea\n"
    assert reasons(f"{rows}\n") == ["note above the speech"] * 4
    assert reasons(f"{rows}and so\n\n") == ["heading", *["said"] * 4]


@pytest.mark.parametrize(
    ("below", "left_out"),
    [
        *(("\nTHE END\n", "heading: THE END"), ("THE END\n", "said: THE END"), ("\nFIN.\n", "heading: FIN.")),
        *(("\nEND OF PLAY\n", "heading: END OF PLAY"), ("\n(THE END)\n", "heading: (THE END)")),
        *(("\n- THE END -\n", "heading: - THE END -"), ("\nEnd of monologue\n", "heading: End of monologue")),
        *(("\nEnd of poem\n", "direction: End of poem"), ("\nThe End\n", "source?: The End")),
        *(("\nTHE END\nand so\n", "said: THE END; said: and so"), ("\nCURTAIN\n", "heading: CURTAIN")),
        ("\n© 1962 Rosa Vane\n", "copyright line: © 1962 Rosa Vane"),
        ("\nCopyright Rosa Vane\n", "copyright line: Copyright Rosa Vane"),
    ],
)
def test_a_row_below_the_speech_that_says_it_is_over_is_a_paragraph_of_its_own(
    below: str, left_out: str
) -> None:
    assert around("", SPEECH, below) == left_out


def test_a_copyright_line_has_at_most_eighty_characters() -> None:
    for size, reason in ((80, "copyright line"), (81, "source")):
        row = "© ".ljust(size, "x")
        assert not_said(f"{SPEECH}\n{row}\n") == [(row, reason)]


def test_at_most_five_paragraphs_at_the_top_are_above_the_speech() -> None:
    five = "THE LAMP\n\n(a room)\n\nby Rosa Vane\n\nAct 2\n\nSonnet 18\n\n"
    assert reasons(five) == ["heading"] * 5
    assert reasons(f"{five}XVIII\n\n") == [*["heading"] * 5, "heading?"]
    assert reasons("THE LAMP\n\nit was late\n\nAct 2\n\n") == ["heading?", "said", "said"]


def test_a_direction_between_the_title_and_the_speech_is_all_in_brackets() -> None:
    above = "THE LAMP\n\n(it was late{}\n\nAct 2\n\n"
    assert [why for _, why in not_said(above.format("\nand dark)") + SPEECH)] == [
        *("heading?", "stage direction", "heading")
    ]
    assert lines_said(above.format(")\nand dark") + SPEECH)[:3] == ["(it was late)", "and dark", "Act 2"]
