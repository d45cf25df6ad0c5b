"""Words beside the script and how they are classified, at the limits of silence and of number."""

from __future__ import annotations

import pytest

from offbook.notes.asides import ExtrasBetween, extras_between, is_cue, sort_extras, title_words
from offbook.notes.quoting import SpokenScript
from offbook.score import Extra, Run, WordVerdict
from offbook.words import words_of
from tests.performing import verse

SCRIPT = verse(
    "They carried down the table and the chair,",
    "The clock my mother wound, the copper pan,",
    "And left the window open on the stair",
    title="the_clearance",
)
PAGE = SpokenScript.of(SCRIPT, words_of(SCRIPT))
WORD = 0.25  # s that each word lasts
NEVER = float("inf")
CARRIED, CLOCK = 1, 9  # script words


def stretch(place: int, said: str, before: float = 0.0, after: float = 0.0) -> ExtrasBetween:
    """Words one after the other; "[0.5]" between two of them is so much silence."""
    now, extras = 100.0, list[Extra]()
    for token in said.split():
        if token.startswith("["):
            now += float(token[1:-1])
        else:
            extras.append(Extra(place, token, now, now + WORD, 0.9))
            now += WORD
    return ExtrasBetween(place, tuple(extras), before, after)


def told(s: ExtrasBetween) -> tuple[list[tuple[str, str]], list[str]]:
    """The asides of a stretch with what was heard of them, and the words that are added."""
    asides, added = sort_extras(PAGE, s, {})
    return [(a.kind, a.heard) for a in asides], [e.heard for e in added]


def test_um_is_always_a_filler_and_oh_only_between_two_silences() -> None:
    """A quarter of a second on either side is a silence, a little less is none."""
    assert told(stretch(CLOCK, "um")) == ([("filler", "um")], [])
    assert told(stretch(CLOCK, "oh", 0.25, 0.25)) == ([("filler", "oh")], [])
    for before, after in ((0.24, 2.0), (2.0, 0.24), (0.0, 0.0)):
        assert told(stretch(CLOCK, "oh", before, after)) == ([], ["oh"])
    assert told(stretch(CLOCK, "oh [0.25] heavy", 0.25)) == ([("filler", "oh")], ["heavy"])
    assert told(stretch(CLOCK, "heavy [0.25] oh", 0.25, 0.25)) == ([("filler", "oh")], ["heavy"])
    assert told(stretch(CLOCK, "oh [0.125] heavy", 0.25)) == ([], ["oh", "heavy"])


def test_the_time_of_a_filler_counts_as_silence_beside_the_next_word() -> None:
    """A call for the line has half a second around it; here an "um" is half of that."""
    assert told(stretch(CLOCK, "um line", 0.125, 0.125)) == ([("filler", "um"), ("prompt", "line")], [])
    assert told(stretch(CLOCK, "line um", 0.125, 0.125)) == ([("prompt", "line"), ("filler", "um")], [])
    assert told(stretch(CLOCK, "um line", 0.125)) == ([("filler", "um")], ["line"])
    assert told(stretch(CLOCK, "line um", 0.0, 0.125)) == ([("filler", "um")], ["line"])


def test_the_word_line_is_a_call_beside_half_a_second_of_silence_or_after_words_that_ask() -> None:
    for before, after in ((0.5, 0.0), (0.0, 0.5), (0.25, 0.25)):
        assert told(stretch(CLOCK, "line", before, after)) == ([("prompt", "line")], [])
    assert told(stretch(CLOCK, "line", 0.25, 0.24)) == ([], ["line"])
    assert told(stretch(CLOCK, "please line")) == ([("prompt", "please line")], [])
    assert told(stretch(CLOCK, "heavy line")) == ([], ["heavy", "line"])
    assert told(stretch(CLOCK, "heavy [0.5] line")) == ([("prompt", "heavy line")], [])
    assert told(stretch(CLOCK, "line [0.5] heavy")) == ([("prompt", "line heavy")], [])


def test_script_words_read_out_after_a_call_belong_to_the_prompt() -> None:
    (prompt,), added = sort_extras(PAGE, stretch(CLOCK, "line please clock my mother", 1.0), {})
    assert (prompt.kind, prompt.words, prompt.asked, added) == ("prompt", (CLOCK, CLOCK + 2), True, [])
    (alone,), _ = sort_extras(PAGE, stretch(CLOCK, "line", 1.0), {})
    assert (alone.words, alone.asked) == ((CLOCK, CLOCK), True)


def test_up_to_four_words_with_sorry_are_a_correction_and_more_are_talk() -> None:
    assert told(stretch(CLOCK, "no it was sorry"))[0] == [("correction", "no it was sorry")]
    assert told(stretch(CLOCK, "no it was not sorry"))[0] == [("talk", "no it was not sorry")]
    assert told(stretch(CLOCK, "heavy old brown big")) == ([], ["heavy", "old", "brown", "big"])


