"""How each word is said: plain words, abbreviations, initials, and numbers in their context.

A number alone does not say how it is read: 1603 is a year or a count, V after Henry is "the fifth" and
after Act "five", St is saint before a name and street after one. What stands on either side decides;
where it cannot, the ways stand side by side, the likeliest first.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from offbook.script import word_set
from offbook.words import numerals as numbers
from offbook.words.numerals import Forms, distinct
from offbook.words.tokenise import Piece

_MONTH_SHORT = {m[:3]: m for m in numbers.MONTHS} | {"sept": "september"}
_SCALE = {"k": ("thousand",), "m": ("million",), "bn": ("billion",)}
_SCALE_WORDS = word_set("hundred thousand million billion trillion")

# Said in full with or without their full stop, where they begin with a capital.
_TITLE = {
    "mr": (("mister",), ("mr",)),
    "mrs": (("mrs",), ("missus",), ("misses",)),
    "ms": (("ms",), ("miz",), ("miss",)),
    "messrs": (("messieurs",), ("messrs",)),
    "prof": (("professor",), ("prof",)),
    "revd": (("reverend",),),
    "capt": (("captain",),),
    "sgt": (("sergeant",),),
    "lt": (("lieutenant",),),
    "jr": (("junior",),),
    "esq": (("esquire",),),
    "ltd": (("limited",),),
}
# Said in full only before a full stop: without it they are, or may be, words.
_STOPPED = {
    "rev": (("reverend",), ("rev",)),
    "hon": (("honourable",), ("honorable",), ("hon",)),
    "col": (("colonel",),),
    "gen": (("general",),),
    "maj": (("major",),),
    "gov": (("governor",),),
    "sen": (("senator",),),
    "rep": (("representative",),),
    "pres": (("president",),),
    "sr": (("senior",),),
    "co": (("company",), ("co",)),
    "inc": (("incorporated",), ("ink",)),
    "bros": (("brothers",),),
    "dept": (("department",),),
    "ave": (("avenue",),),
    "rd": (("road",),),
    "mt": (("mount",),),
    "approx": (("approximately",),),
    "vol": (("volume",),),
    "fig": (("figure",),),
    "ed": (("editor",), ("ed",)),
    "viz": (("namely",), ("viz",)),
    "cf": (("compare",), ("c", "f")),
}
_ANYWHERE = {
    "etc": (("et", "cetera"), ("etcetera",), ("and", "so", "on")),
    "vs": (("versus",), ("v", "s")),
    "hrs": (("hours",),),
    "mins": (("minutes",),),
    "ok": (("ok",), ("okay",), ("o", "k")),
}
_NUMBERED: dict[str, Forms] = {
    "no": (("number",), ("no",)),
    "nos": (("numbers",),),
    "p": (("page",),),
    "pp": (("pages",),),
    "ch": (("chapter",),),
}
_INITIALS = {
    "e.g": (("for", "example"), ("e", "g"), ("for", "instance")),
    "i.e": (("that", "is"), ("i", "e")),
    "a.m": (("a", "m"), ("am",), ("in", "the", "morning")),
    "p.m": (("p", "m"), ("pm",)),
    "n.b": (("note", "well"), ("n", "b")),
}
_UNITS = {
    "km": ("kilometre", "kilometer"),
    "kg": ("kilogram", "kilo"),
    "cm": ("centimetre", "centimeter"),
    "mm": ("millimetre", "millimeter"),
    "ml": ("millilitre", "milliliter"),
    "m": ("metre", "meter"),
    "g": ("gram",),
    "ft": ("foot",),
    "st": ("stone",),
    "lb": ("pound",),
    "lbs": ("pound",),
    "oz": ("ounce",),
    "hr": ("hour",),
    "hrs": ("hour",),
    "min": ("minute",),
    "mins": ("minute",),
    "sec": ("second",),
    "secs": ("second",),
}
_SIGNS: dict[str, Forms] = {
    "&": (("and",),),
    "+": (("plus",), ("and",)),
    "=": (("equals",), ("is",)),
    "@": (("at",),),
}
# Read letter by letter though they could be said as a word.
_LETTERED = word_set(
    """
    usa uk eu un uae fbi cia mi5 aa ai id iou diy ngo ceo asap eta ufo iq ibm irs epa aol ucl lse
    """
)
_COUNTED = word_set(
    """
    act scene chapter part book volume canto sonnet war page line psalm section number phase appendix
    type stanza verse episode level class
    """
)
_CROWNED = word_set(
    """
    henry edward richard george william james charles elizabeth mary john louis philip alexander
    nicholas frederick ferdinand francis napoleon pius gregory leo benedict urban clement innocent paul
    peter catherine ivan harald harold robert david malcolm alfonso rudolf wilhelm ptolemy
    """
)
_TITLES_OF_RULERS = word_set("king queen pope emperor tsar czar prince kaiser")


_SHORT = frozenset(_TITLE) | frozenset(_UNITS) | {"mph", "kph"}


@dataclass(frozen=True, slots=True)
class _Place:
    """A piece and what stands round it. stopped: a full stop follows it at once."""

    piece: Piece
    before: Piece | None
    after: Piece | None
    stopped: bool
    tight: bool  # nothing but blanks before the next piece, but for the stop
    flat: bool


def spoken_forms(pieces: Sequence[Piece], text: str, flat: bool) -> list[Forms]:
    """For each piece the ways to say it, likeliest first. flat: capitals say nothing in this text."""
    found: list[Forms] = []
    last = len(pieces) - 1
    for k, piece in enumerate(pieces):
        if _ordinary(piece, pieces[k - 1] if k else None):
            found.append(((piece.text,),))
            continue
        before = pieces[k - 1] if k else None
        after = pieces[k + 1] if k < last else None
        gap = text[piece.end : after.start] if after is not None else text[piece.end : piece.end + 2]
        stopped = gap.startswith(".") and not gap.startswith("..")
        tight = not gap.strip(" .\n") and gap.count(".") <= 1
        forms = _forms(_Place(piece, before, after, stopped, tight, flat))
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


_IN_RANGE = 3  # ways to say the end of a range that may have a "to" before them


def _ends_range(before: Piece, piece: Piece, between: str) -> bool:
    """Whether two figures are the ends of a range (1939-45, pages 9-12), read with a "to" or without."""
    return between in ("-", "‐", "‑", "–") and before.text[:1].isdigit() and piece.text[:1].isdigit()


def _ordinary(piece: Piece, before: Piece | None) -> bool:
    """Whether a piece is plainly said as it is printed: the quick way past everything below."""
    word = piece.text
    if piece.kind != "word" or not (word.isascii() and word.isalpha() and word.islower()):
        return False
    if word in _SCALE_WORDS:
        return before is None or before.kind != "money"
    if len(word) > 4:
        return word not in _STOPPED and word not in _TITLE
    return word not in _ANYWHERE and word not in _NUMBERED and word not in _STOPPED and word not in _SHORT


def _forms(at: _Place) -> Forms:
    maker = _MAKERS.get(at.piece.kind, _word)
    return maker(at)


def fold(text: str) -> str:
    """A word as a recogniser's vocabulary holds it: small letters, no accents, straight apostrophes."""
    lower = text.replace("’", "'").replace("‘", "'").replace("ʼ", "'").lower()
    if lower.isascii():
        return lower
    for a, b in (("æ", "ae"), ("œ", "oe"), ("ø", "o"), ("ð", "th"), ("þ", "th"), ("ł", "l"), ("ß", "ss")):
        lower = lower.replace(a, b)
    return "".join(c for c in unicodedata.normalize("NFKD", lower) if not unicodedata.combining(c))


