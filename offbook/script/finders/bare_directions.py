"""Directions without brackets in a single speech: Enter VIOLA, Exeunt, Beat., She sits.

In a scene the pattern of the speakers' names shows what is a direction. A single speech has no such pattern,
and "Enter" and "Silence" may be spoken words. So a row is a direction only if it is nothing else, and if no
sentence runs into it from the row above or out of it into the row below. If it might be either, it is left
out as unsure, and the performer is shown the other reading.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from offbook.script.finders.directions import DIRECTION, does_on_stage, looks_like_direction
from offbook.script.finders.heading_lines import LIKELY, NO, ROWS_KEPT, SURE, has_pronoun
from offbook.script.sheet import Row, Sheet, word_set

_GO = re.compile(r"(?:re-?enter|enter|exit|exeunt|manet|manent)\b(?P<who>.*)", re.IGNORECASE)
_WHO = r"(?:He|She|They|The\s[A-Z][\w'’-]*|(?:[A-Z][A-Z'’.-]+)(?:\s(?:and\s|&\s)?[A-Z][A-Z'’.-]+)*)"
_GOES = re.compile(
    rf"(?P<who>{_WHO}|[A-Z][\w'’-]*)\s+(?:enters?|exits?|re-?enters?|leaves?|goes\sout|comes\sin|go\sout|come\sin)"
    r"(?P<rest>\b.*)"
)
_STOP = r"(?:beat|pause|silence|tableau)s?"
_PAUSE = re.compile(
    rf"(?:(?:an?|the|another|long|short|brief|slight|tiny|little|small|awkward|tense|heavy|very|big|half)\s+)*{_STOP}",
    re.IGNORECASE,
)
_EFFECT = re.compile(
    r"(?:the\s+|an?\s+)?(?:distant\s+|loud\s+)?(?:blackout|curtain(?:s|\s+(?:falls|rises|up|down))?|lights?\s+(?:up|down|fade|out|rise|change|dim|shift)s?(?:\s+\w+)?"
    r"|fade\s+(?:in|out|to\s+black)|alarums?|flourish|sennet|thunder(?:\s+and\s+lightning)?|trumpets?|hautboys|drums?|tucket"
    r"|knocking|music|song|dance|storm\s+still|ordnance\s+shot\s+off)"
    r"(?:,?\s+(?:sounds?|plays?|within|off|afar\s+off|still|again|and\s+(?:they\s+)?\w+|of\s+trumpets|ceases?|heard|stops?))*"
    r"|(?:the\s+|an?\s+)?(?:clock|phone|telephone|doorbell|bell|cock|door)\s+(?:strikes|rings|crows|slams|opens|closes)"
    r"|(?:the\s+|an?\s+)?(?:cry|cries|noises?|shouts?|sounds?|calls?|knocking|voices?|laughter|singing)"
    r"(?:\s+of\s+\w+)?\s+(?:within|without|off|offstage|heard)"
    r"|end\s+of\s+(?:the\s+)?(?:play|scene|act|speech|monologue|excerpt|extract|poem)",
    re.IGNORECASE,
)
# A direction that is a single word on a row of its own, without the person who does it.
_ALONE = word_set(
    """
    reads writes sings weeps kneels rises sleeps dies laughs sighs aside reading writing singing weeping
    kneeling rising sleeping advancing drinking drinks sits stands sitting standing whispers swears
    knocks knocking
    """
)
_TO = re.compile(
    r"(?:Aside\s+)?[Tt]o\s+(?:the\s+|all\s+|an?\s+)?(?:[A-Z][A-Z'’.-]+)(?:,?\s+(?:(?:and|&)\s+)?(?:[A-Z][A-Z'’.-]+|c\b))*"
)
_ACTS = re.compile(rf"(?P<who>{_WHO}|[A-Z][\w'’-]*)\s+(?P<rest>[a-z][^,;:?!]*)")
_AT_THE_END = re.compile(
    r"(?:\s{2,}|\t)\s*(?P<go>(?:Exit|Exeunt|Exits|Curtain|Blackout)(?:\s+[A-Z][\w'’ ]{1,30})?\.?)$"
)
_PROSE_PAUSE = re.compile(r"(?<=[.?!…\"”’]\s)(?:Beat|A beat|Pause|A pause|Long pause)\.(?=\s+[A-Z\"“‘]|\s*$)")
_COMING = word_set(
    """
    a an and the with all but two three four five six seven eight some certain others other another at
    from by to for into above below severally several attended attendants lords soldiers servants
    servant messenger reading bearing in on of their his her followed disguised together again alone
    lord queen king prince duke as like left right armed meeting drum colours torches train players
    citizens musicians officers gentlemen ladies sailors page
    """
)
# Verbs that say what is done to a thing or a person. Alone, each may also be a noun.
_HANDLES = word_set(
    """
    seats dashes cuts drinks eats lights writes reads strikes beats tears snatches embraces catches
    raises lays shows offers delivers binds unbinds fights flings hurls lowers examines studies searches
    finds counts leaps springs retires advances approaches awakes dies swoons faints wounds throws
    discovers checks packs unpacks folds buttons dresses undresses loads cocks fires stirs tastes smells
    listens helps makes winds blows opens closes pours reaches
    """
)
_TOWARDS = word_set(
    """
    the a an his her him it them their to at down up off away out on back in round around again from with upon
    into over
    """
)
_DOING = re.compile(r"(?:He|She|They)\s+(?:is|are)\s+\w+ing(?:\s+\w+){0,4}\.?")  # in brackets: (She is going)
_SPEAKING = word_set("i me my you your we us our thou thee thy")
# All the numbers below were set by hand, on speeches as people copy them (bench/copied.py).
_MOST_SENTENCES = 3  # of a row that consists of directions
_LEAST_PROCESSION = 2  # the fewest people in capitals who enter together
_MOST_COMING = 5  # words of an entrance such as "Enter two servants"
_MOST_GOING = 10  # words of an entrance whose first word has a capital but is not a known name
# If more rows than this, and more than this share of them, look like directions, they tell a story instead.
_CROWD, _CROWD_SHARE = 2, 0.2
_ROWS_ABOVE, _ROWS_BELOW = 2, 3  # rows around a row that show whether it is a paragraph of its own
_MOST_BRACKETED = 6  # words of a direction in brackets that ends without a stop
_LONGEST = 14  # words of an entrance on one row; a longer one continues on the next
# Of the median length of the rows: a row that might be either is left out only if it is shorter
_SHORT = 0.85
_MOST_DONE = 9  # words of a row that says what somebody does


def direction_certainty(text: str, names: Iterable[str] = ()) -> int:
    """SURE if a row is a direction and nothing else, LIKELY if it could be one, else NO.

    names: those of the speakers.
    """
    return _direction_certainty(text, frozenset(names))


@lru_cache(maxsize=ROWS_KEPT)
def _direction_certainty(text: str, names: frozenset[str]) -> int:
    clean = text.strip().strip("*_").strip()
    if not clean or clean[-1] in "?!,;:" or not any(c.isalpha() for c in clean):
        return NO
    sentences = [
        s.rstrip(".…–— ") for s in re.split(r"(?:(?<=\w\.)|(?<=\w…)|(?<=[)\]]))\s+(?=[A-Z])", clean) if s
    ]
    if _is_procession(clean):
        return SURE
    return min(_sentence_certainty(s, names) for s in sentences) if len(sentences) <= _MOST_SENTENCES else NO


def _is_procession(text: str) -> bool:
    """Whether several people, named in capitals, enter or leave."""
    named = re.findall(r"\b[A-Z][A-Z'’]+(?:\s[A-Z][A-Z'’]+)*", text)
    return (
        len(named) >= _LEAST_PROCESSION
        and re.search(r"\b(?:[Ee]nter|[Ee]xeunt|[Ee]xit)\b", text) is not None
        and not has_pronoun(text)
    )


def _sentence_certainty(text: str, names: Iterable[str]) -> int:
    words = text.split()
    if not words or text[:1].islower():
        return NO
    if _PAUSE.fullmatch(text):
        return LIKELY if text.casefold() == "silence" else SURE
    if _EFFECT.fullmatch(text):
        return SURE if len(words) > 1 or text.casefold() in _EFFECTS_ALONE else LIKELY
    if text.casefold() in _ALONE or _TO.fullmatch(text):
        return SURE if text.casefold() not in _ALSO_SAID else LIKELY
    if re.fullmatch(r"[A-Z][a-z]+ing\b.*\b[A-Z][A-Z'’-]+(?:['’]s \w+)?", text) and len(words) <= _MOST_DONE:
        return SURE  # "Looking on KENT"
    return max(_movement_certainty(text, words, names), _action_certainty(text, words, names))


_EFFECTS_ALONE = ("blackout", "curtain", "alarum", "flourish")  # sure even as a single word, unlike "music"
_ALSO_SAID = ("weeping", "rising", "sleeping", "sleeps", "dies")  # any of these may be a line of a poem


def _movement_certainty(text: str, words: list[str], names: Iterable[str]) -> int:
    """How surely a sentence says that somebody enters or leaves: "Enter Viola", "Exeunt", "She goes out"."""
    go = _GO.fullmatch(text)
    if go is not None:
        return _entrance_certainty(words, go["who"].strip(" ,:."))
    goes = _GOES.fullmatch(text)
    if goes is None or len(words) > _MOST_DONE or not _is_person(goes["who"], names):
        return NO
    return SURE if goes["rest"].strip() in ("", "again") else LIKELY


def _entrance_certainty(words: list[str], who: str) -> int:
    """How surely a sentence that begins with Enter, Exit or the like is a direction. who: the rest of it."""
    verb = words[0].casefold()
    if not who:
        return SURE if verb in ("exit", "exeunt", "manet", "manent") else NO
    if has_pronoun(who) or len(words) > _LONGEST or who[:1] in ",!":
        return NO
    named = [w for w in re.findall(r"[\w'’-]+", who) if w.casefold() not in _COMING]
    if named and all(w[0].isupper() for w in named):
        return SURE
    if who.split()[0].casefold() in _COMING and len(words) <= _MOST_COMING:
        return SURE if verb != "enter" or who[:1].isupper() else LIKELY
    return SURE if who[:1].isupper() and len(words) <= _MOST_GOING else NO


def _action_certainty(text: str, words: list[str], names: Iterable[str]) -> int:
    """How surely a sentence says what somebody does (not did): "She sits", "The Boy runs off"."""
    told = {w.strip(".,").lower() for w in words} & _SPEAKING
    if words[0].endswith("s") and len(words) <= _MOST_DONE and not told and not re.search(r"[,;:?!]", text):
        where = len(words) > 1 and words[1] in _TOWARDS
        if (does_on_stage(words[0]) or words[0].lower() in _HANDLES) and where:
            return LIKELY  # "Gives the ring", "Seats her by him"
    acts = _ACTS.fullmatch(text)
    if acts is None or len(words) > _MOST_DONE or not _is_person(acts["who"], names):
        return NO
    verb = acts["rest"].split()[0]
    done = does_on_stage(verb) or (acts["who"] == "They" and does_on_stage(verb + "s"))
    done = done or (acts["who"] in ("He", "She") and verb in _HANDLES)
    return LIKELY if done and not told else NO


def _is_person(who: str, names: Iterable[str]) -> bool:
    """Whether the words are a person as a direction gives one, and not just the first word of a sentence."""
    if re.fullmatch(_WHO, who) and len(who) > 1:
        return True
    return any(who.casefold() in name.casefold().split() for name in names)


def find_bare_directions(sheet: Sheet) -> None:
    """Mark the rows of a single speech that are directions, and directions inside other rows."""
    rows = [r for r in sheet.rows if sheet.spoken(r)]
    names = [*sheet.names, *_named_above(sheet)]
    kinds = [direction_certainty(sheet.remaining(r), names) for r in rows]
    # the sentences of a story that is told in the present tense look like directions
    story = kinds.count(LIKELY) > max(_CROWD, _CROWD_SHARE * len(rows))
    sizes = sorted(len(r.text) for r in rows)
    middle = sizes[len(sizes) // 2] if sizes else 0
    places = {r.start: n for n, r in enumerate(sheet.rows)}
    for k, row in enumerate(rows):
        place = places[row.start]
        kind = kinds[k]
        if kind == NO and _is_own_paragraph(sheet, place) and _reads_like_direction(sheet, row):
            kind = LIKELY
        doubtful = kind == LIKELY and (story or k == 0 or len(row.text) > _SHORT * middle)
        if kind != NO and not doubtful and _is_separate(sheet, place):
            _leave_out_rows(sheet, row, _continuing_rows(rows, k), sure=kind == SURE)
    _within_rows(sheet, [r for r in rows if sheet.spoken(r)], names)


def _leave_out_rows(sheet: Sheet, row: Row, others: list[Row], sure: bool) -> None:
    """Mark a row that is a direction, and the rows below on which its list of names continues."""
    sheet.leave_out(row.start, row.end, DIRECTION, sure=sure)
    for other in others:
        sheet.leave_out(other.start, other.end, DIRECTION)


def _within_rows(sheet: Sheet, rows: list[Row], names: Iterable[str]) -> None:
    """Mark directions inside rows: in round brackets, Exit at a line's end, Beat between two sentences."""
    for row in rows:
        end = _AT_THE_END.search(row.text)
        if end is not None:
            sheet.leave_out(row.start + end.start("go"), row.end, DIRECTION)
        if _is_bracketed_direction(row.text, names):
            sheet.leave_out(row.start, row.end, DIRECTION, sure=False)
        for m in _PROSE_PAUSE.finditer(row.text):
            if not sheet.gone[row.start + m.start()]:
                sheet.leave_out(row.start + m.start(), row.start + m.end(), DIRECTION, sure=False)


