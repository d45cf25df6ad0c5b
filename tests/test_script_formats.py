"""Scripts in every format they arrive in: Markdown, Fountain, docx, odt, pdf, old encodings.

All texts are our own. Fountain is checked element by element against the published Fountain syntax
(fountain.io/syntax, from memory), Markdown against the CommonMark specification (from memory).
"""

from __future__ import annotations

import codecs
import os
import random
import struct
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest

from offbook.errors import ScriptError
from offbook.script import Script
from offbook.script import reading as script
from offbook.words import entries as words

LINES = [
    "The harvest moon hangs heavy on the hill,",
    "And all the lanterns lean toward the sea,",
    "We counted seven herons on the mill,",
    "And nobody was told but you and me.",
    "The kettle sang before the house was up,",
    "The baker lit his oven in the dark,",
]


def taken(s: Script) -> list[str]:
    return [line.text for line in s.lines]


def spoken_by(s: Script) -> list[tuple[str | None, str]]:
    return [(line.speaker, line.text) for line in s.lines]


def why(s: Script) -> dict[str, str]:
    return {out.text: out.reason for out in s.left_out}


def read(folder: Path, name: str, content: str | bytes) -> Script:
    file = folder / name
    file.write_bytes(content.encode() if isinstance(content, str) else content)
    return script.load_script(file)


# Encodings

CURLY = "“It’s the café on the corner” — said Zoë… and she didn’t laugh.\nNobody’s late.\n"


@pytest.mark.parametrize(
    "data",
    [
        CURLY.encode("utf-8"),
        CURLY.encode("utf-8-sig"),
        CURLY.encode("utf-16"),
        codecs.BOM_UTF16_BE + CURLY.encode("utf-16-be"),
        CURLY.encode("utf-16-le"),
        CURLY.encode("utf-16-be"),
        CURLY.encode("utf-32"),
        CURLY.encode("cp1252"),
        CURLY.encode("mac_roman"),
        CURLY.replace("\n", "\r\n").encode("utf-8"),
        CURLY.replace("\n", "\r").encode("mac_roman"),
    ],
    ids=["utf8", "bom", "utf16", "utf16be", "le-bare", "be-bare", "utf32", "cp1252", "mac", "crlf", "oldmac"],
)
def test_any_usual_encoding_gives_the_same_text(tmp_path: Path, data: bytes) -> None:
    assert read(tmp_path, "a.txt", data).text == CURLY


def test_a_latin_1_text_without_quotation_marks_is_read(tmp_path: Path) -> None:
    text = "The café was shut and the fiancé was late.\n"
    assert read(tmp_path, "a.txt", text.encode("latin-1")).text == text


def test_positions_count_characters_after_the_byte_order_mark_with_line_feeds(tmp_path: Path) -> None:
    s = read(tmp_path, "a.txt", codecs.BOM_UTF8 + b"One lamp.\r\nTwo lamps.\r\n")
    found = words.words_of(s)
    assert [(w.text, w.start) for w in found] == [("One", 0), ("lamp", 4), ("Two", 10), ("lamps", 14)]


# Markdown

POEM = """---
title: Harvest
author: us
---
# Harvest

The harvest moon hangs **heavy** on the hill,\x20\x20
And *all* the lanterns lean toward the sea,[^1]
We counted seven herons on the mill,
And nobody was told but you and me.\\

> The kettle sang before the house was up

1. Listen to [the bell](http://example.org/bell).
- Then ~~do not~~ go.

<!-- not this -->

Second part
-----------

It \\*rained\\*.

[^1]: They do.
"""


def test_markdown_marks_are_not_spoken_and_its_words_are(tmp_path: Path) -> None:
    """CommonMark: headings of both kinds, emphasis, lists, quotations, links, comments, escapes."""
    s = read(tmp_path, "poem.md", POEM)
    assert s.title == "Harvest"
    assert taken(s) == [*LINES[:4], LINES[4][:-1], "Listen to the bell.", "Then go.", "It *rained*."]
    reasons = why(s)
    assert reasons["# Harvest"] == reasons["Second part"] == "heading"
    assert reasons["[^1]: They do."] == "footnote"
    assert "comment" in reasons.values() and "struck out" in reasons.values()
    for w in words.words_of(s):
        assert s.text[w.start : w.end] == w.text


