"""Swaps: how far words may have moved, how like they must be, and which words a swap takes."""

from __future__ import annotations

from itertools import product

import pytest

from offbook.notes.asides import extras_between
from offbook.notes.quoting import SpokenScript
from offbook.notes.swaps import (
    Swap,
    _agreement,
    _dropped_spans,
    _is_another_order,
    _reachable,
    apply_swaps,
    find_swaps,
)
from offbook.score import Extra, Run, decided
from offbook.words import words_of
from tests.performing import second_by_second, verse
from tests.test_notes import SCRIPT, THINGS, VERBS

PAGE = SpokenScript.of(SCRIPT, words_of(SCRIPT))
CARRIED, DOWN, TABLE, CHAIR, CLOCK, MY = 1, 2, 4, 7, 9, 10
LONG = verse(*(f"then {verb} the {thing}" for verb, thing in list(product(VERBS, THINGS))[:60]))
LONG_PAGE = SpokenScript.of(LONG, words_of(LONG))


def swaps(page: SpokenScript, changes: dict[int, str | None], *extras: tuple[int, str]) -> list[Swap]:
    run = second_by_second(page.words, changes, extras)
    return find_swaps(page, run, extras_between(run))


def spans(found: list[Swap]) -> list[tuple[int, int, str]]:
    return [(s.first, s.last, s.heard) for s in found]


def page_of(*lines: str) -> SpokenScript:
    script = verse(*lines)
    return SpokenScript.of(script, words_of(script))


def test_three_words_may_have_moved_by_120_words_and_by_one_at_least() -> None:
    """Counted between the words that were dropped, here 130 to 132, and where they were heard."""
    forward = [place for place in range(130, 270) if _reachable(LONG_PAGE, 130, 132, place, 3)]
    assert forward == list(range(134, 254))
    backward = [place for place in range(134) if _reachable(LONG_PAGE, 130, 132, place, 3)]
    assert backward == list(range(10, 130))


def test_one_word_may_have_moved_by_three_words_and_two_by_six_but_small_ones_only_by_one() -> None:
    def farthest(start: int, end: int) -> int:
        count = end - start + 1
        return max(p - end - 1 for p in range(end, end + 20) if _reachable(PAGE, start, end, p, count))

    assert [farthest(*span) for span in ((TABLE, TABLE), (CARRIED, DOWN), (DOWN, DOWN))] == [3, 6, 1]
    assert farthest(5, 6) == 1  # "and the": both are small
    assert farthest(3, 4) == farthest(4, 5) == 6  # "the table" and "table and": one is not
    assert [p for p in range(20) if _reachable(PAGE, CLOCK, CLOCK, p, 1)] == [6, 7, 8, 11, 12, 13]


def test_a_moved_phrase_agrees_by_the_share_of_its_words_that_are_the_scripts() -> None:
    """Seven in ten are enough and six are not; a single word must be the very word."""
    page = page_of("bring lanterns home before any winter storm covers every field")
    said = "bring lanterns home before any winter storm"
    assert _agreement(page, 0, 9, (*said.split(), "x", "y", "z")) == pytest.approx(0.7)
    assert _agreement(page, 0, 9, (*said.split()[:6], "w", "x", "y", "z")) == 0.0
    assert _agreement(page, 0, 2, ("bring", "lanterns", "umbrellas")) == 0.0
    assert _agreement(page, 0, 3, ("bring", "lanterns", "home", "z")) == 0.75
    assert _agreement(page, 0, 1, ("bring", "lanterns")) == 1.0
    assert _agreement(page, 1, 1, ("lanterns",)) == 1.0
    assert _agreement(page, 1, 1, ("z",)) == 0.0


