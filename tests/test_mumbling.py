"""Several words in a row that neither ear understood are unsure; clear, short or silent ones stay wrong."""

from __future__ import annotations

from collections.abc import Sequence

from offbook.hear.mumbling import doubt_mumbled
from offbook.score import SOMETHING_ELSE, TIE, HeardLikelihood, Run, Verdict, WordVerdict
from offbook.script import parse_script
from offbook.words import words_of

WORDS = words_of(parse_script("We knew it would probably sound quite different than the other one did."))
MUMBLED = range(4, 9)  # probably sound quite different than: 31 letters
LETTER = 0.05  # s, the pace of what is said
NEEDED = 31 * LETTER


def heard(
    share: float, log_probability: float = -3.8, wrong: range = MUMBLED, unsure: Sequence[int] = ()
) -> Run:
    """A run in which the words `wrong` were not said, but one word that took this share of their time."""
    found, surely, at = [], [], 0.0
    for w in WORDS:
        seconds = sum(c.isalnum() for c in w.text) * LETTER
        missed = w.i in wrong or w.i in unsure
        verdict: Verdict = "unsure" if w.i in unsure else "dropped" if missed else "said"
        start, end = (None, None) if missed else (at, at + seconds)
        found.append(WordVerdict(w.i, w.text, verdict, None if missed else w.text, start, end, None))
        if not missed:
            surely.append(HeardLikelihood(at, at + seconds, -0.02))
        at += seconds
    if share:
        begin = sum(sum(c.isalnum() for c in w.text) for w in WORDS[: wrong[0]]) * LETTER
        surely.append(HeardLikelihood(begin, begin + share * NEEDED, log_probability))
    return Run(tuple(found), (), at, at, tuple(surely))


def verdicts(run: Run) -> str:
    """One letter a word, as doubt leaves it: said, unsure, changed, dropped."""
    return "".join(w.verdict[0] for w in doubt_mumbled(run).words)


def test_words_are_unsure_if_something_as_long_was_said_that_neither_ear_understood() -> None:
    run = doubt_mumbled(heard(0.5))
    assert verdicts(heard(0.5)) == "ssssuuuuussss"
    step = run.words[4].steps[-1]
    assert (step.by, step.verdict) == ("second ear", "unsure")
    assert step.told.startswith("something was said here for about as long as these words take")
    assert (run.words[4].heard, run.words[4].confidence) == (None, None)


def test_words_are_dropped_if_the_sound_in_their_place_is_too_short_for_them() -> None:
    """Two fifths of the time that the words need are enough; set by hand (`offbook.hear.mumbling`)."""
    assert verdicts(heard(0.41)) == "ssssuuuuussss"
    assert verdicts(heard(0.39)) == "ssssdddddssss"
    assert verdicts(heard(0.0)) == "ssssdddddssss"


def test_words_stay_dropped_if_the_second_ear_finds_the_other_words_likely() -> None:
    assert verdicts(heard(0.8, -1.0)) == "ssssdddddssss"
    assert verdicts(heard(0.8, -1.01)) == "ssssuuuuussss"


def test_only_stretches_of_four_to_eight_words_become_unsure() -> None:
    assert verdicts(heard(0.9, wrong=range(4, 8))) == "ssssuuuusssss"
    assert verdicts(heard(0.9, wrong=range(4, 7))) == "ssssdddssssss"
    assert verdicts(heard(2.0, wrong=range(3, 11))) == "sssuuuuuuuuss"
    assert verdicts(heard(2.0, wrong=range(2, 11))) == "ssdddddddddss"


def test_a_word_already_unsure_counts_for_the_stretch_and_is_not_changed() -> None:
    run = heard(0.9, wrong=range(4, 9), unsure=[6])
    assert verdicts(run) == "ssssuuuuussss"
    assert doubt_mumbled(run).words[6].steps == ()


def test_a_stretch_becomes_unsure_if_at_least_three_of_its_words_are_wrong() -> None:
    assert verdicts(heard(0.9, wrong=range(4, 8), unsure=[5])) == "ssssuuuusssss"
    assert verdicts(heard(0.9, wrong=range(4, 8), unsure=[5, 6])) == "ssssduudsssss"


def test_a_stretch_at_the_beginning_or_the_end_keeps_its_verdicts() -> None:
    assert verdicts(heard(0.9, wrong=range(4))) == "ddddsssssssss"
    assert verdicts(heard(0.9, wrong=range(9, 13))) == "sssssssssdddd"


def test_a_mumbled_word_no_longer_quotes_what_was_heard() -> None:
    run = heard(0.9)
    slip = WordVerdict(6, "quite", "changed", "pies", 1.0, 1.2, 1.0)
    words = (*run.words[:6], slip, *run.words[7:])
    found = doubt_mumbled(Run(words, (), 2.0, 2.0, run.likelihoods)).words[6]
    assert (found.verdict, found.heard, found.confidence) == ("unsure", SOMETHING_ELSE, TIE)


def test_without_a_second_ear_no_verdict_changes() -> None:
    run = heard(0.9)
    alone = Run(run.words, (), 2.0, 2.0)
    assert doubt_mumbled(alone) == alone