def test_an_italic_line_between_the_heading_and_the_speech_is_a_note_and_not_spoken(tmp_path: Path) -> None:
    said = "I have driven this road so often that the stops say my name, and I answer."
    text = f"# The Night Bus\n\n*Spoken by a driver at the end of a shift.*\n\n{said}\n"
    s = read(tmp_path, "bus.md", text)
    assert taken(s) == [said]
    assert why(s)["Spoken by a driver at the end of a shift."] == "note under the heading"


@pytest.mark.parametrize("line", ["*I never once looked up.*", "*Nobody ever looked up!*", "*Nobody.*"])
def test_an_italic_line_that_is_speech_is_spoken_even_under_a_heading(tmp_path: Path, line: str) -> None:
    s = read(tmp_path, "bus.md", f"# The Night Bus\n\n{line}\n\nThis is how the road goes by, every night.\n")
    assert taken(s)[0] == line.strip("*")


@pytest.mark.parametrize(
    ("written", "title"),
    [
        ("---\ntitle: *Night Ferry*\n---\n", "Night Ferry"),
        ('---\ntitle: "**Night** _Ferry_"\n---\n', "Night Ferry"),
        ("---\nTitle: '***Night Ferry***, a `draft`'\n---\n", "Night Ferry, a draft"),
        ("---\ntitle: night_ferry_2\n---\n", "night_ferry_2"),
        ("# The *Night* Ferry\n", "The Night Ferry"),
        ("# night_ferry_2\n", "night_ferry_2"),
        ("*Night Ferry*\n===\n", "Night Ferry"),
    ],
)
def test_a_markdown_title_is_shown_without_marks_of_emphasis(
    written: str, title: str, tmp_path: Path
) -> None:
    """CommonMark 0.31, 6.2: an underscore inside a word is no emphasis, so a file name keeps its own."""
    assert read(tmp_path, "a.md", f"{written}\nThe boat came in on the tide.\n").title == title


def test_a_markdown_play_has_bold_names_and_italic_directions(tmp_path: Path) -> None:
    text = """# The Salt Road

**ANNA:** You said *seven*. *(She sits.)*

**BEN:** I said thereabouts.

*Anna crosses to the window.*

**ANNA:** *aside* He never could count.

**BEN** *(laughing)*: I heard that!
"""
    s = read(tmp_path, "play.md", text)
    assert spoken_by(s) == [
        ("ANNA", "You said seven."),
        ("BEN", "I said thereabouts."),
        ("ANNA", "He never could count."),
        ("BEN", "I heard that!"),
    ]
    assert why(s)["Anna crosses to the window."] == "stage direction"


def test_markdown_headings_that_are_repeated_are_speakers(tmp_path: Path) -> None:
    s = read(tmp_path, "a.md", "# Salt\n\n## ANNA\n\nOne.\n\n## BEN\n\nTwo.\n\n## ANNA\n\nThree.\n")
    assert spoken_by(s) == [("ANNA", "One."), ("BEN", "Two."), ("ANNA", "Three.")]
    assert s.title == "Salt"


def test_emphasised_words_of_a_markdown_speech_are_spoken(tmp_path: Path) -> None:
    text = "I *never* said so, and I _will not_ say so. *Not once.*\n\n*Thank you.*\n"
    assert taken(read(tmp_path, "a.md", text)) == [
        "I never said so, and I will not say so. Not once.",
        "Thank you.",
    ]


def test_html_in_markdown_is_not_spoken(tmp_path: Path) -> None:
    """CommonMark: inline HTML and character references; "&amp;" is the sign that is said "and"."""
    s = read(
        tmp_path, "a.md", "<p>The lamp &amp; the rope were <em>lit</em>.</p>\n\nTom &mdash; Ben &nbsp;came.\n"
    )
    assert [w.spoken[0][0] for w in words.words_of(s)][:4] == ["the", "lamp", "and", "the"]
    assert [w.text for w in words.words_of(s)][-3:] == ["Tom", "Ben", "came"]


