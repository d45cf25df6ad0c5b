"""Directions without brackets: which rows say what is done, and when a row of that kind is left out."""

from __future__ import annotations

import pytest

from offbook.script.finders.bare_directions import (
    _is_bracketed_direction,
    _is_procession,
    _names_only,
    direction_certainty,
)
from tests.read_pages import lines_said, not_said

LINES = (
    "The lamp was lit before the tide came in",
    "And nobody was told but you and me",
    "The kettle sang before the house was up",
    "And carried off its bark to find the sea",
)


def words(first: str, count: int, last: str = "") -> str:
    """So many words that begin with these, and perhaps one more."""
    return " ".join([*first.split(), *["so"] * count][:count]) + last


@pytest.mark.parametrize(
    ("row", "certainty"),
    [
        # pauses, lights and sounds
        *(
            ("Silence", 1),
            ("Pause", 2),
            ("A very long pause", 2),
            ("Beats", 2),
            ("Blackout", 2),
            ("Music", 1),
        ),
        *(("Alarum", 2), ("Thunder", 1), ("Thunder and lightning", 2), ("Music plays", 2), ("A voice", 0)),
        *(("The door slams", 2), ("A voice within", 2)),
        # one word of action, and to whom
        *(("Reads", 2), ("reads", 0), ("Weeps", 2), ("Weeping", 1), ("Dies", 1), ("Aside", 2)),
        *(("To ROSE", 2), ("To Rose", 0), ("Looking on KENT", 2), ("Looking on Kent", 0)),
        *((words("Looking", 8, " KENT"), 2), (words("Looking", 9, " KENT"), 0)),
        # entrances and exits
        *(("Enter", 0), ("Exit", 2), ("Exeunt", 2), ("Manet", 2), ("Re-enter", 0), ("Enter I", 0)),
        *(("Exit, pursued", 0), ("Enter Rose", 2), ("enter Rose", 0), ("Enter two soldiers", 1)),
        *(("Exit two soldiers", 2), ("Enter two soldiers with torches", 1)),
        *(("Enter two old soldiers with torches", 0), ("Enter Two old soldiers of the town", 2)),
        *((words("Enter Anna bearing", 10), 2), (words("Enter Anna bearing", 11), 0)),
        *(("Enter " + "Anna " * 13, 2), ("Enter " + "Anna " * 14, 0)),
        *(("ROSE enters", 2), ("ROSE enters again", 2), ("ROSE enters slowly", 1), ("She leaves", 2)),
        *(("Nobody leaves", 0), (words("ROSE enters", 9), 1), (words("ROSE enters", 10), 0)),
        *(("Enter ROSE and BEN", 2), ("ROSE and BEN enter", 2), ("ROSE and BEN", 0)),
        ("Enter ROSE and I and BEN", 0),
        # what somebody does, and with what
        *(("Gives the ring", 1), ("Gives rings", 0), ("Gives the ring to me", 0), ("Gives the ring, so", 0)),
        *((words("Gives the", 9), 1), (words("Gives the", 10), 0), ("Seats her by him", 1)),
        *(("She sits", 1), ("She seats", 1), ("ROSE sits", 1), ("ROSE seats", 0), ("They sit", 1)),
        *(("They seats", 0), ("She knows", 0), ("She sits by me", 0), ("He", 0), ("The boy turns", 0)),
        *((words("She sits", 9), 1), (words("She sits", 10), 0)),
        # up to three sentences, of which each has to be a direction
        *(("She sits. He stands. They wait.", 1), ("She sits. He stands. They wait. He goes.", 0)),
        *(("Enter ROSE. She sits.", 1), ("Enter ROSE. So it was.", 0)),
        # the sign at the end
        *(("Exit!", 0), ("Exit,", 0), ("Exit:", 0), ("Exit;", 0), ("Exit?", 0), ("Exit…", 2), ("Exit.", 2)),
        *(("*Exit*", 2), ("_Exit_", 2), ("...", 0), ("", 0)),
    ],
)
def test_a_row_is_surely_or_perhaps_a_direction_or_none(row: str, certainty: int) -> None:
    assert direction_certainty(row) == certainty


def test_a_known_name_acts_also_in_small_letters() -> None:
    for row, known in (("Rose enters", 2), ("Rose sits", 1), ("Rose knows", 0), ("rose sits", 0)):
        assert (direction_certainty(row), direction_certainty(row, ["OLD ROSE"])) == (0, known)


def test_two_people_in_capitals_who_enter_or_leave_are_a_procession() -> None:
    for row in ("Enter ROSE and BEN", "ROSE, BEN enter", "Exeunt OLD ROSE, BEN", "ROSE exit BEN"):
        assert _is_procession(row)
    for row in ("Enter ROSE", "ROSE and BEN", "Enter ROSE to me and BEN", "ENTER ROSE", "Enter OLD ROSE"):
        assert not _is_procession(row)


