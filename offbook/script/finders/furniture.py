"""What a page prints beside the speech: page numbers, running heads, line numbers, headings, notes.

Each is recognised by its repetition or its position, never by how it looks alone: a number may be a word of
the speech, and a line in capitals may be a shout.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter, defaultdict
from itertools import pairwise

from offbook.script.sheet import Row, Sheet, roman_value

_PAGE = re.compile(
    r"(?:page|p\.|pg\.?)\s*\d{1,4}(?:\s*(?:of|/)\s*\d{1,4})?\.?|[-–—~•|]\s*\d{1,4}\s*[-–—~•|]|\d{1,4}\s+of\s+\d{1,4}"
    r"|\[(?:page|pg\.?|p\.)\s*\d{1,4}\]",
    re.IGNORECASE,
)
_MORE = re.compile(r"\(?(?:MORE|CONTINUED):?\)?(?:\s*\(\d+\))?|\d+\s+CONTINUED:\s+\d+")
_BARE = re.compile(r"[\[(]?(\d{1,4})[\])]?\.?")
_ROMAN = re.compile(r"([IVXLC]{1,7}|[ivxlc]{1,7})\.?")
_LEFT_NUMBER = re.compile(r"\(?(\d{1,4})\)?(?=\t|\s{2,}\S|\s\S)")
_RIGHT_NUMBER = re.compile(r"(?:\t\s*|\s{2,})\(?(\d{1,4})\)?$")
_RULE = re.compile(r"[=\-_~*–—]{3,}")
_ACT = re.compile(
    r"(?:act|scene|sc\.|prologue|epilogue|induction|chorus)\b[\s.:,]*"
    r"(?:[ivxlc]+|\d+|one|two|three|four|five|six|seven|eight|nine|ten|first|second|third|fourth|fifth)?"
    r"(?:[\s.:,;–—-]+(?:scene|sc\.?)[\s.]*(?:[ivxlc]+|\d+|one|two|three|four|five|six|seven))?(?P<rest>.*)",
    re.IGNORECASE,
)
_MAIL = re.compile(
    r"(?:from|to|cc|bcc|subject|date|sent|reply-to|attachments?|importance)\s*:", re.IGNORECASE
)
_SUPERIOR = re.compile(r"(?<=[\w.,;:!?'’\"”)])[⁰¹²³⁴-⁹]+|(?<=[\w.,;:!?'’\"”)])[†‡§]+")
_NOTE = re.compile(r"(?:\[\d{1,3}\]|[⁰¹²³⁴-⁹]+|[†‡]|\*{1,3}(?=[\s\w]))\s*(?=\S)")

# All the numbers of this module were set by hand, on texts as people copy them (bench/copied.py) and on those
# of the tests. Lengths are in characters, shares are from 0 to 1, and everything else is a count of rows if
# nothing else is said.
_LONGEST_HEADING = 70
_NUMBERED_FROM = 5  # characters: the shortest heading with a number is "act 1"
_LEAST_MAIL_HEADS = 2  # lines such as "From:" and "Subject:" that make the heading of an e-mail
_SHORTEST_RULE, _LONGEST_RULE = 0.5, 2  # the length of a rule under a heading, as a multiple of the heading's
_BLANKS_OVER_CAST = 2  # at most, between the heading of a list of characters and its first name
_LEAST_LISTED = 2  # the fewest names in a list of characters
_LONGEST_LISTED = 100
_BESIDE_BOTH = 2  # a number with text right above and right below it is not a page number
_LEAST_RUN = 2  # the fewest numbers that rise by one each time
_LEAST_BETWEEN = 3  # between two page numbers
# The first section begins above this row, and none has so many rows
_SECTIONS_BEGIN, _LONGEST_SECTION = 3, 20
_LONGEST_RUNNING_HEAD = 90
_LEAST_RUNNING_HEAD = 3  # characters
# How often a running head is repeated at least: one with a blank line between it and the text, and one
# without.
_LEAST_REPEATED, _LEAST_REPEATED_CLOSE = 2, 3
_ON_MOST_PAGES = 0.6  # the smallest share of the pages that have a running head
_EDGE_ROWS = 3  # a page with no more printed rows has neither a head nor a foot
_OUTERMOST = 2  # rows at a page's head and foot that may be running heads
_LEAST_LABELS = 2  # labels such as "Verse 1" and "Chorus"
_LEAST_TIMES, _TIMED = 3, 0.7  # the fewest rows that begin with a time, and the smallest share of all rows
_LEAST_NUMBERED, _NUMBERED = 4, 0.7  # the same, if every line is numbered
_NUMBERED_BY, _STEPS = 5, (5, 10)  # editions number every fifth or every tenth line
_LEAST_BY_FIVES = 2  # the fewest numbers in such steps
_LEAST_GAP = 3  # at least, between two numbers in such steps


def find_furniture(sheet: Sheet) -> None:
    """Mark everything that is printed beside the speech, except the headings of acts and scenes."""
    _mail(sheet)
    _underlined(sheet)
    _cast(sheet)
    _pages(sheet)
    _running_heads(sheet)
    _sections(sheet)
    _labels(sheet)
    _times(sheet)
    _margin(sheet, _RIGHT_NUMBER)
    _margin(sheet, _LEFT_NUMBER)
    _notes(sheet)


def find_scene_headings(sheet: Sheet) -> None:
    """Mark the headings of acts and scenes.

    The speakers must have been looked for before, because in a play a heading is recognised by less.
    """
    for row in sheet.rows:
        if not sheet.spoken(row):
            continue
        text = sheet.remaining(row).strip().strip("[]()#*=- ")
        m = _ACT.fullmatch(text)
        if m is None or len(text) > _LONGEST_HEADING:
            continue
        numbered = re.match(r"(?:act|scene|sc\.)[\s.:,]*(?:[ivxlc]+\b|\d|[a-z]+\b)", text, re.IGNORECASE)
        rest = m["rest"].strip(" .:,;–—-")
        named = re.match(r"(?:prologue|epilogue|induction)$", text.strip(" ."), re.IGNORECASE)
        upper = text == text.upper() or bool(sheet.names)
        tidy = not rest or not rest[:1].islower()
        if (numbered and m.start("rest") >= _NUMBERED_FROM and tidy and upper) or (named and sheet.names):
            sheet.leave_out(row.start, row.end, "heading")


def _mail(sheet: Sheet) -> None:
    """Mark the heading and the signature of a pasted e-mail, and what it says about another e-mail in it."""
    printed = [r for r in sheet.rows if not r.blank]
    head: list[Row] = []
    for row in printed:
        if not _MAIL.match(row.text.lstrip("> ")):
            break
        head.append(row)
    kinds = {r.text.lstrip("> ").split(":")[0].strip().lower() for r in head}
    if len(head) >= _LEAST_MAIL_HEADS and kinds & {"subject", "from", "sent"}:
        for row in head:
            sheet.leave_out(row.start, row.end, "e-mail heading")
        _covering(sheet, printed[len(head) :])
    for row in printed:
        text = row.text.lstrip("> ")
        forwarded = re.fullmatch(
            r"-+\s*(?:Forwarded message|Original Message|Begin forwarded message).*", text, re.I
        )
        wrote = re.fullmatch(r"On\b.{6,90}\bwrote:", text)
        if forwarded or wrote:
            sheet.leave_out(row.start, row.end, "e-mail heading")
        if wrote and not row.text.startswith(">"):
            _answered(sheet, row)
    if printed and re.fullmatch(r"Sent from my .{2,30}", printed[-1].text):
        sheet.leave_out(printed[-1].start, printed[-1].end, "e-mail signature")
    if kinds:
        signed = next((r for r in printed if r.text == "--"), None)
        if signed is not None:
            for row in printed[printed.index(signed) + 1 :]:
                sheet.leave_out(row.start, row.end, "e-mail signature")


def _covering(sheet: Sheet, body: list[Row]) -> None:
    """Mark the greeting of an e-mail, or all of its own text if the speech is quoted below it."""
    first = next((k for k, r in enumerate(body) if r.text.startswith(">")), None)
    if first is not None:
        note, quoted = body[:first], [r for r in body[first:] if r.text.startswith(">")]
        wrote = any(r.text.endswith("wrote:") for r in note)  # an answer to what is quoted: see `_answered`
        if not wrote and sum(len(r.text) for r in note) < sum(len(r.text) for r in quoted):
            for row in note:
                sheet.leave_out(row.start, row.end, "covering note")
            return
    if body and re.fullmatch(r"(?:Hi|Hello|Hey|Dear)\b[\w .'’-]{0,30},", body[0].text):
        sheet.leave_out(body[0].start, body[0].end, "greeting")


def _answered(sheet: Sheet, wrote: Row) -> None:
    """Mark the e-mail that is quoted below the answer to it, unless it is the longer of the two."""
    above = [r for r in sheet.rows if r.end <= wrote.start and sheet.spoken(r)]
    quoted = [r for r in sheet.rows if r.start > wrote.end and r.text.startswith(">") and sheet.spoken(r)]
    if sum(len(r.text) for r in above) > sum(len(r.text) for r in quoted):
        for row in quoted:
            sheet.leave_out(row.start, row.end, "quoted e-mail")


def _underlined(sheet: Sheet) -> None:
    """Mark headings with a rule of about the same length under them, or with number signs before them."""
    for k, row in enumerate(sheet.rows):
        if re.match(r"#{1,6}\s+[^\W_]", row.text) and _parted(sheet.rows, k) and sheet.spoken(row):
            sheet.leave_out(row.start, row.end, "heading")
    for row, below in pairwise(sheet.rows):
        if row.blank or not re.fullmatch(r"[=\-_~]{3,}", below.text) or not sheet.spoken(row):
            continue
        k = sheet.rows.index(row) if below.text else 0
        alone = k == 0 or sheet.rows[k - 1].blank
        ruled = _SHORTEST_RULE <= len(below.text) / len(row.text) <= _LONGEST_RULE
        if alone and len(row.text) <= _LONGEST_HEADING and ruled:
            sheet.leave_out(row.start, row.end, "heading")


_CAST = re.compile(
    r"(?:the )?(?:cast(?: of characters| list)?|characters(?: in the play)?|dramatis person(?:ae|æ))\s*[:.]?",
    re.IGNORECASE,
)


def _cast(sheet: Sheet) -> None:
    """Mark the list of characters: its heading and the lines below it, up to the next blank line."""
    for k, row in enumerate(sheet.rows):
        if not _CAST.fullmatch(row.text.strip("*_# ")):
            continue
        below = sheet.rows[k + 1 :]
        first = next((n for n, r in enumerate(below) if any(c.isalnum() for c in r.text)), None)
        if first is None or first > _BLANKS_OVER_CAST:
            continue
        last = next((n for n in range(first, len(below)) if below[n].blank), len(below))
        listed = below[first:last]
        names = all(len(r.text) <= _LONGEST_LISTED and not re.search(r"[?!]$", r.text) for r in listed)
        if names and len(listed) >= _LEAST_LISTED:
            for r in (row, *listed):
                sheet.leave_out(r.start, r.end, "list of characters")


_CENTRED = 8  # columns: a larger indent than that of a paragraph or a line of verse


def _pages(sheet: Sheet) -> None:
    """Mark page numbers: those that say so, those at a page's edge, and those that rise by one each time."""
    bare: list[tuple[int, int]] = []
    edges = _page_edges(sheet.rows)
    for k, row in enumerate(sheet.rows):
        if row.blank or not sheet.spoken(row):
            continue
        if _MORE.fullmatch(row.text):
            sheet.leave_out(row.start, row.end, "page break note")
        elif _PAGE.fullmatch(row.text):
            sheet.leave_out(row.start, row.end, "page number")
        elif m := _BARE.fullmatch(row.text):
            beside = _printed_beside(sheet.rows, k)
            centred = not beside and row.indent >= _CENTRED
            if edges.get(k, False) or (k in edges and centred):
                sheet.leave_out(row.start, row.end, "page number")
            elif len(beside) < _BESIDE_BOTH:
                bare.append((k, int(m[1])))
    for run in _runs(bare):
        reason = _counts_what(sheet, run)
        for k, _ in run if reason else []:
            sheet.leave_out(sheet.rows[k].start, sheet.rows[k].end, reason)


