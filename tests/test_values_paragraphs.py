"""From the page to its lines: where each begins and ends, paragraphs, parts, cues, and what was left out."""

from __future__ import annotations

import pytest

from offbook.errors import ScriptError
from offbook.script import parse_script, part_names
from offbook.script.reading import close_gaps
from tests.read_pages import lines_said, not_said

ROW = "i kept the lamp for eleven winters and nobod"


def paragraphs(text: str) -> list[int]:
    """The number of each line's paragraph."""
    return [line.paragraph for line in parse_script(text).lines]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        *(("> So it was\n", "So it was"), ("• So it was\n", "So it was"), ("> - So it was\n", "So it was")),
        *(("- So it was\n", "- So it was"), ("▪ So — it was\n", "So — it was")),
        *(("[low] - So it was\n", "So it was"), ("(pause) . So it was (pause)\n", "So it was")),
        *(("[low] “So it was”\n", "“So it was”"), ("[low] 7) So it was\n", "7) So it was")),
        *(("So it was [low].\n", "So it was."), ("So [low] , it was\n", "So, it was")),
        *(("So [low]  it   was\n", "So it was"), ("So  it   was\n", "So  it   was")),
        # a terminal would obey these characters
        *(
            ("So it\x07 was\n", "So it  was"),
            ("So\x7fit\x9fwas\x80.\n", "So it was ."),
            ("So\x00it\n", "So it"),
        ),
        *(("So\x1fit\n", "So it"), ("So\tit\n", "So\tit"), ("So\xa0it\n", "So\xa0it")),
    ],
)
def test_a_line_begins_and_ends_with_what_is_spoken(text: str, said: str) -> None:
    script = parse_script(text)
    assert lines_said(script) == [said]
    (line,) = script.lines
    assert script.text[line.start] == said[0] and script.text[line.end - 1] == said[-1]


def test_characters_that_end_a_line_or_a_page_stay() -> None:
    for end in "\n\v\f\x85\u2028\u2029":
        assert lines_said(f"So it was{end}And so on") == ["So it was", "And so on"]


def test_gaps_before_stops_are_closed() -> None:
    assert close_gaps("So  , it \n was ; so : he ! said ? ok .") == "So, it was; so: he! said? ok."
    assert close_gaps("So ( it )") == "So ( it )"


def spaced(*gaps: int) -> str:
    """Rows with so many blank lines below each."""
    return "".join(f"{ROW}{chr(97 + k)}\n" + "\n" * gap for k, gap in enumerate(gaps)) + "and so"


@pytest.mark.parametrize(
    ("gaps", "found"),
    [
        ((1,) * 5, [1] * 6),
        ((1,) * 4, [1, 2, 3, 4, 5]),
        ((1, 1, 1, 1, 1, 1, 1, 2, 2, 2), [1, 1, 1, 1, 1, 1, 1, 1, 2, 3, 4]),
        ((1, 1, 1, 1, 1, 1, 2, 2, 2, 2), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]),
        ((1, 1, 1, 1, 1, 1, 1, 1, 1, 0), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 10]),
    ],
)
def test_a_page_is_double_spaced_if_seven_tenths_of_six_rows_have_a_blank_line_below_and_none_has_no_one(
    gaps: tuple[int, ...], found: list[int]
) -> None:
    """Then only two blank lines begin a paragraph."""
    assert paragraphs(spaced(*gaps)) == found


def indented(columns: int, *which: int, count: int = 10, end: str = ".") -> str:
    return "".join((" " * columns if k in which else "") + f"{ROW}y{end}\n" for k in range(count))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (indented(2, 0, 3, 6), [1] * 3 + [2] * 3 + [3] * 4),
        (indented(1, 0, 3, 6), [1] * 10),
        (indented(2, 0, 3, 6, end=","), [1] * 10),
        (indented(2, 0, 3, 4), [1] * 3 + [2] * 7),
        (indented(2, 0, 3, 5, 7), [1] * 3 + [2] * 2 + [3] * 2 + [4] * 3),
        (indented(2, 0, 3, 5, 7, 9), [1] * 10),
    ],
)
def test_an_indent_of_two_columns_after_a_stop_begins_a_paragraph(text: str, found: list[int]) -> None:
    """If at most four tenths of the rows are indented, and not the row above."""
    assert paragraphs(text) == found


@pytest.mark.parametrize("end", [".", "?", "!", "…", ":", "?”", ".)"])
def test_after_a_stop_before_the_end_of_a_page_a_paragraph_begins(end: str) -> None:
    below = "and so i went away from there then.\nand so it was, and so it was.\n"
    assert paragraphs(f"{ROW}y and it{end}\n\n- 3 -\n\n{below}") == [1, 2, 2]
    assert paragraphs(f"{ROW}y and it,\n\n- 3 -\n\n{below}") == [1, 1, 1]
    assert paragraphs(f"{ROW}y and it\n\n- 3 -\n\n{below}") == [1, 1, 1]
    assert paragraphs(f"{ROW}y and it,\n\n{below}") == [1, 2, 2]


