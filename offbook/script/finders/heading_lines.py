"""Lines above or below a speech that are headings: the work, act and scene, author, kind of text.

A heading consists of pieces that are separated by commas, dashes, colons, bars and brackets: "Viola - Twelfth
Night 2.2", "Hamlet, Act III, Scene 1 (lines 56-90)", "from The Lamp, by Ben Hale". If every piece is one of
these, and at least one is an act, an author or a word such as "monologue", the line is a heading wherever it
is. A line that only has the capitals of a title may be a line of the speech; its place has to decide.
"""

from __future__ import annotations

import re
from functools import lru_cache

from offbook.script.sheet import word_set
from offbook.spelling import plain_spelling

_ROMAN = r"[ivxl]+"
_ONES = r"one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"
_ORDINAL = r"first|second|third|fourth|fifth|last"
_FIGURE = rf"(?:\d{{1,3}}|{_ROMAN}|{_ONES}|{_ORDINAL})"
_LINES = r"(?:(?:lines?|ll?\.)\s*)?\d{1,4}\s*[-–—]\s*\d{1,4}"
_REFERENCE = re.compile(
    rf"(?:(?:act|scene|sc\.?|part|book|canto|chapter|prologue|epilogue|induction|chorus)\s*{_FIGURE}?\b\.?)"
    rf"(?:[\s.,:;–—-]*(?:act|scene|sc\.?|{_LINES})\s*{_FIGURE}?\b\.?)*(?:[\s.,:;]*{_LINES})?"
    rf"|(?:{_ROMAN}|[1-5])\s*[.,]\s*(?:{_ROMAN}|\d{{1,2}})(?:\s*[.,:]\s*\d{{1,4}}(?:\s*[-–—]\s*\d{{1,4}})?)?"
    rf"|(?:lines?|ll?\.)\s*\d{{1,4}}(?:\s*[-–—]\s*\d{{1,4}})?",
    re.IGNORECASE,
)
# "Twelfth Night 2.2", "Hamlet III.i.56-90": a work, and right after it the act and scene.
_PLACED = re.compile(
    rf"(?P<work>\S.*?)\s+(?P<place>(?:{_ROMAN.upper()}|\d{{1,2}})\s*[.:]\s*(?:{_ROMAN}|\d{{1,2}})"
    r"(?:\s*[.:]\s*\d{1,4}(?:\s*[-–—]\s*\d{1,4})?)?)"
)
_ACT_WITHIN = re.compile(rf"(?P<work>\S.*?)\s+(?P<place>(?:act|scene)\s+{_FIGURE}\b.*)", re.IGNORECASE)
_NUMBERED = re.compile(r"(?:sonnet|psalm|canto|ode|number|no\.?)\s+(?:\d+|[IVXLC]+)\.?", re.IGNORECASE)
_KIND = re.compile(
    r"(?:an?\s+|the\s+)?(?:\w+(?:['’]s)\s+|(?:opening|closing|final|first|second|audition|short|comic|classical"
    r"|contemporary|modern|male|female|dramatic)\s+)*"
    r"(?:monologue|soliloquy|speech|excerpt|extract|scene|poem|sonnet|play|tragedy|comedy|piece)"
    r"(?:\s+(?:for|by|from|in|of)\b.*)?",
    re.IGNORECASE,
)
_YEAR = re.compile(r"(?:c\.\s*|ca\.\s*|written\s+|published\s+|born\s+)?\d{4}s?(?:\s*[-–—]\s*(?:\d{2,4})?)?")
_NAME = r"(?:[A-Z][\w.'’-]*|[A-Z]\.)(?:\s+(?:[A-Z][\w.'’-]*|de|van|von|der|la|le|du|and|&|of))*"
_BY = re.compile(
    rf"(?i:(?:(?:written|adapted|translated|edited|a (?:poem|play|speech|monologue))\s+)?by:?)\s+{_NAME}"
)
_FROM = re.compile(r"(?:taken\s+|an?\s+ex(?:cerpt|tract)\s+)?from:?\s+(?P<rest>.+)", re.IGNORECASE)
_OF_SOMEBODY = re.compile(
    r"(?P<who>.+?)['’]s?\s+(?:\w+\s+)?(?:monologue|soliloquy|speech|song|prologue|epilogue)"
    r"(?:\s*(?:[,:–—-]|from|in)\s*(?P<rest>.+))?",
    re.IGNORECASE,
)
_LINK = re.compile(
    r"(?:source|url|link|text|copied from|retrieved from|read more)?\s*:?\s*(?:https?://|www\.)\S+", re.I
)
_RIGHTS = re.compile(r"(?:©|copyright\b|\(c\)\s).*|.*©.*|public domain\.?", re.IGNORECASE)
# The labels of a sheet about the piece.
LABEL = re.compile(
    r"(?:the )?(?:play|playwright|author|writer|poet|poem|character|role|part|context|setting"
    r"|synopsis|genre|style|title|given circumstances|monologue|speech|piece|production|source|age"
    r"|playing age|duration|running time|length|who|where|when)(?: name| title)?\s*:\s*\S.*",
    re.IGNORECASE,
)
# Words that are written small in a title.
_SMALL = word_set(
    """
    a an the of and or nor but to in for with on as at by from into upon sans et de la le du von van my thy
    is it its so no not that o'er over 's vs who when if are be am was your
    """
)
_PRONOUNS = word_set(
    "i i'm i'll i've i'd me my mine we us our you your thee thou thy he she they him her them it it's"
)
# In capitals these are exclamations, or begin a letter or an announcement; they are not names.
EXCLAMATIONS = word_set(
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
_WORD = re.compile(r"[^\W\d_]+(?:['’.-][^\W\d_]+)*['’.]?")
_SEPARATORS = re.compile(
    r"\s+[-–—|/•~]+\s+|\s*[—|•;]\s*|\s*:\s+|,\s+|\s*[()\[\]]\s*|(?<!\b[A-Z])\.\s+(?=[A-Z(])|\s{3,}|\t+"
)
_QUOTES = "\"“”‘’'«»*_ "
LONGEST = 100  # characters of a heading; set by hand, on speeches as people copy them (bench/copied.py)
_LONGEST_TITLE = 9  # words; set by hand, in the same way

# "SCENE II. The sea-coast.", "Act 1, Scene 2: A public place": what follows the number is where the scene is
# set.
_WITH_PLACE = re.compile(
    rf"(?:(?:ACT|Act|SCENE|Scene|Sc\.)\s+(?i:{_FIGURE})\b[\s.,:;–—-]*)+(?P<place>[^?!]*)"
)

SURE, LIKELY, NO = 2, 1, 0


def is_title(text: str) -> bool:
    """Whether a short text has the capitals of a title or a name: on every word but the small ones."""
    clean = text.strip(_QUOTES).rstrip(".")
    words = _WORD.findall(clean)
    if not words or len(words) > _LONGEST_TITLE or clean[-1:] in ",;:–—-":
        return False
    if re.search(r"[.?!…]\s+[a-z]", clean):
        return False
    first = next((c for c in clean if c.isalnum()), "")
    rest = [w for w in words[1:] if w.lower() not in _SMALL]
    return (first.isupper() or first.isdigit()) and all(w[0].isupper() for w in rest)


def is_reference(text: str) -> bool:
    """Whether a text is only an act, a scene or line numbers: "Act 2, Scene 1", "III.i.56-90"."""
    return _REFERENCE.fullmatch(text.strip(" .,:;()[]–—-")) is not None


def names_author(text: str) -> bool:
    """Whether a piece of a heading names the author: "by Rosa Vane"."""
    return _BY.fullmatch(text.strip(_QUOTES)) is not None


def has_pronoun(text: str) -> bool:
    """Whether a text has a personal pronoun in it: then it is hardly a title or a place."""
    return any(plain_spelling(w) in _PRONOUNS for w in _WORD.findall(text))


def is_exclamation(text: str) -> bool:
    """Whether a text is a single word that people exclaim."""
    words = re.findall(r"[^\W\d_]+", text.lower())
    return len(words) == 1 and words[0] in EXCLAMATIONS


ROWS_KEPT = 512  # rows that are remembered, because several finders ask about the same ones; set by hand


@lru_cache(maxsize=ROWS_KEPT)
def heading_certainty(line: str) -> int:
    """SURE if a line is a heading wherever it is, LIKELY if it could be a title or a name, else NO."""
    text = line.strip(" *_#=~")
    if not text or len(text) > LONGEST or text[-1] in ",;":
        return NO
    if _is_heading_as_whole(text) or _is_scene_and_place(text) or _says_whose_speech(text):
        return SURE
    found = [_piece_certainty(p) for p in heading_pieces(text)]
    if len(found) == 1:
        return found[0]
    if NO in found:
        return NO
    return SURE if SURE in found else LIKELY


def _is_heading_as_whole(text: str) -> bool:
    """Whether the whole line is a link, a copyright notice, an act, an author, a number or a label."""
    whole = (_LINK, _RIGHTS, _NUMBERED)
    if any(p.fullmatch(text) for p in whole) or is_reference(text) or names_author(text):
        return True
    return LABEL.fullmatch(text) is not None and not has_pronoun(text)


def _is_scene_and_place(text: str) -> bool:
    """Whether a line is an act or a scene and where it is set: "SCENE II. The sea-coast."."""
    placed = _WITH_PLACE.fullmatch(text)
    return placed is not None and not has_pronoun(placed["place"]) and not placed["place"][:1].islower()


def _says_whose_speech(text: str) -> bool:
    """Whether a line says whose speech it is, and from what: "Viola's speech from The Lamp"."""
    whose = _OF_SOMEBODY.fullmatch(text)
    return whose is not None and is_title(whose["who"]) and (whose["rest"] is None or is_title(whose["rest"]))


def heading_pieces(line: str) -> list[str]:
    """The pieces of a heading: what is between its commas, dashes, colons and brackets."""
    return [p for p in _SEPARATORS.split(line.strip(" *_#=~")) if p and any(c.isalnum() for c in p)]


def _piece_certainty(text: str) -> int:
    """How surely one piece belongs to a heading: SURE, LIKELY or NO."""
    text = text.strip()
    if is_reference(text) or names_author(text) or _NUMBERED.fullmatch(text):
        return SURE
    if _YEAR.fullmatch(text):
        return LIKELY
    told = _FROM.fullmatch(text)
    if told is not None and told["rest"][:1].isupper() | (told["rest"][:1] in '“"‘'):
        return SURE if heading_certainty(told["rest"]) else NO
    if _KIND.fullmatch(text) and not has_pronoun(text):
        return SURE if len(text.split()) > 1 else LIKELY
    for pattern in (_PLACED, _ACT_WITHIN):
        placed = pattern.fullmatch(text)
        if placed is not None and is_title(placed["work"]) and is_reference(placed["place"]):
            return SURE
    by = re.fullmatch(rf"(?P<work>\S.*?),?\s+by\s+{_NAME}", text)
    if by is not None and is_title(by["work"]):
        return SURE
    return LIKELY if is_title(text) else NO
