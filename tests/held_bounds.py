"""Held values of scripts at the limits of the finders.

There are pages just below each limit, at it, and just above it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import product

from offbook.markup import BARS
from offbook.script import parse_script
from offbook.script.language import other_language
from offbook.script.verse_or_prose import _is_verse_line
from offbook.thoughts import shifts_of
from offbook.words import words_of
from tests.held import Rows
from tests.held_script import LINE, PROSE, STANZA, family

OF_THE_LAMP = ("the", "lamp", "of", "the", "old", "house", "by", "the", "sea")
OF_THE_KEEPER = """
the keeper of the old house by the sea went down to the water with his lamp, and the boat came in under the
wall; nobody had seen it before, nobody would see it again, but he stood there with his hand on the rope and
waited for the tide to turn
"""
FRENCH, ENGLISH = ("les", "nous", "avec", "dans"), ("the", "and", "with", "you")


def _text(french: int, english: int, words: int, more: str = "") -> str:
    """A text with so many French and English function words among so many words."""
    mixed = [FRENCH[k % 4] for k in range(french)] + [ENGLISH[k % 4] for k in range(english)]
    return " ".join([*mixed, *(f"lantern{'s' * (k % 3)}" for k in range(words - len(mixed)))]) + more


def languages() -> Iterator[str]:
    """From how many function words on a text counts as French, and when it does not count as English."""
    for words in (24, 25, 40, 80, 100):
        told = []
        for french, english in product((0, 3, 4, 6, 7, 15, 16), (0, 1, 2, 3, 4, 10, 11)):
            if french + english <= words:
                told.append(f"{french}/{english} {other_language([_text(french, english, words)])}")
        yield f"{words} words: {'; '.join(told)}"
    for elided in range(8):
        yield f"{elided} elided: {other_language([_text(3, 1, 40, ' ' + 'l’amour ' * elided)])}"
    for greek in (9, 10, 11):
        yield f"{greek} Greek letters of 20: {other_language(['α' * greek + 'a' * (20 - greek)])}"
    for letter in ("ɏ", "ɐ", "ʰ", "ᵃ", "Ж", "ﬁ"):
        yield f"{letter}: {other_language([letter * 8])}"


def single_lines() -> Iterator[str]:
    """A single line, which is verse or not by its length, its syllables and its stops."""
    for syllables in (3, 4, 5, 6, 7, 17, 18, 19):
        for end, first in product(("", ".", ","), ("B", "b")):
            line = first + "a " + "ba " * (syllables - 2) + "ba" + end
            yield f"{syllables} {end} {first}: {_is_verse_line(line):d}"
    for size in (84, 85, 86):
        yield f"{size} characters: {_is_verse_line('Xa' + 'b' * (size - 20) + ' ba ba ba ba ba ba'):d}"
    for stops in range(4):
        yield f"{stops} inner stops: {_is_verse_line('Lo. ' * stops + 'the lamp was lit again'):d}"


def _indents() -> Iterator[tuple[str, str]]:
    """Names that are indented more than the speech, with a row in between: how far, and how often."""
    for name, talk, between, times in product((4, 5, 20), (3, 4, 5), (0, 3, 4, 5), (1, 2)):
        said = "".join(f"{' ' * name}{who}\n{' ' * talk}{LINE}.\n\n" for who in ("ANNA", "BEN")[:times])
        yield (
            f"{name} {talk} {between} {times}",
            f"{said}{' ' * between}The wind goes round the house.\n\n{said}",
        )


def _alone() -> Iterator[tuple[str, str]]:
    """A number at the end of a line: what it is a multiple of, the gap before it, other numbers on the
    page.
    """
    for n, gap, where in product((4, 5, 10, 0, 1005), (1, 2, 4), ("verse", "prose", "play")):
        row = f"{LINE}{' ' * gap}{n}"
        page = {
            "verse": f"{STANZA}{row}\n{STANZA}",
            "prose": f"{PROSE}\n{row}\n{PROSE}\n",
            "play": f"ACT II, SCENE 1\n\nANNA: {PROSE}\nBEN: {row}\nANNA: {PROSE}\n",
        }[where]
        yield f"{n} {gap} {where}", page
        yield f"{n} {gap} {where}, another figure", page + "\nWe had 7 of them.\n"


def _agreeing() -> Iterator[tuple[str, str]]:
    """Two numbers at the ends of lines that are so many lines apart."""
    for first, second, lines in product((5, 20), (10, 25, 40), (4, 5, 6, 7, 9, 10, 11, 14, 15, 16, 18, 22)):
        rows = [f"{LINE} {first}", *[LINE] * (lines - 1), f"{LINE} {second}"]
        yield f"{first} {second} {lines}", "\n".join(rows) + "\n"


def _numbered() -> Iterator[tuple[str, str]]:
    """Numbers before lines: how many in a row, and how long the lines are."""
    for count, first, size in product((1, 2, 3, 4), (1, 7), (60, 100, 101)):
        line = (LINE + " and then " * 10)[: size - 2].strip().ljust(size - 2, "x")
        numbered = "".join(f"{first + k} {line}\n" for k in range(count))
        yield f"{count} {first} {size}", f"{STANZA}{numbered}{STANZA}"


def _sections() -> Iterator[tuple[str, str]]:
    """Numbers above sections: how far down the first one is, and how long the sections are."""
    for above, rows, count in product((0, 1, 2, 3, 4), (3, 19, 20, 21), (2, 3)):
        body = "".join(f"\n{k + 1}\n\n" + f"{LINE}\n" * rows for k in range(count))
        yield f"{above} {rows} {count}", f"{(LINE + chr(10)) * above}{body}"


def _rules() -> Iterator[tuple[str, str]]:
    """A row of signs under a heading, shorter or longer than the heading by so much."""
    for size, mark in product((4, 5, 6, 10, 19, 20, 21), ("-", "=", "*")):
        yield f"{size} {mark}", f"The Lamps.\n{mark * size}\n\n{STANZA}"


def _timed() -> Iterator[tuple[str, str]]:
    """Rows of which so many begin with a time."""
    for timed, plain in product((2, 3, 7, 8), (0, 1, 2, 3, 4)):
        rows = [f"0:0{k} {LINE}" for k in range(timed)] + [LINE] * plain
        yield f"{timed} {plain}", "\n".join(rows) + "\n"


def _names() -> Iterator[tuple[str, str]]:
    """Names before speeches: how many paragraphs have one, and whether the names are repeated."""
    for named, plain, who in product((1, 2, 3, 4, 5), (0, 1, 2, 3), ("ANNA BEN", "ANNA BEN CARL DORA EVE")):
        names = who.split()
        said = [f"{names[k % len(names)]}: {PROSE}" for k in range(named)] + [PROSE] * plain
        yield f"{named} {plain} {len(names)}", "\n\n".join(said) + "\n"


def _titles() -> Iterator[tuple[str, str]]:
    """A first line that is set apart, by its words and by the rows below it."""
    for words, rows, style in product(
        (1, 4, 5, 6, 7, 8, 9), (1, 2, 3), (str.title, str.upper, str.capitalize)
    ):
        title = style(" ".join(OF_THE_LAMP[:words]))
        yield f"{title} {rows}", f"{title}\n\n" + "\n".join([LINE] * rows) + "\n"


def _refrains() -> Iterator[tuple[str, str]]:
    """A first line that is repeated so often, in the middle or at the end."""
    for times, where in product((0, 1, 2, 3), ("middle", "end")):
        back = f"The light, the light\n\n{STANZA}\n" * times
        page = f"The light, the light\n\n{STANZA}\n{back}"
        yield f"{times} {where}", page + ("The light, the light\n" if where == "end" else STANZA)


def _acts() -> Iterator[tuple[str, str]]:
    """Rows of which so many say what somebody does."""
    for acts, rows in product((1, 2, 3, 4), (4, 8, 10, 14, 15, 16, 20)):
        body = [f"{LINE}." for _ in range(rows)]
        for k in range(acts):
            body.insert(2 + 3 * k, "She sits.")
        yield f"{acts} {rows}", "\n\n".join("\n".join(body[k : k + 4]) for k in range(0, len(body), 4)) + "\n"
    for words in (8, 9, 10, 13, 14, 15):
        act = "She turns to " + " ".join(["the window"] * 8)
        enter = "Enter the keeper with " + " ".join(["a lantern and"] * 8)
        for row in (act, enter):
            yield f"{row[:5]} {words}", f"{STANZA}\n{' '.join(row.split()[:words])}.\n\n{STANZA}"


FAMILIES = {
    "indents": _indents,
    "one number": _alone,
    "two numbers": _agreeing,
    "numbers before lines": _numbered,
    "numbered sections": _sections,
    "rules": _rules,
    "timed rows": _timed,
    "named paragraphs": _names,
    "titles": _titles,
    "refrains": _refrains,
    "acts": _acts,
}


COUNTS = (0, 1, 9, 10, 11, 12, 19, 20, 21, 99, 100, 101, 109, 110, 199, 204, 210, 999, 1000, 1001, 1009, 1010)
YEARS = (
    1066,
    1099,
    1100,
    1101,
    1110,
    1200,
    1603,
    1899,
    1900,
    1901,
    1949,
    1950,
    1999,
    2000,
    2001,
    2009,
    2010,
    2050,
)
LARGE = (
    2051,
    2100,
    9999,
    10_000,
    10_100,
    99_999,
    100_000,
    999_999,
    10**6,
    10**9 + 1,
    10**15 - 1,
    10**15,
    10**15 + 1,
)
AROUND = (
    "It was {} then.",
    "There were {} of them.",
    "in room {}",
    "in {}",
    "Act {}",
    "the {}s",
    "No. {}",
    "${}",
)
CLOCKS = tuple(
    (h, m) for h in (0, 1, 11, 12, 13, 23, 24, 25) for m in (0, 1, 9, 10, 15, 16, 30, 31, 45, 59, 60)
)
DAYS = (
    "31/12/1999",
    "32/12/1999",
    "1/13/1999",
    "13/1/99",
    "1999-12-31",
    "1999-13-31",
    "12 May",
    "32 May",
    "May 1603",
)
COINS = (
    "$5.5",
    "$5.50",
    "$5.05",
    "$0.01",
    "£1",
    "£1.00",
    "£2.999",
    "5.50",
    "50p",
    "€1,000.10",
    "$1m",
    "1/2",
    "3/4",
    "7/8",
)
KINGS = (
    "Henry I",
    "Henry V",
    "Henry IX",
    "Henry XXXIX",
    "Henry XL",
    "Act V",
    "I",
    "MCM",
    "MMMCMXCIX",
    "MMMM",
    "IIII",
    "XC",
)


def numbers() -> Iterator[str]:
    """How numbers are said below and above each limit, in every kind of place."""
    for n in (*COUNTS, *YEARS, *LARGE):
        for written in dict.fromkeys((str(n), f"{n:,}")):
            yield f"{written}: {'; '.join(_said(form.format(written)) for form in AROUND)}"
    for h, m in CLOCKS:
        told = (f"at {h}:{m:02d}", f"at {h}.{m:02d} pm", f"{h} o’clock")
        yield f"{h}:{m:02d}: {'; '.join(map(_said, told))}"
    for text in (*DAYS, *COINS, *KINGS):
        yield f"{text}: {_said(text)}"


def _said(text: str) -> str:
    words = words_of(parse_script(text + "\n"))
    return " ".join("/".join(" ".join(form) for form in w.spoken) for w in words)


def lengths() -> Iterator[str]:
    """What is done with sentences of so many words, one after the other, in prose and in lines of verse."""
    long = OF_THE_KEEPER.split()
    for first, second in product((3, 4, 5, 12, 20, 21, 30, 31, 40, 41), (3, 4, 8, 20)):
        one, other = (" ".join(long[:n]).strip(",;") for n in (first, second))
        for verse in (False, True):
            text = f"{one[:1].upper() + one[1:]}. {other[:1].upper() + other[1:]}. Then he went home again."
            rows = text.split() if verse else []
            page = "\n".join(" ".join(rows[k : k + 8]) for k in range(0, len(rows), 8)) if verse else text
            script = parse_script(page + "\n")
            words = words_of(script)
            told = " ".join(f"{s.before_word}{BARS[s.grade]}" for s in shifts_of(script, words))
            yield f"{first} {second} {'verse' if verse else 'prose'}: {told}"


WORD_PARTS: dict[str, Rows] = {"bounds: numbers": numbers}
THOUGHT_PARTS: dict[str, Rows] = {"bounds: lengths of sentences": lengths}
PARTS: dict[str, Rows] = {
    "bounds: languages": languages,
    "bounds: single lines": single_lines,
    **{f"bounds: {name}": partial(family, pages_of) for name, pages_of in FAMILIES.items()},
}