def _printed_beside(rows: list[Row], k: int) -> list[Row]:
    """The rows right above and right below row k, without blank ones."""
    return [r for r in (*rows[k - 1 : k], *rows[k + 1 : k + 2]) if not r.blank]


def _page_edges(rows: list[Row]) -> dict[int, bool]:
    """The indices of the printed rows at which a page begins or ends; True if a form feed says so.

    In a text without form feeds only its first and its last row are known to be at a page's edge.
    """
    printed = [k for k, r in enumerate(rows) if not r.blank]
    fed = [bisect_left(printed, k) for k, r in enumerate(rows) if r.fed]
    edges = dict.fromkeys([*printed[:1], *printed[-1:]], bool(fed))
    return edges | dict.fromkeys([k for n in fed for k in printed[max(0, n - 1) : n + 1]], True)


def _counts_what(sheet: Sheet, run: list[tuple[int, int]]) -> str:
    """What numbers that rise by one are: page numbers, section numbers, or "" for neither.

    run: each number's row (its index) and its value.
    """
    between = [sum(sheet.spoken(r) for r in sheet.rows[a + 1 : b]) for (a, _), (b, _) in pairwise(run)]
    if len(run) < _LEAST_RUN or min(between) < _LEAST_BETWEEN:
        return ""
    first, value = run[0]
    sections = value == 1 and first < _SECTIONS_BEGIN and max(between) < _LONGEST_SECTION
    return "section number" if sections else "page number"


