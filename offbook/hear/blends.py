"""Blends: wordings that have something of each of two others.

Where a place has several words, what was said may be partly the script and partly what a hearing had. The
script has "they are all", a hearing has "we're all": perhaps "we are all" was said. So each difference
between the two wordings is tried by itself, and then all the differences but that one.
"""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz.distance import Levenshtein

from offbook.align import AlignedWord
from offbook.hear.decide import same

# Small words that may sound like the first part of a longer word, as in "away" and "a way". Set by hand.
_FIRST_PARTS = ("a", "an", "in", "to", "be", "for", "all", "of")
# Two wordings with more differences than these are taken for unrelated and not blended, and words are left
# out of wordings or put into them only up to so many words. Set by hand.
_MOST_DIFFERENCES = 4


def blends(script: str, other: str) -> list[str]:
    """The wordings between the script's and the other: with one of the differences, and with all but one.

    If the other has fewer words, also the script's wording without each of its words in turn, and without as
    many words in a row as are missing. If it has exactly one more, also the script's wording with each of the
    other's new words put in where the other has it.
    """
    ours, theirs = script.split(), _with_words_split(other.split(), script.split())
    changes = _word_by_word(ours, theirs)
    differ = [k for k, (mine, heard) in enumerate(changes) if mine != heard]
    if not 1 < len(differ) <= _MOST_DIFFERENCES:
        differ = []
    fewer = len(theirs) < len(ours) <= _MOST_DIFFERENCES
    found = [" ".join(ours[:k] + ours[k + 1 :]) for k in range(len(ours))] if fewer else []
    missing = len(ours) - len(theirs)
    if missing > 1 and len(theirs) < _MOST_DIFFERENCES:
        found += [" ".join(ours[:k] + ours[k + missing :]) for k in range(len(theirs) + 1)]
    if len(theirs) == len(ours) + 1 <= _MOST_DIFFERENCES:
        found += [" ".join([*ours[:k], w, *ours[k:]]) for k, w in enumerate(theirs) if w not in ours]
    for k in differ:
        for taken in ({k}, set(differ) - {k}):
            words: list[str] = []
            for n, (mine, heard) in enumerate(changes):
                words += heard if n in taken else mine
            found.append(" ".join(words))
    found.append(" ".join(theirs))
    return [f for f in dict.fromkeys(found) if f and f not in (script, other)]


def _word_by_word(ours: Sequence[str], theirs: Sequence[str]) -> list[tuple[Sequence[str], Sequence[str]]]:
    """Which words replace which, in order; one for one where both sides have as many."""
    found: list[tuple[Sequence[str], Sequence[str]]] = []
    for c in Levenshtein.opcodes(ours, theirs):
        mine, heard = ours[c.src_start : c.src_end], theirs[c.dest_start : c.dest_end]
        if len(mine) == len(heard):
            found += [([a], [b]) for a, b in zip(mine, heard, strict=True)]
        else:
            found.append((mine, heard))
    return found


def _with_words_split(heard: Sequence[str], script: Sequence[str]) -> list[str]:
    """What was heard, each word cut in two where the script has its second half: "away" as "a way"."""
    found: list[str] = []
    for word in heard:
        pairs = (f"{first} {s}" for s in script for first in _FIRST_PARTS)
        two = None if word in script else next((p for p in pairs if same(word, p)), None)
        found += [word] if two is None else two.split()
    return found


def with_script_spelling(wording: str, places: Sequence[AlignedWord]) -> str:
    """A wording of the recogniser in which the words outside its vocabulary are spelt as in the script.

    The recogniser cannot write such a word; it hears words that sound like it (`AlignedWord.forms`).
    """
    found = f" {wording} "
    for place in places:
        for form in () if place.known else place.forms:
            found = found.replace(f" {' '.join(form)} ", f" {' '.join(place.written)} ")
    return found.strip()


def with_vocabulary_words(wording: str, places: Sequence[AlignedWord]) -> str:
    """The opposite: in lower case, words outside the vocabulary replaced by the words they sound like."""
    found = f" {wording.lower()} "
    for place in places:
        if not place.known and place.forms:
            as_written = " ".join(w.lower() for w in place.written)
            found = found.replace(f" {as_written} ", f" {' '.join(place.forms[0])} ")
    return found.strip()
