"""Who speaks: the names of the speakers, found by their pattern on the page.

A play names its speakers in one way throughout: in capitals on a line of their own, or before the speech with
a colon, a full stop or a tab. A single line in capitals is not a pattern, and neither is a list ("First: ...
Second: ..."): the names must be repeated, or stand before nearly every paragraph.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from offbook.script.finders.bare_directions import direction_certainty
from offbook.script.finders.directions import DIRECTION
from offbook.script.finders.heading_lines import LIKELY, SURE, heading_certainty
from offbook.script.sheet import Mark, Sheet, paragraphs, word_set

_DIR = r"(?:\s*[(\[][^)\]]*[)\]])*"
# Beside a name in capitals a direction may also come after a comma: "MARGERY, to the Bailiff".
_DIR_CAPS = r"(?:\s*,?\s*[(\[][^)\]]*[)\]]|,\s+(?=[a-z])[^.:!?()\[\]]{2,60}?)*"
_CAPS = r"[^\W\d_a-z](?:[^\W\d_a-z]|[.'’\-/&#,]|\d|\s(?:and\s(?=[A-Z]))?(?=\S))*"
_TITLED = r"(?:(?:[A-Z][\w'’\-]*|[A-Z]\.|of|the|and|\d+)\s){0,3}[A-Z][\w'’\-]*(?:\s\d+)?"
_ALONE = re.compile(rf"(?P<name>{_CAPS}?)(?P<dir>{_DIR_CAPS})\s*[.:]?")
_ALONE_TITLED = re.compile(rf"(?P<name>{_TITLED})(?P<dir>{_DIR})\s*[.:]?")
_HEAD = re.compile(rf"(?P<name>{_CAPS}?)(?P<dir>{_DIR_CAPS})\s*(?:[.:]|\s[-–—]|—)(?P<dir2>{_DIR})\s+(?=\S)")
_HEAD_GAP = re.compile(rf"(?P<name>{_CAPS}?)(?P<dir>{_DIR_CAPS})(?P<dir2>)(?:\t\s*|\s{{2,}})(?=\S)")
_HEAD_TITLED = re.compile(rf"(?P<name>{_TITLED})(?P<dir>{_DIR})\s*:(?P<dir2>{_DIR})\s+(?=\S)")
_HEAD_LETTER = re.compile(r"(?P<name>[A-Z])(?P<dir>)(?P<dir2>):\s+(?=\S)")
_HEAD_SHORT = re.compile(r"(?P<name>(?:[123]\s)?[A-Z][a-z]{1,9})\.(?P<dir2>)(?P<dir>)\s+(?=\S)")
_HEAD_TAB = re.compile(rf"(?P<name>{_CAPS}?|{_TITLED})(?P<dir>{_DIR})[.:]?(?P<dir2>)(?:\t\s*| {{4,}})(?=\S)")

# All the numbers below were set by hand, on plays and speeches as people copy them (bench/copied.py) and on
# the texts of the tests. Shares are from 0 to 1.

# These words are not people, though they may be in capitals or before a colon.
_NOT_NAMES = word_set(
    """
    i no yes never always and but or so oh o ah the end fin stop why what how who where when help please
    note nb remember question answer first second third fourth fifth firstly secondly thirdly finally
    lastly next also item point warning tip step example summary conclusion introduction ps p.s monday
    tuesday wednesday thursday friday saturday sunday january february march april may june july august
    september october november december dear chapter part page act scene section verse refrain bridge
    title author time place setting characters cast date subject from to cc bcc sent re reply-to this that
    it he she we they you then now because if in on at for with by as is are was were will be do not my
    your our his her their love go come run look listen wait one two three four five six seven eight
    nine ten amen hush continued int ext interior exterior cut fade notes
    """
)
_TITLES = word_set("mr mrs ms dr st prof rev capt col lt sgt gen etc no vol ch fig mt jr sr hon")
_LETTERS_OF_A_NAME = range(2, 37)
# The most words of a name; of one that is not in capitals; of one on a page that is all in capitals.
_MOST_WORDS, _MOST_TITLED, _MOST_ALL_CAPITALS = 5, 4, 3
_ORDINALS = ("first", "second", "third", "fourth", "the", "one", "two")  # FIRST CLERK, TWO GUARDS
_WORDS_WITH_ORDINAL = (2, 3)
# A pattern without capitals is chosen only if it gives more than this many times as many names as one with
# them.
_UNSURE_GAIN = 1.3
_REFRAIN_AFTER = 2  # spoken rows before a repeated line in capitals, from which on it is a refrain
_CAPITALS_SAMPLE = 20_000  # characters at the beginning of a page that are looked at for capitals
_CAPITALS_SHARE = 0.85  # of the letters: with more capitals than this the whole page is in capitals
# Of the names: with more in capitals, names are looked for in the other patterns too
_NAMES_IN_CAPITALS = 0.8
_CAST_LIST = 0.3  # of the names: if more are right under another name, they are a list of characters
_ROWS_BELOW = 2  # below a name, in which the speech begins

# When possible names are taken for names (`_names_of_pattern`). A share is of the paragraphs, or of the rows,
# that begin with a possible name.
_FEW_PARAGRAPHS = 2  # so few that their share shows nothing
_ROWS_OF_SPEECH = 2  # at least, for a name on a line of its own: the name, and what is said
_LEAST_ALL_CAPITALS = 0.3  # the share needed if the whole page is in capitals
_NEARLY_ALL = 0.99  # the share needed if no name is repeated and capitals do not help
_HALF = 0.5  # the share needed if no name is repeated; also the part of the names that must be repeated
_RETURNING = 2  # repeated names, which make up for a small share
_MANY_HEADED = 0.7  # the share that is enough for names that are neither in capitals nor repeated
_FEW_HITS = 4  # of a short dialogue, in which names need not be repeated
_TWO_VOICES = 2

_SUFFIX = re.compile(
    r"\s*\((?:cont(?:'|’)?d\.?|continued|v\.?\s?o\.?|o\.?\s?s\.?|o\.?\s?c\.?)\)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class _Hit:
    """A place where a speaker may be named.

    row: the row's index. start, end: offsets of the name, and of the stop or dash behind it. heads: whether
    the row begins a paragraph. asides: the directions beside the name, as (start, end).
    """

    row: int
    start: int
    end: int
    name: str
    heads: bool
    asides: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Pattern:
    """One way to print the names of speakers.

    alone: whether a name is on a line of its own. capitals: whether it is in capitals. least: the fewest
    names. share: the smallest share of the paragraphs (of the rows, if there are few paragraphs) that begin
    with a name. returning: whether a name must be repeated.
    """

    regex: re.Pattern[str]
    alone: bool
    capitals: bool
    least: int
    share: float
    returning: bool


_GAP = _Pattern(_HEAD_GAP, False, True, 2, 0.3, True)
_PATTERNS = (
    _Pattern(_ALONE, True, True, 2, 0.2, False),
    _Pattern(_HEAD, False, True, 2, 0.2, False),
    _GAP,
    _Pattern(_HEAD_TAB, False, False, 2, 0.4, True),
    _Pattern(_HEAD_TITLED, False, False, 2, 0.45, True),
    _Pattern(_HEAD_LETTER, False, True, 4, 0.8, True),
    _Pattern(_HEAD_SHORT, False, False, 3, 0.45, True),
    _Pattern(_ALONE_TITLED, True, False, 3, 0.6, True),
)


def clean_name(name: str) -> str:
    """A speaker's name without what is printed behind it: "ANNA (V.O.)" and "ANNA:" are ANNA."""
    return " ".join(_SUFFIX.sub("", name).strip(" .:,;-–—\t").split())


