"""Words worth a look: what a performer should look up or practise saying before learning a speech.

These are archaic, foreign and rare words, names, words whose meaning or stress has changed since older texts
were written, and words with one spelling that are said in two ways. Each is listed once, in syllables with
the stressed one in capitals, and with all its places. No network is needed: the lists are offbook's own
(`glossary.lists`), and a word is rare if it occurs less than once in ten million words, by the frequency data
in the `wordfreq` package (R. Speer, from many corpora), of which only the data files are read. offbook has no
dictionary of meanings; it says "look up" if its lists do not help.
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
WELL_KNOWN = 4.0  # Zipf scale; a name as common as this (John, Heaven, Friday) is not listed; set by hand
OLD_MARKS = frozenset(
    ["thou", "thee", "thy", "thine", "hath", "doth", "hast", "dost", "ere", "ye", "'tis", "'twas"]
)
# Zipf scale: 2 is once in ten million words, more words than most people read in a year. Set by hand, on the
# words below 3 in the demo and the speeches of bench/turns_read.txt: shopkeepers, smother, stealthy and
# churlish are above 2, contumely, quietus, orisons and puissant are below it.
RARE = 2.0
_SMALL, _LARGE = "small_en.msgpack.gz", "large_en.msgpack.gz"
_STEPS = 100  # buckets of words for each step of 1 on the Zipf scale: centibels (documented in `wordfreq`)
_HIGHEST = 9  # on the Zipf scale: the value of the first bucket, a word that is every word of a text
_THOU_WITHIN = 3  # words before and after, among which a "thou" is looked for; set by hand
_COMPANY_WITHIN = 2  # words before and after, among which another foreign word is looked for; set by hand


@dataclass(frozen=True, slots=True)
class LookUp:
    """One word worth a look.

    kinds: why. shown: the word in syllables as it is usually said, the stressed one in capitals. stress: x or
    / for each syllable. sure: False if no dictionary has the word, so that its sound was worked out. note:
    help in a few words, or "look up". places: the indices of its places in the speech (`Word.i`).
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
    """The words in a list of `wordfreq`: a bucket for each frequency, the most frequent first.

    name: of the data file. down_to: the lowest frequency, on the Zipf scale.
    """
    import msgpack

    spec = find_spec("wordfreq")
    if spec is None or not spec.submodule_search_locations:
        return
    path = Path(spec.submodule_search_locations[0]).joinpath("data", name)
    packed = msgpack.Unpacker(io.BytesIO(gzip.decompress(path.read_bytes())), raw=False)
    most = round((_HIGHEST - down_to) * _STEPS)
    for _ in range(min(packed.read_array_header() - 1, most + 1) + 1):
        bucket = packed.unpack()
        if isinstance(bucket, list):  # the first item is a header
            yield bucket


@cache
def _common() -> dict[str, float]:
    """English words that occur more than about once in a million words, with their Zipf values."""
    buckets = enumerate(_buckets(_SMALL, 0.0))
    return {word: _HIGHEST - step / _STEPS for step, bucket in buckets for word in bucket}


@cache
def _not_rare() -> frozenset[str]:
    """English words that are not rare."""
    return frozenset(word for bucket in _buckets(_LARGE, RARE) for word in bucket)


def how_common(word: str) -> float:
    """The frequency of `word` on the Zipf scale; 0 for less than about once in a million words."""
    return _common().get(plain_spelling(word), 0.0)


# Set by hand. A rare word has more letters than the first number. A stem from which the second of two equal
# last letters is removed (begged) has more letters than the second number.
_SHORTEST, _SHORTEST_DOUBLED = 2, 3
_CAPITALS = 0.6  # of the letters: with a larger share of capitals the whole text is in capitals; set by hand
# Each ending, and what must be added to the rest to get the word that a dictionary lists.
_ENDINGS_TEXT = """'s> s'>s 'd>ed 'd>e 'd> 'st> 'st>e est> est>e eth> eth>e ies>y es> s> ied>y ed> ed>e ing>
    ing>e ly> er> er>e in'>ing v'n>ven n't> 'll> 're> 've> iest>y ier>y ness>"""
