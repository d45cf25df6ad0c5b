"""How the whole run-through changes the verdicts on its doubtful places."""

from __future__ import annotations

from dataclasses import replace

import pytest

from offbook.hear import voice_difficulty
from offbook.hear.decide import WeighedPlace
from offbook.hear.rescore import SettledSegment
from offbook.hear.whole_run import reconsider
from offbook.score import SOMETHING_ELSE, TIE, Extra, HeardLikelihood, Run, Verdict, WordVerdict

WORDS = 120
SAID_9: tuple[Verdict, ...] = ("said",) * 9
CHANGED_12: tuple[Verdict, ...] = ("changed",) * 12


def run_of(*verdicts: Verdict) -> Run:
    """A run-through of the words w0, w1 and so on, with these verdicts."""
    words = [
        WordVerdict(i, f"W{i}", v, None if v == "dropped" else "x", None if v == "dropped" else i + 0.0,
                    None if v == "dropped" else i + 0.5, 0.8)
        for i, v in enumerate(verdicts)
    ]  # fmt: skip
    return Run(tuple(words), (), 10.0, 9.0)


def place(i: int, chance: float, rival: str = "x") -> WeighedPlace:
    """Word i, said as written by this chance."""
    return WeighedPlace(i, i + 1, f"w{i}", rival, -3.0, "x", f"w{i}", "x", i + 0.0, i + 0.5, (1.0,), chance)


def seen(verdicts: tuple[Verdict, ...], *places: WeighedPlace) -> list[WordVerdict]:
    return list(reconsider(run_of(*verdicts), [SettledSegment((), places)], WORDS).words)


def contested_words(leaning: int, contested: int) -> SettledSegment:
    """A segment whose leaning hearing had so many script words, and of these the contested one so many."""
    return SettledSegment((), (), leaning_hits=leaning, contested_hits=contested)


CLEAR = contested_words(200, 196)
HARD = contested_words(200, 150)


def swaps(count: int) -> list[WeighedPlace]:
    """As many places beyond doubt where another word was said."""
    return [place(10 + k, 0.001) for k in range(count)]


def test_the_only_doubtful_word_of_a_clean_run_through_counts_as_said() -> None:
    word = seen(("changed", "said"), place(0, 0.22))[0]
    assert (word.verdict, word.heard, word.start) == ("said", "w0", 0.0)
    assert word.confidence is not None and word.confidence > TIE


def test_a_doubtful_word_stays_changed_if_many_words_were_changed() -> None:
    verdicts: tuple[Verdict, ...] = ("changed", *SAID_9, *CHANGED_12)
    assert seen(verdicts, place(0, 0.22), *swaps(12))[0].verdict == "changed"


def test_a_doubtful_word_is_unsure_if_a_few_words_were_changed() -> None:
    verdicts: tuple[Verdict, ...] = ("changed", *SAID_9, *CHANGED_12[:3])
    word = seen(verdicts, place(0, 0.2), *swaps(3))[0]
    assert word.verdict == "unsure"
    assert word.confidence is not None and word.confidence <= TIE


def test_a_certain_slip_stays_changed_even_in_the_cleanest_run_through() -> None:
    assert seen(("changed",), place(0, 0.01))[0].verdict == "changed"


def test_a_dropped_word_stays_dropped_in_a_clean_run_through() -> None:
    """Only changed words are softened: the word that was heard may be the script's word misheard."""
    assert seen(("dropped", "said"), place(0, 0.25, rival=""))[0].verdict == "dropped"


def test_the_word_heard_in_the_place_of_a_believed_word_is_not_added() -> None:
    """It was aligned as one dropped and one added word; both verdicts are taken back."""
    run = replace(
        run_of("dropped", "said"), extras=(Extra(0, "x", 0.1, 0.4, 0.8), Extra(1, "um", 0.7, 0.9, 1.0))
    )
    after = reconsider(run, [SettledSegment((), (place(0, 0.25),))], WORDS)
    assert after.words[0].verdict == "said"
    assert [x.heard for x in after.extras] == ["um"]


def test_an_extra_word_heard_at_an_unsure_place_is_not_added() -> None:
    """ "last eat" was heard for one word: if that is doubtful, so is "eat"."""
    run = replace(run_of("changed", *SAID_9, *CHANGED_12), extras=(Extra(1, "eat", 0.3, 0.5, 0.8),))
    places = SettledSegment((), (place(0, 0.008, rival="last eat"), *swaps(12)))
    assert reconsider(run, [places, CLEAR], WORDS).extras == run.extras
    after = reconsider(run, [places, HARD], WORDS)
    assert (after.words[0].verdict, after.extras) == ("unsure", ())


def test_a_word_that_was_said_is_never_called_wrong() -> None:
    before = run_of("said", *SAID_9, *CHANGED_12)
    after = reconsider(before, [SettledSegment((), (place(0, 0.4), *swaps(12)))], WORDS)
    assert after.words[0] == before.words[0]
    assert after.extras == before.extras


def test_a_word_said_twice_counts_as_it_was_said_last() -> None:
    """The first time it is doubtful, the second time it is certain."""
    verdicts: tuple[Verdict, ...] = ("changed", "said")
    again = replace(place(0, 0.005), start=0.6, end=0.9)
    assert seen(verdicts, place(0, 0.25), again)[0].verdict == "changed"


