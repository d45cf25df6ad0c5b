"""What a single speech is copied with: the work, the act, the place and the name above it, a source below it.

Above the speech there is a block of short rows: headings (`heading_lines`), entrances (`bare_directions`),
and the name of the speaker. The block ends at the first row that is none of these. A name in capitals, an act
or an author makes it sure. A title or a name alone could also be the first line: it is left out as unsure,
and the performer is shown the other reading. The same is done with a name that could be a title. A row that
only might be a title is kept in the speech and pointed out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from offbook.script.finders.bare_directions import direction_certainty
from offbook.script.finders.by_line import begins_with_capital, is_by_line, rows_together_below
from offbook.script.finders.directions import DIRECTION
from offbook.script.finders.heading_lines import (
    EXCLAMATIONS,
    LABEL,
    LIKELY,
    NO,
    SURE,
    has_pronoun,
    heading_certainty,
    heading_pieces,
    is_exclamation,
    is_reference,
    is_title,
    names_author,
)
from offbook.script.finders.pasted import TIME_CODE
from offbook.script.finders.speakers import clean_name, is_name, mostly_capitals
from offbook.script.sheet import Mark, Row, Sheet

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
_ARTICLE = re.compile(r"(?:the|an?)\s", re.IGNORECASE)
# All the numbers below were set by hand, on speeches as people copy them (bench/copied.py).
_ROWS_LOOKED_AT = 12  # printed rows at the top of the page
_ROWS_COMPARED = 8  # rows below a name or title whose lengths it is compared with
_ROWS_TO_NAME = 3  # rows below a place, among which the name must be
_MOST_TITLE_ROWS = 3  # rows of a title and its author
_ROWS_AT_END = 4  # rows at the end of the page that may say where the speech is from
_LEAST_BELOW = 12  # words below a row: with fewer, it is part of a very short text
_SHORT_TITLE = 5  # words of a first line that is left out as a title
_LONGEST_TITLE = 8  # words of a first line with a blank line below it that is pointed out as a possible title
_REFRAIN = 2  # a line that is printed more often is a refrain; so often is enough if it is also the last line
_LEAST_CAPITALS = 2  # words in capitals after a name that may belong to it; more are a shout
_MOST_CALLED = 5  # words of a name
_LONGEST_PLACE = 120  # characters of the place between a heading and a name
_LEAST_REST = 2  # rows below a first line with a blank line after it
_MOST_OVER = 7  # words of a title without a blank line below it
_LEAST_BEFORE_SOURCE = 2  # a speech has more rows than this, if a source below it is not sure to be one
_SHORT = 0.8  # of the median length of the lines below: a name or title over them is shorter


@dataclass(frozen=True, slots=True)
class _NameRow:
    """A name over the speech.

    start, end: offsets of the name, and of the stop or dash behind it. inline: whether the speech begins on
    the same row. capitals: whether it is in capitals.
    """

    start: int
    end: int
    name: str
    inline: bool
    sure: bool
    capitals: bool


def find_sure_headings(sheet: Sheet) -> None:
    """Mark the rows at the top that are surely headings, and what is above them.

    To be called before the speakers are looked for: a title in capitals over its act would be taken for one.
    """
    if mostly_capitals(sheet):
        return
    rows = _first_spoken_rows(sheet)
    worth = [_heading_certainty(sheet, r) for r in rows]
    last = -1
    for k, w in enumerate(worth):
        if w == NO and not (_in_brackets(rows[k]) or direction_certainty(rows[k].text)):
            break
        if w == SURE and _enough_below(sheet, rows[k]):
            last = k
    for row in rows[: last + 1]:
        if not _names_somebody(row, rows[last]):
            _leave_out(sheet, row, sure=True)


def _names_somebody(row: Row, last: Row) -> bool:
    """Whether a row above the last heading ends with a word and a colon: it is a speaker, not a heading."""
    return row is not last and re.search(r"\w:\s*$", row.text) is not None


def find_above_speech(sheet: Sheet) -> None:
    """Mark what is above a single speech, with the speaker's name."""
    sheet.lone = True
    if not mostly_capitals(sheet):
        _mark_above(sheet)