# Fountain

FOUNTAIN = """Title:
    _**The Salt Road**_
Credit: written by
Draft date: 1/20/2026

# Act One

= They meet.

INT. SALT HOUSE - NIGHT #1#

Rain. MIRA shakes out her coat.

MIRA
(to herself)
Nobody *told* the baker he was late. [[check this]]

@McKay ^
Nobody tells the baker **anything**.
\x20\x20
He bakes.

MIRA (V.O.)
~The kettle sang before the house was up
~And nobody was told

!LOUD THUNDER
and nothing.

> FADE TO BLACK.

.FLASHBACK

/*
MIRA
This was cut.
*/

MIRA (O.S.) (CONT'D)
I did. (beat) Twice.

CUT TO:

===

> THE END <
"""


def test_fountain_dialogue_is_spoken_and_nothing_else(tmp_path: Path) -> None:
    """Fountain syntax: title page, section, synopsis, scene heading, action, character, dual dialogue,
    parenthetical, lyrics, forced elements, transition, centred text, boneyard, note, emphasis, and
    the line of two blanks that keeps a speech open."""
    s = read(tmp_path, "salt.fountain", FOUNTAIN)
    assert s.title == "The Salt Road"
    assert spoken_by(s) == [
        ("MIRA", "Nobody told the baker he was late."),
        ("McKay", "Nobody tells the baker anything."),
        ("McKay", "He bakes."),
        ("MIRA", "The kettle sang before the house was up"),
        ("MIRA", "And nobody was told"),
        ("MIRA", "I did. Twice."),
    ]
    reasons = why(s)
    assert reasons["INT. SALT HOUSE - NIGHT #1#"] == reasons[".FLASHBACK"] == "scene heading"
    assert reasons["> FADE TO BLACK."] == reasons["CUT TO"] == "transition"
    assert reasons["> THE END <"] == "centred text"
    assert reasons["= They meet."] == "synopsis" and reasons["# Act One"] == "section"
    assert reasons["Rain. MIRA shakes out her coat."] == reasons["!LOUD THUNDER"] == "action"
    assert reasons["(to herself)"] == reasons["(beat)"] == "stage direction"
    assert reasons["[[check this]]"] == "writer's note"


def test_fountain_capitals_without_a_line_after_them_are_action(tmp_path: Path) -> None:
    """Fountain syntax: a character's name has a blank line before it and none after it."""
    s = read(tmp_path, "a.fountain", "BANG\n\nMIRA\nWho is there?\n\nBEN\nMe.\n\nTHUD\n")
    assert spoken_by(s) == [("MIRA", "Who is there?"), ("BEN", "Me.")]


def test_a_fountain_file_without_a_speaker_is_read_as_a_speech(tmp_path: Path) -> None:
    assert taken(read(tmp_path, "a.fountain", "\n".join(LINES) + "\n")) == LINES


# docx and odt


def docx_file(paragraphs: list[Any]) -> bytes:
    """A docx. Each paragraph: text, or (text, style), or a list of (text, {run property: value})."""
    from docx import Document

    document = Document()
    for item in paragraphs:
        if isinstance(item, str):
            document.add_paragraph(item)
        elif isinstance(item, tuple):
            document.add_paragraph(item[0], style=item[1])
        else:
            paragraph = document.add_paragraph()
            for text, properties in item:
                run = paragraph.add_run(text)
                for name, value in properties.items():
                    setattr(run.font, name, value)
    out = BytesIO()
    document.save(out)
    return out.getvalue()


