"""What is printed beside a speech, at the bounds of each rule: mail, headings, lists, page numbers."""

from __future__ import annotations

import pytest

from tests.read_pages import lines_said, not_said

LINES = [
    "The lamp was lit before the tide came in,",
    "And nobody was told but you and me,",
    "The kettle sang before the house was up",
    "And carried off its bark to find the sea.",
]
STANZA = "\n".join(LINES) + "\n"
PLAY = "ANNA: Who goes there?\n\nBEN: Nobody.\n\nANNA: Then stay, all of you.\n"
MAIL = "From: a\nSubject: b\n\n"


def reasons(text: str) -> list[str]:
    """Why something is left out, in order, without the names of speakers."""
    return [reason for _, reason in not_said(text) if reason != "speaker name"]


def out(text: str, reason: str) -> list[str]:
    """What is left out for this reason."""
    return [left for left, why in not_said(text) if why == reason]


# E-mails --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "found"),
    [
        *(("From: a\nSubject: b", 2), ("Sent: a\nTo: b", 2), ("> From: a\n> Subject: b", 2)),
        *(("From: a\n\nSubject: b", 2), ("To: a\nsubject: b\nCc: c", 3)),
        *(
            ("Subject: b", 0),
            ("To: a\nCc: b", 0),
            ("To: a\nDate: b", 0),
            ("The lamp\nFrom: a\nSubject: b", 0),
        ),
    ],
)
def test_an_email_begins_with_two_such_rows_or_more_of_which_one_says_from_whom_or_about_what(
    head: str, found: int
) -> None:
    assert len(out(f"{head}\n\n{STANZA}", "e-mail heading")) == found


@pytest.mark.parametrize(
    ("row", "greeting"),
    [
        *(("Hi Ben,", True), ("Hello,", True), ("Hey there you,", True), ("Dear Ben:", False)),
        *((f"Dear {'b' * 29},", True), (f"Dear {'b' * 30},", False), ("Hint,", False), ("hi Ben,", False)),
    ],
)
def test_the_greeting_of_an_email_has_up_to_thirty_characters_and_a_comma(row: str, greeting: bool) -> None:
    assert out(f"{MAIL}{row}\n\n{STANZA}", "greeting") == [row.strip(",")] * greeting
    assert out(f"{row}\n\n{STANZA}", "greeting") == []


@pytest.mark.parametrize(
    ("below", "found"),
    [
        *(("-- \nRosa\n12 Mill Lane", ["Rosa", "12 Mill Lane"]), ("--\nRosa", ["Rosa"]), ("---\nRosa", [])),
        *(("Sent from my ab", ["Sent from my ab"]), ("Sent from my a", [])),
        *((f"Sent from my {'b' * 30}", [f"Sent from my {'b' * 30}"]), (f"Sent from my {'b' * 31}", [])),
        ("Sent from my lamp\nand so", []),
    ],
)
def test_the_signature_is_below_two_hyphens_or_says_from_what_the_mail_was_sent(
    below: str, found: list[str]
) -> None:
    assert out(f"{MAIL}{STANZA}\n{below}\n", "e-mail signature") == found


def test_two_hyphens_begin_a_signature_only_in_an_email() -> None:
    assert reasons(f"{STANZA}\n--\nRosa Vane was here\n") == []
    assert reasons(f"{STANZA}\nSent from my lamp\n") == ["e-mail signature"]


@pytest.mark.parametrize(
    ("row", "left_out"),
    [
        *(("On Mon, Rosa wrote:", True), ("On Mo Ro wrote:", True), ("On M wrote:", False)),
        *((f"On {'x' * 88} wrote:", True), (f"On {'x' * 89} wrote:", False), ("Once a man wrote:", False)),
        *(
            ("---- Forwarded message ----", True),
            ("- Original Message -", True),
            ("- forwarded message", True),
        ),
        *(("Forwarded message", False), ("---- Forwarded note", False), ("> On Mon, Rosa wrote:", True)),
    ],
)
def test_a_row_over_a_quoted_email_says_who_wrote_when_or_that_it_is_forwarded(
    row: str, left_out: bool
) -> None:
    text = f"{STANZA}\n{row}\n> and so\n"
    assert len(out(text, "e-mail heading")) == left_out
    answered = left_out and row.startswith("On")
    assert lines_said(text)[-1] == (LINES[3] if answered else "and so")


@pytest.mark.parametrize(("size", "note"), [(163, True), (164, False)])
def test_the_note_over_a_quoted_speech_is_shorter_than_the_speech(size: int, note: bool) -> None:
    """With the quotation marks the quoted rows have 164 characters."""
    quoted = "".join(f"> {line}\n" for line in LINES)
    assert sum(map(len, quoted.splitlines())) == 164
    words = ("y" * 13 + " ") * 20
    text = f"{MAIL}{words[: size - 1]}.\n\n{quoted}"
    assert (len(out(text, "covering note")) == 1) is note
    assert lines_said(text)[-4:] == LINES
    assert out(f"{MAIL}See below.\nOn Mon, Rosa wrote:\n{quoted}", "covering note") == []


