"""A speech copied with what is around it: exactly its words are taken, the rest is shown as left out.

The headings are those of printed editions, anthologies and web pages of plays (common practice, no source).
The verse is Shakespeare's, Twelfth Night 2.2, and Blake's "The Tyger", as the Globe edition of 1866 and the
Songs of Experience of 1794 print them (from memory); the prose is ours.
"""

from __future__ import annotations

import re

import pytest

from offbook import script
from offbook.script import Script
from offbook.script.choices import Choices, add_choice
from tests.viola import first_lines

VERSE = first_lines(7)
PROSE = """I never asked for the lantern. It was my father's, and nobody in the village would have lit it.
But that night, with the wind off the marsh, I set it down on the step and I walked away from it.
"""
POEM = """Tyger Tyger, burning bright,
In the forests of the night;
What immortal hand or eye,
Could frame thy fearful symmetry?
"""


def said(s: Script) -> str:
    return "\n".join(line.text for line in s.lines) + "\n"


def folded(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.lower())


def all_but(text: str, s: Script) -> bool:
    """Whether every word of a text is either said or shown as left out."""
    shown = folded(" ".join([said(s), *(out.text for out in s.left_out)]))
    return sorted(shown) == sorted(folded(text))


HEADINGS = [
    "Twelfth Night\nAct 2, Scene 2\n\nVIOLA\n",
    "TWELFTH NIGHT, Act II, Scene 2\nVIOLA\n",
    "Twelfth Night\n\nVIOLA\n",
    "Viola:\n",
    "Viola\n",
    "VIOLA.\n",
    "VIOLA. ",
    "VIOLA: ",
    "VIOLA\t",
    "VIOLA — ",
    "Viola - Twelfth Night 2.2\n\n",
    "Viola (Twelfth Night)\n\n",
    "Twelfth Night (Viola)\n\n",
    "Viola, Twelfth Night, Act 2 Scene 2\n",
    "Twelfth Night, II.ii.17-41\nViola\n",
    "from Twelfth Night, 2.2\n\nViola\n",
    "From Twelfth Night by William Shakespeare\n\nVIOLA\n",
    "Viola's monologue from Twelfth Night\n\n",
    "Viola's Soliloquy\nTwelfth Night, Act Two, Scene Two\n\n",
    "“Twelfth Night” – William Shakespeare – Viola\n\n",
    "William Shakespeare\nTwelfth Night\n\nViola: ",
    "ACT II. SCENE II. A street.\nEnter VIOLA, MALVOLIO following\nVIOLA. ",
    "SCENE II. A street.\n\n[Enter Viola.]\n\nVio. ",
    "Twelfth Night\nAct Two\nScene Two\nIllyria. A street near the house of Olivia.\n\nViola\n",
    "II, ii\n\nVIOLA\n",
    "Play: Twelfth Night\nPlaywright: William Shakespeare\nCharacter: Viola\n\n",
    "[Twelfth Night, Act II]\n\nVIOLA (alone)\n",
    "Enter VIOLA.\n\nVIOLA\n\n",
    "DUKE'S PAGE VIOLA (reading)\n",
]


@pytest.mark.parametrize("body", [VERSE, PROSE], ids=["verse", "prose"])
@pytest.mark.parametrize("above", HEADINGS, ids=lambda text: text.strip())
def test_a_heading_over_a_speech_is_left_out_and_listed_and_no_spoken_word_is_lost(
    above: str, body: str
) -> None:
    s = script.parse_script(above + body)
    assert said(s) == body
    assert all_but(above + body, s)


def test_a_name_with_a_colon_before_a_single_sentence_is_left_out_too() -> None:
    s = script.parse_script("MARA: He was not ill: never.\n")
    assert (said(s), [out.text.strip() for out in s.left_out]) == ("He was not ill: never.\n", ["MARA"])
    assert said(script.parse_script("FIRE. He was not ill.\n")) == "FIRE. He was not ill.\n"