def test_what_was_said_beside_the_script_the_first_time_stays_if_a_part_is_said_once_more() -> None:
    """ "w0 w1 oh w0 w1": the doubts about the first saying do not take away its words."""
    first = replace(place(0, 0.2, rival="x y"), script_to=2, script="w0 w1", start=0.0, end=0.9)
    extras = (Extra(0, "x", 0.1, 0.4, 0.8), Extra(0, "y", 0.5, 0.9, 0.8), Extra(0, "oh", 1.2, 1.5, 0.8))
    run = replace(run_of("changed", *SAID_9), extras=extras)
    again = replace(place(0, 0.2), start=0.92, end=0.99)
    after = reconsider(run, [SettledSegment((), (first, again))], WORDS)
    assert (after.words[0].verdict, after.extras) == ("said", extras)
    assert [e.heard for e in reconsider(run, [SettledSegment((), (first,))], WORDS).extras] == ["oh"]


def test_a_second_beginning_after_the_whole_speech_does_not_change_the_first_verdicts() -> None:
    """The second beginning was interrupted; its doubts and slips do not count for the first."""
    begun_again = replace(place(0, 0.005), start=30.0, end=30.5)
    assert seen(("changed", "said"), place(0, 0.22), begun_again)[0].verdict == "said"


def test_a_word_said_in_another_place_stays_dropped_where_the_script_has_it() -> None:
    """The doubtful word is in a stretch said out of its place, after words that come later in the script."""
    run = replace(run_of("dropped", "said", "said"), extras=(Extra(3, "x", 5.1, 5.4, 0.8),))
    moved = replace(place(0, 0.25), start=5.0, end=5.5)
    after = reconsider(run, [SettledSegment((), (moved,))], WORDS)
    assert (after.words[0].verdict, after.extras) == ("dropped", run.extras)


def test_a_voice_is_hard_to_follow_if_only_the_script_led_hearing_had_many_of_its_words() -> None:
    assert voice_difficulty([CLEAR]) == 0.0
    assert voice_difficulty([HARD]) == 1.0
    assert 0.0 < voice_difficulty([CLEAR, HARD]) < 1.0


def test_a_few_words_do_not_make_a_voice_hard_to_follow() -> None:
    assert voice_difficulty([]) == voice_difficulty([contested_words(20, 18)]) == 0.0


@pytest.mark.parametrize("slip", ["changed", "dropped"])
def test_a_slip_in_a_clear_voice_is_unsure_in_a_voice_that_is_hard_to_follow(slip: Verdict) -> None:
    """For a dropped word too. Many words were changed, so that only the voice makes it unsure."""
    verdicts: tuple[Verdict, ...] = (slip, *SAID_9, *CHANGED_12)
    places = (place(0, 0.008, rival="x" if slip == "changed" else ""), *swaps(12))
    told = [
        reconsider(run_of(*verdicts), [SettledSegment((), places), voice], WORDS).words[0].verdict
        for voice in (CLEAR, HARD)
    ]
    assert told == [slip, "unsure"]


def test_a_certain_slip_stays_changed_however_hard_the_voice_is_to_follow() -> None:
    run = run_of("changed", *SAID_9, *CHANGED_12)
    after = reconsider(run, [SettledSegment((), (place(0, 0.001), *swaps(12))), HARD], WORDS)
    assert after.words[0].verdict == "changed"


def test_the_words_said_instead_are_quoted_only_if_the_second_ear_finds_them_likely() -> None:
    unlikely = replace(place(0, 0.01), quotable=False)
    word = seen(("changed", *SAID_9, *CHANGED_12), unlikely, *swaps(12))[0]
    assert (word.verdict, word.heard) == ("changed", SOMETHING_ELSE)
    word = seen(("changed", *SAID_9, *CHANGED_12), place(0, 0.01), *swaps(12))[0]
    assert (word.verdict, word.heard) == ("changed", "x")


def certain(*log_probabilities: float) -> SettledSegment:
    """A segment whose words the second ear finds so likely."""
    words = tuple(HeardLikelihood(k, k + 0.5, p) for k, p in enumerate(log_probabilities))
    return SettledSegment((), (), likelihoods=words)


def test_with_both_ears_a_voice_is_hard_to_follow_if_the_second_is_seldom_sure_of_what_was_heard() -> None:
    assert voice_difficulty([certain(*[-0.3] * 100)]) == 0.0
    assert voice_difficulty([certain(*[-2.0] * 100)]) == 1.0
    # 60 words of -0.9 and 20 of -0.4 have a mean of -0.775, which is 0.175 of 0.4 beyond -0.6.
    assert voice_difficulty([certain(*[-0.9] * 30), certain(*[-0.9] * 30)]) == pytest.approx(0.4375)


def test_with_both_ears_a_few_doubtful_words_do_not_make_a_voice_hard_to_follow() -> None:
    assert voice_difficulty([certain(-1.5, -1.5, -1.5)]) == 0.0


def test_the_second_ear_tells_how_hard_a_voice_is_whatever_the_first_one_lost() -> None:
    assert voice_difficulty([HARD, certain(*[-0.3] * 100)]) == 0.0
    assert voice_difficulty([CLEAR, certain(*[-2.0] * 100)]) == 1.0