def test_words_agree_by_seven_tenths_where_half_are_right_and_the_others_sound_like_the_scripts() -> None:
    assert _agreement(PAGE, 14, 15, ("copper", "ban")) == 0.7
    assert _agreement(PAGE, 14, 15, ("copper", "kettle")) == 0.0
    assert _agreement(PAGE, 14, 16, ("copper", "ban")) == 0.7  # the third word was not said at all
    assert _agreement(PAGE, 14, 16, ("copper", "ban", "and")) == 0.7
    assert _agreement(PAGE, 14, 16, ("copper", "kettle", "and")) == 0.0
    assert _agreement(PAGE, 14, 17, ("copper", "ban", "and")) == 0.7  # "left" was not said
    assert _agreement(PAGE, 14, 18, ("copper", "ban", "and")) == 0.0


def test_a_phrase_agrees_by_seven_tenths_if_what_was_heard_sounds_like_it() -> None:
    """However many words were heard. Not a single word, and not small words only."""
    page = page_of("fresh snow peas for a table")
    assert _agreement(page, 1, 2, ("know", "bees")) == 0.7
    assert _agreement(page, 1, 2, ("know", "bees", "of")) == 0.0
    assert _agreement(page, 1, 2, ("snow", "bees", "of")) == 0.7
    assert _agreement(page, 1, 2, ("five", "trees")) == 0.0
    assert _agreement(page, 2, 2, ("bees",)) == 0.0
    assert _agreement(page, 3, 4, ("for", "if")) == 0.0
    assert _agreement(page, 4, 5, ("stable",)) == 0.7


def test_what_moved_may_be_heard_as_one_word_more_or_one_fewer() -> None:
    """Nothing else goes wrong; the words were said behind the two that follow them in the script."""
    page = page_of("we create a connection tonight and then we wait")
    gone: dict[int, str | None] = {1: None, 2: None}
    assert spans(swaps(page, gone, (5, "creating"))) == [(1, 4, "connection tonight creating")]
    assert spans(swaps(page, gone, (5, "great day now"))) == []
    far = swaps(page, gone, (8, "creating"))  # five words away, as far as a pair may move, and not one word
    assert spans(far) == [(1, 7, "connection tonight and then we creating")]
    page = page_of("fresh snow peas for a table")
    assert spans(swaps(page, gone, (5, "snow bees of"))) == [(1, 4, "for a snow bees of")]


def test_a_word_is_the_scripts_however_it_was_spelled_but_not_beyond_the_phrase() -> None:
    page = page_of("no bell no oar")
    assert _agreement(page, 3, 3, ("or",)) == 1.0
    assert _agreement(page, 2, 3, ("know", "or")) == 1.0
    assert _agreement(page, 3, 3, ("or", "bell", "no")) == 0.0  # more was heard than there is script


def test_what_may_have_moved_begins_and_ends_with_a_dropped_word_that_belongs_to_no_swap() -> None:
    run = second_by_second(PAGE.words, {3: None, 4: None, 5: None, 6: "x", 7: None})
    assert list(_dropped_spans(run, 2, set())) == [(3, 4), (4, 5), (7, 7)]
    assert list(_dropped_spans(run, 3, set())) == [(3, 5), (5, 7), (7, 7)]
    assert list(_dropped_spans(run, 1, {4})) == [(3, 3), (5, 5), (7, 7)]
    assert list(_dropped_spans(run, 2, {4})) == [(7, 7)]
    assert list(_dropped_spans(run, 3, {7})) == [(3, 5)]
    assert list(_dropped_spans(second_by_second(PAGE.words, {65: None, 66: None}), 3, set())) == [
        (65, 66),
        (66, 66),
    ]


def test_words_that_moved_a_little_are_one_note_over_both_places() -> None:
    """Forward, "table" before "chair"; backward, "chair" before "table". Another word has changed too."""
    assert swaps(PAGE, {TABLE: None, 5: "x"}, (CHAIR, "table")) == [
        Swap(TABLE, 6, "x the table", 5.0, None, (Extra(CHAIR, "table", 6.5, 7.0, 1.0),))
    ]
    assert swaps(PAGE, {CHAIR: None, 5: "x"}, (TABLE, "chair")) == [
        Swap(TABLE, CHAIR, "chair table x the", 3.5, None, (Extra(TABLE, "chair", 3.5, 4.0, 1.0),))
    ]