DIRECTIONS = [
    ("Exit\n", 4),
    ("Exeunt\n", 4),
    ("Exit MALVOLIO\n", 4),
    ("Enter VIOLA.\n", 4),
    ("Enter a Messenger\n", 4),
    ("Re-enter Attendant, with a glass\n", 4),
    ("Enter KING CLAUDIUS, QUEEN GERTRUDE, POLONIUS, and\nAttendants\n", 4),
    ("\t(He paces)\n", 4),
    ("(Taking up the ring)\n", 4),
    ("She sits.\n", 4),
    ("Picks up the ring.\n", 4),
    ("To MALVOLIO\n", 4),
    ("Looking at OLIVIA\n", 4),
    ("Aside\n", 4),
    ("Knocking within.\n", 4),
    ("Music plays.\n", 4),
    ("Beat.\n", 4),
    ("A long pause.\n", 4),
    ("\nExit\n\n", 7),
    ("    [Exit.]\n", 7),
    ("\nBlackout.\n", 7),
    ("\nHe exits.\n", 7),
    ("\nExeunt all but VIOLA\n", 7),
    ("\n— William Shakespeare\n", 7),
    ("\n(Twelfth Night, Act 2, Scene 2)\n", 7),
    ("\nFrom Twelfth Night by William Shakespeare\n", 7),
    ("\nSource: www.example.org/viola\n", 7),
]


@pytest.mark.parametrize("headed", ["", "VIOLA\n"], ids=["bare", "under the name"])
@pytest.mark.parametrize(("direction", "after"), DIRECTIONS, ids=lambda value: str(value).strip())
def test_a_direction_without_brackets_on_its_own_row_is_left_out(
    direction: str, after: int, headed: str
) -> None:
    rows = VERSE.splitlines(keepends=True)
    text = headed + "".join([*rows[:after], direction, *rows[after:]])
    s = script.parse_script(text)
    assert said(s) == VERSE
    assert all_but(text, s)


def test_an_exit_at_the_end_of_the_last_line_is_left_out() -> None:
    assert said(script.parse_script(VERSE.rstrip("\n") + "  Exit.\n")) == VERSE


def test_a_beat_or_a_pause_between_the_paragraphs_of_a_prose_speech_is_left_out() -> None:
    first, second = PROSE.splitlines()
    for word in ("Beat.", "Pause.", "Silence.", "(Beat)", "She crosses to the window."):
        s = script.parse_script(f"MARGERY\n{first}\n{word}\n{second}\n")
        assert said(s) == PROSE
    assert said(script.parse_script(f"{first} Beat. {second}\n")).split() == PROSE.split()


@pytest.mark.parametrize(
    "line",
    [
        "Enter not into judgment with thy servant, Lord,",
        "Enter the sea, I said, and ask it why.",
        "Exit, pursued by all that I have done,",
        "Silence! I will be heard before I go.",
        "He clasps the crag with crooked hands;",
        "She walks in beauty, like the night",
        "Caesar sits down in Alexandria; where",
        "Shall leave his native channel and o'erswell",
        "The tide goes out as though it had been called.",
        "By flight I'll shun the danger which I fear.",
        "And leave us to our free election.",
        "They sit beside the fire, and so do we,",
        "To Milan then, and there I think on thee.",
    ],
)
@pytest.mark.parametrize("headed", ["", "VIOLA\n"], ids=["bare", "under the name"])
def test_a_line_that_begins_like_a_direction_is_spoken(line: str, headed: str) -> None:
    rows = VERSE.splitlines()
    text = "\n".join([*rows[:3], line, *rows[3:]]) + "\n"
    assert said(script.parse_script(headed + text)) == text


@pytest.mark.parametrize(
    "above",
    [
        "The Tyger\n\n",
        "The Tyger\n",
        "The Tyger\nby William Blake\n\n",
        "The Tyger\nWilliam Blake\n\n",
        "The Tyger\nWilliam Blake\n",
        "The Tyger\n\nWilliam Blake\n\n",
        "William Blake\nThe Tyger\n\n",
        "William Blake: The Tyger\n\n",
        "William Blake, “The Tyger”\n\n",
        "The Tyger - William Blake\n\n",
        "The Tyger (1794)\nWilliam Blake\n\n",
        "THE TYGER\n\nBY WILLIAM BLAKE\n\n",
        "The Tyger\nby William Blake (1757–1827)\n\n",
        "Tyger Tyger, burning bright\n\n",
        "W. Blake\nTyger Tyger, burning bright\n\n",
    ],
    ids=lambda text: text.strip(),
)
def test_a_poem_keeps_its_first_line_and_its_title_is_listed_as_left_out(above: str) -> None:
    s = script.parse_script(above + POEM)
    assert said(s) == POEM
    assert all_but(above + POEM, s)


