"""Where the spoken words are in the text, and where its sentences end.

The rules are those of the page, not of grammar: a hyphen, a dash, a slash and an ellipsis part words,
an apostrophe never does. What needs thought is which `'` is an apostrophe and which a quotation mark,
and which full stop ends a sentence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from offbook.script import word_set

# Printed characters that are no part of a word's letters: soft hyphen, zero-width marks, joiners.
IGNORED = "\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"

_L = r"[^\W\d_][\u0300-\u036f]*"
_NUM = r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?"
_MINUS = r"(?:(?<![^\s(])[-−](?=\d))"
_UNIT = r"km|kg|cm|mm|ml|mph|kph|ft|lbs?|oz|hrs?|mins?|secs?|bn|[kKmMgp]"
TOKEN = re.compile(
    rf"""
      (?P<plain>[A-Za-z]{{2,}}+(?![\w'’ʼ\u0300-\u036f]))   # most words; the rest is for the others
    | (?P<date>\b(?:\d{{1,2}}/\d{{1,2}}/(?:\d{{4}}|\d\d)|\d{{4}}-\d\d-\d\d)\b)
    | (?P<money>[£$€](?:{_NUM})(?:bn\b|[kKmM]\b)?)
    | (?P<clock>\b\d{{1,2}}(?::\d\d(?::\d\d)?|\.\d\d(?=\s?[ap]\.?m\b))(?:[ap]m\b)?|\b\d{{1,2}}[ap]m\b)
    | (?P<percent>{_MINUS}?(?:{_NUM})\s?%)
    | (?P<ordinal>\b(?:\d{{1,3}}(?:,\d{{3}})+|\d+)(?:st|nd|rd|th|ST|ND|RD|TH)\b)
    | (?P<decade>['’]?\b\d+['’]?s\b)
    | (?P<fraction>\b\d+/\d+\b|\d*[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞])
    | (?P<degrees>{_MINUS}?(?:{_NUM})\s?°[CF]?)
    | (?P<measure>\b(?:{_NUM})(?:{_UNIT})\b)
    | (?P<mixed>\b(?:[^\W\d_]+\d|\d+[^\W\d_])[^\W_]*)
    | (?P<number>['’]\d\d\b|{_MINUS}?(?:{_NUM})(?!{_L}))
    | (?P<initials>\b(?:[^\W\d_]\.){{2,}}|\b[^\W\d_](?:\.[^\W\d_])+\b)
    | (?P<sign>[&+=@](?![&+=@]))
    | (?P<word>{_L}(?:{_L})*(?:['’ʼ](?:{_L})+)*)
    """,
    re.VERBOSE,
)

# Words that have lost their beginning. The first set is never anything else; the second are words in
# their own right too, so after a straight mark they count only where no quotation is being opened.
_APHETIC = word_set(
    """
    tis twas twere twill twould twouldst twixt twad twon't twasn't tisn't gainst neath mongst midst em
    gan tween pon scuse nuff bove tother
    """
)
_APHETIC_TOO = word_set(
    """
    s d n t e im er is ad ave av ere ard ead ell elp ello ouse ome orse im imself erself it bout cause
    cos cuz coz round til till way fore less fraid nother nough lest kay sup ye un scape stead scaped
    """
)
# Words that have lost their end, beside everything in -in' and plurals in -s'.
_APOCOPIC = word_set(
    """
    th o an wi i ha t d ol lil fo po mo ta wha t' ev'n gi ga fa a' tak mak awa
    """
)

# Abbreviations whose full stop never ends a sentence, and those whose full stop may.
_TITLES = word_set(
    """
    mr mrs ms dr prof rev revd hon capt col lt sgt gen maj cmdr st mt messrs mme mlle sr fr gov sen rep
    pres vs viz cf fig vol pp ed eds approx jan feb mar apr jun jul aug sept oct nov dec
    """
)
# With a full stop and a number behind it, such a word ends no sentence: no. 5, p. 4.
_BEFORE_A_NUMBER = word_set("no nos p ch sc")
_OPENERS = word_set(
    """
    the a an he she it we you they i this that these those but and so then there when if in on at for my
    his her our your their what who why how where now yet no not as
    """
)

_DOUBLE = ('"', "“")


@dataclass(frozen=True, slots=True)
class Token:
    """One token before it becomes a word. start, end: offsets in the text it was found in."""

    text: str
    start: int
    end: int
    kind: str


class Pieces:
    """Finds the pieces of a text line by line, keeping count of the open quotation marks."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.open = False

    def new_paragraph(self) -> None:
        """Quotation marks left open do not reach over a paragraph."""
        self.open = False

    def of(self, start: int, end: int, paragraph_end: int) -> list[Token]:
        """The pieces of the line text[start:end]; `paragraph_end` is how far a quotation may reach."""
        found: list[Token] = []
        at = start
        for m in TOKEN.finditer(self.text, start, end):
            kind = m.lastgroup or "word"
            a, b = m.span()
            if kind == "plain":
                kind = "word"
                if a - at <= 1 and self.text[at:a] in ("", " "):
                    found.append(Token(m.group(), a, b, kind))
                    at = b
                    continue
            self._quotes(at, a)
            if kind in ("word", "initials"):
                if a > at and self._leading(a, b, paragraph_end):
                    a -= 1
                    if self.text[a] == "'" and self.open and self._just_opened(a):
                        self.open = False
                if kind == "word" and b < end and self._trailing(a, b, paragraph_end):
                    b += 1
            found.append(Token(self.text[a:b], a, b, kind))
            at = b
        self._quotes(at, end)
        return found

    def _quotes(self, start: int, end: int) -> None:
        for k in range(start, end):
            c = self.text[k]
            if c == "‘":
                self.open = True
            elif c in "'’":
                after = self.text[k + 1 : k + 2]
                inner = after.isalpha() or after in _DOUBLE
                opens = c == "'" and inner and not _is_letter(self.text, k - 1)
                self.open = opens
                self._opened_at = k if opens else -1

    _opened_at = -1

    def _just_opened(self, at: int) -> bool:
        return self._opened_at == at

    def _leading(self, a: int, b: int, limit: int) -> bool:
        """Whether the mark before text[a:b] is an apostrophe that belongs to the word."""
        mark = self.text[a - 1]
        if mark not in "'’‘ʼ" or _is_letter(self.text, a - 2):
            return False
        word = self.text[a:b].lower()
        if word in _APHETIC or (word == "n" and self.text[b : b + 1] in ("'", "’")):
            return True
        if mark in "’ʼ":
            return True
        return word in _APHETIC_TOO and (mark == "‘" or self._closing(b, limit) < 0)

    def _trailing(self, a: int, b: int, limit: int) -> bool:
        """Whether the mark after text[a:b] is an apostrophe that belongs to the word."""
        mark = self.text[b : b + 1]
        if mark not in ("'", "’", "ʼ") or _is_letter(self.text, b + 1):
            return False
        if not self.open:
            return True
        word = self.text[a:b].lower().lstrip("'’‘")
        if word == "n":
            return True
        return self._own(b) and self._closing(b + 1, limit) >= 0

    def _closing(self, start: int, limit: int) -> int:
        """Where the single mark that closes a quotation open at `start` is, -1 if none does.

        Quotations inside it and words that end in an apostrophe of their own are passed over.
        """
        inside = 0
        for k in range(start, min(limit, start + 2000)):
            if self.text[k] not in "'’‘":
                continue
            if _is_letter(self.text, k + 1):
                inside += not _is_letter(self.text, k - 1) and self.text[k] in "'‘"
            elif not self.text[k - 1].isspace() and not self._own(k):
                if inside == 0:
                    return k
                inside -= 1
        return -1

    def _own(self, k: int) -> bool:
        """Whether the mark at k plainly belongs to the word before it: goin', th', the Joneses' dog."""
        m = _TAIL.search(self.text, max(0, k - 20), k)
        if m is None:
            return False
        word = m.group().lower()
        follows = self.text[k + 1 : k + 3]
        plural = word.endswith("s") and follows[:1] == " " and follows[1:].islower()
        return (
            plural or word in _APOCOPIC or word == "n" or (word.endswith("in") and len(word) >= _SHORTEST_IN)
        )


_TAIL = re.compile(r"[^\W\d_]+$")
_SHORTEST_IN = 4  # letters of goin', the shortest that drops its g: not "in", "pin"


def _is_letter(text: str, k: int) -> bool:
    return 0 <= k < len(text) and text[k].isalpha()


# Set by hand: characters looked at, and the shares of capitals among their letters above and below which
# capitals say nothing. A text in capitals may have a few small letters (McNeil), and one in small letters a
# capital now and then.
_LETTERS_FROM = 20_000
_ALL_CAPITALS, _NO_CAPITALS = 0.8, 0.002


def caseless(text: str) -> bool:
    """Whether capitals say nothing here: a text all in capitals, or with none at all."""
    letters = [c for c in text[:_LETTERS_FROM] if c.isalpha()]
    upper = sum(c.isupper() for c in letters)
    return bool(letters) and (upper > _ALL_CAPITALS * len(letters) or upper < _NO_CAPITALS * len(letters))


def ends_sentence(before: Token, gap: str, after: Token, flat: bool) -> bool:
    """Whether a sentence ends between two pieces of one paragraph.

    flat: capitals say nothing in this text (`caseless`).
    """
    if gap == " " and before.kind != "initials":
        return False
    capital = flat or not after.text.lstrip("'’‘\"“(").islower() or not after.text[:1].isalpha()
    if not capital:
        return False
    mark = re.search(r"[.?!…]+", gap)
    if mark is None:
        return before.kind == "initials" and _ends_after_initials(before, after)
    stop = mark.group()
    if stop == "…" or stop.startswith(".."):
        # what trails off before "I" may go on: every other capital begins a sentence
        return not after.text.startswith(("I", "I'", "I’")) or after.text[1:2].isalpha()
    full_stop = stop == "." and gap.lstrip("'’").startswith(".")
    return not full_stop or not _only_abbreviates(before, after, flat)


def _ends_after_initials(before: Token, after: Token) -> bool:
    """Whether the full stop of initials also ends a sentence: "at 5 p.m. We left", "in the U.S. He"."""
    if not before.text.endswith("."):
        return False
    if before.text.lower().strip("'’") in ("a.m.", "p.m.", "b.c.", "a.d."):
        return True
    return after.text.lower() in _OPENERS and not after.text.islower()


def _only_abbreviates(before: Token, after: Token, flat: bool) -> bool:
    """Whether the full stop behind a word shortens it and ends no sentence: Mr. Hale, J. Hale, p. 4."""
    word = before.text.lower().strip("'’")
    if word in _TITLES and before.kind == "word" and not before.text.islower():
        return True
    if len(word) == 1:
        if before.text.isupper():
            initial = before.text not in ("I", "O") and not flat
        else:
            initial = not after.text[:1].isalpha()  # b. 1901, c. 150, p. 4
        if initial:
            return True
    return word in _BEFORE_A_NUMBER and after.kind == "number"


class Joiner:
    """Decides which words that a line's end divides are one word. Looks at the text once."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._known: frozenset[str] | None = None

    def joins(self, before: Token, gap: str, after: Token) -> bool:
        """Whether `before` and `after`, on the next line of the same paragraph, are one word.

        A soft hyphen always divides a word. A plain one does too, unless the compound is in the
        text elsewhere, or the first half is one that makes compounds (self-, half-, ...).
        """
        if before.kind != "word" or after.kind != "word" or not after.text[:1].islower():
            return False
        if not _DIVIDED.fullmatch(gap):
            return False
        if gap.startswith("\u00ad"):
            return True
        if self._known is None:
            self._known = frozenset(_RUN.findall(self.text.lower()))
        first, second = before.text.lower(), after.text.lower()
        if f"{first}{second}" in self._known:
            return True
        if f"{first}-{second}" in self._known:
            return False
        return first not in _COMPOUNDING or second in _ENDINGS


_DIVIDED = re.compile(r"[-‐\u00ad]\s*\n\s*")
_RUN = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)*")
_COMPOUNDING = word_set(
    """
    self well all half ill ever never high low long short old new good far near full first second two
    three four five six seven eight nine ten twenty thirty forty fifty sixty seventy eighty ninety great
    light dark deep wide hard soft sweet black white red blue green grey gold silver mother father
    sister brother son daughter non ex sea moon heart blood life love death world still much
    """
)
_ENDINGS = word_set(
    """
    ly ness dom less some ful er ers est ing ings ed en ens ened ening ish ment tion ship hood y ry th
    ty al able ward wards lier liest
    """
)
