"""What is printed above a single speech: its title and author, who speaks, notes on the piece.

A scene shows who speaks by a pattern of names (`script.finders.speakers`); a single speech has no such
pattern. What is above it is left out if the page shows what it is: a line in capitals over a text that is not
in capitals, a line that names the author, the labels of a sheet about the piece, a name in capitals before a
colon. A first line that looks like any other is kept, because nothing shows whether it is a title.
"""

from __future__ import annotations

import re

from offbook.script.finders.heading_lines import LABEL
from offbook.script.finders.speakers import is_name, mostly_capitals
from offbook.script.sheet import Row, Sheet, paragraphs, word_set

HEADING = "heading"
_NOTE = "note above the speech"

_NAME = r"[A-Z][\w.'’-]*(?:\s+(?:[A-Z][\w.'’-]*|de|van|von|der|la|le|du|and|&))*"
_BY = re.compile(
    rf"(?:(?:written|adapted|translated|a (?:poem|play|speech|monologue)),?\s+)?[Bb][Yy]:?\s+{_NAME}"
    r"(?:\s*[,(\[].{1,40})?"
)
_TITLE_BY = re.compile(rf"(?P<title>\S.{{0,60}}?),?\s+[Bb][Yy]\s+{_NAME}(?:\s*[,(\[].{{1,40}})?")
_RIGHTS = re.compile(r"(?:©|copyright\b|\(c\)\s).*|.*©.*", re.IGNORECASE)
_SCENE = re.compile(
    r"(?:.{2,50}?[\s,:–—-]+)?act\s+(?:\d+|[ivx]+|one|two|three|four|five)"
    r"(?:[\s.,:;–—-]+sc(?:ene|\.)?\s*(?:\d+|[ivx]+|one|two|three|four|five|six|seven))?\.?",
    re.IGNORECASE,
)
_NUMBERED = re.compile(r"(?:sonnet|psalm|canto|ode)\s+(?:\d+|[IVXLC]+)\.?", re.IGNORECASE)
_ROMAN = re.compile(r"[IVXLC]{2,7}\.?")
_WHO = re.compile(r"[A-Z][A-Z .'’-]+,\s+(?:(?:early|mid|late)[ -])?(?:\d\d|an?\b|the\b|fe?male\b).*")
_END = re.compile(
    r"(?:(?:THE )?END(?: OF [A-Z ]+)?|FIN|CURTAIN|BLACKOUT|End of (?:monologue|speech|play))\.?"
)
_RUNS_ON = re.compile(r"[.?!,;:…—–-][\"'”’)]*$")
# All the numbers below were set by hand, on speeches as people copy them (bench/copied.py).
_PARAGRAPHS = 5  # at the top of the page, that may be notes above the speech
_MOST_LINES, _LONGEST = 4, 80  # of a heading: lines, and characters of a line
# Words of a heading without a blank line below it: few, because some editions set a poem's first line in
# capitals.
_MOST_OVER = 5
_LEAST_LABELLED = 2  # rows such as "Character: ..."; a single one may be spoken
_WITH_AUTHOR = 2  # rows of a heading over the author's name, at most
_LEAST_AUTHOR = 3  # words of "by Rosa Vane"
_LEAST_LETTERS, _MOST_WORDS = 2, 8  # of a heading in capitals
# Words below a heading: with fewer, it is part of a very short text.
_LEAST_BELOW = 12


def find_title(sheet: Sheet) -> None:
    """Mark a title with its author, and the labels of a sheet about the piece.

    To be called before the speakers are looked for: a title in capitals over its author would be taken for
    one.
    """
    if not mostly_capitals(sheet):
        _find(sheet, sure=True)


def find_opening(sheet: Sheet) -> None:
    """Mark the notes above a single speech, and the line below it that says it is over."""
    if mostly_capitals(sheet):
        return
    _find(sheet, sure=False)
    for row in sheet.rows:
        if _RIGHTS.fullmatch(row.text) and len(row.text) <= _LONGEST and sheet.spoken(row):
            sheet.leave_out(row.start, row.end, "copyright line")
    _ending(sheet)


def _find(sheet: Sheet, *, sure: bool) -> None:
    """Mark the paragraphs at the top that are not part of the speech. sure: see `_opens`."""
    groups = _spoken_paragraphs(sheet)
    for k, group in enumerate(groups[:_PARAGRAPHS]):
        below = [r for g in groups[k + 1 :] for r in g]
        if not _enough(sheet, below) and not _enough(sheet, group[1:]):
            break
        after = groups[k + 1] if k + 1 < len(groups) else []
        found = _opens(sheet, group, after, below, sure)
        for row, reason in found:
            sheet.leave_out(row.start, row.end, reason)
        if len(found) < len(group) and not _in_brackets(group):
            break


def _spoken_paragraphs(sheet: Sheet) -> list[list[Row]]:
    """The paragraphs of the page with their rows that are still spoken, without empty ones."""
    groups = ([r for r in g if sheet.spoken(r)] for g in paragraphs(sheet.rows))
    return [g for g in groups if g]