def _mark_above(sheet: Sheet) -> None:
    rows = _first_spoken_rows(sheet)
    if not rows:
        return
    above = sheet.page.text[: rows[0].start]
    headed = any(m.what == HEADING and m.end <= rows[0].start for m in sheet.marks)
    block, name = _block_above(sheet, rows, headed, above)
    for row in block:
        _leave_out(sheet, row, sure=True)
    if name is not None and not (headed or block) and _may_be_a_title(sheet, name):
        if _ARTICLE.match(name.name):
            sheet.leave_out(name.start, name.end, HEADING, sure=False)
            return
        name = replace(name, sure=False)
    if name is not None:
        _mark_name(sheet, name)
        return
    if block:
        rows = _first_spoken_rows(sheet)
        headed = True
    if rows:
        _mark_first_line(sheet, rows, headed)


def _may_be_a_title(sheet: Sheet, name: _NameRow) -> bool:
    """Whether a name could also be a title: THE TIDE, or LIGHTHOUSE with a blank line below it."""
    said = sheet.page.text[name.start : name.end].strip()
    if name.inline or said[-1] in ".:)]":
        return False
    row = next(r for r in sheet.rows if r.start <= name.start < r.end)
    return _ARTICLE.match(name.name) is not None or _blank_follows(sheet, row)


def _block_above(
    sheet: Sheet, rows: list[Row], headed: bool, said_above: str
) -> tuple[list[Row], _NameRow | None]:
    """The rows above the speech that are not part of it, and the speaker's name if one is given there.

    headed: whether a heading was found above. said_above: the text above the rows.
    """
    name: _NameRow | None = None
    at = -1
    for k, row in enumerate(rows):
        before = said_above + " ".join(r.text for r in rows[:k])
        found = _name_of_speech(sheet, rows, k, headed, before)
        if not (_is_label(sheet, found) or _enough_below(sheet, row)) or _is_refrain(sheet, row):
            break
        settled = name is not None and _is_settled(sheet, rows[at], name, headed or at > 0)
        if settled and found is not None and not found.capitals:
            break
        if found is not None and (found.inline or _speech_below(sheet, row)):
            name, at = found, k
            if found.inline:
                break
        elif _is_surely_heading(sheet, row):
            name, at = None, k  # what looked like a name is the work; this row is its act and scene
        elif not _may_stand_above(sheet, rows, k, headed):
            break
    if name is None:
        return rows[: at + 1], None
    return rows[:at], name


def _is_surely_heading(sheet: Sheet, row: Row) -> bool:
    return _heading_certainty(sheet, row) == SURE or _is_by_line(sheet, row)


def _is_by_line(sheet: Sheet, row: Row) -> bool:
    return is_by_line(sheet, row, apart=_blank_follows(sheet, row))


def _is_label(sheet: Sheet, name: _NameRow | None) -> bool:
    """Whether a name in capitals has a colon and the speech behind it: `MARA: He was not ill`."""
    if name is None or not (name.capitals and name.inline):
        return False
    return ":" in sheet.page.text[name.start : name.end]


def _may_stand_above(sheet: Sheet, rows: list[Row], k: int, headed: bool) -> bool:
    """Whether row k could be a title, a direction or a place above a name, a heading or a by-line."""
    return (
        _heading_certainty(sheet, rows[k]) != NO
        or direction_certainty(rows[k].text) != NO
        or _is_place_line(sheet, rows, k, headed)
        or (k + 1 < len(rows) and _is_by_line(sheet, rows[k + 1]))
    )


def _name_of_speech(sheet: Sheet, rows: list[Row], k: int, headed: bool, before: str) -> _NameRow | None:
    """The name that row k is or begins with; None if the whole row is more likely a heading."""
    found = _name_in_row(sheet, rows[k], headed or k > 0, before)
    if found is not None and found.inline and _better_as_heading(sheet, rows, k, headed, before):
        return None
    return found