def test_a_word_said_too_far_away_is_dropped_there_and_added_here() -> None:
    assert swaps(PAGE, {TABLE: None}, (18, "table")) == []


def test_a_swap_is_found_among_words_that_sound_the_same() -> None:
    page = page_of("row to two lamps")
    assert spans(swaps(page, {1: "lamps", 3: "to"})) == [(1, 3, "lamps two to")]


def test_what_else_was_heard_on_the_way_belongs_to_the_swap_of_words_that_moved_a_little() -> None:
    """From before the first of its words to behind the last."""
    others = [(place, "x") for place in (3, 4, 5, 8)]
    (found,) = swaps(PAGE, {TABLE: None}, *others, (CHAIR, "table"))
    assert (found.first, found.last, found.heard) == (TABLE, 6, "x x and the table")
    (found,) = swaps(PAGE, {CHAIR: None}, *others[:1], (TABLE, "chair"), *others[2:], (9, "y"))
    assert (found.first, found.last, found.heard) == (TABLE, CHAIR, "chair table x and the x")


def test_from_thirteen_words_or_four_that_moved_the_place_they_moved_to_is_told() -> None:
    """Of three words over twelve the whole stretch is one note. Another word has changed too."""
    gone: dict[int, str | None] = {1: None, 2: None, 3: None, 6: "x"}
    (near,) = swaps(PAGE, gone, (13, "carried down the"))
    assert (near.first, near.last, near.at, near.moved_to) == (1, 12, 4.0, None)
    (far,) = swaps(PAGE, gone, (14, "carried down the"))
    assert (far.first, far.last, far.heard, far.at, far.moved_to) == (1, 3, "carried down the", 13.5, 14)
    assert [e.before_word for e in far.extras] == [14, 14, 14]
    (four,) = swaps(PAGE, {**gone, 4: None}, (8, "carried down the table"))
    assert (four.first, four.last, four.moved_to) == (1, 4, 8)


def test_of_two_dropped_places_the_more_alike_has_moved_and_of_equals_the_first() -> None:
    page = page_of("one grey lamp, one tall lamp", "and over all of it a little light")
    gone: dict[int, str | None] = {1: None, 2: None, 4: None, 5: None, 6: "x"}
    assert spans(swaps(page, gone, (8, "tall lamp"))) == [(4, 7, "x over tall lamp")]
    assert spans(swaps(page, {2: None, 3: "x", 4: "y", 5: None}, (4, "lamp"))) == [(2, 3, "x lamp")]


def test_words_of_one_swap_are_not_those_of_another() -> None:
    """Neither after a swap in place, nor after words that moved; nor does one heard word belong to two."""
    assert spans(swaps(PAGE, {15: None, 16: "x"}, (14, "pan"), (18, "pan"))) == [(14, 15, "pan copper")]
    assert spans(swaps(PAGE, {TABLE: None, 3: "x", 5: "y"}, (2, "table"), (CHAIR, "table"))) == [
        (2, TABLE, "table down x")
    ]
    gone: dict[int, str | None] = {15: None, 16: None, 17: None, 19: "x"}
    assert spans(swaps(PAGE, gone, (14, "pan"), (20, "and left"))) == [
        (14, 15, "pan copper"),
        (16, 19, "the x and left"),
    ]
    gone = dict.fromkeys(range(1, 8))
    assert spans(swaps(PAGE, gone, (20, "carried down the table"), (24, "and the chair"))) == [
        (1, 4, "carried down the table"),
        (5, 7, "and the chair"),
    ]
    page = page_of("the lamp and then a table lamp")
    assert spans(swaps(page, {1: None, 6: None}, (5, "lamp"))) == [(5, 6, "lamp table")]


