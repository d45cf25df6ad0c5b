"""Numbers as English speakers say them, each in all its usual ways.

Every function returns the ways to say something, likeliest first, as tuples of lower-case words without
hyphens, so that each word is in a recogniser's vocabulary: 42 is ("forty", "two"). The British form with
"and" comes before the American form without it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import product

from offbook.script import roman_value

Forms = tuple[tuple[str, ...], ...]

_SMALL: tuple[str, ...] = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SCALES = ((10**12, "trillion"), (10**9, "billion"), (10**6, "million"), (10**3, "thousand"))
_IRREGULAR = {
    "one": "first",
    "two": "second",
    "three": "third",
    "five": "fifth",
    "eight": "eighth",
    "nine": "ninth",
    "twelve": "twelfth",
}
MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_ROMAN_END = 4000  # the first number that cannot be written in Roman numerals without a bar above them
# The value of each group of letters in a well-formed Roman numeral, the largest first.
_ROMAN_STEPS = (
    *((1000, "m"), (900, "cm"), (500, "d"), (400, "cd"), (100, "c"), (90, "xc"), (50, "l"), (40, "xl")),
    *((10, "x"), (9, "ix"), (5, "v"), (4, "iv"), (1, "i")),
)


def distinct(forms: Iterable[tuple[str, ...]]) -> Forms:
    """The forms in order, without repetitions and empty ones."""
    return tuple(dict.fromkeys(f for f in forms if f))


_TEN, _HUNDRED, _THOUSAND = 10, 100, 1000
_TOO_LARGE = 10**15  # a thousand trillion, for which `_SCALES` has no name
FIGURES_OF_A_YEAR = 4
# Read of one number: fewer than the 4,300 that Python allows, and more than anybody says
_MOST_FIGURES = 4000


def value_of(figures: str) -> int:
    """The value of figures as a whole number; only the first 4,000 figures are read."""
    return int(figures[:_MOST_FIGURES])


def cardinal_words(n: int, joiner: bool = True) -> tuple[str, ...]:
    """n in words. joiner: with the British "and". Raises ValueError unless 0 <= n < 10**15."""
    if n < len(_SMALL):
        return (_SMALL[n],)
    if n < _HUNDRED:
        return (_TENS[n // _TEN], *(() if n % _TEN == 0 else (_SMALL[n % _TEN],)))
    link = ("and",) if joiner else ()
    if n < _THOUSAND:
        rest = n % _HUNDRED
        return (
            _SMALL[n // _HUNDRED],
            "hundred",
            *(() if rest == 0 else (*link, *cardinal_words(rest, joiner))),
        )
    for size, name in _SCALES:
        if n >= size:
            rest = n % size
            tail = () if rest == 0 else (*(link if rest < _HUNDRED else ()), *cardinal_words(rest, joiner))
            return (*cardinal_words(n // size, joiner), name, *tail)
    raise ValueError(n)


def digits(figures: str) -> Forms:
    """Figures said one by one: a telephone number, a room, 007."""
    each = tuple(_SMALL[int(d)] for d in figures)
    said_oh = tuple("oh" if w == "zero" else w for w in each)
    double: list[str] = []
    for w in said_oh:
        if double and double[-1] == w and double[-2:-1] != ["double"]:
            double[-1:] = ["double", w]
        else:
            double.append(w)
    return distinct((said_oh, each, tuple(double)))


def cardinal(n: int) -> Forms:
    """1603 -> one thousand six hundred and three, sixteen hundred and three, and other ways."""
    if n >= _TOO_LARGE:
        return digits(str(n))
    forms = [cardinal_words(n), cardinal_words(n, joiner=False)]
    if n == 0:
        forms += [("nought",), ("oh",), ("nothing",)]
    forms += [("a", *f[1:]) for f in forms[:2] if len(f) > 1 and f[0] == "one" and f[1] in _A_ONE]
    if _IN_HUNDREDS[0] <= n < _IN_HUNDREDS[1] and n // _HUNDRED % _TEN:
        hundreds = (*cardinal_words(n // _HUNDRED), "hundred")
        rest = cardinal_words(n % _HUNDRED) if n % _HUNDRED else ()
        forms += [(*hundreds, "and", *rest), (*hundreds, *rest)] if rest else [hundreds]
    return distinct(forms)


_IN_HUNDREDS = (1100, 10_000)  # numbers also said in hundreds, from eleven hundred up to ninety-nine hundred
_A_ONE = ("hundred", "thousand", "million", "billion", "trillion")


def ordinal(n: int) -> Forms:
    """21 -> twenty first."""
    return distinct((*f[:-1], _ordinal_word(f[-1])) for f in cardinal(n) if f[-1] not in ("oh", "nothing"))


def _ordinal_word(word: str) -> str:
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    return word[:-1] + "ieth" if word.endswith("y") else word + "th"


_ELEVEN = 11
_YEARS = range(1000, 3000)  # years that are said in two pairs of figures; set by hand
_IN_THOUSANDS = (10, 20)  # the hundreds of years such as 2006, which is said "two thousand and six" first
_LIKELY_YEARS = range(1000, 2100)  # a number of four figures in this range is taken for a year; set by hand
_WAYS_OF_A_YEAR = 3  # in pairs: "sixteen oh three", with "hundred and", and with "hundred"


def ends_in_first(n: int) -> bool:
    """Whether the ordinal of n ends in "first": 1st and 21st, but 11th."""
    return n % _TEN == 1 and n != _ELEVEN


def year(n: int) -> Forms:
    """1603 -> sixteen oh three, sixteen hundred and three, ...; 2026 -> twenty twenty six, ..."""
    if n not in _YEARS:
        return cardinal(n)
    high, low = divmod(n, _HUNDRED)
    whole = list(cardinal(n))
    if low == 0:
        pairs = [] if high % _TEN == 0 else [(*cardinal_words(high), "hundred")]
    elif low < _TEN:
        hundred = (*cardinal_words(high), "hundred")
        pairs = [
            (*cardinal_words(high), "oh", *cardinal_words(low)),
            (*hundred, "and", *cardinal_words(low)),
            (*hundred, *cardinal_words(low)),
        ]
    else:
        hundred = (*cardinal_words(high), "hundred")
        pairs = [
            (*cardinal_words(high), *cardinal_words(low)),
            (*hundred, "and", *cardinal_words(low)),
            (*hundred, *cardinal_words(low)),
        ]
    if high in _IN_THOUSANDS and low < _TEN:
        return distinct([*whole, *pairs[:1]])
    return distinct([*pairs[: 1 if high in _IN_THOUSANDS else _WAYS_OF_A_YEAR], *whole])


def decade(figures: str) -> Forms:
    """1980 -> nineteen eighties; 20 -> twenties; 1900 -> nineteen hundreds."""
    n = value_of(figures)
    ways: Iterable[tuple[str, ...]] = year(n) if len(figures) == FIGURES_OF_A_YEAR else cardinal(n)
    ways = [f for f in ways if f[0] not in ("a", "one") and "and" not in f] or list(ways)
    plural = [(*f[:-1], f[-1][:-1] + "ies" if f[-1].endswith("y") else f[-1] + "s") for f in ways]
    return distinct(plural)


def decimal(figures: str) -> Forms:
    """3.14 -> three point one four."""
    before, after = figures.split(".")
    tails = [("point", *f) for f in digits(after)[:2]]
    heads = [*cardinal(value_of(before or "0"))[:2]]
    if not before.strip("0"):
        heads = [("zero",), ("nought",), (), ("oh",)]
    return distinct((*h, *t) for h, t in product(heads, tails))


def number(figures: str) -> Forms:
    """A number alone as printed: 12, 1,603, 3.14, 007, 1603 (which is taken for a year)."""
    plain_figures = figures.replace(",", "")
    if "." in plain_figures:
        return decimal(plain_figures)
    n = value_of(plain_figures)
    if len(plain_figures) > 1 and plain_figures[0] == "0":
        return distinct([*digits(plain_figures), *cardinal(n)])
    if "," in figures:
        return cardinal(n)
    if len(figures) == FIGURES_OF_A_YEAR and n in _LIKELY_YEARS:
        return year(n)
    forms = list(cardinal(n))
    if len(figures) >= _FIGURES_OF_A_ROOM:
        hundreds, rest = divmod(n, _HUNDRED)
        if len(figures) == _FIGURES_OF_A_ROOM and rest:
            forms.append(
                (*cardinal_words(hundreds), *(("oh",) if rest < _TEN else ()), *cardinal_words(rest))
            )
        forms += digits(figures)
    return distinct(forms)


_FIGURES_OF_A_ROOM = 3  # room 204 is two oh four, or two hundred and four


_HALVES, _QUARTERS = 2, 4
_FRACTIONS = {_HALVES: ("half", "halves"), _QUARTERS: ("quarter", "quarters")}
_SIGNS = {
    "½": (1, 2),
    "⅓": (1, 3),
    "⅔": (2, 3),
    "¼": (1, 4),
    "¾": (3, 4),
    "⅕": (1, 5),
    "⅖": (2, 5),
    "⅗": (3, 5),
    "⅘": (4, 5),
    "⅙": (1, 6),
    "⅚": (5, 6),
    "⅛": (1, 8),
    "⅜": (3, 8),
    "⅝": (5, 8),
    "⅞": (7, 8),
}


def fraction(printed: str) -> Forms:
    """3/4 or 2½: three quarters, two and a half. For 24/7 and the like: both numbers."""
    if "/" in printed:
        top, bottom = (value_of(x) for x in printed.split("/"))
        return _parts_of(top, bottom)
    top, bottom = _SIGNS[printed[-1]]
    parts = _parts_of(top, bottom)
    if len(printed) == 1:
        return parts
    whole = cardinal(value_of(printed[:-1]))
    return distinct((*w, "and", *p) for w, p in product(whole[:2], parts[:2]))


def _parts_of(top: int, bottom: int) -> Forms:
    beside = (*cardinal_words(top), *cardinal_words(bottom))
    if bottom < _HALVES or top >= bottom:
        return distinct([beside, (*cardinal_words(top), "over", *cardinal_words(bottom))])
    regular = ordinal(bottom)[0]
    names = [_FRACTIONS.get(bottom, (" ".join(regular), " ".join(regular) + "s"))]
    if bottom == _QUARTERS:
        names.append(("fourth", "fourths"))
    forms = []
    for one, many in names:
        if top == 1:
            forms += [("a", *one.split()), ("one", *one.split())]
        else:
            forms.append((*cardinal_words(top), *many.split()))
    if (top, bottom) == (1, 2):
        forms.append(("half",))
    return distinct([*forms, (*cardinal_words(top), "over", *cardinal_words(bottom)), beside])


_NOON, _MIDNIGHT = 12, (0, 24)  # hours
_QUARTER, _HALF, _THREE_QUARTERS, MINUTES_OF_AN_HOUR = 15, 30, 45, 60  # minutes past the hour
_DIAL_STEP = 5  # minutes between two figures on a clock's dial


def clock_forms(hour: int, minute: int | None, half: str = "") -> Forms:
    """7:30 -> seven thirty, half past seven. half: "am", "pm" or nothing."""
    tail = tuple(half)
    if minute is None:
        return distinct([(*cardinal_words(hour), *tail)])
    if minute == 0:
        return distinct(_full_hour(hour, tail))
    said_oh = ("oh",) if minute < _TEN else ()
    return distinct(
        [(*cardinal_words(hour), *said_oh, *cardinal_words(minute), *tail), *_past_or_to(hour, minute, tail)]
    )


def _on_the_dial(hour: int) -> tuple[str, ...]:
    """An hour of the day as one of the twelve on a clock's face."""
    return cardinal_words((hour - 1) % _NOON + 1)


