"""How strongly a word asks for stress before any metre is heard.

Words of one syllable carry most of the doubt in English verse: a noun is nearly always strong, an article
nearly never, and between them stands a scale (Attridge, "The Rhythms of English Poetry", 1982, and
Kiparsky, "The Rhythmic Structure of English Verse", 1977, both from memory). The scale here is our own
list: the chance, 0 to 1, that the word stands on a beat.
"""

from __future__ import annotations

from functools import cache

_SCALE: tuple[tuple[float, str], ...] = (
    (0.03, "a an the th"),
    (0.10, "of and to"),
    (0.15, "in or at as by for from with than that's it's its nor 'tis tis 'twas twas 's 't 'em"),
    (0.18, "but on is was be are were am it his my thy your their our her been if as"),
    (
        0.22,
        "that has have had i'm i've i'd i'll he's she's we're you're they're we'll he'll who which "
        "shall will would should could can may might must shalt wilt wouldst couldst canst hath doth hast "
        "he she they we i thou ye you us him them me thee let like where when while whilst so such",
    ),
    (
        0.28,
        "though thro' through tho' ere till since lest i' o' wi' into unto upon do did does dost didst don't "
        "what how why whose whom this these those some yet or'er o'er",
    ),
    (
        0.40,
        "all no not each one both more most then thus here there now still just too much many any few "
        "own up down out off once ne'er e'er never ever other another every nay yea o oh ah lo",
    ),
    (0.55, "two three four five six ten first last none self same mine thine hence thence whence oft back"),
)
CONTENT = 0.86
# words of two or more syllables that are as light as prepositions: their stressed syllable can be passed over
LIGHT_LONGER = frozenset(
    [
        "upon",
        "into",
        "unto",
        "without",
        "within",
        "over",
        "under",
        "before",
        "after",
        "about",
        "above",
        "against",
        "among",
        "amongst",
        "between",
        "beneath",
        "behind",
        "beside",
        "beyond",
        "below",
        "until",
        "because",
        "although",
        "whether",
        "either",
        "neither",
        "rather",
        "any",
        "many",
        "every",
        "other",
        "another",
        "ever",
        "never",
        "even",
        "myself",
        "thyself",
        "himself",
        "herself",
        "itself",
        "ourselves",
        "themselves",
        "yourself",
        "therefore",
        "wherefore",
        "sometimes",
        "almost",
        "being",
        "having",
        "very",
        "only",
        "onto",
        "amid",
        "amidst",
        "toward",
        "towards",
        "perhaps",
    ]
)


@cache
def _table() -> dict[str, float]:
    return {word: p for p, words in reversed(_SCALE) for word in words.split()}


def weight(word: str) -> float:
    """The chance that the one-syllable `word` (as `lexicon.plain` writes it) stands on a beat."""
    return _table().get(word, CONTENT)