def _named_above(sheet: Sheet) -> list[str]:
    """The words with a capital in the headings: they may be names, which a direction may use."""
    heads = [sheet.page.text[m.start : m.end] for m in sheet.marks if m.what == "heading"]
    return [w for text in heads for w in re.findall(r"\b[A-Z][a-z]{2,}\b", text)]


def _is_own_paragraph(sheet: Sheet, k: int) -> bool:
    """Whether row k is a paragraph of its own, with printed rows above it and several below."""
    above = sheet.rows[max(0, k - _ROWS_ABOVE) : k]
    below = sheet.rows[k + 1 : k + 1 + _ROWS_BELOW]
    parted = len(above) == _ROWS_ABOVE and above[1].blank and below[:1] != [] and below[0].blank
    return parted and (not above[0].blank) and sum(not r.blank for r in below) > 1


def _reads_like_direction(sheet: Sheet, row: Row) -> bool:
    """Whether a row reads like a direction in a play, and does not speak to or of the speaker."""
    words = {w.strip(".,;").lower() for w in row.text.split()}
    asks = re.search(r"[?!;:\"“”]", row.text) is not None
    if words & _SPEAKING or asks:
        return False
    named = len(re.findall(r"\b[A-Z]{3,}\b", row.text)) > 1 and row.text != row.text.upper()
    return named or looks_like_direction(row.text, sheet.names, True)