@pytest.mark.parametrize(
    ("row", "direction"),
    [
        *(
            ("(She sits.)", True),
            ("(She sits)", True),
            ("[She sits]", False),
            ("()", False),
            ("(a) (b)", False),
        ),
        *(("(She is going)", True), ("(She is going out of the house)", True), ("(I am going)", False)),
        *(("(She is going out of the big house)", False), ("(A street)", True), ("(a street)", False)),
        *(("(A street.)", False), ("(My street)", False), ("(Enter Rose).", True), ("(crossing)", True)),
        *(("(The old street by the sea)", True), ("(The old street by the sea here)", False)),
        ("(crossing to me)", False),
    ],
)
def test_a_row_in_round_brackets_is_a_direction_by_its_words(row: str, direction: bool) -> None:
    assert _is_bracketed_direction(row, ["BEN"]) is direction


def test_a_list_of_names_goes_on_with_capitals_and_with_what_comes_along() -> None:
    assert all(map(_names_only, ("ROSE", "ROSE and BEN", "a Captain", "and", "bearing torches")))
    assert not any(map(_names_only, ("", "I and ROSE", "Rosa, weeping", "the lamp")))


# On a page


def page(rows: str, *, end: str = ".", above: str = "", below: str = "") -> str:
    """Rows between two pairs of lines. end: of the line above them. above, below: right above and below."""
    return f"{LINES[0]},\n{LINES[1]}{end}\n{above}{rows}\n{below}{LINES[2]}\n{LINES[3]}.\n"


def directions(text: str) -> list[str]:
    """The directions on a page, "?" behind one that could be spoken."""
    return [f"{out}{why[15:]}" for out, why in not_said(text) if why.startswith("stage direction")]


@pytest.mark.parametrize("end", [".", "?", "!", "…", ":", ";", ",", "—", "–", "-", "”", ")", "'", "]"])
def test_a_row_after_a_stop_or_a_dash_is_separate(end: str) -> None:
    assert directions(page("She sits.", end=end)) == ["She sits.?"]


def test_into_a_direction_no_sentence_runs_and_none_out_of_it() -> None:
    assert directions(page("She sits.", end=" so")) == []
    assert directions(page("Exit", end=" so")) == ["Exit"]
    assert directions(page("She sits.", end=" so", above="\n")) == ["She sits.?"]
    assert directions(page("She sits.", below="and so\n")) == []
    assert directions(page("Exit", below="and so\n")) == []
    assert directions(f"{LINES[0]},\n{LINES[1]}.\nShe sits.") == ["She sits.?"]


def test_the_first_row_is_a_direction_only_if_it_is_sure() -> None:
    rest = f"{LINES[0]},\n{LINES[1]}.\n{LINES[2]},\n{LINES[3]}.\n"
    assert directions(f"She sits.\n{rest}") == [] and lines_said(f"She sits.\n{rest}")[0] == "She sits."
    assert directions(f"She sits. Exit ROSE.\n{rest}") == []
    assert directions(f"Exit ROSE\n{rest}") == ["Exit ROSE?"]


