"""Who speaks: speaker names found by their pattern on the page.

A play names its speakers in one consistent way: in capitals on a line of their own, or at the head of
the speech before a colon, a full stop or a tab. One line in capitals is no pattern, and neither is a list
("First: ... Second: ..."): only names that come back, or that head nearly everything, are believed.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from offbook.script.finders.bare_directions import direction_row
from offbook.script.finders.directions import DIRECTION
from offbook.script.finders.heading_lines import LIKELY, SURE, heading
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
# the texts of the tests. Shares run from 0 to 1.

# In capitals or before a colon these are not people.
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
_MOST_WORDS = 5  # of a name
_MOST_TITLED, _MOST_FLAT = 4, 3  # words of a name not in capitals; of one where the whole page is
_MOST_LONE = 3  # words of the one name over a speech by itself
_ORDINALS = ("first", "second", "third", "fourth", "the", "one", "two")  # FIRST CLERK, TWO GUARDS
_WORDS_WITH_ORDINAL = (2, 3)
_UNSURE_GAIN = 1.3  # so many times the names in capitals must another way of setting them give
_REFRAIN_AFTER = 2  # rows spoken before a line in capitals that comes back: then it is a refrain
_CAPITALS_SAMPLE = 20_000  # characters from which a page is said to be all in capitals
_CAPITALS_SHARE = 0.85  # of its letters
_NAMES_IN_CAPITALS = 0.8  # share of the names, where the others may be looked for in other settings
_CAST_LIST = 0.3  # share of the names that are right under another: more are a list of characters

# When hits are believed to be names (`_believed`). A share is of the paragraphs or rows that a name heads.
_FEW_PARAGRAPHS = 2  # so few that their share says nothing
_LEAST_FLAT = 0.3  # where the whole page is in capitals
_NEARLY_ALL = 0.99  # where no name comes back and capitals do not help
_HALF = 0.5  # where no name comes back; and of the names not in capitals, those that must come back
_RETURNING = 2  # names that come back make up for a small share
_MANY_HEADED = 0.7  # enough for names that are not in capitals and do not come back
_FEW_HITS = 4  # a short dialogue, where names need not come back
_TWO_VOICES = 2

_SUFFIX = re.compile(
    r"\s*\((?:cont(?:'|’)?d\.?|continued|v\.?\s?o\.?|o\.?\s?s\.?|o\.?\s?c\.?)\)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class _Hit:
    """A place where a speaker may be named. start, end: the name and what sets it off."""

    row: int
    start: int
    end: int
    name: str
    heads: bool  # the row opens a paragraph
    asides: tuple[tuple[int, int], ...]  # directions that are with the name


@dataclass(frozen=True, slots=True)
class _Pattern:
    regex: re.Pattern[str]
    alone: bool
    capitals: bool
    least: int
    share: float  # of the paragraphs (or of the rows, if there are few paragraphs) that a name heads
    returning: bool  # a name must come back


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
    """A speaker's name without what is printed around it: "ANNA (V.O.)" and "ANNA:" are ANNA."""
    return " ".join(_SUFFIX.sub("", name).strip(" .:,;-–—\t").split())


def find_speakers(sheet: Sheet) -> None:
    """Mark the speaker names of a page that has a pattern of them, and fill `sheet.names`."""
    given = [m for m in sheet.marks if m.kind == "speaker"]
    if given:
        sheet.names.update(Counter(m.what for m in given))
        return
    flat = mostly_capitals(sheet)
    best: list[_Hit] = []
    for pattern in _PATTERNS:
        hits = _believed(sheet, pattern, _hits(sheet, pattern, flat), flat)
        if len(hits) > len(best) * (1.0 if pattern.capitals else _UNSURE_GAIN):
            best = hits
    if best:
        best = _without_title(sorted(best + _kin(sheet, best, flat), key=lambda h: h.start))
        if _refrain(sheet, best) or _heads_one_speech(sheet, best):
            return
        for h in best:
            _mark(sheet, h)
        sheet.names.update(Counter(h.name for h in best))


def mark_lone_speaker(sheet: Sheet) -> None:
    """Mark the one name over a speech by itself: in capitals, before a colon or with a direction.

    "MARGERY: ...", "MARGERY (crossing)" and the speech below; a line in capitals without either may be
    anything, and so may a word in capitals before a full stop.
    """
    k = next((k for k, row in enumerate(sheet.rows) if sheet.spoken(row)), None)
    if k is None or mostly_capitals(sheet):
        return
    row = sheet.rows[k]
    left = sheet.left(row)
    base = row.start + len(left) - len(left.lstrip())
    said = left.strip()
    alone = _ALONE.fullmatch(said)
    m = alone or _HEAD.match(said)
    if m is None or not is_name(m["name"]) or len(m["name"].split()) > _MOST_LONE:
        return
    asides = tuple(
        (base + m.start(g), base + m.end(g)) for g in (("dir",) if alone else ("dir", "dir2")) if m[g]
    )
    if not asides and ":" not in said[m.end("name") : m.end()]:
        return
    if not (_speech_follows(sheet, k) if alone else any(c.islower() for c in said[m.end() :])):
        return
    hit = _Hit(k, base, base + m.end(), clean_name(m["name"]), True, asides)
    _mark(sheet, hit)
    sheet.names[hit.name] = 1


