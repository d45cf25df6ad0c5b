"""Web pages, subtitles and lines on the author, at the bounds of each rule."""

from __future__ import annotations

import pytest

from offbook.script.finders.by_line import is_by_line
from offbook.script.finders.heading_lines import heading_certainty, is_exclamation, is_reference, is_title
from offbook.script.sheet import Page, Sheet, roman_value, text_rows
from tests.read_pages import lines_said, not_said

ROW = "I kept the lamp for eleven winters"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # one tag is part of a text, two are a web page
        *((f"{ROW} <br/> now", f"{ROW} <br/> now"), (f"{ROW} <b>now</b>", f"{ROW} now")),
        *((f"{ROW}<br>now<br/>", f"{ROW} now"), (f"{ROW}<!-- so --> now <b>", f"{ROW} now")),
        # tags that only set the type separate no words, others do
        *((f"{ROW}<i>l</i>y", f"{ROW}ly"), (f"{ROW}<div>l</div>y", f"{ROW} l y")),
        # attributes have an equals sign
        *(
            (f"{ROW} <a href='x'>now</a>", f"{ROW} now"),
            (f"{ROW} <a pause> now <b>so</b>", f"{ROW} now so"),
        ),
        # what is never read aloud
        *((f"<script>x<b>y</script>{ROW}<b>", ROW), (f"<style a='b'>x</STYLE >{ROW}<b>", ROW)),
        *((f"<title>x</title><h2>y</h2>{ROW}", ROW), (f"<!DOCTYPE html><b>{ROW}", ROW)),
        *((f"<!-- x <b>y --><i>{ROW}</i>", ROW),),
        # blanks that are written as codes, on a web page only
        *((f"<b>{ROW}</b>&nbsp;now", f"{ROW} now"), (f"{ROW}&nbsp;now", f"{ROW}&nbsp;now")),
    ],
)
def test_of_a_web_page_the_text_is_spoken(text: str, said: str) -> None:
    assert " ".join(lines_said(text + "\n")) == said


def test_after_a_script_that_is_never_closed_the_text_is_spoken() -> None:
    said = " ".join(lines_said(f"<script>{ROW} <script> so <b>it</b> was\n"))
    assert said == f"{ROW} so it was"


def test_the_headings_of_a_web_page_are_headings_and_its_scripts_are_not() -> None:
    text = f"<h1>Lamp</h1><script>x</script><p>{ROW}</p>\n"
    assert [why for _, why in not_said(text)] == ["heading", "web page", "tag", "tag"]


def cue(number: str, *lines: str, at: int = 1) -> str:
    return (
        f"{number}\n00:00:0{at},000 --> 00:00:0{at + 1},000\n" + "".join(f"{line}\n" for line in lines) + "\n"
    )


def test_two_time_codes_make_subtitles_and_one_does_not() -> None:
    one, two = cue("1", ROW), cue("1", ROW) + cue("2", "And so it was", at=2)
    assert lines_said(two) == [ROW, "And so it was"]
    assert [why for _, why in not_said(two)] == ["subtitle number", "time code"] * 2
    assert ROW in lines_said(one) and "time code" not in [why for _, why in not_said(one)]


def test_a_row_above_a_time_code_is_its_number_or_in_webvtt_its_name() -> None:
    def named(name: str, head: str) -> list[str]:
        return lines_said(head + cue("1", ROW) + cue(name, "And so it was", at=2))

    assert named("two", "") == [ROW, "two", "And so it was"]
    assert named("two", "WEBVTT\n\n") == [ROW, "And so it was"]
    assert named("12345", "") == [ROW, "And so it was"] and named("123456", "")[1] == "123456"
    assert named("so\n2", "WEBVTT\n\n") == [ROW, "so", "And so it was"]
    assert named("so\ntwo", "WEBVTT\n\n") == [ROW, "so", "two", "And so it was"]


def test_the_head_and_the_notes_of_webvtt_reach_to_a_blank_line_and_its_voices_are_not_spoken() -> None:
    head = "WEBVTT - the lamp\nKind: captions\n\nNOTE made by hand\nand read\n\nSTYLE\nx\n\n"
    text = head + cue("1", "<v Rosa>I kept <c.low>the lamp</c>") + cue("2", "NOTE it, they said", at=2)
    assert lines_said(text) == ["I kept the lamp", "NOTE it, they said"]
    left = [out for out, why in not_said(text) if why == "subtitle heading"]
    assert left[0].startswith("WEBVTT") and "Kind: captions" in " ".join(left) and len(" ".join(left)) > 40
    assert lines_said(text.replace("NOTE made", "Notes made"))[:2] == ["Notes made by hand", "and read"]


# Lines on the author ---------------------------------------------------------------------------------


def by_line(text: str, row: int = 1) -> bool:
    """Whether this row of a page, counted from 0, says who wrote it; set apart if a blank row follows it."""
    sheet = Sheet(Page(text))
    rows = text_rows(text)
    return is_by_line(sheet, rows[row], apart=row + 1 < len(rows) and rows[row + 1].blank)


