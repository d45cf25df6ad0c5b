"""How figures are said in their context: numbers, money, clock times, dates, percentages, measures.

`numerals` knows how a number is said; here is which kind of number it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from offbook.script import word_set
from offbook.words import numerals as numbers
from offbook.words.abbreviations import UNITS, is_month, speed, unit_names
from offbook.words.context import InContext
from offbook.words.numerals import Forms, distinct
from offbook.words.tokenise import Token

SCALE = {"k": ("thousand",), "m": ("million",), "bn": ("billion",)}
SCALE_WORDS = word_set("hundred thousand million billion trillion")


def _signed(make: Callable[[InContext], Forms]) -> Callable[[InContext], Forms]:
    """-12 is said as 12 is, after "minus" or "negative"."""

    def made(at: InContext) -> Forms:
        if at.piece.text[0] not in "-−":
            return make(at)
        forms = make(replace(at, piece=replace(at.piece, text=at.piece.text[1:])))[:3]
        return distinct([*(("minus", *f) for f in forms), *(("negative", *f) for f in forms)])

    return made


# As the calendar and the clock have them; hour 24 is midnight at the end of a day (ISO 8601).
_HOURS, _MINUTES, _MONTHS, _DAYS = 24, 60, 12, 31
_FIGURES_OF_A_DAY = 2
# The turn of the century in a date with two figures, set by hand: 01/05/49 is 2049, 01/05/50 is 1950.
_TURN, _CENTURY, _THIS_CENTURY, _LAST_CENTURY = 50, 100, 2000, 1900


def _number(at: InContext) -> Forms:
    text = at.piece.text
    if text[0] in "'’":
        figures, whole = numbers.digits(text[1:])[:1], numbers.cardinal(int(text[1:]))
        return distinct([*figures, *whole] if text[1] == "0" else [*whole, *figures])
    forms = numbers.number(text)
    if not text.isdecimal():
        if re.fullmatch(r"\d{1,2}\.[0-5]\d", text):
            hour, minute = text.split(".")
            forms = (
                distinct([*forms, *numbers.clock_forms(int(hour), int(minute))])
                if int(hour) <= _HOURS
                else forms
            )
        return forms
    n = numbers.value_of(text)
    if 1 <= n <= _DAYS and len(text) <= _FIGURES_OF_A_DAY:
        first = numbers.ordinal(n)[0]
        if is_month(at.before):
            return distinct([first, ("the", *first), *forms])
        if is_month(at.after) and at.tight:
            return distinct([("the", *first, "of"), first, (*first, "of"), ("the", *first), *forms])
    if (
        len(text) == numbers.FIGURES_OF_A_YEAR
        and "," not in text
        and at.after is not None
        and at.tight
        and _counted(at.after)
    ):
        return distinct([*numbers.cardinal(n), *forms])
    return forms


_SHORTEST_PLURAL = 4  # letters: not "was", "its", "his", which count nothing


def _counted(after: Token) -> bool:
    """Whether what follows a number looks like what it counts: 1500 men, 1200 pounds."""
    word = after.text
    return (
        word.islower()
        and len(word) >= _SHORTEST_PLURAL
        and word.endswith("s")
        and not word.endswith(("ss", "was"))
    )


def _money(at: InContext) -> Forms:
    m = re.fullmatch(r"([£$€])([\d,.]+)(bn|[kKmM])?", at.piece.text)
    assert m is not None
    if at.after is not None and at.after.text.lower() in SCALE_WORDS and at.tight and not m[3]:
        return numbers.number(m[2])[:2]
    return numbers.money(m[1], m[2], SCALE[m[3].lower()] if m[3] else ())


def _clock(at: InContext) -> Forms:
    m = re.fullmatch(r"(\d{1,2})(?:[:.](\d\d)(?::(\d\d))?)?\s*([ap]m)?", at.piece.text)
    assert m is not None
    hour, minute = int(m[1]), None if m[2] is None else int(m[2])
    if hour > _HOURS or (minute is not None and minute >= _MINUTES) or m[3] is not None:
        figures = re.findall(r"\d+", at.piece.text)
        return (tuple(w for f in figures for w in numbers.cardinal(int(f))[0]),)
    forms = numbers.clock_forms(hour, minute, m[4] or "")
    half = at.after is not None and at.after.text.lower().replace(".", "") in ("am", "pm")
    return distinct([numbers.cardinal_words(hour), *forms]) if minute == 0 and half else forms


def _date(at: InContext) -> Forms:
    text = at.piece.text
    if "-" in text:
        y, month, day = (int(x) for x in text.split("-"))
        orders = [(day, month)]
    else:
        a, b, y = (int(x) for x in text.split("/"))
        orders = [(a, b), (b, a)]
        if y < _CENTURY:
            y += _THIS_CENTURY if y < _TURN else _LAST_CENTURY
    real = [(d, m) for d, m in orders if 1 <= m <= _MONTHS and 1 <= d <= _DAYS]
    ways = [f for d, m in real for f in numbers.date(d, m, y)]
    return distinct(ways) or (
        tuple(w for x in re.findall(r"\d+", text) for w in numbers.cardinal(int(x))[0]),
    )


def _percent(at: InContext) -> Forms:
    base = numbers.number(at.piece.text.rstrip("% "))[:3]
    return distinct([*((*f, "percent") for f in base), *((*f, "per", "cent") for f in base)])


def _ordinal(at: InContext) -> Forms:
    n = numbers.value_of(re.sub(r"\D", "", at.piece.text))
    if at.piece.text.endswith("st") and not numbers.ends_in_first(n):
        return tuple((*f, "stone") for f in numbers.number(str(n))[:2])
    forms = numbers.ordinal(n)
    if n <= _DAYS and is_month(at.after) and at.tight:
        return distinct([*forms, ("the", *forms[0], "of"), (*forms[0], "of")])
    return distinct([*forms, ("the", *forms[0])]) if n <= _DAYS and is_month(at.before) else forms


def _decade(at: InContext) -> Forms:
    return numbers.decade(re.sub(r"\D", "", at.piece.text))


def _degrees(at: InContext) -> Forms:
    base = numbers.number(re.sub(r"[^\d.,]", "", at.piece.text))[:2]
    name = "degree" if at.piece.text.startswith("1°") else "degrees"
    scale = {"C": [("celsius",), ("centigrade",), ()], "F": [("fahrenheit",), ()]}
    return distinct((*f, name, *s) for s in scale.get(at.piece.text[-1], [()]) for f in base)


def _measure(at: InContext) -> Forms:
    m = re.fullmatch(r"([\d,.]+)([A-Za-z]+)", at.piece.text)
    assert m is not None
    base, unit = numbers.number(m[1])[:2], m[2]
    forms: list[tuple[str, ...]] = []
    if unit == "p":
        return distinct([*((*f, "pence") for f in base), *((*f, "p") for f in base)])
    if unit in UNITS:
        forms += [(*f, name) for name in unit_names(unit, m[1] != "1") for f in base]
    elif unit in ("mph", "kph"):
        forms += [(*f, *s) for s in speed(unit) for f in base]
    if unit.lower() in SCALE:
        forms += [(*f, *SCALE[unit.lower()]) for f in base]
    forms += [(*f, *unit.lower()) for f in base if len(unit) == 1]
    return distinct(forms) or base


FIGURE_FORMS: dict[str, Callable[[InContext], Forms]] = {
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
}