@pytest.mark.parametrize(("rows", "count", "found"), [(12, 2, 2), (12, 3, 0), (16, 3, 3), (16, 4, 0)])
def test_if_more_than_two_and_a_fifth_of_the_rows_could_be_directions_they_tell_a_story(
    rows: int, count: int, found: int
) -> None:
    pairs = (f"{LINES[k % 4]}.\n{'She sits' if k < count else LINES[2]}.\n" for k in range(rows // 2))
    assert directions("".join(pairs)) == ["She sits.?"] * found


@pytest.mark.parametrize(("size", "found"), [(33, True), (34, True), (35, False)])
def test_a_row_that_could_be_spoken_is_left_out_if_it_is_shorter_than_most(size: int, found: bool) -> None:
    """At most 0.85 of the middle length, here of 40 characters."""
    row = "She sits beside the old wal".ljust(size - 1, "l") + "."
    text = "".join(f"{'So it was '.ljust(39, 'x')}.\n" if k != 2 else f"{row}\n" for k in range(6))
    assert directions(text) == [f"{row}?"] * found


@pytest.mark.parametrize(
    ("row", "found"),
    [
        *(("ROSA gives it to BEN", True), ("looks at the ring", True), ("crossing to the door", True)),
        *(("quietly", True), ("looks at me", False), ("looks at it?", False), ("ROSA AND BEN GO", False)),
        *(("ROSA gives it to me", False), ("ROSA gives it up", True), ("“crossing” to the door", False)),
    ],
)
def test_a_paragraph_of_one_row_between_others_is_a_direction_if_it_would_be_one_in_a_play(
    row: str, found: bool
) -> None:
    assert directions(page(row, above="\n", below="\n")) == [f"{row}?"] * found


def test_a_paragraph_of_its_own_has_a_row_above_and_two_rows_below_it() -> None:
    row = "looks at the ring"
    above, below = f"{LINES[0]},\n{LINES[1]}.\n", f"{LINES[2]},\n{LINES[3]}.\n"
    assert directions(f"{above}\n{row}\n\n{below}") == [f"{row}?"]
    for text in (
        f"{above}\n\n{row}\n\n{below}",
        f"{above}{row}\n\n{below}",
        f"{above}\n{row}\n\n{LINES[2]}.\n",
        f"{above}\n{row}\n\n\n{below}",
        f"{above}\n{row}\n{below}",
        f"{above}\n{row}\n",
    ):
        assert directions(text) == []


def test_the_names_of_an_entrance_continue_on_the_rows_below() -> None:
    several = page("Enter ROSA and\nBEN with\nTorches")
    assert directions(several) == ["Enter ROSA and", "BEN with", "Torches"]
    assert directions(page("Enter ROSA and\nI was there")) == ["Enter ROSA and"]
    assert directions(page("Enter ROSA\nBEN")) == ["Enter ROSA"]


@pytest.mark.parametrize(
    ("row", "found"),
    [
        *(("Gone. Beat. I went.", ["Beat.?"]), ("Gone. A beat. i went", []), ("Gone. Pause.", ["Pause.?"])),
        *(("Gone! Long pause. I went.", ["Long pause.?"]), ("Gone, Beat. I went.", [])),
        *(("It was  Exit", ["Exit"]), ("It was Exit", []), ("It was\tCurtain", ["Curtain"])),
        *(("It was  Exeunt all", []), ("It was  Exit Rosa Vane", ["Exit Rosa Vane"])),
        *((f"It was  Exit {'R' * 31}", [f"Exit {'R' * 31}"]), (f"It was  Exit {'R' * 32}", [])),
        *(("(A street)", ["(A street)?"]), ("(crossing)", ["(crossing)"])),
    ],
)
def test_a_beat_between_sentences_and_an_exit_after_a_gap_are_directions(row: str, found: list[str]) -> None:
    assert directions(page(row)) == found


def test_a_word_with_a_capital_in_the_heading_may_be_the_name_of_who_acts() -> None:
    assert directions(page("Lamp sits.")) == []
    assert directions(f"From Rosa's Lamp\n\n{page('Lamp sits.')}") == ["Lamp sits.?"]


# In a play


PLAY = "ANNA: Who goes there?\n\n{}BEN: Nobody.\n\nANNA: Then stay, all of you.\n"


@pytest.mark.parametrize(
    ("row", "found"),
    [
        *(("Enter Ben.", True), ("enter Ben.", False), ("Entering Ben.", False), ("They fight.", True)),
        *(("They fought.", False), ("Lights up.", True), ("Lights on.", False), ("End of scene.", True)),
        *(
            ("12A INT. A HOUSE", True),
            ("12A A HOUSE", False),
            ("INT. A HOUSE", True),
            ("Anna sits down.", True),
        ),
        *(("Anna sat down.", False), ("Cleo sits down.", False), ("anna sits down.", False)),
        *(("He sits down.", True), ("She has gone.", False), ("ANNA STOPS.", False), ("- Curtain", True)),
    ],
)
def test_between_two_speeches_of_a_play_a_row_is_an_entrance_or_what_one_of_them_does(
    row: str, found: bool
) -> None:
    assert directions(PLAY.format(f"{row}\n\n")) == [row] * found


def test_what_comes_before_the_first_speech_of_a_play_is_not_spoken() -> None:
    text = f"It was late.\n\n{PLAY.format('It was later.')}"
    assert not_said(text)[0] == ("It was late.", "before the first speech")
    text = f"It was late.\n{PLAY.format('')}"
    assert not_said(text)[0] == ("It was late.", "before the first speech")


def test_a_number_alone_after_a_speech_is_a_page_number_and_under_a_name_it_is_spoken() -> None:
    assert ("7", "page number") in not_said(PLAY.format("7\n\n"))
    assert ("12345", "page number") not in not_said(PLAY.format("12345\n\n"))
    assert lines_said("ANNA\nHow many?\n\nBEN\n\n42\n\nANNA\nThat many?\n") == [
        "How many?",
        "42",
        "That many?",
    ]


@pytest.mark.parametrize(
    ("names", "talk", "action", "found"),
    [
        *((8, 4, 3, True), (8, 4, 4, False), (8, 3, 0, False), (4, 4, 0, True), (4, 5, 0, False)),
        (8, 4, 0, True),
    ],
)
def test_what_is_indented_less_than_the_speeches_under_the_names_is_action(
    names: int, talk: int, action: int, found: bool
) -> None:
    """The speeches are four columns in at least, and the names no less."""
    said = "".join(
        f"{' ' * names}{name}\n{' ' * talk}So it was, and more.\n\n"
        for name in ("ANNA", "BEN", "ANNA", "BEN")
    )
    more = f"{' ' * action}The rain was over.\n\n"
    assert directions(said + more + said) == ["The rain was over."] * found


def test_one_name_with_a_speech_below_it_shows_no_indent() -> None:
    first = "        ANNA\n    So it was, and more.\n\n"
    rest = "ANNA: So.\n\nThe rain was over.\n\nBEN: So.\n\nANNA: No.\n"
    assert directions(first + rest) == []
