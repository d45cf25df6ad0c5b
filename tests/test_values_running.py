"""What runs through a whole page, at the bounds of each rule: heads, sections, labels, times, footnotes."""

from __future__ import annotations

import pytest

from tests.read_pages import lines_said, not_said

NIGHTS = ("one", "two", "three", "four", "five", "six")


def part(k: int) -> str:
    """Four lines of verse, different for each k from 0 to 5."""
    return "".join(
        f"So line {NIGHTS[k]} was said to {who} that night,\n" for who in ("me", "him", "her", "us")
    )


def pages(*heads: str, gap: str = "\n") -> str:
    """Pages with form feeds between them, each with its head; "" for none. gap: below a head."""
    return "\f".join(f"{head}\n{gap}{part(k)}" if head else part(k) for k, head in enumerate(heads))


def out(text: str, reason: str) -> list[str]:
    """What is left out for this reason."""
    return [left for left, why in not_said(text) if why == reason]


def heads(text: str) -> list[str]:
    return out(text, "running head")


@pytest.mark.parametrize("head", ["THE LAMP", "THE LAMP {}"])
@pytest.mark.parametrize(
    ("count", "gap", "found"), [(1, "\n", 0), (2, "\n", 2), (3, "\n", 3), (2, "", 0), (3, "", 3)]
)
def test_a_head_is_on_two_pages_with_a_blank_line_below_it_or_on_three(
    head: str, count: int, gap: str, found: int
) -> None:
    printed = [head.format(k) for k in range(1, count + 1)]
    assert heads(pages(*printed, gap=gap)) == printed[:found]


def test_the_numbers_in_running_heads_rise() -> None:
    assert heads(pages("THE LAMP 3", "THE LAMP 5", "THE LAMP 9")) == [
        "THE LAMP 3",
        "THE LAMP 5",
        "THE LAMP 9",
    ]
    assert heads(pages("2 THE LAMP 3", "1 THE LAMP 4")) == ["2 THE LAMP 3", "1 THE LAMP 4"]
    assert heads(pages("THE LAMP 9", "THE LAMP 8", "THE LAMP 7")) == []
    assert heads(pages("THE LAMP 3", "THE LAMP 3", "THE LAMP 4")) == []


def test_a_running_head_has_three_to_ninety_characters() -> None:
    for head, found in (("Ab", 0), ("Abc", 3), ("x" * 90, 3), ("x" * 91, 0)):
        assert heads(pages(head, head, head)) == [head] * found


def test_a_running_head_is_on_three_fifths_of_the_pages_at_least() -> None:
    head = "THE LAMP"
    assert heads(pages("", "", head, head, head)) == [head] * 3
    assert heads(pages("", "", "", head, head)) == []


def test_a_line_that_is_also_printed_inside_a_page_is_no_running_head() -> None:
    text = pages("THE LAMP", "THE LAMP", "THE LAMP")
    assert heads(text) == ["THE LAMP"] * 3
    assert heads(f"{text}THE LAMP\n{part(5)}") == []


def test_the_second_row_of_a_page_is_a_running_head_only_under_another() -> None:
    both = [head for k in (1, 2, 3) for head in ("THE LAMP", f"ROSA {k}")]
    assert heads(pages(*(f"THE LAMP\nROSA {k}" for k in (1, 2, 3)))) == both
    assert heads(pages(*(f"THE LAMP\nROSA {k}\nACT {k}" for k in (1, 2, 3)))) == both
    assert heads(pages("And so\nROSA 1", "But no\nROSA 2", "Or so\nROSA 3")) == []


def test_the_foot_of_a_page_is_looked_at_as_its_head_is() -> None:
    text = "\f".join(f"{part(k)}\nTHE LAMP {k}\n" for k in (1, 2, 3))
    assert heads(text) == ["THE LAMP 1", "THE LAMP 2", "THE LAMP 3"]


def test_without_form_feeds_a_running_head_has_a_number_and_blank_lines_around_it_on_three_pages() -> None:
    def joined(*rows: str, gap: str = "\n") -> str:
        return "".join(f"{part(k)}{gap}{row}\n\n" for k, row in enumerate(rows))

    assert heads(joined("Lamp 1", "Lamp 2", "Lamp 3")) == ["Lamp 1", "Lamp 2", "Lamp 3"]
    assert heads(joined("Lamp 1", "Lamp 2")) == []
    assert heads(joined("Lamp 1", "Lamp 2", "Lamp 3", gap="")) == []
    assert heads(joined("The Lamp", "The Lamp", "The Lamp")) == []
    assert heads(joined("Lamp 9", "Lamp 8", "Lamp 7")) == []


@pytest.mark.parametrize(
    ("numerals", "left_out"),
    [
        *(("I", []), ("I II", ["I", "II"]), ("I II III", ["I", "II", "III"]), ("i ii", ["i", "ii"])),
        *(("I. II.", ["I.", "II."]), ("II III", []), ("I III", []), ("IX X", []), ("I I II", ["I", "II"])),
        *(("I II II III", ["I", "II"]), ("I II III I II", ["I", "II", "III", "I", "II"])),
    ],
)
@pytest.mark.parametrize("gap", ["", "\n"])
def test_roman_numerals_that_rise_from_one_number_sections(
    numerals: str, left_out: list[str], gap: str
) -> None:
    text = "".join(f"{n}\n{gap}{part(k)}\n" for k, n in enumerate(numerals.split()))
    assert out(text, "section number") == left_out


