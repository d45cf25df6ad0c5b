"""Every verdict says what decided it and what changed it afterwards, in order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from offbook.cli.run_explain import explained
from offbook.desk import words_asked
from offbook.errors import OffbookError
from offbook.hear import soften_for_poor_sound
from offbook.hear.decide import WeighedPlace
from offbook.hear.rescore import SettledSegment
from offbook.hear.whole_run import reconsider
from offbook.score import WordVerdict
from tests.performing import hear_said, verse
from tests.test_hear_habit import SAID_9, WORDS, place, run_of
from tests.test_hear_sound import RUN, SETTLED, sound
from tests.test_run import heard_as
from tests.test_score import run

LAMP = verse("The lamp burned low,", "and nobody came.")


def told(word: WordVerdict) -> list[tuple[str, str, str]]:
    return [(s.by, s.verdict, s.told) for s in word.steps]


def test_the_explanation_names_what_was_heard_for_a_said_and_for_a_changed_word() -> None:
    """The alignment decides both; the confidences are the recogniser's own (0.98 here)."""
    found = run("The kettle sang", "the cattle sang").words
    assert told(found[0]) == [
        ("alignment", "said", "it was heard here as written, with a confidence of 0.98")
    ]
    assert told(found[1]) == [
        ("alignment", "changed", "“cattle” was heard in its place, with a confidence of 0.98")
    ]


def test_the_explanation_of_a_dropped_word_says_that_nothing_was_heard_for_it() -> None:
    found = run("The kettle sang", "the sang").words[1]
    assert told(found) == [
        ("alignment", "dropped", "between the words around it nothing was heard that could stand for it")
    ]


def test_if_a_repeated_word_is_said_once_both_explanations_say_that_the_first_counts() -> None:
    found = run("no bell bell rang", "no bell rang").words
    assert [w.verdict for w in found] == ["said", "said", "dropped", "said"]
    assert [w.steps[-1].by for w in found[1:3]] == ["two in a row", "two in a row"]


def test_the_explanation_of_a_reheard_word_names_each_hearing_and_then_the_final_verdict() -> None:
    word = reconsider(run_of("changed", *SAID_9), _settled(place(0, 0.22)), WORDS).words[0]
    assert [(s.by, s.verdict) for s in word.steps] == [
        ("place heard again", "changed"),
        ("whole run-through", "said"),
    ]
    assert word.steps[0].told == (
        "the recogniser listened three times: with no help from the script it heard “x”; expecting the "
        "script's words, “w0”; with every small word competing against words that sound like it, “x”. Then "
        "it listened to these words alone and compared the wordings: the chance that “w0” was said, and not "
        "“x”, is 22 %"
    )


def test_the_explanation_of_an_uncontested_word_says_that_it_was_heard_twice_and_why() -> None:
    """This happens only with a second ear, which then compares the wordings."""
    uncontested = replace(place(0, 0.002, rival=""), lean="", free="", was_contested=False, by_second=True)
    word = reconsider(run_of("dropped", *SAID_9), _settled(uncontested), WORDS).words[0]
    assert [s.told for s in word.steps] == [
        "the recogniser listened twice: with no help from the script it heard nothing; expecting the "
        "script's words, nothing. Expecting the script, it heard the script here, so it did not listen a "
        "third time, with small words competing against others that sound like them. Then the second ear "
        "compared the wordings on that sound: the chance that “w0” was said, and not left out, is under 1 %"
    ]


def test_the_explanation_says_that_words_are_not_quoted_if_the_two_ears_disagree() -> None:
    word = reconsider(run_of("changed"), _settled(replace(place(0, 0.001), quotable=False)), WORDS).words[0]
    assert word.steps[0].told.endswith(
        "is under 1 %. The two ears do not agree on what was said instead, so it is not quoted"
    )


