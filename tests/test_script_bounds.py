"""Scripts that are small and cost a lot: what they unpack to, how deep they go, how often they repeat."""

from __future__ import annotations

import gc
import io
import os
import sys
import time
import zipfile
import zlib
from pathlib import Path

import pytest
from harm import scripts as harm
from harm.server import call

from offbook import script
from offbook.errors import ScriptError
from offbook.script.formats import bounded
from offbook.script.sheet import Page
from offbook.thoughts import shifts_of
from offbook.words import words_of

pytestmark = pytest.mark.heavy

LINES = ["The lamp was lit before the tide came in.", "Nobody asked who carried up the oil."]


def refilled(data: bytes, name: str, change: tuple[bytes, bytes]) -> bytes:
    """A zipped document with one member changed: the first of `change` replaced by the second."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as a, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as b:
        for each in a.namelist():
            part = a.read(each)
            b.writestr(each, part.replace(*change, 1) if each == name else part)
    return out.getvalue()


def taken(tmp_path: Path, name: str, data: bytes) -> list[str]:
    (tmp_path / name).write_bytes(data)
    return [line.text for line in script.load_script(tmp_path / name).lines]


class WaitsElsewhere:
    """Like a model with its own threads: if another process deletes it, it waits for them without end."""

    def __init__(self) -> None:
        self.itself, self.home = self, os.getpid()

    def __del__(self) -> None:
        while os.getpid() != self.home:
            time.sleep(1)


def test_a_document_is_read_even_if_this_process_has_objects_waiting_for_clean_up() -> None:
    def reader(data: bytes, name: str) -> Page:
        gc.collect()
        return Page(data.decode())

    gc.disable()
    try:
        WaitsElsewhere()
        assert bounded.read_within_bounds(reader, b"The lamp", "lamp.docx", ()).text == "The lamp"
    finally:
        gc.enable()


# Unpacked sizes -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "member", "end"),
    [("a.docx", "word/document.xml", b"</w:body>"), ("a.odt", "content.xml", b"</office:text>")],
)
def test_a_document_that_unpacks_to_an_enormous_size_is_refused(
    name: str, member: str, end: bytes, tmp_path: Path
) -> None:
    whole = harm.docx(LINES) if name == "a.docx" else harm.odt(LINES)
    bomb = refilled(whole, member, (end, b" " * (bounded.MOST_XML + 1) + end))
    assert len(bomb) < 1_000_000
    with pytest.raises(ScriptError, match="more time or memory"):
        taken(tmp_path, name, bomb)


def test_reading_a_pdf_that_unpacks_to_an_enormous_size_is_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bounded, "MEMORY", 100_000_000)
    monkeypatch.setattr(bounded, "CPU_SECONDS", 3)
    stream = zlib.compress(b" " * 300_000_000)
    with pytest.raises(ScriptError, match=r"more time or memory|damaged"):
        taken(tmp_path, "a.pdf", harm.pdf_of([stream], b" /Filter /FlateDecode"))


def _endless(data: bytes, name: str) -> Page:
    while True:
        pass


def _greedy(data: bytes, name: str) -> Page:
    return Page("x" * 10**9)


def _broken(data: bytes, name: str) -> Page:
    sys.stdout.write("a library tells its troubles")
    os.write(1, b"and so does its machine code")
    raise ZeroDivisionError


def _refusing(data: bytes, name: str) -> Page:
    raise ScriptError(f"{name} is protected", "save a copy")


@pytest.mark.parametrize(
    ("reader", "told"),
    [
        (_endless, "more time or memory"),
        (_greedy, "more time or memory"),
        (_broken, "b.pdf is damaged"),
        (_refusing, "b.pdf is protected"),
    ],
)
def test_a_reader_of_documents_is_limited_in_time_and_memory_and_prints_nothing(
    reader: bounded.Reader,
    told: str,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(bounded, "CPU_SECONDS", 1)
    with pytest.raises(ScriptError, match=told):
        bounded.read_within_bounds(reader, b"", "b.pdf", ())
    assert capfd.readouterr() == ("", "")


def test_the_child_process_gives_back_the_complete_page() -> None:
    from offbook.script.sheet import Mark

    page = Page("a\ud800b", "Title", (Mark(0, 1, "out", "heading"),), ((1, 2),), True)
    assert bounded.read_within_bounds(lambda data, name: page, b"", "a", ()) == page


def test_a_document_of_too_many_parts_is_refused_before_its_list_is_read(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as z:
        for k in range(bounded.MOST_PARTS + 1):
            z.writestr(str(k), b"")
    with pytest.raises(ScriptError, match="damaged document"):
        taken(tmp_path, "a.docx", out.getvalue())


# Contents ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", ["NaN", "-5", "2000000000", "9" * 5000, "", "²"])
def test_a_count_of_blanks_in_an_odt_file_is_limited_to_the_width_of_a_margin(
    count: str, tmp_path: Path
) -> None:
    space = f'<text:s text:c="{count}"/>'.encode()
    data = refilled(harm.odt(["Title", *LINES]), "content.xml", (b"The lamp", b"The " + space + b"lamp"))
    assert len(" ".join(taken(tmp_path, "a.odt", data))) < 500


def test_an_odt_file_with_far_too_deep_nesting_is_refused(tmp_path: Path) -> None:
    deep = b"<text:section>" * 5000, b"</text:section>" * 5000
    data = harm.odt(LINES)
    data = refilled(data, "content.xml", (b"</office:text>", deep[0] + deep[1] + b"</office:text>"))
    with pytest.raises(ScriptError):
        taken(tmp_path, "a.odt", data)


def test_reading_a_damaged_odt_file_prints_nothing(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """odfpy tells on standard output where its parser stopped."""
    data = refilled(harm.odt(["Title", *LINES]), "styles.xml", (b"<office:styles", b"<office:styles <"))
    assert taken(tmp_path, "a.odt", data)[-1] == LINES[-1]
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("figures", ["7" * 4301, "7" * 9000 + ".5", "£" + "7" * 5000, "1/" + "7" * 5000])
def test_a_number_with_thousands_of_digits_is_read_as_an_ordinary_word(figures: str) -> None:
    words = words_of(script.parse_script(f"The lamp burned {figures} hours and more than that, they say.\n"))
    assert [w.text for w in words][:3] == ["The", "lamp", "burned"]
    assert len(words) >= 10


def test_two_main_clauses_on_one_word_cause_no_error() -> None:
    """What the parser makes of this has two main clauses on one word."""
    text = "YOUD YOUD YOUD YOUD YOUD YOUD YOUD Y YOUD YOUD YOUD"
    speech = script.parse_script(text)
    shifts_of(speech, words_of(speech))


# In proportion to its length ------------------------------------------------------------------------

_MANY = 20_000
_LONG = {
    "round brackets.txt": "(" * _MANY + " said",
    "square brackets.txt": "[[" * _MANY + " said",
    "all brackets.txt": "(a [b {c <d " * _MANY,
    "scripts.txt": "<script>" * _MANY + "said",
    "comments.txt": "<!--" * _MANY + "said",
    "links.md": "[a](" * _MANY,
    "strong.md": "**a " * _MANY,
    "notes.fountain": "[[" * _MANY + " said",
    "cuts.fountain": "/*a*/ said\n\n" * 4000,
    "speakers.txt": "".join(f"SPEAKER{k}. Line {k} is said here.\nAnd more of it.\n" for k in range(4000)),
}


@pytest.mark.parametrize("name", _LONG)
def test_the_time_to_read_a_script_grows_only_in_proportion_to_its_length(name: str, tmp_path: Path) -> None:
    """At most 20 seconds of a processor; where each was searched for through all the rest, it was minutes."""
    path = tmp_path / name
    path.write_text(_LONG[name], encoding="utf-8")

    def work() -> int:
        try:
            words_of(script.load_script(path))
        except ScriptError:
            return 1
        return 0

    done = call(work, (name,), None, None)
    assert done.faults() in ([], ["not two lines"]), done.err[-300:]
