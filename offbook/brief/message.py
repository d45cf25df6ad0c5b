"""What a message asks for: the points of a brief, found in the sentences of an e-mail.

Only what a sentence says clearly is used, and each point is shown with the words of the message, so that a
person can compare. What might mean something else (a length without "at most", "portrait" for a photograph, a
day that may not be the deadline) is left open: people ask about a missing point, but they would trust a wrong
one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo

from offbook.brief.points import END_OF_DAY, BriefError
from offbook.intake import BRIEF, read_text
from offbook.phrasing import MINUTE

_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_N = rf"(?:\d{{1,4}}(?:[.,]\d)?|{'|'.join(_NUMBERS)}|an?)"
_UNIT = r"(?:minutes?|mins?|seconds?|secs?)"
_MIN, _SEC = r"(?:minutes?|mins?)", r"(?:seconds?|secs?)"
# Minutes and seconds, "two and a half minutes", "a minute and a half", "90 seconds", "2-minute", "1:30".
_LENGTH = re.compile(
    rf"\b(?:(?P<m>{_N})(?P<half>\s+and\s+a\s+half)?[\s-]+{_MIN}"
    rf"(?:(?P<more>\s+and\s+a\s+half)|(?:\s+and)?\s+(?P<s>{_N})\s+{_SEC})?"
    rf"|(?P<only>{_N})[\s-]+{_SEC}|(?P<cm>\d{{1,2}}):(?P<cs>[0-5]\d))\b",
    re.IGNORECASE,
)
_RANGE = re.compile(rf"\b(?P<a>{_N})\s*(?:to|and|[-–])\s*(?P<b>{_N})\s+(?P<unit>{_UNIT})\b", re.IGNORECASE)
_BEFORE_MOST = re.compile(
    r"(?:no(?:t)? (?:be )?(?:more|longer) than|(?:must|should|may) not (?:be longer than|exceed|run over)|"
    r"not (?:to )?exceed(?:ing)?|exceed|max(?:imum)?(?: length| duration)?(?: of| is|:)?|up to|at most|under|"
    r"within|less than|limit(?:ed)?(?: is| of| to|:)?|keep (?:it|them|each)[\w ]{0,12}(?:to|under))\s*$",
    re.IGNORECASE,
)
_BEFORE_LEAST = re.compile(
    r"(?:at least|no(?:t)? (?:be )?(?:shorter|less) than|"
    r"min(?:imum)?(?: length| duration)?(?: of| is|:)?)\s*$",
    re.IGNORECASE,
)
_AFTER_MOST = re.compile(
    r"^\s*(?:\(?max(?:imum)?\b|at (?:the )?most|or (?:less|under|shorter)|limit\b|tops\b)", re.IGNORECASE
)
_AFTER_LEAST = re.compile(r"^\s*(?:\(?min(?:imum)?\b|or (?:more|longer)\b|at least)", re.IGNORECASE)
_BETWEEN = re.compile(r"(?:between|from|anything from|lasting|of)\s*$", re.IGNORECASE)
_TOTAL = re.compile(
    r"\b(?:in total|altogether|all together|combined|total|overall|in all|together|"
    r"whole (?:tape|submission))\b",
    re.IGNORECASE,
)
_EACH = re.compile(r"\b(?:each|every|apiece|per (?:piece|speech|monologue|song))\b", re.IGNORECASE)
_UNBROKEN = re.compile(
    r"\b(?:(?:one|a|single) (?:single |continuous |unbroken |uninterrupted |unedited )+"
    r"(?:take|shot|recording)|in (?:one|a single) (?:take|shot)|one continuous|no (?:cuts|edits|editing)|"
    r"without (?:cuts|edits|editing)|"
    r"(?:must|should) (?:not be|be un)[ ]?(?:edited|cut)|unedited|do not edit|don['’]t edit)\b",
    re.IGNORECASE,
)
_CUTS = re.compile(
    r"\b(?:(?:cuts|edits|editing) (?:is|are) (?:fine|allowed|permitted|welcome|ok(?:ay)?)|"
    r"(?:may|can) (?:be edited|edit|use cuts)|(?:cuts|editing) (?:allowed|permitted))\b",
    re.IGNORECASE,
)
_NOT = re.compile(r"\b(?:not?|never|without|don['’]t|isn['’]t|aren['’]t|avoid|nor)\b", re.IGNORECASE)
_SLATE = re.compile(
    r"\b(?:slate|(?:say|state|give) your (?:full )?name|introduce yourself|introduction)\b", re.IGNORECASE
)
_UP = re.compile(r"\b(landscape|horizontal(?:ly)?|portrait|vertical(?:ly)?)\b", re.IGNORECASE)
_FILMED = re.compile(
    r"\b(?:film|filmed|record|recorded|recording|shoot|shot|phone|camera|video|format|orientation|mode|tape)\b",
    re.IGNORECASE,
)
_PHOTO = re.compile(r"\b(?:photo|photograph|headshot|picture of you)\b", re.IGNORECASE)
_SOUND_ALONE = re.compile(
    r"\b(?:audio|sound|voice)(?:[ -]only| alone)\b|\bonly (?:audio|sound)\b|\bno video\b", re.IGNORECASE
)
_KINDS = re.compile(r"(?<![\w.])\.?(mp4|mov|avi|m4a|m4v|mp3|wav|webm|mkv|wmv|ogg|flac|aac)\b", re.IGNORECASE)
_SIZE = re.compile(r"\b(\d{1,6}(?:\.\d)?)\s*(MB|megabytes?|GB|gigabytes?)\b", re.IGNORECASE)
_SHARP = re.compile(r"\b(480|720|1080|1440|2160)p\b", re.IGNORECASE)
_MANY = re.compile(
    rf"\b(?P<n>\d|{'|'.join(_NUMBERS)})\s+(?:(?!{_UNIT}\b)[a-z-]+\s+){{0,2}}"
    r"(?:monologues?|speeches|speech|pieces?|extracts?|poems?)\b",
    re.IGNORECASE,
)
_CONFIRM = re.compile(
    rf"\b(?:confirm|confirmation|acknowledg\w*|heard (?:back )?from us|hear (?:back )?from us)\b.{{0,60}}?"
    rf"\b(?:within|in|after)\s+(?P<n>{_N})\s+(?P<work>working |business )?(?P<unit>days?|weeks?)\b",
    re.IGNORECASE,
)
_DUE = re.compile(
    r"\b(?:by|before|deadline|due|no later than|not later than|closes?|closing|until|latest)\b", re.IGNORECASE
)
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
           "november", "december")  # fmt: skip
_MONTH = rf"(?:{'|'.join(f'{m}|{m[:3]}' for m in _MONTHS)})"
_DAY = re.compile(
    rf"\b(?:(?P<iso>\d{{4}}-\d{{2}}-\d{{2}})"
    rf"|(?P<d1>\d{{1,2}})(?:st|nd|rd|th)?(?:\s+of)?\s+(?P<m1>{_MONTH})\.?,?(?:\s+(?P<y1>\d{{4}}))?"
    rf"|(?P<m2>{_MONTH})\.?\s+(?P<d2>\d{{1,2}})(?:st|nd|rd|th)?,?(?:\s+(?P<y2>\d{{4}}))?)\b",
    re.IGNORECASE,
)
_CLOCK = re.compile(
    r"\b(?:(?P<h>\d{1,2})(?:[:.](?P<min>[0-5]\d))?\s*(?P<half>[ap])\.?m\b|(?P<h24>[01]?\d|2[0-3])[:.](?P<m24>[0-5]\d)"
    r"|(?P<word>noon|midday|midnight))",
    re.IGNORECASE,
)
_SENTENCE = re.compile(r"(?<=[.!?;])\s+(?=[A-Z“\"(])|\n\s*\n|\n\s*(?=[-*•]|\d+[.)]\s)|(?<=:)\s*\n|\n")
_CLAUSE = re.compile(r"[,;()]|\band\b|\bbut\b|\bwith\b", re.IGNORECASE)
_QUOTED = 160  # characters of a sentence that are quoted; set by hand
_AWAY = 300  # days: a day without a year is not taken for one further ahead than this; set by hand
_HOURS = 12  # of a clock with "am" and "pm"
# Words before and after, among which a "not" is looked for; set by hand
_NOT_WITHIN, _NOT_NEEDED_WITHIN = 4, 5
_HALF_MINUTE = 30  # seconds
_MEGABYTES_A_GIGABYTE = 1_000
_DAYS_OF_A_WEEK, _WORKING_DAYS, _FREE_DAYS = 7, 5, 2
_SHORT_MONTH = 3  # letters
_NOON = 12  # hours


@dataclass(frozen=True, slots=True)
class Asked:
    """One point that a message asks for.

    key: of the brief's line. value: as in `Brief`. quoted: the sentence of the message.
    """

    key: str
    value: object
    quoted: str


def asked_in(text: str, today: date, zone: tzinfo) -> tuple[Asked, ...]:
    """The points of a brief that a message says clearly. A point for which it says two different things is
    left out.

    today: the day on which it is read, because a day without a year means the next one. zone: the reader's,
    for times.
    """
    found: dict[str, list[Asked]] = {}
    for sentence in _sentences(text):
        for key, value in _said(sentence, today, zone):
            found.setdefault(key, []).append(Asked(key, value, _short(sentence)))
    kinds = [a for a in found.pop("kinds", ()) if isinstance(a.value, tuple)]
    out = [each[0] for each in found.values() if len({repr(a.value) for a in each}) == 1]
    if kinds:
        named = dict.fromkeys(k for a in kinds if isinstance(a.value, tuple) for k in a.value)
        out.append(Asked("kinds", tuple(named), kinds[0].quoted))
    return tuple(out)


def read_message(path: str, today: date, zone: tzinfo) -> tuple[Asked, ...]:
    """The points in the message in the file `path`, as `asked_in` finds them. Raises BriefError."""
    return asked_in(read_text(path, BRIEF, BriefError), today, zone)


def _sentences(text: str) -> list[str]:
    joined = re.sub(r"(?<=[a-z,])\n(?=[a-z(])", " ", text.replace("\r\n", "\n"))
    return [" ".join(s.split()) for s in _SENTENCE.split(joined) if s.strip(" -*•\t")]


def _short(sentence: str) -> str:
    clean = "".join(c for c in sentence if c.isprintable())
    return clean if len(clean) <= _QUOTED else clean[:_QUOTED].rsplit(" ", 1)[0] + " …"


def _said(sentence: str, today: date, zone: tzinfo) -> Iterator[tuple[str, object]]:
    """The points of one sentence."""
    yield from _lengths(sentence)
    if _CUTS.search(sentence) and not _denied(sentence, _CUTS):
        yield "unbroken", False
    elif _UNBROKEN.search(sentence):
        yield "unbroken", True
    slate = _SLATE.search(sentence)
    if slate is not None:
        yield "slate", not _denied(sentence, _SLATE)
    yield from _picture_and_file(sentence)
    many = _MANY.search(sentence)
    if many is not None and not _TOTAL.search(sentence[: many.start()]):
        yield "how_many", int(_number(many["n"]))
    confirm = _CONFIRM.search(sentence)
    if confirm is not None:
        yield "confirm_days", _days(confirm)
    deadline = _deadline(sentence, today, zone)
    if deadline is not None:
        yield "deadline", deadline


def _denied(sentence: str, what: re.Pattern[str]) -> bool:
    """Whether there is a "not" or "no" shortly before the words, or "not needed" shortly after them."""
    m = what.search(sentence)
    if m is None:
        return False
    before = " ".join(re.split(r"[,;()]", sentence[: m.start()])[-1].split()[-_NOT_WITHIN:])
    after = " ".join(sentence[m.end() :].split()[:_NOT_NEEDED_WITHIN])
    return bool(_NOT.search(before)) or bool(
        re.search(r"\b(?:not|isn['’]t) (?:need|want|necessary|required)", after)
    )


def _number(told: str) -> float:
    low = told.lower()
    if low in ("a", "an"):
        return 1.0
    return _NUMBERS.index(low) + 1.0 if low in _NUMBERS else float(low.replace(",", "."))


def _seconds(m: re.Match[str]) -> float:
    if m["cm"] is not None:
        return float(MINUTE * int(m["cm"]) + int(m["cs"]))
    if m["only"] is not None:
        return _number(m["only"])
    half = _HALF_MINUTE if m["half"] or m["more"] else 0.0
    return MINUTE * _number(m["m"]) + half + (_number(m["s"]) if m["s"] else 0.0)


def _lengths(sentence: str) -> Iterator[tuple[str, object]]:
    """How long each piece, and all together, may be. A length without "at most" or "at least" is left out."""
    spans: list[tuple[int, int, float | None, float | None]] = []
    for m in _RANGE.finditer(sentence):
        unit = MINUTE if m["unit"].lower().startswith("m") else 1
        a, b = unit * _number(m["a"]), unit * _number(m["b"])
        if a < b and (_BETWEEN.search(sentence[: m.start()]) or not m[0].lower().count(" and ")):
            spans.append((m.start(), m.end(), a, b))
    for m in _LENGTH.finditer(sentence):
        if any(a <= m.start() < b for a, b, _, _ in spans):
            continue
        before, after = sentence[: m.start()], sentence[m.end() :]
        at_least = _BEFORE_LEAST.search(before)  # looked for first: "no less than" has "less than" in it
        if not at_least and (_BEFORE_MOST.search(before) or _AFTER_MOST.search(after)):
            spans.append((m.start(), m.end(), None, _seconds(m)))
        elif at_least or _AFTER_LEAST.search(after):
            spans.append((m.start(), m.end(), _seconds(m), None))
    for start, end, least, most in spans:
        if _of_all(sentence, start, end):
            if most is not None:
                yield "together", most
        else:
            if least is not None:
                yield "shortest", least
            if most is not None:
                yield "longest", most


def _of_all(sentence: str, start: int, end: int) -> bool:
    """Whether a length is for all pieces together, by the words in the same part of the sentence."""
    stops = [m.end() for m in _CLAUSE.finditer(sentence) if m.end() <= start]
    opens = stops[-1] if stops else 0
    closes = next((m.start() for m in _CLAUSE.finditer(sentence) if m.start() >= end), len(sentence))
    own = sentence[opens:closes]
    return bool(_TOTAL.search(own)) and not _EACH.search(own)


def _picture_and_file(sentence: str) -> Iterator[tuple[str, object]]:
    up = _UP.findall(sentence)
    ways = {"landscape" if w.lower()[0] in "lh" else "portrait" for w in up}
    if len(ways) == 1 and _FILMED.search(sentence) and not _PHOTO.search(sentence):
        if not _denied(sentence, _UP):
            yield "picture", ways.pop()
    elif len(ways) > 1 and re.search(r"\bnot\b", sentence, re.IGNORECASE):
        first = _UP.search(sentence)
        assert first is not None  # two were found
        if re.search(rf"\bnot\b(?:\s+\w+)?\s+{up[1]}", sentence, re.IGNORECASE):
            yield "picture", "landscape" if up[0].lower()[0] in "lh" else "portrait"
    elif _SOUND_ALONE.search(sentence):
        yield "picture", "none"
    kinds = tuple(dict.fromkeys(k.lower() for k in _KINDS.findall(sentence)))
    if kinds and not _denied(sentence, _KINDS):
        yield "kinds", kinds
    size = _SIZE.search(sentence)
    if size is not None:
        unit = _MEGABYTES_A_GIGABYTE if size[2].lower().startswith("g") else 1
        yield "megabytes", float(size[1]) * unit
    sharp = _SHARP.search(sentence)
    if sharp is not None:
        yield "lines", int(sharp[1])


def _days(m: re.Match[str]) -> int:
    """The days until a confirmation; for working days with the weekends between them."""
    n = int(_number(m["n"])) * (_DAYS_OF_A_WEEK if m["unit"].lower().startswith("week") else 1)
    weeks_begun = (n + _WORKING_DAYS - 1) // _WORKING_DAYS
    return n + _FREE_DAYS * weeks_begun if m["work"] else n


def _deadline(sentence: str, today: date, zone: tzinfo) -> datetime | None:
    days = list(_DAY.finditer(sentence))
    if len(days) != 1 or not _DUE.search(sentence):
        return None
    day = _day(days[0], today)
    if day is None:
        return None
    rest = f"{sentence[: days[0].start()]} {sentence[days[0].end() :]}"
    clocks = list(_CLOCK.finditer(rest))
    at = END_OF_DAY if not clocks else _clock(clocks[0])
    return None if at is None or len(clocks) > 1 else datetime.combine(day, at, zone)


def _day(m: re.Match[str], today: date) -> date | None:
    try:
        if m["iso"]:
            return date.fromisoformat(m["iso"])
        day, year = int(m["d1"] or m["d2"]), m["y1"] or m["y2"]
        month = (m["m1"] or m["m2"])[:_SHORT_MONTH].lower()
        number = [x[:_SHORT_MONTH] for x in _MONTHS].index(month) + 1
        if year:
            return date(int(year), number, day)
        this = date(today.year, number, day)
        next_one = this if this >= today else this.replace(year=today.year + 1)
        return next_one if (next_one - today).days <= _AWAY else this
    except ValueError:  # 30 February, or 29 February in a year without one
        return None


def _clock(m: re.Match[str]) -> time | None:
    if m["word"]:
        return END_OF_DAY if m["word"].lower() == "midnight" else time(_NOON)
    if m["h24"]:
        return time(int(m["h24"]), int(m["m24"]))
    hour = int(m["h"])
    if not 1 <= hour <= _HOURS:
        return None
    return time(hour % _HOURS + (_HOURS if m["half"].lower() == "p" else 0), int(m["min"] or 0))