def _runs(numbers: list[tuple[int, int]]) -> list[list[tuple[int, int]]]:
    """The numbers, grouped into runs that rise by one each time. numbers: each one's row and value."""
    runs: list[list[tuple[int, int]]] = []
    for k, n in numbers:
        if runs and n == runs[-1][-1][1] + 1:
            runs[-1].append((k, n))
        else:
            runs.append([(k, n)])
    return runs


def _running_heads(sheet: Sheet) -> None:
    """Mark the lines at the head or foot of pages that differ only in a number that rises."""
    rows = sheet.rows
    fed = [k for k, r in enumerate(rows) if r.fed]
    edges = _edges(sheet, fed) if fed else _alone_with_a_number(rows)
    everywhere = Counter(_numberless(r.text) for r in rows if not r.blank)
    for depth in range(_OUTERMOST):  # the outermost row first; the next one only if that was a running head
        for key, found in _alike_at(sheet, edges, depth).items():
            every = len(found) >= everywhere[key]
            if len(key) >= _LEAST_RUNNING_HEAD and every and _repeats(rows, found, fed):
                for k in found:
                    sheet.leave_out(rows[k].start, rows[k].end, "running head")


def _alone_with_a_number(rows: list[Row]) -> list[list[int]]:
    """The rows with a figure in them between two blank lines: page edges, in a text without form feeds."""
    alone = [k for k, r in enumerate(rows) if not r.blank and _parted(rows, k)]
    return [[k] for k in alone if re.search(r"\d", rows[k].text)]