def _word(at: _Place) -> Forms:
    text = at.piece.text
    lower = fold(text)
    numeral = _numeral(at, lower)
    if numeral is not None:
        return numeral
    short = _abbreviation(at, lower)
    if short is not None:
        return short
    if at.before is not None and at.before.kind == "money" and lower in _SCALE_WORDS:
        sign = at.before.text[0]
        return tuple((lower, f[-1]) for f in numbers.money(sign, "2")[:1])
    if text.isupper() and len(text) > 1 and text.isalpha() and not at.flat:
        return _capitals(lower)
    if lower.endswith("s'"):
        return ((lower,), (lower[:-1],))  # lovers' and lovers sound the same
    return ((lower,),)


def _capitals(lower: str) -> Forms:
    """BBC letter by letter, NASA as a word or letter by letter, NEVER as a word."""
    letters = tuple(lower)
    if lower in _LETTERED or (len(lower) <= 5 and not re.search("[aeiouy]", lower)):
        return (letters, (lower,)) if len(lower) <= 5 else ((lower,), letters)
    return ((lower,), letters) if 3 <= len(lower) <= 4 and lower not in _PLAIN else ((lower,),)


_PLAIN = word_set(
    """
    all and are but can did for get god had has her him his how its let may mom mum dad man new not now
    off old one our out own say see she sit the too two was way who why yes yet you that this what when
    with will your have from they been help stop love life home look here just know more must only over
    real same some than then them time very want well were good down each ever
    """
)


