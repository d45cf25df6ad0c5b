"""Numbers beside the lines of a page: which count lines and are left out, and which are spoken."""

from __future__ import annotations

import pytest

from tests.read_pages import lines_said, not_said

LINE = "The lamp was lit before the tide came in"
ASIDE = "(Which nobody had asked of me before,"  # begins with a bracket and is spoken
PROSE = "I kept the lamp for eleven winters, and nobody in the town ever asked me what it cost to keep it or"


def page(ends: dict[int, str], count: int = 12, row: str = LINE) -> str:
    """So many equal rows, some with something more behind them. ends: by the number of the row, from 1."""
    return "".join(f"{row}{ends.get(k, '')}\n" for k in range(1, count + 1))


def numbers_left_out(text: str) -> list[str]:
    """The line numbers of a page, in order; "?" behind one that could also be spoken."""
    return [
        f"{out}{reason[len('line number') :]}" for out, reason in not_said(text) if "line number" in reason
    ]


@pytest.mark.parametrize(
    ("lines", "found"),
    [(3, []), (4, ["25", "30"]), (5, ["25", "30"]), (6, ["25", "30"]), (7, [])],
)
def test_two_numbers_five_apart_count_lines_if_four_to_six_lines_are_between_them(
    lines: int, found: list[str]
) -> None:
    """An edition may count a line that is printed over two rows as one."""
    assert numbers_left_out(page({3: " 25", 3 + lines: " 30"})) == found


@pytest.mark.parametrize(
    ("numbers", "lines", "found"),
    [
        *((15, 13, False), (15, 14, True), (15, 16, True), (15, 17, False)),
        *((20, 17, False), (20, 18, True), (20, 22, True), (20, 23, False)),
    ],
)
def test_for_every_twenty_lines_the_count_may_differ_by_one_more(
    numbers: int, lines: int, found: bool
) -> None:
    ends = {1: " 5", 1 + lines: f" {5 + numbers}"}
    assert numbers_left_out(page(ends, 26)) == (["5", f"{5 + numbers}"] if found else [])


def test_the_same_number_at_the_ends_of_two_lines_is_spoken() -> None:
    text = page({3: " 10", 4: " 10"})
    assert not_said(text) == [] and lines_said(text)[2:4] == [f"{LINE} 10"] * 2


def test_numbers_that_fall_or_are_no_multiples_of_five_are_spoken() -> None:
    assert numbers_left_out(page({3: " 30", 8: " 25"})) == []
    assert numbers_left_out(page({3: " 24", 8: " 29"})) == []


def test_a_number_is_compared_with_the_three_before_it_and_the_three_after_it() -> None:
    """The two that agree have two other numbers between them, or three."""
    assert numbers_left_out(page({1: " 5", 2: " 90", 3: " 60", 6: " 10"})) == ["5", "10"]
    assert numbers_left_out(page({1: " 5", 2: " 90", 3: " 60", 4: " 35", 6: " 10"})) == []


def test_a_row_that_begins_with_a_bracket_is_not_counted_as_a_line() -> None:
    plain = page({3: " 25", 6: " 30"})
    bracketed = page({3: f" 25\n{ASIDE}\n{ASIDE}", 9: " 30"})
    assert numbers_left_out(plain) == []
    assert numbers_left_out(bracketed) == ["25", "30"]
    assert lines_said(bracketed)[3:5] == [ASIDE, ASIDE]


def test_numbers_on_rows_of_their_own_count_the_lines_above_them() -> None:
    assert numbers_left_out(page({2: "\n25", 7: "\n30"})) == ["25", "30"]
    assert numbers_left_out(page({2: "\n(25)", 7: "\n(30)"})) == ["(25)", "(30)"]
    assert numbers_left_out(page({2: "\n24", 7: "\n29"})) == []
    assert numbers_left_out(page({2: "\n25", 7: " 30"})) == ["25", "30"]


@pytest.mark.parametrize(
    ("end", "found"),
    [
        *((" 15", []), ("  15", ["15?"]), ("\t15", ["15?"]), (" (15)", []), ("  (15)", ["(15)?"])),
        *(("  14", []), ("  0", []), ("\n15", [])),
    ],
)
def test_a_single_number_in_prose_is_left_out_only_after_a_gap(end: str, found: list[str]) -> None:
    """It is shown with its other reading; two blanks or a tab are a gap."""
    assert numbers_left_out(page({4: end}, 6, PROSE[:65].lower())) == found


def test_the_brackets_around_a_line_number_are_left_out_with_it() -> None:
    text = page({5: " (5)", 10: " (10)"})
    assert numbers_left_out(text) == ["(5)", "(10)"] and lines_said(text) == [LINE] * 12


def test_a_single_number_is_spoken_if_there_is_another_figure_on_the_page() -> None:
    assert numbers_left_out(page({4: "  15"})) == ["15?"]
    assert numbers_left_out(page({4: "  15", 6: " and 7 more"})) == []


def verse(*, count: int = 10, capitals: int = 10, longest: int = 40) -> str:
    """Lines with 15 behind one. capitals: how many begin with one. longest: the length of the last."""
    small = LINE.lower()
    rows = [LINE if k < capitals else small for k in range(count)]
    rows[-1] = rows[-1].ljust(longest, "n")
    rows[1] += " 15"
    return "\n".join(rows) + "\n"


