"""Scripts of every format, mutated: bytes, words, brackets, speakers, parts of documents, depth, size."""

from __future__ import annotations

import io
import random
import zipfile
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path

# Invented for the campaign.
SPEECH = """\
The Weighbridge

MARGERY. (coming down to the gate) You kept the tally, Tobias. Ninety-nine sacks,
and one that nobody signed for!
TOBIAS. I counted them by lantern. [He turns away.] What would you have me say?
MARGERY. That you were tired, and the rain was in your eyes; that 1603 was a long year,
and the river took more from us than grain. Say anything at all.
TOBIAS. Then I say this: the hundredth sack was mine.

MARGERY. And who'll believe it?
"""
_WORDS = (
    *(
        "YOUD",
        "Y",
        "1" * 4400,
        "9" * 30,
        "0/0",
        "1/0",
        "99:99",
        "2026-13-45",
        "£9.99m",
        "1,2,3,4",
        "XLIV",
        "(cid:3)",
    ),
    *(
        "\x1b]0;owned\x07",
        "\x1b[2J",
        "\x9b31m",
        "\u202e",
        "\u2028",
        "\x00",
        "\ud83d\ude00",
        "\ufeff",
        "\ufffd",
        "a\u0301" * 40,
    ),
    *(
        "(",
        "[",
        "<",
        "{",
        "[[",
        "/*",
        "[a](",
        "`",
        "***",
        "___",
        "~~",
        "<b>",
        "&#0;",
        "&#x110000;",
        "<!--",
        "]]>",
    ),
    *(
        "-->",
        "00:00:01,000 --> 00:00:02,000",
        "WEBVTT",
        "ACT I",
        "INT. BARN",
        ">",
        "@",
        "=" * 9,
        "#" * 9,
        "\t" * 9,
        "|" * 99,
    ),
    *(
        "ALL",
        "MARGERY:",
        "I",
        "the",
        "mother-in-law",
        "o'",
        "'",
        "--",
        "—",
        "…",
        "A" * 5000,
        "ﬁ",
        "ǅ",
        "İ",
        "ß" * 50,
    ),
)
_SHAPES: tuple[Callable[[int], str], ...] = (
    lambda n: "(" * n,
    lambda n: "[" * n,
    lambda n: "[[" * n,
    lambda n: "<" * n,
    lambda n: "[a](" * n,
    lambda n: "(a [b {c <d " * n,
    lambda n: "".join(f"SPEAKER{k}. Line {k} is said.\n" for k in range(n // 4)),
    lambda n: "".join(f"Name{k}: said {k}.\n\n" for k in range(n // 4)),
    lambda n: "*a " * n,
    lambda n: "**a** _b_ " * n,
    lambda n: "word " * (n * 10),
    lambda n: "\n" * n + "end",
    lambda n: "# h\n" * n + "end",
    lambda n: "> " * n + "end",
    lambda n: "- a\n" * n,
    lambda n: "a" * n,
    lambda n: "<b>x</b> " * n,
    lambda n: "<script>" * n + "x",
    lambda n: "<!--" * n + "x",
    lambda n: "YOUD " * n,
    lambda n: "A\tb\n" * n,
    lambda n: ("ANNA\n(pause)\nHello there.\n\n") * (n // 10),
    lambda n: "1. a\n" * n,
    lambda n: "\\*" * n,
    lambda n: "`" * n + "x",
    lambda n: "&amp;" * n,
    lambda n: "Anna & Ben & Col: yes.\n" * (n // 10),
    lambda n: "The the the, " * n,
)


def docx(paragraphs: list[str]) -> bytes:
    """A Word document of these paragraphs."""
    from docx import Document

    document = Document()
    for k, text in enumerate(paragraphs):
        run = document.add_paragraph(style="Title" if not k else None).add_run(text)
        run.italic = k % 3 == 1
    out = io.BytesIO()
    document.save(out)
    return out.getvalue()


def odt(paragraphs: list[str]) -> bytes:
    """An OpenDocument text of these paragraphs."""
    from odf.opendocument import OpenDocumentText
    from odf.text import H, P

    document = OpenDocumentText()
    for k, text in enumerate(paragraphs):
        document.text.addElement(P(text=text) if k else H(outlinelevel=1, text=text))
    out = io.BytesIO()
    document.write(out)
    return out.getvalue()


def pdf(lines: list[str], packed: bool = False) -> bytes:
    """A pdf of one page with these lines."""
    shown = "".join(
        f"1 0 0 1 72 {760 - 14 * k} Tm ({line.translate(_ESCAPED)}) Tj\n" for k, line in enumerate(lines)
    )
    stream = f"BT /F1 11 Tf\n{shown}ET".encode("latin-1", "replace")
    head = b""
    if packed:
        stream, head = zlib.compress(stream), b" /Filter /FlateDecode"
    return pdf_of([stream], head)


_ESCAPED = str.maketrans({"(": r"\(", ")": r"\)", "\\": r"\\"})


def pdf_of(streams: list[bytes], head: bytes = b"") -> bytes:
    """A pdf with a page for each content stream."""
    kids = " ".join(f"{4 + 2 * k} 0 R" for k in range(len(streams))).encode()
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [" + kids + b"] /Count " + str(len(streams)).encode() + b" >>",
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
    ]
    for k, stream in enumerate(streams):
        objects.append(
            b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Resources << /Font << /F1 3 0 R >> >>"
            b" /Contents " + str(5 + 2 * k).encode() + b" 0 R >>"
        )
        objects.append(
            b"<< /Length " + str(len(stream)).encode() + head + b" >>\nstream\n" + stream + b"\nendstream"
        )
    out, places = bytearray(b"%PDF-1.4\n"), []
    for n, body in enumerate(objects, 1):
        places.append(len(out))
        out += f"{n} 0 obj\n".encode() + body + b"\nendobj\n"
    at = len(out)
    out += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode()
    out += b"".join(f"{p:010d} 00000 n \n".encode() for p in places)
    out += f"trailer << /Size {len(objects) + 1} /Root 1 0 R >>\nstartxref\n{at}\n%%EOF\n".encode()
    return bytes(out)


def seeds() -> dict[str, bytes]:
    """A whole script in every format, by the name of its file."""
    lines = SPEECH.splitlines()
    fountain = (
        "Title: The Weighbridge\n\nINT. GATE - DAY\n\nMARGERY\n(low)\nYou kept the tally.\n\nTOBIAS\nI did.\n"
    )
    srt = (
        "1\n00:00:01,000 --> 00:00:02,500\nYou kept the tally.\n\n2\n00:00:03,000 --> 00:00:04,000\nI did.\n"
    )
    html = "<html><body><h1>The Weighbridge</h1><p>You kept the <b>tally</b>, Tobias.</p><p>I&nbsp;did.</p></body></html>"
    return {
        "a.txt": SPEECH.encode(),
        "b.txt": SPEECH.encode("utf-16"),
        "c.txt": SPEECH.replace("'", "’").encode("cp1252"),
        "d.md": (b"# The Weighbridge\n\n**MARGERY:** You *kept* the [tally](x).\n\n> TOBIAS: I did.\n"),
        "e.fountain": fountain.encode(),
        "f.txt": srt.encode(),
        "g.txt": html.encode(),
        "h.docx": docx(lines),
        "i.odt": odt(lines),
        "j.pdf": pdf(lines),
        "k.pdf": pdf(lines, packed=True),
    }


def mutated(rng: random.Random, whole: Mapping[str, bytes], folder: Path) -> tuple[Path, str]:
    """Write one mutated script into `folder`; returns it and what was done."""
    name = rng.choice(sorted(whole))
    data, ending = whole[name], name.rpartition(".")[2]
    if ending in ("docx", "odt") and rng.random() < 0.75:
        data, what = _part(rng, data)
    elif ending in ("txt", "md", "fountain") and rng.random() < 0.8:
        data, what = _text(rng, data)
    else:
        data, what = _bytes(rng, data)
    if rng.random() < 0.05:
        ending = rng.choice(("txt", "md", "fountain", "docx", "odt", "pdf", "rtf"))
    path = folder / f"script.{ending}"
    path.write_bytes(data)
    return path, f"{name} as {ending}: {what}"


def _bytes(rng: random.Random, data: bytes) -> tuple[bytes, str]:
    out = bytearray(data)
    what = rng.choice(("flips", "flips", "cut", "stretch", "doubled", "zeros"))
    if what == "flips":
        for _ in range(rng.choice((1, 2, 10, 100))):
            out[rng.randrange(len(out))] = rng.randrange(256)
    elif what == "cut":
        out = out[: rng.randrange(len(out))]
    elif what == "stretch":
        at = rng.randrange(len(out))
        out = out[:at] + rng.randbytes(rng.choice((1, 20, 1000))) + out[at + rng.randrange(50) :]
    elif what == "doubled":
        at = rng.randrange(len(out))
        out = out[:at] + out[at:] * rng.choice((2, 20))
    else:
        at = rng.randrange(len(out))
        out[at : at + 64] = bytes(len(out[at : at + 64]))
    return bytes(out), what


def _text(rng: random.Random, data: bytes) -> tuple[bytes, str]:
    text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "latin-1")
    what = rng.choice(("words", "words", "words", "shape", "lines", "repeated", "case"))
    if what == "words":
        for _ in range(rng.choice((1, 3, 20))):
            at = rng.randrange(len(text) + 1)
            text = (
                text[:at]
                + rng.choice((" ", "", "\n"))
                + rng.choice(_WORDS)
                + rng.choice((" ", "", "\n"))
                + text[at:]
            )
    elif what == "shape":
        shape = rng.choice(_SHAPES)(rng.choice((10, 300, 5000)))
        text = rng.choice((shape, text + shape, shape + "\n\n" + text))
    elif what == "lines":
        rows = text.split("\n")
        rng.shuffle(rows)
        text = rng.choice(("\n", "\n\n", " ", "\x0b", "\u2029")).join(rows)
    elif what == "repeated":
        text *= rng.choice((2, 10, 60))
    else:
        text = rng.choice((text.upper(), text.lower(), text.swapcase(), text.title()))
    return text.encode("utf-8", "surrogatepass"), what


_XML = (
    *(
        b"<w:p>",
        b"</w:p>",
        b"<w:r/>",
        b"&#0;",
        b"&x;",
        b"]]>",
        b"<!DOCTYPE x [<!ENTITY x SYSTEM 'file:///etc/passwd'>]>",
    ),
    *(b"<w:t>" + b"a" * 50_000 + b"</w:t>", b'w:val="' + b"9" * 5000 + b'"', b"<text:s text:c='NaN'/>"),
    *(
        b"<text:s text:c='2000000000'/>",
        b"<text:s text:c='-5'/>",
        b"<text:section>" * 4000,
        b"<text:span>" * 4000,
    ),
    *(
        b"<w:tbl><w:tr><w:tc>" * 300,
        b"<w:p/>" * 20_000,
        b"\xff\xfe",
        b"<w:br w:type='page'/>",
        b"\x1b]0;x\x07",
    ),
)


def _part(rng: random.Random, data: bytes) -> tuple[bytes, str]:
    """One member of a document is mutated; the zip file itself stays whole."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source:
        members = {n: source.read(n) for n in source.namelist()}
    likely = [n for n in members if n.endswith("document.xml") or n in ("content.xml", "styles.xml")]
    name = rng.choice(likely) if rng.random() < 0.7 else rng.choice(sorted(members))
    part = members[name]
    what = rng.choice(("xml", "xml", "bytes", "gone", "grown", "nested"))
    if what == "xml" or not part:
        at = rng.randrange(len(part) + 1)
        at = part.rfind(b">", 0, at) + 1 if rng.random() < 0.8 else at
        part = part[:at] + rng.choice(_XML) + part[at:]
    elif what == "bytes":
        part, _ = _bytes(rng, part)
    elif what == "grown":
        at = part.rfind(b">", 0, rng.randrange(len(part)) + 1) + 1
        part = part[:at] + rng.choice((b" ", b"x", b"<a/>")) * rng.choice((1000, 2_000_000)) + part[at:]
    elif what == "nested":
        at = part.rfind(b">", 0, rng.randrange(len(part)) + 1) + 1
        part = part[:at] + b"<a>" * 6000 + b"</a>" * 6000 + part[at:]
    if what != "gone":
        members[name] = part
    else:
        del members[name]
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for each, content in members.items():
            target.writestr(each, content)
    return out.getvalue(), f"{name}: {what}"


def bombs(folder: Path) -> list[tuple[Path, str]]:
    """Documents that are small and unpack to something huge, or that take far too long."""
    found: list[tuple[Path, str]] = []

    def add(name: str, data: bytes, what: str) -> None:
        (folder / name).write_bytes(data)
        found.append((folder / name, what))

    for name, whole in (("a.docx", docx(SPEECH.splitlines())), ("a.odt", odt(SPEECH.splitlines()))):
        for filler, what in ((b" ", "blanks"), (b"<a/>", "elements"), (b"x", "letters")):
            out = io.BytesIO()
            with (
                zipfile.ZipFile(io.BytesIO(whole)) as source,
                zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target,
            ):
                for each in source.namelist():
                    part = source.read(each)
                    if each in ("word/document.xml", "content.xml"):
                        at = (
                            part.rfind(b"</w:body>")
                            if b"</w:body>" in part
                            else part.rfind(b"</office:text>")
                        )
                        part = part[:at] + filler * (400_000_000 // len(filler)) + part[at:]
                    target.writestr(each, part)
            add(what + name, out.getvalue(), f"{name[2:]} of 400 MB of {what}")
    flate = zlib.compress(b"BT /F1 11 Tf 72 700 Td (word) Tj ET\n" * 3_000_000)
    add("a.pdf", pdf_of([flate], b" /Filter /FlateDecode"), "pdf with a stream of 108 MB")
    twice = zlib.compress(zlib.compress(b" " * 1_000_000_000))
    add("b.pdf", pdf_of([twice], b" /Filter [/FlateDecode /FlateDecode]"), "pdf packed twice, 1 GB")
    line = ["word " * 60_000]
    add("c.pdf", pdf(line), "pdf with 60,000 words on a line")
    add("d.pdf", pdf_of([b"BT /F1 9 Tf 72 700 Td (page) Tj ET"] * 5000), "pdf of 5,000 pages")
    forms = [
        b"<< /Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /XObject << /X "
        + str(n + 1).encode()
        + b" 0 R >> >> /Length 11 >>\nstream\n/X Do /X Do\nendstream"
        for n in range(6, 30)
    ]
    add("e.pdf", _with_forms(forms), "pdf with 24 nested forms")
    return found


def _with_forms(forms: list[bytes]) -> bytes:
    last = b"<< /Type /XObject /Subtype /Form /BBox [0 0 9 9] /Length 24 >>\nstream\nBT /F1 9 Tf (a) Tj ET    \nendstream"
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [4 0 R] /Count 1 >>",
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Resources << /Font << /F1 3 0 R >> /XObject << /X 6 0 R >> >>"
        b" /Contents 5 0 R >>",
        b"<< /Length 5 >>\nstream\n/X Do\nendstream",
        *forms,
        last,
    ]
    out = bytearray(b"%PDF-1.4\n")
    for n, body in enumerate(objects, 1):
        out += f"{n} 0 obj\n".encode() + body + b"\nendobj\n"
    return bytes(out + f"trailer << /Size {len(objects) + 1} /Root 1 0 R >>\n%%EOF\n".encode())