def find_speakers(sheet: Sheet) -> None:
    """Mark the speakers' names on a page that has a pattern of them, and put them into `sheet.names`."""
    given = [m for m in sheet.marks if m.kind == "speaker"]
    if given:
        sheet.names.update(Counter(m.what for m in given))
        return
    all_capitals = mostly_capitals(sheet)
    best: list[_Hit] = []
    rows = _printed(sheet)
    for pattern in _PATTERNS:
        hits = _names_of_pattern(sheet, pattern, _hits(sheet, rows, pattern, all_capitals), all_capitals)
        if len(hits) > len(best) * (1.0 if pattern.capitals else _UNSURE_GAIN):
            best = hits
    if best:
        best = _without_title(
            sorted(best + _known_in_other_settings(sheet, rows, best, all_capitals), key=lambda h: h.start)
        )
        if _are_refrain(sheet, best) or _is_heading_of_one_speech(sheet, best):
            return
        for h in best:
            _mark(sheet, h)
        sheet.names.update(Counter(h.name for h in best))


def _is_heading_of_one_speech(sheet: Sheet, hits: list[_Hit]) -> bool:
    """Whether what looks like names is the heading over a single speech: the play, and who says it."""
    if mostly_capitals(sheet) or any(sheet.rows[h.row].end > h.end for h in hits):
        return False  # a heading does not have the speech on the same row
    rows = [k for k, r in enumerate(sheet.rows) if sheet.spoken(r)]
    last = next(
        (k for k in rows if heading_certainty(sheet.remaining(sheet.rows[k])) < LIKELY), len(sheet.rows)
    )
    above = {h.name.casefold() for h in hits if h.row < last}
    below = [h for h in hits if h.row >= last]
    if not above:
        return False
    return not below or all(h.name != h.name.upper() and h.name.casefold() in above for h in below)