def _numeral(at: _Place, lower: str) -> Forms | None:
    """Henry V, Act III, Sonnet XVIII; None where the letters are just a word."""
    if at.before is None or not at.piece.text.isupper():
        return None
    value = numbers.roman(lower)
    if value is None:
        return None
    word = at.before.text.lower()
    if word in _COUNTED:
        return distinct([*numbers.cardinal(value)[:1], ("the", *numbers.ordinal(value)[0])])
    if at.flat or not at.before.text[:1].isupper() or (value > 39 and len(lower) < 3):
        return None
    king = ("the", *numbers.ordinal(value)[0])
    if lower == "i":
        named = word in _CROWNED and at.tight and at.after is not None and not at.after.text[:1].isupper()
        return (king, ("i",)) if named and at.after is not None and at.after.text in _AFTER_KING else None
    if word in _CROWNED or word in _TITLES_OF_RULERS or (len(lower) > 1 and set(lower) <= set("ivx")):
        return distinct([king, numbers.cardinal(value)[0], tuple(lower) if len(lower) == 1 else ()])
    return None


_AFTER_KING = word_set("was of had is died came and to in ruled reigned who")


def _abbreviation(at: _Place, lower: str) -> Forms | None:
    capital = at.piece.text[:1].isupper()
    if lower == "st" and capital:
        saint, street = ("saint",), ("street",)
        if at.tight and at.after is not None and at.after.text[:1].isupper() and not at.flat:
            return (saint, street)
        return (street, saint) if _name(at.before) else (saint, street)
    if lower == "dr" and capital:
        doctor, drive = ("doctor",), ("drive",)
        if at.tight and at.after is not None and at.after.text[:1].isupper():
            return (doctor, drive)
        return (drive, doctor) if _name(at.before) else (doctor, drive)
    if lower in _TITLE and (capital or at.stopped):
        return _TITLE[lower]
    if lower in _ANYWHERE:
        return _ANYWHERE[lower]
    figure = at.after is not None and at.tight and at.after.kind in ("number", "mixed")
    if lower in _NUMBERED and at.stopped and figure:
        return _NUMBERED[lower]
    if lower in _STOPPED and at.stopped and (capital or lower in ("approx", "viz", "cf", "vol", "fig")):
        return _STOPPED[lower] if at.tight and at.after is not None else (*_STOPPED[lower], (lower,))
    if lower in _MONTH_SHORT and capital and lower not in numbers.MONTHS:
        beside = figure or (at.before is not None and at.before.kind in ("number", "ordinal"))
        if beside or (at.stopped and lower not in ("mar", "jan", "dec")):
            return ((_MONTH_SHORT[lower],),)
    if lower in _UNITS and len(lower) > 1 and at.before is not None and at.before.kind == "number":
        return tuple((name,) for name in _unit_names(lower, at.before.text != "1"))
    if lower in ("mph", "kph") and at.before is not None and at.before.kind == "number":
        return _speed(lower)
    return None


def _name(piece: Piece | None) -> bool:
    return piece is not None and piece.text[:1].isupper()


