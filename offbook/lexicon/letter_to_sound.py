"""Pronunciations of words that the dictionary does not have, built from words that it has.

Old verse has many of them: verb endings (-eth, -est, -èd), letters left out in print (heav'n, wand'ring,
deserv'd), old spellings (sinne, lyke), compounds (seaworms), names. Each rule removes an ending or changes a
spelling, looks the rest up again, and adds the sound of the ending. For a word that no rule fits, the
syllables are counted by its letters, with the stress where English words of that length and ending usually
have it (common practice, no source); such a word has no phones, only syllables.
"""

from __future__ import annotations

import re
from functools import lru_cache

from offbook.lexicon.cmudict_data import Phones, phones_of
from offbook.lexicon.old_words import may_join, old_forms

_VOICELESS = frozenset(["P", "T", "K", "F", "TH"])
_SIBILANT = frozenset(["S", "Z", "SH", "ZH", "CH", "JH"])
_DEPTH = 3  # how many rules may be used one after another; set by hand
# The lengths below are in letters, set by hand so that no rule takes apart a word hardly longer than its
# ending.
_TOO_SHORT, _SHORTEST_WORD, _SHORTEST_DOUBLED, _SHORTEST_ARTICLE = 2, 3, 3, 4
_SHORTEST_PARTICIPLE, _SHORTEST_REST = 4, 4
_SHORT_BEGINNING = (2, 3)
_SHORTEST_INFLECTED = 4
_DEPTH_RESPELT = 2  # how many rules may be used before the spelling is changed as well
_DISYLLABLE = 2  # syllables
_SHORTEST_COMPOUND_HALF = 3  # letters
_LETTERS_A_SYLLABLE = 2  # at least, in half of a compound: "ia" is not a word
_STRESSED_FROM_END = 3  # the third syllable from the end has the stress in most longer words


def syllable_count(phones: Phones) -> int:
    """How many syllables `phones` has."""
    return sum(p[-1].isdigit() for p in phones)


_WORDS_KEPT = 20_000  # words that are remembered; set by hand, enough for several whole plays


@lru_cache(maxsize=_WORDS_KEPT)
def phones_by_rule(word: str, depth: int = 0) -> tuple[Phones, ...]:
    """The pronunciations of `word`: from the table of old words, the dictionary, or by rule. Empty if none
    has it.

    depth: how many rules were used before.
    """
    found = old_forms(word) or phones_of(word)
    if found or depth > _DEPTH or len(word) < _SHORTEST_WORD:
        return found
    for rule in _RULES:
        found = rule(word, depth + 1)
        if found:
            return found
    return ()


def _past_tense(stem: Phones) -> Phones:
    if stem[-1] in ("T", "D"):
        return (*stem, "IH0", "D")
    return (*stem, "T" if stem[-1] in _VOICELESS or stem[-1] in ("S", "SH", "CH") else "D")


def _plural(stem: Phones) -> Phones:
    if stem[-1] in _SIBILANT:
        return (*stem, "IH0", "Z")
    return (*stem, "S" if stem[-1] in _VOICELESS else "Z")


def _apostrophe(word: str, depth: int) -> tuple[Phones, ...]:
    if "'" not in word:
        return ()
    if word.endswith("'s"):
        return tuple(_plural(p) for p in phones_by_rule(word[:-2], depth))
    found = _contracted_ending(word, depth)
    if found:
        return found
    if word.startswith(("th'", "t'")) and len(word) > _SHORTEST_ARTICLE:
        head, _, rest = word.partition("'")
        return tuple((*(("DH",) if head == "th" else ("T",)), *p) for p in phones_by_rule(rest, depth))
    if word[0] == "'" and len(word) > _TOO_SHORT:
        return _aphetic(word[1:], depth)
    if word[-1] == "'":
        return phones_by_rule(word[:-1], depth) or phones_by_rule(word[:-1] + "g", depth)
    return _elided_vowel(word, depth)


def _contracted_ending(word: str, depth: int) -> tuple[Phones, ...]:
    """A verb ending without its vowel: deserv'd, look't, mak'st."""
    if word.endswith("'d") and (whole := phones_of(word[:-2] + "ed")):
        return whole
    if word.endswith(("'d", "'t")):
        end: Phones = ("D",) if word.endswith("d") else ("T",)
        stems = [word[:-2] + "e", word[:-2], re.sub(r"y$", "ie", word[:-2])]
    elif word.endswith("'st"):
        stem = word.removesuffix("'st")
        end, stems = ("S", "T"), [stem, stem + "e"]
    else:
        return ()
    bases = next((b for stem in stems if (b := phones_by_rule(stem, depth))), ())
    return tuple((*p, *end) for p in bases)


