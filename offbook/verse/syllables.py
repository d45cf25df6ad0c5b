"""A line prepared for the metre: each word's possible syllables, and what each costs as weak or strong."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from offbook.lexicon import Pronunciation, dictionary_form, pronounce
from offbook.verse.costs import COSTS, READING, Purpose
from offbook.verse.kinds import Fixes
from offbook.verse.prominence import FUNCTION, class_of, light_longer
from offbook.words import Word


@dataclass(frozen=True, slots=True)
class Syllable:
    """One syllable of a word.

    names: the weights that apply (keys of `costs.LEANING`). weak, strong: the cost of reading it as weak or
    strong, for each purpose (`costs.CHOOSING`, `costs.READING`). rise: 1 if the stress rises from the
    syllable before, -1 if it falls, else 0; twice that beside the main stress of a word that ends the line.
    """

    names: tuple[str, ...]
    weak: tuple[float, float]
    strong: tuple[float, float]
    rise: int

    @property
    def settled(self) -> str | None:
        """w or s if the performer has decided it; else None."""
        return None if self.names else "w" if self.weak[0] < self.strong[0] else "s"


@dataclass(frozen=True, slots=True)
class SaidWord:
    """One way to say a word in the line. name: of its price (a key of `costs.VARIANT`), "" for none."""

    name: str
    syllables: tuple[Syllable, ...]

    def cost(self, purpose: Purpose) -> float:
        """The cost of saying the word in this way."""
        return COSTS[purpose].variant[self.name] if self.name else 0.0


@dataclass(frozen=True, slots=True)
class VerseWord:
    """A word of the line with the ways to say it. pause: before it: 0 none, 1 a comma, 2 a longer stop."""

    word: Word
    form: str
    ways: tuple[SaidWord, ...]
    pause: int


_RANK = {"0": 0, "2": 1, "1": 2}
_LONG_STOP = re.compile(r"[.;:?!—–]|--|\n\s*\n")
_STOP = re.compile(r"[,()\"“”]")
_VOWEL = re.compile(r"(?:[aeiou]|h(?:our|onou?r|onest|eir))(?!ne\b|nce\b)")
_NOT_VOWEL = re.compile(r"(?:uni|use|usu|eu|ewe|one$|once$)")


_SYLLABLES_KEPT = 4_000  # combinations of weights that are remembered; set by hand


@lru_cache(maxsize=_SYLLABLES_KEPT)
def syllable(names: tuple[str, ...], rise: int = 0) -> Syllable:
    """A syllable to which the weights `names` apply; its two costs are -log of the two probabilities."""
    choosing, reading = (sum(costs.leaning[n] for n in names) for costs in COSTS)
    return Syllable(
        names,
        (math.log1p(math.exp(choosing)), math.log1p(math.exp(reading))),
        (math.log1p(math.exp(-choosing)), math.log1p(math.exp(-reading))),
        rise,
    )


# shadow, window, sorrow: the dictionary has a secondary stress for some of them that nobody says (rainbow has
# one)
_LIGHT_OW = re.compile(r"(?:ad|ead|ind|id|idd|all|ell|ill|oll|arr|orr|urr)ow(?:s|ed|'d|'s)?$")


def _longer(form: str, stress: str, ends: bool) -> tuple[Syllable, ...]:
    """The syllables of a longer word. ends: whether it ends the line, where its stress hardly changes."""
    if stress == "12" and _LIGHT_OW.search(form):
        stress = "10"
    found = []
    for i, digit in enumerate(stress):
        before = stress[i - 1] if i else ""
        after = stress[i + 1] if i + 1 < len(stress) else ""
        if digit == "1":
            name = "main stress of a light word" if form in light_longer() else "main stress"
        elif digit == "2":
            name = "secondary stress beside main" if "1" in (before, after) else "secondary stress"
        elif set(before + after) & {"1", "2"}:
            name = "unstressed beside stress"
        else:
            name = "unstressed apart" if after else "unstressed last"
        rise = 0 if not before else (_RANK[digit] > _RANK[before]) - (_RANK[digit] < _RANK[before])
        if ends and "1" in digit + before:
            rise *= 2
        found.append(syllable((name,), rise))
    return tuple(found)


def _price(k: int, p: Pronunciation, first: Pronunciation) -> str:
    if p.variant or not k:
        return p.variant
    if p.source == "old form" and p.syllables == first.syllables:
        return "an old stress"
    return "a shorter pronunciation" if p.syllables < first.syllables else "another pronunciation"


_PLACED_WORDS_KEPT = 50_000  # words in their places that are remembered; set by hand


@lru_cache(maxsize=_PLACED_WORDS_KEPT)
def _ways(form: str, place: tuple[str, ...], before_vowel: bool) -> tuple[SaidWord, ...]:
    found = pronounce(form)
    said: list[SaidWord] = []
    for k, p in enumerate(found):
        one = (
            (syllable((class_of(form), *place)),)
            if p.syllables == 1
            else _longer(form, p.stress, "at the line's end" in place)
        )
        said.append(SaidWord(_price(k, p, found[0]), one))
    if before_vowel and form == "the":
        said.append(SaidWord("synaloepha", ()))
    if before_vowel and form == "to":
        said.append(SaidWord("synaloepha of to", ()))
    if before_vowel and form in ("many", "any", "every", "very"):
        said.append(SaidWord("synaloepha of -y", (syllable(("main stress of a light word",)),)))
    best: dict[tuple[int, ...], SaidWord] = {}
    for each in sorted(said, key=lambda s: s.cost(READING)):
        best.setdefault(tuple(hash(s.names) for s in each.syllables), each)
    return tuple(best.values())


# Natural log units: the cost of a stress that the performer does not want; more than any other
_AGAINST_FIX = 8.0


def _fixed(stress: str) -> tuple[SaidWord, ...]:
    """A word with the stress that the performer wants."""

    def sure(c: str) -> Syllable:
        weak, strong = (0.0, _AGAINST_FIX) if c == "w" else (_AGAINST_FIX, 0.0)
        return Syllable((), (weak, weak), (strong, strong), 0)

    return (SaidWord("", tuple(sure(c) for c in stress)),)


def _edge(form: str, last: bool) -> str:
    """How strong the last or first syllable of the word is, without a metre: s strong, w weak, m between."""
    stress = pronounce(form)[0].stress
    if len(stress) <= 1:
        name = class_of(form)
        return "s" if name == "content" else "w" if name in FUNCTION else "m"
    digit = stress[-1] if last else stress[0]
    return {"0": "w", "2": "m", "1": "m" if form in light_longer() else "s"}[digit]


def _place(forms: Sequence[str], k: int, pauses: Sequence[int]) -> tuple[str, ...]:
    """The weights that its place in the line gives a word of one syllable."""
    found = []
    if k + 1 == len(forms):
        found.append("at the line's end")
    elif pauses[k + 1]:
        found.append("before a pause")
    if k == 0:
        found.append("at the line's start")
    elif pauses[k]:
        found.append("after a pause")
    following = _edge(forms[k + 1], False) if k + 1 < len(forms) and not pauses[k + 1] else ""
    before = _edge(forms[k - 1], True) if k and not pauses[k] else ""
    name = class_of(forms[k])
    if name in FUNCTION:
        if following in ("s", "w"):
            found.append(f"function word before a {'strong' if following == 's' else 'weak'} one")
        if before == "s":
            found.append("function word after a strong one")
    elif name == "content":
        if following == "s":
            found.append("content word before a strong one")
        if before == "s":
            found.append("content word after a strong one")
    return tuple(found)


def tokens_of(words: Sequence[Word], text: str, fixes: Fixes) -> tuple[VerseWord, ...]:
    """The words of one line with the ways to say each. text: of the whole script."""
    forms = [dictionary_form(w.text) for w in words]
    gaps = [text[words[k - 1].end : words[k].start] if k else "" for k in range(len(words))]
    pauses = [2 if _LONG_STOP.search(g) else 1 if _STOP.search(g) else 0 for g in gaps]
    found = []
    for k, word in enumerate(words):
        fix = fixes.get(word.i, fixes.get(forms[k]))
        if fix is not None:
            found.append(VerseWord(word, forms[k], _fixed(fix), pauses[k]))
            continue
        following = forms[k + 1] if k + 1 < len(words) else ""
        vowel = bool(_VOWEL.match(following)) and not _NOT_VOWEL.match(following)
        found.append(VerseWord(word, forms[k], _ways(forms[k], _place(forms, k, pauses), vowel), pauses[k]))
    return tuple(found)