def _full_hour(hour: int, tail: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Seven o'clock, nineteen hundred hours, noon."""
    said, dial = cardinal_words(hour), _on_the_dial(hour)
    forms = [(*said, *tail)] if tail else [(*dial, "o'clock"), said]
    if hour > _NOON:
        forms += [(*said, "hundred"), (*said, "hundred", "hours")]
    else:
        forms.append((*dial, "o'clock", *tail))
    if hour == _NOON:
        forms += [("noon",), ("midday",)]
    return [*forms, ("midnight",)] if hour in _MIDNIGHT else forms


def _past_or_to(hour: int, minute: int, tail: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Half past seven, a quarter to eight, ten minutes to eight."""
    dial, after = _on_the_dial(hour), _on_the_dial(hour + 1)
    if minute == _HALF:
        return [("half", "past", *dial, *tail), ("half", *dial, *tail)]
    if minute in (_QUARTER, _THREE_QUARTERS):
        towards = ("past", *dial) if minute == _QUARTER else ("to", *after)
        return [(*a, "quarter", *towards, *tail) for a in ((), ("a",))]
    apart = minute if minute < _HALF else MINUTES_OF_AN_HOUR - minute
    # ten to eight, but eight minutes to eight and one minute to eight
    minutes = () if apart % _DIAL_STEP == 0 else ("minute",) if apart == 1 else ("minutes",)
    towards = ("past", *dial) if minute < _HALF else ("to", *after)
    return [(*cardinal_words(apart), *minutes, *towards, *tail)]


def date(day: int, month: int, full_year: int | None) -> Forms:
    """25, 12, 2026 -> the twenty fifth of december twenty twenty six, and the other orders."""
    first, name = ordinal(day)[0], MONTHS[month - 1]
    orders = [
        ("the", *first, "of", name),
        (*first, "of", name),
        (name, "the", *first),
        (name, *first),
        (*first, name),
    ]
    if full_year is None:
        return distinct(orders)
    return distinct((*o, *y) for y, o in product(year(full_year)[:2], orders))


_FIGURES_OF_A_COIN = 2  # after the point: 5.50 has pence or cents, 5.5 has not
_COINS = {
    "£": (("pound", "pounds"), ("penny", "pence")),
    "$": (("dollar", "dollars"), ("cent", "cents")),
    "€": (("euro", "euros"), ("cent", "cents")),
}


def money(sign: str, figures: str, scale: tuple[str, ...] = ()) -> Forms:
    """£5.50 -> five pounds fifty, five pounds and fifty pence, five fifty.

    sign: one of £, $ and €. scale: a word for a multiple such as ("million",), or nothing.
    """
    (one, many), (coin, coins) = _COINS[sign]
    clean = figures.replace(",", "")
    if scale:
        return distinct((*f, *scale, many) for f in number(clean if "." in clean else figures)[:2])
    if "." not in clean or len(clean.split(".")[1]) != _FIGURES_OF_A_COIN:
        name = one if clean == "1" else many
        base = decimal(clean) if "." in clean else cardinal(value_of(clean))
        forms = [(*f, name) for f in base]
        return distinct([*forms, *((*f, one) for f in base[:1])] if sign == "£" else forms)
    whole, part = (value_of(x) for x in clean.split("."))
    small = (*cardinal_words(part), coin if part == 1 else coins)
    if whole == 0:
        return distinct([small, *([(*cardinal_words(part), "p")] if sign == "£" else [])])
    forms = []
    for big in cardinal(whole)[:2]:
        named = (*big, one if whole == 1 else many)
        if part == 0:
            forms.append(named)
        else:
            forms += [
                (*named, *cardinal_words(part)),
                (*named, "and", *small),
                (*named, *small),
                (*big, *cardinal_words(part)),
            ]
    return distinct(forms)


def roman(numeral: str) -> int | None:
    """The value of a well-formed Roman numeral below 4,000, None for anything else."""
    low = numeral.lower()
    if re.fullmatch("[ivxlcdm]+", low) is None:
        return None
    total = roman_value(low)
    return total if 0 < total < _ROMAN_END and _as_roman(total) == low else None


def _as_roman(n: int) -> str:
    out = ""
    for value, letters in _ROMAN_STEPS:
        while n >= value:
            out, n = out + letters, n - value
    return out
