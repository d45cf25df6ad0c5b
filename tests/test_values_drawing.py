"""The speech with its notes, drawn for a terminal: where a row ends, and where each mark and word is."""

from __future__ import annotations

import pytest

from offbook.cli.run_lines import draw, key
from offbook.notes import Kind, Note, NotedLine, NotedWord


def word(
    text: str, kind: Kind | None = None, *, above: str = "", begins: bool = True, ends: bool = True
) -> NotedWord:
    """A word, or a caret where the text is empty, with a note of a kind on it."""
    note = None if kind is None else Note(kind, 0, 0, text, above, 0.0, 1, "")
    return NotedWord(text, " ", note, begins, ends, above)


def row(*cells: NotedWord, number: str = "1", stanza: int = 1) -> NotedLine:
    cells[0].glue = ""
    return NotedLine(number, stanza, list(cells))


def drawn(width: int, *lines: NotedLine) -> list[str]:
    return [text.plain for text in draw(lines, width)]


def every_kind() -> NotedLine:
    return row(
        word("The"),
        word("lamp", "changed", above="light"),
        word("was"),
        word("", "added", above="not"),
        word("lit", "dropped"),
        word("before", "swapped", ends=False),
        word("the", "swapped", begins=False),
        word("tide", "unsure"),
    )


def test_what_was_said_is_drawn_above_the_word_and_its_mark_below() -> None:
    """A caret takes the room of what was put in, and a note of several words is one mark."""
    whole = [
        "         light    not",
        "  1  The lamp was     lit before the tide",
        "         ~~~~     ^   --- <========> ????",
    ]
    assert drawn(80, every_kind()) == whole
    assert drawn(42, every_kind()) == whole  # 5 columns for the number, 36 for words, one left free


def test_a_row_that_is_too_long_continues_below_with_an_indent() -> None:
    assert drawn(41, every_kind()) == [
        "         light    not",
        "  1  The lamp was     lit before the",
        "         ~~~~     ^   --- <========>",
        "       tide",
        "       ????",
    ]
    assert drawn(36, every_kind())[1:4] == [
        "  1  The lamp was     lit before",
        "         ~~~~     ^   --- <=====",
        "       the tide",
    ]
    assert drawn(36, every_kind())[4] == "       ==> ????"


@pytest.mark.parametrize(("width", "rows"), [(33, 1), (32, 1), (31, 2), (10, 2)])
def test_words_always_have_at_least_24_columns_however_narrow_the_window(width: int, rows: int) -> None:
    longest = row(word("x" * 20), word("y" * 5))  # 26 columns with the blank
    assert len(drawn(width, longest)) == rows
    assert len(drawn(10, row(word("x" * 18), word("y" * 5)))) == 1  # 24 columns


def test_an_empty_row_separates_stanzas_and_line_numbers_are_aligned_right() -> None:
    lines = [
        row(word("One"), number="9"),
        row(word("Two"), number="10"),
        row(word("Six"), number="120", stanza=2),
    ]
    assert drawn(60, *lines) == ["    9  One", "   10  Two", "", "  120  Six"]


def test_an_empty_row_separates_marks_from_the_words_above_the_next_line() -> None:
    """Between a row of marks and a row of what was said there is an empty one, and nowhere else."""
    marked, said, plain = (
        row(word("One", "dropped")),
        row(word("Two", "changed", above="To")),
        row(word("Six")),
    )
    assert drawn(60, marked, said) == ["  1  One", "     ---", "", "     To", "  1  Two", "     ~~~"]
    assert drawn(60, marked, plain, said) == [
        "  1  One", "     ---", "  1  Six", "     To", "  1  Two", "     ~~~"
    ]  # fmt: skip


def test_the_words_drawn_above_two_neighbours_do_not_touch() -> None:
    line = row(word("A", "changed", above="the"), word("B", "changed", above="one"), word("C"))
    assert drawn(60, line) == ["     the one", "  1  A   B C", "     ~   ~"]
    carets = row(word("A"), word("", "added", above="x"), word("", "added", above="y"), word("B"))
    assert drawn(60, carets) == ["       x y", "  1  A     B", "       ^ ^"]


def test_a_text_longer_than_the_row_is_cut_and_ends_with_an_ellipsis() -> None:
    line = row(word("A", "changed", above="x" * 30))
    assert drawn(10, line)[0] == "     " + "x" * 23 + "…"
    assert drawn(10, row(word("A", "changed", above="x" * 24)))[0] == "     " + "x" * 24


def test_the_key_explains_only_the_marks_used_and_its_rows_fit_the_width() -> None:
    """Items are three blanks apart, as many to a row as have room."""
    items = key([every_kind()], 1)
    assert [item.split()[0] for item in items] == ["---", "~~~", "^", "<==>", "???"]
    assert key([every_kind()], 200) == ["   ".join(items)]
    two = "   ".join(items[:2])
    assert key([every_kind()], len(two))[0] == two
    assert key([every_kind()], len(two) - 1)[0] == items[0]
    assert key([row(word("One"))]) == []


def test_a_swap_over_short_words_is_drawn_as_one_mark_with_an_arrow_at_each_end() -> None:
    middle = word("I", "swapped", begins=False, ends=False)
    line = row(word("so", "swapped", ends=False), middle, word("a", "swapped", begins=False))
    assert drawn(60, line) == ["  1  so I a", "     <====>"]


def test_a_word_after_a_caret_is_drawn_to_the_right_of_the_added_words() -> None:
    """A word without a note comes after the caret and its words, and needs no room above it."""
    line = row(word("", "added", above="well then"), word("A"), word("B", "changed", above="bee"))
    assert drawn(60, line) == ["     well then   bee", "  1            A B", "     ^           ~"]