def test_a_chance_is_never_shown_as_0_or_100_per_cent() -> None:
    word = reconsider(run_of("changed", *SAID_9), _settled(place(0, 0.0001)), WORDS).words[0]
    assert word.steps[-1].told.endswith("is under 1 %")


def test_the_explanation_of_a_slip_made_unsure_by_poor_sound_says_so() -> None:
    word = soften_for_poor_sound(RUN, SETTLED, sound(12.0)).words[1]
    assert (word.verdict, word.steps[-1].by, word.steps[-1].verdict) == ("unsure", "poor sound", "unsure")
    assert word.steps[-1].told.endswith("and one of the three hearings had the script's words here")
    others = soften_for_poor_sound(RUN, SETTLED, sound(12.0)).words[3:5]
    assert all(
        w.steps[-1].told.endswith("and two of the three hearings had the script's words here") for w in others
    )


def test_a_corrected_slip_keeps_the_explanation_of_its_first_verdict() -> None:
    review = hear_said(LAMP, "the candle the lamp burned low and nobody came")
    assert [w.verdict for w in review.run.words] == ["said"] * 7
    review = hear_said(LAMP, "the lamp burned slow low and nobody came")
    assert all(w.steps for w in review.run.words)


def test_the_explanation_of_swapped_words_ends_with_the_swap() -> None:
    words = hear_said(verse("no bell, no oar, no cry"), "no oar no bell no cry").run.words
    assert [s.by for s in words[1].steps] == ["alignment", "swap"]
    assert words[1].steps[-1].verdict == "changed"


def test_verdicts_are_equal_even_if_their_explanations_differ() -> None:
    found = run("The kettle sang", "the kettle sang").words[0]
    assert found == WordVerdict(0, "The", "said", "the", 0.0, 0.4, 0.98)


def test_a_word_to_explain_is_given_by_its_text_or_by_its_time() -> None:
    """In the fake hearing every word lasts 0.3 s: the third begins at 0.6 s."""
    heard = heard_as(LAMP, "the lamp burned low and nobody came")
    assert [w.i for w in words_asked(heard, "NOBODY")] == [5]
    assert [w.i for w in words_asked(heard, "0.7")] == [2]
    assert [w.i for w in words_asked(heard, "0:00.1")] == [0]
    assert [w.i for w in words_asked(heard, "3")] == [6]


def test_a_time_in_minutes_and_seconds_finds_a_word_up_to_a_second_away() -> None:
    """Seven words, each of .3 s, the last two after a minute and after two."""
    heard = heard_as(LAMP, "the lamp burned low and [58.5] nobody [59.7] came")
    assert [w.i for w in words_asked(heard, "1:00")] == [5]
    assert [w.i for w in words_asked(heard, "2:00")] == [6]
    assert [w.i for w in words_asked(heard, "2:01.2")] == [6]
    with pytest.raises(OffbookError):
        words_asked(heard, "2:01.4")
    with pytest.raises(OffbookError):
        words_asked(heard, "1:58.9")


@pytest.mark.parametrize("asked", ["kettle", "9:59", ""])
def test_a_word_or_a_time_that_does_not_occur_is_refused_in_two_lines(asked: str) -> None:
    with pytest.raises(OffbookError) as e:
        words_asked(heard_as(LAMP, "the lamp burned low and nobody came"), asked)
    assert e.value.what and e.value.do


def test_the_screen_numbers_the_steps_of_each_word() -> None:
    review = hear_said(LAMP, "the lamp burned slow and nobody came")
    heard = heard_as(LAMP, "the lamp burned slow and nobody came")
    object.__setattr__(heard, "review", review)
    assert explained(heard, "low").splitlines() == [
        "“low”, word 4, line 1 at 0:01: changed",
        "  1. alignment: “slow” was heard in its place, with a confidence of 0.98",
        "     (changed)",
    ]


def _settled(*places: WeighedPlace) -> list[SettledSegment]:
    return [SettledSegment((), places)]