def test_a_block_of_a_web_page_begins_a_paragraph_and_other_tags_do_not() -> None:
    for tag, found in (("p", 2), ("DIV class='a'", 2), ("li", 2), ("blockquote", 2), ("b", 1), ("pre", 1)):
        name = tag.partition(" ")[0]
        assert paragraphs(f"<p>{ROW}y,</p>\n<{tag}>{ROW}z.</{name}>\n") == [1, found], tag


PLAY = (
    "ANNA\nWho is there?\n\nBEN\nNobody.\nI said so.\n\nMISS CLEO GREY\nNo.\n\n"
    "ANNA\nSo.\n\nBEN\nNo.\n\nANNA\nSo.\n\n"
)


@pytest.mark.parametrize(
    ("wanted", "part"),
    [
        *(("ANNA", "ANNA"), ("anna", "ANNA"), ("  Anna ", "ANNA"), ("cleo", "MISS CLEO GREY")),
        *(("miss  cleo grey", "MISS CLEO GREY"), ("Grey", "MISS CLEO GREY")),
    ],
)
def test_a_part_is_chosen_by_its_name_or_by_one_word_of_it(wanted: str, part: str) -> None:
    assert parse_script(PLAY, part=wanted).part == part


@pytest.mark.parametrize("wanted", ["", " ", "A", "ann", "cleo grey", "Zoe"])
def test_a_part_that_is_not_there_is_refused_with_the_names_of_all(wanted: str) -> None:
    with pytest.raises(ScriptError) as refused:
        parse_script(PLAY, source="a.txt", part=wanted)
    assert refused.value.what == f"a.txt has no part {wanted!r}"
    assert refused.value.do == "choose one of its parts: ANNA, BEN, MISS CLEO GREY"
    with pytest.raises(ScriptError) as refused:
        parse_script("So it was.\n", part=wanted)
    assert refused.value.what == f"the text names no parts, so it has no part {wanted!r}"
    assert refused.value.do == "leave the part out"


def test_a_word_that_is_in_two_names_chooses_neither() -> None:
    text = PLAY.replace("BEN", "MISS DORA")
    with pytest.raises(ScriptError, match="has no part 'miss'"):
        parse_script(text, part="miss")


def test_of_many_parts_twelve_are_listed_and_the_rest_counted() -> None:
    names = tuple(f"N{k}" for k in range(1, 15))
    assert part_names(names[:12]) == "N1, N2, N3, N4, N5, N6, N7, N8, N9, N10, N11, N12"
    assert part_names(names[:13]) == part_names(names[:12]) + " and 1 more"
    assert part_names(names) == part_names(names[:12]) + " and 2 more"


def test_the_cues_of_a_part_are_whole_speeches_with_the_line_that_follows_them() -> None:
    script = parse_script(PLAY, part="anna")
    assert [(line.n, line.text) for line in script.lines] == [(1, "Who is there?"), (2, "So."), (3, "So.")]
    assert [(cue.speaker, cue.text, cue.before_line) for cue in script.cues] == [
        ("BEN", "Nobody. I said so.", 2),
        ("MISS CLEO GREY", "No.", 2),
        ("BEN", "No.", 3),
    ]
    assert [script.text[cue.start : cue.end] for cue in script.cues] == ["Nobody.\nI said so.", "No.", "No."]
    assert [cue.before_line for cue in parse_script(PLAY, part="ben").cues] == [1, 3, 3, None]


def test_a_cue_in_verse_keeps_its_line_ends() -> None:
    verse = "The lamp was lit before the tide came in,\nAnd nobody was told but you and me,\nAnd so it was"
    text = "".join(f"{name}\n{verse}\n\n" for name in ("ANNA", "BEN", "ANNA", "BEN"))
    assert parse_script(text, part="anna").cues[0].text == verse


def test_a_text_without_words_is_refused_with_the_reason_and_the_way_out() -> None:
    for text, more in (("...\n", ""), ("[low]\n", ": all of it was left out")):
        with pytest.raises(ScriptError) as refused:
            parse_script(text, source="a.txt")
        assert refused.value.what == f"a.txt has no words to say{more}"
        assert refused.value.do == "give a script with text in it"


def test_stretches_left_out_for_one_reason_are_joined_over_blanks_and_trimmed_of_marks() -> None:
    assert not_said("I kept [low] [lower] it.\n") == [("[low] [lower]", "stage direction")]
    assert not_said("I kept [low], [lower] it.\n") == [
        ("[low]", "stage direction"),
        ("[lower]", "stage direction"),
    ]
    assert not_said("I kept [low]\n[lower] it.\n") == [
        ("[low]", "stage direction"),
        ("[lower]", "stage direction"),
    ]
    assert not_said("ANNA: So.\nBEN (V.O.): No.\nANNA: So.\n")[:2] == [
        *(("ANNA", "speaker name"), ("BEN (V.O.)", "speaker name"))
    ]
    assert not_said("So it was [...] and so on.\n") == []


def test_what_was_left_out_is_where_it_says_it_is() -> None:
    script = parse_script("ANNA (low): So.\n\nBEN: [aside] No. [He goes.]\n\nANNA: So.\n")
    assert [script.text[out.start : out.end] for out in script.left_out] == [
        out.text for out in script.left_out
    ]
    assert [out.start for out in script.left_out] == [0, 5, 17, 22, 34, 46]
