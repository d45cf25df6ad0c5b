"""The screen of `offbook read` at its bounds: narrow windows, long names and long lists."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from offbook.cli.read import (
    _as_json,
    _left_out_row,
    _other_readings,
    _part_sizes,
    _parts_table,
    _said_as,
    _speeches_table,
    _summary,
    _view,
)
from offbook.script import LeftOut, Script, parse_script
from offbook.words import words_of


def script_of(text: str, part: str | None = None) -> Script:
    return parse_script(text, title="night", source="night.txt", part=part)


def rows(view: Iterable[tuple[str, str | None]]) -> list[str]:
    """The rows of a view without their styles."""
    return [text for text, _ in view]


def scene(other: str) -> Script:
    return script_of(f"ANNA\nWho is there?\n\n{other}\nNobody.\n\nANNA\nThen I sleep.\n\n{other}\nDo.\n")


@pytest.mark.parametrize(
    ("name", "width", "shown"),
    [
        ("BEN", 80, "BEN "),  # a column is as wide as its longest name, four columns at least
        ("BO", 80, "BO  "),
        ("BARTHOLOMEW", 80, "BARTHOLOMEW"),
        ("BARTHOLOMEW", 35, "BARTHOLOMEW"),  # what stands beside a name takes 24 columns
        ("BARTHOLOMEW", 34, "BARTHOLOM…"),
        ("BARTHOLOMEW", 28, "BAR…"),
        ("BARTHOLOMEW", 20, "BAR…"),
    ],
)
def test_the_name_of_a_part_is_cut_to_the_room_left_by_its_counts(name: str, width: int, shown: str) -> None:
    script = scene(name)
    table = rows(_parts_table(script, words_of(script), width))
    room = len(shown)
    assert table[:2] == [f"  {'ANNA':<{room}}  2 lines, 6 words", f"  {shown}  2 lines, 2 words"]
    assert " ".join(" ".join(table[2:]).split()) == "Choose yours with --part, for instance --part ANNA"


def test_words_that_several_parts_say_together_count_for_each_of_them() -> None:
    script = script_of(
        "ANNA\nOne.\n\nBEN\nOne two.\n\nCLEO\nOne two three.\n\nANNA and BEN\nHear us now please.\n\n"
        "ALL\nNow go.\n\nANNA\nYes.\n\nBEN\nYes.\n\nCLEO\nYes.\n"
    )
    sizes = _part_sizes(script, words_of(script))
    assert sizes == [("ANNA", 4, 8), ("BEN", 4, 9), ("CLEO", 3, 6)]
    alone = script_of(script.text, part="cleo")
    assert _part_sizes(alone, words_of(alone)) == [("CLEO", 3, 6)]


def long_speeches(*sizes: int) -> Script:
    """ANNA's speeches of so many words, with a word of BEN's after each."""
    said = (f"ANNA\nI say {' '.join(['so'] * (n - 2))}.\n\nBEN\nNo." for n in sizes)
    return script_of("\n\n".join(said), part="ANNA")


def test_only_speeches_of_at_least_sixty_words_are_offered_separately() -> None:
    assert rows(_speeches_table(long_speeches(59, 60, 61), 80)) == [
        "  Speech 2, 60 words: I say so so so so …",
        "  Speech 3, 61 words: I say so so so so …",
        "Take one of them with --speech, for instance --speech 2",
    ]
    assert rows(_speeches_table(long_speeches(59, 59), 80)) == []


def test_a_single_speech_is_not_offered_and_of_many_the_first_twelve_are() -> None:
    assert rows(_speeches_table(long_speeches(60), 80)) == []
    assert len(rows(_speeches_table(long_speeches(60, 60), 80))) == 3
    shown = rows(_speeches_table(long_speeches(*[60] * 13), 80))
    assert len(shown) == 13 and shown[11].startswith("  Speech 12, 60 words: ")


@pytest.mark.parametrize(
    ("size", "shown"), [(1, "x"), (160, "x" * 160), (161, "x" * 157 + "..."), (500, "x" * 157 + "...")]
)
def test_at_most_160_characters_of_a_passage_left_out_are_shown(size: int, shown: str) -> None:
    text = "x" * size
    sure, perhaps = (LeftOut(0, size, text, "heading", known) for known in (True, False))
    assert list(_left_out_row(sure, 400)) == [(f"   -  {shown}  [heading]", "dim")]
    assert list(_left_out_row(perhaps, 400)) == [(f"   ?  {shown}  [heading]", "dim")]


def test_passages_left_out_are_counted_by_reason_and_the_most_frequent_comes_first() -> None:
    def out(reason: str) -> LeftOut:
        return LeftOut(0, 1, "x", reason)

    assert _summary([out("note"), out("heading"), out("heading")]) == "Left out: 2 × heading; 1 × note."
    assert _summary([]) == "Left out: nothing. Every word on the page is taken as spoken."


def said_as(text: str) -> list[str]:
    return rows(_said_as(words_of(script_of(text)), 1000))


def test_numbers_signs_and_abbreviations_are_shown_as_they_are_said() -> None:
    assert said_as("Dr Low & I met Mr Vane at St Ives.") == [
        "Said as: Dr = doctor; & = and; Mr = mister; St = saint."
    ]
    assert said_as("The doctor and Mister Vane were late, I'm told; it's true.") == []
    assert said_as("She was 2nd of 40.") == ["Said as: 2nd = second; 40 = forty."]
    assert said_as("I’m from the USA, etc.") == ["Said as: USA = u s a; etc = et cetera."]


def test_of_many_numbers_twelve_are_shown_once_each_and_the_rest_are_counted() -> None:
    def counted(n: int) -> str:
        return " ".join(f"I saw {k} men and {k} boys." for k in range(2, 2 + n))

    (twelve,) = said_as(counted(12))
    assert twelve.endswith("; 12 = twelve; 13 = thirteen.") and twelve.count("=") == 12
    (more,) = said_as(counted(14))
    assert more.endswith("; 13 = thirteen; and 2 more (--json has them all).") and more.count("=") == 12


def test_up_to_five_doubtful_readings_are_shown_with_up_to_six_words_in_each_command() -> None:
    script = script_of("I kept the lamp.\nNobody asked me to.\n")
    place = LeftOut(0, 10, "One two three\nfour five six seven", "heading", sure=False)
    one = Script(script.title, "night.txt", script.text, script.form, script.lines, left_out=(place,))
    assert rows(_other_readings(one, 200)) == [
        "",
        "“One two three four five six seven” is taken as left out. If it is spoken:",
        '  offbook read night.txt --say "One two three four five six"',
    ]
    other = Script(script.title, "night.txt", script.text, script.form, script.lines, perhaps=(place,))
    assert rows(_other_readings(other, 200)) == [
        "",
        "“One two three four five six seven” is taken as spoken. If it is not (heading):",
        '  offbook read night.txt --leave-out "One two three four five six"',
    ]
    five, seven = (
        Script(script.title, "n", script.text, script.form, script.lines, left_out=(place,) * n)
        for n in (5, 7)
    )
    assert len(rows(_other_readings(five, 200))) == 1 + 2 * 5
    assert rows(_other_readings(seven, 200))[11:] == ["And 2 more, marked ? above."]
    assert rows(_other_readings(script, 200)) == []


def test_read_counts_the_lines_of_verse_and_the_sentences_of_prose() -> None:
    verse = script_of(
        "The lamp was lit before\nThe tide came in again\nAnd nobody was told\nBut you and me\n"
    )
    prose = script_of("I kept the lamp.")
    assert rows(_view(verse, words_of(verse), 80))[0] == "night: verse, 4 lines, 18 words, 1 sentence"
    assert rows(_view(prose, words_of(prose), 80))[0] == "night: prose, 4 words, 1 sentence"


def test_a_blank_row_separates_paragraphs_and_cues() -> None:
    script = script_of("ANNA\nWho is there?\n\nBEN\nNobody.\n\nANNA\nThen I sleep.\n\nBEN\nDo.\n", part="BEN")
    assert rows(_view(script, words_of(script), 60)) == [
        "night: prose, 2 words, 2 sentences",
        "Part: BEN. The other parts are cues.",
        "",
        "   >  ANNA: Who is there?",
        "",
        "BEN",
        "   1  Nobody.",
        "",
        "   >  ANNA: Then I sleep.",
        "",
        "BEN",
        "   2  Do.",
        "",
        "Numbers count sentences.",
        "Left out: 4 × speaker name.",
    ]


def test_the_json_gives_the_first_and_the_last_word_of_each_line() -> None:
    script = scene("BEN")
    told = _as_json(script, words_of(script))
    assert [(line["n"], line["words"]) for line in told["lines"]] == [
        (1, [0, 2]), (2, [3, 3]), (3, [4, 6]), (4, [7, 7])
    ]  # fmt: skip
    assert told["parts"] == [
        {"name": "ANNA", "lines": 2, "words": 6},
        {"name": "BEN", "lines": 2, "words": 2},
    ]


def test_a_passage_left_out_is_shown_inside_a_line_but_not_inside_a_cue() -> None:
    text = "ANNA\nWho is (aside) there?\n\nBEN\nNobody (aside) here.\n\nANNA\nThen I sleep.\n\nBEN\nDo.\n"
    script = script_of(text, part="BEN")
    body = rows(_view(script, words_of(script), 60))
    assert [row for row in body if row.startswith("   -")] == ["   -  (aside)  [stage direction]"]
    assert "   >  ANNA: Who is there?" in body


def test_a_long_line_continues_under_its_beginning_and_a_hint_continues_at_the_margin() -> None:
    script = script_of("Nobody asked me to keep the lamp, and nobody thanked me for it.\n")
    assert rows(_view(script, words_of(script), 30))[3:6] == [
        "   1  Nobody asked me to keep",
        "      the lamp, and nobody",
        "      thanked me for it.",
    ]
    place = LeftOut(0, 10, "One two three four five", "heading", sure=False)
    told = Script("night", "n", script.text, script.form, script.lines, left_out=(place,))
    assert rows(_other_readings(told, 30))[1:3] == [
        "“One two three four five” is",
        "taken as left out. If it is",
    ]


def test_with_a_single_speaker_no_choice_of_a_part_is_offered() -> None:
    script = script_of("ANNA\nWho is there?\n\nANNA\nThen I sleep.\n\nANNA\nNo.\n")
    assert script.parts == ("ANNA",)
    assert not any("--part" in row for row in rows(_view(script, words_of(script), 80)))


def test_a_speech_is_named_by_its_first_line() -> None:
    line = "I say " + " ".join(["so"] * 31)
    said = f"ANNA\nFirst {line}.\nThen {line}.\n\nBEN\nNo.\n\nANNA\nNo.\n\nBEN\nNo.\n"
    script = script_of(said, part="ANNA")
    assert rows(_speeches_table(script, 80))[0] == "  Speech 1, 68 words: First I say so so so …"
