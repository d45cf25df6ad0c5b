"""How each word is said: plain words, abbreviations, initials, and numbers in their context.

A number alone does not show how it is said: 1603 may be a year or a count, V is "the fifth" after Henry and
"five" after Act, St is "saint" before a name and "street" after one. What is beside it decides. If that is
not enough, all the ways are kept, the likeliest first.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence

from offbook.script import word_set
from offbook.spelling import plain_spelling
from offbook.words import numerals as numbers
from offbook.words.abbreviations import ABBREVIATED, abbreviation
from offbook.words.context import InContext
from offbook.words.figures import FIGURE_FORMS, SCALE_WORDS
from offbook.words.numerals import Forms, distinct
from offbook.words.tokenise import Token

_INITIALS = {
    "e.g": (("for", "example"), ("e", "g"), ("for", "instance")),
    "i.e": (("that", "is"), ("i", "e")),
    "a.m": (("a", "m"), ("am",), ("in", "the", "morning")),
    "p.m": (("p", "m"), ("pm",)),
    "n.b": (("note", "well"), ("n", "b")),
}
_SIGNS: dict[str, Forms] = {
    "&": (("and",),),
    "+": (("plus",), ("and",)),
    "=": (("equals",), ("is",)),
    "@": (("at",),),
}
# Said letter by letter, though they look like words.
_LETTERED = word_set(
    """
    usa uk eu un uae fbi cia mi5 aa ai id iou diy ngo ceo asap eta ufo iq ibm irs epa aol ucl lse
    """
)
_NUMBERED_THINGS = word_set(
    """
    act scene chapter part book volume canto sonnet war page line psalm section number phase appendix
    type stanza verse episode level class
    """
)
_RULERS = word_set(
    """
    henry edward richard george william james charles elizabeth mary john louis philip alexander
    nicholas frederick ferdinand francis napoleon pius gregory leo benedict urban clement innocent paul
    peter catherine ivan harald harold robert david malcolm alfonso rudolf wilhelm ptolemy
    """
)
_TITLES_OF_RULERS = word_set("king queen pope emperor tsar czar prince kaiser")


def spoken_forms(pieces: Sequence[Token], text: str, caseless: bool) -> list[Forms]:
    """For each piece the ways to say it, likeliest first.

    caseless: whether capitals mean nothing in this text (`is_caseless`).
    """
    found: list[Forms] = []
    last = len(pieces) - 1
    for k, piece in enumerate(pieces):
        if _said_as_printed(piece, pieces[k - 1] if k else None):
            found.append(((piece.text,),))
            continue
        before = pieces[k - 1] if k else None
        after = pieces[k + 1] if k < last else None
        gap = text[piece.end : after.start] if after is not None else text[piece.end : piece.end + 2]
        stopped = gap.startswith(".") and not gap.startswith("..")
        tight = not gap.strip(" .\n") and gap.count(".") <= 1
        forms = _forms(InContext(piece, before, after, stopped, tight, caseless))
        if before is not None and _ends_range(before, piece, text[before.end : piece.start]):
            forms = distinct([*forms, *(("to", *f) for f in forms[:_IN_RANGE])])
        if before is not None and _is_height(text[before.start : piece.end]):
            found[-1] = distinct([(*f, u) for u in ("foot", "feet") for f in found[-1]] + list(found[-1]))
            forms = distinct([*forms, *((*f, "inches" if f != ("one",) else "inch") for f in forms)])
        found.append(forms)
    return found


def _is_height(figures: str) -> bool:
    """Whether two figures are feet and inches: 6'2"."""
    return re.fullmatch(r"[1-9]\s?['’′]\s?(?:\d|1[01])", figures) is not None


_IN_RANGE = 3  # the end of a range is also given with "to" before it, in so many of its ways; set by hand


def _ends_range(before: Token, piece: Token, between: str) -> bool:
    """Whether two figures are the ends of a range (1939-45, pages 9-12), which may be said with "to"."""
    return between in ("-", "‐", "‑", "–") and before.text[:1].isdigit() and piece.text[:1].isdigit()


def _said_as_printed(piece: Token, before: Token | None) -> bool:
    """Whether a piece is certainly said as it is printed: asked first, because it is true of most words."""
    word = piece.text
    if piece.kind != "word" or not (word.isascii() and word.isalpha() and word.islower()):
        return False
    if word in SCALE_WORDS:
        return before is None or before.kind != "money"
    return word not in ABBREVIATED


def _forms(at: InContext) -> Forms:
    maker = _MAKERS.get(at.piece.kind, _word)
    return maker(at)


def fold(text: str) -> str:
    """A word as a recogniser's vocabulary holds it: small letters, no accents, straight apostrophes."""
    lower = plain_spelling(text)
    if lower.isascii():
        return lower
    for a, b in (("æ", "ae"), ("œ", "oe"), ("ø", "o"), ("ð", "th"), ("þ", "th"), ("ł", "l"), ("ß", "ss")):
        lower = lower.replace(a, b)
    return "".join(c for c in unicodedata.normalize("NFKD", lower) if not unicodedata.combining(c))