def _heads_one_speech(sheet: Sheet, hits: list[_Hit]) -> bool:
    """Whether what looks like names is the heading over a speech by itself: its work, and who says it."""
    if mostly_capitals(sheet) or any(sheet.rows[h.row].end > h.end for h in hits):
        return False  # one with the speech beside it is no heading
    rows = [k for k, r in enumerate(sheet.rows) if sheet.spoken(r)]
    last = next((k for k in rows if heading(sheet.left(sheet.rows[k])) < LIKELY), len(sheet.rows))
    above = {h.name.casefold() for h in hits if h.row < last}
    below = [h for h in hits if h.row >= last]
    if not above:
        return False
    return not below or all(h.name != h.name.upper() and h.name.casefold() in above for h in below)


def _refrain(sheet: Sheet, hits: list[_Hit]) -> bool:
    """Whether one line in capitals that comes back, with a text before it, is a refrain and no name."""
    before = sum(sheet.spoken(r) for r in sheet.rows[: hits[0].row])
    alone = all(sheet.rows[h.row].end <= h.end for h in hits)
    return len({h.name for h in hits}) == 1 and alone and before >= _REFRAIN_AFTER


def _mark(sheet: Sheet, hit: _Hit) -> None:
    """Put a name on the page, and the directions that are with it."""
    at = hit.start
    for start, end in hit.asides:
        if _SUFFIX.fullmatch(sheet.page.text[start:end].rstrip()):
            continue
        sheet.add([Mark(at, start, "speaker", hit.name)] if at < start else [])
        sheet.out(start, end, DIRECTION)
        at = end
    if at < hit.end:
        sheet.add([Mark(at, hit.end, "speaker", hit.name)])


# What a first speech is under; a list of characters is above it.
_OPENING = re.compile(r"\W*(?:act|scene|prologue|enter|lights)\b", re.IGNORECASE)


def _kin(sheet: Sheet, hits: list[_Hit], flat: bool) -> list[_Hit]:
    """Names set in the other ways too: once some are known, a known one is believed in any setting."""
    capitals = sum(h.name == h.name.upper() for h in hits) > _NAMES_IN_CAPITALS * len(hits)
    if flat or not capitals:
        return []
    known, taken = {h.name for h in hits}, {h.row for h in hits}
    first = min(h.row for h in _without_title(hits))
    opened = max((k for k, r in enumerate(sheet.rows[:first]) if _OPENING.match(r.text)), default=first)
    found: list[_Hit] = []
    for pattern in (_PATTERNS[0], _PATTERNS[1], _GAP):
        for h in _hits(sheet, pattern, flat):
            late = h.row > first or (h.row > opened and not pattern.alone and h.name in known)
            sure = h.name in known or pattern is _GAP or (pattern.alone and h.heads)
            if h.row not in taken and late and sure:
                found.append(h)
                taken.add(h.row)
    return found


def _without_title(hits: list[_Hit]) -> list[_Hit]:
    """The hits from the first name that comes back: what is in capitals before it is a title."""
    counts = Counter(h.name for h in hits)
    first = next((k for k, h in enumerate(hits) if counts[h.name] > 1), 0)
    # two names that never come back may be a whole short scene
    hits = hits[first:] if any(n > 1 for n in counts.values()) else hits
    listed = 0  # a list of characters: names one under the other, each with what it is
    while listed + 1 < len(hits) and hits[listed].asides and hits[listed + 1].row - hits[listed].row == 1:
        listed += 1
    return hits[listed + 1 :] if listed and hits[listed].asides else hits[listed:]


def mostly_capitals(sheet: Sheet) -> bool:
    """Whether the page is typed in capitals throughout, so that they say nothing."""
    return _in_capitals(sheet.page.text[:_CAPITALS_SAMPLE])


@lru_cache(maxsize=8)  # several finders ask about the same page
def _in_capitals(text: str) -> bool:
    letters = "".join(filter(str.isalpha, text))
    return sum(map(str.isupper, letters)) > _CAPITALS_SHARE * len(letters)


def _hits(sheet: Sheet, pattern: _Pattern, flat: bool) -> list[_Hit]:
    found: list[_Hit] = []
    rows = sheet.rows
    opens = {g[0].start for g in paragraphs(list(rows))}
    match: Callable[[str], re.Match[str] | None] = (
        pattern.regex.fullmatch if pattern.alone else pattern.regex.match
    )
    for k, row in enumerate(rows):
        if row.blank:
            continue
        left = sheet.left(row)
        base = row.start + len(left) - len(left.lstrip())  # bold marks and the like before a name
        m = match(left.strip())
        if m is None or not (pattern.regex is _HEAD_LETTER or is_name(m["name"], pattern.capitals, flat)):
            continue
        if pattern.alone and (not _speech_follows(sheet, k) or direction_row(row.text) == SURE):
            continue
        asides = tuple(
            (base + m.start(g), base + m.end(g)) for g in ("dir", "dir2")[: 1 if pattern.alone else 2] if m[g]
        )
        name = clean_name(m["name"])
        found.append(_Hit(k, base, base + m.end(), name, row.start in opens, asides))
    return found


