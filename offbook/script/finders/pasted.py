"""What is copied with a text from a web page or from subtitles: tags, entities, time codes.

The tags are those of the HTML Living Standard; subtitles are the plain blocks of SubRip, and WebVTT (W3C). A
speech with a single `<` in it is not changed.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence

from offbook.script.sheet import MARK_UP, Row, Sheet

# First the tags that only set the type and do not separate words, then those that begin a line or a block.
_INLINE = "a|abbr|b|c|cite|code|em|font|i|mark|q|s|small|span|strong|sub|sup|u"
_BLOCK = (
    "article|blockquote|body|br|center|dd|div|dl|dt|figure|footer|h[1-6]|head|header|hr|html|img|li|main|meta"
    "|ol|p|pre|section|table|tbody|td|th|title|tr|ul|wbr"
)
# A tag has no attributes, or attributes with an equals sign: a direction such as <a pause> has none.
_TAG = re.compile(
    rf"</?(?:(?P<inline>{_INLINE})|{_BLOCK})(?:\s*/?>|\s[^<>]{{0,400}}=[^<>]{{0,400}}>)", re.IGNORECASE
)
# In WebVTT: a speaker, a class, or a time
_VOICE = re.compile(r"</?[vc](?:[. ][^<>]{0,200})?>|<\d+:[\d:.]+>")
_UNSPOKEN = re.compile(r"<!--|<!doctype[^<>]*>|<(?P<name>script|style|title|h[1-6])\b[^<>]*>", re.IGNORECASE)
_SPACE = re.compile(r"&(?:nbsp|ensp|emsp|thinsp|shy|zwnj|#160|#xa0);", re.IGNORECASE)
TAG = "tag"  # the reason for leaving out one that begins a line or a block
_TAGS = 2  # a text with fewer tags is not from a web page; set by hand
_CLOCK = r"(?:\d{1,3}:)?\d{1,2}:\d{2}[,.]\d{1,3}"
_CODE = re.compile(rf"{_CLOCK}\s*-->\s*{_CLOCK}\b.*")
_NUMBER = re.compile(r"\d{1,5}")
_WEBVTT_BLOCK = re.compile(r"(?:NOTE|STYLE|REGION)(?:\s|$)")
TIME_CODE = "time code"  # the reason for leaving out one
_CODES = 2  # a text with fewer time codes is not subtitles; set by hand


def find_pasted(sheet: Sheet) -> None:
    """Mark the tags of a web page, and the numbers and times of subtitles."""
    _tags(sheet)
    _subtitles(sheet)


def _tags(sheet: Sheet) -> None:
    text = sheet.page.text
    hidden = _hidden(text)
    starts = [start for start, _ in hidden]
    tags = []
    for m in _TAG.finditer(text):
        k = bisect_right(starts, m.start()) - 1
        if k < 0 or m.start() >= hidden[k][1]:
            tags.append(m)
    if len(hidden) + len(tags) < _TAGS:
        return
    for start, end in hidden:
        heading = re.match(r"<h[1-6]\b", text[start:end], re.IGNORECASE)
        sheet.leave_out(start, end, "heading" if heading else "web page")
    for m in tags:
        sheet.leave_out(m.start(), m.end(), MARK_UP if m["inline"] else TAG)
    for m in _SPACE.finditer(text):
        sheet.leave_out(m.start(), m.end(), TAG)


def _hidden(text: str) -> list[tuple[int, int]]:
    """The parts of a web page that are not its text, as (start, end): comments, scripts, styles, headings.

    The end of each kind that is never closed is looked for only once, however often the kind occurs.
    """
    found: list[tuple[int, int]] = []
    never: set[str] = set()
    at = 0
    while (m := _UNSPOKEN.search(text, at)) is not None:
        name = (m["name"] or "").lower()
        at, end = m.end(), m.end()
        if m.group() == "<!--" or name:
            close = re.compile(rf"</{name}\s*>" if name else "-->", re.IGNORECASE)
            last = None if name in never else close.search(text, m.end())
            if last is None:
                never.add(name)
                continue
            at = end = last.end()
        found.append((m.start(), end))
    return found


def _subtitles(sheet: Sheet) -> None:
    """Mark the numbers and times of subtitles, and what WebVTT has besides them."""
    codes = [k for k, row in enumerate(sheet.rows) if _CODE.fullmatch(row.text)]
    if len(codes) < _CODES:
        return
    # In WebVTT a subtitle may have a name instead of a number.
    named = sheet.page.text.lstrip().startswith("WEBVTT")
    for k in codes:
        _left_out(sheet, sheet.rows[k], TIME_CODE)
        above = sheet.rows[k - 1] if k else None
        alone = k <= 1 or sheet.rows[k - 2].blank
        if above is not None and (_NUMBER.fullmatch(above.text) or (named and alone and not above.blank)):
            _left_out(sheet, above, "subtitle number")
    for m in _VOICE.finditer(sheet.page.text):
        sheet.leave_out(m.start(), m.end(), MARK_UP)
    _webvtt_blocks(sheet, codes)


def _webvtt_blocks(sheet: Sheet, codes: Sequence[int]) -> None:
    """Mark the first line, the notes and the styles of WebVTT. codes: the rows that are time codes."""
    for k, row in enumerate(sheet.rows):
        if row.text.startswith("WEBVTT") or _WEBVTT_BLOCK.match(row.text):
            begin = next((n for n in range(k, 0, -1) if sheet.rows[n - 1].blank), 0)
            end = next((n for n in range(k, len(sheet.rows)) if sheet.rows[n].blank), len(sheet.rows))
            # A spoken line that begins with such a word has a time code above it.
            if not any(begin <= n < end for n in codes):
                for other in sheet.rows[k:end]:
                    _left_out(sheet, other, "subtitle heading")


def _left_out(sheet: Sheet, row: Row, reason: str) -> None:
    sheet.leave_out(row.start, row.end, reason)