def _unit_names(unit: str, many: bool) -> list[str]:
    if unit == "ft" and many:
        return ["feet", "foot"]
    if unit == "st":
        return ["stone"]
    return [name + "s" if many else name for name in _UNITS[unit]]


def _speed(unit: str) -> Forms:
    if unit == "mph":
        return (("miles", "an", "hour"), ("miles", "per", "hour"), ("m", "p", "h"))
    return (("kilometres", "an", "hour"), ("kilometers", "an", "hour"), ("kilometres", "per", "hour"))


def _signed(make: Callable[[_Place], Forms]) -> Callable[[_Place], Forms]:
    """-12 is said as 12 is, after "minus" or "negative"."""

    def made(at: _Place) -> Forms:
        if at.piece.text[0] not in "-−":
            return make(at)
        forms = make(replace(at, piece=replace(at.piece, text=at.piece.text[1:])))[:3]
        return distinct([*(("minus", *f) for f in forms), *(("negative", *f) for f in forms)])

    return made


def _number(at: _Place) -> Forms:
    text = at.piece.text
    if text[0] in "'’":
        figures, whole = numbers.digits(text[1:])[:1], numbers.cardinal(int(text[1:]))
        return distinct([*figures, *whole] if text[1] == "0" else [*whole, *figures])
    forms = numbers.number(text)
    if not text.isdecimal():
        if re.fullmatch(r"\d{1,2}\.[0-5]\d", text):
            hour, minute = text.split(".")
            forms = distinct([*forms, *numbers.clock(int(hour), int(minute))]) if int(hour) < 25 else forms
        return forms
    n = numbers.value_of(text)
    if 1 <= n <= 31 and len(text) <= 2:
        first = numbers.ordinal(n)[0]
        if _is_month(at.before):
            return distinct([first, ("the", *first), *forms])
        if _is_month(at.after) and at.tight:
            return distinct([("the", *first, "of"), first, (*first, "of"), ("the", *first), *forms])
    if len(text) == 4 and "," not in text and at.after is not None and at.tight and _counted(at.after):
        return distinct([*numbers.cardinal(n), *forms])
    return forms


def _counted(after: Piece) -> bool:
    """Whether what follows a number looks like what it counts: 1500 men, 1200 pounds."""
    word = after.text
    return word.islower() and len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "was"))


def _is_month(piece: Piece | None) -> bool:
    if piece is None or not piece.text[:1].isupper():
        return False
    return piece.text.lower() in numbers.MONTHS or piece.text.lower() in _MONTH_SHORT


def _money(at: _Place) -> Forms:
    m = re.fullmatch(r"([£$€])([\d,.]+)(bn|[kKmM])?", at.piece.text)
    assert m is not None
    if at.after is not None and at.after.text.lower() in _SCALE_WORDS and at.tight and not m[3]:
        return numbers.number(m[2])[:2]
    return numbers.money(m[1], m[2], _SCALE[m[3].lower()] if m[3] else ())


def _clock(at: _Place) -> Forms:
    m = re.fullmatch(r"(\d{1,2})(?:[:.](\d\d)(?::(\d\d))?)?\s*([ap]m)?", at.piece.text)
    assert m is not None
    hour, minute = int(m[1]), None if m[2] is None else int(m[2])
    if hour > 24 or (minute is not None and minute > 59) or m[3] is not None:
        figures = re.findall(r"\d+", at.piece.text)
        return (tuple(w for f in figures for w in numbers.cardinal(int(f))[0]),)
    forms = numbers.clock(hour, minute, m[4] or "")
    half = at.after is not None and at.after.text.lower().replace(".", "") in ("am", "pm")
    return distinct([numbers.plain(hour), *forms]) if minute == 0 and half else forms


def _date(at: _Place) -> Forms:
    text = at.piece.text
    if "-" in text:
        y, month, day = (int(x) for x in text.split("-"))
        orders = [(day, month)]
    else:
        a, b, y = (int(x) for x in text.split("/"))
        orders = [(a, b), (b, a)]
        y += (2000 if y < 50 else 1900) if y < 100 else 0
    ways = [f for d, m in orders if 1 <= m <= 12 and 1 <= d <= 31 for f in numbers.date(d, m, y)]
    return distinct(ways) or (
        tuple(w for x in re.findall(r"\d+", text) for w in numbers.cardinal(int(x))[0]),
    )