_ENDINGS = tuple(pair.partition(">")[::2] for pair in _ENDINGS_TEXT.split())


def _stems(form: str) -> Iterator[str]:
    """`form`, and the words that it may be a form of, as a dictionary would list them."""
    yield form
    bare = form.strip("'")
    yield bare
    for ending, instead in _ENDINGS:
        if bare.endswith(ending) and len(bare) > len(ending) + 1:
            left = bare[: -len(ending)] + instead
            yield left
            if instead == "" and len(left) > _SHORTEST_DOUBLED and left[-1] == left[-2]:
                yield left[:-1]  # begged: beg


def _is_not_rare(form: str) -> bool:
    """Whether a word, or the word that it is a form of, is not rare.

    The small list is tried first: it has most words, and the large one takes longer to read.
    """
    stems = tuple(_stems(form))
    return any(stem in _common() for stem in stems) or any(stem in _not_rare() for stem in stems)


def words_worth_a_look(script: Script, words: Sequence[Word]) -> tuple[LookUp, ...]:
    """The words worth a look, in the order of their first places in the speech."""
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
    if old:  # in a modern text these words have their modern meaning and stress
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
    elif not kinds and not _is_not_rare(form) and len(bare) > _SHORTEST:
        kinds.append("rare")
        notes.append(LOOK_UP)
    return tuple(kinds), "; ".join(dict.fromkeys(notes))


def _beside_thou(words: Sequence[Word], i: int) -> bool:
    near = words[max(0, i - _THOU_WITHIN) : i + 1 + _THOU_WITHIN]
    return any(dictionary_form(w.text) == "thou" for w in near)


def _old_verb(form: str) -> bool:
    """Whether a word is a verb with an old ending: mak'st, buriest, makest, maketh.

    A verb also has an -ing.
    """
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
    """The words that always have a capital, also inside a sentence and inside a line of verse."""
    letters = [c for c in script.text if c.isalpha()]
    if sum(c.isupper() for c in letters) > _CAPITALS * max(1, len(letters)):
        return frozenset()  # the whole text is in capitals
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
    """Whether a word has a capital because it is a name: not I or I'm, and not SWEATING, which is shouted."""
    if len(text) <= 1 or not text[:1].isupper() or text.startswith("I'"):
        return False
    return not (text.isupper() and _is_not_rare(dictionary_form(text)))


def _foreign(words: Sequence[Word]) -> frozenset[str]:
    """The words that are in the list of foreign words, or have letters that English does not have."""
    table = lists.help_table(lists.FOREIGN)
    forms = [dictionary_form(w.text) for w in words]
    found = set()
    for k, (w, form) in enumerate(zip(words, forms, strict=True)):
        accents = any(not c.isascii() and c.isalpha() for c in w.text.replace("æ", "").replace("œ", ""))
        if accents and not w.text.lower().endswith(("èd", "éd")):
            found.add(form)
        elif form in table:
            beside = forms[max(0, k - _COMPANY_WITHIN) : k] + forms[k + 1 : k + 1 + _COMPANY_WITHIN]
            if form not in lists.NEEDS_COMPANY or any(b in table for b in beside):
                found.add(form)
    return frozenset(found)


def _look_up(form: str, kinds: tuple[Kind, ...], note: str, at: tuple[int, ...], text: str) -> LookUp:
    said = pronounce(form)[0]
    stress = "".join("/" if c in "12" else "x" for c in said.stress)
    # for a word such as "perfect" the note explains which syllable is stressed when
    open_stress = "said two ways" in kinds and any(part.isupper() for part in re.findall(r"\w{2,}", note))
    main = -1 if open_stress else said.stress.find("1")
    parts = divide(form, said.syllables)
    shown = "-".join(p.upper() if k == main and len(parts) > 1 else p for k, p in enumerate(parts))
    return LookUp(text if "name" in kinds else form, kinds, shown, stress, said.syllables,
                  said.source not in ("rule", "letters"), note, at)  # fmt: skip