@pytest.mark.parametrize(("size", "quoted"), [(24, []), (25, ["quoted e-mail"])])
def test_a_quoted_email_is_left_out_if_the_answer_above_it_is_longer(size: int, quoted: list[str]) -> None:
    text = f"{'a' * size}\n\nOn Mon, Rosa wrote:\n> {'b' * 22}\n"
    assert reasons(text) == ["e-mail heading", *quoted]


# Headings -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "rule", "sure"),
    [
        *(("The Lamp", "=" * 3, False), ("The Lamp", "=" * 4, True), ("The Lamp", "=" * 16, True)),
        *(("The Lamp", "=" * 17, False), ("The Lamp", "----", True), ("The Lamp", "~~~~", True)),
        *(("The Lamp", "****", False), ("Lamp", "==", False), ("Lamp", "===", True)),
    ],
)
def test_a_rule_under_a_heading_has_half_its_length_to_twice_its_length(
    heading: str, rule: str, sure: bool
) -> None:
    text = f"{heading}\n{rule}\n{STANZA}"
    assert not_said(text) == [(heading, "heading" if sure else "heading?")]
    assert lines_said(text) == LINES


def test_an_underlined_heading_has_at_most_seventy_characters_and_a_blank_line_above_it() -> None:
    for size, found in ((70, ["heading"]), (71, [])):
        assert reasons(f"{'x' * size}\n{'=' * 40}\n{STANZA}") == found
    assert reasons(f"{STANZA}\nThe Lamp\n=====\n{STANZA}") == ["heading"]
    assert reasons(f"{STANZA}The Lamp\n=====\n{STANZA}") == []
    assert reasons(f"{STANZA}\n=====\n{STANZA}") == []


def test_a_row_with_number_signs_between_blank_lines_is_a_heading() -> None:
    assert not_said(f"{STANZA}\n## Two of them\n\n{STANZA}") == [("## Two of them", "heading")]
    assert not_said(f"{STANZA}\n####### it was\n\n{STANZA}") == []
    assert not_said(f"{STANZA}\n## two of them\n{STANZA}") == []
    assert not_said(f"{STANZA}## two of them\n\n{STANZA}") == []
    assert not_said(f"{STANZA}\n## _\n\n{STANZA}") == []


@pytest.mark.parametrize(
    ("row", "alone", "play"),
    [
        *(("ACT ONE", True, True), ("ACT 1", True, True), ("Act One", False, True), ("ACT", False, False)),
        *(("ACT 1, SCENE 2", True, True), ("Act 1, scene 2", False, True), ("Scene 2", False, True)),
        *(("SCENE 2. A wood", False, True), ("SCENE 2. a wood", False, False), ("Prologue", False, True)),
        *(("Act one of kindness", False, False), ("Prologue to it", False, False)),
        *((f"ACT ONE {'A' * 62}", True, True), (f"ACT ONE {'A' * 63}", False, False)),
    ],
)
def test_an_act_between_two_speeches_is_a_heading_in_capitals_and_in_a_play_in_any_letters(
    row: str, alone: bool, play: bool
) -> None:
    """It has at most 70 characters, and what follows its number begins with a capital."""
    assert out(f"{STANZA}\n{row}\n\n{STANZA}", "heading") == [row] * alone
    assert out(f"{PLAY}\n{row}\n\n{PLAY}", "heading") == [row] * play


# Lists of characters --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("above", "listed", "found"),
    [
        *(("CHARACTERS\n", 2, 3), ("CHARACTERS\n", 1, 0), ("CHARACTERS\n", 3, 4)),
        *(("CHARACTERS\n\n\n", 2, 3), ("CHARACTERS\n\n\n\n", 2, 0), ("*Characters*\n", 2, 3)),
        *(("Cast:\n", 2, 3), ("Dramatis personae.\n", 2, 3), ("the characters in the play\n", 2, 3)),
        *(("Cast list\n", 2, 3), ("The cast of\n", 2, 0), ("Our characters\n", 2, 0)),
    ],
)
def test_a_list_of_characters_has_a_heading_with_two_blank_lines_at_most_and_two_names_at_least(
    above: str, listed: int, found: int
) -> None:
    names = "".join(f"{name}, a keeper\n" for name in ("Rosa", "Osk", "Mab")[:listed])
    text = f"{above}{names}\n{STANZA}"
    assert len(out(text, "list of characters")) == found
    assert lines_said(text)[-4:] == LINES