@pytest.mark.heavy
def test_a_word_speech_leaves_out_its_title_struck_words_marks_and_directions(tmp_path: Path) -> None:
    data = docx_file(
        [
            ("A Wedding Speech", "Title"),
            "Good evening, everyone. In 1998 we moved to number 42, the house with the door that never shut.",
            [("Thank you for coming. ", {}), ("Really", {"italic": True}), (" for coming.", {})],
            [("(Pause for laughter.)", {"italic": True})],
            [("Raise your glasses", {}), ("1", {"superscript": True}), (" now", {"strike": True}), (".", {})],
        ]
    )
    s = read(tmp_path, "speech.docx", data)
    assert s.title == "A Wedding Speech" and s.form == "prose"
    assert taken(s)[1:] == ["Thank you for coming. Really for coming.", "Raise your glasses."]
    assert why(s) == {
        "A Wedding Speech": "heading",
        "(Pause for laughter.)": "stage direction",
        "1": "footnote mark",
        "now": "struck out",
    }


@pytest.mark.heavy
def test_a_word_poem_keeps_its_lines_however_they_were_typed(tmp_path: Path) -> None:
    for data in (docx_file(list(LINES)), docx_file(["\n".join(LINES)])):
        s = read(tmp_path, "poem.docx", data)
        assert s.form == "verse" and taken(s) == LINES


@pytest.mark.heavy
def test_a_word_play_has_parts_in_paragraphs_and_in_tables(tmp_path: Path) -> None:
    from docx import Document

    data = docx_file(
        ["ANNA", "You said seven.", "", "BEN", "(sitting)", "I said so.", "", "ANNA", "You did not."]
    )
    expected = [("ANNA", "You said seven."), ("BEN", "I said so."), ("ANNA", "You did not.")]
    assert spoken_by(read(tmp_path, "play.docx", data)) == expected
    document = Document()
    table = document.add_table(3, 2)
    for row, (name, text) in enumerate(expected):
        table.cell(row, 0).text, table.cell(row, 1).text = name, text
    out = BytesIO()
    document.save(out)
    assert spoken_by(read(tmp_path, "table.docx", out.getvalue())) == expected


@pytest.mark.heavy
def test_deleted_text_of_a_word_document_is_not_read(tmp_path: Path) -> None:
    from docx import Document
    from docx.oxml import parse_xml

    space = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'
    document = Document()
    paragraph = document.add_paragraph("Nobody came ")
    gone = f'<w:del {space} w:id="1" w:author="x"><w:r><w:delText>never </w:delText></w:r></w:del>'
    new = f'<w:ins {space} w:id="2" w:author="x"><w:r><w:t>to the door.</w:t></w:r></w:ins>'
    for xml in (gone, new):
        paragraph._p.append(parse_xml(xml))
    out = BytesIO()
    document.save(out)
    assert taken(read(tmp_path, "a.docx", out.getvalue())) == ["Nobody came to the door."]


def odt_file(heading: str, paragraphs: list[list[tuple[str, str]]]) -> bytes:
    """An odt. Each paragraph: pairs of text and "" or "italic"."""
    from odf.opendocument import OpenDocumentText
    from odf.style import Style, TextProperties
    from odf.text import H, LineBreak, P, Span

    document = OpenDocumentText()
    italic = Style(name="I1", family="text")
    italic.addElement(TextProperties(fontstyle="italic"))
    document.automaticstyles.addElement(italic)
    document.text.addElement(H(outlinelevel=1, text=heading))
    for pieces in paragraphs:
        paragraph = P()
        for text, kind in pieces:
            if text == "\n":
                paragraph.addElement(LineBreak())
            elif kind:
                paragraph.addElement(Span(stylename=italic, text=text))
            else:
                paragraph.addText(text)
        document.text.addElement(paragraph)
    out = BytesIO()
    document.write(out)
    return out.getvalue()


@pytest.mark.heavy
def test_an_odt_play_has_parts_and_italic_directions(tmp_path: Path) -> None:
    data = odt_file(
        "The Salt Road",
        [
            [("ANNA: You said seven. ", ""), ("(She sits.)", "italic")],
            [("BEN: I said thereabouts.", "")],
            [("Anna crosses to the window.", "italic")],
            [("ANNA: You did not.", "")],
        ],
    )
    s = read(tmp_path, "play.odt", data)
    assert s.title == "The Salt Road"
    assert spoken_by(s) == [
        ("ANNA", "You said seven."),
        ("BEN", "I said thereabouts."),
        ("ANNA", "You did not."),
    ]