def _opens(
    sheet: Sheet, group: list[Row], after: list[Row], below: list[Row], sure: bool
) -> list[tuple[Row, str]]:
    """The rows of a paragraph that are above the speech, each with the reason; none if it is the speech
    itself.

    after: the next paragraph. below: all rows below. sure: whether only an author's name and labels count,
    and capitals and the like do not.
    """
    lines = [sheet.remaining(r).strip() for r in group]
    labelled = _labelled(lines, below=bool(below) and not sure)
    if labelled:
        return [(r, _NOTE) for r in group[:labelled]]
    if not sure and below and _WHO.fullmatch(" ".join(lines)) and len(lines) <= _MOST_LINES:
        return [(r, _NOTE) for r in group]
    then = [sheet.remaining(r).strip() for r in after]
    if (
        below
        and _is_short(lines)
        and (_has_an_author(lines, then) or (not sure and _is_heading(sheet, lines)))
    ):
        return [(r, HEADING) for r in group]
    if not sure and _stands_right_over(sheet, lines):
        return [(group[0], HEADING)]
    return []


def _labelled(lines: list[str], below: bool) -> int:
    """How many lines at the top have a label; 0 if there is one and it may be spoken.

    below: whether the speech follows, so that a paragraph of a single line with a label is left out.
    """
    count = next((n for n, t in enumerate(lines) if not LABEL.fullmatch(t)), len(lines))
    return count if count >= _LEAST_LABELLED or (count == len(lines) and below) else 0


def _is_short(lines: list[str]) -> bool:
    """Whether lines are few and short enough for a heading, and none ends with a stop."""
    return len(lines) <= _MOST_LINES and all(len(t) <= _LONGEST and not _RUNS_ON.search(t) for t in lines)


def _stands_right_over(sheet: Sheet, lines: list[str]) -> bool:
    """Whether the first line of a paragraph is a heading in capitals, with the speech right below it."""
    if len(lines) <= 1 or len(lines[0].split()) > _MOST_OVER:
        return False
    return any(c.islower() for c in lines[1]) and _in_capitals(sheet, lines[0])


def _has_an_author(lines: list[str], after: list[str]) -> bool:
    """Whether a short paragraph, or the one line after it, says who wrote the piece."""
    if any(_says_by_whom(t) for t in lines):
        return True
    if len(after) == 1 and _says_by_whom(after[0]) and len(lines) <= _WITH_AUTHOR:
        return True
    titled = _TITLE_BY.fullmatch(lines[0]) if len(lines) == 1 else None
    if titled is None:
        return False
    # "from The Lamp, by Ben Hale", "The Lamp by Ben Hale"; not "I was taught to read by Ben"
    words = re.findall(r"[^\W\d_]{4,}", re.sub(r"^(?:[Ff]rom|FROM)\s", "", titled["title"]))
    author = lines[0][titled.end("title") :].split()
    return all(w[0].isupper() for w in words) and len(author) >= _LEAST_AUTHOR


def _is_heading(sheet: Sheet, lines: list[str]) -> bool:
    """Whether a short paragraph is a title in capitals, or the act and scene of a play."""
    if _in_capitals(sheet, lines[0]):
        return True
    return len(lines) == 1 and any(p.fullmatch(lines[0]) for p in (_SCENE, _NUMBERED, _ROMAN))


def _says_by_whom(line: str) -> bool:
    return bool(_BY.fullmatch(line) or _RIGHTS.fullmatch(line))


# Words in capitals that are exclamations rather than titles, besides those that cannot be a name.
_SHOUTS = word_set("o oh ah ha fire silence peace death war freedom")


def _in_capitals(sheet: Sheet, line: str) -> bool:
    """Whether a line in capitals is a heading: not an exclamation, not a sentence, and not repeated."""
    words = line.split()
    if line != line.upper() or sum(map(str.isalpha, line)) < _LEAST_LETTERS or len(words) > _MOST_WORDS:
        return False
    if not line[0].isalnum() or _RUNS_ON.search(line):
        return False
    if len(words) == 1 and (not is_name(line) or line.lower() in _SHOUTS) and not _ROMAN.fullmatch(line):
        return False
    return sum(r.text.strip(" *_.:").upper() == line for r in sheet.rows) == 1


def _in_brackets(group: list[Row]) -> bool:
    """Whether a whole paragraph is in brackets: there may be a direction between the title and the speech."""
    return group[0].text[:1] in "([" and group[-1].text[-1:] in ")]."


def _enough(sheet: Sheet, rows: list[Row]) -> bool:
    return sum(len(sheet.remaining(r).split()) for r in rows) >= _LEAST_BELOW


def _ending(sheet: Sheet) -> None:
    """Mark a line below the speech that says it is over, if it is a paragraph of its own."""
    groups = _spoken_paragraphs(sheet)
    if len(groups) > 1 and len(groups[-1]) == 1 and _END.fullmatch(groups[-1][0].text.strip(" *_-–—()")):
        sheet.leave_out(groups[-1][0].start, groups[-1][0].end, HEADING)
