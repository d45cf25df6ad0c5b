"""Words worth a look: which are listed, why, and how they are said."""

from __future__ import annotations

import pytest

from offbook.glossary import LookUp
from offbook.glossary import worth_a_look as glossary
from offbook.lexicon import phones_of
from offbook.script import reading as script
from offbook.words import entries as words


def listed(text: str) -> dict[str, LookUp]:
    s = script.parse_script(text, title="t")
    return {x.word: x for x in glossary.words_worth_a_look(s, words.words_of(s))}


@pytest.mark.parametrize("word", ["prithee", "wherefore", "thither", "betwixt", "methinks"])
def test_archaic_words_are_listed_with_an_explanation(word: str) -> None:
    found = listed(f"He spoke of it {word} to us.")[word]
    assert "archaic" in found.kinds
    assert found.note != glossary.LOOK_UP


@pytest.mark.parametrize("word", ["presently", "fond", "silly", "owe"])
def test_a_word_whose_meaning_changed_is_listed_only_in_an_old_text(word: str) -> None:
    assert "older sense" in listed(f"Thou hast {word} by thee.")[word].kinds
    assert word not in listed(f"You have {word} by you.")


def test_a_word_whose_stress_changed_is_listed_with_its_old_stress() -> None:
    """Abbott, A Shakespearian Grammar, 1870, par. 490: aspéct, revénue (from memory)."""
    found = listed("Thy aspect and thy revenue.")
    assert "as-PECT" in found["aspect"].note
    assert "re-VEN-ue" in found["revenue"].note


@pytest.mark.parametrize("word", ["wind", "tears", "bow", "record", "minute", "desert", "lead"])
def test_words_with_two_pronunciations_are_listed_and_the_dictionary_has_both(word: str) -> None:
    """The CMU Pronouncing Dictionary gives each of them at least two pronunciations."""
    assert "said two ways" in listed(f"The {word} is here.")[word].kinds
    assert len(phones_of(word)) >= 2


def test_a_rare_word_without_an_explanation_is_listed_to_be_looked_up() -> None:
    found = listed("The old catafalque stood in the hall.")["catafalque"]
    assert found.kinds == ("rare",)
    assert found.note == "look up"


@pytest.mark.parametrize("word", ["churlish", "shopkeepers", "smother", "stealthily", "unkempt", "SWEATING"])
def test_a_word_more_frequent_than_once_in_ten_million_is_not_rare(word: str) -> None:
    """Each is more frequent than once in ten million words in the data of `wordfreq`."""
    assert listed(f"He saw {word} to the door.") == {}


@pytest.mark.parametrize("word", ["gunwale", "bulrush", "wainscot"])
def test_a_word_less_frequent_than_once_in_ten_million_is_rare(word: str) -> None:
    assert listed(f"He saw the {word} in the door.")[word].kinds == ("rare",)


def test_common_words_and_their_endings_are_not_listed() -> None:
    assert listed("The children walked slowly, laughing and carrying their mother's baskets.") == {}


def test_a_capital_at_the_start_of_a_sentence_or_line_does_not_make_a_word_a_name() -> None:
    found = listed("Every night we waited. Morning brought old Tamsin Penhallow over the water.")
    assert "name" in found["Penhallow"].kinds
    assert "Morning" not in found
    assert "Every" not in found


def test_text_all_in_capitals_has_no_names_and_its_words_are_still_found() -> None:
    found = listed("PRITHEE TELL ME WHERE THE OLD CATAFALQUE STANDS.")
    assert found["prithee"].kinds == ("archaic",)
    assert not any("name" in x.kinds for x in found.values())


def test_foreign_words_are_listed_with_their_language() -> None:
    found = listed("He said adieu, and carpe diem, and left a cliché behind.")
    assert "French" in found["adieu"].note
    assert "foreign" in found["carpe"].kinds
    assert "foreign" in found["cliche"].kinds


def test_an_old_verb_ending_is_not_confused_with_a_superlative() -> None:
    found = listed("Thou makest the finest bread, thou walkest the oldest road, and he maketh none.")
    assert {"makest", "walkest", "maketh"} <= found.keys()
    assert "finest" not in found
    assert "oldest" not in found


def test_the_word_art_is_a_verb_only_beside_thou() -> None:
    assert "art" not in listed("The art of reading is old.")
    assert "art" in listed("Thou art welcome here.")


def test_each_word_is_listed_once_with_every_place_its_syllables_and_its_stress() -> None:
    found = listed("The catafalque was black. Nobody touched the catafalque.")
    assert list(found) == ["catafalque"]
    one = found["catafalque"]
    assert len(one.places) == 2
    assert len(one.stress) == one.syllables == one.shown.count("-") + 1


def test_nothing_is_listed_twice_and_every_list_row_has_a_word_and_help() -> None:
    from offbook.glossary import lists

    for rows in (lists.ARCHAIC, lists.CHANGED, lists.STRESS, lists.HETERONYMS, lists.FOREIGN):
        pairs = [row.partition("|") for row in rows.strip().splitlines()]
        assert all(word and note for word, _, note in pairs)
        assert len({word for word, _, _ in pairs}) == len(pairs)
