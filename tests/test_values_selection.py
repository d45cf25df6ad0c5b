"""A line of a script cut down to a stretch of it: which words, stops and quotation marks stay."""

from __future__ import annotations

import pytest

from offbook.script import parse_script
from offbook.script.selection import _trim_line

LINE = "She said: “Nobody, nobody knows (or asks)!” and went."
SCRIPT = parse_script(LINE + "\nThen the lamp went out.\n")


def cut(first: str, last: str, early: int = 0, late: int = 0) -> tuple[str, str]:
    """The text of the first line from one word to another, and what it stands for in the script.

    early, late: by how many characters the stretch begins and ends elsewhere.
    """
    start, end = LINE.index(first) + early, LINE.index(last) + len(last) + late
    line = _trim_line(SCRIPT, SCRIPT.lines[0], start, end)
    return line.text, SCRIPT.text[line.start : line.end]


def test_a_line_that_is_wholly_inside_stays_as_it_is() -> None:
    line = SCRIPT.lines[0]
    assert _trim_line(SCRIPT, line, line.start, line.end) is line
    assert _trim_line(SCRIPT, line, 0, len(SCRIPT.text)) is line


@pytest.mark.parametrize(
    ("first", "last", "text"),
    [
        ("She", "said", "She said:"),
        ("Nobody", "nobody", "“Nobody, nobody"),
        ("Nobody", "knows", "“Nobody, nobody knows"),
        ("or", "asks", "(or asks)!”"),
        ("and", "went", "and went."),
        ("said", "Nobody", "said: “Nobody,"),
    ],
)
def test_words_keep_the_marks_that_open_before_them_and_close_after_them(
    first: str, last: str, text: str
) -> None:
    shown, _ = cut(first, last)
    assert shown == text


def test_a_word_of_which_a_letter_is_outside_goes_as_a_whole() -> None:
    assert cut("nobody", "asks")[0] == "nobody knows (or asks)!”"
    assert cut("nobody", "asks", early=1)[0] == "knows (or asks)!”"
    assert cut("nobody", "asks", late=-1)[0] == "nobody knows (or"
    assert cut("knows", "knows", early=1, late=-1)[0] == ""
    assert cut("went", "went", late=-1)[0] == ""


def test_a_line_that_is_cut_down_stands_for_its_own_stretch_of_the_script() -> None:
    assert cut("Nobody", "nobody")[1] == "“Nobody, nobody"
    assert cut("or", "asks")[1].startswith("(or asks)")
    assert cut("said", "went")[1] == LINE[LINE.index("said") :]