def _are_refrain(sheet: Sheet, hits: list[_Hit]) -> bool:
    """Whether the hits are one line in capitals that is repeated after a text: a refrain, not a name."""
    before = sum(sheet.spoken(r) for r in sheet.rows[: hits[0].row])
    alone = all(sheet.rows[h.row].end <= h.end for h in hits)
    return len({h.name for h in hits}) == 1 and alone and before >= _REFRAIN_AFTER


def _mark(sheet: Sheet, hit: _Hit) -> None:
    """Mark a name, and the directions beside it."""
    at = hit.start
    for start, end in hit.asides:
        if _SUFFIX.fullmatch(sheet.page.text[start:end].rstrip()):
            continue
        sheet.add([Mark(at, start, "speaker", hit.name)] if at < start else [])
        sheet.leave_out(start, end, DIRECTION)
        at = end
    if at < hit.end:
        sheet.add([Mark(at, hit.end, "speaker", hit.name)])


# What is printed above the first speech; a list of characters is above that.
_OPENING = re.compile(r"\W*(?:act|scene|prologue|enter|lights)\b", re.IGNORECASE)


def _known_in_other_settings(
    sheet: Sheet, rows: Sequence[_Printed], hits: list[_Hit], all_capitals: bool
) -> list[_Hit]:
    """The places where other patterns find names: most names are known by now, so these need less proof."""
    capitals = sum(h.name == h.name.upper() for h in hits) > _NAMES_IN_CAPITALS * len(hits)
    if all_capitals or not capitals:
        return []
    known, taken = {h.name for h in hits}, {h.row for h in hits}
    first = min(h.row for h in _without_title(hits))
    opened = max((k for k, r in enumerate(sheet.rows[:first]) if _OPENING.match(r.text)), default=first)
    found: list[_Hit] = []
    for pattern in (_PATTERNS[0], _PATTERNS[1], _GAP):
        for h in _hits(sheet, rows, pattern, all_capitals):
            late = h.row > first or (h.row > opened and not pattern.alone and h.name in known)
            sure = h.name in known or pattern is _GAP or (pattern.alone and h.heads)
            if h.row not in taken and late and sure:
                found.append(h)
                taken.add(h.row)
    return found


def _without_title(hits: list[_Hit]) -> list[_Hit]:
    """The hits from the first repeated name on: what is in capitals before it is a title."""
    counts = Counter(h.name for h in hits)
    first = next((k for k, h in enumerate(hits) if counts[h.name] > 1), 0)
    # two names that are not repeated may be a whole short scene
    hits = hits[first:] if any(n > 1 for n in counts.values()) else hits
    listed = 0  # a list of characters: names one under the other, each with its description
    while listed + 1 < len(hits) and hits[listed].asides and hits[listed + 1].row - hits[listed].row == 1:
        listed += 1
    return hits[listed + 1 :] if listed and hits[listed].asides else hits[listed:]


