"""From bytes to text at the bounds: which encoding it is, and from where on it is no text at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from offbook.errors import ScriptError
from offbook.script import parse_script
from offbook.script.choices import (
    Choices,
    add_choice,
    apply_choices,
    choices_path,
    keep_choice,
    read_choices,
    word_places,
    write_choices,
)
from offbook.script.encodings import _fitness, _legacy, _wide, decode, kind_of
from offbook.script.sheet import Page, Sheet

SAVE = "save the script as text, docx, odt or pdf, and give that file"


@pytest.mark.parametrize(
    ("text", "score"),
    [
        *(("abc", 0), ("a\u00a0b", 0), ("\u0001a", 0), ("¦", -2), ("é", 1), ("ab É cd", 1)),
        # quotation marks and dashes where they belong, and where they do not
        *(("“a", 2), ("a “b", 2), ("(“a", 2), ("—“a", 4), ("a“b", -1), ("a”", 2), ("a ” b", -1), ("‘a", 2)),
        *(("a‘b", -1), ("a’b", 2), (" ’b", 2), (" –b", 2), (" …", 2), ("”", -1), ("'“a", 2)),
        # signs of money and the like beside letters
        *(("£5", 1), ("a£ b", 1), ("a £b", 1), ("a£b", 0), ("5½", 1)),
        # capitals between small letters, and letters that English has not
        *(
            ("aÉ", -2),
            ("aÉa", -2),
            (" Éa", 1),
            ("AÉa", -2),
            ("AÉA", 1),
            ("aé", 1),
            ("Ý", -2),
            ("ﬁ", -2),
            ("ª", -2),
        ),
    ],
)
def test_characters_beyond_ascii_count_for_or_against_an_encoding(text: str, score: int) -> None:
    assert _fitness(text) == score


def test_the_first_of_three_old_encodings_that_fits_best_is_taken() -> None:
    assert _legacy("It’s the café".encode("cp1252")) == "It’s the café"
    assert _legacy("It’s the café".encode("mac_roman")) == "It’s the café"
    assert _legacy("the café".encode("cp850")) == "the café"
    assert _legacy(b"plain") == "plain"


def wide(zeros: int, others: int, pairs: int, order: str = "le") -> bytes:
    """So many pairs of bytes: in some the one is zero, in some the other, in the rest neither."""
    kinds = [b"a\0"] * zeros + [b"\0a"] * others + [b"ab"] * (pairs - zeros - others)
    return b"".join(pair if order == "le" else pair[::-1] for pair in kinds)


@pytest.mark.parametrize(("order", "name"), [("le", "utf-16-le"), ("be", "utf-16-be")])
def test_text_of_two_bytes_a_letter_is_known_by_the_zeros_on_one_side(order: str, name: str) -> None:
    """More than six tenths on the one side, less than a twentieth on the other; at least four bytes."""
    assert _wide(wide(61, 0, 100, order)) == name and _wide(wide(60, 0, 100, order)) is None
    assert _wide(wide(80, 4, 100, order)) == name and _wide(wide(80, 5, 100, order)) is None
    assert _wide(wide(2, 0, 2, order)) == name and _wide(wide(1, 0, 1, order)) is None
    assert _wide(wide(90, 0, 100, order) + b"a") is None
    assert _wide(wide(2048, 0, 2048, order) + b"ab" * 9000) == name


def test_only_the_first_4096_bytes_are_looked_at() -> None:
    assert _wide(b"ab" * 2048 + wide(90_000, 0, 90_000)) is None


def test_a_text_that_breaks_off_is_refused_with_its_encoding() -> None:
    for data, name in (
        (b"\xff\xfea", "UTF-16"),
        (b"\xef\xbb\xbf\xff", "UTF-8"),
        (b"\xff\xfe\0\0a", "UTF-32"),
    ):
        with pytest.raises(ScriptError) as refused:
            decode(data, "a.txt")
        assert refused.value.what == f"a.txt begins as {name} text but is damaged"
        assert refused.value.do == "save it again as UTF-8 text"


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        *(
            (b"\xff\xd8\xff", "a JPEG picture"),
            (b"RIFF", "a WAV recording or a picture"),
            (b"PK\x03\x04", "a zip archive"),
        ),
        *(
            (b"....ftyp", "an MP4 or M4A recording"),
            (b"...ftyp.", None),
            (b".....ftyp", None),
            (b"The lamp", None),
        ),
        *((b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old Word document, or a protected one"), (b"", None)),
    ],
)
def test_other_kinds_of_file_are_known_by_their_first_bytes(data: bytes, kind: str | None) -> None:
    assert kind_of(data) == kind
    if kind is not None:
        with pytest.raises(ScriptError) as refused:
            decode(data, "a.txt")
        assert (refused.value.what, refused.value.do) == (f"a.txt is not text but {kind}", SAVE)


@pytest.mark.parametrize(
    ("text", "readable"),
    [
        *(("a" * 10 + "\x01\x02", True), ("a" * 10 + "\x01\x02\x03", False), ("\x7f\ufffd\x01", False)),
        *(("a" * 795 + "\x01" * 4, False), ("a" * 796 + "\x01" * 4, True), ("a\0", False)),
        *(("\t\n\f\v\x1a\x1b" * 9 + "a", True), ("a" * 65_536 + "\x01" * 9000, True)),
    ],
)
def test_a_text_may_have_two_odd_characters_or_one_in_two_hundred(text: str, readable: bool) -> None:
    """A zero makes it no text; only the first 65,536 characters are looked at."""
    if readable:
        assert decode(text.encode(), "a.txt") == text
        return
    with pytest.raises(ScriptError) as refused:
        decode(text.encode(), "a.txt")
    assert refused.value.what == "a.txt is not text: it has characters that no script has"
    assert refused.value.do == SAVE


def test_every_kind_of_line_end_becomes_a_line_feed() -> None:
    assert decode(b"a\r\nb\rc\n\rd\r\n\r\n", "a.txt") == "a\nb\nc\n\nd\n\n"


# What the performer says is spoken -------------------------------------------------------------------


def test_the_places_of_some_words_are_found_with_any_stops_between_and_after_them() -> None:
    text = "She waits, she... waits! (she waits.) Sheshe waits; SHE-WAITS”"
    assert [text[a:b] for a, b in word_places(text, "she WAITS")] == [
        *("She waits", "she... waits!", "she waits.)", "SHE-WAITS”")
    ]
    assert word_places(text, "...") == [] and word_places(text, "") == []
    assert word_places("she_waits", "she waits") == [(0, 9)]
    assert word_places("waitress waits2 waits", "waits") == [(16, 21)]


def left_out_by_choice(text: str, *words: str) -> list[tuple[int, int]]:
    sheet = Sheet(Page(text))
    apply_choices(sheet, Choices(left_out=words))
    return [(mark.start, mark.end) for mark in sheet.marks if mark.what == "your choice"]


def test_a_choice_leaves_out_whole_rows_with_these_words_or_else_the_first_place() -> None:
    assert left_out_by_choice("She waits\nand she waits\nShe waits.\n", "she waits") == [(0, 9), (24, 34)]
    assert left_out_by_choice("and she waits\nShe waits so\n", "she waits") == [(4, 13)]
    assert left_out_by_choice("and so\n  She waits;\nshe waits so\n", "she waits") == [(9, 18)]
    assert left_out_by_choice("and so\nShe waits ;\n", "she waits") == [(7, 16)]
    assert left_out_by_choice("and so\n", "she waits") == []


def test_a_choice_is_saved_beside_the_script_and_read_again(tmp_path: Path) -> None:
    source = tmp_path / "lamp.txt"
    assert choices_path(source) == tmp_path / "lamp.txt.spoken"
    assert choices_path("-") is None and choices_path("") is None
    assert read_choices(source) == read_choices("-") == Choices()
    choices = Choices(("Twelfth Night", "So"), ("She waits.",))
    assert write_choices(source, choices) == tmp_path / "lamp.txt.spoken"
    assert (tmp_path / "lamp.txt.spoken").read_text() == (
        "# what is spoken in lamp.txt, where it can be read in two ways\n"
        "spoken: Twelfth Night\nspoken: So\nleft out: She waits.\n"
    )
    assert read_choices(source) == choices
    (tmp_path / "lamp.txt.spoken").write_text("SPOKEN :  So it was\nspoken:\nLeft Out:No\nleft: it\n")
    assert read_choices(source) == Choices(("So it was",), ("No",))
    with pytest.raises(ScriptError) as refused:
        write_choices("-", choices)
    assert refused.value.what == "a choice cannot be saved for pasted text"
    assert refused.value.do == "save the text to a file, or put what nobody says into [square brackets]"


def test_a_later_choice_replaces_the_earlier_one_on_the_same_words() -> None:
    first = add_choice(add_choice(Choices(), spoken="She waits."), left_out="So")
    assert first == Choices(("She waits.",), ("So",))
    assert add_choice(first, left_out="she WAITS") == Choices((), ("So", "she WAITS"))
    assert add_choice(first, spoken="so!") == Choices(("She waits.", "so!"), ())
    assert add_choice(first, spoken="She") == Choices(("She waits.", "She"), ("So",))


def test_a_stretch_that_is_shown_may_be_named_by_its_first_words(tmp_path: Path) -> None:
    source = tmp_path / "lamp.txt"
    text = "The Lamp of Rosa\n\nAnd so it was, and nobody was told but you and me.\nAnd then it was over.\n"
    source.write_text(text)
    script = parse_script(text, source=str(source))
    keep_choice(script, spoken="the lamp")
    assert read_choices(source) == Choices(("The Lamp of Rosa",))
    keep_choice(script, spoken="lamp of")
    assert read_choices(source).spoken == ("The Lamp of Rosa", "lamp of")
    keep_choice(script, left_out="nobody   was told")
    assert read_choices(source).left_out == ("nobody was told",)
    with pytest.raises(ScriptError) as refused:
        keep_choice(script, spoken="The Lam")
    assert refused.value.what == f"'The Lam' was not found in {source}"
    assert refused.value.do == "give the words as `offbook read` shows them"