def _alike_at(sheet: Sheet, edges: list[list[int]], depth: int) -> dict[str, list[int]]:
    """The spoken rows at the page edges, by their text without numbers. depth: 0 for the outermost row."""
    rows = sheet.rows
    seen: dict[str, list[int]] = defaultdict(list)
    for edge in edges:
        if len(edge) > depth and (not depth or not sheet.spoken(rows[edge[0]])):
            seen[_numberless(rows[edge[depth]].text)].append(edge[depth])
    return {
        key: [k for k in found if sheet.spoken(rows[k]) and len(rows[k].text) <= _LONGEST_RUNNING_HEAD]
        for key, found in seen.items()
    }


def _repeats(rows: list[Row], found: list[int], fed: list[int]) -> bool:
    """Whether rows that differ only in their numbers are running heads. fed: the rows after a form feed."""

    def least(stands_off: bool) -> int:
        return _LEAST_REPEATED if stands_off else _LEAST_REPEATED_CLOSE

    off = all(_stands_off(rows, k) for k in found)
    figures = [re.findall(r"\d+", rows[k].text) for k in found]
    if not all(figures):  # no numbers to compare: the sign for a number may be printed in the text itself
        return len(found) >= max(least(off), _ON_MOST_PAGES * (len(fed) + 1))
    rises = all(int(b[-1]) > int(a[-1]) for a, b in pairwise(figures))
    return rises and len(found) >= least(bool(fed) and off)