@pytest.mark.parametrize(
    ("changes", "extras"),
    [
        ({14: "pan", 15: "copper"}, []),
        ({14: "pan", 15: "copper"}, [(14, "x"), (16, "x")]),
        ({15: None}, [(14, "pan")]),
        ({15: None}, [(14, "pan"), (16, "x")]),
        ({14: None}, [(16, "copper")]),
        ({14: None}, [(14, "x"), (16, "copper")]),
        ({14: None, 15: None}, [(15, "pan copper")]),
        ({14: None, 15: None}, [(14, "x"), (15, "pan copper"), (16, "x")]),
        ({14: None, 15: None}, [(14, "pan"), (16, "copper"), (17, "x")]),
        ({14: None, 15: None}, [(13, "x"), (14, "pan"), (16, "copper")]),
    ],
)
def test_two_words_in_the_other_order_are_found_however_they_were_aligned(
    changes: dict[int, str | None], extras: list[tuple[int, str]]
) -> None:
    """Another word beside them does not hide them."""
    assert spans(swaps(PAGE, changes, *extras)) == [(14, 15, "pan copper")]


def test_words_farther_apart_than_twelve_are_not_searched_for_a_swap() -> None:
    """Of the 12 words 9 to 20 the ends changed places; of 13 words it is two changes."""
    assert spans(swaps(PAGE, {9: "open", 20: "clock"})) == [
        (9, 20, "open my mother wound the copper pan and left the window clock")
    ]
    assert swaps(PAGE, {9: "on", 21: "clock"}) == []


def test_a_swap_is_found_among_twelve_slips_side_by_side() -> None:
    """The first of them and the last changed places; the shorter stretches are no swaps."""
    middle = {i: PAGE.forms[i] for i in range(10, 20)}
    assert [(s.first, s.last) for s in swaps(PAGE, {9: "open", 20: "clock", **middle})] == [(9, 20)]


def test_two_swaps_side_by_side_are_two_but_no_word_belongs_to_both() -> None:
    assert spans(swaps(PAGE, {14: "pan", 15: "copper", 16: "left", 17: "and"})) == [
        (14, 15, "pan copper"),
        (16, 17, "left and"),
    ]
    longer = {14: "and", 16: "copper", 17: "the", 18: "left"}
    assert spans(swaps(PAGE, dict(longer))) == [(14, 16, "and pan copper"), (17, 18, "the left")]
    page = page_of("spring winter spring now")
    assert spans(swaps(page, {0: "winter", 1: "spring", 2: "winter"})) == [(0, 1, "winter spring")]


@pytest.mark.parametrize(
    ("changes", "extras"),
    [
        ({1: None}, [(0, "carried")]),
        ({1: None}, [(0, "carried"), (2, "x")]),
        ({0: None}, [(2, "they")]),
        ({0: None}, [(2, "they"), (3, "x")]),
    ],
)
def test_a_swap_at_the_beginning_of_the_speech_is_found(
    changes: dict[int, str | None], extras: list[tuple[int, str]]
) -> None:
    (swap,) = swaps(PAGE, changes, *extras)
    assert (swap.first, swap.last, swap.heard) == (0, 1, "carried they")
    assert [w.i for w in swap.restated] == [0, 1]


@pytest.mark.parametrize(
    ("changes", "extras"),
    [
        ({65: None}, [(67, "the")]),
        ({65: None}, [(65, "x"), (67, "the")]),
        ({66: None}, [(65, "proof")]),
        ({66: None}, [(64, "x"), (65, "proof")]),
    ],
)
def test_a_swap_at_the_end_of_the_speech_is_found(
    changes: dict[int, str | None], extras: list[tuple[int, str]]
) -> None:
    (swap,) = swaps(PAGE, changes, *extras)
    assert (swap.first, swap.last, swap.heard) == (65, 66, "proof the")
    assert [w.i for w in swap.restated] == [65, 66]