def _percent(at: _Place) -> Forms:
    base = numbers.number(at.piece.text.rstrip("% "))[:3]
    return distinct([*((*f, "percent") for f in base), *((*f, "per", "cent") for f in base)])


def _ordinal(at: _Place) -> Forms:
    n = numbers.value_of(re.sub(r"\D", "", at.piece.text))
    if at.piece.text.endswith("st") and (n % 10 != 1 or n == 11):
        return tuple((*f, "stone") for f in numbers.number(str(n))[:2])
    forms = numbers.ordinal(n)
    if n <= 31 and _is_month(at.after) and at.tight:
        return distinct([*forms, ("the", *forms[0], "of"), (*forms[0], "of")])
    return distinct([*forms, ("the", *forms[0])]) if n <= 31 and _is_month(at.before) else forms


def _decade(at: _Place) -> Forms:
    return numbers.decade(re.sub(r"\D", "", at.piece.text))


def _degrees(at: _Place) -> Forms:
    base = numbers.number(re.sub(r"[^\d.,]", "", at.piece.text))[:2]
    name = "degree" if at.piece.text.startswith("1°") else "degrees"
    scale = {"C": [("celsius",), ("centigrade",), ()], "F": [("fahrenheit",), ()]}
    return distinct((*f, name, *s) for s in scale.get(at.piece.text[-1], [()]) for f in base)


def _measure(at: _Place) -> Forms:
    m = re.fullmatch(r"([\d,.]+)([A-Za-z]+)", at.piece.text)
    assert m is not None
    base, unit = numbers.number(m[1])[:2], m[2]
    forms: list[tuple[str, ...]] = []
    if unit == "p":
        return distinct([*((*f, "pence") for f in base), *((*f, "p") for f in base)])
    if unit in _UNITS:
        forms += [(*f, name) for name in _unit_names(unit, m[1] != "1") for f in base]
    elif unit in ("mph", "kph"):
        forms += [(*f, *s) for s in _speed(unit) for f in base]
    if unit.lower() in _SCALE:
        forms += [(*f, *_SCALE[unit.lower()]) for f in base]
    forms += [(*f, *unit.lower()) for f in base if len(unit) == 1]
    return distinct(forms) or base


def _initials(at: _Place) -> Forms:
    lower = fold(at.piece.text).strip("'").rstrip(".")
    if lower in _INITIALS:
        return _INITIALS[lower]
    letters = tuple(c for c in lower if c.isalpha())
    return distinct([letters, ("".join(letters),)])


def _sign(at: _Place) -> Forms:
    return _SIGNS[at.piece.text]


def _mixed(at: _Place) -> Forms:
    """A4 -> a four; MP3 -> m p three; 4x4 -> four by four."""
    parts = re.findall(r"\d+|[^\W\d_]+", at.piece.text)
    ways: list[Forms] = []
    for part in parts:
        if part.isdecimal():
            ways.append(numbers.number(part)[:2])
        elif part == "x" and len(parts) == 3:
            ways.append((("by",),))
        else:
            lower = fold(part)
            spelt = len(part) <= 2 or (part.isupper() and not re.search("[AEIOU]", part))
            ways.append((tuple(lower), (lower,)) if spelt else ((lower,), tuple(lower)))
    first = tuple(w for forms in ways for w in forms[0])
    other = tuple(w for forms in ways for w in forms[-1])
    return distinct([first, other])


_MAKERS: dict[str, Callable[[_Place], Forms]] = {
    "word": _word,
    "number": _signed(_number),
    "money": _money,
    "clock": _clock,
    "date": _date,
    "percent": _signed(_percent),
    "ordinal": _ordinal,
    "decade": _decade,
    "fraction": lambda at: numbers.fraction(at.piece.text),
    "degrees": _signed(_degrees),
    "measure": _measure,
    "initials": _initials,
    "sign": _sign,
    "mixed": _mixed,
}
