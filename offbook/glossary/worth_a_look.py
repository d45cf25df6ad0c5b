"""Words worth a look: what a performer should look up or say aloud before learning a speech.

Archaic and foreign words, rare ones, names, words whose meaning or stress has changed since older texts
were written, and words spelt alike but said in two ways. Each is listed once, in syllables with its
stress in capitals, with every place where it comes. All of it is found offline: the lists are offbook's own
(`glossary.lists`), and a word is rare where it comes less than once in ten million words by the
frequency data inside the `wordfreq` package (R. Speer, from many corpora), which is only read as data.
offbook has no dictionary of its own and says "look up" where its lists have no help.
"""

from __future__ import annotations

import gzip
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from typing import Literal

from offbook.glossary import lists
from offbook.lexicon import dictionary_form, divide, pronounce
from offbook.script import Script
from offbook.spelling import plain_spelling
from offbook.words import Word

Kind = Literal["archaic", "foreign", "rare", "name", "older sense", "older stress", "said two ways"]
LOOK_UP = "look up"
WELL_KNOWN = 4.0  # Zipf scale; a capitalised word this common (John, Heaven, Friday) needs no look
OLD_MARKS = frozenset(
    ["thou", "thee", "thy", "thine", "hath", "doth", "hast", "dost", "ere", "ye", "'tis", "'twas"]
)
# Zipf scale: once in ten million words, more than a reader meets in a year. Set by hand, on the words that a
# bound of 3 calls rare in the demo and the speeches of bench/turns_read.txt: shopkeepers, smother, stealthy,
# churlish are above 2, contumely, quietus, orisons, puissant below.
RARE = 2.0
_SMALL, _LARGE = "small_en.msgpack.gz", "large_en.msgpack.gz"
_STEPS = 100  # buckets of words to a step of 1 on the Zipf scale, which begins at 9 with the first


@dataclass(frozen=True, slots=True)
class LookUp:
    """One word worth a look. places: indices of the words of the speech (`Word.i`).

    shown: the word in syllables as it is usually said, the stressed one in capitals. stress: x and / for
    each syllable. sure: False where no dictionary has the word and its sound is worked out. note: help in
    a few words, or "look up".
    """

    word: str
    kinds: tuple[Kind, ...]
    shown: str
    stress: str
    syllables: int
    sure: bool
    note: str
    places: tuple[int, ...]


def _buckets(name: str, down_to: float) -> Iterator[list[str]]:
    """The words of a list of `wordfreq`, a bucket for each step of frequency, commonest first.

    down_to: where to stop, on the Zipf scale.
    """
    import msgpack

    spec = find_spec("wordfreq")
    if spec is None or not spec.submodule_search_locations:
        return
    path = Path(spec.submodule_search_locations[0]).joinpath("data", name)
    packed = msgpack.Unpacker(io.BytesIO(gzip.decompress(path.read_bytes())), raw=False)
    most = round((9 - down_to) * _STEPS)
    for _ in range(min(packed.read_array_header() - 1, most + 1) + 1):
        bucket = packed.unpack()
        if isinstance(bucket, list):  # the first is a header
            yield bucket


@cache
def _common() -> dict[str, float]:
    """English words met more than about once in a million, on the Zipf scale (3 is once in a million)."""
    buckets = enumerate(_buckets(_SMALL, 0.0))
    return {word: 9 - step / _STEPS for step, bucket in buckets for word in bucket}


@cache
def _met() -> frozenset[str]:
    """English words that are not rare."""
    return frozenset(word for bucket in _buckets(_LARGE, RARE) for word in bucket)


def how_common(word: str) -> float:
    """How often English has `word`, on the Zipf scale; 0 for less than about once in a million words."""
    return _common().get(plain_spelling(word), 0.0)


# Set by hand. Letters: a word to be looked up has more than the first; a stem whose doubled last letter is
# taken away (begged) has more than the second. And the share of capitals above which all is printed in them.
_SHORTEST, _SHORTEST_DOUBLED = 2, 3
_CAPITALS = 0.6
# An ending, and what to put in its place to get back the word that it was added to.
_ENDINGS_TEXT = """'s> s'>s 'd>ed 'd>e 'd> 'st> 'st>e est> est>e eth> eth>e ies>y es> s> ied>y ed> ed>e ing>
    ing>e ly> er> er>e in'>ing v'n>ven n't> 'll> 're> 've> iest>y ier>y ness>"""
_ENDINGS = tuple(pair.partition(">")[::2] for pair in _ENDINGS_TEXT.split())


def _stems(form: str) -> Iterator[str]:
    """`form` and what is left when an ending is taken off, as a dictionary would list it."""
    yield form
    bare = form.strip("'")
    yield bare
    for ending, instead in _ENDINGS:
        if bare.endswith(ending) and len(bare) > len(ending) + 1:
            left = bare[: -len(ending)] + instead
            yield left
            if instead == "" and len(left) > _SHORTEST_DOUBLED and left[-1] == left[-2]:
                yield left[:-1]  # begged: beg


def _is_met(form: str) -> bool:
    """Whether a word, or its stem, is not rare; most are found in the small list."""
    stems = tuple(_stems(form))
    return any(stem in _common() for stem in stems) or any(stem in _met() for stem in stems)


