"""Markdown scripts: headings, emphasis, comments and list marks are not spoken, the rest is.

The text is kept as it is in the file, and the mark-up in it is marked, so that the offsets stay right.
Emphasis is handed on as italics; whether it means stress or a stage direction, the rest of the script
decides. Follows the CommonMark specification as far as scripts use it, and front matter and footnotes as many
tools write them.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from offbook.script.finders.heading_lines import SURE, heading_certainty
from offbook.script.sheet import MARK_UP, Mark, Page, Row, bracketed_stretches, text_rows

_FRONT = re.compile(r"\A---\n(.*?)\n(?:---|\.\.\.)[ \t]*(?:\n|\Z)", re.DOTALL)
_HEADING = re.compile(r"(#{1,6})(?:[ \t]+|$)(.*?)(?:[ \t]+#+)?[ \t]*$")
# The length of each is limited, so that a mark which is never closed does not cause a search through the
# whole text.
_TAG = re.compile(r"</?[A-Za-z][^<>\n]{0,1000}>")
_FENCE = re.compile(r"(?:```|~~~).*")
_QUOTE = re.compile(r"(?:>[ \t]?)+")
_BULLET = re.compile(r"[-+*][ \t]+(?=\S)")
_NUMBER = re.compile(r"\d{1,3}[.)][ \t]+(?=\S)")
_IMAGE = re.compile(r"!\[[^\]]{0,1000}\]\([^)]{0,1000}\)")
_LINK = re.compile(r"\[(?P<text>[^\]\n]{0,1000})\](?P<url>\([^)\n]{0,1000}\)|\[[^\]\n]{0,1000}\])")
_FOOTNOTE = re.compile(r"\[\^[^\]\n]{1,200}\]")
_DEFINITION = re.compile(r"\[(\^?)[^\]\n]+\]:\s*\S.*")
_ESCAPE = re.compile(r"\\(?=[!-/:-@\[-`{-~\n])|\\$")
_ENTITY = re.compile(r"&(?P<code>[A-Za-z]{2,8}|#\d{2,5}|#x[0-9A-Fa-f]{2,4});")
_RULE = re.compile(r"(?:[-*_][ \t]*){3,}")
_STRONG = re.compile(r"(?P<m>\*\*|__)(?=\S)(?P<in>.{1,2000}?)(?<=\S)(?P=m)", re.DOTALL)
_EMPHASIS = re.compile(
    r"(?<![\w*\\])\*(?=[^\s*])(?P<a>[^*\n]*?(?:\n[^*\n]+)*?)(?<=[^\s*])\*(?!\*)"
    r"|(?<![\w\\])_(?=[^\s_])(?P<b>[^_\n]*?(?:\n[^_\n]+)*?)(?<=[^\s_])_(?!\w)"
)
_STRUCK = re.compile(r"~~(?=\S)(.{1,2000}?)(?<=\S)~~")


def read_markdown(text: str) -> Page:
    """The page of a Markdown text. Its title is in the front matter, or is the first heading."""
    title, marks = "", []
    front = _FRONT.match(text)
    if front is not None:
        marks.append(Mark(0, front.end(), "out", "front matter"))
        named = re.search(r"^title:\s*[\"']?(.*?)[\"']?\s*$", front[1], re.MULTILINE | re.IGNORECASE)
        title = _without_emphasis(named[1]) if named is not None else ""
    begin = front.end() if front is not None else 0
    headings = list(_headings(text_rows(text), begin))
    names = _heading_names(headings)
    for row, level, said in headings:
        name = names.get(said.casefold())
        if name is None:
            marks.append(Mark(row.start, row.end, "out", "heading"))
            title = title or (said if level == 1 else "")
        else:
            marks.append(Mark(row.start, row.end, "speaker", name))
    if not title and headings:
        title = headings[0][2] if headings[0][2].casefold() not in names else ""
    marks += _bold_names(text, begin)
    taken = {row.start for row, _, _ in headings}
    for row in text_rows(text):
        if row.start >= begin and row.start not in taken:
            marks += _row_marks(row)
    marks += _inline(text, begin)
    italics = tuple(
        m.span("a") if m["a"] is not None else m.span("b") for m in _EMPHASIS.finditer(text, begin)
    )
    return Page(text, title=title, marks=tuple(marks), italics=italics)


_MOST_INDENT = 3  # columns before a heading; with more it would be code (CommonMark 0.31, 4.2 ATX headings)


def _headings(rows: list[Row], begin: int) -> Iterator[tuple[Row, int, str]]:
    for k, row in enumerate(rows):
        if row.start < begin or row.blank or row.indent > _MOST_INDENT:
            continue
        m = _HEADING.match(row.text)
        if m is not None:
            yield row, len(m[1]), _without_emphasis(m[2])
            continue
        below = rows[k + 1].text if k + 1 < len(rows) else ""
        if re.fullmatch(r"=+|-+", below) and len(below) > 1 and (k == 0 or rows[k - 1].blank):
            yield row, 1 if below[0] == "=" else 2, _without_emphasis(row.text)


def _without_emphasis(text: str) -> str:
    """A title or a heading without the marks of emphasis and of code: "*Night Ferry*" is "Night Ferry"."""
    plain = _STRONG.sub(lambda m: m["in"], text)
    plain = _EMPHASIS.sub(lambda m: m["a"] if m["a"] is not None else m["b"], plain)
    return re.sub(r"[*`]", "", plain).strip()


_BOLD_NAME = re.compile(r"\*\*(?P<name>[A-Z][^*\n]{0,40}?)[.:]?\*\*:?(?:\s*[(\[][^)\]]*[)\]])?")
_LEAST_NAMES = 3  # fewer rows in bold, each over a speech, are not taken for speakers; set by hand


def _bold_names(text: str, begin: int) -> list[Mark]:
    """Marks on names in bold on lines of their own, each right above a speech, if one of them is repeated."""
    rows = text_rows(text)
    found = [
        (row, m)
        for row, below in pairwise(rows)
        if row.start >= begin and not below.blank and (m := _BOLD_NAME.fullmatch(row.text)) is not None
    ]
    names = {" ".join(m["name"].split()).casefold() for _, m in found}
    if len(found) < _LEAST_NAMES or len(names) == len(found):
        return []
    return [Mark(row.start, row.end, "speaker", " ".join(m["name"].split())) for row, m in found]


_LONGEST_NAME = 4  # words of a heading that may be a speaker's name; set by hand


def _heading_names(headings: list[tuple[Row, int, str]]) -> dict[str, str]:
    """The headings that are speakers, casefolded, each with its spelling: short headings that are repeated.

    An act or a scene is not a speaker, though two may have the same heading: "SCENE II. A street".
    """
    headings = [h for h in headings if heading_certainty(h[2]) != SURE]
    counts = Counter(said.casefold() for _, _, said in headings)
    back = {said for said, n in counts.items() if n > 1 and len(said.split()) <= _LONGEST_NAME}
    if not back:
        return {}
    levels = {level for _, level, said in headings if said.casefold() in back}
    found: dict[str, str] = {}
    for _, level, said in headings:
        same_kind = level in levels and len(said.split()) <= _LONGEST_NAME and said == said.upper()
        if said and (said.casefold() in back or same_kind):
            found.setdefault(said.casefold(), said.strip(" .:"))
    return found


def _row_marks(row: Row) -> list[Mark]:
    """The marks on what begins a line: signs of a quotation, a list or a rule."""
    text, at, found = row.text, 0, []
    if (_FENCE.fullmatch(text) or _RULE.fullmatch(text)) and not row.blank:
        return [Mark(row.start, row.end, "out", MARK_UP)]
    definition = _DEFINITION.fullmatch(text)
    if definition is not None:
        return [Mark(row.start, row.end, "out", "footnote" if definition[1] else "link address")]
    for pattern, reason in ((_QUOTE, MARK_UP), (_BULLET, MARK_UP), (_NUMBER, "list number")):
        m = pattern.match(text, at)
        if m is not None:
            found.append(Mark(row.start + at, row.start + m.end(), "out", reason))
            at = m.end()
    return found


def _inline(text: str, begin: int) -> list[Mark]:
    found: list[Mark] = []

    def out(start: int, end: int, reason: str) -> None:
        found.append(Mark(start, end, "out", reason))

    for start, end in bracketed_stretches(text, "<!--", "-->", begin):
        out(start, end, "comment")
    for m in _TAG.finditer(text, begin):
        out(*m.span(), MARK_UP)
    for m in _IMAGE.finditer(text, begin):
        out(*m.span(), "picture")
    for m in _FOOTNOTE.finditer(text, begin):
        out(*m.span(), "footnote mark")
    for m in _LINK.finditer(text, begin):
        if text[m.start() - 1 : m.start()] != "!" and not m["text"].startswith("^"):
            out(m.start(), m.start() + 1, MARK_UP)
            out(m.end("text"), m.end(), "link address")
    for m in _STRUCK.finditer(text, begin):
        out(*m.span(), "struck out")
    for m in _STRONG.finditer(text, begin):
        out(m.start(), m.start() + 2, MARK_UP)
        out(m.end() - 2, m.end(), MARK_UP)
    for m in _EMPHASIS.finditer(text, begin):
        out(m.start(), m.start() + 1, MARK_UP)
        out(m.end() - 1, m.end(), MARK_UP)
    for m in _ENTITY.finditer(text, begin):
        if m["code"] == "amp":  # the sign itself is said: "and"
            out(m.start() + 1, m.end(), MARK_UP)
        else:
            out(*m.span(), "character code")
    for m in _ESCAPE.finditer(text, begin):
        out(*m.span(), MARK_UP)
    return found
