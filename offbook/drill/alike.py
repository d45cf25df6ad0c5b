"""Whether two spellings are said alike: a typed answer is judged by what it would sound like.

Verse prints one word in several ways, and nobody hears the difference: charm'd and charmed, o'er and over,
tho' and though. Two different words pass for each other only where their first, usual pronunciations are the
same (their and there), not where a dictionary also lists a way of saying the one that fits the other (your
and you're). Pronunciations are those of `lexicon`.
"""

from __future__ import annotations

from functools import lru_cache

from offbook.lexicon import Pronunciation, phones_of, pronounce
from offbook.spelling import plain_spelling

_PAIRS_KEPT = 4096  # pairs of words whose answer is kept; set by hand: more than two speeches have
# Words that are printed short, and the same written out, where both sound the same or nearly so. O'er and
# over differ by a syllable, which the verse line decides and nobody can type; in th' the vowel of "the" runs
# into the next word.
_WRITTEN_OUT = {"th'": "the", "ha'": "have", "'em": "them", "'scape": "escape"}
# The changes of verse, by their names in `lexicon.variants`, that a spelling with an apostrophe prints.
_PRINTED = ("syncope", "syncope of -en", "syncope of -est", "power in one", "synaeresis")


@lru_cache(maxsize=_PAIRS_KEPT)
def one_word_spelled_twice(one: str, other: str) -> bool:
    """Whether these are one word, printed once with letters left out and once without."""
    a, b = plain_spelling(one), plain_spelling(other)
    return _left_out(a, b) or _left_out(b, a)


def _left_out(short: str, full: str) -> bool:
    """Whether `short` is `full` with letters left out. A contraction of today (we'd) is a word of its own."""
    if "'" not in short or "'" in full:
        return False
    if short.replace("'", "v", 1) == full:  # o'er, e'er, ne'er, whate'er
        return True
    if short in _WRITTEN_OUT:
        return _WRITTEN_OUT[short] == full
    if phones_of(short):
        return False
    if short.endswith("'d"):
        return full in _pasts(short[:-2])
    return bool(_ways(short, True) & _ways(full, True))


def _pasts(stem: str) -> set[str]:
    """How the past of a verb is written out, where 'd was printed: charm'd, dimm'd, deceiv'd, try'd."""
    written = {f"{stem}ed", f"{stem}d", f"{stem}{stem[-1:]}ed"}
    if stem.endswith("y"):
        written.add(f"{stem[:-1]}ied")
    return written


@lru_cache(maxsize=_PAIRS_KEPT)
def said_alike(one: str, other: str) -> bool:
    """Whether two words have the same usual pronunciation, stress aside."""
    return bool(_ways(one, False) & _ways(other, False))


def _ways(word: str, elided: bool) -> set[tuple[str, ...]]:
    """The usual pronunciation of a word without its stress; elided: also what verse makes of it."""
    found = pronounce(plain_spelling(word))
    kept = found if elided else found[:1]
    return {_bare(p) for p in kept if p.phones and p.variant in ("", *_PRINTED)}


def _bare(said: Pronunciation) -> tuple[str, ...]:
    return tuple(phone.rstrip("012") for phone in said.phones)
