"""Drills: which thoughts are asked and how words are judged.

There is less help after each success, and a sitting ends with one.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import jiwer
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from offbook.drill import (
    KINDS,
    Answering,
    Exercise,
    JudgedAnswer,
    Sitting,
    judge,
    lookalikes,
    side_by_side,
    units_of,
)
from offbook.drill.judging import passes
from offbook.drill.sitting import Kind, veiled
from offbook.drill.units import Lookalike
from offbook.records import Memory, Version
from offbook.schedule import AGAIN, GOOD, HARD
from offbook.script import Cue, Line, Script, parse_script
from offbook.script import reading as scripts
from offbook.thoughts import marks_of, thoughts_of
from offbook.words import Word, as_written, words_of
from tests.journals import LAMP, Clock, desk_at, script_of


@dataclass(frozen=True)
class Mark:
    before_word: int
    grade: int


# Thoughts ------------------------------------------------------------------------------------------


def test_a_thought_reaches_from_one_shift_to_the_next() -> None:
    script, spoken, _ = script_of(LAMP)
    found = units_of(script, spoken, [Mark(5, 1), Mark(9, 2), Mark(16, 3)])
    assert [(u.first, u.last) for u in found] == [(0, 8), (9, 15), (16, 33)]
    assert found[1].opening == "Nobody asked who carried up"


def test_a_piece_is_learnt_in_the_thoughts_that_the_marked_script_shows() -> None:
    """Thoughts are derived in one place; the drills have no rule of their own."""
    script, spoken, _ = script_of(LAMP)
    marks = marks_of(script, spoken)
    assert [(u.first, u.last) for u in units_of(script, spoken, marks)] == [
        (t.first, t.last) for t in thoughts_of(script, spoken, marks)
    ]
    assert [(t.first, t.last) for t in thoughts_of(script, spoken, marks)] == [(0, 8), (9, 15), (16, 33)]


@given(st.sets(st.integers(0, 33)), st.sets(st.integers(0, 33)))
def test_the_thoughts_cover_every_word_once(turns: set[int], phrases: set[int]) -> None:
    script, spoken, _ = script_of(LAMP)
    marks = [Mark(i, 3) for i in turns] + [Mark(i, 1) for i in phrases - turns]
    found = units_of(script, spoken, marks)
    assert [i for u in found for i in range(u.first, u.last + 1)] == list(range(len(spoken)))


def test_lines_that_are_easily_confused_are_found() -> None:
    text = (
        "If I had known the harbour then, I would have stayed.\n"
        "The gulls were loud.\n"
        "If I had known the harbour master, I would have left.\n"
    )
    _, spoken, units = script_of(text)
    (pair,) = lookalikes(units, spoken)
    assert (pair.one, pair.other) == (0, 2) and pair.likeness > 70


# Judging -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("script", "typed"),
    [
        ("shoulders", "sholders"),
        ("the", "teh"),
        ("carried", "carreid"),
        ("their", "there"),  # the same sound: said aloud it is right
        ("o'er", "oer"),
        ("Don’t", "don't"),
        ("lighthouse", "lighthuose"),
    ],
)
def test_a_small_spelling_mistake_is_forgiven(script: str, typed: str) -> None:
    assert passes(script, typed) != "no"


@pytest.mark.parametrize(
    ("script", "typed"),
    [
        ("the", "a"),
        ("in", "on"),
        ("was", "is"),
        ("thy", "my"),
        ("stairs", "stars"),
        ("light", "night"),
        ("carried", "married"),
        ("not", "now"),
        ("shall", "will"),
    ],
)
def test_a_wrong_word_is_not_forgiven_however_similar_it_is(script: str, typed: str) -> None:
    assert passes(script, typed) == "no"


def test_a_number_may_be_typed_as_it_is_written_or_as_it_is_said() -> None:
    spoken = words_of(parse_script("It was 1603 when he came"))
    assert judge(spoken, "it was 1603 when he came").clean
    way = " ".join(spoken[2].spoken[0])
    assert judge(spoken, f"it was {way} when he came").clean


def test_starting_early_and_going_on_past_the_end_are_not_mistakes() -> None:
    spoken = words_of(parse_script("one lamp was lit before the tide came in again"))
    middle = spoken[3:6]
    assert judge(middle, "was lit before the tide came in", spoken[:3], spoken[6:]).clean
    assert judge(middle, "lamp was lit before the tide", spoken[:3], spoken[6:]).clean
    assert judge(middle, "lit before the", spoken[:3], spoken[6:]).clean
    wandered = judge(spoken[3:6], "tide came in again", spoken[:3], spoken[6:])
    assert (wandered.right, wandered.words) == (0, 3), "the next thought in place of this one"
    assert not judge(middle, "lit before the lamp", spoken[:3], spoken[6:]).clean


def test_going_on_past_the_end_adds_nothing_even_if_a_word_comes_again() -> None:
    """Asked for "the fish are gone the", and going on over another "the": nothing was added."""
    spoken = words_of(
        parse_script(
            "No ship since spring. The fish are gone, the harbour mouth is sand, and the sea is the sea."
        )
    )
    asked = spoken[4:9]
    answer = " ".join(w.text for w in spoken[4:])
    found = judge(asked, answer, spoken[:4], spoken[9:])
    assert found.clean and found.right == 5
    late = judge(asked, answer.replace("mouth", "month"), spoken[:4], spoken[9:])
    assert late.clean, "a slip beyond what was asked is not judged"


def test_the_comparison_with_the_script_can_be_read_without_colour() -> None:
    spoken = words_of(parse_script("The lamp was lit before the tide came in."))
    shown = side_by_side(judge(spoken, "the lmap was before a tide came quickly in"))
    assert shown == (
        "script  The lamp was lit  before the      tide came ^       in\n"
        "yours   the lmap was ___  before a        tide came quickly in\n"
        "                     lost        not this           added"
    )


_SOME = ["lamp", "tide", "came", "before", "nobody", "stairs", "shoulders"]
_WORDS = st.lists(st.sampled_from(_SOME), max_size=12)


@settings(max_examples=200)
@given(_WORDS.filter(bool), _WORDS)
@pytest.mark.heavy
def test_errors_are_counted_as_the_reference_scorer_counts_them(asked: list[str], given_: list[str]) -> None:
    """Substitutions, deletions and insertions together, as the jiwer package (4.0) counts them."""
    found = judge(words_of(parse_script(" ".join(asked))), " ".join(given_))
    errors = sum(p.kind in ("changed", "lost", "added") for p in found.places)
    # jiwer aligns with the same unit costs; judge leaves out nothing here, for nothing is around.
    reference = jiwer.process_words(" ".join(asked), " ".join(given_))
    assert errors == reference.substitutions + reference.deletions + reference.insertions


# A sitting -----------------------------------------------------------------------------------------


def version_of(text: str = LAMP, cues: tuple[Cue, ...] = ()) -> Version:
    script, spoken, units = script_of(text)
    if cues:
        script = Script(script.title, "", script.text, script.form, script.lines, (), cues)
    return Version("v", "p", 1, Clock().now, script, spoken, tuple(range(len(spoken))), units)


class Hand:
    """A person at a sitting who answers by a rule, ten seconds for each answer."""

    def __init__(self, version: Version, rule: Callable[[Exercise, int], str | None]) -> None:
        self.version, self.rule = version, rule
        self.time = 0.0
        self.log: list[tuple[Exercise, JudgedAnswer | None, dict[int, int]]] = []

    def sit(self, sitting: Sitting) -> Sequence[tuple[Exercise, JudgedAnswer | None, dict[int, int]]]:
        while (e := sitting.ask()) is not None and len(self.log) < 500:
            self.time += 10
            answer = self.rule(e, len(self.log))
            judged = None
            if answer is not None:
                judged = judge(self.version.words[e.first : e.last + 1], answer)
            self.log.append((e, judged, sitting.take(e, judged)))
        return self.log


def sitting_of(
    version: Version,
    hand: Hand,
    *,
    wanted: Sequence[int] = (0, 1, 2, 3),
    seconds: float = 300,
    memories: dict[int, Memory] | None = None,
    pairs: Sequence[Lookalike] = (),
    kinds: frozenset[Kind] = frozenset(),
) -> Sitting:
    return Sitting(
        version, memories or {}, wanted, pairs, seconds, lambda: hand.time, random.Random(3), kinds
    )


def text_of(version: Version, e: Exercise) -> str:
    return " ".join(w.text for w in version.words[e.first : e.last + 1])


def known(key: int, help_: int) -> Memory:
    now = Clock().now
    return Memory("p", key, 2, None, 5.0, 5.0, now, now, 3, 0, help_)


def test_a_new_thought_is_shown_once_and_then_only_asked() -> None:
    version = version_of()
    hand = Hand(version, lambda e, n: text_of(version, e))
    log = hand.sit(sitting_of(version, hand))
    looks = [e.key for e, _, _ in log if e.first_look]
    assert looks == [0, 1, 2, 3]
    assert all(e.help < 3 for e, _, _ in log)


def test_less_help_is_shown_after_each_clean_recall_and_more_after_a_failure() -> None:
    version = version_of()
    fail_at = {5}
    asked: list[int] = []

    def rule(e: Exercise, n: int) -> str | None:
        if e.kind == "thought" and e.key == 1:
            asked.append(e.help)
            if len(asked) - 1 in fail_at:
                return None
        return text_of(version, e)

    hand = Hand(version, rule)
    hand.sit(
        sitting_of(
            version, hand, wanted=[1], memories={1: known(1, 1)}, kinds=frozenset({"thought"}), seconds=900
        )
    )
    assert asked[:2] == [1, 0], "less shown after a clean recall"
    assert asked[6] == 1, "more shown after a failure"


def test_a_thought_that_failed_is_asked_again_a_few_questions_later() -> None:
    version = version_of()
    first: list[int] = []

    def rule(e: Exercise, n: int) -> str | None:
        if e.kind == "thought" and e.key == 0:
            first.append(n)
            return None if len(first) == 1 else text_of(version, e)
        return text_of(version, e)

    hand = Hand(version, rule)
    hand.sit(sitting_of(version, hand))
    assert 1 < first[1] - first[0] <= 4


@pytest.mark.parametrize("seed", range(8))
def test_a_sitting_ends_when_its_time_is_over_and_with_a_right_answer(seed: int) -> None:
    """However badly somebody answers, the last answer is right, and the time is kept within a minute."""
    version = version_of()
    dice = random.Random(seed)

    def rule(e: Exercise, n: int) -> str | None:
        if sitting.closing:  # even then only what is shown is copied
            return text_of(version, e) if dice.random() < 0.5 + 0.1 * sitting.closing else None
        return text_of(version, e) if dice.random() < 0.4 else dice.choice([None, "lamp lamp"])

    hand = Hand(version, rule)
    sitting = sitting_of(version, hand, seconds=120)
    log = hand.sit(sitting)
    assert log[-1][1] is not None and log[-1][1].clean
    assert hand.time >= 120 and hand.time <= 120 + 10 * (sitting.closing + 1)


def test_the_closing_question_gets_easier_until_anyone_can_answer_it() -> None:
    version = version_of()
    hand = Hand(version, lambda e, n: None if len(hand.log) < 8 else text_of(version, e))
    sitting = sitting_of(version, hand, seconds=20)
    log = hand.sit(sitting)
    closing = [e for e, _, _ in log[2:]]
    assert closing[-1].first == closing[-1].last and closing[-1].hint == version.words[closing[-1].last].text


def test_a_long_sitting_asks_every_kind_of_drill_that_the_speech_allows() -> None:
    version = version_of()
    hand = Hand(version, lambda e, n: text_of(version, e))
    log = hand.sit(sitting_of(version, hand, seconds=900, pairs=[Lookalike(0, 2, 80)]))
    kinds = {e.kind for e, _, _ in log}
    assert kinds == {"thought", "join", "build-up", "build-back", "drop-in", "tell-apart"}
    back = [e for e, _, _ in log if e.kind == "build-back"]
    assert [b.last for b in back[:2]] == [33, 33] and back[0].first > back[1].first
    joins = [e for e, _, _ in log if e.kind == "join"]
    assert all(e.first == version.units[e.key].first and e.last - e.first < 5 for e in joins)
    apart = [e.key for e, _, _ in log if e.kind == "tell-apart"]
    assert apart[:2] == [0, 2]


def test_a_partners_line_is_the_cue_of_the_thought_after_it() -> None:
    version = version_of(cues=(Cue(0, 0, "And who carried the oil?", "PILOT", 3),))
    hand = Hand(version, lambda e, n: text_of(version, e))
    log = hand.sit(sitting_of(version, hand, wanted=[2]))
    first = log[0][0]
    assert (first.kind, first.shown, first.speaker) == ("cue", "And who carried the oil?", "PILOT")


def test_giving_up_rates_the_thought_as_again() -> None:
    version = version_of()
    hand = Hand(version, lambda e, n: None if n == 0 else text_of(version, e))
    log = hand.sit(sitting_of(version, hand))
    assert log[0][2] == {0: AGAIN}


def test_recalling_only_the_first_words_of_a_thought_does_not_count_as_knowing_it() -> None:
    """A right answer to its first words alone does not prove that a thought is known."""
    version = version_of()
    hand = Hand(version, lambda e, n: text_of(version, e))
    log = hand.sit(sitting_of(version, hand, seconds=900))
    joins = [
        r for e, _, r in log if e.kind == "join" and e.last - e.first + 1 < 0.6 * version.units[e.key].words
    ]
    assert joins and all(set(r.values()) == {0} for r in joins)
    whole = [r for e, _, r in log if e.kind == "build-up"]
    assert all(v == GOOD for r in whole for v in r.values())


def test_a_recall_with_the_first_letters_shown_is_rated_hard_and_not_good() -> None:
    version = version_of()
    hand = Hand(version, lambda e, n: text_of(version, e))
    log = hand.sit(sitting_of(version, hand))
    assert log[0][0].help == 2 and log[0][2] == {0: HARD}


def test_a_sitting_asks_only_the_kind_of_drill_that_was_chosen() -> None:
    version = version_of()
    for kind in ("join", "drop-in", "build-back"):
        hand = Hand(version, lambda e, n: text_of(version, e))
        log = hand.sit(sitting_of(version, hand, kinds=frozenset({kind}), seconds=200))
        assert {e.kind for e, _, _ in log} == {kind}


def test_each_lower_level_of_help_shows_less_of_the_line() -> None:
    line = ["Nobody", "asked", "who"]
    assert [veiled(line, h) for h in (3, 2, 1, 0)] == ["Nobody a···· who", "N····· a···· w··", "Nobody …", ""]


def test_the_drill_command_offers_exactly_the_kinds_of_drill_that_exist() -> None:
    from offbook.cli.drill import KINDS as OFFERED

    assert tuple(KINDS) == OFFERED


def test_a_speech_of_one_thought_can_be_drilled(tmp_path: Path) -> None:
    desk = desk_at(tmp_path, text="The lamp was lit.")
    hand = Hand(desk.version, lambda e, n: text_of(desk.version, e))
    log = hand.sit(sitting_of(desk.version, hand, wanted=[0]))
    assert len(log) > 10


@pytest.mark.parametrize(
    ("script", "typed"),
    [
        ("In 1603 the queen died.", "in 1603 the queen died"),
        ("In 1603 the queen died.", "in sixteen oh three the queen died"),
        ("In sixteen hundred and three the queen died.", "in 1603 the queen died"),
        ("Twenty-one guns, the third time", "21 guns the 3rd time"),
        ("It cost five pounds", "it cost £5"),
        ("1,603 men", "1603 men"),
        ("1,603 men", "1,603 men"),
        ("Rock & roll", "rock and roll"),
        ("A café, naïve", "a cafe\u0301, naive"),
    ],
)
def test_a_number_or_an_accented_word_is_right_however_it_is_typed(script: str, typed: str) -> None:
    assert judge(plain_words(script), typed).clean


def test_a_wrong_number_is_never_taken_for_a_typing_mistake() -> None:
    assert judge(plain_words("In 1604"), "in 1603").right == 1


@pytest.mark.parametrize(
    ("script", "typed", "verdict"),
    [
        ("their", "thier", "typo"),  # all three are surnames in the pronouncing dictionary
        ("friend", "freind", "typo"),
        ("said", "siad", "typo"),
        ("from", "form", "no"),
        ("diary", "dairy", "no"),
        ("unite", "untie", "no"),
        ("was", "saw", "no"),
    ],
)
def test_swapped_letters_are_a_typing_mistake_unless_they_make_a_common_word(
    script: str, typed: str, verdict: str
) -> None:
    assert passes(script, typed) == verdict


def plain_words(text: str) -> tuple[Word, ...]:
    return words_of(Script("", "", text, "prose", (Line(1, 0, len(text), text, 1),)))


def test_a_passage_is_shown_as_it_is_printed_in_the_script(tmp_path: Path) -> None:
    """Stops and quotation marks stay; directions, names, other parts and the format's own marks do not."""
    scene = tmp_path / "scene.fountain"
    scene.write_text(
        "INT. PIER - NIGHT\n\nMARA\nWho goes *there*?\n\nPILOT\n“Nobody,” (coughs) I said -- "
        "and meant it.\n(turning)\nGood night.\n\nMARA\nGood night!\n",
        encoding="utf-8",
    )
    script = scripts.load_script(scene, "PILOT")
    words = words_of(script)
    shown = as_written(script, words, 0, len(words) - 1)
    assert shown.startswith("“Nobody,”") and shown.endswith("and meant it. Good night.")
    assert "turning" not in shown and "Who" not in shown
    mara = scripts.load_script(scene, "MARA")
    assert as_written(mara, words_of(mara), 0, 4) == "Who goes there? Good night!"
    verse = scripts.load_script(Path(__file__).parent.parent / "corpus_demo" / "the_lamp.txt")
    assert as_written(verse, words_of(verse), 6, 13) == "the lamp alight. / No ship has rounded Gannet"