# A raised figure after a number: 12² is "twelve squared". After a letter it is a footnote mark, and left out.
_POWERS = {"²": "squared", "³": "cubed"}


def _word(at: InContext) -> Forms:
    text = at.piece.text
    if text in _POWERS:
        return ((_POWERS[text],),)
    lower = fold(text)
    numeral = _numeral(at, lower)
    if numeral is not None:
        return numeral
    short = abbreviation(at, lower)
    if short is not None:
        return short
    if at.before is not None and at.before.kind == "money" and lower in SCALE_WORDS:
        sign = at.before.text[0]
        return tuple((lower, f[-1]) for f in numbers.money(sign, "2")[:1])
    if text.isupper() and len(text) > 1 and text.isalpha() and not at.caseless:
        return _capitals(lower)
    if lower.endswith("s'"):
        return ((lower,), (lower[:-1],))  # lovers' and lovers sound the same
    return ((lower,),)


def _capitals(lower: str) -> Forms:
    """The ways to say a word in capitals: BBC letter by letter, NASA in both ways, NEVER as a word."""
    letters = tuple(lower)
    if lower in _LETTERED or (len(lower) <= _MOST_LETTERED and not re.search("[aeiouy]", lower)):
        return (letters, (lower,)) if len(lower) <= _MOST_LETTERED else ((lower,), letters)
    either = len(lower) in _WORD_OR_LETTERS and lower not in _COMMON_WORDS
    return ((lower,), letters) if either else ((lower,),)


# Set by hand: more than five letters are hardly ever said one by one; three or four may be said either way.
_MOST_LETTERED = 5
_WORD_OR_LETTERS = (3, 4)
_COMMON_WORDS = word_set(
    """
    all and are but can did for get god had has her him his how its let may mom mum dad man new not now
    off old one our out own say see she sit the too two was way who why yes yet you that this what when
    with will your have from they been help stop love life home look here just know more must only over
    real same some than then them time very want well were good down each ever
    """
)


def _numeral(at: InContext, lower: str) -> Forms | None:
    """The ways to say a Roman numeral: Henry V, Act III, Sonnet XVIII. None if the letters are a word."""
    if at.before is None or not at.piece.text.isupper():
        return None
    value = numbers.roman(lower)
    if value is None:
        return None
    word = at.before.text.lower()
    if word in _NUMBERED_THINGS:
        return distinct([*numbers.cardinal(value)[:1], ("the", *numbers.ordinal(value)[0])])
    if (
        at.caseless
        or not at.before.text[:1].isupper()
        or (value > _HIGHEST_KING and len(lower) <= _TWO_LETTERS)
    ):
        return None
    king = ("the", *numbers.ordinal(value)[0])
    if lower == "i":
        named = word in _RULERS and at.tight and at.after is not None and not at.after.text[:1].isupper()
        return (king, ("i",)) if named and at.after is not None and at.after.text in _AFTER_KING else None
    if word in _RULERS or word in _TITLES_OF_RULERS or (len(lower) > 1 and set(lower) <= set("ivx")):
        return distinct([king, numbers.cardinal(value)[0], tuple(lower) if len(lower) == 1 else ()])
    return None


# Two letters with a value above this are somebody's initials (Anna DC), not the number of a king or pope:
# XXXIX is the largest number that is written with X, V and I alone.
_HIGHEST_KING, _TWO_LETTERS = 39, 2
_AFTER_KING = word_set("was of had is died came and to in ruled reigned who")


def _initials(at: InContext) -> Forms:
    lower = fold(at.piece.text).strip("'").rstrip(".")
    if lower in _INITIALS:
        return _INITIALS[lower]
    letters = tuple(c for c in lower if c.isalpha())
    return distinct([letters, ("".join(letters),)])


def _sign(at: InContext) -> Forms:
    return _SIGNS[at.piece.text]


def _mixed(at: InContext) -> Forms:
    """A4 -> a four; MP3 -> m p three; 4x4 -> four by four."""
    parts = re.findall(r"\d+|[^\W\d_]+", at.piece.text)
    ways: list[Forms] = []
    for part in parts:
        if part.isdecimal():
            ways.append(numbers.number(part)[:2])
        elif part == "x" and len(parts) == len(("4", "x", "4")):
            ways.append((("by",),))
        elif part in _POWERS:
            ways.append(((_POWERS[part],),))
        else:
            lower = fold(part)
            spelt = len(part) <= _TWO_LETTERS or (part.isupper() and not re.search("[AEIOU]", part))
            ways.append((tuple(lower), (lower,)) if spelt else ((lower,), tuple(lower)))
    first = tuple(w for forms in ways for w in forms[0])
    other = tuple(w for forms in ways for w in forms[-1])
    return distinct([first, other])


_MAKERS: dict[str, Callable[[InContext], Forms]] = {
    **FIGURE_FORMS,
    "word": _word,
    "initials": _initials,
    "sign": _sign,
    "mixed": _mixed,
}