def mostly_capitals(sheet: Sheet) -> bool:
    """Whether the whole page is in capitals, so that capitals show nothing."""
    return _in_capitals(sheet.page.text[:_CAPITALS_SAMPLE])


_PAGES_KEPT = 8  # pages that are remembered, because several finders ask about the same one; set by hand


@lru_cache(maxsize=_PAGES_KEPT)
def _in_capitals(text: str) -> bool:
    letters = "".join(filter(str.isalpha, text))
    return sum(map(str.isupper, letters)) > _CAPITALS_SHARE * len(letters)


@dataclass(frozen=True, slots=True)
class _Printed:
    """What is left of a row that is not empty, where that begins, and whether a paragraph begins with it."""

    k: int  # of the row
    left: str
    base: int  # an offset in the text: after marks of bold type and the like
    heads: bool


def _printed(sheet: Sheet) -> list[_Printed]:
    """The rows that are not empty, prepared once for all patterns."""
    opens = {g[0].start for g in paragraphs(sheet.rows)}
    found = []
    for k, row in enumerate(sheet.rows):
        if not row.blank:
            left = sheet.remaining(row)
            base = row.start + len(left) - len(left.lstrip())
            found.append(_Printed(k, left.strip(), base, row.start in opens))
    return found


def _hits(sheet: Sheet, rows: Sequence[_Printed], pattern: _Pattern, all_capitals: bool) -> list[_Hit]:
    found: list[_Hit] = []
    match: Callable[[str], re.Match[str] | None] = (
        pattern.regex.fullmatch if pattern.alone else pattern.regex.match
    )
    for row in rows:
        m = match(row.left)
        if m is None or not (
            pattern.regex is _HEAD_LETTER or is_name(m["name"], pattern.capitals, all_capitals)
        ):
            continue
        if pattern.alone and (
            not _speech_follows(sheet, row.k) or direction_certainty(sheet.rows[row.k].text) == SURE
        ):
            continue
        base = row.base
        asides = tuple(
            (base + m.start(g), base + m.end(g)) for g in ("dir", "dir2")[: 1 if pattern.alone else 2] if m[g]
        )
        found.append(_Hit(row.k, base, base + m.end(), clean_name(m["name"]), row.heads, asides))
    return found


def is_name(name: str, capitals: bool = True, all_capitals: bool = False) -> bool:
    """Whether `name` could be a speaker's name.

    capitals: whether names are in capitals on this page. all_capitals: whether everything is.
    """
    clean = clean_name(name)
    words = clean.replace("/", " ").replace("&", " ").split()
    letters = sum(c.isalpha() for c in clean)
    if not 1 <= len(words) <= _MOST_WORDS or letters not in _LETTERS_OF_A_NAME or name.rstrip().endswith(","):
        return False
    lower = [w.lower().strip(".,'’") for w in words]
    if lower[0] in _NOT_NAMES or (len(words) == 1 and lower[0] in _TITLES):
        return lower[0] in _ORDINALS and len(words) in _WORDS_WITH_ORDINAL
    if lower[0] == "i" or re.fullmatch(r"[ivxlc]+", "".join(lower)):
        return False
    if capitals and not all_capitals:
        plain = clean.replace(" and ", " & ")
        return plain == plain.upper() or bool(re.fullmatch(r"Ma?c[A-Z]+", clean))
    return len(words) <= (_MOST_ALL_CAPITALS if all_capitals else _MOST_TITLED)


def _speech_follows(sheet: Sheet, k: int) -> bool:
    """Whether speech follows row k, at once or after one blank line."""
    after = sheet.rows[k + 1 : k + 1 + _ROWS_BELOW]
    return any(not r.blank for r in after) and any(
        any(c.islower() for c in r.text) or len(r.text) > 1 for r in after
    )