def words_worth_a_look(script: Script, words: Sequence[Word]) -> tuple[LookUp, ...]:
    """The words of `words` worth a look, in the order in which they first come in the speech."""
    places: dict[str, list[int]] = {}
    for w in words:
        form = dictionary_form(w.text)
        if any(c.isalpha() for c in form):
            places.setdefault(form, []).append(w.i)
    names = _names(script, words)
    old = not OLD_MARKS.isdisjoint(places) or any(_old_verb(form) for form in places)
    foreign = _foreign(words)
    found = []
    for form, every in places.items():
        at = [i for i in every if form not in lists.NEEDS_THOU or _beside_thou(words, i)]
        if not at:
            continue
        kinds, note = _kinds(form, names, foreign, old)
        if kinds:
            found.append(_look_up(form, kinds, note, tuple(at), words[at[0]].text))
    return tuple(found)


def _kinds(
    form: str, names: frozenset[str], foreign: frozenset[str], old: bool
) -> tuple[tuple[Kind, ...], str]:
    bare = form.removesuffix("'s")
    kinds: list[Kind] = []
    notes: list[str] = []
    if form in foreign:
        kinds.append("foreign")
        notes.append(lists.help_table(lists.FOREIGN).get(form, LOOK_UP))
    named: list[tuple[Kind, str]] = [("archaic", lists.ARCHAIC), ("said two ways", lists.HETERONYMS)]
    if old:  # in a text of our own day these words mean and sound what they do now
        named[1:1] = [("older sense", lists.CHANGED), ("older stress", lists.STRESS)]
    for kind, rows in named:
        single = bare.removesuffix("s") if kind == "archaic" else bare
        note = next((found for f in (form, bare, single) if (found := lists.help_table(rows).get(f))), None)
        if note is not None and form not in foreign:
            kinds.append(kind)
            notes.append(note)
    if form in names or bare in names:
        kinds.append("name")
        notes.append("check how it is said")
    elif not kinds and _old_verb(form):
        kinds.append("archaic")
        notes.append("an old verb ending: thou or he")
    elif not kinds and not _is_met(form) and len(bare) > _SHORTEST:
        kinds.append("rare")
        notes.append(LOOK_UP)
    return tuple(kinds), "; ".join(dict.fromkeys(notes))


def _beside_thou(words: Sequence[Word], i: int) -> bool:
    return any(dictionary_form(w.text) == "thou" for w in words[max(0, i - 3) : i + 4])


def _old_verb(form: str) -> bool:
    """mak'st, buriest, makest, maketh: an old ending on a word that is a verb, having an -ing, without it."""
    for ending in ("'st", "est", "eth"):
        stem = form.removesuffix(ending)
        if stem == form or len(stem) < _SHORTEST or form in _common():
            continue
        if stem.endswith("i"):
            stem = stem[:-1] + "y"
        if any(s in _common() for s in (stem, stem + "e")) and stem.removesuffix("e") + "ing" in _common():
            return True
    return False


def _names(script: Script, words: Sequence[Word]) -> frozenset[str]:
    """Words with a capital where no sentence or verse line begins, and nowhere without one."""
    letters = [c for c in script.text if c.isalpha()]
    if sum(c.isupper() for c in letters) > _CAPITALS * max(1, len(letters)):
        return frozenset()  # all in capitals: they tell nothing
    verse = {line.n for line in script.lines if line.verse}
    capital_inside = {
        dictionary_form(w.text).removesuffix("'s")
        for before, w in pairwise(words)
        if _capital_of_a_name(w.text)
        and before.sentence == w.sentence
        and not (before.line != w.line and w.line in verse)
        and not any(c in script.text[before.end : w.start] for c in '"“‘:!?(')
    }
    lower = {dictionary_form(w.text) for w in words if w.text[:1].islower()}
    return frozenset(f for f in capital_inside - lower - lists.TITLES if _common().get(f, 0.0) < WELL_KNOWN)


def _capital_of_a_name(text: str) -> bool:
    """Whether a word has a capital that it needs not have: not I or I'm, and not SWEATING, which is loud."""
    if len(text) <= 1 or not text[:1].isupper() or text.startswith("I'"):
        return False
    return not (text.isupper() and _is_met(dictionary_form(text)))


def _foreign(words: Sequence[Word]) -> frozenset[str]:
    """Words of the list of foreign ones, or with letters English does not have."""
    table = lists.help_table(lists.FOREIGN)
    forms = [dictionary_form(w.text) for w in words]
    found = set()
    for k, (w, form) in enumerate(zip(words, forms, strict=True)):
        accents = any(not c.isascii() and c.isalpha() for c in w.text.replace("æ", "").replace("œ", ""))
        if accents and not w.text.lower().endswith(("èd", "éd")):
            found.add(form)
        elif form in table:
            beside = forms[max(0, k - 2) : k] + forms[k + 1 : k + 3]
            if form not in lists.NEEDS_COMPANY or any(b in table for b in beside):
                found.add(form)
    return frozenset(found)


def _look_up(form: str, kinds: tuple[Kind, ...], note: str, at: tuple[int, ...], text: str) -> LookUp:
    said = pronounce(form)[0]
    stress = "".join("/" if c in "12" else "x" for c in said.stress)
    # which syllable of "perfect" is stressed is just what its note leaves open
    open_stress = "said two ways" in kinds and any(part.isupper() for part in re.findall(r"\w{2,}", note))
    main = -1 if open_stress else said.stress.find("1")
    parts = divide(form, said.syllables)
    shown = "-".join(p.upper() if k == main and len(parts) > 1 else p for k, p in enumerate(parts))
    return LookUp(text if "name" in kinds else form, kinds, shown, stress, said.syllables,
                  said.source not in ("rule", "letters"), note, at)  # fmt: skip