def _is_bracketed_direction(text: str, names: Iterable[str]) -> bool:
    """Whether a row is all in round brackets and is a direction."""
    inside = re.fullmatch(r"\(([^()]*)\)\.?", text)
    if inside is None or not inside[1]:
        return False
    words = inside[1].split()
    speaks = {w.strip(".,;").lower() for w in words} & _SPEAKING
    if not speaks and looks_like_direction(inside[1], names, True):
        return True
    named = len(words) <= _MOST_BRACKETED and inside[1][0].isupper() and inside[1][-1].isalnum()
    short = named and not has_pronoun(inside[1])
    return direction_certainty(inside[1], names) != NO or short or _DOING.fullmatch(inside[1]) is not None


def _is_separate(sheet: Sheet, place: int) -> bool:
    """Whether no sentence runs into a row from the row above, or out of it into the row below."""
    row = sheet.rows[place]
    below = sheet.rows[place + 1] if place + 1 < len(sheet.rows) else None
    if below is not None and below.text[:1].islower():
        return False
    above = sheet.rows[place - 1] if place else None
    if above is None or above.blank or not sheet.spoken(above):
        return True
    return above.text[-1:] in ".?!…:;,—–-\"'”’)]" or direction_certainty(row.text) == SURE


def _continuing_rows(rows: list[Row], k: int) -> list[Row]:
    """The rows below an entrance on which its list of names continues."""
    found: list[Row] = []
    text = rows[k].text
    while k + 1 < len(rows) and re.search(r"(?:,|\band|&|\bwith)$", text):
        k += 1
        text = rows[k].text
        if not _names_only(text):
            break
        found.append(rows[k])
    return found


def _names_only(text: str) -> bool:
    words = re.findall(r"[\w'’-]+", text)
    return (
        bool(words)
        and all(w[0].isupper() or w.casefold() in _COMING for w in words)
        and not has_pronoun(text)
    )