def is_name(name: str, capitals: bool = True, flat: bool = False) -> bool:
    """Whether `name` could be a speaker's. capitals: names are in capitals. flat: everything does."""
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
    if capitals and not flat:
        plain = clean.replace(" and ", " & ")
        return plain == plain.upper() or bool(re.fullmatch(r"Ma?c[A-Z]+", clean))
    return len(words) <= (_MOST_FLAT if flat else _MOST_TITLED)


def _speech_follows(sheet: Sheet, k: int) -> bool:
    """Whether a row by itself is followed by speech, at once or after one blank line."""
    after = sheet.rows[k + 1 : k + 3]
    return any(not r.blank for r in after) and any(
        any(c.islower() for c in r.text) or len(r.text) > 1 for r in after
    )


def _believed(sheet: Sheet, pattern: _Pattern, hits: list[_Hit], flat: bool) -> list[_Hit]:
    """The hits, if together they are a pattern of speakers."""
    if flat and pattern.alone:
        hits = [h for h in hits if h.heads and not sheet.rows[h.row].text.rstrip().endswith(("!", "?"))]
    if len(hits) < pattern.least:
        return []
    counts = Counter(h.name.lower() for h in hits)
    returning = sum(n > 1 for n in counts.values())
    share = _share_headed(sheet, pattern, hits)
    if flat:
        return hits if returning and share >= max(_LEAST_FLAT, pattern.share) else []
    if not _is_pattern(pattern, share, len(hits), len(counts), returning):
        return []
    if not pattern.capitals and len(hits) > _FEW_HITS and share < _MANY_HEADED:
        hits = [h for h in hits if h.heads or counts[h.name.lower()] > 1]
    return hits if not pattern.alone or _spaced(hits) else []


def _share_headed(sheet: Sheet, pattern: _Pattern, hits: list[_Hit]) -> float:
    """The share of the paragraphs, or of the rows, that the hits are at the head of."""
    groups = [g for g in paragraphs(sheet.rows) if any(sheet.spoken(r) for r in g)]
    edge = min(sheet.rows[h.row].indent for h in hits)  # rows further in go on with a speech
    rows = [r for r in sheet.rows if sheet.spoken(r) and (pattern.alone or r.indent <= edge)]
    headed = sum(1 for h in hits if h.heads) / len(groups)
    by_rows = len(hits) / len(rows)
    if pattern.alone:
        return max(headed, 2 * by_rows)  # a name and its speech are two rows at the least
    return max(headed if len(groups) > _FEW_PARAGRAPHS else 0.0, by_rows)


def _is_pattern(pattern: _Pattern, share: float, hits: int, names: int, returning: int) -> bool:
    """Whether so many hits of so many names, some returning, on such a share of the page, are speakers."""
    if not returning and share < (_HALF if pattern.capitals and not pattern.returning else _NEARLY_ALL):
        return False
    if share < pattern.share and not (pattern.capitals and returning >= _RETURNING):
        return False
    few_return = returning < _HALF * names and hits > _TWO_VOICES
    return pattern.capitals or not few_return or share >= _MANY_HEADED


def _spaced(hits: list[_Hit]) -> bool:
    """Names on their own lines are not one under the other, as a cast list does."""
    touching = sum(1 for a, b in itertools.pairwise(hits) if b.row - a.row == 1)
    return touching <= _CAST_LIST * len(hits)


def folded(names: Iterable[str]) -> frozenset[str]:
    """Names as they are compared, ignoring upper and lower case."""
    return frozenset(n.casefold() for n in names)


def said_by(name: str, known: frozenset[str]) -> frozenset[str]:
    """The parts (folded) that speak where `name` is: "ANNA & BEN" are both, ALL are all of `known`."""
    if is_everybody(name):
        return known | {name.casefold()}
    return frozenset((name.casefold(), *together(name, known)))


def together(name: str, known: frozenset[str]) -> tuple[str, ...]:
    """The single speakers (folded) a joint name is made of: none for a name that is not joint.

    known: the names of the script, folded.
    """
    pieces = [p.strip() for p in re.split(r"\s*(?:/|&|\+|,|\band\b)\s*", name.casefold()) if p.strip()]
    enough = any if re.search("[/&+]", name) else all
    return tuple(pieces) if len(pieces) > 1 and enough(p in known for p in pieces) else ()


def is_everybody(name: str) -> bool:
    """Whether a name stands for all who are there: ALL, BOTH."""
    return name.casefold() in _EVERYBODY


_EVERYBODY = frozenset(("all", "both", "everyone", "everybody", "together", "tutti", "omnes"))
