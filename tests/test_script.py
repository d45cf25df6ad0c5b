"""The script: which words of plain text are spoken, who says them, and what is left out and why."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.errors import ScriptError
from offbook.script import Script
from offbook.script import reading as script
from offbook.words import entries as words

HARVEST = """The harvest moon hangs heavy on the hill,
And all the lanterns lean toward the sea,
We counted seven herons on the mill,
And nobody was told but you and me.
The kettle sang before the house was up,
The baker lit his oven in the dark,
And I drank morning from a broken cup
And watched the river carry off its bark.
No bell was rung, no letter came by hand,
No boat put out, no lamp was lit for us,
And all the quiet business of the land
Went on and on without the slightest fuss.
"""

SPEECH = (
    "Good evening, everyone. My name is Rosa, and I am the sister of the bride (the younger one), so I have"
    " known her longer than most of you and owe her more money than all of you.\n\n"
    "First: thank you for coming. Second: eat something. Third: nobody leaves before the dancing.\n\n"
    "In 1998 we moved to number 42, the house with the door that never shut.\n"
)

SCENE = """THE LIGHTHOUSE

A short play

ANNA, a keeper
BEN, her brother

SCENE 1. The lamp room. Night.

ANNA
(without looking up)
You said you would be back by seven.

BEN
I said seven or thereabouts. (He sits.) And it is
thereabouts now.

Anna crosses to the window.