def _is_refrain(sheet: Sheet, row: Row) -> bool:
    """Whether a row is repeated as a refrain is: several times, or at the very end."""
    printed = [r for r in sheet.rows if not r.blank]
    again = [r for r in printed if r.text == row.text]
    return len(again) > _REFRAIN or (len(again) == _REFRAIN and again[-1] is printed[-1])


def _is_settled(sheet: Sheet, row: Row, name: _NameRow, headed: bool) -> bool:
    """Whether a name is sure to be the speaker: in capitals under a heading, or right above the speech."""
    return (name.capitals and headed) or not _blank_follows(sheet, row)


def _better_as_heading(sheet: Sheet, rows: list[Row], k: int, headed: bool, before: str) -> bool:
    """Whether a row that begins like a name before the speech is as a whole a heading or a place."""
    if _heading_certainty(sheet, rows[k]) >= LIKELY and _blank_follows(sheet, rows[k]):
        return True
    if _known_by_its_first_line(sheet, rows[k:], 1):
        return True
    return _is_place_line(sheet, rows, k, headed) and _CAPS_BEFORE.match(rows[k].text) is None


def _name_in_row(sheet: Sheet, row: Row, headed: bool, before: str = "") -> _NameRow | None:
    """The name that a row is, or begins with.

    headed: whether there is a heading above, so that a name is likely. before: the text above.
    """
    text = sheet.remaining(row)
    base = row.start + len(text) - len(text.lstrip(" *_"))
    said = text.strip(" *_")
    if (LABEL.match(said) and not has_pronoun(said)) or direction_certainty(said) == SURE:
        return None
    alone = _CAPS_ALONE.fullmatch(said)
    if alone is not None and _is_called(alone["name"], headed) and not is_reference(said):
        return _NameRow(base, base + len(said), clean_name(alone["name"]), False, True, True)
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
        return _NameRow(base, base + m.end(), clean_name(m["name"]), True, capitals or headed, capitals)
    alone = _TITLED_ALONE.fullmatch(said)
    if alone is not None and _is_called(alone["name"], headed, capitals=False):
        marked = said[-1] == ":" or (headed and said[-1] in ".)")
        if marked or (headed and _stands_over(sheet, row)):
            return _NameRow(base, base + len(said), clean_name(alone["name"]), False, headed, False)
    return None


def _sets_off(m: re.Match[str], rest: str, pattern: re.Pattern[str], headed: bool) -> bool:
    """Whether a row begins with a name, and not with the first words of the speech. rest: what follows it."""
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
    """Whether a name is short for one in the text above: "Her." under "Enter Hero"."""
    return any(w.startswith(name) and w != name for w in re.findall(r"\w+", before.title()))


def _is_called(name: str, headed: bool, capitals: bool = True) -> bool:
    """Whether these words may be a person's name. headed: whether a heading above makes a name likely."""
    words = name.split()
    if not is_name(name, capitals) or len(words) > _MOST_CALLED or has_pronoun(words[0]):
        return False
    return headed or not (len(words) == 1 and words[0].strip(".").lower() in EXCLAMATIONS)