def test_an_odt_poem_keeps_its_lines(tmp_path: Path) -> None:
    pieces = [piece for line in LINES for piece in ((line, ""), ("\n", ""))]
    assert taken(read(tmp_path, "poem.odt", odt_file("Harvest", [pieces[:-1]]))) == LINES


# pdf


def pdf_file(draw: Any, **options: Any) -> bytes:
    """A pdf of what `draw` puts on a canvas of A4 (595 by 842 points)."""
    from reportlab.pdfgen import canvas

    out = BytesIO()
    page = canvas.Canvas(out, pagesize=(595, 842), **options)
    draw(page)
    page.save()
    return out.getvalue()


@pytest.mark.heavy
def test_a_pdf_poem_loses_its_title_margin_numbers_and_footnote_marks(tmp_path: Path) -> None:
    def draw(page: Any) -> None:
        page.setFont("Times-Bold", 18)
        page.drawString(100, 760, "Harvest")
        for k, line in enumerate(LINES * 2):
            page.setFont("Times-Roman", 12)
            page.drawString(100, 700 - 15 * k, line)
            if (k + 1) % 5 == 0:
                page.drawString(430, 700 - 15 * k, str(k + 1))
        page.setFont("Times-Roman", 7)
        page.drawString(100.5 + page.stringWidth(LINES[1], "Times-Roman", 12), 690, "1")

    s = read(tmp_path, "poem.pdf", pdf_file(draw))
    assert s.title == "Harvest" and s.form == "verse"
    assert taken(s) == LINES * 2
    assert sorted(out.reason for out in s.left_out) == [
        "footnote mark",
        "heading",
        "line number",
        "line number",
    ]


@pytest.mark.heavy
def test_a_script_in_pdf_is_divided_into_parts_by_the_positions_of_names_and_action(tmp_path: Path) -> None:
    """Names further in than the speech, action at the margin, running heads, a watermark aslant."""

    def draw(page: Any) -> None:
        for number in (1, 2, 3):
            page.setFont("Courier", 12)
            page.drawString(72, 800, "THE SALT ROAD")
            page.drawRightString(530, 800, f"{number}.")
            page.saveState()
            page.translate(200, 300)
            page.rotate(45)
            page.drawString(0, 0, "sides for nobody")
            page.restoreState()
            rows = [
                (72, "Rain. Mira shakes out her coat and looks for somewhere"),
                (72, "to hang it up."),
                None,
            ]
            rows += [(250, "MIRA"), (200, "(to herself)"), (150, "Nobody told the baker he was re-")]
            rows += [
                (150, "markably late."),
                None,
                (250, "MCKAY (V.O.)"),
                (150, ("At noon.", "At six.", "Never.")[number - 1]),
            ]
            for k, row in enumerate(rows):
                if row is not None:
                    page.drawString(row[0], 740 - 12 * k, row[1])
            page.showPage()

    s = read(tmp_path, "sides.pdf", pdf_file(draw))
    assert s.parts == ("MIRA", "MCKAY")
    assert [w.text for w in words.words_of(s)][:7] == [
        *("Nobody", "told", "the", "baker", "he", "was", "remarkably")
    ]
    assert [line for line in taken(s) if line not in ("At noon.", "At six.", "Never.")] == [
        "Nobody told the baker he was re-",
        "markably late.",
    ] * 3
    assert "sides for nobody" not in s.text


@pytest.mark.heavy
def test_a_pdf_speech_runs_on_over_its_pages(tmp_path: Path) -> None:
    rows = [
        "We had been walking for an hour when the old man remembered that he",
        "had left the gate open, and",
    ]

    def draw(page: Any) -> None:
        for number in (1, 2):
            page.drawString(72, 800, "A speech for the graduation")
            for k, row in enumerate([rows[0]] * 12):
                page.drawString(72, 740 - 15 * k, row)
            page.drawString(300, 40, str(number))
            page.showPage()

    s = read(tmp_path, "speech.pdf", pdf_file(draw))
    assert taken(s) == [rows[0]] * 24
    assert {line.paragraph for line in s.lines} == {1}