@pytest.mark.parametrize(
    "poem",
    [
        "Remember\nRemember me when I am gone away,\nGone far away into the silent land;\n",
        "I have a lamp\nI have a lamp that nobody can see,\nAnd so it burns for nobody but me.\n",
        "Morning and evening\nMaids heard the goblins cry:\n“Come buy our orchard fruits,\nCome buy.”\n",
        "Half a league, half a league,\nHalf a league onward,\nAll in the valley of Death\nRode they.\n",
    ],
)
def test_a_first_line_of_a_poem_is_never_left_out_without_being_listed(poem: str) -> None:
    s = script.parse_script(poem)
    assert all_but(poem, s)
    assert all(not out.sure for out in s.left_out)
    if not poem.startswith("Remember"):  # in the capital of a title, and repeated: a title
        assert said(s) == poem


NUMBERED = VERSE.splitlines()


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(f"{line}    {n}" if n % 5 == 0 else line for n, line in enumerate(NUMBERED, 18)),
        "\n".join(f"{line} {n}" if n % 5 == 0 else line for n, line in enumerate(NUMBERED, 18)),
        "\n".join(f"{line}\n{n}" if n % 5 == 0 else line for n, line in enumerate(NUMBERED, 15)),
        "\n".join(f"{n:<4}{line}" for n, line in enumerate(NUMBERED, 18)),
        "\n".join(f"FTLN {n:04}  {line}" for n, line in enumerate(NUMBERED, 688)),
        "VIOLA  " + "\n".join(f"{n:<4}{line}" for n, line in enumerate(NUMBERED, 18)),
    ],
    ids=["gap", "one blank", "own row", "every line", "through numbers", "every line from the name on"],
)
def test_line_numbers_are_left_out_wherever_they_are_printed(text: str) -> None:
    assert said(script.parse_script(text + "\n")) == VERSE


def test_numbers_that_belong_to_a_speech_are_spoken() -> None:
    text = (
        "I waited at the door of number 40\nAnd counted every step to number 50\nUntil the lamp went out.\n"
    )
    assert said(script.parse_script(text)) == text
    rows = "(1) I will not borrow it.\n(2) I will not sell it.\n(3) I will not leave it.\n"
    more = "it, whatever they say to me and however often they come here in the rain to my own front door."
    long = rows.replace("it.", more)
    assert "1" in folded(said(script.parse_script(long)))


def test_the_performers_own_brackets_and_choices_decide_what_is_spoken() -> None:
    text = "[I left no ring with her]\n" + VERSE
    assert said(script.parse_script(text)) == VERSE
    choices = add_choice(Choices(), spoken="The Tyger")
    assert choices == Choices(spoken=("The Tyger",))
    assert add_choice(choices, left_out="the tyger") == Choices(left_out=("the tyger",))


def test_a_scene_under_a_heading_is_not_read_as_a_single_speech() -> None:
    """Names with the speech beside them, under a heading; and a name of one word that is a title too."""
    text = "Twelfth Night\nAct 2, Scene 2\n\nMALVOLIO\nWere you not here?\n\n"
    text += "VIOLA\nEven now, sir.\n\nMALVOLIO\nSo.\n"
    s = script.parse_script(text)
    assert s.parts == ("MALVOLIO", "VIOLA")
    assert said(s) == "Were you not here?\nEven now, sir.\nSo.\n"


def test_a_name_with_a_colon_before_a_speech_of_one_row_is_a_speaker() -> None:
    read = script.parse_script(
        "MILLA: Trifles; as liberty to pay and receive visits to and from whom I please.\n"
    )
    assert [line.text for line in read.lines] == [
        "Trifles; as liberty to pay and receive visits to and from whom I please."
    ]
    assert read.parts == ("MILLA",)


@pytest.mark.parametrize(
    "row",
    [
        "Makes a note in her book",
        "A cry of women within.",
        "(She is going)",
        "Winds his horn.",
        "Shouts off.",
    ],
)
def test_a_row_that_describes_an_action_or_a_sound_is_left_out_and_listed(row: str) -> None:
    speech = (
        "I do not approve of anything that tampers with natural ignorance.",
        "Ignorance is like a delicate exotic fruit; touch it and the bloom is gone.",
        row,
        "That is satisfactory, and I shall come back to it in a moment.",
    )
    read = script.parse_script("\n".join(speech) + "\n")
    assert row.strip("().") not in " ".join(line.text for line in read.lines)
    assert any(row.strip("().") in out.text for out in read.left_out)


