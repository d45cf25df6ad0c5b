"""Values of a drill: which words a prompt counts for, how much help hides, and the order of questions."""

from __future__ import annotations

import random
from pathlib import Path

from offbook.drill.judging import ComparedWord, JudgedAnswer
from offbook.drill.sitting import Sitting, veiled
from offbook.moment import system_zone
from tests.journals import desk_at


def test_a_prompted_word_counts_for_exactly_the_ranges_that_contain_it() -> None:
    judged = JudgedAnswer((ComparedWord("prompted", 4, "oil", ""), ComparedWord("right", 5, "I", "I")))
    ranges = [(4, 9), (0, 4), (4, 4), (5, 9), (0, 3)]
    assert [judged.prompted(*r) for r in ranges] == [True, True, True, False, False]


def test_an_answer_is_counted_in_script_words_and_added_words_are_counted_separately() -> None:
    judged = JudgedAnswer(
        (
            ComparedWord("right", 0, "the", "the"),
            ComparedWord("typo", 1, "lamp", "lmap"),
            ComparedWord("added", None, "", "old"),
            ComparedWord("lost", 2, "was", ""),
        )
    )
    assert (judged.right, judged.words, judged.added, judged.clean) == (2, 3, 1, False)
    assert judged.within(0, 1) == (2, 2)
    assert judged.within(1, 2) == (1, 2)
    assert JudgedAnswer(judged.places[:2]).clean
    assert not JudgedAnswer(judged.places[:3]).clean


def test_each_level_of_help_shows_exactly_its_part_of_the_line() -> None:
    words = ["Nobody", "asked", "who"]
    assert [veiled(words, help_) for help_ in range(4)] == [
        "",
        "Nobody …",
        "N····· a···· w··",
        "Nobody a···· who",
    ]


def test_a_new_thought_is_asked_again_after_the_next_and_then_joined_to_it(tmp_path: Path) -> None:
    """Two new thoughts: the first, the second, the first again, the join of both, the second again."""
    version = desk_at(tmp_path).version
    sitting = Sitting(version, {}, (0, 1), (), 300.0, lambda: 0.0, random.Random(3))
    first, second, again, join, last = (sitting.ask() for _ in range(5))
    assert first and second and again and join and last
    assert [e.key for e in (first, second, again)] == [0, 1, 0]
    assert join.kind not in ("thought", "build-up")
    assert (last.kind, last.key) == ("thought", 1)
    assert [e.first_look for e in (first, second, again, last)] == [True, True, False, False]


def test_the_time_zone_of_the_machine_always_has_a_name() -> None:
    """It is a zone of the IANA database, or UTC if none is known."""
    assert isinstance(system_zone(), str)
    assert system_zone()