# Bad input


def refused(folder: Path, name: str, content: bytes) -> str:
    file = folder / name
    file.write_bytes(content)
    with pytest.raises(ScriptError) as failed:
        script.load_script(file)
    assert failed.value.what.startswith(str(file)) and failed.value.do
    assert "\n" not in failed.value.what + failed.value.do
    return failed.value.what


def test_a_file_that_is_no_script_is_refused_with_the_kind_of_file_it_is(tmp_path: Path) -> None:
    jpeg = b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(range(256)) * 20
    wav = b"RIFF" + struct.pack("<I", 36) + b"WAVEfmt " + bytes(400)
    assert "is empty" in refused(tmp_path, "empty.txt", b"")
    assert "is empty" in refused(tmp_path, "blank.txt", b" \n\n\t\n")
    assert "has no words" in refused(tmp_path, "dots.txt", b"... --- ...\n")
    assert "a JPEG picture" in refused(tmp_path, "photo.txt", jpeg)
    assert "WAV" in refused(tmp_path, "take.txt", wav)
    assert "is not text" in refused(tmp_path, "noise.txt", bytes(range(256)) * 64)
    assert "is not text" in refused(tmp_path, "nuls.txt", b"The lamp\x00\x00\x01\x00 was lit\n" * 9)
    assert "rich text" in refused(tmp_path, "old.txt", b"{\\rtf1\\ansi The lamp was lit.}")
    assert "zip archive" in refused(tmp_path, "a.txt", empty_zip())


def empty_zip() -> bytes:
    import zipfile

    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("a.txt", "hello")
    return out.getvalue()