def _aphetic(rest: str, depth: int) -> tuple[Phones, ...]:
    """A word without its unstressed beginning: 'gainst, 'twixt. rest: what is printed after the mark."""
    for head in ("a", "be", "e", "i", "un"):
        for phones in phones_by_rule(head + rest, depth):
            at = next((i for i, p in enumerate(phones) if p[-1].isdigit()), None)
            if at is not None and phones[at][-1] == "0" and syllable_count(phones) > 1:
                return (phones[at + 1 :],)
    return phones_by_rule(rest, depth)


def _elided_vowel(word: str, depth: int) -> tuple[Phones, ...]:
    """A word with a vowel left out in the middle: heav'n, wand'ring, int'rest, mem'ry, fav'rite."""
    at = word.index("'")
    before = len(re.findall(r"[aeiouy]+", word[:at]))
    for letters in ("e", "o", "i", "a", "ou", "u", "er", "v", "the", "ve", ""):
        full = word[:at] + letters + word[at + 1 :]
        bases = phones_by_rule(full, depth)
        if not bases:
            continue
        if letters in ("v", ""):
            return bases
        return tuple(_without_vowel(p, before) for p in bases)
    return ()


def _without_vowel(phones: Phones, before: int) -> Phones:
    places = [i for i, p in enumerate(phones) if p[-1].isdigit()]
    weak = [k for k, i in enumerate(places) if phones[i][-1] == "0"]
    if not weak or len(places) == 1:
        return phones
    gone = places[min(weak, key=lambda k: (abs(k - before), k))]
    keep: Phones = ("R",) if phones[gone].startswith("ER") else ()
    return phones[:gone] + keep + phones[gone + 1 :]


# Each ending with its phones, and what must be added to the stem to make a word: letters, "y<i" for a y that
# became i, "-2" for a doubled consonant.
_ENDINGS: tuple[tuple[str, Phones, tuple[str, ...]], ...] = (
    ("èd", ("IH0", "D"), ("", "e")),
    ("edly", ("IH0", "D", "L", "IY0"), ("", "e")),
    ("eth", ("IH0", "TH"), ("", "e", "y<i", "-2")),
    ("est", ("IH0", "S", "T"), ("", "e", "y<i", "-2")),
    ("ings", ("IH0", "NG", "Z"), ("", "e", "-2")),
    ("ing", ("IH0", "NG"), ("", "e", "-2")),
    ("ers", ("ER0", "Z"), ("", "e", "y<i", "-2")),
    ("er", ("ER0",), ("", "e", "y<i", "-2")),
    ("fully", ("F", "AH0", "L", "IY0"), ("", "y<i")),
    ("fulness", ("F", "AH0", "L", "N", "AH0", "S"), ("", "y<i")),
    ("full", ("F", "AH0", "L"), ("", "y<i")),
    ("ful", ("F", "AH0", "L"), ("", "y<i")),
    ("lessly", ("L", "AH0", "S", "L", "IY0"), ("", "y<i")),
    ("lessness", ("L", "AH0", "S", "N", "AH0", "S"), ("", "y<i")),
    ("less", ("L", "AH0", "S"), ("", "y<i")),
    ("nesse", ("N", "AH0", "S"), ("", "y<i")),
    ("ness", ("N", "AH0", "S"), ("", "y<i")),
    ("lier", ("L", "IY0", "ER0"), ("",)),
    ("liest", ("L", "IY0", "AH0", "S", "T"), ("",)),
    ("ly", ("L", "IY0"), ("", "y<i", "le")),
    ("like", ("L", "AY2", "K"), ("",)),
    ("some", ("S", "AH0", "M"), ("",)),
    ("ship", ("SH", "IH2", "P"), ("",)),
    ("hood", ("HH", "UH2", "D"), ("", "y<i")),
    ("dom", ("D", "AH0", "M"), ("",)),
    ("wards", ("W", "ER0", "D", "Z"), ("",)),
    ("ward", ("W", "ER0", "D"), ("",)),
    ("ments", ("M", "AH0", "N", "T", "S"), ("", "e")),
    ("ment", ("M", "AH0", "N", "T"), ("", "e")),
    ("able", ("AH0", "B", "AH0", "L"), ("", "e", "y<i")),
    ("ably", ("AH0", "B", "L", "IY0"), ("", "e", "y<i")),
    ("ish", ("IH0", "SH"), ("", "e", "-2")),
)
_LIGHT_ENDINGS: tuple[tuple[str, Phones, tuple[str, ...]], ...] = (
    ("eous", ("IY0", "AH0", "S"), ("",)),
    ("ous", ("AH0", "S"), ("", "e")),
    ("y", ("IY0",), ("", "e", "-2")),
    ("st", ("S", "T"), ("",)),
)