def test_the_rows_of_a_list_of_characters_have_at_most_a_hundred_characters_and_ask_nothing() -> None:
    for size, found in ((100, 3), (101, 0)):
        row = "Rosa, ".ljust(size, "x")
        assert len(out(f"CHARACTERS\n{row}\nOsk\n\n{STANZA}", "list of characters")) == found
    assert out(f"Cast:\nRosa?\nOsk?\n\n{STANZA}", "list of characters") == []
    assert out(f"{STANZA}\nCHARACTERS\nRosa\nOsk", "list of characters") == ["CHARACTERS", "Rosa", "Osk"]
    assert out(f"{STANZA}\nCHARACTERS\n\n\n", "list of characters") == []


# Page numbers ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        *((row, "page number") for row in ("p. 3", "p.3", "Page 3", "pg 3", "Page 3 of 9", "3 of 9")),
        *((row, "page number") for row in ("- 3 -", "-3-", "• 3 •", "[page 3]", "[p. 3]", "page 1234")),
        *((row, "page break note") for row in ("(MORE)", "MORE", "CONTINUED", "(CONTINUED)")),
        *((row, "page break note") for row in ("CONTINUED: (2)", "2 CONTINUED: 2")),
        *((row, "") for row in ("page 12345", "3/9", "7.", "(7)", "7", "12345", "        7")),
    ],
)
def test_a_row_in_the_middle_of_a_page_is_a_page_number_only_if_it_says_so(row: str, reason: str) -> None:
    assert reasons(f"{STANZA}\n{row}\n\n{STANZA}") == [reason] * bool(reason)


@pytest.mark.parametrize(
    ("text", "left_out"),
    [
        *(
            (f"{STANZA}\n        7\n", True),
            (f"{STANZA}\n       7\n", False),
            (f"{STANZA}        7\n", False),
        ),
        *((f"        7\n\n{STANZA}", True), (f"        7\n{STANZA}", False)),
        *(
            (f"{STANZA}\n7\n\f{STANZA}", True),
            (f"{STANZA}7\f{STANZA}", True),
            (f"{STANZA}7\n\n\f{STANZA}", True),
        ),
        *((f"{STANZA}\f7\n\n{STANZA}", True), (f"{STANZA}\f\n\n7\n\n{STANZA}", True)),
        *((f"{STANZA}\f{STANZA}7\n", True), (f"7\n\n{STANZA}\f{STANZA}", True)),
        *((f"{STANZA}7\n{LINES[0]}\n\f{STANZA}", False), (f"{STANZA}\f{LINES[0]}\n7\n{STANZA}", False)),
    ],
)
def test_a_number_at_the_edge_of_a_page_is_its_number(text: str, left_out: bool) -> None:
    """Beside a form feed; without any, only if it is set eight columns in, with a blank line beside it."""
    assert out(text, "page number") == ["7"] * left_out


@pytest.mark.parametrize(
    ("first", "second", "between", "reason"),
    [
        *((12, 13, 3, "page number"), (12, 13, 2, ""), (12, 14, 3, ""), (13, 12, 3, ""), (12, 12, 3, "")),
        *((1, 2, 3, "page number"), (0, 1, 3, "page number")),
    ],
)
def test_numbers_that_rise_by_one_with_three_rows_or_more_between_them_are_page_numbers(
    first: int, second: int, between: int, reason: str
) -> None:
    rows = "\n".join(LINES[:between])
    text = f"{STANZA}\n{first}\n\n{rows}\n\n{second}\n\n{STANZA}"
    assert reasons(text) == [reason] * (2 if reason else 0)


@pytest.mark.parametrize(
    ("above", "rows", "reason"), [(0, 19, "section"), (0, 20, "page"), (2, 19, "page"), (1, 19, "section")]
)
def test_numbers_from_one_near_the_top_count_sections_of_fewer_than_twenty_rows(
    above: int, rows: int, reason: str
) -> None:
    """Above the first there is one row at most, with the blank line below it."""
    top = "".join(f"{line}\n" for line in ["and so it was", "and so"][:above]) + "\n" * bool(above)
    body = f"{LINES[1]}\n" * rows
    found = [why for why in reasons(f"{top}1\n\n{body}\n2\n\n{STANZA}") if "number" in why]
    assert found == [f"{reason} number"] * 2


def test_a_number_with_a_row_right_above_and_right_below_it_counts_no_pages() -> None:
    assert reasons(f"{STANZA}12\n{STANZA}\n13\n\n{STANZA}") == []
    assert reasons(f"{STANZA}12\n\n{STANZA}13\n\n{STANZA}") == ["page number"] * 2
    assert reasons(f"{STANZA}\n12\n{STANZA}\n13\n{STANZA}") == ["page number"] * 2
