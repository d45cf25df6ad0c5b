"""Directions in brackets at their bounds: how many words, between which stops, in a play and elsewhere."""

from __future__ import annotations

import pytest

from offbook.script.finders.directions import looks_like_direction, says_manner
from tests.read_pages import lines_said, not_said

KEPT = "I kept the lamp for eleven winters"


def words(first: str, count: int) -> str:
    """So many words that begin with these."""
    return " ".join([*first.split(), *["word"] * count][:count])


@pytest.mark.parametrize(
    ("text", "play", "alone"),
    [
        # a first word that hardly ever begins an aside: always in a play, four words at most elsewhere
        *(
            (words("laughs", 4), True, True),
            (words("laughs", 5), True, False),
            (words("laughs", 31), True, False),
        ),
        # what he, she or they do: up to 40 words
        *((words("She crosses", 40), True, True), (words("She crosses", 41), False, False)),
        *(("She turns", True, True), ("She works", True, False), ("he crosses", True, False)),
        *(("She is", False, False), ("she", False, False), ("It crosses", False, False)),
        # what a speaker does, in a play: up to 30 words
        *((words("Ben crosses", 30), True, False), (words("Ben crosses", 31), False, False)),
        *(("ANNA crosses", True, False), ("ben crosses", True, False), ("Rosa crosses", False, False)),
        *(("AN crosses", True, False), ("A crosses", False, False)),
        # to whom: up to eight words
        *((words("to Ben", 8), True, False), (words("to Ben", 9), False, False), ("to you", False, False)),
        # how: a word in -ly of five letters or more, with up to four words; one in -ing with any number
        *((words("slowly", 4), True, False), (words("slowly", 5), False, False)),
        *(("silly", True, False), ("ugly", False, False), ("only", False, False)),
        *((words("crying", 10), True, False), ("swing", True, False), ("ring", False, False)),
        # a pause by itself
        *(("a pause", True, True), ("A long pause.", True, True), ("a long pause here", True, False)),
        ("", False, False),
    ],
)
def test_less_is_needed_to_take_words_for_a_direction_in_a_play_than_in_a_single_speech(
    text: str, play: bool, alone: bool
) -> None:
    names = ["ANNA", "Ben"]
    assert looks_like_direction(text, names, True) is play
    assert looks_like_direction(text, names, False) is alone


@pytest.mark.parametrize(
    ("text", "manner"),
    [
        *(("quietly", True), ("quietly, to Ben", True), ("sad", True), ("SAD", True), ("aside", True)),
        *((words("quietly", 4), True), (words("quietly", 5), False), (words("sad", 5), False)),
        *(("silly", True), ("ugly", False), ("only", False), ("sadly", False), ("crosses", False)),
        *(("in a whisper", True), ("in the whisper", False), ("with a sigh", True), ("with sighs", False)),
        *(("under her breath", True), ("through tears", True), ("through the door", False)),
        *(("half to himself", True), ("not quietly", False), ("", False), ("7", False)),
    ],
)
def test_a_manner_is_up_to_four_words_that_say_how_something_is_said(text: str, manner: bool) -> None:
    assert says_manner(text) is manner


def said_in_a_play(text: str) -> str:
    """A speech of a play as it is spoken, between two others."""
    play = f"ANNA: Stay.\n\nBEN: {text}\n\nANNA: Then stay, all of you.\n\nBEN: No.\n"
    return " / ".join(lines_said(play)[1:-2])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # in square brackets anything but an editor's letters in a word
        *(
            ("I kept [the lamp].", "I kept."),
            ("I kept it [ed]", "I kept it"),
            ("I kept {low} it", "I kept it"),
        ),
        *(("[H]e kept it", "[H]e kept it"), ("walk[ed] home", "walk[ed] home"), ("so[2]me", "so me")),
        # in angle brackets up to 62 characters of plain words without blanks at the ends
        *(("Kept <a pause> it", "Kept it"), ("Kept < a pause > it", "Kept < a pause > it")),
        *(("Kept <Turn!> it", "Kept <Turn!> it"), ("Kept <5> it", "Kept <5> it"), ("Kept <a> it", "Kept it")),
        *((f"Kept <{'a' * 62}> it", "Kept it"), (f"Kept <{'a' * 63}> it", f"Kept <{'a' * 63}> it")),
        # on a row of its own up to six words, or any number with a capital; never without a word
        *((f"It was\n({words('the', 6)})\nand so", "It was / and so"),),
        *((f"It was\n({words('the', 7)})\nand so", f"It was / ({words('the', 7)}) / and so"),),
        *(
            (f"It was\n({words('The', 9)})\nand so", "It was / and so"),
            ("It ( ) was",) * 2,
            ("It (**) was",) * 2,
        ),
        *((f"It was\n({words('the', 6)}).\nand so", "It was / and so"),),
        # within a line: after a stop with a capital, after a comma up to three small words, in prose alone
        *(("I kept it, (the old lamp)", "I kept it,"), ("I kept it, (the old lamp, now)",) * 2),
        *(("I kept it, (The lamp)",) * 2, ("I kept it (the lamp)",) * 2, ("I kept it (1)",) * 2),
        *(("I kept it. (The lamp.)", "I kept it."), ("I kept it… (The lamp)", "I kept it…")),
        *(("I kept it? (The lamp)", "I kept it?"), ("I kept it. (the old lamp of mine)",) * 2),
        *(("I kept it, (so it is)\nAnd went", "I kept it, (so it is) / And went"),),
        *(("I kept it, (so it is)\nand went", "I kept it, / and went"),),
        # never closed: to the end of the row, if it is square and reads like a direction
        *(
            ("I kept [Exit.\nand went", "I kept / and went"),
            ("I kept (exit\nand went", "I kept (exit / and went"),
        ),
        *(("I kept [so it was\nand went", "I kept [so it was / and went"), ("I [so [exit]", "I [so")),
    ],
)
def test_a_bracket_in_a_play_is_a_direction_by_its_kind_its_place_and_its_length(
    text: str, said: str
) -> None:
    assert said_in_a_play(text) == said


