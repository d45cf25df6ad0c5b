"""How a doubtful place is decided from the scores of its wordings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from offbook.align import AlignedWord
from offbook.hear.decide import WeighedPlace, decide
from offbook.hear.doubtful_places import DoubtfulPlace, is_phrase_begun_twice
from offbook.hear.rescore import lies_between
from offbook.recognise import HeardWord
from offbook.score import TIE


def places(*words: str) -> list[AlignedWord]:
    """Script words that the recogniser knows."""
    return [AlignedWord(((w,),), spoken=(w,)) for w in words]


def decided(
    script: str, scores: Mapping[str, float], hearings: tuple[str, str, str]
) -> tuple[str, Sequence[float]]:
    """The words taken, and their confidences. hearings: free, leaning, contested."""
    heard = {
        wording: (score, [HeardWord(w, k, k + 1.0, 1.0) for k, w in enumerate(wording.split())])
        for wording, score in scores.items()
    }
    words = script.split()
    blank = WeighedPlace(0, len(words), script, "", 0.0, *hearings, 0.0, 1.0)
    found, _ = decide(places(*words), [script], heard, [], blank)
    return " ".join(w.word for w in found), [w.confidence for w in found]


def test_a_slightly_better_score_for_another_word_does_not_replace_the_word_that_was_said() -> None:
    """The script has "sweet the", "the" was said: a slightly better "a" is not taken for it."""
    assert decided("sweet the", {"a": 300.4, "the": 300.0}, ("the", "the", "a"))[0] == "the"


def test_a_longer_wording_is_not_preferred_because_it_contains_the_scripts_word() -> None:
    """The script has "are", and "were" was said."""
    assert decided("are", {"were": 277.6, "were are": 276.4}, ("were", "are", "or"))[0] == "were"


def test_the_more_the_rival_leads_the_script_the_likelier_the_rival_was_said() -> None:
    """With a small lead of the rival the word is said, with a large one the rival; between, it is unsure."""
    hearings = ("from", "for", "from")
    taken = [decided("for", {"from": 300.0, "for": 300.0 + lead}, hearings) for lead in (2, -0.5, -2.4, -7)]
    assert [words for words, _ in taken] == ["for", "for", "for", "from"]
    sure = [confidences[0] for _, confidences in taken]
    assert sure[0] > sure[1] > TIE >= sure[2]
    assert sure[3] > TIE


def test_a_hearing_that_had_the_scripts_word_counts_in_its_favour() -> None:
    """With the same scores it is said if the free hearing had it; if none had, the rival is taken."""
    scores = {"the": 300.0, "that": 295.0}
    assert decided("that", scores, ("that", "that", "the"))[0] == "that"
    assert decided("that", scores, ("the", "the", "the"))[0] == "the"


def test_a_word_that_every_hearing_added_is_taken_even_at_an_equal_score() -> None:
    """For example "no oar", which sounds like "know or"."""
    scores = {"no oar": 381.4, "": 381.4}
    assert decided("", scores, ("know or", "no oar", "no oar"))[0] == "no oar"
    assert decided("", scores, ("", "no oar", "no oar"))[0] == ""


def test_the_fewer_hearings_had_an_added_word_the_larger_its_lead_must_be() -> None:
    """A lead of 2 is enough if all three hearings had the word, 4 if two had it, 6 if one had."""

    def taken(lead: float, hearings: tuple[str, str, str]) -> bool:
        return decided("", {"of": 300.0 + lead, "": 300.0}, hearings)[0] == "of"

    fewer = (("of", "of", "of"), ("of", "of", ""), ("of", "", ""))
    assert [taken(2, hearings) for hearings in fewer] == [True, False, False]
    assert [taken(4, hearings) for hearings in fewer] == [True, True, False]
    assert [taken(6, hearings) for hearings in fewer] == [True, True, True]


def test_of_rivals_with_similar_scores_the_one_that_was_heard_is_compared_with_the_script() -> None:
    """The script has "on"; "in" was said and heard, and a third wording scores slightly higher."""
    taken = decided("on", {"and": 281.3, "in": 281.1, "on": 277.0}, ("in", "on", "in"))
    assert taken[0] == "in"


def test_a_rival_that_two_hearings_had_counts_more_than_one_found_only_by_weighing() -> None:
    """The scores and the hearing led by the script are the same in both cases."""
    scores = {"has": 300.0, "as": 297.0}
    assert decided("as", scores, ("as", "as", "as"))[0] == "as"
    assert decided("as", scores, ("has", "as", "has"))[1][0] <= TIE


def test_the_same_sounds_divided_into_other_words_are_unsure_and_not_a_slip() -> None:
    """No hearing had the script's words, but what they had differs in one consonant of eleven."""
    rival = "besieged eyebrow"
    taken = decided("besiege thy brow", {rival: 305.0, "besiege thy brow": 300.0}, (rival, rival, rival))
    assert taken[0] == "besiege thy brow"
    assert max(taken[1]) <= TIE


