"""Contracted and elided forms: I'm and I am, 'twas and it was, o'er and over.

A performer who says one for the other has changed the words but not the sense. The short forms are the common
contractions of English and the elisions of verse (from common knowledge); each is listed with all its full
forms.
"""

from __future__ import annotations

from functools import lru_cache

from offbook.spelling import plain_spelling

_SHORT: dict[str, tuple[str, ...]] = {
    "can't": ("can not", "cannot"), "cannot": ("can not",), "won't": ("will not",), "shan't": ("shall not",),
    "let's": ("let us",), "gonna": ("going to",), "wanna": ("want to",), "gotta": ("got to",),
    "'tis": ("it is",), "'twas": ("it was",), "'twere": ("it were",), "'twill": ("it will",),
    "'twould": ("it would",), "tis": ("it is",), "twas": ("it was",),
    "o'er": ("over",), "e'er": ("ever",), "ne'er": ("never",), "e'en": ("even",),
    "'em": ("them",), "'cause": ("because",), "'til": ("until", "till"), "th'": ("the",),
    "kinda": ("kind of",), "sorta": ("sort of",), "outta": ("out of",), "lemme": ("let me",),
    "gimme": ("give me",), "dunno": ("don't know",), "c'mon": ("come on",), "y'know": ("you know",),
    "d'you": ("do you",), "s'pose": ("suppose",), "'bout": ("about",), "ya": ("you",),
    "tryna": ("trying to",), "thro'": ("through",), "tho'": ("though",), "whate'er": ("whatever",),
    "where'er": ("wherever",), "howe'er": ("however",), "whene'er": ("whenever",), "whoe'er": ("whoever",),
}  # fmt: skip
_ENDINGS = {
    "'m": ("am",),
    "'re": ("are",),
    "'ve": ("have",),
    "'ll": ("will", "shall"),
    "'d": ("would", "had"),
    "'s": ("is", "has"),
    "n't": ("not",),
}


def expansions(wording: str) -> frozenset[str]:
    """Every way to write `wording` (lower case, straight apostrophes) with any of its short forms in full."""
    ways = [""]
    for token in wording.split():
        options = [token, *_SHORT.get(token, ())]
        for ending, opened in _ENDINGS.items():
            stem = token.removesuffix(ending)
            if token != stem and stem and token not in _SHORT:
                options += [f"{stem} {full}" for full in opened]
        ways = [f"{way} {option}".strip() for way in ways for option in options]
    return frozenset(ways)


_PAIRS_KEPT = 10_000  # pairs of wordings that are remembered; set by hand


@lru_cache(maxsize=_PAIRS_KEPT)
def contraction(script: str, heard: str) -> bool:
    """Whether two wordings differ only in short and full forms: I'm and I am, 'twas and it was."""
    a, b = plain_spelling(script), plain_spelling(heard)
    return a != b and bool(expansions(a) & expansions(b))