VERSE = "The lamp was lit\nAnd nobody was told\nAnd so it was\n"
SMALL = "the lamp was lit\nand nobody was told\nand so it was\n"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        *((f"The Lamp\nby nobody in particular\n\n{VERSE}", True), (f"The Lamp\nby nobody\n{VERSE}", True)),
        *((f"The Lamp\nby nobody\n{SMALL}", False), (f"The Lamp\nby nobody\n\n{SMALL}", False)),
        *(
            (f"The Lamp\nby nobody\nThe lamp\n{SMALL}", False),
            (f"The Lamp\nby nobody\n\nThe lamp\n{SMALL}", True),
        ),
        *((f"The Lamp\nBy the harbour\n\n{VERSE}", True), (f"The Lamp\nBy the harbour\n{VERSE}", False)),
        *(
            (f"The Lamp\nBy the harbour\n\n{VERSE[:17]}\n", False),
            (f"The Lamp\nby nobody,\n\n{VERSE}", False),
        ),
        # seven words at most
        *(
            (f"The Lamp\nby {'so ' * 5}so\n\n{VERSE}", True),
            (f"The Lamp\nby {'so ' * 6}so\n\n{VERSE}", False),
        ),
        # under the only row above it, which is a title, or may be if somebody wrote it
        *((f"The Lamp\nso\nby nobody\n\n{VERSE}", False), (f"The Lamp,\nby nobody\n\n{VERSE}", False)),
        *((f"How we kept it\nby nobody\n\n{VERSE}", True), (f"How we kept it\nby night\n\n{VERSE}", False)),
        *(
            (f"how we kept it\nby nobody\n\n{VERSE}", False),
            (f"How {'we ' * 6}so\nby nobody\n\n{VERSE}", False),
        ),
        *((f"How {'we ' * 5}so\nby nobody\n\n{VERSE}", True), ("The Lamp\nby nobody\n", False)),
        *(
            (f"How we kept it\nby an old friend\n\n{VERSE}", True),
            (f"How we kept it\nby an old man\n\n{VERSE}", False),
        ),
    ],
)
def test_a_by_line_without_a_name_stands_under_a_title_and_over_a_capital(text: str, found: bool) -> None:
    row = next(k for k, line in enumerate(text.split("\n")) if line.lower().startswith("by "))
    assert by_line(text, row) is found


# Headings by themselves --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "certainty"),
    [
        *((" " * 3, 0), ("The Lamp,", 0), ("The Lamp;", 0), ("The Lamp", 1), ("the lamp", 0), ("1962", 1)),
        *(("T" * 100, 1), ("T" * 101, 0), ("The Lamp, by Rosa Vane", 2), ("The Lamp, and so", 0)),
        *(("The Lamp - Rosa Vane", 1), ("Monologue", 1), ("A monologue", 2), ("My monologue", 0)),
        *(("from The Lamp", 2), ("from the lamp", 0), ("from “The Lamp”", 2), ("Rosa's speech", 2)),
        *(("the dog's speech", 2), ("Rosa's speech, from The Lamp", 2), ("Twelfth Night 2.2", 2)),
        *(("twelfth night 2.2", 0), ("Hamlet III.i.56-90", 2), ("Macbeth Act 1", 2), ("Character: Rosa", 2)),
        *(("Who: me", 0), ("SCENE II. The sea", 2), ("SCENE II. the sea", 0), ("Scene 2: I wait", 0)),
        *(("https://a.example", 2), ("© Rosa", 2), ("Sonnet 18", 2), ("Sonnet", 1)),
    ],
)
def test_a_row_is_surely_or_perhaps_a_heading_or_none(row: str, certainty: int) -> None:
    assert heading_certainty(row) == certainty


def test_a_title_has_nine_words_at_most_and_capitals_on_all_but_the_small_ones() -> None:
    nine = "One Two Three Four Five Six Seven Eight Nine"
    for row in (nine, "The Lamp of the Sea", "“The Lamp.”", "3 Sisters", "Of Mice and Men"):
        assert is_title(row), row
    for row in (f"{nine} Ten", "The lamp of the Sea", "the Lamp", "The Lamp:", "The Lamp. the End", "7", ""):
        assert not is_title(row), row


def test_acts_scenes_and_lines_are_references_and_a_shout_is_a_single_word() -> None:
    for row in ("Act 2, Scene 1", "III.i.56-90", "2.2", "lines 3-20", "l. 5", "(Act 2)", "5.10"):
        assert is_reference(row), row
    for row in ("Act of love", "6.2", "Lines", "2", "2.2 and so"):
        assert not is_reference(row), row
    assert is_exclamation("Fire!") and is_exclamation("— silence —")
    assert not is_exclamation("Fire, fire!") and not is_exclamation("Lamp!") and not is_exclamation("")


def test_roman_numerals_are_subtracted_before_a_larger_one() -> None:
    for numeral, value in (("i", 1), ("IV", 4), ("ix", 9), ("XC", 90), ("MCMLXII", 1962), ("CD", 400)):
        assert roman_value(numeral) == value
    with pytest.raises(KeyError):
        roman_value("A")
