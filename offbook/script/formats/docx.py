"""Scripts from Word documents (docx): paragraphs as lines, styles and italics as what they mean.

Headings and titles are recognised by their styles, as are the parts of a script where the template has styles
for them (Character, Dialogue, Action, ...). Deleted and hidden text, comments, notes, headers and footers
are not part of the text.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from offbook.errors import ScriptError
from offbook.script.formats.built import Builder
from offbook.script.sheet import Page

_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_SKIPPED = {
    _W + tag for tag in ("del", "moveFrom", "instrText", "delText", "txbxContent", "footnotePr", "rPr", "pPr")
} | {"{http://schemas.openxmlformats.org/markup-compatibility/2006}Fallback"}
_CHARACTERS = {"tab": "\t", "ptab": "\t", "cr": "\n", "noBreakHyphen": "-", "softHyphen": "\u00ad"}


def read_docx(data: bytes, name: str) -> Page:
    """The page of a docx file. Raises ScriptError if the file is damaged."""
    from docx import Document  # heavy: imported where a docx is met
    from docx.opc.exceptions import OpcError

    try:
        document = Document(BytesIO(data))  # a fault in its XML is a SyntaxError
        body = document.element.body
        styles = {style.style_id: (style.name or "") for style in document.styles}
        leaning = {style.style_id for style in document.styles if _style_leans(style)}
    except (
        OpcError,
        SyntaxError,
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,  # an unknown way of packing
        RuntimeError,  # a packed part with a password
        IndexError,
        TypeError,
        KeyError,
        ValueError,
        OSError,
        EOFError,
        AttributeError,
    ) as e:
        raise ScriptError(
            f"{name} is a damaged docx: it breaks off or its parts do not fit",
            "open it in a word processor and save it again",
        ) from e
    builder = Builder()
    for paragraph in body.iter(_W + "p"):
        if not any(parent.tag in _SKIPPED for parent in paragraph.iterancestors()):
            style_id = paragraph.pPr.pStyle.val if _has_style(paragraph) else ""
            row = _row_of(paragraph)
            builder.paragraph(
                list(_runs(paragraph, style_id in leaning)), styles.get(style_id, style_id), same_row=row
            )
    return builder.page()


def _style_leans(style: Any) -> bool:
    font = getattr(style, "font", None)
    return bool(font is not None and font.italic)


def _has_style(paragraph: Any) -> bool:
    return paragraph.pPr is not None and paragraph.pPr.pStyle is not None


def _row_of(paragraph: Any) -> Any:
    """True if a paragraph is the first in a table cell that is not the leftmost: it continues the same line.

    False for another paragraph of such a cell, None outside of one.
    """
    cell = next((p for p in paragraph.iterancestors() if p.tag == _W + "tc"), None)
    if cell is None or cell.getprevious() is None or cell.getprevious().tag != _W + "tc":
        return None
    return next(iter(cell.iterchildren(_W + "p"))) is paragraph


def _runs(paragraph: Any, italic: bool) -> Iterator[tuple[str, bool, str]]:
    """The pieces of a paragraph: text, whether italic, and why it is left out ("" if it is not)."""
    for run in paragraph.iter(_W + "r"):
        between = []
        for parent in run.iterancestors():
            if parent is paragraph:
                break
            between.append(parent.tag)
        if any(tag in _SKIPPED for tag in between):
            continue
        text = "".join(_text(run))
        if not text or _on(run, "vanish"):
            continue
        leans = _on(run, "i") if _given(run, "i") else italic
        reason = "struck out" if _on(run, "strike") or _on(run, "dstrike") else ""
        if _raised(run) and text.strip().isdigit():
            reason = "footnote mark"
        yield text, leans, reason


def _text(run: Any) -> Iterator[str]:
    for child in run:
        tag = child.tag
        if not isinstance(tag, str) or not tag.startswith(_W):
            continue
        short = tag[len(_W) :]
        if short == "t":
            yield child.text or ""
        elif short == "br":
            yield "\f" if child.get(_W + "type") == "page" else "\n"
        elif short in _CHARACTERS:
            yield _CHARACTERS[short]


def _given(run: Any, tag: str) -> bool:
    return run.rPr is not None and run.rPr.find(_W + tag) is not None


def _on(run: Any, tag: str) -> bool:
    if not _given(run, tag):
        return False
    return run.rPr.find(_W + tag).get(_W + "val") not in ("0", "false", "off", "none")


def _raised(run: Any) -> bool:
    return _given(run, "vertAlign") and run.rPr.find(_W + "vertAlign").get(_W + "val") == "superscript"
