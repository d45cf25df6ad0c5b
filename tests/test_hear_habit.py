"""How the whole run-through bears on its doubtful places."""

from __future__ import annotations

from dataclasses import replace

from offbook.hear_habit import believed
from offbook.hear_settle import Settled
from offbook.hear_weigh import Weighed
from offbook.score import TIE, Extra, Run, Verdict, WordVerdict

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


def place(i: int, chance: float, rival: str = "x") -> Weighed:
    """Word i, said as written by this chance."""
    return Weighed(i, i + 1, f"w{i}", rival, -3.0, "x", f"w{i}", "x", i + 0.0, i + 0.5, (1.0,), chance)


def seen(verdicts: tuple[Verdict, ...], *places: Weighed) -> list[WordVerdict]:
    return list(believed(run_of(*verdicts), [Settled((), places)], WORDS).words)


def swaps(count: int) -> list[Weighed]:
    """As many places beyond doubt where another word was said."""
    return [place(10 + k, 0.001) for k in range(count)]


def test_the_only_doubtful_place_of_a_clean_run_through_is_believed() -> None:
    word = seen(("changed", "said"), place(0, 0.22))[0]
    assert (word.verdict, word.heard, word.start) == ("said", "w0", 0.0)
    assert word.confidence is not None and word.confidence > TIE


def test_the_same_place_stays_a_slip_where_many_words_were_swapped() -> None:
    verdicts: tuple[Verdict, ...] = ("changed", *SAID_9, *CHANGED_12)
    assert seen(verdicts, place(0, 0.22), *swaps(12))[0].verdict == "changed"


def test_between_the_two_it_is_a_doubt() -> None:
    verdicts: tuple[Verdict, ...] = ("changed", *SAID_9, *CHANGED_12[:3])
    word = seen(verdicts, place(0, 0.2), *swaps(3))[0]
    assert word.verdict == "unsure"
    assert word.confidence is not None and word.confidence <= TIE


def test_a_slip_beyond_doubt_stays_one_in_the_cleanest_run_through() -> None:
    assert seen(("changed",), place(0, 0.01))[0].verdict == "changed"


def test_a_dropped_word_is_not_taken_for_said_by_habit() -> None:
    """Only swaps are softened: a word heard in the place of another may be that word misheard."""
    assert seen(("dropped", "said"), place(0, 0.25, rival=""))[0].verdict == "dropped"


def test_the_rival_of_a_place_believed_is_no_added_word() -> None:
    """Aligned as a word dropped and another put in, it is taken back as a whole."""
    run = replace(
        run_of("dropped", "said"), extras=(Extra(0, "x", 0.1, 0.4, 0.8), Extra(1, "um", 0.7, 0.9, 1.0))
    )
    after = believed(run, [Settled((), (place(0, 0.25),))], WORDS)
    assert after.words[0].verdict == "said"
    assert [x.heard for x in after.extras] == ["um"]


def test_what_was_said_is_never_held_against_anybody() -> None:
    before = run_of("said", *SAID_9, *CHANGED_12)
    after = believed(before, [Settled((), (place(0, 0.4), *swaps(12)))], WORDS)
    assert after.words[0] == before.words[0]
    assert after.extras == before.extras


def test_a_place_said_twice_counts_as_it_was_said_last() -> None:
    """The first time in doubt, the second time beyond it."""
    verdicts: tuple[Verdict, ...] = ("changed", "said")
    again = replace(place(0, 0.005), start=5.0, end=5.5)
    assert seen(verdicts, place(0, 0.25), again)[0].verdict == "changed"


def test_a_word_said_elsewhere_is_not_taken_for_said_where_the_script_has_it() -> None:
    """Doubtful, and in a stretch said out of its place: what was heard there stands beside another word."""
    run = replace(run_of("dropped", "said", "said"), extras=(Extra(2, "x", 0.1, 0.4, 0.8),))
    after = believed(run, [Settled((), (place(0, 0.25),))], WORDS)
    assert (after.words[0].verdict, after.extras) == ("dropped", run.extras)
