"""How figures are said in their context: numbers, money, clock times, dates, percentages, measures.

This module decides which kind of number it is; `numerals` knows how each kind is said.
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


# Kept of a number with a sign or a per cent, which is hardly ever said in the rarer ways; set by hand
_MOST_WAYS = 3


def _signed(make: Callable[[InContext], Forms]) -> Callable[[InContext], Forms]:
    """`make`, but for a number that may have a minus: -12 is said like 12, after "minus" or "negative"."""

    def made(at: InContext) -> Forms:
        if at.piece.text[0] not in "-−":
            return make(at)
        forms = make(replace(at, piece=replace(at.piece, text=at.piece.text[1:])))[:_MOST_WAYS]
        return distinct([*(("minus", *f) for f in forms), *(("negative", *f) for f in forms)])

    return made


# The largest hour and day: hour 24 is midnight at the end of a day (ISO 8601).
_HOURS, _DAYS = 24, 31
_FIGURES_OF_A_DAY = 2
# A year with two figures is in this century if it is below the first number, which was set by hand: 01/05/49
# is in 2049, 01/05/50 in 1950.
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
        and _is_plural_noun(at.after)
    ):
        return distinct([*numbers.cardinal(n), *forms])
    return forms


_SHORTEST_PLURAL = 4  # letters: "was", "its" and "his" are not plurals


def _is_plural_noun(after: Token) -> bool:
    """Whether what follows a number looks like a noun in the plural: 1500 soldiers, 1200 pounds."""
    word = after.text
    return (
        word.islower()
        and len(word) >= _SHORTEST_PLURAL
        and word.endswith("s")
        and not word.endswith(("ss", "was"))
    )


def _money(at: InContext) -> Forms:
    m = re.fullmatch(r"(?P<sign>[£$€])(?P<figures>[\d,.]+)(?P<scale>bn|[kKmM])?", at.piece.text)
    assert m is not None
    if at.after is not None and at.after.text.lower() in SCALE_WORDS and at.tight and not m["scale"]:
        return numbers.number(m["figures"])[:2]
    return numbers.money(m["sign"], m["figures"], SCALE[m["scale"].lower()] if m["scale"] else ())


def _clock(at: InContext) -> Forms:
    m = re.fullmatch(
        r"(?P<hour>\d{1,2})(?:[:.](?P<minute>\d\d)(?::(?P<second>\d\d))?)?\s*(?P<half>[ap]m)?", at.piece.text
    )
    assert m is not None
    hour, minute = int(m["hour"]), None if m["minute"] is None else int(m["minute"])
    past_the_hour = minute is not None and minute >= numbers.MINUTES_OF_AN_HOUR
    if hour > _HOURS or past_the_hour or m["second"] is not None:
        figures = re.findall(r"\d+", at.piece.text)
        return (tuple(w for f in figures for w in numbers.cardinal(int(f))[0]),)
    forms = numbers.clock_forms(hour, minute, m["half"] or "")
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
    real = [(d, m) for d, m in orders if 1 <= m <= len(numbers.MONTHS) and 1 <= d <= _DAYS]
    ways = [f for d, m in real for f in numbers.date(d, m, y)]
    return distinct(ways) or (
        tuple(w for x in re.findall(r"\d+", text) for w in numbers.cardinal(int(x))[0]),
    )


def _percent(at: InContext) -> Forms:
    base = numbers.number(at.piece.text.rstrip("% "))[:_MOST_WAYS]
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