@pytest.mark.parametrize(
    "row", ["She is going.", "Opens the heart to every kind of weather, and keeps it so.", "The sound of it."]
)
def test_a_row_that_may_belong_to_the_speech_is_spoken(row: str) -> None:
    speech = (
        "I do not approve of anything that tampers with that.",
        "It is gone before you know.",
        row,
        "Well then.",
    )
    read = script.parse_script("\n".join(speech) + "\n")
    assert row in [line.text for line in read.lines]


@pytest.mark.parametrize(("above", "reason"), [("THE TYGER", "heading"), ("TYGER", "speaker name")])
def test_a_separate_line_in_capitals_is_left_out_as_unsure_and_both_readings_are_shown(
    above: str, reason: str
) -> None:
    read = script.parse_script(f"{above}\n\n{POEM}")
    assert said(read) == POEM
    assert [(o.text.strip(), o.reason, o.sure) for o in read.left_out] == [(above, reason, False)]
    assert read.doubtful == read.left_out


@pytest.mark.parametrize("above", ["THE GHOST:\n", "HAMLET\n", "Hamlet, Act 1, Scene 5\n\nTHE GHOST\n\n"])
def test_a_name_that_is_marked_as_a_speaker_is_left_out_as_sure(above: str) -> None:
    read = script.parse_script(above + VERSE)
    assert said(read) == VERSE
    assert all(o.sure for o in read.left_out)


def test_a_number_at_a_line_end_is_left_out_under_an_act_heading_and_spoken_without_one() -> None:
    prose = "Was ever feather so lightly blown to and fro as this\nmultitude? The name of Henry hales them"
    rest = "to an hundred mischiefs, and makes them leave me\ndesolate.\n"
    read = script.parse_script(f"Henry VI, Part 2, Act 4, Scene 8\n\n{prose} 60\n{rest}")
    assert folded(said(read)) == folded(f"{prose}\n{rest}")
    (number,) = [o for o in read.left_out if o.reason == "line number"]
    assert (number.text, number.sure) == ("60", False), "shown with its other reading"
    assert "60" in said(script.parse_script(f"{prose} 60\n{rest}"))


BY_LINES = [
    "The Lamp\nby nobody in particular\n\n",
    "The Lamp\nby nobody in particular\n",
    "The Lamp\n\nby a keeper's daughter\n\n",
    "The Lamp\n\nBy somebody who was there\n\n",
    "THE LAMP\nby nobody in particular\n\n",
    "The young man\nby nobody in particular\n\n",
    "How we kept the lamp\n\nby an unknown hand\n\n",
]


@pytest.mark.parametrize("above", BY_LINES, ids=lambda text: text.replace("\n", "|"))
@pytest.mark.parametrize("body", [VERSE, PROSE], ids=["verse", "prose"])
def test_a_line_on_the_author_under_the_title_is_left_out_even_without_a_name(above: str, body: str) -> None:
    s = script.parse_script(above + body)
    assert said(s) == body
    assert all_but(above + body, s)


# Emerson's "Concord Hymn" and Longfellow's "Hiawatha", from memory; the others are ours.
BRIDGE = "By the rude bridge that arched the flood{}\nTheir flag to April's breeze unfurled,\nHere once.\n"
SHORES = "By the shores of Gitche Gumee,\nBy the shining Big-Sea-Water,\nStood the wigwam of Nokomis.\n"
WATCH = "By night and day\nI turned the wheel and trimmed the light,\nAnd saw the boats come in.\n"
HARBOUR = "by the harbour wall{}\nwe turned the wheel and trimmed the light\nand saw the boats come in.\n"


@pytest.mark.parametrize(
    "text",
    [
        "Concord Hymn\n\n" + BRIDGE.format(","),
        "Concord Hymn\n" + BRIDGE.format(""),
        "Hiawatha\n\n" + SHORES,
        "The Watch\n\n" + WATCH,
        "The Watch\n" + WATCH,
        "The Watch\n" + HARBOUR.format(""),
        "The Watch\n\n" + HARBOUR.format("\n"),
        "The Watch\n" + HARBOUR.format(","),
        "I sat and waited\nby the harbour wall\n\n" + PROSE,
        "I was kept waiting,\nby nobody in particular\n\n" + PROSE,
    ],
)
def test_a_first_line_that_begins_with_by_is_spoken(text: str) -> None:
    line = next(row for row in text.splitlines() if row.lower().startswith("by "))
    assert line in said(script.parse_script(text)).splitlines()