ANNA (CONT'D)
The lamp went out at nine.

BEN
Then who lit it?

[Silence.]

ANNA
I did. (beat) Twice.

Blackout.
"""

FOLIO = """ACT I
SCENE 2

Enter MARGERY and THE BAILIFF.

MARGERY
 The harvest moon hangs heavy on the hill,        1
 And I (that never asked a thing of thee)
 Now ask thee this: to stay thy hand, be still,
 And hear me out.
THE BAILIFF, [aside]  What is the maid to me?
 I came for rent, and rent I will be paid.         5
MARGERY, to Bailiff
 Then take the cow.
THE BAILIFF   The cow is old and thin.
MARGERY
 So am I, sir.
They fight.
Exit Margery.                                     10
"""


def taken(s: Script) -> list[str]:
    return [line.text for line in s.lines]


def reasons(s: Script) -> dict[str, str]:
    return {out.text: out.reason for out in s.left_out}


# Plain text is taken as it is


@pytest.mark.parametrize(
    "text",
    [
        HARVEST,
        SPEECH,
        "NOBODY TOLD THE BAKER HE WAS LATE.\n",
        "NOBODY TOLD THE BAKER\nHE WAS LATE AGAIN\n\nAND NOBODY TOLD ME\n",
        "the lamp was lit before the tide came in\nand still my father counted every boat\n",
        "42\n\nThat was the number on the door.\n",
        "Three.\n\nTwo.\n\nOne.\n\nNow.\n",
        "3\n2\n1\nnow\n",
        "'This fair child of mine' -- he said -- 'shall sum my count', etc.\n",
        "NEVER\n\nI said it once.\n\nNEVER\n\nI said it twice.\n",
        "Remember: nobody waits.\nRemember: nobody calls.\n",
        "First: listen.\nSecond: wait.\nThird: go.\n",
        "i carry it (the lamp\nis lit) and never\nput it down\n",
        "He said (and nobody laughed) that it was late. (I should say that I was not there.)\n",
        "In 1603 there were 24 lamps.\nIn 1604 there were 30.\nIn 1605 there were none.\n",
        "I\n\nam\n\nhere.\n",
        "Enter the hall by night. Exit by day.\n",
        "Act one of kindness at a time.\n",
    ],
    ids=lambda text: text[:24],
)
def test_plain_text_without_features_keeps_every_word(text: str) -> None:
    s = script.parse_script(text)
    assert s.left_out == () and s.parts == ()
    assert "\n".join(taken(s)) == "\n".join(line.strip() for line in text.split("\n") if line.strip())


_WORD = st.text(alphabet="abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=9)


@given(st.lists(st.lists(_WORD, min_size=1, max_size=12), min_size=1, max_size=30))
def test_a_plain_list_of_lines_comes_back_line_by_line(lines: list[list[str]]) -> None:
    text = "\n".join(" ".join(line) for line in lines) + "\n"
    s = script.parse_script(text)
    assert taken(s) == [" ".join(line) for line in lines] or s.left_out  # "i", "ii" may number sections
    if not any(re.fullmatch("[ivxlc]+", " ".join(line)) for line in lines):
        assert taken(s) == [" ".join(line) for line in lines]


@given(st.text(max_size=200))
def test_any_text_is_read_with_correct_positions_or_refused(text: str) -> None:
    try:
        s = script.parse_script(text)
    except ScriptError:
        return
    for line in s.lines:
        assert 0 <= line.start < line.end <= len(text)
    assert [line.n for line in s.lines] == list(range(1, len(s.lines) + 1))
    for out in s.left_out:
        assert s.text[out.start : out.end] == out.text
    inside = [k for out in s.left_out for k in range(out.start, out.end)]
    assert len(inside) == len(set(inside)), "nothing is left out twice"


# Verse and prose


_SCRAP = st.sampled_from(
    # one for each kind of thing that a reader looks for, figures and stray marks above all
    "ANNA: BEN. ANNA BEN ALL (1) [2] 3 *5* (pause) [ ) * _Enter._ 5. ?! [^1] > # \f".split(" ")  # noqa: SIM905
)
_ROW = st.lists(st.one_of(_SCRAP, _WORD), max_size=4).map(" ".join)


@pytest.mark.heavy
@given(st.lists(_ROW, min_size=3, max_size=14), st.sampled_from(("txt", "md", "fountain")))
def test_pieces_of_plays_in_any_order_are_read_with_correct_positions_or_refused(
    rows: list[str], ending: str
) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"a.{ending}"
        path.write_text("ANNA: Hello.\n\nBEN: Hello.\n\n" + "\n\n".join(rows), encoding="utf-8")
        try:
            s = script.load_script(path)
        except ScriptError:
            return
    for w in words.words_of(s):
        assert s.text[w.start : w.end] == w.text


def test_verse_keeps_its_line_ends_and_prose_lines_belong_to_paragraphs() -> None:
    verse, prose = script.parse_script(HARVEST), script.parse_script(SPEECH)
    assert verse.form == "verse" and all(line.verse for line in verse.lines)
    assert prose.form == "prose" and not any(line.verse for line in prose.lines)
    assert [line.paragraph for line in prose.lines] == [1, 2, 3]


def test_each_stanza_counts_as_a_paragraph() -> None:
    lines = HARVEST.split("\n")
    s = script.parse_script("\n".join([*lines[:4], "", *lines[4:8]]))
    assert [line.paragraph for line in s.lines] == [1] * 4 + [2] * 4


def test_verse_in_small_letters_or_in_capitals_is_still_recognised_as_verse() -> None:
    bare = re.sub(r"[^\w\n ]", "", HARVEST)
    assert script.parse_script(bare.lower()).form == "verse"
    assert script.parse_script(HARVEST.upper()).form == "verse"


def test_prose_wrapped_at_any_width_is_recognised_as_prose() -> None:
    for width in (38, 50, 60, 72, 80):
        text = "\n\n".join(textwrap.fill(p, width) for p in SPEECH.split("\n\n"))
        s = script.parse_script(text)
        assert s.form == "prose", width
        assert s.lines[-1].paragraph == 3


def test_two_long_sentences_are_prose_and_a_couplet_is_verse() -> None:
    two = (
        "I have lived in this town since before the bridge was built, and I will die in it too.\n"
        "Nobody has ever asked me what I thought of the bridge, so I am telling you: I hate it.\n"
    )
    assert script.parse_script(two).form == "prose"
    assert script.parse_script(two.replace("\n", "\n\n")).form == "prose"
    couplet = "The harvest moon hangs heavy on the hill,\nAnd all the lanterns lean toward the sea.\n"
    assert script.parse_script(couplet).form == "verse"


def test_sentences_separated_by_blank_lines_are_prose() -> None:
    said = "I drove this road so often that the stops say my name.\n\nYou get on and never look up.\n"
    assert script.parse_script(said).form == "prose"


def test_a_prose_speech_with_a_poem_inside_has_the_form_mixed() -> None:
    s = script.parse_script(SPEECH + "\n" + "\n".join(HARVEST.split("\n")[:6]) + "\n\n" + SPEECH)
    assert s.form == "mixed"
    assert [line.text for line in s.lines if line.verse] == HARVEST.split("\n")[:6]


def test_paragraphs_of_one_line_each_are_recognised_without_blank_lines() -> None:
    s = script.parse_script(SPEECH.replace("\n\n", "\n"))
    assert [line.paragraph for line in s.lines] == [1, 2, 3]


def test_a_line_that_continues_a_sentence_starts_no_paragraph() -> None:
    s = script.parse_script(MONOLOGUE + "And do you know what I felt? Nothing. Nothing at all.\n")
    assert s.form == "prose" and [line.paragraph for line in s.lines] == [1, 1, 2, 3]


def test_paragraphs_marked_only_by_an_indent_are_recognised() -> None:
    book = "\n".join(
        textwrap.fill(p, 60, initial_indent="   ", subsequent_indent="") for p in SPEECH.split("\n\n")
    )
    s = script.parse_script(book)
    assert s.form == "prose" and s.lines[-1].paragraph == 3


def test_blank_lines_after_every_line_of_a_typescript_do_not_make_paragraphs() -> None:
    typed = "\n\n".join(textwrap.wrap(" ".join(SPEECH.split()), 60))
    s = script.parse_script(typed)
    assert {line.paragraph for line in s.lines} == {1}


# What the page prints beside the speech


def test_line_numbers_in_the_margin_are_left_out() -> None:
    lines = HARVEST.strip().split("\n")
    right = "\n".join(f"{line}   {k}" if k % 5 == 0 else line for k, line in enumerate(lines, 1))
    left = "\n".join(f"{k:<4}{line}" if k % 5 == 0 else f"    {line}" for k, line in enumerate(lines, 1))
    each = "\n".join(f"{k} {line}" for k, line in enumerate(lines, 1))
    for text in (right, left, each):
        s = script.parse_script(text)
        assert taken(s) == lines
        assert {out.reason for out in s.left_out} == {"line number"}


def test_numbers_at_line_ends_that_do_not_count_lines_are_spoken() -> None:
    text = "We lit the lamp at 5\nAnd blew it out at 10\nAnd went to bed at 15\nAnd rose again at 20\n"
    assert taken(script.parse_script(text)) == text.strip().split("\n")


def test_numbers_that_count_pages_are_left_out() -> None:
    lines = HARVEST.strip().split("\n")
    text = "\n".join([*lines[:4], "", "12", "", *lines[4:8], "", "13", "", *lines[8:]])
    s = script.parse_script(text)
    assert taken(s) == lines
    assert [out.text for out in s.left_out] == ["12", "13"]
    said = script.parse_script("\n".join([*lines[:4], "", "Page 2 of 3", "", *lines[4:], "", "- 3 -"]))
    assert taken(said) == lines


def test_the_number_of_a_single_page_is_left_out() -> None:
    """Set in the middle under everything, or by itself after the last speech of a scene."""
    assert (
        reasons(script.parse_script(SPEECH.rstrip() + "\n\n                       7\n"))["7"] == "page number"
    )
    for foot in ("3", "                      3"):
        play = f"ANNA. Where are the keys?\n\nBEN. In your hand.\n\nANNA. They are not.\n\n{foot}\n"
        s = script.parse_script(play)
        assert taken(s)[-1] == "They are not." and reasons(s)["3"] == "page number"


def test_a_number_that_is_a_whole_speech_is_spoken() -> None:
    s = script.parse_script("ANNA\nHow many?\n\nBEN\n\n42\n\nANNA\nThat many?\n")
    assert "42" in taken(s)


def test_running_heads_after_page_breaks_are_left_out() -> None:
    lines = HARVEST.strip().split("\n")
    pages = [f"Harvest / Rosa Vane\n\n{chr(10).join(lines[k : k + 4])}\n\n{k // 4 + 1}" for k in (0, 4, 8)]
    s = script.parse_script("\f".join(pages))
    assert taken(s) == lines
    assert {out.reason for out in s.left_out} == {"running head", "page number"}


def test_roman_section_numbers_are_left_out() -> None:
    lines = HARVEST.strip().split("\n")
    s = script.parse_script("\n".join(["I", "", *lines[:4], "", "II", "", *lines[4:8]]))
    assert taken(s) == lines[:8]
    assert [out.reason for out in s.left_out] == ["section number", "section number"]


def test_an_underlined_heading_is_left_out_as_sure_and_a_plain_title_as_unsure() -> None:
    for heading, sure in (("Harvest\n=======\n\n", True), ("Harvest\n\n", False)):
        s = script.parse_script(heading + HARVEST)
        assert taken(s) == taken(script.parse_script(HARVEST))
        assert [(out.text, out.sure) for out in s.left_out] == [("Harvest", sure)]


def test_footnote_marks_and_their_notes_are_left_out() -> None:
    text = (
        HARVEST.replace("herons", "herons¹").replace("bark.", "bark.[2]")
        + "\n¹ Grey ones.\n[2] A small boat.\n"
    )
    s = script.parse_script(text)
    assert "\n".join(taken(s)) + "\n" == HARVEST
    assert reasons(s) == {
        "¹": "footnote mark",
        "[2]": "footnote mark",
        "¹ Grey ones.": "footnote",
        "[2] A small boat.": "footnote",
    }


def test_a_pasted_mail_keeps_only_its_speech() -> None:
    mail = "From: Rosa\nTo: Ben\nSubject: the speech\n\n> " + HARVEST.replace("\n", "\n> ") + "\n-- \nRosa\n"
    s = script.parse_script(mail)
    assert "\n".join(taken(s)) + "\n" == HARVEST
    assert {out.reason for out in s.left_out} == {"e-mail heading", "e-mail signature"}


def test_the_note_and_the_greeting_of_a_mail_are_not_part_of_its_speech() -> None:
    head = "From: Rosa\nTo: Ben\nSubject: Thursday\n\n"
    quoted = "> " + HARVEST.strip().replace("\n", "\n> ") + "\n"
    s = script.parse_script(f"{head}Hi Ben,\n\nText below, off book please.\n\n{quoted}")
    assert taken(s) == HARVEST.strip().split("\n")
    assert reasons(s)["Text below, off book please."] == "covering note"
    s = script.parse_script(f"{head}Hi Ben,\n\n{HARVEST}")
    assert taken(s) == HARVEST.strip().split("\n") and reasons(s)["Hi Ben"] == "greeting"
    assert taken(script.parse_script("Dear Ben,\nI am well.\nAre you?\n"))[0] == "Dear Ben,"


def test_square_brackets_and_certain_directions_are_left_out_of_a_speech() -> None:
    s = script.parse_script('That was the door. (Pause.) "Never," he said [laughter], and (beat) sat down.\n')
    assert taken(s) == ['That was the door. "Never," he said, and sat down.']


# Parts


def test_a_scene_is_divided_into_parts_without_names_directions_and_headings() -> None:
    s = script.parse_script(SCENE)
    assert s.parts == ("ANNA", "BEN")
    assert [(line.speaker, line.text) for line in s.lines] == [
        ("ANNA", "You said you would be back by seven."),
        ("BEN", "I said seven or thereabouts. And it is"),
        ("BEN", "thereabouts now."),
        ("ANNA", "The lamp went out at nine."),
        ("BEN", "Then who lit it?"),
        ("ANNA", "I did. Twice."),
    ]
    why = reasons(s)
    assert why["(He sits.)"] == why["Anna crosses to the window."] == why["[Silence.]"] == "stage direction"
    assert why["SCENE 1. The lamp room. Night."] == "heading"
    assert why["THE LIGHTHOUSE"] == "heading"


def test_a_chosen_part_has_its_own_lines_and_keeps_the_others_as_cues() -> None:
    s = script.parse_script(SCENE, part="ben")
    assert s.part == "BEN"
    assert [(line.n, line.text) for line in s.lines] == [
        (1, "I said seven or thereabouts. And it is"),
        (2, "thereabouts now."),
        (3, "Then who lit it?"),
    ]
    assert [(cue.speaker, cue.text, cue.before_line) for cue in s.cues] == [
        ("ANNA", "You said you would be back by seven.", 1),
        ("ANNA", "The lamp went out at nine.", 3),
        ("ANNA", "I did. Twice.", None),
    ]
    assert [w.text for w in words.words_of(s)][:2] == ["I", "said"]


def test_an_edited_play_is_read_with_names_and_directions_in_every_layout() -> None:
    """Names alone, before a direction, before a wide gap; spoken brackets; numbers in the margin."""
    s = script.parse_script(FOLIO)
    assert s.form == "verse"
    assert [(line.speaker, line.text) for line in s.lines] == [
        ("MARGERY", "The harvest moon hangs heavy on the hill,"),
        ("MARGERY", "And I (that never asked a thing of thee)"),
        ("MARGERY", "Now ask thee this: to stay thy hand, be still,"),
        ("MARGERY", "And hear me out."),
        ("THE BAILIFF", "What is the maid to me?"),
        ("THE BAILIFF", "I came for rent, and rent I will be paid."),
        ("MARGERY", "Then take the cow."),
        ("THE BAILIFF", "The cow is old and thin."),
        ("MARGERY", "So am I, sir."),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "ANNA: You said seven.\nBEN: (sitting) I said thereabouts.\nANNA: You did not.\n",
        "Anna: You said seven.\nBen: (sitting) I said thereabouts.\nAnna: You did not.\n",
        "ANNA. You said seven.\n\nBEN. [Sitting] I said thereabouts.\n\nANNA. You did not.\n",
        "Anna.  You said seven.\nBen.  I said thereabouts.\nAnna.  You did not.\nBen.  I did.\n",
        "ANNA\tYou said seven.\nBEN\tI said thereabouts.\nANNA\tYou did not.\n",
        "ANNA\nYou said seven.\nBEN\nI said thereabouts.\nANNA\nYou did not.\n",
        "ANNA (off)\nYou said seven.\n\nBEN:\nI said thereabouts.\n\nANNA\nYou did not.\n",
        "Anna\nYou said seven.\n\nBen\nI said thereabouts.\n\nAnna\nYou did not.\n\nBen\nI did.\n",
        "          ANNA\n     You said seven.\n\nShe sits.\n\n          BEN\n     I said thereabouts.\n\n"
        "          ANNA\n     You did not.\n",
        "ANNA: YOU SAID SEVEN.\nBEN: I SAID THEREABOUTS.\nANNA: YOU DID NOT.\n",
    ],
    ids=range(10),
)
def test_speakers_are_found_in_any_consistent_layout(text: str) -> None:
    s = script.parse_script(text)
    assert [p.upper() for p in s.parts] == ["ANNA", "BEN"]
    assert [t.upper() for t in taken(s)][:3] == ["YOU SAID SEVEN.", "I SAID THEREABOUTS.", "YOU DID NOT."]


MONOLOGUE = """I never asked for the lantern. It was my father's, and his father's before him,
and nobody in the village would have thought to blow it out.
But that night, with the wind off the marsh, I set it down on the step.
"""


@pytest.mark.parametrize("body", [MONOLOGUE, HARVEST], ids=["prose", "verse"])
@pytest.mark.parametrize(
    "above",
    [
        "THE LANTERN\n\n",
        "THE LANTERN\nA monologue for one\n\n",
        "The Lantern\nby Rosa Vane\n\n",
        "The Lantern\n\nBy Rosa Vane\n\n",
        "The Lantern by Rosa Vane\n\n",
        "from The Lantern, by Rosa Vane\n\n",
        "The Lantern\n© Rosa Vane\n\n",
        "by Rosa Vane\n\n",
        "# The lantern\n\n## by Rosa Vane\n\n",
        "Sonnet 18\n\n",
        "XVIII\n\n",
        "Act 2, scene 1\n\n",
        "Margery, Act 2, scene 1\n\n",
        "THE LANTERN\nAct Two, Scene One\nMARGERY\n",
        "MARGERY\n",
        "MARGERY:\n",
        "MARGERY: ",
        "MARGERY (to the Bailiff): ",
        "MARGERY (crossing to the door)\n",
        "From THE LANTERN by Rosa Vane\n\nMARGERY:\n",
        "THE LANTERN\nby Rosa Vane\n\nMARGERY (alone on the step)\n",
        "THE LANTERN\n\nby Rosa Vane\n\nAct 2, scene 1\n\nMARGERY\n",
        "Play: The Lantern\nCharacter: Margery\n\nMARGERY:\n",
        "MARGERY, 30s, a lamplighter's daughter.\n\n",
        "Play: The Lantern\nPlaywright: Rosa Vane\nCharacter: Margery\n\n",
        "Context: Margery is alone on the step.\n\n",
        "The Lantern\nby Rosa Vane\n\n(Margery is alone on the step. It is late.)\n\n",
    ],
    ids=lambda text: text.strip(),
)
def test_a_marked_heading_over_a_single_speech_is_left_out(above: str, body: str) -> None:
    """Titles in capitals or with their author, a name over the speech, notes on the piece."""
    assert taken(script.parse_script(above + body)) == taken(script.parse_script(body))


@pytest.mark.parametrize(
    "above",
    [
        "STOP\n\n",
        "FIRE! they said.\n\n",
        "Remember: nobody waits.\n\n",
        "I was taught to read by Ben\n\n",
        "Ladies and gentlemen,\n\n",
        "Act one way and mean another\n\n",
        "NEVER AGAIN, I said.\n",
    ],
    ids=lambda text: text.strip(),
)
def test_a_first_line_that_is_not_marked_as_a_heading_is_spoken(above: str) -> None:
    s = script.parse_script(above + MONOLOGUE)
    assert s.left_out == () and taken(s)[0].startswith(above.strip())


def test_a_line_in_capitals_that_is_repeated_or_precedes_only_a_few_words_is_spoken() -> None:
    again = "BRING THE LAMP\n" + HARVEST + "BRING THE LAMP\n"
    assert taken(script.parse_script(again))[0] == taken(script.parse_script(again))[-1] == "BRING THE LAMP"
    assert taken(script.parse_script("BRING THE LAMP\n\nNobody came.\n"))[0] == "BRING THE LAMP"
    first, rest = HARVEST.split("\n", 1)
    assert taken(script.parse_script(first.upper().rstrip(",") + "\n" + rest))[0].startswith("THE HARVEST")
    assert taken(script.parse_script(("The lamp.\n" + MONOLOGUE).upper()))[0] == "THE LAMP."


def test_a_bracketed_action_after_a_comma_at_a_line_end_is_a_direction() -> None:
    verse = HARVEST.replace("hill,", "hill, (she turns to the window)")
    assert taken(script.parse_script(verse)) == taken(script.parse_script(HARVEST))
    said = MONOLOGUE.replace("father's, and", "father's (she turns everything over), and")
    assert script.parse_script(said).left_out == ()


def test_the_closing_lines_under_a_single_speech_are_left_out() -> None:
    s = script.parse_script(f"{MONOLOGUE}\nEND OF PLAY\n\n© Rosa Vane\n")
    assert taken(s) == taken(script.parse_script(MONOLOGUE))
    assert reasons(s) == {"END OF PLAY": "heading", "© Rosa Vane": "copyright line"}


_DONE = [
    "beat",
    "Pause.",
    "She turns to the window.",
    "she turns to the window",
    "softly",
    "Laughing",
    "crossing to the door",
    "to the audience",
    "To her mother",
    "to Ben",
    "looking at the photograph",
    "angrily",
    "a knock at the door",
    "The phone rings.",
    "takes out a letter",
    "Takes out a letter.",
    "with a smile",
    "under her breath",
    "sotto voce",
    "in a deep voice",
    "Slowly she sits.",
    "on the phone",
    "beat, then softly",
]
_ASIDES = [
    "They always do.",
    "I should say that I was not there.",
    "Hopefully not.",
    "Then again, maybe not.",
    "He is my brother.",
    "It was raining.",
    "Not that I cared.",
    "To this day.",
    "He works nights.",
    "She comes every year.",
    "She's here tonight.",
    "In the end.",
    "As though it mattered.",
    "Including me.",
    "Walking was my idea.",
    "Thank God.",
]


@pytest.mark.parametrize("inside", _DONE)
def test_a_bracketed_action_or_manner_between_sentences_is_a_direction(inside: str) -> None:
    for text in (
        MONOLOGUE.replace("lantern. It", f"lantern. ({inside}) It"),
        f"({inside}) {MONOLOGUE}",
        MONOLOGUE.replace("out.\n", f"out.\n({inside})\n"),
        MONOLOGUE.replace("out.\n", f"out. ({inside})\n"),
    ):
        s = script.parse_script(text)
        assert " ".join(taken(s)).split() == MONOLOGUE.split(), text
        assert reasons(s) == {f"({inside})": "stage direction"}


@pytest.mark.parametrize("inside", _ASIDES)
def test_a_bracketed_aside_between_sentences_is_spoken(inside: str) -> None:
    for text in (
        MONOLOGUE.replace("lantern. It", f"lantern. ({inside}) It"),
        MONOLOGUE.rstrip() + f" ({inside})\n",
    ):
        assert script.parse_script(text).left_out == (), text


@pytest.mark.parametrize(
    "inside", ["or so they told me", "softly", "really", "the younger one", "he ran the shop"]
)
def test_a_bracket_inside_a_sentence_of_a_single_speech_is_spoken(inside: str) -> None:
    assert script.parse_script(MONOLOGUE.replace("the lantern.", f"the lantern ({inside}).")).left_out == ()


def test_a_speech_for_two_or_for_all_belongs_to_each_part() -> None:
    text = "ANNA: One.\nBEN: Two.\nANNA & BEN: Three.\nALL: Four.\nANNA: Five.\nBEN: Six.\n"
    assert taken(script.parse_script(text, part="Anna")) == ["One.", "Three.", "Four.", "Five."]


def test_the_error_for_a_part_that_does_not_exist_names_the_existing_parts() -> None:
    with pytest.raises(ScriptError) as failed:
        script.parse_script(SCENE, source="scene.txt", part="Zoe")
    assert failed.value.what == "scene.txt has no part 'Zoe'"
    assert failed.value.do == "choose one of its parts: ANNA, BEN"
    with pytest.raises(ScriptError, match="names no parts"):
        script.parse_script(HARVEST, part="Anna")


def test_the_only_part_of_a_script_can_be_chosen_by_name() -> None:
    text = "ANNA: One lamp.\n\nANNA: Two lamps.\n\nANNA: Three.\n"
    assert script.parse_script(text, part="anna").lines == script.parse_script(text).lines
    with pytest.raises(ScriptError, match="choose one of its parts: ANNA"):
        script.parse_script(text, part="Ben")


def test_a_text_with_no_words_is_refused() -> None:
    for text in ("", "\n\n", "---\n***\n", "[Silence.]\n"):
        with pytest.raises(ScriptError, match="has no words to say"):
            script.parse_script(text)


# Scripts as they arrive: each of these was once read wrongly

SOLID = """The Harvest
ACT I
SCENE I. A salt house.
Enter MARGERY and THE BAILIFF
MARGERY
The harvest moon hangs heavy on the hill,
And all the lanterns lean toward the sea,
We counted seven herons on the mill.
Enter a BOY
How now, what news of bread?
THE BAILIFF
I came for rent, and you may tell the boy that as
for bread, he shall have it when I have mine, which
is to say on Tuesday.
MARGERY
Then take the cow.
Exit THE BAILIFF
"""


def test_a_play_without_blank_lines_keeps_its_speeches_verse_and_prose() -> None:
    s = script.parse_script(SOLID)
    assert [(line.speaker, line.verse) for line in s.lines] == [
        *[("MARGERY", True)] * 4,
        *[("THE BAILIFF", False)] * 3,
        ("MARGERY", False),
    ]
    assert s.form == "mixed" and taken(s)[3] == "How now, what news of bread?"


def test_a_first_speech_under_the_scene_is_not_taken_for_the_list_of_characters() -> None:
    text = """Characters
==========
MARGERY, a widow
THE BAILIFF

Scene 1
=======
MARGERY  Who goes there?

THE BAILIFF
The bailiff, and the rent is due today,
And I am cold.

MARGERY  Come in.

THE BAILIFF/MARGERY  Good night.
"""
    s = script.parse_script(text)
    assert taken(s)[0] == "Who goes there?" and s.parts == ("MARGERY", "THE BAILIFF")
    assert taken(script.parse_script(text, part="the bailiff"))[-1] == "Good night."


@pytest.mark.parametrize(
    "text",
    [
        "0:04 A door is a promise.\n0:09 The wall makes it.\n0:15 (Laughter)\n0:17 My father kept it.\n",
        "00:04\nA door is a promise.\n\n00:09\nThe wall makes it.\n\n00:15\nMy father kept it.\n",
        "[00:00:04] A door is a promise.\n[00:00:09] The wall makes it.\n[00:00:15] My father kept it.\n",
    ],
)
def test_the_times_of_a_transcript_are_not_spoken(text: str) -> None:
    assert taken(script.parse_script(text)) == [
        "A door is a promise.",
        "The wall makes it.",
        "My father kept it.",
    ]


def test_times_that_belong_to_the_speech_are_spoken() -> None:
    text = "7:00\nI lit the lamp.\n8:00\nI blew it out.\n9:00\nNobody came.\n"
    assert taken(script.parse_script(text))[0] == "7:00"


def test_the_labels_of_a_song_are_not_spoken_and_its_words_are() -> None:
    text = "VERSE 1\nThe kettle sang\nAnd nobody was told\n\nCHORUS\nOh, nobody\n\n"
    text += "VERSE 2\nThe oven lit\n\nCHORUS\nOh, me\n"
    s = script.parse_script(text)
    assert s.parts == () and len(taken(s)) == 5
    assert {out.reason for out in s.left_out} == {"section label"}


def test_a_name_followed_by_an_aside_at_the_start_of_verse_lines_is_not_a_speaker() -> None:
    text = (
        "Eve, with her basket, was\nDeep in the bells and grass;\n" * 2
        + "Eve, with her apron white,\nSang.\n"
    )
    assert script.parse_script(text).left_out == ()


def test_an_interview_of_questions_and_answers_has_two_parts() -> None:
    text = "Q: When did you see it?\nA: At nine.\nQ: And then?\n"
    text += "A: I thought: is that it? (Laughs.) Then it moved.\n"
    s = script.parse_script(text)
    assert s.parts == ("Q", "A") and taken(s)[-1] == "I thought: is that it? Then it moved."


def test_a_direction_whose_bracket_is_never_closed_ends_with_its_line() -> None:
    text = "  Marg. So am I, sir.\n          [Exit.\n  Bail. A cold one.\n  Marg. No.\n  Bail. A sharp one.\n"
    assert taken(script.parse_script(text)) == ["So am I, sir.", "A cold one.", "No.", "A sharp one."]


def test_the_setting_before_a_monologue_and_the_note_on_the_listener_are_left_out() -> None:
    text = "(A kitchen. Night. ROSA is peeling an orange.)\n\n"
    text += "I asked for a boat (a small one).\n\n(To the audience.) Well?\n"
    assert taken(script.parse_script(text)) == ["I asked for a boat (a small one).", "Well?"]


def test_a_quoted_earlier_mail_is_not_spoken() -> None:
    text = "The lamp was lit and nobody came to see it.\n\nOn Tue, 3 Nov 2026, Rosa wrote:\n> Send it?\n"
    assert taken(script.parse_script(text)) == ["The lamp was lit and nobody came to see it."]


def test_a_running_head_with_a_number_sign_is_left_out_of_every_page() -> None:
    pages = (
        "The lamp was lit before the tide came in.\nNobody asked who carried up the oil.\nI did.",
        "What use is light where none will look?\nA good question.\nHere is my answer.",
        "My father climbed these stairs.\nHe carried me.\nHe sang all night.",
    )
    found = script.parse_script("\f".join(f"The lamp #\n\n{page}" for page in pages))
    assert [line.text for line in found.lines] == "\n".join(pages).splitlines()
