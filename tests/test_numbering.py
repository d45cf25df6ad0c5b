"""Verse is numbered by lines and prose by sentences, beside the speech and in everything about it."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from offbook import fit
from offbook.cli.read import read_command as read_command
from offbook.desk import excerpt_of
from offbook.errors import ScriptError
from offbook.fit.heart import Heart
from offbook.fit.shortened import PassageError
from offbook.markup import mark, marked_rows, sheet
from offbook.notes import Review, dropped_rows, notes_on
from offbook.notes import noted_lines as review_rows
from offbook.progress.history import WordCounts, by_line
from offbook.score import Run, WordVerdict
from offbook.script import Script, Selection, parse_script
from offbook.thoughts import parse_words
from offbook.words import Numbered, Word, at_number, counted, numbered, where, where_each, words_of

pytestmark = pytest.mark.usefixtures("own_home")

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
    script = parse_script(text)
    return script, words_of(script)


def numbers(text: str) -> list[str]:
    """The numbers in the margin of the marked script, top to bottom."""
    script, words = read(text)
    shown = ["".join(piece.text for piece in row) for row in marked_rows(mark(script, words), 100)]
    return [m[1] for row in shown if (m := re.match(r" {0,3}(s?\d+) +\d+:\d\d ", row))]


def test_verse_lines_are_numbered_one_by_one() -> None:
    assert numbers(VERSE) == ["1", "2", "3", "4"]
    assert counted(read(VERSE)[0]) == "Numbers count lines."


def test_each_sentence_of_a_paragraph_of_prose_has_its_own_number() -> None:
    assert numbers(PROSE) == ["1", "2", "3", "4", "5"]
    assert counted(read(PROSE)[0]) == "Numbers count sentences."


def test_the_numbers_of_prose_beside_verse_are_marked_as_sentences() -> None:
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
def test_a_stretch_is_named_by_its_lines_in_verse_and_by_its_sentences_in_prose(
    text: str, first: int, last: int, told: str
) -> None:
    script, words = read(text)
    assert where(script, words, first, last) == told


def test_the_places_of_single_words_are_listed_and_of_many_only_the_first() -> None:
    script, words = read(MIXED)
    at = [w.i for w in words if w.text.lower() in ("the", "it")]
    assert where_each(script, words, at, most=2) == "lines 1, 3 …; sentences 3, 4 …"
    assert where_each(script, words, at[:1]) == "line 1"


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


def test_the_printed_sheet_shows_the_numbers_and_says_what_they_count() -> None:
    html = sheet(mark(*read(VERSE)))
    assert re.findall(r'<span class="count">(\d*)</span>', html) == ["1", "2", "3", "4"]
    assert "Numbers count lines." in html


def test_a_line_or_a_sentence_is_found_by_its_number() -> None:
    script, words = read(MIXED)
    assert at_number(script, words, "2") == Numbered("2", 9, 16)
    fourth = at_number(script, words, "s4")
    assert fourth is not None and fourth.number == "s4"
    assert at_number(script, words, "99") is None and at_number(script, words, "the lamp") is None
    prose, spoken = read(PROSE)
    assert at_number(prose, spoken, "s2") == at_number(prose, spoken, "2") == numbered(prose, spoken)[1]
    verse, lines = read(VERSE)
    assert at_number(verse, lines, "s1") is None, "verse has no numbers of sentences"


def test_every_word_has_exactly_one_number_and_the_numbers_are_in_order() -> None:
    for text in (VERSE, PROSE, MIXED):
        script, words = read(text)
        spans = [i for each in numbered(script, words) for i in each.span]
        assert spans == list(range(len(words)))
    assert [each.number for each in numbered(*read(MIXED))][:5] == ["1", "2", "3", "4", "s3"]


def test_an_excerpt_of_prose_is_chosen_by_the_numbers_that_read_shows(tmp_path: Path) -> None:
    path = tmp_path / "lantern.txt"
    path.write_text(PROSE, encoding="utf-8")
    whole = CliRunner().invoke(read_command, [str(path)]).output
    assert "   2  It was my father's, and his father's before him.\n" in whole
    assert "   5  I did not look back, not once in all that time.\n" in whole
    some = excerpt_of(str(path), Selection(first="2", last="3"))
    assert [line.text for line in some.lines] == [
        "It was my father's, and his father's before him. Nobody would blow it out."
    ]
    with pytest.raises(ScriptError, match="no spoken line has the number 6"):
        excerpt_of(str(path), Selection(first="6"))


def run_through(text: str, *gone: int) -> tuple[Script, tuple[Word, ...], Review]:
    """A run-through in which these words were not said and all others were, one a second."""
    script, words = read(text)
    verdicts = tuple(
        WordVerdict(w.i, w.text, "dropped", None, None, None, None)
        if w.i in gone
        else WordVerdict(w.i, w.text, "said", w.text.lower(), float(w.i), w.i + 0.5, 0.9)
        for w in words
    )
    run = Run(verdicts, (), float(len(words)), float(len(words)))
    return script, words, notes_on(script, words, run)


def test_the_notes_on_prose_give_sentence_numbers() -> None:
    script, words = read(PROSE)
    third = next(each for each in numbered(script, words) if each.number == "3")
    script, words, found = run_through(PROSE, *third.span, 2)
    assert [row.number for row in review_rows(script, words, found)] == ["1", "2", "3", "4", "5"]
    assert [(row.number, row.text) for row in dropped_rows(script, words, found)] == [
        ("3", "Nobody would blow it out.")
    ]


def test_a_dropped_line_of_verse_is_listed_with_its_number() -> None:
    script, words, found = run_through(VERSE, *range(9, 17))
    assert [(row.number, row.text) for row in dropped_rows(script, words, found)] == [
        ("2", "No ship has rounded Gannet Head since spring,")
    ]


def test_progress_counts_prose_by_sentences() -> None:
    script, words = read(PROSE)
    version = SimpleNamespace(script=script, words=words)
    counts = WordCounts((1,) * len(words), (0,) * len(words), (Counter(),) * len(words), (True,) * len(words))
    found = by_line(version, counts)  # type: ignore[arg-type]
    assert [(s.noun, s.n, s.number) for s in found] == [("sentence", n, str(n)) for n in range(1, 6)]
    assert found[1].text == "It was my father's, and his father's before him."


def test_a_warning_about_a_cut_in_prose_names_the_sentence() -> None:
    """A paragraph that the file has on one row, where everything would be line 1."""
    text = (
        "The ferry stopped in June. The harbour master took the bell. Nobody asked him for the bell. We had "
        "our own boats then. The ferry came back in May. It came with a brass horn. The bell is his.\n"
    )
    script, words = read(text)
    second = numbered(script, words)[1]
    heart = Heart(script, words, parse_words(script, words), ())
    assert list(heart.answered(second.first, second.last + 1)) == [
        "“bell” in sentence 3 answers “bell” in sentence 2, which would be gone"
    ]
