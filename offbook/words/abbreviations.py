"""How abbreviations are said: titles, units, short names of months, and those before a number.

Some are always said in full, some only if they have their full stop, some only beside a number. St and Dr
mean a person before a name, and a road after one.
"""

from __future__ import annotations

from offbook.words import numerals as numbers
from offbook.words.context import InContext
from offbook.words.numerals import Forms
from offbook.words.tokenise import Token

_MONTH_SHORT = {m[:3]: m for m in numbers.MONTHS} | {"sept": "september"}
# Said in full, with or without a full stop, if they begin with a capital.
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
# Said in full only with a full stop: without it they may be ordinary words.
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
UNITS = {
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


def abbreviation(at: InContext, lower: str) -> Forms | None:
    """The ways to say an abbreviation, given what is beside it; None if the piece is not an abbreviation.

    lower: the piece in small letters.
    """
    capital = at.piece.text[:1].isupper()
    if capital and lower in _PLACE_OR_PERSON:
        return _place_or_person(at, *_PLACE_OR_PERSON[lower])
    if lower in _TITLE and (capital or at.stopped):
        return _TITLE[lower]
    if lower in _ANYWHERE:
        return _ANYWHERE[lower]
    if lower in _NUMBERED and at.stopped and _figure_follows(at):
        return _NUMBERED[lower]
    if lower in _STOPPED and at.stopped and (capital or lower in ("approx", "viz", "cf", "vol", "fig")):
        return _STOPPED[lower] if at.tight and at.after is not None else (*_STOPPED[lower], (lower,))
    if capital and _shortens_a_month(at, lower):
        return ((_MONTH_SHORT[lower],),)
    return _unit(at, lower)


# St and Dr mean a person before a name, and a road after one.
_PLACE_OR_PERSON = {"st": ("saint", "street"), "dr": ("doctor", "drive")}


def _place_or_person(at: InContext, person: str, road: str) -> Forms:
    """St Paul and Paul St, Dr Hale and Hale Dr."""
    before_name = at.tight and _name(at.after)
    if before_name and not (person == "saint" and at.caseless):
        return ((person,), (road,))
    return ((road,), (person,)) if _name(at.before) else ((person,), (road,))


def _figure_follows(at: InContext) -> bool:
    return at.after is not None and at.tight and at.after.kind in ("number", "mixed")


def _shortens_a_month(at: InContext, lower: str) -> bool:
    """Whether a word with a capital is the short name of a month: 3 Sept, Oct. 5."""
    if lower not in _MONTH_SHORT or lower in numbers.MONTHS:
        return False
    beside = _figure_follows(at) or (at.before is not None and at.before.kind in ("number", "ordinal"))
    return beside or (at.stopped and lower not in ("mar", "jan", "dec"))  # these three may be names or words


def _unit(at: InContext, lower: str) -> Forms | None:
    """The ways to say a unit after a number: 5 kg, 30 mph."""
    if at.before is None or at.before.kind != "number":
        return None
    if lower in UNITS and len(lower) > 1:
        return tuple((name,) for name in unit_names(lower, at.before.text != "1"))
    return speed(lower) if lower in ("mph", "kph") else None


def _name(piece: Token | None) -> bool:
    return piece is not None and piece.text[:1].isupper()


def unit_names(unit: str, many: bool) -> list[str]:
    """The names of a unit, likeliest first. many: in the plural."""
    if unit == "ft" and many:
        return ["feet", "foot"]
    if unit == "st":
        return ["stone"]
    return [name + "s" if many else name for name in UNITS[unit]]


def speed(unit: str) -> Forms:
    """The ways to say mph and kph."""
    if unit == "mph":
        return (("miles", "an", "hour"), ("miles", "per", "hour"), ("m", "p", "h"))
    return (("kilometres", "an", "hour"), ("kilometers", "an", "hour"), ("kilometres", "per", "hour"))


# Every word that may be an abbreviation, in small letters.
ABBREVIATED = frozenset((*_TITLE, *_STOPPED, *_ANYWHERE, *_NUMBERED, *UNITS, "mph", "kph"))


def is_month(piece: Token | None) -> bool:
    """Whether a piece is the full or short name of a month."""
    if piece is None or not piece.text[:1].isupper():
        return False
    return piece.text.lower() in numbers.MONTHS or piece.text.lower() in _MONTH_SHORT