@pytest.mark.heavy
def test_the_error_for_a_document_says_if_it_is_locked_damaged_or_a_picture(tmp_path: Path) -> None:
    from reportlab.lib.pdfencrypt import StandardEncryption

    def say(page: Any) -> None:
        page.drawString(100, 700, "The lamp was lit before the tide came in.")

    locked = pdf_file(say, encrypt=StandardEncryption("secret"))
    assert "protected by a password" in refused(tmp_path, "locked.pdf", locked)
    pictures = pdf_file(lambda page: page.rect(10, 10, 100, 100, fill=1))
    assert "only pictures of pages" in refused(tmp_path, "scan.pdf", pictures)
    whole = pdf_file(say)
    assert "damaged pdf" in refused(tmp_path, "cut.pdf", whole[: len(whole) // 3])
    ole = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512)
    assert "protected by a password" in refused(tmp_path, "locked.docx", ole)
    good = docx_file(["The lamp was lit."])
    assert "damaged" in refused(tmp_path, "cut.docx", good[: len(good) // 2])
    holed = good[:400] + bytes(200) + good[600:]
    assert "damaged" in refused(tmp_path, "holed.docx", holed)
    odt = odt_file("Lamp", [[("The lamp was lit.", "")]])
    assert "damaged" in refused(tmp_path, "cut.odt", odt[: len(odt) // 2])
    assert "protected by a password" in refused(tmp_path, "locked.odt", locked_odt(odt))
    assert "is not a pdf file" in refused(tmp_path, "a.pdf", b"\x00\x01\x02\x03" * 50)


@pytest.mark.parametrize("kind", ["docx", "odt", "pdf"])
@pytest.mark.heavy
def test_a_document_with_a_changed_or_missing_byte_is_read_or_refused_with_a_message(
    tmp_path: Path, kind: str
) -> None:
    makers = {
        "docx": lambda: docx_file(list(LINES)),
        "odt": lambda: odt_file("Harvest", [[(line, "")] for line in LINES]),
        "pdf": lambda: pdf_file(lambda page: page.drawString(100, 700, LINES[0])),
    }
    data, chance = makers[kind](), random.Random(1609)
    for turn in range(40):
        harmed = bytearray(data)
        for _ in range(chance.choice((1, 5, 50))):
            harmed[chance.randrange(len(harmed))] = chance.randrange(256)
        file = tmp_path / f"harmed.{kind}"
        file.write_bytes(bytes(harmed[: chance.randrange(10, len(harmed))] if turn % 3 == 0 else harmed))
        try:
            words.words_of(script.load_script(file))
        except ScriptError as e:
            assert e.what and e.do


def locked_odt(data: bytes) -> bytes:
    """An odt whose manifest says that its content is encrypted."""
    import zipfile

    out = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "META-INF/manifest.xml":
                content = content.replace(
                    b"</manifest:manifest>", b"<manifest:encryption-data/></manifest:manifest>"
                )
            new.writestr(name, content)
    return out.getvalue()


@pytest.mark.heavy
def test_a_document_with_a_wrong_file_ending_is_read_by_its_contents(tmp_path: Path) -> None:
    assert taken(read(tmp_path, "poem.txt", docx_file(list(LINES)))) == LINES
    assert taken(read(tmp_path, "poem.docx", "\n".join(LINES).encode())) == LINES


def test_the_error_for_a_path_that_cannot_be_read_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(ScriptError, match="there is no file"):
        script.load_script(tmp_path / "none.txt")
    with pytest.raises(ScriptError, match="is a folder"):
        script.load_script(tmp_path)
    file = tmp_path / "shut.txt"
    file.write_text("The lamp was lit.")

    def shut(path: Path, *flags: int) -> int:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(os, "open", shut)
    with pytest.raises(ScriptError, match="you do not have permission"):
        script.load_script(file)


# Languages, by texts of our own

OTHERS = {
    "French": "La lampe était allumée avant la marée, et mon père comptait encore tous les bateaux"
    " dans le port. Mais un seul était en retard, et personne ne voulait dire son nom.",
    "German": "Die Lampe brannte schon, bevor die Flut kam, und mein Vater zählte noch immer jedes Boot."
    " Aber eines war spät, und niemand wollte seinen Namen sagen, weil es so war.",
    "Spanish": "La lámpara estaba encendida antes de que llegara la marea, y mi padre contaba todavía cada"
    " barco que entraba en el puerto, pero uno llegaba tarde y nadie decía su nombre.",
    "Italian": "La lampada era accesa prima che arrivasse la marea, e mio padre contava ancora ogni barca che"
    " entrava nel porto, ma una era in ritardo e nessuno diceva il suo nome.",
    "Dutch": "De lamp brandde al voordat de vloed kwam, en mijn vader telde nog steeds elke boot in de"
    " haven, maar er was er een te laat en niemand wilde zijn naam noemen.",
    "another script": "Лампа горела ещё до прилива, и мой отец считал каждую лодку.",
}


@pytest.mark.parametrize("language", OTHERS)
def test_a_script_in_another_language_is_refused_with_the_name_of_the_language(
    tmp_path: Path, language: str
) -> None:
    file = tmp_path / "a.txt"
    file.write_text(OTHERS[language] + "\n", encoding="utf-8")
    with pytest.raises(ScriptError, match=language):
        script.load_script(file)


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(LINES),
        "Lamp.\n",
        "Zoë, Ludovico, Amarante, Perdita, Ottavio, Beniamino, Chiara, Serafina!\n" * 3,
        "Whan that the lampe was lit, and al the see\nWith soote shoures hadde bathed the lee,\n"
        "Thanne longen folk to goon on pilgrimages\nAnd palmeres for to seken straunge strondes.\n" * 2,
        "'Twas brindle, and the mollish groves\nDid grum and frindle in the wane:\n"
        "All tamsy were the quillowaves,\nAnd the nib toves outgrane.\n" * 2,
        "Wee lampie, cowrin by the brae,\nO whit a fricht's in thy wee day!\nThou needna flit awa the day\n"
        * 3,
        "Je ne regrette rien, as my aunt would say, and then she would open the window and call the dog.\n",
    ],
    ids=["verse", "one word", "names", "middle english", "nonsense", "scots", "a french phrase"],
)
def test_english_of_any_kind_is_never_refused(tmp_path: Path, text: str) -> None:
    assert read(tmp_path, "a.txt", text).lines