def test_a_single_number_without_a_gap_is_left_out_only_in_verse() -> None:
    """Four lines at least, four fifths of them with a capital, none with more than 80 characters."""
    assert numbers_left_out(verse()) == ["15?"]
    assert numbers_left_out(verse(count=4)) == ["15?"] and numbers_left_out(verse(count=3)) == []
    assert numbers_left_out(verse(capitals=8)) == ["15?"] and numbers_left_out(verse(capitals=7)) == []
    assert numbers_left_out(verse(longest=80)) == ["15?"] and numbers_left_out(verse(longest=81)) == []


def every(first: int, rows: list[str], form: str = "{} {}") -> str:
    return "".join(f"{form.format(n, row)}\n" for n, row in enumerate(rows, first))


def test_three_numbers_in_a_row_before_the_lines_count_them() -> None:
    """Two others nearby have to agree with a number; the page has too few for a column."""
    plain = [LINE] * 9
    assert numbers_left_out(every(4, [LINE] * 3) + page({}, 9)) == ["4", "5", "6"]
    assert numbers_left_out(every(4, [LINE] * 2) + page({}, 9)) == []
    assert numbers_left_out(every(4, [LINE] * 3, "{}. {}") + page({}, 9)) == ["4.", "5.", "6."]
    assert numbers_left_out(every(4, [LINE] * 3, "FTLN {:04} {}") + page({}, 9)) == [
        *("FTLN 0004", "FTLN 0005", "FTLN 0006")
    ]
    assert lines_said(every(4, [LINE] * 3) + page({}, 9)) == [LINE] * 12 == plain + [LINE] * 3


@pytest.mark.parametrize(("size", "found"), [(100, ["4", "5", "6"]), (101, [])])
def test_numbers_before_rows_of_more_than_a_hundred_characters_may_be_said(
    size: int, found: list[str]
) -> None:
    rows = [PROSE[:90].ljust(size - 2, "e")] * 3
    assert [len(row) for row in every(4, rows).splitlines()] == [size] * 3
    assert numbers_left_out(every(4, rows) + "\n".join([PROSE] * 9)) == found


def test_the_first_number_beside_the_speakers_name_belongs_to_the_column_below_it() -> None:
    rows = every(19, [LINE] * 9)
    assert numbers_left_out(f"VIOLA  18 {LINE}\n{rows}")[:2] == ["18", "19"]
    assert numbers_left_out(f"VIOLA  17 {LINE}\n{rows}")[:2] == ["19", "20"]


# Columns of numbers in a margin


LEFT, RIGHT = "{n} {row}", "{row}   {n}"


def column(form: str, numbers: dict[int, int], count: int = 10) -> str:
    """So many rows, some with a number beside them. numbers: by the row, from 1."""
    rows = [(numbers.get(k), f"{LINE}{' so' * (k % 3)}") for k in range(1, count + 1)]
    return "".join((row if n is None else form.format(n=n, row=row)) + "\n" for n, row in rows)


def rising(first: int, step: int, rows: range) -> dict[int, int]:
    return {row: first + step * k for k, row in enumerate(rows)}


@pytest.mark.parametrize("form", [LEFT, RIGHT])
@pytest.mark.parametrize(
    ("count", "rows", "found"), [(10, 7, 7), (10, 6, 0), (5, 4, 4), (4, 3, 0), (4, 4, 4)]
)
def test_numbers_at_seven_tenths_of_the_rows_and_four_at_least_count_them_all(
    form: str, count: int, rows: int, found: int
) -> None:
    """A few numbers before the lines would be left out by another rule, if two others agree with each."""
    text = column(form, rising(31, 1, range(1, rows + 1)), count)
    assert len(numbers_left_out(text)) == (found if form == RIGHT else rows)


@pytest.mark.parametrize("form", [LEFT, RIGHT])
@pytest.mark.parametrize(
    ("numbers", "found"),
    [
        ({5: 5, 10: 10}, ["5", "10"]),
        ({5: 10, 10: 20}, ["10", "20"]),
        ({4: 25, 7: 30}, ["25", "30"]),
        ({1: 1, 5: 5, 10: 10}, ["1", "5", "10"]),
        ({2: 1, 5: 5, 10: 10}, ["1", "5", "10"]),
    ],
)
def test_two_numbers_in_a_margin_that_rise_by_five_or_ten_count_lines_with_the_one_before_them(
    form: str, numbers: dict[int, int], found: list[str]
) -> None:
    assert numbers_left_out(column(form, numbers)) == found


@pytest.mark.parametrize(
    "numbers", [{4: 25, 6: 30}, {5: 5, 10: 25}, {5: 4, 10: 9}, {5: 10, 10: 5}, {5: 5, 10: 5}]
)
def test_numbers_before_the_lines_that_do_not_rise_so_are_spoken(numbers: dict[int, int]) -> None:
    """With fewer than three lines between them they count none."""
    text = column(LEFT, numbers)
    assert numbers_left_out(text) == [] and lines_said(text) == text.splitlines()


def test_a_number_that_falls_out_of_a_column_is_spoken_and_the_column_goes_on() -> None:
    text = column(LEFT, {5: 5, 10: 10, 11: 90, 15: 15}, 15)
    assert numbers_left_out(text) == ["5", "10", "15"]
    assert lines_said(text)[10] == f"90 {LINE} so so"


def test_a_number_before_a_row_without_letters_counts_nothing() -> None:
    assert numbers_left_out(page({4: "\n5 ...", 9: "\n10 ..."})) == []
