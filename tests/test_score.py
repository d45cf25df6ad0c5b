"""The score: verdicts from an alignment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from offbook.align import AlignedWord, Alignment, AlignmentStep
from offbook.align.alignment import align
from offbook.recognise import HeardWord
from offbook.score import Run, score
from offbook.script import parse_script
from offbook.words import words_of

UNKNOWN_WORDS = {
    "makest": (("maxed",),), "'tis": (("tis",),), "thrapple": (), "unmute": (("an", "mute"), ("on", "mute"))
}  # fmt: skip


def heard(text: str, *, doubtful: Sequence[str] = ()) -> list[HeardWord]:
    """Words half a second each; "word?" is a tie."""
    return [
        HeardWord(w.rstrip("?"), k / 2, k / 2 + 0.4, 0.5 if w.endswith("?") else 0.98)
        for k, w in enumerate(text.split())
    ]


def run(script: str, said: str) -> Run:
    """The score of a script against heard words; some words are outside the vocabulary."""
    parsed = parse_script(script)
    words = words_of(parsed)
    places, line = [], 0
    for w in words:
        spoken = w.spoken[0]
        forms = UNKNOWN_WORDS.get(spoken[0], (spoken,))
        places.append(AlignedWord(forms, w.line != line, spoken, spoken[0] not in UNKNOWN_WORDS))
        line = w.line
    words_heard = heard(said)
    return score(words, places, words_heard, align(places, words_heard))


def verdicts(found: Run) -> str:
    """One letter a word: said, unsure, changed, dropped."""
    return "".join(w.verdict[0] for w in found.words)


SCRIPT = "The kettle sang\nbefore the house was up"


def test_a_speech_said_as_written_has_only_said_words_with_their_times() -> None:
    """The times rise and are those of the recording."""
    found = run(SCRIPT, "the kettle sang before the house was up")
    assert verdicts(found) == "s" * 8
    assert found.extras == ()
    assert (found.accuracy, found.accuracy_low) == (1.0, 1.0)
    assert found.words[0].start == 0.0 and found.words[-1].end == 3.9
    assert found.seconds == 3.9


def test_another_word_in_its_place_makes_a_word_changed_and_none_makes_it_dropped() -> None:
    """The note says what was heard instead."""
    found = run(SCRIPT, "the kettle sang before a house up")
    assert verdicts(found) == "sssscsds"
    assert found.words[4].heard == "a"


def test_three_words_heard_as_written_between_two_dropped_stretches_count_as_said() -> None:
    """Heard "one two three" are never told as changed to "one two three"; two of them may be an accident."""
    scored = _unaligned("I have the cold so I probably sound ill", "cold so i")
    assert verdicts(scored) == "dddsssddd"
    assert [(w.start, w.end) for w in scored.words[3:6]] == [(0.0, 0.4), (0.5, 0.9), (1.0, 1.4)]
    assert scored.extras == ()
    assert verdicts(_unaligned("I have the cold so I probably sound ill", "so i")) == "ddddccddd"


def _unaligned(script: str, said: str) -> Run:
    """The score where the alignment found no hit at all."""
    words = words_of(parse_script(script))
    places = [AlignedWord((w.spoken[0],), False, w.spoken[0]) for w in words]
    none = [AlignmentStep("insertion", 0, 0, k, k + 1) for k in range(len(said.split()))]
    return score(words, places, heard(said), Alignment(tuple(none), 0.0))


def test_a_tie_is_unsure_and_counts_as_said_in_accuracy_but_as_missed_in_the_lower_figure() -> None:
    """These figures are `accuracy` and `accuracy_low` in the JSON."""
    found = run(SCRIPT, "the kettle sang? before the house was up")
    assert verdicts(found) == "ssusssss"
    assert found.accuracy == 1.0
    assert found.accuracy_low == 7 / 8


def test_a_wrong_word_heard_with_low_confidence_is_unsure_and_not_changed() -> None:
    """A verdict must not be certain and wrong."""
    assert verdicts(run(SCRIPT, "the kettle sang before marble? house was up")) == "ssssusss"


@pytest.mark.parametrize(("weighed", "verdict"), [(True, "changed"), (False, "unsure")])
def test_a_weighed_word_needs_more_than_a_tie_and_a_word_only_heard_needs_more(
    weighed: bool, verdict: str
) -> None:
    """ "lit" is heard for "was" with 0.6: the chance from the weighing, or the confidence of a hearing."""
    words = words_of(parse_script("the lamp was on"))
    places = [AlignedWord((w.spoken[0],), False, w.spoken[0], True) for w in words]
    said = [
        replace(w, confidence=0.6, weighed=weighed) if w.word == "lit" else w
        for w in heard("the lamp lit on")
    ]
    assert score(words, places, said, align(places, said)).words[2].verdict == verdict


@pytest.mark.parametrize(
    ("weighed", "confidence", "in_place", "another"),
    [
        (False, 0.69, "said", "unsure"),
        (False, 0.7, "said", "changed"),
        (False, 0.5, "unsure", "unsure"),
        (False, 0.51, "said", "unsure"),
        (True, 0.49, "unsure", "unsure"),
        (True, 0.5, "unsure", "changed"),
        (True, 0.51, "said", "changed"),
    ],
)
def test_the_confidence_decides_whether_a_word_is_said_changed_or_unsure(
    weighed: bool, confidence: float, in_place: str, another: str
) -> None:
    parsed = parse_script(SCRIPT)
    words = words_of(parsed)
    places = [AlignedWord((w.spoken[0],), False, w.spoken[0], True) for w in words]
    for said, verdict in (("kettle", in_place), ("copper", another)):
        hear = heard(f"the {said} sang before the house was up")
        hear[1] = replace(hear[1], confidence=confidence, weighed=weighed)
        found = score(words, places, hear, align(places, hear)).words[1]
        assert (found.verdict, found.confidence) == (verdict, confidence)


def test_added_words_are_extras_before_the_word_that_was_said_next() -> None:
    """They are in the order in which they were heard."""
    found = run(SCRIPT, "the very old kettle sang before the house was up then")
    assert [(x.before_word, x.heard) for x in found.extras] == [(1, "very"), (1, "old"), (8, "then")]
    assert verdicts(found) == "s" * 8


def test_an_added_word_among_changed_words_stands_before_the_word_said_next() -> None:
    """Even in a line said in other words, every word keeps the order in which it was said."""
    found = run(
        "the kettle sang\nbefore sunrise today\nwe counted", "the kettle sang for nine days we counted"
    )
    order = sorted(
        [(w.start, w.i, w.heard) for w in found.words if w.verdict == "changed"]
        + [(x.start, x.before_word - 0.5, x.heard) for x in found.extras],
        key=lambda each: each[0] or 0.0,
    )
    assert [each[2] for each in order] == ["for", "nine", "days"]
    assert [each[1] for each in order] == sorted(each[1] for each in order)
    said = "the kettle sang and so old a harbour light lay we counted"
    found = run("the kettle sang\nbefore sunrise today\nwe counted", said)
    places = {x.heard: x.before_word for x in found.extras}
    assert len(places) == 4 and set(places.values()) != {6}


def test_a_correction_counts_as_said_and_the_corrected_words_are_extras() -> None:
    """The later saying counts."""
    found = run(SCRIPT, "the kettle sang after the house before the house was up")
    assert verdicts(found) == "s" * 8
    assert [x.heard for x in found.extras] == ["after", "the", "house"]


def test_a_word_that_is_heard_as_several_is_told_as_the_script_has_it_where_it_is_said_again() -> None:
    """The time is that of all of them and the confidence that of the least sure one."""
    script = "unmute yourself before noon"
    found = run(script, "an mute? yourself on mute yourself before noon an apple mute an mute")
    assert verdicts(found) == "ssss"
    assert [x.heard for x in found.extras] == ["unmute", "yourself", "an", "apple", "mute", "unmute"]
    first, last = found.extras[0], found.extras[-1]
    assert (first.start, first.end, first.confidence) == (0.0, 0.9, 0.5)
    assert (last.start, last.end, last.before_word) == (5.5, 6.4, 4)
    apart = run(script, "an mute an yourself mute before noon")
    assert [(x.heard, x.before_word) for x in apart.extras] == [("an", 1), ("mute", 2)]


LONG = SCRIPT + "\nand nobody came down the stair\nto carry out the ashes from the night"


def test_a_complete_run_through_counts_even_if_a_second_one_is_begun_and_broken_off() -> None:
    """Somebody who said it all and then began again has not dropped the end."""
    whole = LONG.lower().replace("\n", " ")
    for again in (4, 8, 14, 18):
        found = run(LONG, f"{whole} {' '.join(whole.split()[:again])}")
        assert set(verdicts(found)) == {"s"}, again
        assert len(found.extras) == again
    third = " ".join(whole.split()[:9])
    assert set(verdicts(run(LONG, f"{third} {whole} {third}"))) == {"s"}


def test_if_a_repeated_word_is_said_only_once_the_first_counts_as_said() -> None:
    """Somebody who follows in the book would understand it so."""
    assert verdicts(run("and then then the house was up", "and then the house was up")) == "ssdssss"
    assert verdicts(run("and very very very old it was", "and very old it was")) == "ssddsss"
    assert verdicts(run("they said no\nno more of it", "they said no more of it")).count("d") == 1


FOUR = SCRIPT + "\nand nobody came down the stair\nto carry out the ashes from the night\nwe slept till noon"


def test_going_back_and_then_on_from_the_farthest_point_drops_no_word() -> None:
    a, b, c, d, e = FOUR.lower().split("\n")
    assert set(verdicts(run(FOUR, " ".join([a, b, c, d, b, e])))) == {"s"}
    assert set(verdicts(run(FOUR, " ".join([a, b, c, d, a, b, c, d, e])))) == {"s"}


def test_a_line_left_out_when_the_speech_is_said_again_is_dropped() -> None:
    a, b, c, d, e = FOUR.lower().split("\n")
    found = run(FOUR, " ".join([a, b, c, d, a, b, d, e]))
    assert {w.i for w in found.words if w.verdict == "dropped"} == set(range(8, 14))


def test_of_two_complete_run_throughs_the_later_one_counts() -> None:
    whole = LONG.lower().replace("\n", " ")
    assert verdicts(run(LONG, f"{whole} {whole.replace('nobody ', '')}")).count("d") == 1
    assert verdicts(run(LONG, f"{whole.replace('nobody ', '')} {whole}")) == "s" * 22


def test_a_whole_line_left_out_is_dropped_word_for_word() -> None:
    """Nothing else is dropped."""
    script = "We counted seven herons\nnobody told the baker\nthe lamp went out"
    assert verdicts(run(script, "we counted seven herons the lamp went out")) == "ssssddddssss"


def test_a_line_said_in_another_place_is_dropped_in_its_own_and_extra_in_the_other() -> None:
    """So the notes can say that it was moved."""
    one, two, three = (
        "the river runs behind the silver mill",
        "a candle stood in every upper window",
        "no thunder came but feathers fell down",
    )
    found = run(f"{one}\n{two}\n{three}", f"{one} {three} {two}")
    moved = [w.i for w in found.words if w.verdict == "dropped"]
    assert moved in ([*range(7, 14)], [*range(14, 21)])
    assert len(found.extras) == 7


def test_a_word_outside_the_vocabulary_is_said_when_heard_as_what_it_sounds_like() -> None:
    """It is shown as it is in the script."""
    found = run("what thou makest here", "what thou maxed here")
    assert verdicts(found) == "ssss"
    assert found.words[2].heard == "makest"
    assert verdicts(run("what thou makest here", "what thou makes here")) == "ssss"


def test_a_wrong_word_in_the_place_of_one_outside_the_vocabulary_is_changed() -> None:
    """Not every word is accepted in its place."""
    assert verdicts(run("what thou makest here", "what thou borrow here")) == "sscs"


def test_a_word_that_no_known_word_sounds_like_is_unsure_and_never_changed() -> None:
    """If no known words sound like it, nobody can tell whether it was said."""
    assert verdicts(run("his thrapple ached", "his borrow ached")) == "sus"


def test_the_same_hearing_gives_the_same_score() -> None:
    """Scoring is deterministic."""
    said = "the kettle sang sang before a house was was up"
    assert run(SCRIPT, said) == run(SCRIPT, said)


@pytest.mark.parametrize(
    "script, said, expected, instead",
    [
        ("I am told a swallow came", "i'm told a swallow came", "ccssss", ["i'm", "i'm"]),
        ("I'm told a swallow came", "i am told a swallow came", "cssss", ["i am"]),
        ("nobody told us it is not far", "nobody told us it isn't far", "ssssccs", ["isn't", "isn't"]),
        ("the light 'tis gone from us", "the light it is gone from us", "sscsss", ["it is"]),
    ],
)
def test_a_contraction_for_the_full_form_or_the_reverse_is_changed_with_no_dropped_or_added_word(
    script: str, said: str, expected: str, instead: list[str]
) -> None:
    """Every word of it is changed into the same words, at the same time."""
    found = run(script, said)
    assert verdicts(found) == expected
    assert [w.heard for w in found.words if w.verdict == "changed"] == instead
    assert found.extras == ()


def test_beside_a_dropped_word_a_contraction_is_still_changed_and_not_dropped() -> None:
    """Only the word that was left out is dropped."""
    found = run("we know that I am often told so", "we know i'm told so")
    assert verdicts(found) == "ssdccdss"


def test_a_contraction_heard_with_low_confidence_is_unsure() -> None:
    """This holds for every wrong word that was heard with low confidence."""
    assert verdicts(run("I am told so", "i'm? told so")) == "uuss"


def test_if_nothing_was_heard_every_word_is_dropped() -> None:
    """And the run-through has no length."""
    found = run(SCRIPT, "")
    assert verdicts(found) == "d" * 8
    assert (found.seconds, found.speaking_seconds, found.accuracy) == (0.0, 0.0, 0.0)
