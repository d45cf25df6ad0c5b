"""The performer's pencil file: read, anchored by its words, carried over a change of the script."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from offbook import pencil
from offbook.pencil import PencilError, PencilShift
from offbook.script import reading as script
from offbook.words import entries as words

SPEECH = """The lamp was lit before the tide came in,
And still my father counted every boat.
But one was late, and none would say her name;
I held the rail, and wished the water calm.
"""


def said(text: str) -> tuple[words.Word, ...]:
    return words.words_of(script.parse_script(text, title="lamp"))


def index(found: tuple[words.Word, ...], text: str, nth: int = 0) -> int:
    return [w.i for w in found if w.text == text][nth]


def test_a_mark_is_placed_where_its_quoted_words_are() -> None:
    w = said(SPEECH)
    got = pencil.read_pencil("every boat ||| But one was\n    the first fear\n", w)
    assert got.shifts == (PencilShift(index(w, "But"), 3, "the first fear", 1),)
    assert got.unplaced == ()


def test_a_plus_removes_a_mark_and_the_number_of_bars_gives_its_grade() -> None:
    w = said(SPEECH)
    got = pencil.read_pencil("came in + And still\nwas late | and none\nher name || I held\n", w)
    assert [(s.before_word, s.grade) for s in got.shifts] == [
        (index(w, "And"), 0),
        (index(w, "and"), 1),
        (index(w, "I"), 2),
    ]


def test_punctuation_capitals_and_apostrophes_do_not_matter_in_quoted_words() -> None:
    w = said("'Tis late, O’er the wall: come down.")
    got = pencil.read_pencil("'tis LATE, ||| o'er the wall:\n", w)
    assert [s.before_word for s in got.shifts] == [2]


def test_a_bracketed_word_fixes_its_stress_at_one_place_or_everywhere() -> None:
    w = said("The tide took all my revenue, and all revenue is dust.")
    here = pencil.read_pencil("all my [re-VEN-ue] and\n", w)
    assert here.fixes == {index(w, "revenue"): "wsw"}
    everywhere = pencil.read_pencil("[re-VEN-ue]\n", w)
    assert everywhere.fixes == {index(w, "revenue", 0): "wsw", index(w, "revenue", 1): "wsw"}


def test_comments_after_a_hash_and_blank_rows_are_ignored() -> None:
    assert pencil.read_pencil("# a note || to myself\n\n", said(SPEECH)) == pencil.Pencil()


def test_marks_survive_a_script_whose_words_changed_around_them() -> None:
    changed = SPEECH.replace("every boat", "every little boat").replace("But one", "Yet one")
    w = said("A new line stands before it all today.\n" + changed)
    got = pencil.read_pencil("counted every boat ||| But one was late\n", w)
    assert [s.before_word for s in got.shifts] == [index(w, "Yet")]


def test_a_mark_whose_words_are_gone_is_reported_and_not_placed() -> None:
    w = said(SPEECH)
    got = pencil.read_pencil("seven green bottles || hanging on the wall\nname || I held\n", w)
    assert [s.before_word for s in got.shifts] == [index(w, "I")]
    assert [(u.row, u.why) for u in got.unplaced] == [(1, "these words are no longer in the script")]


def test_a_mark_without_any_word_of_the_script_is_reported() -> None:
    got = pencil.read_pencil("xylophones ||| zigzagging\n", said(SPEECH))
    assert [(u.row, u.why) for u in got.unplaced] == [(1, "these words are no longer in the script")]


def test_of_several_equal_places_a_mark_takes_the_next_one_in_order() -> None:
    w = said("And so we go. And so we stay. And so we sing.")
    got = pencil.read_pencil("And || so we\nAnd ||| so we\n", w)
    assert [(s.before_word, s.grade) for s in got.shifts] == [(1, 2), (5, 3)]


def test_rows_that_cannot_be_read_are_reported_with_their_number() -> None:
    got = pencil.read_pencil("just some words\none || two ||| three\nname ||\n", said(SPEECH))
    assert [u.row for u in got.unplaced] == [1, 2, 3]


def test_a_new_pencil_file_gives_back_exactly_the_marks_it_was_written_from() -> None:
    w = said(SPEECH)
    marks = [(index(w, "And"), 2, "on it goes"), (index(w, "But"), 3, ""), (index(w, "and"), 1, "one more")]
    got = pencil.read_pencil(pencil.new_pencil_text("lamp", w, marks), w)
    assert got.only
    assert [(s.before_word, s.grade, s.reason or "") for s in got.shifts] == sorted(marks)


@settings(max_examples=60, deadline=None)
@given(st.data())
@pytest.mark.heavy
def test_marks_on_repeated_words_are_read_back_at_their_places(data: st.DataObject) -> None:
    vocabulary = ["tide", "and", "the", "lamp", "falls", "my", "boat"]
    text = " ".join(data.draw(st.lists(st.sampled_from(vocabulary), min_size=12, max_size=60)))
    w = said(text + ".")
    finder_places = data.draw(st.sets(st.integers(1, len(w) - 1), max_size=6))
    marks = [(i, 2, "") for i in sorted(finder_places)]
    got = pencil.read_pencil(pencil.new_pencil_text("t", w, marks), w)
    quoted_once = {
        i for i, _, _ in marks if text.split().count(text.split()[i]) == 1
    }  # a word that occurs once cannot be mistaken for another
    assert quoted_once <= {s.before_word for s in got.shifts}
    assert not got.unplaced


def test_a_missing_pencil_file_counts_as_empty_and_a_new_one_overwrites_nothing(tmp_path: Path) -> None:
    path = tmp_path / "lamp.txt.pencil"
    assert pencil.load_pencil(path, said(SPEECH)) == pencil.Pencil()
    pencil.write_new(path, "# mine\n")
    with pytest.raises(PencilError, match="already exists"):
        pencil.write_new(path, "# other\n")
    assert path.read_text(encoding="utf-8") == "# mine\n"


def test_a_pencil_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lamp.txt.pencil"
    path.write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(PencilError, match="not text in UTF-8"):
        pencil.load_pencil(path, said(SPEECH))