def _names_of_pattern(sheet: Sheet, pattern: _Pattern, hits: list[_Hit], all_capitals: bool) -> list[_Hit]:
    """The hits that are names, if together they make a pattern of speakers; else none."""
    if all_capitals and pattern.alone:
        hits = [h for h in hits if h.heads and not sheet.rows[h.row].text.rstrip().endswith(("!", "?"))]
    if len(hits) < pattern.least:
        return []
    counts = Counter(h.name.lower() for h in hits)
    returning = sum(n > 1 for n in counts.values())
    share = _share_headed(sheet, pattern, hits)
    if all_capitals:
        return hits if returning and share >= max(_LEAST_ALL_CAPITALS, pattern.share) else []
    if not _is_pattern(pattern, share, len(hits), len(counts), returning):
        return []
    if not pattern.capitals and len(hits) > _FEW_HITS and share < _MANY_HEADED:
        hits = [h for h in hits if h.heads or counts[h.name.lower()] > 1]
    return hits if not pattern.alone or _is_not_cast_list(hits) else []


def _share_headed(sheet: Sheet, pattern: _Pattern, hits: list[_Hit]) -> float:
    """The share of the paragraphs, or of the rows, that begin with a hit; the larger of the two."""
    groups = [g for g in paragraphs(sheet.rows) if any(sheet.spoken(r) for r in g)]
    edge = min(sheet.rows[h.row].indent for h in hits)  # rows that are indented more continue a speech
    rows = [r for r in sheet.rows if sheet.spoken(r) and (pattern.alone or r.indent <= edge)]
    headed = sum(1 for h in hits if h.heads) / len(groups)
    by_rows = len(hits) / len(rows)
    if pattern.alone:
        return max(headed, _ROWS_OF_SPEECH * by_rows)
    return max(headed if len(groups) > _FEW_PARAGRAPHS else 0.0, by_rows)


def _is_pattern(pattern: _Pattern, share: float, hits: int, names: int, returning: int) -> bool:
    """Whether the hits are speakers.

    share: of the page that begins with a hit. hits, names: how many of each. returning: how many names are
    repeated.
    """
    if not returning and share < (_HALF if pattern.capitals and not pattern.returning else _NEARLY_ALL):
        return False
    if share < pattern.share and not (pattern.capitals and returning >= _RETURNING):
        return False
    few_return = returning < _HALF * names and hits > _TWO_VOICES
    return pattern.capitals or not few_return or share >= _MANY_HEADED


def _is_not_cast_list(hits: list[_Hit]) -> bool:
    """Whether the names are not one right under the other, as in a list of characters."""
    touching = sum(1 for a, b in itertools.pairwise(hits) if b.row - a.row == 1)
    return touching <= _CAST_LIST * len(hits)


def folded(names: Iterable[str]) -> frozenset[str]:
    """The names without the difference of upper and lower case, to be compared."""
    return frozenset(n.casefold() for n in names)


def said_by(name: str, known: frozenset[str]) -> frozenset[str]:
    """The parts that speak a speech under this name: "ANNA & BEN" are both, ALL are all of `known`.

    known: the names of the script. All names are `folded`.
    """
    if is_everybody(name):
        return known | {name.casefold()}
    return frozenset((name.casefold(), *together(name, known)))


def together(name: str, known: frozenset[str]) -> tuple[str, ...]:
    """The speakers in a joint name such as "ANNA & BEN"; none if the name is that of one speaker.

    known: the names of the script. All names are `folded`.
    """
    pieces = [p.strip() for p in re.split(r"\s*(?:/|&|\+|,|\band\b)\s*", name.casefold()) if p.strip()]
    enough = any if re.search("[/&+]", name) else all
    return tuple(pieces) if len(pieces) > 1 and enough(p in known for p in pieces) else ()


def is_everybody(name: str) -> bool:
    """Whether a name means everybody who is there: ALL, BOTH."""
    return name.casefold() in _EVERYBODY


_EVERYBODY = frozenset(("all", "both", "everyone", "everybody", "together", "tutti", "omnes"))
