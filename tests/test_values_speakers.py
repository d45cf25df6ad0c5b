"""Who speaks: how many names make a pattern in each layout, and what is never a name."""

from __future__ import annotations

import pytest

from offbook.script import parse_script
from offbook.script.finders.speakers import is_name
from tests.read_pages import lines_said, not_said

SAID = ("Who goes there, and why?", "Nobody that you know of.", "Then stay where you are.", "No.")


def dialogue(layout: str, names: str) -> str:
    """Speeches in this layout, each with a name and what is said. names: with blanks between them."""
    return "".join(layout.format(name, SAID[k % 4]) for k, name in enumerate(names.split()))


def speakers(text: str) -> str:
    """Who says each line, with blanks between the names; "-" for nobody."""
    return " ".join((line.speaker or "-").replace(" ", "_") for line in parse_script(text).lines)


CAPITALS = ["{}\n{}\n\n", "{}\n{}\n", "{}: {}\n\n", "{}. {}\n", "{}   {}\n\n", "{}\t{}\n", "{} - {}\n\n"]


@pytest.mark.parametrize("layout", CAPITALS)
@pytest.mark.parametrize("names", ["ANNA BEN", "ANNA BEN ANNA", "ANNA ANNA", "ANNA BEN CLEO DORA"])
def test_two_names_in_capitals_make_a_pattern_in_any_layout(layout: str, names: str) -> None:
    text = dialogue(layout, names)
    assert speakers(text) == names
    assert lines_said(text) == list(SAID[: len(names.split())])


@pytest.mark.parametrize(
    ("layout", "names", "found"),
    [
        # on rows of their own three names
        *(("{}\n{}\n\n", "Anna Ben Anna", True), ("{}\n{}\n\n", "Anna Ben", False)),
        *(("{}\n{}\n\n", "Anna Ben Cleo", True), ("{}\n{}\n", "Anna Ben Anna Ben", True)),
        # with a colon or a tab two names, if they begin every paragraph
        *(("{}: {}\n\n", "Anna Ben", True), ("{}: {}\n", "Anna Ben", True), ("{}\t{}\n\n", "Anna Ben", True)),
        # with a full stop three
        *(("{}. {}\n\n", "Anna Ben Anna", True), ("{}. {}\n\n", "Anna Ben", False)),
        *(("{}. {}\n\n", "Anna Ben Cleo", True), ("{}. {}\n", "Anna Ben Anna Ben", True)),
        # single letters four times, with a colon
        *(("{}: {}\n\n", "A B A B", True), ("{}: {}\n\n", "A B A", False), ("{}. {}\n\n", "A B A B", False)),
        # with a dash or a comma only in capitals
        *(("{} - {}\n\n", "Anna Ben Anna Ben", False), ("{}, low. {}\n\n", "Anna Ben Anna Ben", False)),
        *(("{}, low. {}\n\n", "ANNA BEN ANNA", True), ("{} (low): {}\n\n", "Anna Ben", True)),
    ],
)
def test_names_in_small_letters_need_more_proof(layout: str, names: str, found: bool) -> None:
    text = dialogue(layout, names)
    assert set(speakers(text).split()) == ({*names.split()} if found else {"-"})


PROSE = "I never asked for it, and nobody in the village would have lit it for me or for you."


def share(heads: int, paragraphs: int, layout: str, names: str = "ANNA BEN") -> bool:
    """Whether several speakers are found if they begin so many of the paragraphs. names: in turn."""
    who = names.split()
    said = [f"{PROSE[: 40 + k]}." for k in range(paragraphs)]
    first = [layout.format(who[k % len(who)], text) for k, text in enumerate(said[:heads])]
    return len(parse_script("\n\n".join([*first, *said[heads:]]) + "\n").parts) > 1


@pytest.mark.parametrize(
    ("layout", "names", "heads", "paragraphs", "found"),
    [
        # names in capitals of which one comes back: a fifth of the paragraphs, or two that come back
        *(("{}: {}", "ANNA ANNA BEN", 3, 15, True), ("{}: {}", "ANNA ANNA BEN", 3, 16, False)),
        *(("{}: {}", "ANNA BEN", 4, 30, True), ("{}: {}", "ANNA ANNA BEN CLEO", 4, 30, False)),
        # that do not come back: half of the paragraphs
        *(("{}: {}", "ANNA BEN CLEO DORA", 4, 8, True), ("{}: {}", "ANNA BEN CLEO DORA", 4, 9, False)),
        # in small letters, coming back: nine twentieths of them with a colon, two fifths with a tab
        *(("{}: {}", "Anna Ben", 9, 20, True), ("{}: {}", "Anna Ben", 9, 21, False)),
        *(("{}\t{}", "Anna Ben", 8, 20, True), ("{}\t{}", "Anna Ben", 8, 21, False)),
        *(("{}. {}", "Anna Ben", 9, 20, True), ("{}. {}", "Anna Ben", 9, 21, False)),
        # that do not come back: all of them
        *(("{}: {}", "Anna Ben Cleo", 3, 3, True), ("{}: {}", "Anna Ben Cleo", 3, 4, False)),
    ],
)
def test_names_are_speakers_if_they_begin_a_large_enough_share_of_the_paragraphs(
    layout: str, names: str, heads: int, paragraphs: int, found: bool
) -> None:
    assert share(heads, paragraphs, layout, names) is found


