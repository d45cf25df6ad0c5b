"""What the second hearing listens for: lists of phrases made from the script and the first hearing.

The recogniser turns a list into a model of word pairs (see `recognise`). Leaning: the script's words in
one long phrase, three times over, against single words, those freely heard; so the script is expected
and what was really said can still win. Contesting: the script once, and for each small word the small
words that sound like it, in its place, as likely as itself; what differs then is worth a closer hearing.
"""

from __future__ import annotations

from collections.abc import Sequence

from offbook.align import AlignedWord
from offbook.recognise import UNKNOWN
from offbook.soundalike import Knows, rivals

_LEAN = 3  # how many times over the script: more misses swaps, fewer breaks up what was said


def _line(places: Sequence[AlignedWord]) -> list[str]:
    return [word for place in places if place.forms for word in place.forms[0]]


def _other_forms(places: Sequence[AlignedWord]) -> list[str]:
    """Each further form of a word between its neighbours."""
    found = []
    for i, place in enumerate(places):
        for form in place.forms[1:]:
            found.append(" ".join([*_line(places[max(0, i - 1) : i]), *form, *_line(places[i + 1 : i + 2])]))
    return found


def leaning(places: Sequence[AlignedWord], heard: Sequence[str]) -> list[str]:
    """Phrases that expect the script and let the words of `heard` compete."""
    line = " ".join(_line(places))
    wanted = [line, *_other_forms(places)] * _LEAN if line else []
    return [*wanted, *sorted(set(heard)), UNKNOWN]


def expecting(places: Sequence[AlignedWord], others: Sequence[str]) -> list[str]:
    """Phrases for somebody who follows the script as it is said: the script once, against `others`."""
    line = " ".join(_line(places))
    wanted = [line, *_other_forms(places)] if line else []
    return [*wanted, *dict.fromkeys(others), UNKNOWN]


def contesting(places: Sequence[AlignedWord], heard: Sequence[str], knows: Knows) -> list[str]:
    """Phrases in which every small word of the script competes with its rivals on equal terms."""
    line = _line(places)
    found = [" ".join(line), *_other_forms(places)] if line else []
    for i, word in enumerate(line):
        before, after = line[max(0, i - 1) : i], line[i + 1 : i + 2]
        others = [r for r in rivals(word) if knows(r)]
        found += [" ".join([*before, other, *after]) for other in others]
        if others and before and after:
            found.append(" ".join([*before, *after]))
    return [*found, *sorted(set(heard)), UNKNOWN]