def _stands_over(sheet: Sheet, row: Row) -> bool:
    """Whether a row is clearly shorter than the lines below, as a name or a title is."""
    below = [r for r in sheet.rows if r.start > row.end and sheet.spoken(r)][:_ROWS_COMPARED]
    sizes = sorted(len(r.text) for r in below)
    return bool(sizes) and len(row.text) < _SHORT * sizes[len(sizes) // 2]


def _is_place_line(sheet: Sheet, rows: list[Row], k: int, headed: bool) -> bool:
    """Whether a row between the heading and the name says where the scene is, or who is there."""
    above = headed if k == 0 else _heading_certainty(sheet, rows[k - 1]) == SURE
    if not above or has_pronoun(rows[k].text) or len(rows[k].text) > _LONGEST_PLACE:
        return False
    for row in rows[k + 1 : k + 1 + _ROWS_TO_NAME]:
        found = _name_in_row(sheet, row, True)
        if found is not None and (not found.inline or _CAPS_BEFORE.match(row.text)):
            return True
        if has_pronoun(row.text):
            return False
    return False


def _mark_name(sheet: Sheet, name: _NameRow) -> None:
    parts = [(name.start, name.end)]
    inside = re.search(r"[(\[].*[)\]]", sheet.page.text[name.start : name.end])
    if inside is not None:
        begin, end = name.start + inside.start(), name.start + inside.end()
        parts = [(name.start, begin), (end, name.end)]
        sheet.leave_out(begin, end, DIRECTION)
    sheet.add([Mark(start, end, "speaker", name.name, name.sure) for start, end in parts])
    if all(start >= name.end or end <= name.start for start, end in sheet.kept):
        sheet.names[name.name] = 1


def _mark_first_line(sheet: Sheet, rows: list[Row], headed: bool) -> None:
    """Mark a title, or a title and an author, that neither a heading nor a speaker's name shows to be one."""
    if any(m.what == TIME_CODE for m in sheet.marks):
        return
    for n in range(_MOST_TITLE_ROWS, 0, -1):
        if _known_by_its_first_line(sheet, rows, n):
            for row in rows[:n]:
                _leave_out(sheet, row, sure=_blank_follows(sheet, rows[n - 1]))
            return
    titles: list[Row] = []
    for row in rows[:_MOST_TITLE_ROWS]:
        if (
            _heading_certainty(sheet, row) < LIKELY
            or not _enough_below(sheet, row)
            or _is_refrain(sheet, row)
        ):
            break
        titles.append(row)
    while titles:
        if _over_a_speech(sheet, titles):
            for row in titles:
                _leave_out(sheet, row, sure=len(titles) > 1)
            return
        titles.pop()
    if not headed:
        _mark_set_apart(sheet, rows[0], rows[1:])


def _mark_set_apart(sheet: Sheet, row: Row, rest: list[Row]) -> None:
    """Mark a short first line with a blank line below it as a title, and point out a longer one."""
    if (
        len(rest) < _LEAST_REST
        or not _enough_below(sheet, row)
        or not _blank_follows(sheet, row)
        or not rows_together_below(sheet, row)
    ):
        return
    words = row.text.split()
    if (
        len(words) > _LONGEST_TITLE
        or not row.text[-1].isalnum()
        or is_exclamation(row.text)
        or _is_refrain(sheet, row)
    ):
        return
    if len(words) <= _SHORT_TITLE and not has_pronoun(row.text):
        sheet.leave_out(row.start, row.end, HEADING, sure=False)
    else:
        sheet.perhaps.append(Mark(row.start, row.end, "out", HEADING, False))


def _over_a_speech(sheet: Sheet, titles: list[Row]) -> bool:
    """Whether rows that could be titles are above the speech as titles are."""
    first, last = titles[0], titles[-1]
    if len(titles) == 1 and (is_exclamation(first.text) or has_pronoun(first.text.split()[0])):
        return False
    if _blank_follows(sheet, last) and last.text[-1] not in ".,":
        return True
    following = _next_spoken_row(sheet, last)
    opens = following is not None and begins_with_capital(following)
    return (
        opens
        and len(last.text.split()) <= _MOST_OVER
        and last.text[-1].isalnum()
        and _stands_over(sheet, last)
    )


def _next_spoken_row(sheet: Sheet, row: Row) -> Row | None:
    return next((r for r in sheet.rows if r.start > row.end and sheet.spoken(r)), None)


def _known_by_its_first_line(sheet: Sheet, rows: list[Row], n: int) -> bool:
    """Whether the first n rows are a poem's title, or title and author, and the title is its first words."""
    if (
        len(rows) <= n
        or len(sheet.remaining(rows[0]).split()) > _ROWS_LOOKED_AT
        or not _enough_below(sheet, rows[n - 1])
    ):
        return False
    alone = n == 1 and (has_pronoun(rows[0].text) or _heading_certainty(sheet, rows[0]) < LIKELY)
    if not _blank_follows(sheet, rows[n - 1]) and alone:
        return False
    for k, row in enumerate(rows[:n]):
        others = [r for r in rows[:n] if r is not row]
        named = all(_heading_certainty(sheet, r) >= LIKELY for r in others)
        if named and _first_words_repeat(row.text, rows[n]):
            return True
        split = heading_pieces(row.text)
        rest = [p for p in split if not _first_words_repeat(p, rows[n])]
        if named and k == 0 and 0 < len(rest) < len(split) and all(is_title(p) for p in rest):
            return _blank_follows(sheet, rows[n - 1])
    return False


def _first_words_repeat(text: str, below: Row) -> bool:
    """Whether the row below begins with the words of a text: some poems have no other title."""
    title, line = (re.findall(r"[^\W_]+", t.lower()) for t in (text, below.text))
    return bool(title) and line[: len(title)] == title


def _blank_follows(sheet: Sheet, row: Row) -> bool:
    """Whether a blank line follows a row."""
    place = next(k for k, r in enumerate(sheet.rows) if r.start == row.start)
    return place + 1 < len(sheet.rows) and sheet.rows[place + 1].blank


def find_source(sheet: Sheet) -> None:
    """Mark the rows below a single speech that say where it is from, or that are a link."""
    rows = [] if mostly_capitals(sheet) else [r for r in sheet.rows if sheet.spoken(r)]
    for row in reversed(rows[1:][-_ROWS_AT_END:]):
        text = row.text.strip(" *_")
        place = next(k for k, r in enumerate(sheet.rows) if r.start == row.start)
        apart = sheet.rows[place - 1].blank
        dashed = re.match(r"[-–—~]{1,2}\s*\S", text) is not None
        worth = heading_certainty(re.sub(r"^(?:[-–—~]+|Source:)\s*", "", text))
        if worth == SURE or (worth == LIKELY and (dashed or apart) and len(rows) > _LEAST_BEFORE_SOURCE):
            if (
                worth == LIKELY
                and not dashed
                and (text[-1] in ".!?" or is_exclamation(text) or has_pronoun(text))
            ):
                break
            sheet.leave_out(row.start, row.end, _SOURCE, sure=worth == SURE or dashed)
        elif not direction_certainty(text):
            break


def _first_spoken_rows(sheet: Sheet) -> list[Row]:
    """The first rows of the page that are still spoken, up to `_ROWS_LOOKED_AT`."""
    found: list[Row] = []
    for row in sheet.rows:
        if sheet.spoken(row):
            found.append(row)
            if len(found) == _ROWS_LOOKED_AT:
                break
    return found


def _heading_certainty(sheet: Sheet, row: Row) -> int:
    """How surely what is still spoken of a row is a heading: SURE, LIKELY or NO."""
    return heading_certainty(sheet.remaining(row))


def _in_brackets(row: Row) -> bool:
    return row.text[:1] in "([" and row.text[-1:] in ")]"


def _leave_out(sheet: Sheet, row: Row, *, sure: bool) -> None:
    reason = DIRECTION if direction_certainty(row.text) and not names_author(row.text) else HEADING
    sheet.leave_out(row.start, row.end, reason, sure=sure)


def _enough_below(sheet: Sheet, row: Row) -> bool:
    found = len(row.text.split()) if not is_title(row.text) else 0
    for other in sheet.rows:
        if other.start > row.end and sheet.spoken(other):
            found += len(other.text.split())
        if found >= _LEAST_BELOW:
            return True
    return False


def _speech_below(sheet: Sheet, row: Row) -> bool:
    following = _next_spoken_row(sheet, row)
    return following is not None and any(c.islower() for c in following.text)