def test_talk_inside_a_speech_is_recognised_only_by_whole_phrases() -> None:
    assert told(stretch(CLOCK, "now hang on"))[0] == [("talk", "now hang on")]
    assert told(stretch(CLOCK, "hang on now"))[0] == [("talk", "hang on now")]
    for said in ("hang", "now hang one", "hang it on"):
        assert told(stretch(CLOCK, said)) == ([], said.split())


@pytest.mark.parametrize(("begun", "cut"), [("c", False), ("ca", True), ("carri", True), ("carrie", False)])
def test_a_word_cut_short_has_at_least_two_letters_and_lacks_at_least_two(begun: str, cut: bool) -> None:
    s = stretch(CARRIED, begun)
    assert told(s) == (([("cut short", begun)], []) if cut else ([], [begun]))
    if cut:
        assert sort_extras(PAGE, s, {})[0][0].words == (CARRIED, CARRIED)


def test_two_begun_words_or_the_beginning_of_another_word_count_as_added() -> None:
    assert told(stretch(CARRIED, "car ca")) == ([], ["car", "ca"])
    assert told(stretch(CLOCK, "ca")) == ([], ["ca"])
    assert told(stretch(len(PAGE), "ca", 0.1, 0.1)) == ([], ["ca"])  # after the last word there is no other


def test_one_or_two_words_directly_before_the_first_word_belong_to_the_speech() -> None:
    """Two words at most, less than .4 s before it, and not such as "okay"."""
    assert told(stretch(0, "heavy old", NEVER, 0.39)) == ([], ["heavy", "old"])
    assert told(stretch(0, "heavy old", NEVER, 0.4)) == ([("before", "heavy old")], [])
    assert told(stretch(0, "heavy old brown", NEVER, 0.1)) == ([("before", "heavy old brown")], [])
    assert told(stretch(0, "okay", NEVER, 0.1)) == ([("before", "okay")], [])
    assert told(stretch(0, "heavy [0.5] old", NEVER, 0.1)) == ([("before", "heavy")], ["old"])
    assert told(stretch(0, "heavy [0.25] old", NEVER, 0.5)) == ([("before", "heavy old")], [])


def test_before_the_speech_a_spoken_name_is_a_slate_and_the_titles_words_are_the_title() -> None:
    assert told(stretch(0, "i'm anna", NEVER, 1.0))[0] == [("slate", "i'm anna")]
    assert told(stretch(0, "i am anna", NEVER, 1.0))[0] == [("slate", "i am anna")]
    assert told(stretch(0, "anna hale reading", NEVER, 1.0))[0] == [("slate", "anna hale reading")]
    assert told(stretch(0, "i was anna", NEVER, 1.0))[0] == [("before", "i was anna")]
    assert told(stretch(0, "anna i'm", NEVER, 1.0))[0] == [("before", "anna i'm")]
    assert title_words(SCRIPT) == {"the", "clearance"}
    assert told(stretch(0, "the clearance", NEVER, 1.0))[0] == [("title", "the clearance")]


def test_the_spoken_title_may_come_with_its_author_and_a_few_other_words() -> None:
    """At least three tenths of the title's own words, and six tenths with such as "by" and "from"."""

    def kind(said: str) -> str:
        return told(stretch(0, said, NEVER, 1.0))[0][0][0]

    three, two = "clearance clearance clearance", "clearance clearance"
    assert kind(f"{three} by from act poem scene of a") == "title"  # 3 of 10
    assert kind(f"{two} by from act poem scene") == "before"  # 2 of 7
    assert kind(f"{three} big old") == "title"  # 3 of 5
    assert kind(f"{two} by big old") == "title"  # 3 of 5 with "by"
    assert kind(f"{two} big old") == "before"  # 2 of 4


def test_directly_after_the_speech_two_words_are_added_and_later_words_are_not() -> None:
    end = len(PAGE)
    assert told(stretch(end, "heavy old", 0.39, NEVER)) == ([], ["heavy", "old"])
    assert told(stretch(end, "heavy old", 0.4, NEVER)) == ([("after", "heavy old")], [])
    assert told(stretch(end, "heavy old brown", 0.1, NEVER)) == ([("after", "heavy old brown")], [])
    assert told(stretch(end, "heavy [0.5] old", 0.1, NEVER)) == ([("after", "old")], ["heavy"])
    assert told(stretch(end, "heavy [0.5] old", 1.0, NEVER)) == ([("after", "heavy"), ("after", "old")], [])


def run_of(times: list[tuple[float, float] | None], extras: list[Extra]) -> Run:
    """A run of script words with these times, None for one that was dropped."""
    words = [
        WordVerdict(i, "x", "dropped", None, None, None, None)
        if t is None
        else WordVerdict(i, "x", "said", "x", *t, 0.9)
        for i, t in enumerate(times)
    ]
    return Run(tuple(words), tuple(extras), 10.0, 5.0)


