"""Verse or prose: what is measured of a block of lines, and where each bound lies."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from offbook.script.verse_or_prose import (
    Shape,
    _capital_prose,
    _is_clear,
    _is_short_paragraphs,
    _is_verse_line,
    _mixed_play,
    _play_is_verse,
    _small_letter_prose,
    is_verse,
    is_wrapped,
    line_is_paragraph,
    shape,
    verse_lines,
)

# Ten lines of verse with capitals, of which nothing would show prose.
VERSE = Shape(10, 40, 50, 0.0, 1.0, 0.0, 0.0, 0.1, False)


def fits(question: Any, fields: dict[str, float | None], more: dict[str, float | None]) -> bool:
    """The answer for a block that is like VERSE but for these fields."""
    return bool(question(replace(VERSE, **{**fields, **more})))  # type: ignore[arg-type]


def test_what_is_measured_of_a_block_of_lines() -> None:
    """The second line is as long as the first and the next word; the middle of four is the third."""
    s = shape(["The lamp is lit.", "and it. And so we-", 'do it all!"', "On"])
    assert (s.count, s.middle, s.longest) == (4, 16, 18)
    assert (s.filled, s.capital) == (2 / 3, 1 / 3)
    assert (s.stopped, s.several, s.divided) == (2 / 4, 1 / 4, True)
    assert s.spread == pytest.approx(0.5259, abs=1e-4)  # 16, 18, 11 and 2 characters, on average 11.75


def test_a_word_that_would_just_have_fitted_leaves_the_line_unfilled() -> None:
    assert shape(["12345678", "abc", "abcdefghijkl"]).filled == 0.5  # 8 and 3 with a blank are 12 of 12
    assert shape(["123456789", "abc", "abcdefghijkl"]).filled == 1.0
    assert shape(["12345678", "abc"], margin=12).filled == 0.0
    assert shape(["12345678", "abc"], margin=11).filled == 1.0
    assert shape(["12345678", "abc"], margin=3).filled == 1.0  # the widest line at least
    assert shape(["one"]).filled == 0.0


def test_capitals_are_counted_only_after_the_first_line_and_in_a_text_with_both_kinds_of_letters() -> None:
    assert shape(["the lamp", "The sea", "the Bell"]).capital == 0.5
    assert shape(["the lamp", "the sea"]).capital is None
    assert shape(["THE LAMP", "THE SEA"]).capital is None
    assert shape(["The lamp", "12", "“7 Men”"]).capital == 1.0
    assert shape(["The lamp", "12"]).capital is None


def test_the_pairs_of_lines_may_be_given_when_the_lines_come_from_several_blocks() -> None:
    s = shape(["The lamp", "the sea", "The bell", "the oar"], pairs=[("The bell", "the oar")])
    assert s.capital == 0.0 and s.count == 4 and s.divided is False


@pytest.mark.parametrize(("end", "divided"), [("-", True), ("\u00ad", True), ("–", False), ("7-", False)])
def test_a_word_is_divided_by_a_hyphen_after_a_letter_before_a_small_letter(end: str, divided: bool) -> None:
    assert shape([f"The lam{end}", "p is lit"]).divided is divided
    assert shape([f"The lam{end}", "Panes are lit"]).divided is False


@pytest.mark.parametrize(
    ("fields", "prose"),
    [
        # two lines that both stop, one of them longer than 75 characters
        *(
            ({"count": 2, "stopped": 1.0, "longest": 76}, True),
            ({"count": 2, "stopped": 1.0, "longest": 75}, False),
        ),
        *(
            ({"count": 2, "stopped": 0.5, "longest": 76}, False),
            ({"count": 3, "stopped": 0.5, "longest": 76}, False),
        ),
        # stops at the ends of six tenths of three lines or more, and inside more than three tenths
        *(({"stopped": 0.6, "several": 0.31}, True), ({"stopped": 0.6, "several": 0.3}, False)),
        *(
            ({"stopped": 0.59, "several": 0.31}, False),
            ({"stopped": 0.6, "several": 0.31, "count": 2}, False),
        ),
        ({"stopped": 0.6, "several": 0.31, "count": 3}, True),
        # nearly all lines stop: a middle of more than 88 characters, or four sentences of uneven length
        *(({"stopped": 0.9, "middle": 89}, True), ({"stopped": 0.9, "middle": 88}, False)),
        *(({"stopped": 0.89, "middle": 89}, False), ({"stopped": 0.9, "middle": 89, "count": 2}, False)),
        *(
            ({"stopped": 1.0, "spread": 0.26, "count": 4}, True),
            ({"stopped": 1.0, "spread": 0.25, "count": 4}, False),
        ),
        *(({"stopped": 1.0, "spread": 0.26, "count": 3}, False), ({"stopped": 0.99, "spread": 0.26}, False)),
        # very long lines
        *(({"middle": 131}, True), ({"middle": 130}, False)),
        *(({"longest": 111, "stopped": 0.6}, True), ({"longest": 110, "stopped": 0.6}, False)),
        *(({"longest": 111, "stopped": 0.59}, False), ({}, False)),
    ],
)
def test_lines_that_begin_with_capitals_are_prose_by_their_stops_and_lengths(
    fields: dict[str, float | None], prose: bool
) -> None:
    assert fits(_capital_prose, fields, {}) is prose


@pytest.mark.parametrize(
    ("fields", "prose"),
    [
        *(({"middle": 89}, True), ({"middle": 88}, False), ({}, False)),
        *(({"several": 0.3, "longest": 61}, True), ({"several": 0.3, "longest": 60}, False)),
        ({"several": 0.29, "longest": 61}, False),
        *(({"longest": 101, "capital": None}, True), ({"longest": 100, "capital": None}, False)),
        *(({"longest": 101, "capital": 0.59}, True), ({"longest": 101, "capital": 0.6}, False)),
        *(({"longest": 101, "stopped": 0.61}, True), ({"longest": 101, "stopped": 0.6}, False)),
    ],
)
def test_lines_that_begin_with_small_letters_are_prose_by_their_lengths(
    fields: dict[str, float | None], prose: bool
) -> None:
    assert fits(_small_letter_prose, fields, {}) is prose


SMALL: dict[str, float | None] = {"capital": 0.5}


@pytest.mark.parametrize(
    ("fields", "wrapped"),
    [
        # full lines: eight tenths, at least 28 characters, fewer than eight tenths of them with capitals
        *(
            ({"filled": 0.8, "longest": 36, "count": 5}, True),
            ({"filled": 0.79, "longest": 36, "count": 5}, False),
        ),
        *(
            ({"filled": 0.8, "longest": 35, "count": 5}, False),
            ({"filled": 0.8, "longest": 35, "count": 6}, True),
        ),
        *(({"filled": 0.8, "longest": 28}, True), ({"filled": 0.8, "longest": 27}, False)),
        *(({"filled": 0.8, "capital": 0.79}, True), ({"filled": 0.8, "capital": 0.8}, False)),
        ({"filled": 0.8, "capital": None}, True),
        # of two lines one end proves little
        *(({"filled": 1.0, "count": 2, "longest": 55, "capital": 0.0}, True),),
        *(({"filled": 1.0, "count": 2, "longest": 54, "capital": 0.0}, False),),
        *(({"filled": 1.0, "count": 2, "longest": 55, "capital": 0.5}, False),),
        # nearly all lines with small letters: fewer full lines, or still fewer if a word is divided
        *(
            ({"capital": 0.3, "filled": 0.65, "longest": 55}, True),
            ({"capital": 0.3, "filled": 0.64, "longest": 55}, False),
        ),
        *(
            ({"capital": 0.3, "filled": 0.65, "longest": 54}, False),
            ({"capital": 0.31, "filled": 0.65, "longest": 55}, False),
        ),
        *(
            ({"capital": 0.3, "filled": 0.5, "divided": True}, True),
            ({"capital": 0.3, "filled": 0.49, "divided": True}, False),
        ),
        *(({"capital": 0.3, "filled": 0.5, "divided": True, "count": 4}, True),),
        *(({"capital": 0.3, "filled": 0.5, "divided": True, "count": 3}, False),),
        *(({"capital": None, "filled": 0.5, "divided": True}, False),),
        *(({"capital": 0.3, "filled": 0.5, "divided": True, "longest": 27}, False),),
    ],
)
def test_a_block_is_wrapped_to_a_margin_if_enough_of_its_lines_are_full(
    fields: dict[str, float | None], wrapped: bool
) -> None:
    assert fits(is_wrapped, SMALL, fields) is wrapped


@pytest.mark.parametrize(
    ("fields", "verse", "clear"),
    [
        *(({}, True, True), ({"longest": 75}, True, True), ({"longest": 76}, True, False)),
        *(({"stopped": 0.79}, True, True), ({"stopped": 0.8}, True, False)),
        *(({"capital": 0.9, "filled": 0.41}, True, True), ({"capital": 0.89, "filled": 0.41}, True, False)),
        *(({"capital": 0.89, "filled": 0.4}, True, True), ({"capital": None, "filled": 0.4}, True, True)),
        ({"capital": None, "filled": 0.41}, True, False),
        *(({"middle": 89}, False, True), ({"middle": 88}, False, False)),
        ({"capital": 0.5, "filled": 0.8}, False, True),
    ],
)
def test_a_block_may_differ_from_the_text_around_it_only_if_it_is_clear(
    fields: dict[str, float | None], verse: bool, clear: bool
) -> None:
    assert _is_clear(replace(VERSE, **fields), verse) is clear  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("line", "verse"),
    [
        *(("Ba" + " ba" * 5, True), ("Ba" + " ba" * 5 + ".", True), ("Ba" + " ba" * 4 + ".", False)),
        *(("Ba" + " ba" * 4, True), ("Ba" + " ba" * 3, True), ("Ba" + " ba" * 2, False)),
        *(("Ba" + " ba" * 17, True), ("Ba" + " ba" * 18, False)),
        *(("ba" + " ba" * 5 + ".", False), ("ba" + " ba" * 5, True), ("ba" + " ba" * 5 + "!", True)),
        *(("B" * 67 + " ba" * 6, True), ("B" * 68 + " ba" * 6, False)),
        *(("Ba ba. Ba ba ba ba", True), ("Ba ba. Ba ba. Ba ba", False)),
    ],
)
def test_a_single_line_is_verse_by_its_syllables_its_length_and_its_stops(line: str, verse: bool) -> None:
    """Four to eighteen syllables, six if it stops; 85 characters and one stop inside at most."""
    assert _is_verse_line(line) is verse
    assert is_verse([line]) is verse


LINE = "The lamp was lit before the tide came in"
FULL = "i kept the lamp for eleven winters and nobody ever asked me what it cost me to"


def test_a_block_is_verse_or_prose_as_the_whole_text_is_if_it_has_fewer_than_four_lines() -> None:
    prose, verse = [f"{FULL}" for _ in range(8)], [f"{LINE}" for _ in range(8)]
    assert verse_lines([verse, prose[:1]]) == [True, True]
    assert verse_lines([verse, prose[:3]]) == [True, False]  # wrapped to a margin
    assert verse_lines([prose, verse[:3]]) == [False, False]
    assert verse_lines([prose, verse[:4]]) == [False, True]
    assert verse_lines([verse, ["x" * 110]]) == [True, True]
    assert verse_lines([verse, ["x" * 111]]) == [True, False]
    assert verse_lines([]) == [] and verse_lines([[]]) == []


def test_a_play_of_verse_and_prose_is_divided_by_the_capitals_of_its_lines() -> None:
    small = [f"{LINE},", "and so it was"]
    verse = [f"{LINE},", "And so it was"]
    assert _mixed_play([verse, ["No."], small, ["No."], verse], False) == [True, True, False, False, True]
    assert _mixed_play([["No."], verse], False) == [False, True]
    assert _mixed_play([["No."], verse], True) == [True, True]
    long = [f"{'x' * 75},", "And so"]
    assert _mixed_play([[f"{'x' * 75}", "And so"]], False) == [True]
    assert _mixed_play([long], False) == [False]
    assert _mixed_play([[LINE] * 5 + ["and so"]], False) == [True]  # eight tenths with a capital
    assert _mixed_play([[LINE] * 4 + ["and so"]], True) == [False]


@pytest.mark.parametrize(
    ("capitals", "small", "found"),
    [
        *((1, 9, [False, True]), (1, 10, [False, False]), (19, 1, [True, False]), (20, 1, [True, True])),
        *((5, 5, [True, False]), (4, 5, [False, False])),
    ],
)
def test_a_play_has_both_kinds_if_a_tenth_to_nineteen_twentieths_of_its_lines_begin_with_capitals(
    capitals: int, small: int, found: list[bool]
) -> None:
    """The first speech of one line is like the larger part; the others by their own capitals."""
    blocks = [["So it was"], *[[LINE, "And so"]] * capitals, *[[LINE, "and so"]] * small]
    shown = verse_lines(blocks, speeches=True)
    assert [shown[0], shown[-1] if found[1] is shown[-1] else shown[1]] == found


@pytest.mark.parametrize(
    ("capitals", "size", "whole", "verse"),
    [
        *((6, 60, False, True), (6, 61, False, False), (6, 61, True, True), (5, 60, True, False)),
        (10, 60, False, True),
    ],
)
def test_a_play_with_lines_that_run_on_is_verse_by_its_capitals_and_the_length_of_its_lines(
    capitals: int, size: int, whole: bool, verse: bool
) -> None:
    every = [("So " if k <= capitals else "so ").ljust(size, "x") for k in range(11)]
    assert _play_is_verse([every], every, whole) is verse


def test_a_play_whose_lines_all_stop_is_verse_if_they_are_even_and_the_text_looks_like_it() -> None:
    def of(sizes: tuple[int, ...], stops: int, whole: bool = True) -> bool:
        every = ["So ".ljust(size - 1, "x") + ("." if k < stops else "x") for k, size in enumerate(sizes)]
        return _play_is_verse([[line] for line in every], every, whole)

    assert of((40,) * 10, 7) and not of((40,) * 10, 8) and not of((40,) * 10, 7, whole=False)
    assert of((40, 20) * 5, 0) and not of((40, 19) * 5, 0)  # a spread of 0.333 and of 0.356


@pytest.mark.parametrize(
    ("blocks", "paragraphs"),
    [
        ([["So it was."], ["And so."]], True),
        ([["So it was."], ["And so"]], False),
        ([["So it was."]], False),
        ([["So it was.", "And so."]], False),
        # four blocks, six tenths of them short, seven tenths of one line, of very uneven lengths
        ([["x" * 61]] + [["so"]] * 3, True),
        ([["x" * 60]] + [["so"]] * 3, False),
        ([["x" * 61]] + [["so"]] * 2, False),
        ([["x" * 61]] + [["so"]] * 6 + [["so", "so"]] * 3, True),
        ([["x" * 61]] + [["so"]] * 5 + [["so", "so"]] * 4, False),
        ([["x" * 61]] + [["so"]] * 9 + [["so"] * 3], True),
        # nearly all end a sentence, and some have one inside
        ([["So. And so it was, my friends, so.", "So."]] * 4, True),
        ([["So. And so it was, my friends, so.", "So"]] * 4, False),
    ],
)
def test_short_paragraphs_are_told_from_verse_by_their_number_their_ends_and_their_lengths(
    blocks: list[list[str]], paragraphs: bool
) -> None:
    assert _is_short_paragraphs(blocks, [line for block in blocks for line in block]) is paragraphs


def test_each_line_is_a_paragraph_if_three_quarters_of_them_stop() -> None:
    stop, on = "I kept the lamp.", "I kept the lamp"
    assert line_is_paragraph([stop] * 3 + [on]) and not line_is_paragraph([stop] * 2 + [on])
    assert not line_is_paragraph([stop]) and not line_is_paragraph([])
    full = ["I kept the lamp for eleven winters, you see."] * 4
    assert line_is_paragraph(full) and not line_is_paragraph(full, wrapped_page=True)
    assert line_is_paragraph([*full, f"{full[0]} And so I went away."], wrapped_page=True)


@pytest.mark.parametrize(("capitals", "verse"), [(17, True), (16, False)])
def test_long_lines_are_verse_if_at_least_85_of_100_begin_with_a_capital(capitals: int, verse: bool) -> None:
    """Of the lines after the first, here twenty of a hundred characters."""
    lines = [("So " if k <= capitals else "so ").ljust(100, "x") for k in range(21)]
    assert is_verse(lines) is verse
