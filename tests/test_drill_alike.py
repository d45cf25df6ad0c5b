"""A typed answer is judged by what is said, and a prompt is counted as one."""

from __future__ import annotations

import pytest

from offbook.drill import Answering, JudgedAnswer, before_a_prompt, judge
from offbook.drill.judging import passes
from offbook.script import Script, parse_script
from offbook.words import Word, words_of


def speech(text: str) -> tuple[Script, tuple[Word, ...]]:
    script = parse_script(text, title="a speech")
    return script, words_of(script)


def judged(text: str, answer: str) -> JudgedAnswer:
    return judge(speech(text)[1], answer)


@pytest.mark.parametrize(
    ("printed", "typed"),
    [
        ("charm'd", "charmed"),
        ("wish'd", "wished"),
        ("play'd", "played"),
        ("look'd", "looked"),
        ("learn'd", "learned"),
        ("dimm'd", "dimmed"),
        ("oppress'd", "oppressed"),
        ("deceiv'd", "deceived"),
        ("try'd", "tried"),
        ("undiscover’d", "undiscovered"),
        ("o'er", "over"),
        ("ne'er", "never"),
        ("heav'n", "heaven"),
        ("pow'r", "power"),
        ("ev'ry", "every"),
        ("tho'", "though"),
        ("th'", "the"),
        ("see'st", "seest"),
        ("'tis", "tis"),
        ("'em", "them"),  # CMUdict has 'em as a word of its own
    ],
)
def test_two_printed_spellings_of_one_word_count_as_the_same_word(printed: str, typed: str) -> None:
    """Spellings of the First Folio and of later editions; which are one word is common knowledge."""
    assert passes(printed, typed) == "right" and passes(typed, printed) == "right"


@pytest.mark.parametrize(
    ("script", "typed"),
    [
        ("your", "you're"),  # CMUdict: Y AO R against Y UH R first
        ("you're", "your"),
        ("ill", "I'll"),
        ("were", "we're"),
        ("learned", "learnt"),
        ("never", "ever"),
        ("the", "thee"),
    ],
)
def test_two_words_that_are_pronounced_differently_do_not_count_as_the_same(script: str, typed: str) -> None:
    assert passes(script, typed) == "no"


@pytest.mark.parametrize(("script", "typed"), [("their", "there"), ("whose", "who's"), ("knight", "night")])
def test_a_word_with_the_same_pronunciation_passes_as_a_typing_mistake(script: str, typed: str) -> None:
    """CMUdict has one pronunciation for both."""
    assert passes(script, typed) == "typo"


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("To-morrow, and to-morrow, and to-morrow", "tomorrow and tomorrow and tomorrow"),
        ("I will see her tomorrow", "I will see her to-morrow"),
    ],
)
def test_a_compound_may_be_typed_with_or_without_its_hyphen(text: str, answer: str) -> None:
    found = judged(text, answer)
    assert found.clean and {p.kind for p in found.places} == {"right"}


# Prompts -------------------------------------------------------------------------------------------

LAMP = "The lamp was lit before the tide came in, and nobody asked who carried up the oil."


def answering() -> Answering:
    script, words = speech(LAMP)
    return Answering(script, words, 0, len(words) - 1)


@pytest.mark.parametrize(
    ("typed", "before"),
    [("?", ""), ("the lamp ?", "the lamp"), ("line?", ""), ("the lamp line ?", "the lamp"), ("line", "")],
)
def test_a_question_mark_or_the_word_line_asks_for_a_prompt(typed: str, before: str) -> None:
    assert before_a_prompt(typed) == before


def test_a_question_or_the_scripts_own_word_line_does_not_ask_for_a_prompt() -> None:
    assert before_a_prompt("who carried up the oil?") is None
    assert before_a_prompt("line", "Line") is None


def test_the_first_prompt_gives_the_next_word_and_the_second_the_rest_of_its_phrase() -> None:
    one, word = answering().add("the lamp was").prompt()
    two, phrase = one.prompt()
    assert (word, phrase) == ("lit", "before the tide came in")
    assert two.shown == "the lamp was [lit] [before the tide came in]"
    _, later = two.add("and nobody").prompt()
    assert later == "asked", "with words between, a prompt is one word again"


def test_a_prompted_word_does_not_count_as_right_and_the_other_words_do() -> None:
    answer, _ = answering().add("the lamp was").prompt()
    found = answer.add("before the tide came in and nobody asked who carried up the oil").judged()
    assert (found.right, found.words) == (16, 17) and not found.clean
    assert [p.script for p in found.places if p.kind == "prompted"] == ["lit"]


def test_a_prompted_word_may_be_typed_again_without_counting_as_added() -> None:
    answer, _ = answering().add("the lamp was").prompt()
    found = answer.add("lit before the tide came in and nobody asked who carried up the oil").judged()
    assert found.added == 0 and found.right == 16


def test_prompts_stop_at_the_end_of_the_thought() -> None:
    answer = answering().add("the lamp was lit before the tide came in and nobody asked who carried up the")
    answer, word = answer.prompt()
    assert word == "oil" and answer.prompt()[1] == ""