def test_a_stretch_of_extra_words_knows_the_silence_before_and_after_it() -> None:
    run = run_of(
        [(1.0, 1.5), None, (4.0, 4.5), (6.0, 6.5)],
        [Extra(2, "b", 3.0, 3.25, 0.9), Extra(2, "a", 2.0, 2.25, 0.9), Extra(4, "c", 8.0, 8.5, 0.9)],
    )
    first, last = extras_between(run)
    assert (first.place, first.tokens, first.before, first.after) == (2, ("a", "b"), 0.5, 0.75)
    assert (last.place, last.tokens, last.before, last.after) == (4, ("c",), 1.5, NEVER)
    assert first.silences_before == (0.0, 0.0)  # word 1 was not heard, and before word 0 nothing was
    assert [last.silence(back) for back in range(3)] == [1.5, 1.5, 0.0]
    (only,) = extras_between(run_of([(1.0, 1.5)], [Extra(0, "a", 0.0, 0.5, 0.9)]))
    assert (only.before, only.after) == (NEVER, 0.5)


def test_noises_and_a_second_word_heard_in_the_same_sound_are_ignored() -> None:
    times: list[tuple[float, float] | None] = [(0.0, 0.5), (5.0, 5.5)]
    first = Extra(1, "a", 1.0, 2.0, 0.9)
    half, more = Extra(1, "b", 1.5, 2.5, 0.9), Extra(1, "b", 1.375, 2.375, 0.9)
    assert extras_between(run_of(times, [first, half]))[0].tokens == ("a", "b")
    assert extras_between(run_of(times, [first, more]))[0].tokens == ("a",)
    for noise in ("[unk]", "...", ""):
        assert extras_between(run_of(times, [Extra(1, noise, 1.0, 2.0, 0.9)])) == []


def test_words_that_overlap_by_at_most_a_twentieth_of_a_second_count_as_neighbours() -> None:
    near, far = (Extra(1, "a", start, start + 1.0, 0.9) for start in (0.953125, 0.9375))
    for extra, before in ((near, -0.046875), (far, NEVER)):
        (s,) = extras_between(run_of([(0.5, 1.0), (5.0, 5.5)], [extra]))
        assert s.before == before
    for end, after in ((2.046875, -0.046875), (2.0625, NEVER)):
        (s,) = extras_between(run_of([(0.0, 0.5), (2.0, 2.5)], [Extra(1, "a", 1.0, end, 0.9)]))
        assert s.after == after


LONG = verse("One lamp,", "Two clocks,", "Three chairs,", "Four stairs,", "Five swallows,", "Six pans.")
LONG_PAGE = SpokenScript.of(LONG, words_of(LONG))  # two words on each line


def cue_at(line: int | None, place: int, said: str = "who is there now") -> bool:
    """Whether "who is there now", printed before a line, was said at a place, a script word."""
    return is_cue(LONG_PAGE, place, said.split(), {line: ("who", "is", "there", "now")})


def test_a_cue_is_searched_for_from_three_lines_before_to_one_line_after() -> None:
    assert [n for n in range(1, 7) if cue_at(n, 8)] == [2, 3, 4, 5, 6]  # at line 5
    assert [n for n in range(1, 7) if cue_at(n, 2)] == [1, 2, 3]  # at line 2
    assert [place // 2 + 1 for place in range(0, 12, 2) if cue_at(None, place)] == [5, 6]
    assert not is_cue(LONG_PAGE, 0, ["who", "is"], {})


def test_a_cue_is_recognised_by_six_in_ten_words_in_order_or_all_of_a_short_one() -> None:
    assert cue_at(1, 0, "who is it")  # 2 of 3
    assert cue_at(1, 0, "who saw it is there")  # 3 of 5
    assert not cue_at(1, 0, "big who old is")  # 2 of 4, and not like it by its letters either
    assert not cue_at(1, 0, "who")  # one word of four
    assert is_cue(LONG_PAGE, 0, ["who"], {1: ("who",)})
    assert not is_cue(LONG_PAGE, 0, ["whose"], {1: ("who",)})


def test_a_half_heard_cue_needs_three_words_and_must_not_be_too_long() -> None:
    assert cue_at(1, 0, "whose there no")
    assert not cue_at(1, 0, "whose there")  # as like, and too short
    assert not cue_at(1, 0, "whose there no whose there no")  # as like, and too long


def test_a_small_word_is_not_taken_for_the_beginning_of_a_longer_word() -> None:
    script = verse("Another lamp was lit")
    page = SpokenScript.of(script, words_of(script))
    assert [a.kind for a in sort_extras(page, stretch(0, "an", 0.1, 0.1), {})[0]] == []
    assert [a.kind for a in sort_extras(page, stretch(0, "ano", 0.1, 0.1), {})[0]] == ["cut short"]