def test_a_direction_that_is_never_closed_is_looked_at_for_three_hundred_characters() -> None:
    """What somebody does has 40 words at most; of 47 words of nine letters only 34 are in the first 300."""
    assert said_in_a_play("I went [She crosses " + "lanterns " * 45 + "\nand came") == "I went / and came"
    short = "[She crosses " + "so " * 45
    assert said_in_a_play(f"I went {short}\nand came") == f"I went {short.strip()} / and came"


DONE = [
    ". (A clock stops) I went.",
    ". (Slowly she sits.) I went.",
    ", (she sits) I went.",
    "; (she sits) I went.",
    " — (he sits) I went.",
    ". (looks away) I went.",
    ": (looks away) I went.",
    f". ({words('looks', 12)}) I went.",
    ". (takes a ring.) I went.",
    " (To her) and went.",
    ". (the phone rings) I went.",
    ". (and she turns) I went.",
    ". (and there she turns) I went.",
    ". (crossing) I went.",
    ". (Crossing) I went.",
    ". (over there) I went.",
]
SAID = [
    ". (The clock strikes.) I went.",
    ". (A tall clock now stops.) I went.",
    ". (Clocks stop) I went.",
    ". (Slowly they sit.) I went.",
    ". (Slowly she went.) I went.",
    ", (she sat) I went.",
    ", (we sit) I went.",
    " (she sits) I went.",
    ". (looks away) and I went.",
    ". (looks at me) I went.",
    f". ({words('looks', 13)}) I went.",
    ". (takes like a thief.) I went.",
    ". (takes after him.) I went.",
    ". (and there so she turns) I went.",
    ". (and so on) I went.",
    ". (Crossing.) I went.",
]


@pytest.mark.parametrize("more", DONE)
def test_a_bracket_after_a_stop_of_a_single_speech_that_says_what_is_done_is_a_direction(more: str) -> None:
    before, _, after = more.partition(" (")
    assert lines_said(f"{KEPT}{more}\n") == [f"{KEPT}{before} {after.partition(') ')[2]}"]


@pytest.mark.parametrize("more", SAID)
def test_a_bracket_in_a_single_speech_that_could_be_an_aside_is_spoken(more: str) -> None:
    assert lines_said(f"{KEPT}{more}\n") == [f"{KEPT}{more}"]


@pytest.mark.parametrize(
    ("note", "left_out"),
    [
        *(("(To the audience.)", True), ("(To themselves)", True), ("(To us.)", True), ("(To you.)", False)),
        *(("(A room at night.)", True), ("(A room at.)", False), ("(A room of mine here.)", False)),
        *(
            ("(A room at night?)", False),
            ("(ROSA sits)", True),
            ("(the hall)", False),
        ),
    ],
)
def test_a_note_over_a_single_speech_sets_the_scene_if_it_has_four_words_or_a_name(
    note: str, left_out: bool
) -> None:
    text = f"{note}\n{KEPT}.\n"
    assert not_said(text) == [(note, "stage direction")] * left_out
    assert lines_said(text) == [note] * (not left_out) + [f"{KEPT}."]


def test_a_note_on_the_scene_is_spoken_inside_or_beside_the_speech_and_if_nothing_follows() -> None:
    note = "(A room at night.)"
    for text in (f"{KEPT}.\n{note}\nAnd so on.\n", f"{note} {KEPT}.\n", f"{note}\n", f"{KEPT}.\n\n{note}\n"):
        assert not_said(text) == []
