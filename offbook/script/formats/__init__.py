"""From a file to a `Page`: which format it is in, and what to say if it cannot be read.

The content counts more than the name: a pdf that is called .txt is read as a pdf. The libraries for docx, odt
and pdf take long to import, so they are imported only when such a file is read.
"""

from __future__ import annotations

from pathlib import Path

from offbook.errors import ScriptError
from offbook.intake import SCRIPT, read_bytes, read_standard_input
from offbook.script.encodings import decode, kind_of
from offbook.script.formats.bounded import check_parts, read_within_bounds
from offbook.script.sheet import Page

_MARKDOWN = (".md", ".markdown", ".mdown", ".mkd")
_FOUNTAIN = (".fountain", ".spmd")
# Bytes: readers accept blanks before the header (ISO 32000-1, annex H, note 13; from memory)
_PDF_HEADER_WITHIN = 1024
_BYTES_CHECKED = 4096  # for a zero, which no text in one-byte characters has; set by hand


def read_page(path: str | Path) -> Page:
    """The page in the file at `path`, "-" for standard input. Raises ScriptError if it cannot be read."""
    if str(path) == "-":
        data, name, suffix = read_standard_input(SCRIPT, ScriptError), "the pasted text", ""
    else:
        data, name, suffix = read_bytes(path, SCRIPT, ScriptError), str(path), Path(path).suffix.lower()
    if not data.strip():
        raise ScriptError(f"{name} is empty", "give a script with text in it")
    if data[:_PDF_HEADER_WITHIN].lstrip().startswith(b"%PDF"):
        from offbook.script.formats.pdf import read_pdf

        return read_within_bounds(read_pdf, data, name, ("pdfplumber",))
    if data.startswith(b"PK\x03\x04"):
        return _zipped(data, name)
    if suffix in (".docx", ".odt", ".pdf"):
        return _mislabelled(data, name, suffix)
    text = decode(data, name)
    if suffix in _MARKDOWN:
        from offbook.script.formats.markdown import read_markdown

        return read_markdown(text)
    if suffix in _FOUNTAIN:
        from offbook.script.formats.fountain import read_fountain

        return read_fountain(text)
    return Page(text)


def _zipped(data: bytes, name: str) -> Page:
    names = check_parts(data, name)
    if "word/document.xml" in names:
        from offbook.script.formats.docx import read_docx

        return read_within_bounds(read_docx, data, name, ("docx",))
    if "content.xml" in names:
        from offbook.script.formats.odt import read_odt

        return read_within_bounds(read_odt, data, name, ("odf.opendocument", "odf.text"))
    raise ScriptError(
        f"{name} is a zip archive, not a script", "unpack it, and give the script file that is in it"
    )


def _mislabelled(data: bytes, name: str, suffix: str) -> Page:
    """The page of a file that is not what its name says. Raises ScriptError unless it is plain text."""
    kind = kind_of(data)
    if kind is not None and kind.startswith("an old Word"):
        raise ScriptError(
            f"{name} is protected by a password, or an old Word document",
            "open it in a word processor and save it as docx without a password",
        )
    if kind is None and suffix != ".pdf" and b"\x00" not in data[:_BYTES_CHECKED]:
        return Page(decode(data, name))  # plain text under the name of a document
    raise ScriptError(
        f"{name} is not a {suffix[1:]} file" + (f" but {kind}" if kind is not None else ", or is damaged"),
        "save the script again as text, docx, odt or pdf, and give that file",
    )