def test_a_changed_small_word_is_found_even_among_matching_words() -> None:
    scores = {"was the best": 305.0, "was a best": 300.0}
    assert decided("was a best", scores, ("was the best",) * 3)[0] == "was the best"


def test_a_phrase_said_twice_is_not_reduced_to_its_first_word() -> None:
    """The script has "has"; every hearing had the line again from there."""
    again = "has never been surpassed has"
    taken = decided("has", {again: 300.0, "as never been surpassed as": 299.0}, (again, again, again))
    assert taken[0] == again


def test_words_of_another_saying_of_the_same_phrase_do_not_lie_at_a_place() -> None:
    """Two words were said at 5 and 5.5 s, and again at 8 and 8.5 s; the place is from 4.8 to 6 s."""
    said = [
        HeardWord(w, at, at + 0.5, 1.0)
        for w, at in zip(["an", "mute", "an", "mute"], (5, 5.5, 8, 8.5), strict=True)
    ]
    assert lies_between(said, 0, 2, 4.8, 6.0)
    assert not lies_between(said, 2, 4, 4.8, 6.0)
    assert not lies_between(said, 1, 3, 4.8, 6.0), "one of the two is enough"
    assert lies_between(said, 2, 4, 7.0, 9.0)
    assert not lies_between(said, 0, 2, 7.0, 9.0)


def test_no_word_lies_at_a_place_only_if_the_words_around_it_do_not_lie_beyond_it() -> None:
    """Words were said at 5 and 8 s, nothing between them."""
    said = [HeardWord("for", 5.0, 5.5, 1.0), HeardWord("them", 8.0, 8.5, 1.0)]
    assert lies_between(said, 1, 1, 5.4, 8.1), "between the two"
    assert not lies_between(said, 2, 2, 4.0, 6.0), "the word before it was said later than the place"
    assert lies_between(said, 2, 2, 8.4, 9.0)
    assert not lies_between(said, 0, 0, 6.0, 7.0), "the word behind it was said earlier than the place"
    assert lies_between(said, 0, 0, 4.0, 5.1)
    assert lies_between([], 0, 0, 1.0, 2.0)


def test_a_phrase_begun_twice_may_have_been_broken_off_at_another_word() -> None:
    """At least two of its words are said again, right behind it, and the script has no word there."""

    def begun_twice(said: str, first: int, stop: int, script: int = 0) -> bool:
        lean = [HeardWord(w, k, k + 1.0, 1.0) for k, w in enumerate(said.split())]
        return is_phrase_begun_twice(DoubtfulPlace(3, 3 + script, first, stop), lean)

    assert begun_twice("we use the cave use the key", 1, 4)
    assert begun_twice("we use the use the key", 1, 3), "or at none"
    assert not begun_twice("we use the cave use the key", 1, 4, script=1)
    assert not begun_twice("we use the old cave use the key", 1, 5), "at a second one"
    assert not begun_twice("we use cave use the key", 1, 3), "one word of it said again"
    assert not begun_twice("we use the cave and use the key", 1, 4), "not right behind it"
    assert not begun_twice("we use the cave use the", 4, 6)