def _stands_off(rows: list[Row], k: int) -> bool:
    """Whether a row at a page's edge has a blank line between it and the rest of the page."""
    return any(r.blank for r in (*rows[max(0, k - 1) : k], *rows[k + 1 : k + 2]))


def _edges(sheet: Sheet, fed: list[int]) -> list[list[int]]:
    """For the head and for the foot of every page the two outermost printed rows, the outer one first."""
    found: list[list[int]] = []
    for a, b in pairwise([0, *fed, len(sheet.rows)]):
        printed = [k for k in range(a, b) if not sheet.rows[k].blank]
        if len(printed) > _EDGE_ROWS:
            found += [printed[:_OUTERMOST], printed[::-1][:_OUTERMOST]]
        elif printed:
            found.append(printed[:1])
    return found


def _numberless(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"\d+", "#", text)).strip()


def _parted(rows: list[Row], k: int) -> bool:
    """Whether a row is between two blank lines."""
    return (k == 0 or rows[k - 1].blank) and (k + 1 >= len(rows) or rows[k + 1].blank)


def _sections(sheet: Sheet) -> None:
    """Mark Roman numerals that stand on lines of their own and rise by one from I: the parts of a poem."""
    found: list[tuple[int, int]] = []
    for k, row in enumerate(sheet.rows):
        m = _ROMAN.fullmatch(row.text)
        if m is not None and (k == 0 or sheet.rows[k - 1].blank):
            found.append((k, roman_value(m[1])))
    for run in _runs(found):
        if len(run) >= _LEAST_RUN and run[0][1] == 1:
            for k, _ in run:
                sheet.leave_out(sheet.rows[k].start, sheet.rows[k].end, "section number")


_LABEL = re.compile(
    r"\[?(?P<kind>verse|chorus|refrain|bridge|intro|outro|pre-chorus|hook|coda|interlude)(?:\s+(?:\d+|[a-z]))?:?\]?",
    re.IGNORECASE,
)


def _labels(sheet: Sheet) -> None:
    """Mark the labels over the parts of a song: verse 1, chorus, bridge."""
    found = [(row, m["kind"].lower()) for row in sheet.rows if (m := _LABEL.fullmatch(row.text))]
    kinds = {kind for _, kind in found}
    if len(found) >= _LEAST_LABELS and kinds - {"chorus"}:
        for row, _ in found:
            sheet.leave_out(row.start, row.end, "section label")


_TIME = re.compile(r"[\[(]?(\d{1,2}):([0-5]\d)(?::([0-5]\d))?[\])]?[\s–—-]+(?=\S)")

_TIME_ALONE = re.compile(r"[\[(]?(\d{1,2}):([0-5]\d)(?::([0-5]\d))?[\])]?")


