"""Line notes: when a recording is of another speech, which silences are dries, and which prompts are one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from offbook.errors import RecordingError
from offbook.notes.kinds import Aside, Dry, Note, Pause
from offbook.notes.line_notes import (
    _dries,
    _opens_a_contraction,
    _refuse_another_speech,
    _same_prompt,
    _with_prompts_joined,
    heard_pauses,
)
from offbook.notes.quoting import SpokenScript
from offbook.score import Extra, Run, WordVerdict
from offbook.script import Script, parse_script
from offbook.words import words_of
from tests.performing import second_by_second, verse
from tests.test_notes import SCRIPT

PAGE = SpokenScript.of(SCRIPT, words_of(SCRIPT))
FORTY = "lamp clock chair stair bird hall roof rent letter spring " * 4


def page_of(count: int, title: str = "the_lamp", source: str = "") -> SpokenScript:
    script = replace(verse(" ".join(FORTY.split()[:count]), title=title), source=source)
    return SpokenScript.of(script, words_of(script))


def refused(page: SpokenScript, said: set[int], extras: int = 0, unsure: frozenset[int] = frozenset()) -> str:
    """Why a run-through with only these words said is refused, "" if it is not."""
    gone: dict[int, str | None] = {i: None for i in range(len(page)) if i not in said | unsure}
    run = second_by_second(page.words, gone, [(0, "x")] * extras)
    words = tuple(replace(w, verdict="unsure") if w.i in unsure else w for w in run.words)
    try:
        _refuse_another_speech(page, replace(run, words=words))
    except RecordingError as error:
        assert error.do == "check that the script and the recording belong together, then run again"
        return error.what
    return ""


def other(share: int) -> str:
    return f"this does not sound like “the lamp”: only {share} % of its words were heard in order"


def test_four_words_in_a_row_are_of_the_speech_and_in_a_script_of_19_words_two_are() -> None:
    assert refused(page_of(20), {3, 4, 5}) == other(0)
    assert refused(page_of(20), {3, 4, 5, 6}) == ""
    assert refused(page_of(20), {16, 17, 18, 19}) == ""  # up to the last word
    assert refused(page_of(19), {4}) == other(0)
    assert refused(page_of(19), {4, 5}) == ""
    assert refused(page_of(1), {0}) == ""


def test_a_word_that_is_unsure_does_not_part_those_on_its_two_sides() -> None:
    """And counts neither for them nor against them, except that it was heard."""
    assert refused(page_of(20), {3, 4, 6, 7}) == other(0)
    assert refused(page_of(20), {3, 4, 6, 7}, unsure=frozenset({5})) == ""
    assert refused(page_of(20), {3, 4, 6}, unsure=frozenset({5})) == other(0)


def test_fifteen_hundredths_of_the_script_in_a_row_are_enough_whatever_else_was_heard() -> None:
    assert refused(page_of(40), set(range(6)), extras=50) == ""
    assert refused(page_of(40), set(range(5)), extras=50) == other(12)
    assert refused(page_of(60 - 20), {0, 1, 2, 3, 10, 11, 12, 13}, extras=50) == ""  # two rows together


def test_half_of_what_was_heard_in_a_row_is_enough_however_little_of_the_script_it_is() -> None:
    assert refused(page_of(40), {0, 1, 2, 3}, extras=4) == ""
    assert refused(page_of(40), {0, 1, 2, 3}, extras=5) == other(10)
    page = page_of(40)
    run = second_by_second(page.words, {i: "x" if 4 <= i < 9 else None for i in range(4, 40)})
    with pytest.raises(RecordingError, match="only 10 %"):
        _refuse_another_speech(page, run)  # a changed word was heard too


def test_a_recording_without_words_and_a_script_without_a_title_are_told_so() -> None:
    assert refused(page_of(40), set()) == "no words of “the lamp” were heard in the recording"
    assert refused(page_of(40, "", "lamp.txt"), set()) == "no words of “lamp.txt” were heard in the recording"
    assert refused(page_of(40, "", ""), set()) == "no words of “the script” were heard in the recording"


def run_of(times: dict[int, tuple[float, float]], *extras: Extra) -> Run:
    """The words with these times were said, the others were not."""
    words = [
        WordVerdict(w.i, w.text, "said", "x", *times[w.i], 0.9)
        if w.i in times
        else WordVerdict(w.i, w.text, "dropped", None, None, None, None)
        for w in PAGE.words
    ]
    return Run(tuple(words), extras, 10.0, 5.0)


def test_a_pause_is_a_fifth_of_a_second_between_two_heard_words() -> None:
    run = run_of({0: (0.0, 0.25), 1: (0.25, 0.5), 9: (0.75, 1.0), 10: (1.125, 1.5)})
    assert heard_pauses(PAGE, run) == [Pause(9, 2, 0.5, 0.25)]
    (pause,) = heard_pauses(PAGE, run_of({0: (0.0, 0.3), 1: (0.5, 0.75)}))
    assert (pause.before_word, pause.line, pause.at, pause.seconds) == (1, 1, 0.3, 0.2)
    assert heard_pauses(PAGE, run_of({0: (0.0, 0.3), 1: (0.49, 0.75)})) == []
    assert heard_pauses(PAGE, run_of({})) == []


def test_a_pause_begins_where_the_last_of_the_words_before_it_ended() -> None:
    run = run_of({0: (0.0, 2.0), 1: (0.5, 1.0), 2: (3.0, 3.5)})
    assert heard_pauses(PAGE, run) == [Pause(2, 1, 2.0, 1.0)]


def test_words_beside_the_script_end_a_pause_but_fillers_and_what_is_outside_the_speech_do_not() -> None:
    times = {0: (1.0, 1.5), 66: (5.0, 5.5)}

    def pauses(place: int, heard: str, start: float, end: float) -> list[Pause]:
        return heard_pauses(PAGE, run_of(times, Extra(place, heard, start, end, 0.9)))

    assert pauses(20, "x", 2.0, 2.5) == [Pause(20, 3, 1.5, 0.5), Pause(66, 8, 2.5, 2.5)]
    assert pauses(20, "um", 2.0, 2.5) == [Pause(66, 8, 1.5, 3.5)]
    assert pauses(0, "x", 0.0, 0.5) == pauses(67, "x", 6.0, 6.5) == [Pause(66, 8, 1.5, 3.5)]
    assert pauses(0, "x", 0.875, 1.125) == [Pause(66, 8, 1.5, 3.5)]
    assert pauses(67, "x", 5.25, 5.75) == [Pause(66, 8, 1.5, 3.5)]
    assert pauses(67, "x", 4.0, 5.5) == [Pause(66, 8, 1.5, 2.5)]  # at the last word at most
    assert pauses(1, "x", 1.0, 2.0) == [Pause(66, 8, 2.0, 3.0)]


TWO = parse_script("The lamp is out, I think. Nobody came.\n\nThe stair was cold.")
TWO_PAGE = SpokenScript.of(TWO, words_of(TWO))


@pytest.mark.parametrize(
    ("page", "word", "longest"),
    [
        (PAGE, 1, 2.5),  # inside a phrase
        (PAGE, 13, 4.0),  # after a comma
        (PAGE, 24, 4.0),  # at the end of a line
        (PAGE, 33, 5.0),  # at the end of a sentence
        (TWO_PAGE, 8, 6.0),  # at the end of a paragraph
        (PAGE, 0, 6.0),  # before everything
    ],
)
def test_how_long_a_silence_may_be_intended_goes_by_what_has_just_ended(
    page: SpokenScript, word: int, longest: float
) -> None:
    at = [Pause(word, 1, 7.0, longest)]
    assert _dries(page, at) == (Dry(word, 1, 7.0, longest),)
    assert _dries(page, [replace(at[0], seconds=longest - 0.01)]) == ()


def test_a_performer_who_pauses_long_is_dry_only_after_three_times_as_long() -> None:
    """From five pauses on, by their median."""

    def dry(*seconds: float) -> list[float]:
        return [d.seconds for d in _dries(PAGE, [Pause(1, 1, 0.0, s) for s in seconds])]

    assert dry(2.0, 2.0, 2.0, 3.0) == [3.0]  # four say nothing yet
    assert dry(2.0, 2.0, 2.0, 2.0, 5.9) == []
    assert dry(2.0, 2.0, 2.0, 2.0, 6.0) == [6.0]
    assert dry(0.5, 0.5, 0.5, 0.5, 2.5) == [2.5]  # the bound for everybody holds too
    assert dry() == []


def aside(kind: str, start: float, place: int = 9, **more: object) -> Aside:
    made = Aside("talk", place, kind, start, start + 0.5)
    return replace(made, kind=kind, **more)  # type: ignore[arg-type]


def test_what_is_heard_from_four_seconds_before_a_known_prompt_to_three_after_is_that_prompt() -> None:
    given = aside("prompt", 10.0, given=True)
    times = (5.99, 6.0, 13.0, 13.01)
    assert [_same_prompt(aside("prompt", at), given) for at in times] == [False, True, True, False]


@pytest.mark.parametrize(
    ("kind", "same"),
    [
        *(("prompt", True), ("talk", True), ("after", True), ("before", True)),
        *(("restart", False), ("filler", False), ("correction", False), ("cue", False)),
    ],
)
def test_only_calls_and_talk_near_a_known_prompt_are_that_prompt(kind: str, same: bool) -> None:
    assert _same_prompt(aside(kind, 10.0), aside("prompt", 10.0, given=True)) is same


def test_words_said_again_right_after_a_call_for_the_line_are_its_prompt() -> None:
    call = aside("prompt", 1.0, asked=True, words=(9, 9))
    again = aside("restart", 2.0, words=(9, 11))
    joined = Aside("prompt", 9, "prompt restart", 1.0, 2.5, (9, 11), asked=True)
    assert _with_prompts_joined([call, again]) == [joined]
    assert _with_prompts_joined([again, call]) == [again, call]
    for first, then in (
        (replace(call, asked=False), again),
        (replace(call, given=True), again),
        (replace(call, kind="talk"), again),
        (call, replace(again, kind="correction")),
        (call, replace(again, words=None)),
        (call, replace(again, words=(8, 11))),
    ):
        assert _with_prompts_joined([first, then]) == [first, then]
    assert _with_prompts_joined([]) == []


def test_the_second_half_of_a_contraction_said_in_full_is_no_added_word() -> None:
    """ "I'm" is word 33, and "am" was left over beside it."""
    changed = Note("changed", 33, 33, "I'm", "i am", 33.0, 5, "")

    def opens(place: int, heard: str = "am", note: Note = changed) -> bool:
        return _opens_a_contraction([note], Extra(place, heard, 33.0, 33.5, 0.9))

    assert [opens(place) for place in (32, 33, 34, 35)] == [False, True, True, False]
    assert not opens(33, "x")
    assert not opens(33, note=replace(changed, kind="added"))
    assert not opens(33, note=replace(changed, heard="we am"))
    assert not _opens_a_contraction([], Extra(33, "am", 33.0, 33.5, 0.9))


def test_a_script_keeps_its_own_name_in_the_refusal() -> None:
    script = Script("My Lamp", "x.txt", "lamp\n", "prose", parse_script("lamp").lines)
    page = SpokenScript.of(script, words_of(script))
    assert refused(page, set()) == "no words of “My Lamp” were heard in the recording"
