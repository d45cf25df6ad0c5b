"""Sound-alikes: which words a word may be mistaken for by ear.

A recogniser only knows the words in its vocabulary. A script word that is not in it (makest, niggarding) can
still be recognised as something that sounds like it: a known word with the same sound, or shorter known words
that together sound like it. And a small word that was not said may be taken for said, because another one
sounds nearly the same (a/the, in/on, are/were). Both are decided here by phones, with the distances of
`soundalike.phone_distance`, and not by a list of cases.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache, lru_cache

from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from offbook.lexicon import Phones, phones_of, pronounce
from offbook.soundalike.phone_distance import (
    bare,
    cost_of_gap,
    distance,
    distance_of_phones,
    likeness,
)
from offbook.soundalike.reduced_forms import clipped, drawn_out, said_in_full
from offbook.soundalike.sound_index import code_of, codes, codes_with_consonants_of, phones_in, words_sounding
from offbook.soundalike.spelling_guess import guessed_sounds
from offbook.soundalike.tact import barred

Knows = Callable[[str], bool]

# The closed classes of English: articles, pronouns, prepositions, conjunctions, auxiliaries and the
# commonest adverbs of place and time, with their older forms (common practice, no source).
_KINDS: tuple[tuple[str, ...], ...] = tuple(
    tuple(kind.split())
    for kind in (
        "a an the this that these those no all both some any each every such",
        "my mine thy thine your yours his her hers its our ours their theirs the",
        "i me we us you ye thou thee he him she her it they them this that these those",
        "who whom whose which what that",
        "and or nor but yet so for if as than though that because since while when where why how",
        "of in on at by to from with into unto upon over under up out off through till until for",
        "till until ere before after",
        "is am are was were be been being art wert has have had hast hath do does did dost doth",
        "shall will should would can could may might must shalt wilt",
        "not no then there here now thus too very still so",
    )
)
SMALL_WORDS = tuple(dict.fromkeys(w for kind in _KINDS for w in kind))
_SMALL = frozenset(SMALL_WORDS)
_RIVALS = 8  # of one small word, at most; set by hand, because more took time and found nothing
_RIVAL_MOST = 1.3  # the largest phone distance of a rival; set by hand
# Letters: a stem from which one of two equal last letters is removed (begged) has more; set by hand
_SHORTEST_DOUBLED = 3
# Ways to say each of several words, and ways to say all of them; set by hand, to save time
_MOST_WAYS, _MOST_JOINED = 3, 4
# Candidates for a word, set by hand to save time: how many of its pronunciations are tried, how many phones
# may differ (one, and one more for so many phones), and how many dictionary sounds are compared exactly.
_TRIED, _PHONES_A_DIFFERENCE, _COMPARED = 4, 4, 60
_FAR = 9.0  # a phone distance that is larger than any that occurs
_MOST_FORMS = 4  # known words that stand for one word; set by hand
# Words whose sounds, and pairs of words whose likeness, are kept in memory; set by hand, more than any play
# has.
_SOUNDS_KEPT, _PAIRS_KEPT = 20_000, 50_000


def is_small(word: str) -> bool:
    """Whether a word belongs to the closed classes of English."""
    return word in _SMALL


# Each ending, its sounds, and which spellings of the stem are tried: "y" in place of a final i, "e" added,
# "-" with one of two equal last letters removed.
_ENDINGS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("'st", ("S T",), "e"),
    ("est", ("S T", "IH S T"), "ye-"),
    ("eth", ("IH TH",), "ye-"),
    ("'d", ("D", "T"), "e"),
    ("ness", ("N AH S",), "y"),
    ("less", ("L AH S",), "y"),
    ("ful", ("F AH L",), "y"),
    ("ly", ("L IY",), "y"),
    ("ing", ("IH NG",), "e-"),
    ("er", ("ER",), "ye-"),
    ("ed", ("D", "T", "IH D"), "ye-"),
    ("'s", ("Z", "S", "IH Z"), ""),
    ("s", ("Z", "S"), ""),
)
_STEM_DEPTH = 2  # endings that may be removed one after another; set by hand


def _stem_sounds(stem: str, tries: str, depth: int) -> tuple[Phones, ...]:
    """The sounds of a stem in the first spelling of `tries` that is known; empty if none is."""
    spellings = [stem]
    if "e" in tries and not stem.endswith("e"):
        spellings.insert(0, stem + "e")
    if "y" in tries and stem.endswith("i"):
        spellings.insert(0, stem[:-1] + "y")
    if "-" in tries and len(stem) > _SHORTEST_DOUBLED and stem[-1] == stem[-2]:
        spellings.append(stem[:-1])
    for spelling in spellings:
        found = tuple(tuple(map(bare, p)) for p in phones_of(spelling)) or _by_stem(spelling, depth + 1)
        if found:
            return found
    return ()


def _by_stem(word: str, depth: int = 0) -> tuple[Phones, ...]:
    """The sounds of a word, made of those of its stem and its ending; empty if it has no known stem."""
    if depth > _STEM_DEPTH:
        return ()
    for ending, said, tries in _ENDINGS:
        stem = word.removesuffix(ending)
        if stem != word and len(stem) > 1:
            found = _stem_sounds(stem, tries, depth)
            if found:
                return tuple((*p, *tail.split()) for p in found[:2] for tail in said)
    return ()


# Words of which only one or two letters are left (common practice, no source).
_CUT = {"th'": "the", "i'": "in", "o'": "of", "wi'": "with", "a'": "all", "ha'": "have", "t'": "to"}
_LEFT_OUT = ("e", "v", "o", "i", "u", "a", "l", "k")  # heav'n, o'er, pris'ner, flow'ry, shou'd, ta'en
_LEFT_OUT_FIRST = ("be", "a", "e")  # 'neath, 'gainst, 'scape


def in_full(word: str) -> str | None:
    """The full form of a word with an apostrophe (heaven for heav'n); None if there is none."""
    if "'" not in word or word in _CUT:
        return _CUT.get(word)
    head, _, tail = word.partition("'")
    tries = (head + left + tail for left in (_LEFT_OUT if head else _LEFT_OUT_FIRST))
    return next((full for full in tries if tail not in ("", "s") and phones_of(full)), None)


@lru_cache(maxsize=_SOUNDS_KEPT)
def sounds(word: str) -> tuple[Phones, ...]:
    """The ways `word` may sound, as phones without stress, the likeliest first.

    Those of a word that is in no dictionary are guessed by its letters.
    """
    found = [tuple(map(bare, p)) for p in phones_of(word)]
    if not found:
        said = [(p.source == "old form", tuple(map(bare, p.phones))) for p in pronounce(word) if p.phones]
        old, built = ([phones for first, phones in said if first is kind] for kind in (True, False))
        full = in_full(word)
        found = [*old, *([] if old else _by_stem(word)), *built]
        found[1:1] = sounds(full)[:1] if full else ()
    return tuple(dict.fromkeys(found)) or guessed_sounds(word)


@lru_cache(maxsize=_PAIRS_KEPT)
def alike(a: str, b: str) -> float:
    """How similar two words, or two phrases, sound: 1 for the same sound, 0 for nothing in common."""
    if a == b:
        return 1.0
    return max((likeness(x, y) for x in joined(a) for y in joined(b)), default=0.0)


def joined(text: str) -> list[Phones]:
    """The ways a phrase may sound, at most four."""
    ways: list[Phones] = [()]
    for word in text.split():
        ways = [(*w, *p) for w in ways for p in sounds(word)[:_MOST_WAYS]][:_MOST_JOINED]
    return [w for w in ways if w]


@lru_cache(maxsize=_PAIRS_KEPT)
def same_sound(a: str, b: str) -> bool:
    """Whether two words are homophones (heir/air).

    Small words have weak forms in which many of them sound the same (are/or, is/his); for them only the
    likeliest pronunciations count.
    """
    if a == b:
        return True
    x, y = sounds(a), sounds(b)
    if not x or not y:
        return False
    if _undoubled(a) == _undoubled(b) and _shortened(a) == _shortened(b) and alike(a, b) >= _VARIANT:
        return True
    if a in _SMALL or b in _SMALL:
        return x[0] == y[0]
    return not set(x).isdisjoint(y)


def sound_keys(word: str) -> tuple[object, ...]:
    """Keys for looking up homophones: two words that have the `same_sound` share at least one."""
    return (*sounds(word), _undoubled(word))


def _undoubled(word: str) -> str:
    """The letters of a word, each doubled one written once, without apostrophes and hyphens."""
    return re.sub(r"(.)\1", r"\1", word.replace("'", "").replace("-", ""))


# The similarity from which on two words with the same letters, doubled or not, are variants of one spelling.
# "were" and "we're" are not, nor are "well" and "we'll". Set by hand.
_VARIANT = 0.82


def _shortened(word: str) -> bool:
    """Whether a word ends in a shortened one: we're, she'll."""
    return word.endswith(("'re", "'ll", "'ve", "'d", "'m"))


@cache
def family(word: str) -> tuple[str, ...]:
    """The small words of the same kind as a small word, which may be in its place; none for other words."""
    return tuple(dict.fromkeys(w for kind in _KINDS if word in kind for w in kind if w != word))


@cache
def rivals(word: str) -> tuple[str, ...]:
    """The small words that a small word may be mistaken for, the most similar first; none for other words."""
    if word not in _SMALL:
        return ()
    found: list[tuple[float, str]] = []
    for other in SMALL_WORDS:
        if other == word or same_sound(word, other) or sounds(word) == sounds(other):
            continue
        far = min(distance(x, y) for x in sounds(word) for y in sounds(other))
        if far <= _RIVAL_MOST:
            found.append((far, other))
    return tuple(other for _, other in sorted(set(found))[:_RIVALS])


# Set by hand. The largest phone distance of a form, for each phone of the word; how much larger than the
# smallest distance that of another form may be; and the same if one form has exactly the same sound, because
# then others would be wrong.
_FORM_MOST, _FORM_SPREAD, _FORM_CLOSE = 0.17, 0.35, 0.1

# Vowels that sound nearly the same if unstressed, and the small distance between them; set by hand.
_WEAK = frozenset(("AH", "IH", "UH", "EH"))
_WEAKENED = 0.1


def _vowels_apart(a: Phones, b: Phones) -> float:
    """The distance of two sounds that differ only in vowels."""
    total = 0.0
    for p, q in zip(a, b, strict=True):
        if p != q:
            total += _WEAKENED if p in _WEAK and q in _WEAK else distance_of_phones(p, q)
    return total


# Set by hand: a phone distance that is added for each further piece, because fewer and longer pieces sound
# more natural; the most pieces; and the largest sum of the distances of a piece's vowels.
_FURTHER_PIECE, _MOST_PIECES, _MOST_VOWEL_DISTANCE = 0.2, 3, 0.65
_LEFT_OVER = 0.5  # the largest cost of a phone that is left over between two pieces; set by hand


def _piece(phones: Phones, knows: Knows) -> tuple[float, str] | None:
    """The distance of the most similar known word with the consonants of `phones`, and that word.

    None if there is no such word.
    """
    best: tuple[float, tuple[int, int, str]] | None = None
    for other in codes_with_consonants_of(code_of(phones)):
        far = _vowels_apart(phones, phones_in(other))
        if far <= _MOST_VOWEL_DISTANCE and (best is None or far <= best[0]):
            fits = [w for w in words_sounding(other) if knows(w)]
            if fits:
                found = (far, min(map(_plainness, fits)))
                best = found if best is None else min(best, found)
    return None if best is None else (best[0], best[1][2])


def _pieces(phones: Phones, knows: Knows) -> list[tuple[float, tuple[str, ...]]]:
    """Known words that together sound like `phones`; a weak sound between two of them may be left over."""
    best: dict[tuple[int, int], tuple[float, tuple[str, ...]]] = {(0, 0): (0.0, ())}
    size = len(phones)
    for at in range(size):
        for end in range(at + 1, size + 1):
            found = _piece(phones[at:end], knows) if end > at + 1 else None
            for count in range(_MOST_PIECES + 1):
                if (at, count) not in best:
                    continue
                cost, words = best[at, count]
                steps: list[tuple[int, int, float, tuple[str, ...]]] = []
                if end == at + 1 and cost_of_gap(phones[at]) <= _LEFT_OVER:
                    steps.append((end, count, cost_of_gap(phones[at]), ()))
                if found is not None and count < _MOST_PIECES:
                    steps.append((end, count + 1, found[0] + (_FURTHER_PIECE if count else 0.0), (found[1],)))
                for to, pieces, more, said in steps:
                    if cost + more < best.get((to, pieces), (_FAR,))[0]:
                        best[to, pieces] = (cost + more, words + said)
    return [best[size, n] for n in range(1, _MOST_PIECES + 1) if (size, n) in best]


def _plainness(word: str) -> tuple[int, int, str]:
    """A key for sorting words that sound the same: without an apostrophe and short ones come first."""
    return ("'" in word or "." in word, len(word), word)


def known_forms(word: str, knows: Knows, most: int = _MOST_FORMS) -> tuple[tuple[str, ...], ...]:
    """The known words, or phrases of known words, that sound like `word`, the most similar first.

    knows: whether the recogniser knows a word. If it knows `word`, that is the first one, and others are only
    its full form and the form that is not drawn out (sooo: so). The result is empty if nothing is similar
    enough. No two of them sound the same, because the recogniser could not decide between them and would be
    unsure of both. No word that could offend is among them (`soundalike.tact`).
    """
    if knows(word):
        other_ways = (*said_in_full(word), *drawn_out(word))
        return ((word,), *(form for form in other_ways if all(map(knows, form))))[:most]

    def fit(other: str) -> bool:
        return knows(other) and not barred(other, word)

    short = [form for form in clipped(word) if all(map(fit, form))]
    if short:
        return _distinct(short, most)
    found: dict[tuple[str, ...], float] = {}
    for phones in sounds(word)[:_TRIED]:
        near = process.extract(
            code_of(phones),
            codes(),
            scorer=Levenshtein.distance,
            score_cutoff=1 + len(phones) // _PHONES_A_DIFFERENCE,
            limit=_COMPARED,
        )
        for other, _, _ in near:
            far = distance(phones, phones_in(other))
            for known in words_sounding(other):
                if fit(known):
                    found[(known,)] = min(found.get((known,), _FAR), far)
        for far, form in _pieces(phones, fit):
            found[form] = min(found.get(form, _FAR), far)
    limit = _FORM_MOST * max((len(p) for p in sounds(word)), default=0)
    ranked = sorted((far, [_plainness(w) for w in form], form) for form, far in found.items() if far <= limit)
    spread = _FORM_SPREAD if ranked and ranked[0][0] > 0 else _FORM_CLOSE
    return _distinct([form for far, _, form in ranked if far <= ranked[0][0] + spread], most)


def _distinct(forms: Sequence[tuple[str, ...]], most: int) -> tuple[tuple[str, ...], ...]:
    """The first `most` of `forms` of which no two sound the same."""
    kept: list[tuple[str, ...]] = []
    for form in forms:
        if len(kept) == most:
            break
        if not any(_same(form, other) for other in kept):
            kept.append(form)
    return tuple(kept)


def _same(form: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Whether two phrases may sound the same."""
    return not set(joined(" ".join(form))).isdisjoint(joined(" ".join(other)))
