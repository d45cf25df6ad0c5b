"""Where the spoken words are in the text, and where its sentences end.

The rules are about print, not grammar: a hyphen, a dash, a slash or an ellipsis separates words, an
apostrophe never does. The difficult questions are whether a `'` is an apostrophe or a quotation mark, and
whether a full stop ends a sentence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from offbook.script import word_set

# Characters inside words that are not letters of them: soft hyphen, zero-width marks, joiners.
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

# Words without their beginning, such as 'tis. Those of the first set are nothing else; those of the second
# are also complete words, so a straight mark before one is an apostrophe only if it does not open a
# quotation.
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
# Words without their end, besides all that end in -in' and plurals in -s'.
_APOCOPIC = word_set(
    """
    th o an wi i ha t d ol lil fo po mo ta wha t' ev'n gi ga fa a' tak mak awa
    """
)

# Abbreviations whose full stop never ends a sentence.
_TITLES = word_set(
    """
    mr mrs ms dr prof rev revd hon capt col lt sgt gen maj cmdr st mt messrs mme mlle sr fr gov sen rep
    pres vs viz cf fig vol pp ed eds approx jan feb mar apr jun jul aug sept oct nov dec
    """
)
# Before a number the full stop of these words does not end a sentence: no. 5, p. 4.
_BEFORE_A_NUMBER = word_set("no nos p ch sc")
_OPENERS = word_set(
    """
    the a an he she it we you they i this that these those but and so then there when if in on at for my
    his her our your their what who why how where now yet no not as
    """
)

_DOUBLE = ('"', "“")
_LONGEST_QUOTATION = 2_000  # characters that are searched for the mark that closes a quotation; set by hand
_LONGEST_WORD = 20  # characters before an apostrophe that are searched for its word; set by hand
_AFTER_MARK = 2  # characters after a mark that show whether a word follows: a blank and a letter


@dataclass(frozen=True, slots=True)
class Token:
    """A piece of the text that becomes a word.

    start, end: offsets in code points into the readable text. kind: the name of a group in `TOKEN`.
    """

    text: str
    start: int
    end: int
    kind: str


class Pieces:
    """Finds the pieces of a text line by line, and remembers whether a single quotation mark is open."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.open = False

    def new_paragraph(self) -> None:
        """Begin a paragraph: a quotation does not continue in the next one without a new mark."""
        self.open = False

    def of(self, start: int, end: int, paragraph_end: int) -> list[Token]:
        """The pieces of the line text[start:end]. paragraph_end: the offset a quotation may reach to."""
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
            self._follow_quotes(at, a)
            if kind in ("word", "initials"):
                if a > at and self._is_leading_apostrophe(a, b, paragraph_end):
                    a -= 1
                    if self.text[a] == "'" and self.open and self._just_opened(a):
                        self.open = False
                if kind == "word" and b < end and self._is_trailing_apostrophe(a, b, paragraph_end):
                    b += 1
            found.append(Token(self.text[a:b], a, b, kind))
            at = b
        self._follow_quotes(at, end)
        return found

    def _follow_quotes(self, start: int, end: int) -> None:
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

    def _is_leading_apostrophe(self, a: int, b: int, limit: int) -> bool:
        """Whether the mark before text[a:b] is an apostrophe that belongs to the word."""
        mark = self.text[a - 1]
        if mark not in "'’‘ʼ" or _is_letter(self.text, a - 2):
            return False
        word = self.text[a:b].lower()
        if word in _APHETIC or (word == "n" and self.text[b : b + 1] in ("'", "’")):
            return True
        if mark in "’ʼ":
            return True
        return word in _APHETIC_TOO and self._closing_mark(b, limit) < 0

    def _is_trailing_apostrophe(self, a: int, b: int, limit: int) -> bool:
        """Whether the mark after text[a:b] is an apostrophe that belongs to the word."""
        mark = self.text[b : b + 1]
        if mark not in ("'", "’", "ʼ") or _is_letter(self.text, b + 1):
            return False
        if not self.open:
            return True
        word = self.text[a:b].lower().lstrip("'’‘")
        if word == "n":
            return True
        return self._belongs_to_word(b) and self._closing_mark(b + 1, limit) >= 0

    def _closing_mark(self, start: int, limit: int) -> int:
        """The offset of the single mark that closes a quotation open at `start`, -1 if there is none.

        Marks of quotations inside it, and apostrophes at the end of words, do not count.
        """
        inside = 0
        for k in range(start, min(limit, start + _LONGEST_QUOTATION)):
            if self.text[k] not in "'’‘":
                continue
            if _is_letter(self.text, k + 1):
                inside += not _is_letter(self.text, k - 1) and self.text[k] in "'‘"
            elif not self.text[k - 1].isspace() and not self._belongs_to_word(k):
                if inside == 0:
                    return k
                inside -= 1
        return -1

    def _belongs_to_word(self, k: int) -> bool:
        """Whether the mark at k belongs to the word before it: goin', th', the Joneses' dog."""
        m = _TAIL.search(self.text, max(0, k - _LONGEST_WORD), k)
        if m is None:
            return False
        word = m.group().lower()
        follows = self.text[k + 1 : k + 1 + _AFTER_MARK]
        plural = word.endswith("s") and follows[:1] == " " and follows[1:].islower()
        return (
            plural or word in _APOCOPIC or word == "n" or (word.endswith("in") and len(word) >= _SHORTEST_IN)
        )


