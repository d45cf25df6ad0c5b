"""What the recogniser listens for: lists of phrases, made from the script and from what was freely heard.

The recogniser turns a list of phrases into a model of word pairs (see `recognise`). There are three lists:

- The leaning hearing gets the script's words in one long phrase, three times over, and beside it the single
  words that were freely heard. So the script is expected, and what was really said can still win.
- The contested hearing gets the script once and, in the place of each small word, every small word that
  sounds like it. These are as likely as the script's word; where they win, the place deserves a closer look.
- The rehearsal partner, who follows the script as it is said, gets the script once against a few other words.
"""

from __future__ import annotations

from collections.abc import Sequence

from offbook.align import AlignedWord
from offbook.recognise import UNKNOWN
from offbook.soundalike import Knows, rivals

# How many times the leaning hearing is given the script. With more, it misses swaps; with fewer, it breaks up
# what was said. Chosen on readings with planted slips (`docs/hearing_steps.md`).
_SCRIPT_COPIES = 3


def _script_words(places: Sequence[AlignedWord]) -> list[str]:
    """The script's words, each in its likeliest form."""
    return [word for place in places if place.forms for word in place.forms[0]]


def _less_likely_forms(places: Sequence[AlignedWord]) -> list[str]:
    """A phrase for every other form of every word: that form between its two neighbours."""
    found = []
    for i, place in enumerate(places):
        for form in place.forms[1:]:
            before = _script_words(places[max(0, i - 1) : i])
            found.append(" ".join([*before, *form, *_script_words(places[i + 1 : i + 2])]))
    return found


def leaning_phrases(places: Sequence[AlignedWord], heard: Sequence[str]) -> list[str]:
    """The phrases of the leaning hearing: the script's are the likelier ones, the words `heard` can win."""
    line = " ".join(_script_words(places))
    wanted = [line, *_less_likely_forms(places)] * _SCRIPT_COPIES if line else []
    return [*wanted, *sorted(set(heard)), UNKNOWN]


def phrases_to_follow(places: Sequence[AlignedWord], others: Sequence[str]) -> list[str]:
    """The phrases for a partner who follows the script as it is said: the script once, and the `others`."""
    line = " ".join(_script_words(places))
    wanted = [line, *_less_likely_forms(places)] if line else []
    return [*wanted, *dict.fromkeys(others), UNKNOWN]


def contested_phrases(places: Sequence[AlignedWord], heard: Sequence[str], knows: Knows) -> list[str]:
    """The phrases of the contested hearing: each small word competes with those that sound like it.

    Each of them is as likely as the script's word. heard: the words freely heard, which can win too. knows:
    whether a word is in the recogniser's vocabulary.
    """
    line = _script_words(places)
    found = [" ".join(line), *_less_likely_forms(places)] if line else []
    for i, word in enumerate(line):
        before, after = line[max(0, i - 1) : i], line[i + 1 : i + 2]
        others = [r for r in rivals(word) if knows(r)]
        found += [" ".join([*before, other, *after]) for other in others]
        if others and before and after:
            found.append(" ".join([*before, *after]))  # the small word may have been left out
    return [*found, *sorted(set(heard)), UNKNOWN]