def test_a_roman_numeral_with_a_row_right_above_it_numbers_nothing() -> None:
    assert out(f"{part(0)}I\n\n{part(1)}II\n\n{part(2)}", "section number") == []
    assert out(f"{part(0)}\nI\n{part(1)}\nII\n{part(2)}", "section number") == ["I", "II"]


@pytest.mark.parametrize(
    ("labels", "found"),
    [
        *(("Verse 1|Chorus", 2), ("verse|chorus", 2), ("Verse a|Outro", 2), ("Pre-chorus|Hook", 2)),
        *(("Coda:|Refrain", 2), ("Interlude|Intro|Bridge", 3), ("Chorus|Chorus", 0), ("Verse 1", 0)),
        *(("Verse ab|Outro", 0), ("Verse 1 2|Chorus", 0), ("Verses|Chorus", 0), ("Verse 1|Verse 2", 2)),
    ],
)
def test_two_labels_of_a_song_are_not_spoken_unless_both_say_chorus(labels: str, found: int) -> None:
    """In a play a chorus speaks."""
    text = "".join(f"{label}\n{part(k)}\n" for k, label in enumerate(labels.split("|")))
    assert len(out(text, "section label")) == found


def timed(*marks: str, rows: int = 3) -> str:
    """So many rows, the first ones with a time before them."""
    said = f"{part(0)}{part(1)}{part(2)}".splitlines()[:rows]
    return "".join(f"{mark} {row}\n" for mark, row in zip(marks, said, strict=False)) + "".join(
        f"{row}\n" for row in said[len(marks) :]
    )


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (timed(*(f"0:0{k}" for k in range(7)), rows=10), 7),
        (timed(*(f"0:0{k}" for k in range(6)), rows=10), 0),
        (timed("0:01", "0:02", rows=2), 0),
        (timed("0:01", "0:02", "0:02", rows=4), 3),
        (timed("0:03", "0:02", "0:05"), 0),
        (timed("0:59", "0:60", "1:01"), 0),
        (timed("0:00:59", "0:01:00", "1:00:00"), 3),
        (timed("[0:01]", "(0:02)", "0:03 –"), 3),
        (timed("7:01", "7:02", "7:03"), 3),
        (timed("0:01", "0:02", "100:03"), 0),
    ],
)
def test_times_before_seven_tenths_of_the_rows_and_three_at_least_that_never_fall_are_those_of_a_transcript(
    text: str, found: int
) -> None:
    assert len(out(text, "time mark")) == found


@pytest.mark.parametrize(
    ("marks", "found"),
    [
        *((("0:01", "0:09", "0:15"), 3), (("[0:01]", "(0:09)", "0:15"), 3), (("0:01", "0:09"), 0)),
        *((("7:00", "8:00", "9:00"), 0), (("1:01", "1:09", "1:15"), 0), (("0:09", "0:01", "0:15"), 0)),
        *((("0:59:00", "1:09:00", "1:15:00"), 3), (("0:01", "0:09", "0:5"), 0)),
    ],
)
def test_three_times_on_rows_of_their_own_are_those_of_a_transcript_if_they_begin_in_the_first_hour(
    marks: tuple[str, ...], found: int
) -> None:
    """Without hours, in the first minute."""
    text = "".join(f"{mark}\n{part(k)}\n" for k, mark in enumerate(marks))
    assert len(out(text, "time mark")) == found
    if found:
        assert lines_said(text) == "".join(part(k) for k in range(len(marks))).splitlines()


SPOKEN = "So it was said to me that night"


@pytest.mark.parametrize(
    ("line", "note", "left_out"),
    [
        ("I kept it¹ there", "¹ A lamp.", ["¹", "¹ A lamp."]),
        ("I kept it.† So", "† A lamp.", ["† A lamp."]),
        ("I kept it ¹ there", "¹ A lamp.", []),
        ("I kept 7² there", "² A lamp.", []),
        ("I kept 7¹ there", "¹ A lamp.", ["¹", "¹ A lamp."]),
        ("I kept it² there", "² A lamp.", ["²", "² A lamp."]),
        ("I kept it[2] there", "[2] A lamp.", ["[2]", "[2] A lamp."]),
        ("I kept it[2] there", "[3] A lamp.", ["[2]", "[3]"]),
        ("I kept it* there", "* A lamp.", ["A lamp."]),
        ("I kept it*, so", "*A lamp.", ["A lamp."]),
        ("I kept it*", "* A lamp.", ["A lamp."]),
        ("I kept 7* there", "* A lamp.", []),
        ("I kept it*there", "* A lamp.", []),
        ("I kept it** there", "** A lamp.", ["A lamp."]),
        ("I kept it** there", "* A lamp.", []),
        ("I kept it* there", "*A* lamp.", []),
        ("I kept it there", "* A lamp.", []),
        ("I kept it there", "¹ A lamp.", []),
    ],
)
def test_a_note_below_is_left_out_if_a_word_has_its_mark(line: str, note: str, left_out: list[str]) -> None:
    """Stars are also emphasis; a raised 2 or 3 after a figure is a power. A sign alone is not listed."""
    found = [out for out, _ in not_said(f"{line}\n{SPOKEN}\n{part(0)}\n{note}\n")]
    assert found == left_out
