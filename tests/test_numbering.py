"""Verse is numbered by its lines and prose by its sentences, beside the speech and in what is said of it."""

from __future__ import annotations

import re

import pytest

from offbook import fit
from offbook.fit.shortened import PassageError
from offbook.markup import mark, rows, sheet, where
from offbook.markup.numbering import counted, places
from offbook.script import Script, parse
from offbook.words import Word, words_of

VERSE = """They ask me why I keep the lamp alight.
No ship has rounded Gannet Head since spring,
The fish are gone, the harbour mouth is sand,
And half the houses facing out to sea
"""
PROSE = (
    "I never asked for the lantern. It was my father's, and his father's before him. Nobody would blow it "
    "out. But that night I set it down on the step, and I walked away from it. I did not look back, not once "
    "in all that time.\n"
)
MIXED = VERSE + "\n" + PROSE


def read(text: str) -> tuple[Script, tuple[Word, ...]]:
    script = parse(text)
    return script, words_of(script)


def numbers(text: str) -> list[str]:
    """The numbers in the margin of the marked script, top to bottom."""
    script, words = read(text)
    shown = ["".join(piece.text for piece in row) for row in rows(mark(script, words), 100)]
    return [m[1] for row in shown if (m := re.match(r" {0,3}(s?\d+) +\d+:\d\d ", row))]


def test_verse_lines_are_numbered_one_by_one() -> None:
    assert numbers(VERSE) == ["1", "2", "3", "4"]
    assert counted(read(VERSE)[0]) == "Numbers count lines."


def test_a_paragraph_of_prose_is_numbered_by_its_sentences_and_never_one_for_all() -> None:
    assert numbers(PROSE) == ["1", "2", "3", "4", "5"]
    assert counted(read(PROSE)[0]) == "Numbers count sentences."


def test_prose_beside_verse_says_that_it_counts_sentences() -> None:
    found = numbers(MIXED)
    assert found[:4] == ["1", "2", "3", "4"] and found[4:] and all(n.startswith("s") for n in found[4:])
    assert counted(read(MIXED)[0]) == "Numbers count lines; s4: sentence 4."


@pytest.mark.parametrize(
    ("text", "first", "last", "told"),
    [
        (VERSE, 0, 8, "line 1"),
        (VERSE, 0, 12, "lines 1-2"),
        (PROSE, 0, 5, "sentence 1"),
        (PROSE, 0, 9, "sentences 1-2"),
        (MIXED, 0, 40, "line 1 to sentence 4"),
    ],
)
def test_a_stretch_is_told_by_what_is_counted_there(text: str, first: int, last: int, told: str) -> None:
    script, words = read(text)
    assert where(script, words, first, last) == told


def test_single_words_are_told_by_each_place_and_of_many_the_first() -> None:
    script, words = read(MIXED)
    at = [w.i for w in words if w.text.lower() in ("the", "it")]
    assert places(script, words, at, most=2) == "lines 1, 3 …; sentences 3, 4 …"
    assert places(script, words, at[:1]) == "line 1"


def test_a_passage_is_named_by_the_numbers_that_are_shown() -> None:
    script, words = read(PROSE)
    first, last = fit.passage(script, words, "2-3")
    assert " ".join(w.text for w in words[first : last + 1]) == (
        "It was my father's and his father's before him Nobody would blow it out"
    )
    assert fit.passage(script, words, "sentence 5")[1] == len(words) - 1
    assert fit.passage(script, words, "line 1") == (0, len(words) - 1)
    with pytest.raises(PassageError, match="no spoken sentence 9") as e:
        fit.passage(script, words, "9")
    assert e.value.do == "its sentences are 1 to 5"


def test_the_page_has_the_numbers_and_says_what_they_count() -> None:
    html = sheet(mark(*read(VERSE)))
    assert re.findall(r'<span class="count">(\d*)</span>', html) == ["1", "2", "3", "4"]
    assert "Numbers count lines." in html
