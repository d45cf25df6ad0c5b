"""Clipped and drawn-out words of dialogue, and what they are heard as: 'cause, should've, d'you, nothin',
nooooo.

A recogniser that does not know should've writes "should have" or "should of", and a guess by its letters
would be useless (couldn't've is not "could Nate"). So for each such word there are the words that may be
heard in its place. Common practice of printed dialogue, no source.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import product

from offbook.script import word_set

Words = tuple[str, ...]

_HEARD_AS = {
    "'cause": "cause|cuz|cos", "'em": "em|um", "'n": "and|in|an", "'n'": "and|in|an", "o'": "of|oh",
    "d'you": "do you|did you|d you", "d'ya": "do ya|do you|did ya", "d'ye": "do ye|do you",
    "d'they": "do they|did they", "d'we": "do we|did we", "y'know": "you know|ya know", "y'see": "you see",
    "y'are": "you are", "y'all": "you all", "s'pose": "suppose", "s'posed": "supposed", "s'all": "it's all",
    "c'mon": "come on|common", "g'night": "good night|goodnight", "g'day": "good day",
    "g'bye": "good bye|goodbye", "t'other": "the other|tother", "'nother": "another", "'nuff": "enough",
    "'kay": "okay|k", "'spect": "expect", "'spose": "suppose", "'course": "course|of course",
    "'scuse": "excuse", "p'raps": "perhaps|praps", "p'rhaps": "perhaps", "'fraid": "afraid|frayed",
    "'magine": "imagine", "'member": "remember|member", "'stead": "instead|stead", "m'dear": "my dear",
    "m'lord": "my lord", "m'lady": "my lady", "ma'am": "mam|madam", "i'd've": "i'd have|i'd of|id of",
    "'e": "he|e", "'til": "til|till", "i'th'": "in the|i the", "o'th'": "of the|o the",
    "didja": "did you|did ya", "wouldja": "would you|would ya", "couldja": "could you|could ya",
    "getcha": "get you|get ya", "dontcha": "don't you|don't ya", "don'tcha": "don't you|don't ya",
    "ain'tcha": "ain't you|ain't ya", "hiya": "hi ya|hi", "whatevs": "whatever|what evs",
}  # fmt: skip
# Words that a recogniser may know, but which sound the same as their full form in running speech, where "of"
# is only a short vowel.
_SAME_SAID_IN_FULL = {"kinda": "kind of", "sorta": "sort of", "outta": "out of", "lotta": "lot of"}
# What an ending with an apostrophe may be heard as.
_ENDINGS = {"'ve": ("have", "of", "a"), "'d": ("would", "had", "did"), "'ll": ("will",), "'re": ("are",)}
_ASKING = word_set("how why where what when")  # after these 'd is often did
# Words after which 'd is a word of its own. After other words it is the ending -ed, as in verse (deserv'd).
_BEFORE_D = _ASKING | word_set(
    """
    there here that this these those it who which one nothing something somebody someone nobody everybody
    everyone
    """
)
_DRAWN_OUT = re.compile(r"([a-z])\1{2,}")
_MOST_DRAWN = 3  # drawn-out letters of a word that are tried; set by hand
# A word with the ending in' (goin') has more characters than the first, and one without its first h ('im)
# more than the second: "pin'" and "'s" are something else. Set by hand.
_LONGER_THAN_IN, _LONGER_THAN_H = 4, 2


@cache
def clipped(word: str) -> tuple[Words, ...]:
    """The words that a clipped or drawn-out word may be heard as, the likeliest first; empty if it is
    neither.

    word: in lower case with straight apostrophes.
    """
    ways = _HEARD_AS.get(word)
    if ways is not None:
        return tuple(tuple(way.split()) for way in ways.split("|"))
    return drawn_out(word) or (_cut_short(word) if "'" in word else ())


def said_in_full(word: str) -> tuple[Words, ...]:
    """The full form of a reduced word, if it sounds the same; empty for other words."""
    full = _SAME_SAID_IN_FULL.get(word)
    return () if full is None else (tuple(full.split()),)


def drawn_out(word: str) -> tuple[Words, ...]:
    """A drawn-out word with each drawn-out letter written once, and twice (nooo: no, noo); else empty."""
    drawn = [m.group(1) for m in _DRAWN_OUT.finditer(word)][:_MOST_DRAWN]
    if not drawn:
        return ()
    found = []
    for counts in product((1, 2), repeat=len(drawn)):
        written = word
        for letter, count in zip(drawn, counts, strict=True):
            written = _DRAWN_OUT.sub(letter * count, written, count=1)
        found.append((written,))
    return tuple(found)


def _cut_short(word: str) -> tuple[Words, ...]:
    """What a word may be heard as whose ending or beginning is cut off by an apostrophe; empty if none is."""
    for ending, heard in _ENDINGS.items():
        stem = word.removesuffix(ending)
        if ending == "'d" and stem not in _BEFORE_D:
            continue
        if stem != word and len(stem) > 1 and not stem.startswith("'"):
            first = heard[::-1] if ending == "'d" and stem in _ASKING else heard
            return tuple((*stem_way, h) for h in first for stem_way in (clipped(stem) or ((stem,),)))
    if word.endswith("in'") and len(word) > _LONGER_THAN_IN:
        return (word[:-1] + "g",), (word[:-1],)
    if word.startswith("'") and len(word) > _LONGER_THAN_H and "'" not in word[1:]:
        return (word[1:],), ("h" + word[1:],)
    return ()
