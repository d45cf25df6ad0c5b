"""What a speech by itself is copied with: the work, the act, the place and the name above it, a source below.

Above the speech is a block of short rows: headings (`heading_lines`), entrances (`bare_directions`), and
the name of who speaks. The block ends where the first row is none of these. A name in capitals, an act or an
author make it sure. A title or a name with nothing beside it could as well be a first line: it is left out as
unsure, and so shown with its other reading; so is a name by itself that could be a title. A row that only
might be a title stays in the speech and is pointed out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise

from offbook.script.finders.bare_directions import direction_row
from offbook.script.finders.directions import DIRECTION
from offbook.script.finders.heading_lines import (
    LABEL,
    LIKELY,
    NO,
    SURE,
    heading,
    heading_pieces,
    is_reference,
    is_title,
    says_by_whom,
    tells,
)
from offbook.script.finders.pasted import TIME_CODE
from offbook.script.finders.speakers import clean_name, is_name, mostly_capitals
from offbook.script.sheet import Mark, Row, Sheet, word_set

HEADING = "heading"
SPEAKER = "speaker name"
_SOURCE = "source"

_CAPS_WORD = r"(?:[^\W\d_a-z](?:[^\W\d_a-z]|['’-])*|(?:[A-Z]|MRS?|DR|ST|MS|REV|CAPT|SGT)\.)"
_CAPS = rf"(?:\d\s)?{_CAPS_WORD}(?:\s(?:&\s|of\s|and\s|the\s|\d)?{_CAPS_WORD}){{0,4}}"
_TITLED = (
    r"(?:[123]\s)?[A-Z][\w'’-]*\.?(?:\s(?:(?:of|the|and|de|du|von|van)\s){0,2}(?:[A-Z][\w'’-]*\.?|\d)){0,4}"
)
_ASIDE = r"(?:\s*[(\[][^)\]]{0,80}[)\]])?"
_CAPS_ALONE = re.compile(rf"(?P<name>{_CAPS}){_ASIDE}\s*[.:]?")
_TITLED_ALONE = re.compile(rf"(?P<name>{_TITLED}){_ASIDE}\s*[.:]?")
_CAPS_BEFORE = re.compile(
    rf"(?P<name>{_CAPS})(?P<aside>{_ASIDE})(?P<set>\s*[.:]{_ASIDE}\s+|\s*[.:]?[—–]\s*|\s+[-–—]\s+|\t\s*|\s{{2,}})(?=\S)"
)
_TITLED_BEFORE = re.compile(
    rf"(?P<name>{_TITLED})(?P<aside>{_ASIDE})(?P<set>:{_ASIDE}\s+|\t\s*|\s{{2,}})(?=\S)"
)
_SHORT_BEFORE = re.compile(rf"(?P<name>{_TITLED}?)(?P<aside>)(?P<set>\.\s+)(?=\S)")
# In capitals by themselves these are cried, or begin a letter; nobody is called so.
_CRIES = word_set(
    """
    o oh ah ha aha alas fire silence peace death war freedom stop wait listen look help no yes never
    always enough hush quiet shame treason murder liar traitor out away go come run halt attention order
    please thanks sorry hello goodbye goodnight welcome congratulations right wrong okay ok well now
    then why what who how when where nothing nobody everything something anything love hate remember
    forget think imagine believe hear behold lo see feel touch breathe sleep wake arise awake rise fall
    fly burn bang crash boom ladies friends gentlemen everybody everyone today tonight tomorrow
    yesterday once again more less first finally
    """
)
_ARTICLE = re.compile(r"(?:the|an?)\s", re.IGNORECASE)
_ROWS = 12  # printed rows looked at above a speech
_LEAST_BELOW = 12  # words: with fewer below it, what is above is part of a very short text
_SHORT_TITLE = 5  # words of one that is left out for it
_LONGEST_TITLE = 8  # words of a first line that is set apart like a title
# These too were set by hand, on speeches as people copy them (bench/copied.py).
_REFRAIN = 2  # times that a line comes back at the least; as the last line, so often is enough
_LEAST_CAPITALS = 2  # words in capitals after a name that may be its rest; more are a shout
_MOST_CALLED = 5  # words of a name
_LONGEST_PLACE = 120  # characters of the place between a heading and a name
_LEAST_REST = 2  # rows below a first line that is set apart
_MOST_OVER = 7  # words of a title right over a speech
_LEAST_BEFORE_SOURCE = 2  # rows of a speech with a source below it that only may be one
_SHORT = 0.8  # a name over verse is shorter than this share of the lines below


@dataclass(frozen=True, slots=True)
class _Name:
    """A name over the speech.

    start, end: of the name and what sets it off. inline: the speech goes on beside it. capitals: set so.
    """

    start: int
    end: int
    name: str
    inline: bool
    sure: bool
    capitals: bool


def find_references(sheet: Sheet) -> None:
    """Mark the rows at the top that are headings by themselves, and what is above them.

    Before the speakers are looked for: a work in capitals over its act would be taken for one.
    """
    if mostly_capitals(sheet):
        return
    rows = _top(sheet)
    worth = [_worth(sheet, r) for r in rows]
    last = -1
    for k, w in enumerate(worth):
        if w == NO and not (_in_brackets(rows[k]) or direction_row(rows[k].text)):
            break
        if w == SURE and _enough_below(sheet, rows[k]):
            last = k
    for row in rows[: last + 1]:
        if not _names_somebody(row, rows[last]):
            _leave_out(sheet, row, sure=True)


def _names_somebody(row: Row, last: Row) -> bool:
    """Whether a row above a heading is a name with what is done or said: it is no heading."""
    return row is not last and re.search(r"\w:\s*$", row.text) is not None


def find_lone(sheet: Sheet) -> None:
    """Mark what is above a speech by itself, the name included."""
    sheet.lone = True
    if not mostly_capitals(sheet):
        _above(sheet)


def _above(sheet: Sheet) -> None:
    rows = _top(sheet)
    above = sheet.page.text[: rows[0].start] if rows else ""
    headed = any(m.what == HEADING and m.end <= rows[0].start for m in sheet.marks) if rows else False
    block, name = _block(sheet, rows, headed, above)
    for row in block:
        _leave_out(sheet, row, sure=True)
    if name is not None and not (headed or block) and _may_be_a_title(sheet, name):
        if _ARTICLE.match(name.name):
            sheet.out(name.start, name.end, HEADING, sure=False)
            return
        name = replace(name, sure=False)
    if name is not None:
        _mark_name(sheet, name)
        return
    if block:
        rows = _top(sheet)
        headed = True
    if rows:
        _first_line(sheet, rows, headed)


def _may_be_a_title(sheet: Sheet, name: _Name) -> bool:
    """Whether what is taken for a name could as well be a title: THE TIDE, or LIGHTHOUSE and a blank line."""
    said = sheet.page.text[name.start : name.end].strip()
    if name.inline or not name.capitals or said[-1] in ".:)]":
        return False
    row = next(r for r in sheet.rows if r.start <= name.start < r.end)
    return _ARTICLE.match(name.name) is not None or _apart(sheet, row)


def _block(sheet: Sheet, rows: list[Row], headed: bool, said_above: str) -> tuple[list[Row], _Name | None]:
    """The rows above the speech that are none of it, and the name if one is given there."""
    name: _Name | None = None
    at = -1
    for k, row in enumerate(rows):
        before = said_above + " ".join(r.text for r in rows[:k])
        found = _name_of_speech(sheet, rows, k, headed, before)
        if not (_is_label(sheet, found) or _enough_below(sheet, row)) or _comes_back(sheet, row):
            break
        settled = name is not None and _settled(sheet, rows[at], name, headed or at > 0)
        if settled and found is not None and not found.capitals:
            break
        if found is not None and (found.inline or _speech_below(sheet, row)):
            name, at = found, k
            if found.inline:
                break
        elif _worth(sheet, row) == SURE:
            name, at = None, k  # what was taken for a name is the work that the row places
        elif not _may_stand_above(sheet, rows, k, headed):
            break
    if name is None:
        return rows[: at + 1], None
    return (rows[:at] if name.sure or headed or at > 0 else []), name


def _is_label(sheet: Sheet, name: _Name | None) -> bool:
    """Whether a name in capitals is set off by a colon from the speech beside it: `MARA: He was not ill`."""
    if name is None or not (name.capitals and name.inline):
        return False
    return ":" in sheet.page.text[name.start : name.end]


def _may_stand_above(sheet: Sheet, rows: list[Row], k: int, headed: bool) -> bool:
    """Whether row k could be a title, a direction or a place, with a name or a heading still to come."""
    row = rows[k]
    return _worth(sheet, row) != NO or direction_row(row.text) != NO or _place(sheet, rows, k, headed)


def _name_of_speech(sheet: Sheet, rows: list[Row], k: int, headed: bool, before: str) -> _Name | None:
    """The name that row k is or begins with; none where the row as a whole is better read as a heading."""
    found = _name(sheet, rows[k], headed or k > 0, before)
    if found is not None and found.inline and _better_as_heading(sheet, rows, k, headed, before):
        return None
    return found


def _comes_back(sheet: Sheet, row: Row) -> bool:
    """Whether a row is on the page again as a refrain does: often, or at the very end."""
    printed = [r for r in sheet.rows if not r.blank]
    again = [r for r in printed if r.text == row.text]
    return len(again) > _REFRAIN or (len(again) == _REFRAIN and again[-1] is printed[-1])


def _settled(sheet: Sheet, row: Row, name: _Name, headed: bool) -> bool:
    """Whether the name found is the name: in capitals under a heading, or right over the speech."""
    return (name.capitals and headed) or not _apart(sheet, row)


def _better_as_heading(sheet: Sheet, rows: list[Row], k: int, headed: bool, before: str) -> bool:
    """Whether a row that begins like a name before the speech is a heading or a place as a whole."""
    if _worth(sheet, rows[k]) >= LIKELY and _apart(sheet, rows[k]):
        return True
    if _known_by_its_first_line(sheet, rows[k:], 1):
        return True
    return _place(sheet, rows, k, headed) and _CAPS_BEFORE.match(rows[k].text) is None


def _name(sheet: Sheet, row: Row, headed: bool, before: str = "") -> _Name | None:
    """The name that a row is, or begins with.

    headed: something above says that a name may follow. before: what is above.
    """
    text = sheet.left(row)
    base = row.start + len(text) - len(text.lstrip(" *_"))
    said = text.strip(" *_")
    if (LABEL.match(said) and not tells(said)) or direction_row(said) == SURE:
        return None
    alone = _CAPS_ALONE.fullmatch(said)
    if alone is not None and _is_called(alone["name"], headed) and not is_reference(said):
        return _Name(base, base + len(said), clean_name(alone["name"]), False, True, True)
    for pattern in (_CAPS_BEFORE, _TITLED_BEFORE, _SHORT_BEFORE):
        m = pattern.match(said)
        if (
            m is None
            or not re.search(r"[^\W\d_]{2}", m["name"])
            or not (
                _sets_off(m, said[m.end() :], pattern, headed)
                or (pattern is _SHORT_BEFORE and _short_for(m["name"], before))
            )
        ):
            continue
        capitals = pattern is _CAPS_BEFORE
        return _Name(base, base + m.end(), clean_name(m["name"]), True, capitals or headed, capitals)
    alone = _TITLED_ALONE.fullmatch(said)
    if alone is not None and _is_called(alone["name"], headed, capitals=False):
        marked = said[-1] == ":" or (headed and said[-1] in ".)")
        if marked or (headed and _stands_over(sheet, row)):
            return _Name(base, base + len(said), clean_name(alone["name"]), False, headed, False)
    return None


def _sets_off(m: re.Match[str], rest: str, pattern: re.Pattern[str], headed: bool) -> bool:
    """Whether what a row begins with is a name before the speech, and not its first words."""
    capitals = pattern is _CAPS_BEFORE
    if not _is_called(m["name"], headed, capitals):
        return False
    if not any(c.islower() for c in rest) and len(rest.split()) > _LEAST_CAPITALS:
        return False
    first = rest.lstrip("\"“”‘’'([—–-")[:1]
    if pattern is _SHORT_BEFORE:
        return headed and first.isupper()
    if "\t" in m["set"] or m["set"].isspace():
        return True
    return first.isupper() or headed or (":" in m["set"] and capitals)


def _short_for(name: str, before: str) -> bool:
    """Whether a short name is the beginning of one that is above: "Her." under "Enter Hero"."""
    return any(w.startswith(name) and w != name for w in re.findall(r"\w+", before.title()))


def _is_called(name: str, headed: bool, capitals: bool = True) -> bool:
    """Whether somebody may be called so. headed: a heading above says that a name is to be expected."""
    words = name.split()
    if not is_name(name, capitals) or len(words) > _MOST_CALLED or tells(words[0]):
        return False
    return headed or not (len(words) == 1 and words[0].strip(".").lower() in _CRIES)


def _stands_over(sheet: Sheet, row: Row) -> bool:
    """Whether a row is shorter than the speech below, as a name or a title over it is."""
    below = [r for r in sheet.rows if r.start > row.end and sheet.spoken(r)][:8]
    sizes = sorted(len(r.text) for r in below)
    return bool(sizes) and len(row.text) < _SHORT * sizes[len(sizes) // 2]


def _place(sheet: Sheet, rows: list[Row], k: int, headed: bool) -> bool:
    """Whether a row between the heading and the name is the place or who is there."""
    above = headed if k == 0 else _worth(sheet, rows[k - 1]) == SURE
    if not above or tells(rows[k].text) or len(rows[k].text) > _LONGEST_PLACE:
        return False
    for row in rows[k + 1 : k + 4]:
        found = _name(sheet, row, True)
        if found is not None and (not found.inline or _CAPS_BEFORE.match(row.text)):
            return True
        if tells(row.text):
            return False
    return False


def _mark_name(sheet: Sheet, name: _Name) -> None:
    inside = re.search(r"[(\[].*[)\]]", sheet.page.text[name.start : name.end])
    if inside is None:
        sheet.add([Mark(name.start, name.end, "speaker", name.name, name.sure)])
    else:
        sheet.add([Mark(name.start, name.start + inside.start(), "speaker", name.name, name.sure)])
        sheet.out(name.start + inside.start(), name.start + inside.end(), DIRECTION)
        sheet.add([Mark(name.start + inside.end(), name.end, "speaker", name.name, name.sure)])
    if all(start >= name.end or end <= name.start for start, end in sheet.kept):
        sheet.names[name.name] = 1


def _first_line(sheet: Sheet, rows: list[Row], headed: bool) -> None:
    """A title, or a name, with nothing beside it to say so."""
    if any(m.what == TIME_CODE for m in sheet.marks):
        return
    for n in (3, 2, 1):
        if _known_by_its_first_line(sheet, rows, n):
            for row in rows[:n]:
                _leave_out(sheet, row, sure=_apart(sheet, rows[n - 1]))
            return
    titles: list[Row] = []
    for row in rows[:3]:
        if _worth(sheet, row) < LIKELY or not _enough_below(sheet, row) or _comes_back(sheet, row):
            break
        titles.append(row)
    while titles:
        if _over_a_speech(sheet, titles):
            for row in titles:
                _leave_out(sheet, row, sure=len(titles) > 1)
            return
        titles.pop()
    if not headed and rows:
        _stands_apart(sheet, rows[0], rows[1:])


def _stands_apart(sheet: Sheet, row: Row, rest: list[Row]) -> None:
    """A first line that is set apart and ends no sentence: a short one is a title, a longer one may be."""
    if (
        len(rest) < _LEAST_REST
        or not _enough_below(sheet, row)
        or not _apart(sheet, row)
        or not _several_below(sheet, row)
    ):
        return
    words = row.text.split()
    if len(words) > _LONGEST_TITLE or not row.text[-1].isalnum() or _cry(row.text) or _comes_back(sheet, row):
        return
    if len(words) <= _SHORT_TITLE and not tells(row.text):
        sheet.out(row.start, row.end, HEADING, sure=False)
    else:
        sheet.perhaps.append(Mark(row.start, row.end, "out", HEADING, False))


def _over_a_speech(sheet: Sheet, titles: list[Row]) -> bool:
    """Whether rows that could be titles are, by where they are."""
    first, last = titles[0], titles[-1]
    if len(titles) == 1 and (_cry(first.text) or tells(first.text.split()[0])):
        return False
    if _apart(sheet, last) and last.text[-1] not in ".,":
        return True
    following = _next(sheet, last)
    opens = following is not None and following.text.lstrip("\"“‘'’([—")[:1].isupper()
    return (
        opens
        and len(last.text.split()) <= _MOST_OVER
        and last.text[-1].isalnum()
        and _stands_over(sheet, last)
    )


def _next(sheet: Sheet, row: Row) -> Row | None:
    return next((r for r in sheet.rows if r.start > row.end and sheet.spoken(r)), None)


def _known_by_its_first_line(sheet: Sheet, rows: list[Row], n: int) -> bool:
    """Whether the first n rows are a poem's title and author, the title its first words."""
    if len(rows) <= n or len(sheet.left(rows[0]).split()) > _ROWS or not _enough_below(sheet, rows[n - 1]):
        return False
    alone = n == 1 and (tells(rows[0].text) or _worth(sheet, rows[0]) < LIKELY)
    if not _apart(sheet, rows[n - 1]) and alone:
        return False
    for k, row in enumerate(rows[:n]):
        others = [r for r in rows[:n] if r is not row]
        named = all(_worth(sheet, r) >= LIKELY for r in others)
        if named and _repeated(row.text, rows[n]):
            return True
        split = heading_pieces(row.text)
        rest = [p for p in split if not _repeated(p, rows[n])]
        if named and k == 0 and 0 < len(rest) < len(split) and all(is_title(p) for p in rest):
            return _apart(sheet, rows[n - 1])
    return False