def _stems(word: str, ending: str, losses: tuple[str, ...]) -> list[str]:
    stem = word[: -len(ending)]
    found = []
    for loss in losses:
        if loss == "y<i":
            if stem.endswith("i"):
                found.append(stem[:-1] + "y")
        elif loss == "-2":
            if len(stem) > _SHORTEST_DOUBLED and stem[-1] == stem[-2]:
                found.append(stem[:-1])
        else:
            found.append(stem + loss)
    return [s for s in found if len(s) > _TOO_SHORT or s in ("do", "go", "be", "ly", "dy")]


def _endings(word: str, depth: int) -> tuple[Phones, ...]:
    if word.endswith("ed"):
        for stem in _stems(word, "ed", ("e", "", "y<i", "-2")):
            if bases := phones_by_rule(stem, depth):
                return tuple(_past_tense(p) for p in bases)
    return _with_ending(_ENDINGS, word, depth)


def _with_ending(
    endings: tuple[tuple[str, Phones, tuple[str, ...]], ...], word: str, depth: int
) -> tuple[Phones, ...]:
    for ending, sound, losses in endings:
        if word.endswith(ending):
            for stem in _stems(word, ending, losses):
                if bases := phones_by_rule(stem, depth):
                    whole = stem != word.removesuffix("ly") + "le"
                    return tuple((*(p if whole else _without_le(p)), *sound) for p in bases)
    return ()


def _without_le(phones: Phones) -> Phones:
    """A word in -le before -ly, which has the L already: gentle, gently."""
    return phones[:-2] if phones[-2:] == ("AH0", "L") else phones[:-1]


def _light_endings(word: str, depth: int) -> tuple[Phones, ...]:
    """A short ending, tried after a compound because that is likelier."""
    if word.endswith("s") and not word.endswith("ss"):
        stems = [word[:-1], *([word[:-2]] if word.endswith("es") else [])]
        stems += [word.removesuffix("ies") + "y"] if word.endswith("ies") else []
        for stem in stems:
            if bases := phones_by_rule(stem, depth):
                return tuple(_plural(p) for p in bases)
    if word[-2:-1] in "aeiou" and word[-1] == "y":
        return ()
    return _with_ending(_LIGHT_ENDINGS, word, depth)


def _participle(word: str, depth: int) -> tuple[Phones, ...]:
    """An old spelling with -t or -d for -ed: opprest, vext, stopt, undistrest; imposd, signd."""
    if len(word) > _SHORTEST_PARTICIPLE and re.search(r"[bgmnsvwz]d$", word) and depth < _DEPTH:
        for stem in (word[:-1] + "e", word[:-1]):
            if bases := phones_of(stem):
                return tuple(_past_tense(p) for p in bases)
    if len(word) < _SHORTEST_PARTICIPLE or not re.search(r"[^aeiouynrlt]t$", word):
        return ()
    if word.endswith("est") and (phones_of(word.removesuffix("est")) or phones_of(word.removesuffix("st"))):
        return ()
    for stem in (word[:-1], word[:-1] + word[-2], word[:-1] + "e"):
        bases = phones_of(stem + "ed") or (phones_by_rule(stem, depth) if depth < _DEPTH else ())
        if bases:
            return tuple(p if p[-1] in ("T", "D") else (*p, "T") for p in bases)
    return ()


_BEGINNINGS: tuple[tuple[str, Phones], ...] = (
    ("under", ("AH2", "N", "D", "ER0")),
    ("over", ("OW2", "V", "ER0")),
    ("o'er", ("AO2", "R")),
    ("inter", ("IH2", "N", "T", "ER0")),
    ("fore", ("F", "AO2", "R")),
    ("out", ("AW2", "T")),
    ("up", ("AH2", "P")),
    ("un", ("AH0", "N")),
    ("re", ("R", "IY0")),
    ("dis", ("D", "IH0", "S")),
    ("mis", ("M", "IH0", "S")),
    ("en", ("EH0", "N")),
    ("em", ("EH0", "M")),
    ("im", ("IH0", "M")),
    ("in", ("IH0", "N")),
    ("be", ("B", "IH0")),
    ("a", ("AH0",)),
)


def _beginnings(word: str, depth: int) -> tuple[Phones, ...]:
    for head, sound in _BEGINNINGS:
        rest = word[len(head) :]
        if word.startswith(head) and len(rest) > _TOO_SHORT and (bases := phones_by_rule(rest, depth)):
            return tuple((*sound, *p) for p in bases)
    return ()


def _light_beginning(word: str, depth: int) -> tuple[Phones, ...]:
    """A short prefix before a word of the dictionary: be-stride, not best-ride; im-modest."""
    for head, sound in _BEGINNINGS:
        rest = word[len(head) :]
        light = word.startswith(head) and len(head) in _SHORT_BEGINNING and len(rest) > _SHORTEST_REST
        if light and (bases := phones_of(rest)):
            return tuple((*sound, *p) for p in bases)
    return ()


