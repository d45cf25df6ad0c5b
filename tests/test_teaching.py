"""The teacher's sheet, and how many A4 pages the marked pages take when a browser prints them."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from offbook.cli.mark import mark_command as mark_command
from offbook.errors import ScriptError
from offbook.markup import mark, sheet, taught, teaching_rows, teaching_sheet
from offbook.script import parse_script
from offbook.verse import rhyme_letters
from offbook.words import words_of
from tests.viola import VIOLA

pytestmark = pytest.mark.usefixtures("own_home")

# Shakespeare, Sonnet 18 (1609), in modern spelling (from memory)
SONNET = """Shall I compare thee to a summer's day?
Thou art more lovely and more temperate:
Rough winds do shake the darling buds of May,
And summer's lease hath all too short a date:
Sometime too hot the eye of heaven shines,
And often is his gold complexion dimm'd,
And every fair from fair sometime declines,
By chance, or nature's changing course untrimm'd:
But thy eternal summer shall not fade,
Nor lose possession of that fair thou ow'st,
Nor shall death brag thou wander'st in his shade,
When in eternal lines to time thou grow'st,
So long as men can breathe, or eyes can see,
So long lives this, and this gives life to thee.
"""


def marked(text: str):  # type: ignore[no-untyped-def]
    script = parse_script(text)
    return mark(script, words_of(script))


def test_the_rhymes_of_an_english_sonnet_get_the_letters_that_handbooks_give_them() -> None:
    """abab cdcd efef gg: the rhyme scheme of the Shakespearean sonnet (common practice, no source)."""
    assert "".join(line.letter for line in taught(marked(SONNET))) == "ababcdcdefefgg"


def test_a_line_without_a_rhyme_gets_a_dash_and_blank_verse_gets_no_letters() -> None:
    ends = ["sea", "hill", "me", "stone", "bright", "night"]
    assert rhyme_letters(ends, [1] * 6) == ("a", "-", "a", "-", "b", "b")
    assert {line.letter for line in taught(marked(VIOLA))} == {""}


def test_the_rhyme_letters_begin_again_with_each_stanza_of_a_long_poem() -> None:
    ends = ["sea", "me", "bright", "night"] * 11
    stanzas = [1 + k // 4 for k in range(44)]
    assert rhyme_letters(ends, stanzas) == ("a", "a", "b", "b") * 11


def test_feet_are_divided_inside_words_and_the_marks_are_printed_over_the_vowels() -> None:
    shown = ["".join(piece.text for piece in row).rstrip() for row in teaching_rows(marked(SONNET), 80)]
    at = next(k for k, row in enumerate(shown) if row.startswith("   4 "))
    assert shown[at].startswith("   4 And sum|mer's lease | hath all | too short | a date:")
    assert shown[at - 1] == "     x    / | x     /    |  x   /   |  x    /   | x  /"
    assert not any("||" in row for row in shown)  # no shifts
    assert all(len(row) <= 80 for row in shown)


def test_each_line_has_one_bar_fewer_than_it_has_feet() -> None:
    for line in taught(marked(SONNET)):
        assert sum(s.ends_foot for s in line.syllables) == 4
        assert "".join(s.mark for s in line.syllables).count("/") >= 4


def test_for_prose_the_sheet_says_that_there_are_no_feet(tmp_path: Path) -> None:
    (tmp_path / "talk.txt").write_text(
        "I never asked for it. It was my father's, and his father's before him.\n"
    )
    with pytest.raises(ScriptError, match="has no verse whose feet could be divided"):
        CliRunner().invoke(mark_command, [str(tmp_path / "talk.txt"), "--feet"], catch_exceptions=False)


def pages(folder: Path, html: str) -> list[str]:
    """The text of each A4 page that a browser prints."""
    import pdfplumber

    browser = shutil.which("chromium")
    assert browser is not None, "the tests need Debian's chromium: make test installs it"
    (folder / "page.html").write_text(html, encoding="utf-8")
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
    options += [f"--user-data-dir={folder / 'browser'}", f"--print-to-pdf={folder / 'page.pdf'}"]
    command = [browser, *options, str(folder / "page.html")]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    with pdfplumber.open(folder / "page.pdf") as pdf:
        assert all(abs(page.height - 841.9) < 2 for page in pdf.pages)  # A4, ISO 216: 297 mm
        return [page.extract_text() or "" for page in pdf.pages]


@pytest.mark.heavy
def test_the_marked_sheet_and_the_teaching_sheet_of_a_sonnet_fit_one_a4_page_each(tmp_path: Path) -> None:
    for html in (sheet(marked(SONNET)), teaching_sheet(marked(SONNET))):
        (printed,) = pages(tmp_path, html)
        assert ("14" in printed.split() and "Numbers count" in printed) or "between two feet" in printed


@pytest.mark.heavy
def test_the_marked_sheet_of_25_lines_fits_two_a4_pages_without_a_single_word_on_a_row(
    tmp_path: Path,
) -> None:
    printed = pages(tmp_path, sheet(marked(VIOLA)))
    assert len(printed) <= 2
    assert len(printed[-1].splitlines()) >= 5
    (taught_page,) = pages(tmp_path, teaching_sheet(marked(VIOLA)))
    assert "25" in taught_page.split()