def _repeated(text: str, below: Row) -> bool:
    """Whether a row begins with the words of a text above it: a poem known by its first line."""
    title, line = (re.findall(r"[^\W_]+", t.lower()) for t in (text, below.text))
    return bool(title) and line[: len(title)] == title


def _cry(text: str) -> bool:
    words = re.findall(r"[^\W\d_]+", text.lower())
    return len(words) == 1 and words[0] in _CRIES


def _apart(sheet: Sheet, row: Row) -> bool:
    """Whether a blank line follows a row."""
    place = next(k for k, r in enumerate(sheet.rows) if r.start == row.start)
    return place + 1 < len(sheet.rows) and sheet.rows[place + 1].blank


def _several_below(sheet: Sheet, row: Row) -> bool:
    """Whether the rows below are together: where a blank line follows each, the first is one of them."""
    rows = sheet.rows
    place = next(k for k, r in enumerate(rows) if r.start == row.start)
    return any(not a.blank and not b.blank for a, b in pairwise(rows[place + 2 :]))


def find_source(sheet: Sheet) -> None:
    """Mark the rows below a speech that say where it is from, or link to it."""
    if mostly_capitals(sheet):
        return
    rows = [r for r in sheet.rows if sheet.spoken(r)]
    for row in reversed(rows[1:][-4:]):
        text = row.text.strip(" *_")
        place = next(k for k, r in enumerate(sheet.rows) if r.start == row.start)
        apart = place > 0 and sheet.rows[place - 1].blank
        dashed = re.match(r"[-–—~]{1,2}\s*\S", text) is not None
        worth = heading(re.sub(r"^(?:[-–—~]+|Source:)\s*", "", text))
        if worth == SURE or (worth == LIKELY and (dashed or apart) and len(rows) > _LEAST_BEFORE_SOURCE):
            if worth == LIKELY and not dashed and (text[-1] in ".!?" or _cry(text) or tells(text)):
                break
            sheet.out(row.start, row.end, _SOURCE, sure=worth == SURE or dashed)
        elif not direction_row(text):
            break


def _top(sheet: Sheet) -> list[Row]:
    """The first printed rows that are still to be spoken."""
    found: list[Row] = []
    for row in sheet.rows:
        if sheet.spoken(row):
            found.append(row)
            if len(found) == _ROWS:
                break
    return found


def _worth(sheet: Sheet, row: Row) -> int:
    """What a row is worth as a heading; in brackets or out of them."""
    return heading(sheet.left(row))


def _in_brackets(row: Row) -> bool:
    return row.text[:1] in "([" and row.text[-1:] in ")]"


def _leave_out(sheet: Sheet, row: Row, *, sure: bool) -> None:
    reason = DIRECTION if direction_row(row.text) and not says_by_whom(row.text) else HEADING
    sheet.out(row.start, row.end, reason, sure=sure)


def _enough_below(sheet: Sheet, row: Row) -> bool:
    found = len(row.text.split()) if not is_title(row.text) else 0
    for other in sheet.rows:
        if other.start > row.end and sheet.spoken(other):
            found += len(other.text.split())
        if found >= _LEAST_BELOW:
            return True
    return False


def _speech_below(sheet: Sheet, row: Row) -> bool:
    following = _next(sheet, row)
    return following is not None and any(c.islower() for c in following.text)