def test_a_kind_of_drill_that_cannot_be_asked_is_reported() -> None:
    version = version_of()
    hand = Hand(version, lambda e, n: text_of(version, e))
    assert sitting_of(version, hand, kinds=frozenset({"cue"})).lacking() == ["cue"]
    assert sitting_of(version, hand, kinds=frozenset({"tell-apart"})).lacking() == ["tell-apart"]
    both = frozenset[Kind]({"cue", "join"})
    assert sitting_of(version, hand, kinds=both).lacking() == []
    pairs = [Lookalike(0, 2, 80)]
    assert sitting_of(version, hand, kinds=frozenset({"tell-apart"}), pairs=pairs).lacking() == []


def test_a_thought_that_needed_a_prompt_is_rated_as_not_recalled() -> None:
    """One word of nine was prompted; a prompt in a run-through has the same effect."""
    version = version_of()
    sitting = sitting_of(version, Hand(version, lambda e, n: None))
    exercise = sitting.ask()
    assert exercise is not None
    answer = Answering(version.script, version.words, exercise.first, exercise.last)
    answer, _ = answer.prompt()
    rest = " ".join(w.text for w in version.words[exercise.first + 1 : exercise.last + 1])
    ratings = sitting.take(exercise, answer.add(rest).judged())
    assert ratings[exercise.key] == AGAIN