@pytest.mark.parametrize(
    ("name", "capitals", "small", "page"),
    [
        # in capitals on a page that is not; in small letters; on a page that is all in capitals
        *(("ANNA", True, True, True), ("Anna", False, True, True), ("anna", False, True, True)),
        *(("McBEN", True, True, True), ("MacBEN", True, True, True), ("Mcben", False, True, True)),
        *(("ANNA and BEN", True, True, True), ("ANNA or BEN", False, True, True)),
        *(("A B C", True, True, True), ("A B C D", True, True, False), ("A B C D E", True, False, False)),
        *(("A B C D E F", False, False, False), ("A/B/C/D/E", True, False, False)),
        *(("X", False, False, False), ("XY", True, True, True)),
        *(("Z" * 36, True, True, True), ("Z" * 37, False, False, False)),
        *(("ANNA,", False, False, False), ("ANNA:", True, True, True), ("", False, False, False)),
        *(("STOP", False, False, False), ("STOP HERE", False, False, False), ("MR", False, False, False)),
        *(("MR GREY", True, True, True), ("DR. GREY", True, True, True), ("IV", False, False, False)),
        *(("I ANNA", False, False, False), ("FIRST", False, False, False), ("FIRST CLERK", True, True, True)),
        *(("FIRST OLD CLERK", True, True, True), ("FIRST VERY OLD CLERK", False, False, False)),
        *(("THE BOY", True, True, True), ("THE", False, False, False), ("TWO", False, False, False)),
        *(("FIFTH CLERK", False, False, False), ("CIVIL", False, False, False), ("MIX", True, True, True)),
    ],
)
def test_a_name_has_few_words_none_of_which_begins_a_sentence(
    name: str, capitals: bool, small: bool, page: bool
) -> None:
    assert (is_name(name), is_name(name, False), is_name(name, True, True)) == (capitals, small, page)


def test_a_line_in_capitals_that_comes_back_after_two_rows_is_a_refrain() -> None:
    line = "The lamp was lit\n"
    assert speakers(f"{line * 2}BRING IT\n{line * 2}BRING IT\n{line}") == " ".join(["-"] * 7)
    assert speakers(f"{line}BRING IT\n{line * 2}BRING IT\n{line}") == "BRING_IT BRING_IT BRING_IT"


def test_names_one_under_the_other_above_the_first_speech_are_a_list_of_characters() -> None:
    talk = dialogue("{}\n{}\n\n", "ANNA BEN ANNA BEN")
    listed = ["ANNA (a keeper)", "BEN (his brother)"]
    for count, reason in ((2, "before the first speech"), (1, "stage direction")):
        text = "\n".join(listed[:count]) + "\n\n" + talk
        assert speakers(text) == "ANNA BEN ANNA BEN"
        assert {why for _, why in not_said(text)} == {reason, "speaker name"}


@pytest.mark.parametrize(
    ("name", "parts", "lines"),
    [
        *(("ALL", "ANNA BEN", 3), ("ANNA and BEN", "ANNA BEN", 3), ("ANNA & CLEO", "ANNA BEN", 3)),
        *(("ANNA/BEN", "ANNA BEN", 3), ("ANNA, BEN", "ANNA BEN", 3), ("BEN & ALL", "ANNA BEN", 2)),
        *(("CLEO and DORA", "ANNA BEN CLEO_and_DORA", 2), ("CLEO & DORA", "ANNA BEN CLEO_&_DORA", 2)),
        ("ANNA and CLEO", "ANNA BEN ANNA_and_CLEO", 2),
    ],
)
def test_a_joint_name_is_no_part_and_its_lines_belong_to_each_of_its_parts(
    name: str, parts: str, lines: int
) -> None:
    """With "and" or a comma all have to be known, because a name may have such a word in it."""
    text = dialogue("{}: {}\n\n", "ANNA BEN ANNA BEN") + f"{name}: So be it.\n"
    assert " ".join(part.replace(" ", "_") for part in parse_script(text).parts) == parts
    assert len(parse_script(text, part="anna").lines) == lines


def test_a_name_that_is_known_is_found_in_another_layout_too() -> None:
    talk = dialogue("{}\n{}\n\n", "ANNA BEN ANNA")
    assert (
        speakers(f"{talk}BEN: So be it.\n\nANNA. So be it.\n\nBEN   So be it.\n")
        == "ANNA BEN ANNA BEN ANNA BEN"
    )
    assert speakers(f"{talk}CLEO   So be it.\n") == "ANNA BEN ANNA CLEO"
    assert speakers(f"{talk}CLEO: So be it.\n") == "ANNA BEN ANNA ANNA"
    assert speakers(f"{talk}CLEO\nSo be it.\n") == "ANNA BEN ANNA CLEO"


def test_on_a_page_in_capitals_a_name_comes_back_and_has_three_words_at_most() -> None:
    talk = dialogue("{}: {}\n\n", "ANNA BEN ANNA BEN").upper()
    assert speakers(talk) == "ANNA BEN ANNA BEN"
    assert speakers(dialogue("{}: {}\n\n", "ANNA BEN CLEO DORA").upper()) == "- - - -"
    assert speakers(talk.replace("BEN", "THE OLD BEN")) == "ANNA THE_OLD_BEN ANNA THE_OLD_BEN"
    assert speakers(talk.replace("BEN", "A B C BEN")) == "ANNA ANNA ANNA ANNA"