@pytest.mark.parametrize(
    ("changes", "extras"),
    [
        ({9: "open", 20: "clock"}, [(9, "x"), (21, "x")]),
        ({20: None}, [(9, "open"), (21, "x")]),
        ({20: None}, [(8, "x"), (9, "open")]),
        ({9: None}, [(9, "x"), (21, "clock")]),
        ({9: None}, [(21, "clock"), (22, "x")]),
        ({9: None, 20: None}, [(8, "x"), (9, "open"), (21, "clock"), (22, "x")]),
        ({9: None, 10: "my", 20: None}, [(10, "open"), (20, "clock")]),
    ],
)
def test_a_swap_over_twelve_words_is_found_however_it_was_aligned(
    changes: dict[int, str | None], extras: list[tuple[int, str]]
) -> None:
    (swap,) = swaps(PAGE, changes, *extras)
    assert (swap.first, swap.last) == (9, 20) and len(swap.restated) == 12


def test_small_words_alone_are_a_swap_only_where_they_are_two() -> None:
    page = page_of("to him of the lamp, um, we gave it")
    order = {
        (0, 1, "him to"): True,
        (0, 2, "of him to"): False,
        (3, 4, "lamp the"): True,
        (2, 4, "lamp of the"): True,
        (2, 4, "of the lamp"): False,  # as written
        (2, 4, "lamp of of"): False,  # not the same words
        (2, 4, "lamp the"): False,
        (4, 5, "um lamp"): False,  # only a hesitation came elsewhere
        (5, 7, "um gave we"): True,
    }
    assert {key: _is_another_order(page, key[0], key[1], key[2].split()) for key in order} == order


def test_a_swap_is_quoted_without_the_words_at_its_ends_that_are_right_and_restates_them_all() -> None:
    """Said: "the chair and the table" for "the table and the chair", with every word counted as changed."""
    said = ["the", "chair", "and", "the", "table"]
    run = second_by_second(PAGE.words, {3 + k: word for k, word in enumerate(said)})
    (swap,) = find_swaps(PAGE, run, [])
    assert (swap.first, swap.last, swap.heard, swap.at) == (4, 7, "chair and the table", 4.0)
    page = page_of("Nobody came. No bell, no oar, no cry.")
    (swap,) = swaps(page, {4: None, 5: None}, (2, "know or"))
    assert (swap.first, swap.last, swap.heard, swap.at) == (3, 5, "oar no bell", 1.75)
    assert [(w.i, w.text, w.verdict, w.heard, w.start, w.end) for w in swap.restated] == [
        (2, "No", "said", "know", 1.5, 1.75),
        (3, "bell", "changed", "or", 1.75, 2.0),
        (4, "no", "said", "no", 2.0, 2.5),
        (5, "oar", "changed", "bell", 3.0, 3.5),
    ]


def test_a_swap_restates_its_words_takes_its_extras_and_says_so_among_the_steps() -> None:
    run = second_by_second(PAGE.words, {15: None}, [(14, "pan"), (16, "x")])
    words = list(run.words)
    words[15] = decided(words[15], "alignment", "nothing was heard")
    before = Run(tuple(words), run.extras, run.seconds, run.speaking_seconds)
    after = apply_swaps(before, find_swaps(PAGE, before, extras_between(before)))
    assert [(w.verdict, w.heard) for w in after.words[14:16]] == [("changed", "pan"), ("changed", "copper")]
    assert [e.heard for e in after.extras] == ["x"]
    assert [(s.by, s.verdict, s.told) for s in after.words[15].steps] == [
        ("alignment", "dropped", "nothing was heard"),
        ("swap", "changed", "the words of this place were said in another order"),
    ]
    assert after.words[:14] == before.words[:14] and after.words[16:] == before.words[16:]