def test_a_join_does_not_cut_a_hyphenated_word_in_two() -> None:
    """The first five words of the thought end between the halves."""
    script = parse_script(
        "Nobody came up the stairs that night.\nAnd so the long to-morrow comes at last.", title="x"
    )
    words = words_of(script)
    units = units_of(script, words, [Mark(7, 2)])
    version = Version("v", "p", 1, Clock().now, script, words, tuple(range(len(words))), units)
    memories = {u.key: known(u.key, 1) for u in units}
    kinds: frozenset[Kind] = frozenset({"join"})
    sitting = sitting_of(version, Hand(version, lambda e, n: None), memories=memories, wanted=(), kinds=kinds)
    exercise = sitting.ask()
    assert exercise is not None and exercise.kind == "join"
    assert [w.text for w in words[exercise.first : exercise.last + 1]][-2:] == ["to", "morrow"]


@pytest.mark.parametrize(
    ("text", "opening"),
    [
        ("Nobody came. No bell rang all night.\n", "Nobody came. No bell rang"),
        ("Nobody came.\n", "Nobody came"),
        ("“Who’s there?” he said, and no bell answered.\n", "“Who’s there?” he said, and"),
        ("The tide took the\nLights from the wall,\nAnd left me there.\n", "The tide took the / Lights"),
    ],
)
def test_a_thought_is_named_by_its_first_words_with_the_punctuation_between_them(
    text: str, opening: str
) -> None:
    script = parse_script(text)
    (unit,) = units_of(script, words_of(script), [])
    assert unit.opening == opening
