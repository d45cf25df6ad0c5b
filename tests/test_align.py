"""Alignment: planted answers are found again."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from offbook.align import AlignedWord, Alignment, align_part, last_hits, pair_by_sound
from offbook.align.alignment import align
from offbook.align.error_counts import error_counts
from offbook.align.gaps import Gap, gaps
from tests.recordings import TWO_CITIES

_POOL = "river garden silver stone candle window thunder feather marble ribbon saddle orchard"
POOL = _POOL.split()
TEXT = st.lists(st.sampled_from(POOL), min_size=1, max_size=12)


def places(text: str, every: int = 0) -> list[AlignedWord]:
    """The words of a text as places; a line opens at each line end, or every so many words."""
    found = []
    for line in text.splitlines():
        for k, word in enumerate(re.findall(r"[\w']+", line.lower())):
            opens = k == 0 or bool(every and k % every == 0)
            found.append(AlignedWord(((word,),), opens, (word,)))
    return found


def kinds(alignment: Alignment) -> str:
    """One letter a step."""
    return "".join(s.kind[0] for s in alignment.steps)


def dropped(alignment: Alignment) -> list[int]:
    """Script words no hit covers."""
    hit = last_hits(alignment)
    top = max((s.script_to for s in alignment.steps), default=0)
    return [i for i in range(top) if i not in hit]


@given(TEXT)
def test_a_script_said_as_written_is_aligned_with_hits_only(words: list[str]) -> None:
    """For any words, with or without repetitions."""
    found = align(places(" ".join(words)), words)
    assert kinds(found) == "h" * len(words)
    assert found.cost == 0.0


@given(TEXT, TEXT)
@settings(deadline=None)
def test_every_heard_word_is_used_once_and_a_hit_always_has_the_same_word(
    script: list[str], heard: list[str]
) -> None:
    """Steps cover the heard words in order; hits are the same words."""
    found = align(places(" ".join(script)), heard)
    at = 0
    for step in found.steps:
        assert step.heard_from == at
        at = step.heard_to
        if step.kind == "hit":
            assert script[step.script_from : step.script_to] == heard[step.heard_from : step.heard_to]
    assert at == len(heard)


@given(TEXT, TEXT)
@settings(deadline=None)
def test_without_jumps_there_are_at_least_as_many_errors_as_the_edit_distance(
    script: list[str], heard: list[str]
) -> None:
    """The plain count is a lower bound (jiwer, sclite: see test_align_counts)."""
    found = align(places(" ".join(script)), heard)
    rising = all(b.script_from >= a.script_to for a, b in pairwise(found.steps))
    if rising:
        put_in = sum(s.kind == "insertion" for s in found.steps)
        errors = len(script) - len(last_hits(found)) + put_in
        assert errors >= error_counts(script, heard).errors


def test_a_clause_left_out_of_a_refrain_does_not_shift_the_other_clauses() -> None:
    """Dickens, A Tale of Two Cities: one clause of the first paragraph left out, the others stay put."""
    script = places(TWO_CITIES)
    words = [p.text for p in script]
    clauses = [(0, 6), (6, 12), (12, 18), (18, 24), (24, 30), (30, 36), (36, 42), (42, 48)]
    for begin, end in clauses:
        heard = words[:begin] + words[end:]
        assert dropped(align(script, heard)) == list(range(begin, end))


def test_a_word_changed_inside_a_refrain_stays_in_its_clause() -> None:
    """The clauses differ in one word; the changed word is not looked for in the next clause."""
    script = places(TWO_CITIES)
    heard = [p.text for p in script]
    heard[17] = "reason"
    found = align(script, heard)
    assert [(s.kind, s.script_from) for s in found.steps if s.kind != "hit"] == [("substitution", 17)]


def test_if_a_line_is_left_out_exactly_its_words_are_missing() -> None:
    """Two lines begin alike and one of them is left out: exactly its words are missing."""
    script = places(
        "we set the lamp down by the door\nwe set the chair out on the grass\nwe set off before the rain"
    )
    heard = [p.text for k, p in enumerate(script) if not 8 <= k < 16]
    assert dropped(align(script, heard)) == list(range(8, 16))


def test_words_said_again_are_a_jump_back_and_the_later_saying_counts() -> None:
    """A correction counts as said."""
    script = places("the lantern leaned towards the sea and every herring boat came home")
    words = [p.text for p in script]
    heard = [*words[:6], "boat", *words]
    hit = last_hits(align(script, heard))
    assert sorted(hit) == list(range(len(words)))
    assert hit[2].heard_from >= 7


def test_a_jump_ahead_and_back_again_is_found_as_jumps() -> None:
    """The third line is said before the second."""
    one = "the river runs behind the silver mill and away"
    two = "a candle stood in every window on the hill"
    three = "no thunder came but feathers fell from every roof"
    script = places(f"{one}\n{two}\n{three}")
    found = align(script, f"{one} {three} {two}".split())
    order = [s.script_from for s in found.steps if s.kind == "hit"]
    assert order == [*range(9), *range(18, 27), *range(9, 18)]


def test_homophones_joined_and_split_words_are_hits() -> None:
    """heir/air; any more/anymore; letterpress/letter press."""
    assert kinds(align(places("tender heir might live"), ["tender", "air", "might", "live"])) == "hhhh"
    found = align(places("not any more of it"), ["not", "anymore", "of", "it"])
    assert kinds(found) == "hhhh"
    assert (found.steps[1].script_from, found.steps[1].script_to) == (1, 3)
    assert kinds(align(places("the letterpress room"), ["the", "letter", "press", "room"])) == "hhh"


def test_one_heard_word_is_a_hit_for_two_script_words_that_sound_the_same() -> None:
    """all right/alright, all ways/always; but a word that is only like two others is none: in a/inner."""
    for pair, one in (("all right", "alright"), ("all ways", "always")):
        found = align(places(f"they are {pair} here"), ["they", "are", one, "here"])
        assert kinds(found) == "hhhh"
        assert (found.steps[2].script_from, found.steps[2].script_to) == (2, 4)
    found = align(places("held in a room"), ["held", "inner", "room"])
    assert [s.kind for s in found.steps].count("hit") == 2


def test_any_spoken_form_of_a_word_is_a_hit() -> None:
    """A number may be said in one way or another."""
    year = AlignedWord(
        (("sixteen", "oh", "three"), ("sixteen", "hundred", "and", "three")),
        spoken=("sixteen", "oh", "three"),
    )
    script = [*places("in"), year, *places("it rained")]
    assert kinds(align(script, ["in", "sixteen", "oh", "three", "it", "rained"])) == "hhhh"
    assert kinds(align(script, ["in", "sixteen", "hundred", "and", "three", "it", "rained"])) == "hhhh"


def test_a_part_of_the_script_is_found_where_it_is_expected() -> None:
    """Words that are in two places are taken where the speaker is; the rest of the script costs nothing."""
    script = places("the old road home\nand then we walked\nthe old road home\nand then we slept")
    heard = ["the", "old", "road", "home"]
    for expected in (0, 8):
        found = align_part(script, heard, expected)
        assert [s.script_from for s in found.steps] == list(range(expected, expected + 4))
        assert found.cost == 0.0


def test_gaps_are_the_stretches_between_hits() -> None:
    """Each gap has its script words and its heard words."""
    script = places("river garden silver stone candle")
    found = align(script, ["river", "marble", "silver", "candle", "window"])
    assert gaps(found) == (Gap(1, 2, 1, 2), Gap(3, 4, 3, 3), Gap(5, 5, 4, 5))


def test_in_a_gap_the_word_that_sounds_more_similar_is_the_changed_one() -> None:
    """The other was left out; and two words heard may stand for one."""
    assert pair_by_sound(places("golden fine"), ["mine"]) == [(1, 0, 1)]
    assert pair_by_sound(places("fine golden"), ["mine"]) == [(0, 0, 1)]
    assert pair_by_sound(places("o'clock"), ["oh", "clock"]) == [(0, 0, 2)]
    assert pair_by_sound(places("river"), ["thistle"]) == [(0, 0, 1)]


@pytest.mark.heavy
def test_the_planted_slips_of_a_long_speech_are_found() -> None:
    """In two thousand words with slips the planted slips are found."""
    words = [f"{POOL[k % 12]}{k % 97}" for k in range(2000)]
    heard = [w for k, w in enumerate(words) if k % 50 != 7]
    found = align(places(" ".join(words), every=9), heard)
    assert dropped(found) == [k for k in range(2000) if k % 50 == 7]


def test_a_contraction_is_not_taken_for_a_word_with_the_same_letters() -> None:
    """ "we were all" said as "we're all" has lost a word, and not the "we"."""
    places = [AlignedWord(((w,),)) for w in ["then", "we", "were", "all", "going", "home"]]
    hit = last_hits(align(places, ["then", "we're", "all", "going", "home"]))
    assert {0, 3, 4, 5} <= set(hit) and 2 not in hit


def test_of_two_equal_places_the_one_that_continues_from_the_word_before_is_taken() -> None:
    """The same word stands at two places of the script."""
    script = places("we came to the mill and thee")
    assert set(last_hits(align(script, ["we", "came", "to", "the"]))) == {0, 1, 2, 3}
    script = places("we came home and then came home")
    assert set(last_hits(align(script, ["we", "came", "home"]))) == {0, 1, 2}


def test_of_two_equal_places_the_one_that_goes_on_is_taken_even_at_the_end_of_what_was_said() -> None:
    """The script ends with words that it has before; somebody says it all, begins again and stops there."""
    lines = ["lift the lid of the box", "and look for a card", "please try again", "or wait for a bell"]
    script = places("\n".join([*lines, lines[2]]))
    whole = " ".join([*lines, lines[2]]).split()
    again = align(script, [*whole, *whole[:14]])
    assert kinds(again) == "h" * 36
    assert [s.script_from for s in again.steps] == [*range(22), *range(14)]
    assert [s.script_from for s in align(script, whole[:14]).hits] == list(range(14)), (
        "and if it is said once"
    )


def test_a_hesitation_is_not_aligned_with_a_word_that_sounds_like_it() -> None:
    """ "Uh" and "a" sound alike."""
    script = places("told a swallow")
    found = align(script, ["told", "uh", "swallow"])
    assert 1 not in last_hits(found)
    assert kinds(align(script, ["told", "uh", "a", "swallow"])) == "hihh"
