"""Which lines rhyme: heard in the dictionary's phones, or seen in the spelling (love, move)."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from offbook.lexicon import dictionary_form, pronounce

_REACH = 4  # lines between two line ends whose rhyme is still heard; set by hand
_SEEN = 3  # letters at the end that are the same in words that rhyme by spelling; set by hand
# Couplets: the smallest share of the pairs that rhyme, and the share of rhymes between the pairs, which must
# be smaller. Set by hand.
_PAIRS_RHYME, _BETWEEN_RHYME = 0.7, 0.5


_WORDS_KEPT = 20_000  # words that are remembered; set by hand, enough for several whole plays


@lru_cache(maxsize=_WORDS_KEPT)
def _endings(word: str) -> frozenset[tuple[bool, tuple[str, ...]]]:
    """The sounds of `word` from its last stressed vowel on, and also from its last vowel if that is weak.

    Each comes with whether its vowel is stressed.
    """
    found = set()
    for each in pronounce(word):
        vowels = [i for i, p in enumerate(each.phones) if p[-1].isdigit()]
        if not vowels:
            continue
        stressed = [i for i in vowels if each.phones[i][-1] in "12"]
        for at in {stressed[-1] if stressed else vowels[-1], vowels[-1]}:
            tail = tuple(p.rstrip("012") for p in each.phones[at:])
            if len(tail) > 1 or at == len(each.phones) - 1:
                found.add((each.phones[at][-1] in "12", tail))
    return frozenset(found)


def _sound_alike(a: str, b: str) -> bool:
    """Whether two words end alike, with stress in at least one: eternity and me, not pastures and waters."""
    return any(
        tail == other and (strong or stressed)
        for strong, tail in _endings(a)
        for stressed, other in _endings(b)
    )


# unstressed endings, which do not make a rhyme by spelling
_LIGHT = "ing ion ess ent ers est ure ous eth ity ant ens ons ies ary ory ely"


def rhymes(first: str, second: str) -> bool:
    """Whether two words rhyme, by sound or by spelling. A word does not rhyme with itself."""
    a, b = dictionary_form(first).strip("'"), dictionary_form(second).strip("'")
    if a == b:
        return False
    end = a[-_SEEN:]
    seen = end == b[-_SEEN:] and end[:1] in "aeiouy" and end not in _LIGHT.split()
    return (seen and min(len(a), len(b)) > _SEEN) or _sound_alike(a, b)


def rhymed_share(ends: Sequence[str], repeated: bool = False) -> float:
    """The share of lines that rhyme with one of the four lines before or after.

    ends: the last word of each line. repeated: whether the same word again counts as a rhyme, as in a
    refrain.
    """
    if len(ends) <= 1:
        return 0.0

    def answers(i: int, j: int) -> bool:
        return rhymes(ends[i], ends[j]) or (repeated and dictionary_form(ends[i]) == dictionary_form(ends[j]))

    near = [
        any(answers(i, j) for j in range(max(0, i - _REACH), min(len(ends), i + _REACH + 1)) if j != i)
        for i in range(len(ends))
    ]
    return sum(near) / len(ends)


def couplets(ends: Sequence[str]) -> bool:
    """Whether the lines rhyme mostly in pairs."""
    pairs = [rhymes(a, b) for a, b in zip(ends[::2], ends[1::2], strict=False)]
    between = [rhymes(a, b) for a, b in zip(ends[1::2], ends[2::2], strict=False)]
    mostly = len(pairs) > 1 and sum(pairs) >= _PAIRS_RHYME * len(pairs)
    return mostly and sum(between) < _BETWEEN_RHYME * max(1, len(between))


_LETTERED = 40  # lines: in a longer poem the letters begin with a again in each stanza; set by hand
_ALPHABET = "abcdefghijklmnopqrstuvwxyz"


def rhyme_letters(ends: Sequence[str], stanzas: Sequence[int]) -> tuple[str, ...]:
    """The rhyme letter of each line: a for the first rhyme, "-" for a line that rhymes with none near it.

    ends: the last word of each line. stanzas: the number of its stanza. In a poem of more than `_LETTERED`
    lines each stanza begins with a again.
    """
    found: list[str] = []
    used = 0
    for i, end in enumerate(ends):
        begins = len(ends) > _LETTERED and i > 0 and stanzas[i] != stanzas[i - 1]
        used = 0 if begins else used
        low = max(0, i - _REACH)
        before = [j for j in range(i - 1, low - 1, -1) if len(ends) <= _LETTERED or stanzas[j] == stanzas[i]]
        same = next((j for j in before if _answers(ends[j], end)), None)
        if same is not None and found[same] != "-":
            found.append(found[same])
            continue
        after = range(i + 1, min(len(ends), i + _REACH + 1))
        if any(
            _answers(end, ends[j]) and (len(ends) <= _LETTERED or stanzas[j] == stanzas[i]) for j in after
        ):
            found.append(_ALPHABET[used % len(_ALPHABET)] * (1 + used // len(_ALPHABET)))
            used += 1
        else:
            found.append("-")
    return tuple(found)


def _answers(one: str, other: str) -> bool:
    """Whether two line ends are one rhyme; the same word again counts, as in a refrain."""
    return rhymes(one, other) or dictionary_form(one).strip("'") == dictionary_form(other).strip("'")