_TAIL = re.compile(r"[^\W\d_]+$")
_SHORTEST_IN = 4  # letters of goin', the shortest word without its g; "in" and "pin" are complete


def _is_letter(text: str, k: int) -> bool:
    return 0 <= k < len(text) and text[k].isalpha()


# Set by hand: how many characters are looked at. If the share of capitals among their letters is above the
# second number or below the third, capitals mean nothing: a text in capitals may have a few small letters
# (McNeil), and one in small letters an occasional capital.
_LETTERS_FROM = 20_000
_ALL_CAPITALS, _NO_CAPITALS = 0.8, 0.002


def is_caseless(text: str) -> bool:
    """Whether capitals mean nothing in a text, because it is all in capitals or has hardly any."""
    letters = [c for c in text[:_LETTERS_FROM] if c.isalpha()]
    upper = sum(c.isupper() for c in letters)
    return bool(letters) and (upper > _ALL_CAPITALS * len(letters) or upper < _NO_CAPITALS * len(letters))


def ends_sentence(before: Token, gap: str, after: Token, caseless: bool) -> bool:
    """Whether a sentence ends between two pieces of one paragraph.

    gap: the text between them. caseless: whether capitals mean nothing in this text (`is_caseless`).
    """
    if gap == " " and before.kind != "initials":
        return False
    capital = caseless or not after.text.lstrip("'’‘\"“(").islower() or not after.text[:1].isalpha()
    if not capital:
        return False
    mark = re.search(r"[.?!…]+", gap)
    if mark is None:
        return before.kind == "initials" and _ends_after_initials(before, after)
    stop = mark.group()
    if stop == "…" or stop.startswith(".."):
        # after an ellipsis a capital begins a sentence, except in "I", which always has one
        return not after.text.startswith(("I", "I'", "I’")) or after.text[1:2].isalpha()
    full_stop = stop == "." and gap.lstrip("'’").startswith(".")
    return not full_stop or not _only_abbreviates(before, after, caseless)


def _ends_after_initials(before: Token, after: Token) -> bool:
    """Whether the full stop after initials also ends a sentence: "at 5 p.m. We left", "in the U.S. He"."""
    if not before.text.endswith("."):
        return False
    if before.text.lower().strip("'’") in ("a.m.", "p.m.", "b.c.", "a.d."):
        return True
    return after.text.lower() in _OPENERS and not after.text.islower()


def _only_abbreviates(before: Token, after: Token, caseless: bool) -> bool:
    """Whether a full stop belongs to an abbreviation and does not end a sentence: Mr. Hale, J. Hale, p. 4."""
    word = before.text.lower().strip("'’")
    if word in _TITLES and before.kind == "word" and not before.text.islower():
        return True
    if len(word) == 1:
        if before.text.isupper():
            initial = before.text not in ("I", "O") and not caseless
        else:
            initial = not after.text[:1].isalpha()  # b. 1901, c. 150, p. 4
        if initial:
            return True
    return word in _BEFORE_A_NUMBER and after.kind == "number"


class Joiner:
    """Decides whether a word before a line's end and one after it are halves of one word."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._known: frozenset[str] | None = None

    def joins(self, before: Token, gap: str, after: Token) -> bool:
        """Whether `before` and `after`, on the next line of the same paragraph, are one word.

        With a soft hyphen between them they are. With a plain hyphen they are too, unless the text has the
        compound with a hyphen elsewhere, or the first half often makes compounds (self-, half-, ...).
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