def _times(sheet: Sheet) -> None:
    """Mark the times of a transcript: they rise, before nearly every line or on lines of their own."""
    rows = [row for row in sheet.rows if sheet.spoken(row)]
    found = [(row, m) for row in rows if (m := _TIME.match(row.text)) is not None]
    if len(found) < _LEAST_TIMES or len(found) < _TIMED * len(rows):
        found = [(row, m) for row in rows if (m := _TIME_ALONE.fullmatch(row.text)) is not None]
        if len(found) < _LEAST_TIMES or int(found[0][1][1]) != 0:  # a transcript's clock begins at zero
            return
    clock = [tuple(int(x or 0) for x in m.groups()) for _, m in found]
    if all(a <= b for a, b in pairwise(clock)):
        for row, m in found:
            sheet.leave_out(row.start, row.start + m.end(), "time mark")


def _margin(sheet: Sheet, where: re.Pattern[str]) -> None:
    """Mark line numbers in a margin: for every line, or every fifth or tenth, always rising."""
    found: _Found = []
    for row in sheet.rows:
        if row.blank or not sheet.spoken(row):
            continue
        m = where.search(row.text) if where is _RIGHT_NUMBER else where.match(row.text)
        if m is None:
            continue
        rest = row.text[m.end() :] if where is _LEFT_NUMBER else row.text[: m.start()]
        if any(c.isalpha() for c in rest):
            found.append((row, int(m[1]), row.start + m.start(), row.start + m.end()))
    spoken = sum(sheet.spoken(r) for r in sheet.rows)
    kept = _chain(found, (1,))
    if len(kept) < _LEAST_NUMBERED or len(kept) < _NUMBERED * spoken:
        kept = _chain([f for f in found if f[1] % _NUMBERED_BY == 0], _STEPS)
        rows = [row for row, *_ in kept]
        if len(kept) < _LEAST_BY_FIVES or min(_line_gaps(sheet, rows)) < _LEAST_GAP:
            return
        kept = [*(f for f in found if f[1] == 1 and f[0].start < rows[0].start), *kept]
    for _, _, start, end in kept:
        sheet.leave_out(start, end, "line number")


_Found = list[tuple[Row, int, int, int]]


def _chain(found: _Found, steps: tuple[int, ...]) -> _Found:
    """The longest run of numbers in which each exceeds the one before by one of `steps`."""
    best: _Found = []
    run: _Found = []
    for item in found:
        if run and item[1] - run[-1][1] not in steps:
            if item[1] < run[-1][1] or len(run) == 1:
                run = []
            else:
                continue
        run = [*run, item]
        best = max(best, run, key=len)
    return best


def _line_gaps(sheet: Sheet, rows: list[Row]) -> list[int]:
    order = [r.start for r in sheet.rows if sheet.spoken(r)]
    places = [order.index(r.start) for r in rows]
    return [b - a for a, b in pairwise(places)]


def _notes(sheet: Sheet) -> None:
    """Mark the footnote marks on words, and the notes that they point to."""
    text = sheet.page.text
    called = Counter[str]()
    for m in _SUPERIOR.finditer(text):
        if text[m.start() - 1].isdigit() and m.group()[0] in "²³":
            continue
        called[m.group()] += 1
        sheet.leave_out(m.start(), m.end(), "footnote mark")
    for m in re.finditer(r"(?<=[\w.,;:!?'’\"”])\[(\d{1,3})\]", text):
        called[m.group()] += 1
    for m in re.finditer(r"(?<=[^\W\d_]|[.,;:!?])\*{1,3}(?=[\s.,;:!?]|$)", text):
        called[m.group()] += 1
    for row in sheet.rows:
        note = _NOTE.match(row.text)
        if note is not None and called[note.group().strip()] and row.start > 0 and sheet.spoken(row):
            if re.match(r"\*+\s*\S.*\*", row.text):
                continue  # *emphasis* at the head of a line
            sheet.leave_out(row.start, row.end, "footnote")
