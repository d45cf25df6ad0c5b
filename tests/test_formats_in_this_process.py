"""The readers of documents called directly, as their child process calls them: the same pages.

A document is read in a child process, where a fault made on purpose in a reader (`bench/mutants.py`) is out
of sight. The tests are those of `test_script_formats`, one by one.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from offbook.script.formats.bounded import Reader
from offbook.script.sheet import Page
from tests.test_script_formats import (
    test_a_pdf_poem_loses_its_title_margin_numbers_and_footnote_marks,
    test_a_pdf_speech_runs_on_over_its_pages,
    test_a_script_in_pdf_is_divided_into_parts_by_the_positions_of_names_and_action,
    test_a_word_play_has_parts_in_paragraphs_and_in_tables,
    test_a_word_poem_keeps_its_lines_however_they_were_typed,
    test_a_word_speech_leaves_out_its_title_struck_words_marks_and_directions,
    test_an_odt_play_has_parts_and_italic_directions,
    test_an_odt_poem_keeps_its_lines,
    test_deleted_text_of_a_word_document_is_not_read,
    test_the_error_for_a_document_says_if_it_is_locked_damaged_or_a_picture,
)

__all__ = [
    "test_a_pdf_poem_loses_its_title_margin_numbers_and_footnote_marks",
    "test_a_pdf_speech_runs_on_over_its_pages",
    "test_a_script_in_pdf_is_divided_into_parts_by_the_positions_of_names_and_action",
    "test_a_word_play_has_parts_in_paragraphs_and_in_tables",
    "test_a_word_poem_keeps_its_lines_however_they_were_typed",
    "test_a_word_speech_leaves_out_its_title_struck_words_marks_and_directions",
    "test_an_odt_play_has_parts_and_italic_directions",
    "test_an_odt_poem_keeps_its_lines",
    "test_deleted_text_of_a_word_document_is_not_read",
    "test_the_error_for_a_document_says_if_it_is_locked_damaged_or_a_picture",
]


@pytest.fixture(autouse=True)
def in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every document is read here."""

    def here(reader: Reader, data: bytes, name: str, libraries: Sequence[str]) -> Page:
        return reader(data, name)

    monkeypatch.setattr("offbook.script.formats.read_within_bounds", here)
