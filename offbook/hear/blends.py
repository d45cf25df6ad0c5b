"""Wordings between two others: where a place has several words, the truth may have some of each.

The script has "they are all", a hearing "we're all": what was said may be "we are all". Each difference
between the script's wording and another is tried by itself, and all but it.
"""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz.distance import Levenshtein

from offbook.align import AlignedWord
from offbook.hear.decide import same

_LEADING = ("a", "an", "in", "to", "be", "for", "all", "of")  # small words that begin a longer one by ear
_DIFFERENCES = 4  # more differences than these are no variant of the script but other words


def blends(script: str, other: str) -> list[str]:
    """The wordings that have one of the differences between the two, and those that lack one.

    Where the other has fewer words, the script's without each one of its words too, and without so many of
    them in a row; where it has one more, the script's with each of the other's put into its place.
    """
    ours, theirs = script.split(), _opened(other.split(), script.split())
    changes = _word_by_word(ours, theirs)
    differ = [k for k, (mine, heard) in enumerate(changes) if mine != heard]
    if not 1 < len(differ) <= _DIFFERENCES:
        differ = []
    fewer = len(theirs) < len(ours) <= _DIFFERENCES
    found = [" ".join(ours[:k] + ours[k + 1 :]) for k in range(len(ours))] if fewer else []
    missing = len(ours) - len(theirs)
    if missing > 1 and len(theirs) < _DIFFERENCES:
        found += [" ".join(ours[:k] + ours[k + missing :]) for k in range(len(theirs) + 1)]
    if len(theirs) == len(ours) + 1 <= _DIFFERENCES:
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
    """Which words replace which: word for word where there are as many on both sides."""
    found: list[tuple[Sequence[str], Sequence[str]]] = []
    for c in Levenshtein.opcodes(ours, theirs):
        mine, heard = ours[c.src_start : c.src_end], theirs[c.dest_start : c.dest_end]
        if len(mine) == len(heard):
            found += [([a], [b]) for a, b in zip(mine, heard, strict=True)]
        else:
            found.append((mine, heard))
    return found


def _opened(heard: Sequence[str], script: Sequence[str]) -> list[str]:
    """What was heard, with a word split in two where the script has its second half: away, a way."""
    found: list[str] = []
    for word in heard:
        pairs = (f"{first} {s}" for s in script for first in _LEADING)
        two = None if word in script else next((p for p in pairs if same(word, p)), None)
        found += [word] if two is None else two.split()
    return found


def spelt(wording: str, places: Sequence[AlignedWord]) -> str:
    """A wording with the words outside the vocabulary as they are written, not as what they sound like."""
    found = f" {wording} "
    for place in places:
        for form in () if place.known else place.forms:
            found = found.replace(f" {' '.join(form)} ", f" {' '.join(place.written)} ")
    return found.strip()


def unspelt(wording: str, places: Sequence[AlignedWord]) -> str:
    """A wording as the recogniser would hear it: words outside the vocabulary as what they sound like."""
    found = f" {wording.lower()} "
    for place in places:
        if not place.known and place.forms:
            as_written = " ".join(w.lower() for w in place.written)
            found = found.replace(f" {as_written} ", f" {' '.join(place.forms[0])} ")
    return found.strip()
