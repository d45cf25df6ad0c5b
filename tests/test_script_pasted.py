"""What is copied from a web page or from subtitles is read without its tags, numbers and times."""

from __future__ import annotations

import pytest

from offbook.script import Script, parse_script
from offbook.words import words_of

SPOKEN = "They ask me why I keep the lamp alight No ship has rounded Gannet Head since spring"

PAGES = {
    "lines": (
        "They ask me why I keep the lamp alight.<br>\nNo ship has rounded Gannet Head<br/>since spring.<br />"
    ),
    "page": (
        "<!DOCTYPE html>\n<html lang='en'><head><title>The lamp</title>\n<style>\np { color: red }\n</style>"
        "</head>\n<body>\n<!-- not this,\nnor this -->\n<h1 class='big'>The lamp</h1>\n"
        "<p>They ask me <i>why</i> I keep the lamp alight.</p>\n"
        "<P CLASS=v>No ship&nbsp;has rounded <A HREF='x'>Gannet Head</A> since"
        " spring.</P></body></html>"
    ),
    # SubRip: a number, a time with a comma before the thousandths, lines, a blank line (from memory)
    "subrip": (
        "1\n00:00:01,000 --> 00:00:04,000\nThey ask me why I keep\nthe lamp alight.\n\n"
        "2\n00:00:04,500 --> 00:00:07,250\n<i>No ship has rounded Gannet Head</i>\nsince spring.\n"
    ),
    # WebVTT: The Web Video Text Tracks Format (W3C): a first line, notes, times with a point and settings,
    # voices, times within a line
    "webvtt": (
        "WEBVTT - the lamp\nKind: captions\n\nNOTE made by hand\nand read once\n\n"
        "00:01.000 --> 00:04.000 align:start position:0%\n"
        "<v Wren>They ask me why I keep the lamp alight.</v>\n\n"
        "two\n00:00:04.500 --> 00:00:07.250\nNo ship has rounded <00:05.100>Gannet Head since spring.\n"
    ),
}


def said(script: Script) -> str:
    return " ".join(w.text for w in words_of(script))


@pytest.mark.parametrize("kind", sorted(PAGES))
def test_of_a_pasted_page_only_the_speech_itself_is_spoken(kind: str) -> None:
    assert said(parse_script(PAGES[kind])) == SPOKEN


@pytest.mark.parametrize("kind", sorted(PAGES))
def test_each_word_has_its_position_in_the_file(kind: str) -> None:
    script = parse_script(PAGES[kind])
    for w in words_of(script):
        assert PAGES[kind][w.start : w.end] == w.text


def test_a_paragraph_of_a_web_page_is_one_paragraph() -> None:
    assert [line.paragraph for line in parse_script(PAGES["page"]).lines] == [1, 2]


def test_each_passage_left_out_has_its_reason() -> None:
    reasons = {out.reason for out in parse_script(PAGES["page"]).left_out}
    assert {"heading", "web page", "tag"} <= reasons
    reasons = {out.reason for out in parse_script(PAGES["subrip"]).left_out}
    assert {"subtitle number", "time code"} <= reasons


@pytest.mark.parametrize(
    ("text", "spoken"),
    [
        ("And if a < b, what then?\nThen b > a, my friends.", "And if a b what then Then b a my friends"),
        (
            "At 10:15 the bell rang, and at 10:45 --> no, at eleven.\nNobody came.",
            "At 10:15 the bell rang and at 10:45 no at eleven Nobody came",
        ),
        ("Note how the mouth is sand.\nNote the boats.", "Note how the mouth is sand Note the boats"),
    ],
)
def test_a_speech_that_only_resembles_markup_or_subtitles_is_spoken_completely(
    text: str, spoken: str
) -> None:
    assert said(parse_script(text)) == spoken


def test_a_direction_in_angle_brackets_is_not_spoken_and_a_comparison_is() -> None:
    script = parse_script(
        "They ask me why <a pause> I keep the lamp. <She turns.> No ship has come, x < y and y > z."
    )
    assert said(script) == "They ask me why I keep the lamp No ship has come x y and y z"
    assert {out.reason for out in script.left_out} == {"stage direction"}


def test_subtitles_of_prose_become_one_paragraph_and_those_of_verse_keep_their_lines() -> None:
    prose = [
        "Six years ago the ferry stopped",
        "running, and kind people told us",
        "that the playhouse would not last.",
    ]
    verse = ["They ask me why I keep the lamp alight.", "No ship has rounded Gannet Head since spring,"]
    verse += ["The fish are gone, the harbour mouth is sand,", "And half the houses facing out to sea"]

    def subtitles(lines: list[str]) -> str:
        return "\n".join(
            f"{n}\n00:00:{n:02d},000 --> 00:00:{n:02d},900\n{line}\n" for n, line in enumerate(lines, 1)
        )

    for lines, form in ((prose, "prose"), (verse, "verse")):
        script = parse_script(subtitles(lines))
        assert script.form == form
        assert {line.paragraph for line in script.lines} == {1}
        assert [line.text for line in script.lines] == lines