# spellings of other centuries and of Britain, each with what the dictionary writes instead
_RESPELT: tuple[tuple[str, str], ...] = (
    (r"our", "or"),
    (r"is(e|es|ed|ing|ings|er)$", r"iz\1"),
    (r"ll(ed|ing|er|ers)$", r"l\1"),
    (r"([^aeiouy])([^aeiouy])?re$", r"\1\2er"),
    (r"[ao]e", "e"),
    (r"ck(e)?$", "c"),
    (r"(..[^aeiou])e$", r"\1"),
    (r"([bdfgklmnprst])\1e$", r"\1"),
    (r"([bdfgklmnprst])\1$", r"\1"),
    (r"ie$", "y"),
    (r"^(..?.?)ee$", r"\1e"),
    (r"^(.+)y(?=.)", r"\1i"),
    (r"y(?=[^aeiou])", "i"),
    (r"oo", "o"),
    (r"aun", "an"),
    (r"vv", "w"),
    (r"^v(?=[^aeiou])", "u"),
    (r"(?<=[aeo])u(?=[aeio])", "v"),
    (r"oa", "o"),
    (r"c(?=e)", "s"),
    (r"sk", "sc"),
    (r"k", "c"),
)


def _respelt(word: str, depth: int) -> tuple[Phones, ...]:
    if depth > _DEPTH_RESPELT:
        return ()
    for pattern, modern in _RESPELT:
        other = re.sub(pattern, modern, word, count=1)
        if other != word and len(other) > 1 and (found := old_forms(other) or phones_of(other)):
            return found
    for k in range(2, len(word) - 1):
        if (
            word[k] in "bdfglmnprst"
            and word[k - 1] in "aeiou"
            and (found := phones_of(word[:k] + word[k:][0] + word[k:]))
        ):
            return found
    return ()


def _with_secondary_stress(phones: Phones) -> Phones:
    """The second half of a compound: its main stress becomes secondary."""
    return tuple(p[:-1] + "2" if p[-1] == "1" else p for p in phones)


def _compound_half(half: str) -> Phones | None:
    """How half of a compound is said, None if it does not look like a word."""
    if not may_join(half):
        return None
    found = old_forms(half) or phones_of(half)
    return found[0] if found and len(half) >= _LETTERS_A_SYLLABLE * syllable_count(found[0]) else None


def _compound(word: str, depth: int) -> tuple[Phones, ...]:
    """Two words of the dictionary written as one: seaworms.

    The second may have an ending that it does not have.
    """
    shortest = _SHORTEST_COMPOUND_HALF
    splits = sorted(range(shortest, len(word) - shortest + 1), key=lambda k: abs(k - len(word) / 2))
    for inflected in (False, True):
        for k in splits:
            first = _compound_half(word[:k])
            if first is None:
                continue
            second = _compound_half(word[k:])
            if second is None and inflected and len(word) - k > _SHORTEST_INFLECTED:
                second = next(
                    iter(_endings(word[k:], _DEPTH + 1) or _light_endings(word[k:], _DEPTH + 1)), None
                )
            if second is not None:
                return ((*first, *_with_secondary_stress(second)),)
    return ()


# in the order in which they are tried
_RULES = (
    _apostrophe,
    _light_beginning,
    _participle,
    _endings,
    _compound,
    _light_endings,
    _beginnings,
    _respelt,
)
_SILENT = re.compile(r"(?:(?<=[^aeiouyl])es?|(?<=[aeiouy]l)es?|(?<=[^tdaeiouy])ed)$")
_GROUPS = re.compile(r"[aeiouy]+")
_BREAKS = re.compile(r"i[aou]|eo|(?<![qg])u[ao]|[aeou]i(?=ng)|y[aeo]")


def stress_by_letters(word: str) -> str:
    """The stress of a word that no table and no rule has, from its letters alone. At least one syllable."""
    letters = re.sub(r"[^a-zèé]", "", word.lower())
    sounded = letters.count("è") + letters.count("é")
    letters = letters.replace("è", "e").replace("é", "e")
    trimmed = letters if sounded else _SILENT.sub("", letters)
    groups = _GROUPS.findall(trimmed)
    count = max(1, len(groups) + sum(1 for _ in _BREAKS.finditer(trimmed)))
    if re.search(r"[tcsg]io(n|us)", trimmed):
        count = max(1, count - 1)
    if count == 1:
        return "1"
    if count == _DISYLLABLE:
        return "01" if re.search(r"(ee|oo|ade|ique|esque|ette)$", letters) else "10"
    late = re.search(r"(tion|sion|ic|ics|cian|cious|tious)s?$", letters)
    at = count - 2 if late else count - _STRESSED_FROM_END
    return "".join("1" if i == at else "0" for i in range(count))
