"""Spoken forms: how people say figures, amounts, dates, initials and abbreviations.

Cardinals, ordinals and years are checked against the inflect package. The rest is common practice of
reading aloud, no source, unless one is named beside the check.
"""

from __future__ import annotations

import importlib
import re
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.script import reading as script
from offbook.words import entries as words
from offbook.words import numerals as words_numbers


def ways(text: str, wanted: str) -> list[str]:
    found = [w for w in words.words_of(script.parse_script(text)) if w.text == wanted]
    assert found, [w.text for w in words.words_of(script.parse_script(text))]
    return [" ".join(form) for form in found[0].spoken]


def flat(said: str) -> tuple[str, ...]:
    return tuple(said.replace("-", " ").replace(",", "").split())


@cache
def engine() -> Any:
    """The inflect package, without the checks of types that it builds into each of its functions when it is
    imported: they take four seconds, and nothing here rests on them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("typeguard.typechecked", lambda function: function)
        return importlib.import_module("inflect").engine()


@given(st.integers(0, 10**12))
def test_cardinal_numbers_are_spoken_as_the_inflect_package_writes_them(n: int) -> None:
    assert words_numbers.cardinal(n)[0] == flat(str(engine().number_to_words(str(n))))


@given(st.integers(1, 10**6))
def test_ordinal_numbers_are_spoken_as_the_inflect_package_writes_them(n: int) -> None:
    assert words_numbers.ordinal(n)[0] == flat(str(engine().number_to_words(str(engine().ordinal(str(n))))))


@given(st.integers(1101, 1999).filter(lambda n: n % 100 != 0))
def test_the_first_spoken_form_of_a_year_is_in_two_halves_as_inflect_groups_them(n: int) -> None:
    assert words_numbers.year(n)[0] == flat(str(engine().number_to_words(str(n), group=2, zero="oh")))


@given(st.integers(1, 3999))
def test_roman_numerals_have_their_values_and_no_other_text_counts_as_one(n: int) -> None:
    """Standard subtractive notation, as in any handbook of style."""
    table = [(1000, "M"), (900, "CM"), (500, "D"), (400, "CD"), (100, "C"), (90, "XC"), (50, "L"), (40, "XL")]
    table += [(10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")]
    numeral, left = "", n
    for value, letters in table:
        numeral += letters * (left // value)
        left %= value
    assert words_numbers.roman(numeral) == n
    assert words_numbers.roman(numeral + "IIII") is None


@pytest.mark.parametrize(
    ("text", "wanted", "said"),
    [
        ("in 1603 she died", "1603", "sixteen oh three"),
        ("in 2026 we met", "2026", "twenty twenty six"),
        ("in 2005 we met", "2005", "two thousand and five"),
        ("in 1900 he left", "1900", "nineteen hundred"),
        ("some 1,603 lamps", "1,603", "one thousand six hundred and three"),
        ("with 1500 lanterns", "1500", "one thousand five hundred"),
        ("the 3rd of May", "3rd", "third"),
        ("the 21st time", "21st", "twenty first"),
        ("on 3 June we met", "3", "the third of"),
        ("on June 3 we met", "3", "third"),
        ("on 25/12/2026 we met", "25/12/2026", "the twenty fifth of december twenty twenty six"),
        ("it cost £5 then", "£5", "five pounds"),
        ("it cost £1 then", "£1", "one pound"),
        ("it cost £5.50 then", "£5.50", "five pounds fifty"),
        ("it cost $1.01 then", "$1.01", "one dollar one"),
        ("it cost €20 then", "€20", "twenty euros"),
        ("it cost 50p then", "50p", "fifty pence"),
        ("it cost £3m then", "£3m", "three million pounds"),
        ("only 50% came", "50%", "fifty percent"),
        ("at 7:30 we left", "7:30", "seven thirty"),
        ("at 9:05 we left", "9:05", "nine oh five"),
        ("at 7pm we left", "7pm", "seven p m"),
        ("at 7:00 we left", "7:00", "seven o'clock"),
        ("the 1980s were long", "1980s", "nineteen eighties"),
        ("in '45 he left", "'45", "forty five"),
        ("3.14 or so", "3.14", "three point one four"),
        ("just ½ a loaf", "½", "a half"),
        ("then 3/4 of it", "3/4", "three quarters"),
        ("open 24/7 here", "24/7", "twenty four seven"),
        ("some 20°C out", "20°C", "twenty degrees celsius"),
        ("we ran 5km then", "5km", "five kilometres"),
        ("an A4 page", "A4", "a four"),
        ("agent 007 here", "007", "oh oh seven"),
    ],
)
def test_the_first_spoken_form_of_a_number_is_the_likeliest(text: str, wanted: str, said: str) -> None:
    assert ways(text, wanted)[0] == said


@pytest.mark.parametrize(
    ("text", "wanted", "also"),
    [
        ("in 1603 she died", "1603", "sixteen hundred and three"),
        ("in 2026 we met", "2026", "two thousand and twenty six"),
        ("at 7:30 we left", "7:30", "half past seven"),
        ("at 7:45 we left", "7:45", "quarter to eight"),
        ("it cost £5.50 then", "£5.50", "five pounds and fifty pence"),
        ("only 50% came", "50%", "fifty per cent"),
        ("the 100 lamps", "100", "a hundred"),
        ("room 101 then", "101", "one oh one"),
        ("0.5 or so", "0.5", "nought point five"),
        ("just 3/4 then", "3/4", "three fourths"),
    ],
)
def test_a_number_has_further_spoken_forms_beside_the_first(text: str, wanted: str, also: str) -> None:
    assert also in ways(text, wanted)


def test_an_amount_in_millions_is_spoken_with_its_currency_at_the_end() -> None:
    found = words.words_of(script.parse_script("it cost £5 million then"))
    assert [" ".join(w.spoken[0]) for w in found] == ["it", "cost", "five", "million pounds", "then"]


@pytest.mark.parametrize(
    ("text", "wanted", "said"),
    [
        ("Mr Vane came", "Mr", "mister"),
        ("Mrs. Vane came", "Mrs", "mrs"),
        ("Dr. Amory came", "Dr", "doctor"),
        ("St. Anne's bell", "St", "saint"),
        ("in Harbour St. at noon", "St", "street"),
        ("bread, wine, etc.", "etc", "et cetera"),
        ("lamp & rope", "&", "and"),
        ("No. 5 was lit", "No", "number"),
        ("No. It was not.", "No", "no"),
        ("Prof. Amory came", "Prof", "professor"),
        ("lamps, e.g. this one", "e.g.", "for example"),
        ("at 5 p.m. sharp", "p.m.", "p m"),
        ("The BBC said so", "BBC", "b b c"),
        ("The U.S. said so", "U.S.", "u s"),
        ("NASA said so", "NASA", "nasa"),
        ("I said NEVER again", "NEVER", "never"),
        ("on 12 Jan. 2020", "Jan", "january"),
        ("He ran 70 mph then", "mph", "miles an hour"),
        ("He weighed 12st then", "12st", "twelve stone"),
        ("She was 6'2\" then", "6", "six foot"),
        ("It was the 11th of them", "11th", "eleventh"),
    ],
)
def test_abbreviations_and_initials_are_spoken_in_full_according_to_their_context(
    text: str, wanted: str, said: str
) -> None:
    assert ways(text, wanted)[0] == said


@pytest.mark.parametrize(
    ("text", "wanted", "said"),
    [
        ("King Henry V is dead", "V", "the fifth"),
        ("Elizabeth I was crowned", "I", "the first"),
        ("Act III of the play", "III", "three"),
        ("Sonnet XVIII of many", "XVIII", "eighteen"),
        ("World War II began", "II", "two"),
        ("Mary, I am here", "I", "i"),
        ("Anna I love", "I", "i"),
        ("the MIX was good", "MIX", "mix"),
    ],
)
def test_roman_numerals_are_spoken_according_to_what_they_number(text: str, wanted: str, said: str) -> None:
    assert ways(text, wanted)[0] == said


def test_words_in_a_text_all_in_capitals_are_not_taken_for_initials() -> None:
    assert ways("NOBODY TOLD THE BBC THAT HE WAS LATE AND IT WAS DARK", "THE") == ["the"]


def test_the_spoken_form_of_a_plain_word_has_no_accents_or_curly_apostrophes() -> None:
    found = words.words_of(script.parse_script("’Tis a café where Feed’st sat, lovèd"))
    assert [w.spoken[0][0] for w in found] == ["'tis", "a", "cafe", "where", "feed'st", "sat", "loved"]


@pytest.mark.parametrize(
    ("text", "wanted", "said"),
    [
        ("Rule 0² of the game", "0²", ["zero squared", "nought squared"]),
        ("and 3² is nine", "3²", ["three squared"]),
        ("and 3³ is more", "3³", ["three cubed"]),
        ("and 12² is more", "12²", ["twelve squared"]),
        ("and £5² is odd", "²", ["squared"]),
    ],
)
def test_a_raised_figure_after_a_number_is_said_as_a_power(text: str, wanted: str, said: list[str]) -> None:
    """Common practice, no source."""
    assert ways(text, wanted) == said


def test_a_raised_figure_after_a_word_or_of_another_kind_is_a_footnote_mark_and_not_said() -> None:
    for text in ("a room of 12 m² here", "rule 5¹ of the game", "room 7⁴ is shut"):
        said = [w.text for w in words.words_of(script.parse_script(text))]
        assert said == re.sub("[¹²⁴]", "", text).split()


@pytest.mark.parametrize("dash", ["-", "–"])
def test_the_end_of_a_range_of_numbers_may_be_spoken_with_the_word_to(dash: str) -> None:
    """Pages 9 to 12, the war of 1939 to 45."""
    assert ways(f"pages 9{dash}12 here", "12")[:2] == ["twelve", "to twelve"]
    assert ways(f"the war of 1939{dash}45 here", "45")[:2] == ["forty five", "to forty five"]


def test_a_dash_with_spaces_around_it_does_not_make_a_range() -> None:
    assert all(not way.startswith("to ") for way in ways("I was 9 - 12 came later", "12"))


def test_a_time_one_minute_from_the_hour_is_spoken_with_minute_and_others_with_minutes() -> None:
    """Common practice, no source."""
    assert "one minute past eleven" in ways("at 11:01 she left", "11:01")
    assert "one minute to twelve" in ways("at 11:59 she left", "11:59")
    assert "two minutes to twelve" in ways("at 11:58 she left", "11:58")
    assert "ten to twelve" in ways("at 11:50 she left", "11:50")


def test_a_height_may_be_spoken_with_or_without_its_units() -> None:
    assert ways("She was 5'10\" then", "5") == ["five foot", "five feet", "five"]
    assert {"ten", "ten inches"} <= set(ways("She was 5'10\" then", "'10"))
    assert "no" in ways("No. 12 is his", "No")
    assert ways("in '10 it was", "'10")[0] == "ten" and "ten inches" not in ways("in '10 it was", "'10")
