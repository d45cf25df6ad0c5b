"""Scripts from OpenDocument texts (odt): paragraphs as lines, styles and italics as what they mean.

The elements are those of OASIS OpenDocument 1.3. Notes, comments and deleted text are left out. A document
that is protected by a password is recognised by its manifest.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import Any
from xml.parsers.expat import ExpatError
from xml.sax import SAXException

from offbook.errors import ScriptError
from offbook.script.formats.built import Builder
from offbook.script.sheet import Page

_SKIPPED = {"text:note", "office:annotation", "text:tracked-changes", "office:forms", "text:ruby-text"}
_SKIPPED |= {"text:table-of-content", "text:page-number", "text:page-count", "text:sequence-decls"}

# The errors that the libraries raise for a damaged file.
_FAULTS = (
    *(zipfile.BadZipFile, zlib.error, SAXException, ExpatError, OSError, EOFError, NotImplementedError),
    *(RuntimeError, KeyError, ValueError, IndexError, TypeError, AttributeError),
)


def read_odt(data: bytes, name: str) -> Page:
    """The page of an odt file. Raises ScriptError if it is protected or damaged."""
    from odf.opendocument import load  # heavy: imported where an odt is met

    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            listed = "META-INF/manifest.xml" in archive.namelist()
            if listed and b"encryption-data" in archive.read("META-INF/manifest.xml"):
                raise ScriptError(
                    f"{name} is protected by a password", "save a copy without the password, and give that"
                )
        document = load(BytesIO(data))
    except _FAULTS as e:
        raise ScriptError(
            f"{name} is a damaged odt: it breaks off or its parts do not fit",
            "open it in a word processor and save it again",
        ) from e
    body = getattr(document, "text", None)
    if body is None:
        raise ScriptError(f"{name} is not a text document", "save the script as an odt text, and give that")
    try:
        return _page(document, body)
    except RecursionError as e:
        raise ScriptError(
            f"{name} is nested more deeply than any script",
            "open it in a word processor, copy the text into a new document and save that",
        ) from e


def _page(document: Any, body: Any) -> Page:
    styles = _Styles(document)
    builder = Builder()
    for element, first_cell in _paragraphs(body):
        style = _attribute(element, "style-name")
        heading = f"heading {_attribute(element, 'outline-level')}" if element.tagName == "text:h" else ""
        runs = list(_runs(element, styles, styles.italic(style), styles.struck(style)))
        builder.paragraph(runs, heading or styles.name(style), same_row=None if first_cell else True)
    return builder.page()


class _Styles:
    """What the styles of a document mean. A style that does not say takes its meaning from its parent."""

    def __init__(self, document: Any) -> None:
        self._by_name: dict[str, Any] = {}
        for group in (document.styles, document.automaticstyles):
            for style in group.childNodes:
                if style.tagName == "style:style":
                    self._by_name[_attribute(style, "name")] = style

    def _line(self, name: str) -> Iterator[Any]:
        seen: set[str] = set()
        while name in self._by_name and name not in seen:
            seen.add(name)
            style = self._by_name[name]
            yield style
            name = _attribute(style, "parent-style-name")

    def name(self, name: str) -> str:
        """The name that a person sees: that of the nearest parent which is not an automatic style."""
        line = list(self._line(name))
        shown = next((s for s in line if _attribute(s, "display-name")), line[-1] if line else None)
        if shown is None:
            return name.replace("_20_", " ")
        return (_attribute(shown, "display-name") or _attribute(shown, "name")).replace("_20_", " ")

    def _property(self, name: str, wanted: str) -> str:
        for style in self._line(name):
            for child in style.childNodes:
                if child.tagName == "style:text-properties" and (value := _attribute(child, wanted)):
                    return value
        return ""

    def italic(self, name: str) -> bool:
        return self._property(name, "font-style") in ("italic", "oblique")

    def struck(self, name: str) -> bool:
        return self._property(name, "text-line-through-style") not in ("", "none")

    def raised(self, name: str) -> bool:
        return self._property(name, "text-position").startswith(("super", "3", "4", "5"))


def _attribute(element: Any, name: str) -> str:
    for (_, local), value in element.attributes.items():
        if local == name:
            return str(value)
    return ""


def _paragraphs(element: Any) -> Iterator[tuple[Any, bool]]:
    """Paragraphs and headings in order, and whether each begins a line (a cell to the right does not)."""
    for child in element.childNodes:
        tag = getattr(child, "tagName", "")
        if tag in _SKIPPED:
            continue
        if tag in ("text:p", "text:h"):
            yield child, True
        elif tag == "table:table-row":
            cells = [c for c in child.childNodes if getattr(c, "tagName", "") == "table:table-cell"]
            for k, cell in enumerate(cells):
                for n, (paragraph, _) in enumerate(_paragraphs(cell)):
                    yield paragraph, k == 0 or n > 0
        elif tag:
            yield from _paragraphs(child)


def _runs(element: Any, styles: _Styles, italic: bool, struck: bool) -> Iterator[tuple[str, bool, str]]:
    for child in element.childNodes:
        tag = getattr(child, "tagName", "")
        if child.nodeType == child.TEXT_NODE:
            yield " ".join(str(child.data).split("\n")), italic, "struck out" if struck else ""
        elif tag in _SKIPPED:
            continue
        elif tag == "text:s":
            yield " " * _blanks(child), italic, ""
        elif tag == "text:tab":
            yield "\t", italic, ""
        elif tag == "text:line-break":
            yield "\n", italic, ""
        elif tag == "text:span":
            style = _attribute(child, "style-name")
            runs = _runs(child, styles, italic or styles.italic(style), struck or styles.struck(style))
            raised = styles.raised(style)
            for text, leans, reason in runs:
                yield text, leans, "footnote mark" if raised and text.strip().isdigit() else reason
        elif tag:
            yield from _runs(child, styles, italic, struck)


_MOST_BLANKS = 200  # kept of a row of blanks: enough for any margin; set by hand
_DAMAGED = 10  # digits: a count of blanks with so many is damaged; set by hand


def _blanks(element: Any) -> int:
    """How many blanks a text:s element stands for: its `text:c`, or one if that is not a number."""
    count = _attribute(element, "c")
    return min(_MOST_BLANKS, int(count)) if count.isdecimal() and len(count) < _DAMAGED else 1
