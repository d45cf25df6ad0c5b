"""The words of the dictionary by how they sound. Source of every sound: the CMU Pronouncing Dictionary."""

import pytest

from offbook.lexicon import phones_of
from offbook.soundalike.sound_index import (
    code_of,
    codes,
    codes_with_consonants_of,
    phones_in,
    words_sounding,
)


@pytest.mark.parametrize(
    ("word", "alike"),
    [
        ("two", ("to", "too", "two")),
        ("knight", ("knight", "night", "nite")),
        ("aalto", ("aalto",)),  # a comment follows its phones in the file
        ("zywicki", ("zywicki",)),  # the last row of the file
    ],
)
def test_words_with_one_sound_are_found_together_in_the_order_of_the_dictionary(
    word: str, alike: tuple[str, ...]
) -> None:
    found = words_sounding(code_of(phones_of(word)[0]))
    assert [w for w in found if w in alike] == list(alike)


def test_a_second_pronunciation_is_found_under_the_word_itself() -> None:
    first, second = phones_of("the")[:2]
    assert first != second
    assert "the" in words_sounding(code_of(first)) and "the" in words_sounding(code_of(second))


def test_a_sound_that_no_word_has_has_no_words_and_no_likeness() -> None:
    assert words_sounding(code_of(["ZH", "ZH", "ZH"])) == ()
    assert codes_with_consonants_of(code_of(["ZH", "ZH", "ZH"])) == ()


def test_a_sound_without_its_last_phone_is_another_sound() -> None:
    assert "seed" in words_sounding(code_of(["S", "IY", "D"]))
    assert "seed" not in words_sounding(code_of(["S", "IY"]))
    assert "sea" in words_sounding(code_of(["S", "IY"]))


def test_stress_does_not_count_in_a_sound() -> None:
    assert code_of(["AH0", "B", "AH1", "V"]) == code_of(["AH", "B", "AH", "V"])
    assert phones_in(code_of(["AH0", "B", "AH1", "V"])) == ("AH", "B", "AH", "V")


def test_sounds_with_the_same_consonants_differ_in_vowels_only_but_not_in_an_r_coloured_one() -> None:
    found = [phones_in(code) for code in codes_with_consonants_of(code_of(["B", "AE", "T"]))]
    assert {("B", "AE", "T"), ("B", "EH", "T"), ("B", "IY", "T")} <= set(found)
    assert ("B", "ER", "T") not in found
    assert ("B", "AE", "D") not in found and ("B", "AE", "T", "S") not in found
    assert len(found) == len(set(found))


def test_every_sound_of_the_dictionary_is_listed_once_the_first_word_first() -> None:
    listed = codes()
    assert len(listed) == len(set(listed))
    assert listed.index(code_of(phones_of("able")[0])) < listed.index(code_of(phones_of("zebra")[0]))
    assert code_of(phones_of("aalto")[0]) in listed
