"""The notes: each kind of slip becomes its kind of note, and nothing else becomes one."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.errors import RecordingError
from offbook.notes import Aside, Review, notes_on
from offbook.score import Extra, Run, WordVerdict
from offbook.script import parse_script
from offbook.words import contraction, words_of
from tests.performing import hear_said, heard_run, perform, timed, verse
from tests.recordings import TWO_CITIES

LINES = (
    "They carried down the table and the chair,",
    "The clock my mother wound, the copper pan,",
    "And left the window open on the stair",
    "For any bird that knew us to come in.",
    "I'm told a swallow nested in the hall",
    "And raised four children underneath our roof;",
    "No rent was asked, no letter came at all,",
    "And spring by spring she brought us back the proof.",
)
SCRIPT = verse(*LINES, title="The House Clearance")
SAID = [" ".join(w.spoken[0]) for w in words_of(SCRIPT)]
WHOLE = " ".join(SAID)


_VERBS = "mended carried painted counted borrowed followed answered gathered opened polished"
_THINGS = "harbour candle window orchard kettle ribbon saddle feather mirror garden river"
VERBS, THINGS = _VERBS.split(), _THINGS.split()


def said(change: str, into: str) -> Review:
    assert WHOLE.count(change) == 1, f"{change!r} must stand once in the speech"
    return perform(SCRIPT, WHOLE.replace(change, into))


def kinds(r: Review) -> list[str]:
    return [n.kind for n in r.notes]


def test_a_perfect_run_through_has_no_notes() -> None:
    r = perform(SCRIPT, WHOLE)
    assert (r.notes, r.added, r.asides, r.dropped_lines, r.places) == ((), (), (), (), ())
    assert r.run.accuracy == 1.0


def test_neighbouring_dropped_words_are_one_note() -> None:
    r = said("open on the stair", "open stair")
    assert [(n.kind, n.script) for n in r.notes] == [("dropped", "on the")]


def test_a_changed_phrase_is_one_note_with_both_wordings() -> None:
    r = said("copper pan", "iron kettle")
    assert [(n.kind, n.script, n.heard) for n in r.notes] == [("changed", "copper pan", "iron kettle")]


def test_one_word_replaced_by_two_is_one_changed_note() -> None:
    r = said("nested in", "made home in")
    assert [(n.kind, n.script, n.heard) for n in r.notes] == [("changed", "nested", "made home")]


def test_a_contraction_said_in_full_is_changed_and_its_note_says_that_the_meaning_is_the_same() -> None:
    r = said("i'm told", "i am told")
    assert kinds(r) == ["changed"]
    assert r.added == ()
    assert "same meaning" in r.notes[0].detail


def test_a_word_not_in_the_script_is_added_before_the_word_that_followed_it() -> None:
    r = said("copper pan", "copper frying pan")
    assert [(x.heard, words_of(SCRIPT)[x.before_word].text) for x in r.added] == [("frying", "pan")]
    assert [(n.kind, n.heard, n.script) for n in r.notes] == [("added", "frying", "")]


@pytest.mark.parametrize("filler", ["um", "uh", "er", "hm"])
def test_a_filler_is_not_an_added_word_and_makes_no_note(filler: str) -> None:
    r = said("copper pan", f"copper {filler} pan")
    assert [a.kind for a in r.asides] == ["filler"]
    assert (r.added, r.notes) == ((), ())


@pytest.mark.parametrize(
    "change, into, again",
    [
        ("and raised four", "and raised [0.4] and raised four", "And raised"),
        ("and raised four", "and raised um [0.4] and raised four", "And raised"),
        ("a swallow nested", "a swallow a swallow nested", "a swallow"),
        ("swallow nested", "swallow swallow nested", "swallow"),
        ("for any bird", "for any for any for any bird", "For any"),
    ],
)
def test_words_that_are_begun_again_are_noted_as_repeated_and_add_nothing(
    change: str, into: str, again: str
) -> None:
    r = said(change, into)
    assert r.added == ()
    assert [(n.kind, n.script) for n in r.notes] == [("repeated", again)]
    assert r.run.accuracy == 1.0


def test_going_back_a_line_and_saying_it_again_is_one_repeat() -> None:
    line = "no rent was asked no letter came at all"
    r = said(line, f"{line} [1.0] {line}")
    assert kinds(r) == ["repeated"]
    assert r.added == ()


def test_jumping_ahead_and_coming_back_is_one_note_that_says_so() -> None:
    ahead = "no rent was asked no letter"
    r = said("and raised four", f"{ahead} [1.0] and raised four")
    assert kinds(r) == ["repeated"]
    assert "jumped ahead" in r.notes[0].detail
    assert r.added == ()


@pytest.mark.parametrize(
    "into",
    [
        "raised three children raised four children",
        "raised three sorry raised four children",
        "raised three four children",
    ],
)
def test_a_slip_that_is_corrected_at_once_counts_as_said(into: str) -> None:
    r = said("raised four children", into)
    assert r.run.accuracy == 1.0
    assert not {"changed", "dropped"} & set(kinds(r))


def test_a_slip_corrected_together_with_the_words_before_it_adds_nothing() -> None:
    r = said("raised four children", "raised three children [0.3] raised four children")
    assert r.added == ()
    assert kinds(r) == ["repeated"]


def test_a_word_broken_off_and_begun_again_is_not_an_added_word() -> None:
    r = said("the window open", "the win window open")
    assert r.added == ()
    assert kinds(r) == ["repeated"]


def test_two_neighbouring_words_in_the_other_order_are_swapped() -> None:
    r = said("copper pan", "pan copper")
    assert [(n.kind, n.script) for n in r.notes] == [("swapped", "copper pan")]
    assert r.added == ()


def test_two_phrases_that_changed_places_around_a_shared_word_are_swapped() -> None:
    r = said("the table and the chair", "the chair and the table")
    assert [(n.kind, n.script) for n in r.notes] == [("swapped", "table and the chair")]
    assert r.added == ()


def test_a_swap_is_found_however_the_aligner_assigned_its_words() -> None:
    """Said: no oar, no bell, no cry. The first two heard words are extras, the last script words gone."""
    script = verse("Nobody came. No bell, no oar, no cry.")
    words = words_of(script)
    heard = timed("nobody came no oar no bell no cry")
    given = {0: 0, 1: 1, 2: 4, 3: 5, 4: 6, 7: 7}  # script word: heard word

    def verdict(i: int) -> WordVerdict:
        if i not in given:
            return WordVerdict(i, words[i].text, "dropped", None, None, None, None)
        h, a, b = heard[given[i]]
        return WordVerdict(i, words[i].text, "changed" if i == 7 else "said", h, a, b, 1.0)

    extras = tuple(Extra(2, *heard[k], 1.0) for k in (2, 3))
    r = notes_on(script, words, Run(tuple(map(verdict, range(8))), extras, 2.4, 2.4))
    assert [(n.kind, n.script, n.heard) for n in r.notes] == [("swapped", "bell, no oar", "oar no bell")]
    assert [w.verdict for w in r.run.words] == ["said"] * 3 + ["changed", "said", "changed"] + ["said"] * 2


@pytest.mark.parametrize(
    "heard", ["no oar no bell no cry", "know or no bell no cry", "no ore know bell no cry"]
)
def test_a_swap_is_found_whatever_the_spelling_of_what_was_heard(heard: str) -> None:
    r = perform(verse("Nobody came. No bell, no oar, no cry."), f"nobody came {heard}")
    assert [(n.kind, n.script) for n in r.notes] == [("swapped", "bell, no oar")]
    assert r.added == ()


def test_a_line_said_in_another_place_is_swapped_and_not_dropped() -> None:
    first, second = "i'm told a swallow nested in the hall", "and raised four children underneath our roof"
    r = said(f"{first} {second}", f"{second} {first}")
    assert kinds(r) == ["swapped"]
    assert (r.dropped_lines, r.added) == ((), ())


def test_a_dropped_line_is_found_and_is_the_first_place_to_work_on() -> None:
    r = said(" for any bird that knew us to come in", "")
    assert [(d.line, d.first, d.last) for d in r.dropped_lines] == [(4, 24, 32)]
    assert [(n.kind, n.script) for n in r.notes] == [("dropped", "For any bird that knew us to come in")]
    assert r.places[0].lines == (4, 4)


def test_neighbouring_dropped_lines_are_one_place_to_work_on() -> None:
    r = said(" and left the window open on the stair for any bird that knew us to come in", "")
    assert [d.line for d in r.dropped_lines] == [3, 4]
    assert r.places[0].lines == (3, 4)


def test_half_a_line_dropped_is_not_counted_as_a_dropped_line() -> None:
    r = said(" knew us to come in", "")
    assert r.dropped_lines == ()
    assert kinds(r) == ["dropped"]


@pytest.mark.parametrize("call", ["[2.0] line [1.5]", "[1.0] sorry line [1.0]", "[1.0] line please [1.0]"])
def test_a_call_for_the_line_is_noted_as_prompted(call: str) -> None:
    r = said("no rent was", f"{call} no rent was")
    assert kinds(r) == ["prompted"]
    assert r.added == ()
    assert r.notes[0].line == 7


def test_a_prompt_read_out_and_repeated_is_noted_with_the_words_it_gave() -> None:
    r = said("no rent was", "[2.0] line [0.8] no rent was [0.8] no rent was")
    assert [(n.kind, n.script) for n in r.notes] == [("prompted", "No rent was")]
    assert r.added == ()
    assert r.run.accuracy == 1.0


def test_a_prompt_is_recognised_even_if_it_ends_with_the_word_that_was_said_before_it() -> None:
    """The aligner decides which of the two words "books" is the one of the script."""
    script = verse(
        "we keep all books that nobody has read as lending books in boxes", "and by the gate we left"
    )
    given = "that nobody has read as lending books"
    r = hear_said(script, f"we keep all books [5] {given} [0.5] {given} in boxes and by the gate we left")
    assert ([(n.kind, n.script) for n in r.notes], r.added) == ([("prompted", given)], ())


def test_the_prompt_after_a_call_is_found_even_if_it_contains_the_words_before_the_call() -> None:
    script = verse(
        "it was the season of light,", "it was the season of darkness,", "and then we left the town"
    )
    given = "of light it was the season"
    r = hear_said(
        script, f"it was the season [1] line [1] {given} [1] {given} of darkness and then we left the town"
    )
    assert ([n.kind for n in r.notes], r.added) == (["prompted"], ())
    assert r.notes[0].first == 4


@pytest.mark.heavy
def test_a_jump_is_one_note_however_far_it_went() -> None:
    """It goes a hundred words ahead, then back; one misheard word does not make added words of the rest."""
    pairs = list(product(VERBS, THINGS))
    far = [
        f"then {a} the {b} of the {c} {d}" for (a, b), (c, d) in zip(pairs[:16], pairs[40:56], strict=True)
    ]
    r = hear_said(verse(*far), " ".join([*far[:2], far[-1], *far[2:]]))
    assert ([n.kind for n in r.notes], r.added) == (["repeated"], ())
    assert "jumped ahead" in r.notes[0].detail
    again = " ".join([*far[:12], *far[1:]])
    r = hear_said(verse(*far), again.replace(f"{far[5]} then", f"{far[5]} that", 1))
    assert ([n.kind for n in r.notes], r.added) == (["repeated"], ())


def test_a_restart_at_an_old_word_is_recognised_by_its_sound() -> None:
    """The recogniser writes "feats" for "feed'st"."""
    script = verse("but thou contracted to thine eyes", "feed'st thy light's flame with fuel")
    for again in ("feats thy", "feats thy light's", "feats thy light's cruel"):
        said = f"but thou contracted to thine eyes {again} [0.3] feed'st thy light's flame with fuel"
        r = hear_said(script, said)
        assert ([n.kind for n in r.notes], r.added) == (["repeated"], ()), again


def test_lines_said_in_another_order_are_not_reported_as_a_dry() -> None:
    r = hear_said(SCRIPT, " ".join([*LINES[:2], *LINES[4:7], *LINES[2:4], LINES[7]]))
    assert [n.kind for n in r.notes] == ["swapped"]
    assert r.dries == ()


def test_muttering_about_what_comes_next_is_talk_and_adds_no_words() -> None:
    for words in ("no wait what comes next oh yes", "oh i forgot", "hang on what's the next line"):
        r = said("nested in the hall", f"nested in the hall [1.0] {words} [1.0]")
        assert r.added == () and {a.kind for a in r.asides} <= {"talk", "prompt"}, words


def test_several_words_added_before_a_repeated_small_word_are_not_taken_for_a_correction() -> None:
    """The words "in the middle of the hall" are added."""
    assert kinds(said("nested in the hall", "nested in the middle of the hall")) == ["added"]
    assert kinds(said("nested in the hall", "nested in the room the hall")) == ["repeated"]


def test_a_hesitation_is_not_a_restart_of_a_word_that_sounds_like_it() -> None:
    """ "uh" before "a" is a filler, and the "a" was said once."""
    r = said("told a swallow", "told uh a swallow")
    assert (r.notes, r.added, [x.kind for x in r.asides]) == ((), (), ["filler"])
    r = hear_said(SCRIPT, WHOLE.replace("told a swallow", "told uh a swallow"))
    assert (r.notes, r.added, [x.kind for x in r.asides]) == ((), (), ["filler"])


def test_the_word_line_said_without_a_pause_is_an_added_word() -> None:
    r = said("a swallow nested", "a line swallow nested")
    assert [x.heard for x in r.added] == ["line"]


def test_words_said_twice_after_a_long_silence_are_noted_as_prompted() -> None:
    r = said("no rent was", "[4.0] no rent was [0.6] no rent was")
    assert kinds(r) == ["prompted"]


def test_a_half_heard_prompt_after_a_long_silence_is_noted_as_prompted_and_adds_nothing() -> None:
    """Somebody farther off said the line, and half of it was heard as other words."""
    half = "no went was ask no number"
    r = said("no rent was", f"[5.0] {half} [0.6] no rent was")
    assert ([(n.kind, n.script) for n in r.notes], r.added) == ([("prompted", "No rent was asked, no")], ())
    r = said("no rent was", f"[0.3] {half} no rent was")
    assert "prompted" not in kinds(r), "without the silence nobody gave the line"


def test_a_prompt_whose_first_word_was_misheard_is_no_going_back() -> None:
    """Somebody gave the line after a long silence; "low" was heard for its "no"."""
    r = said("no rent was", "[5.0] low rent was asked no letter [0.6] no rent was")
    assert [(n.kind, n.script) for n in r.notes] == [("prompted", "No rent was asked, no letter")]
    r = said("no rent was", "[0.6] low rent was asked no letter [0.6] no rent was")
    assert kinds(r) == ["repeated"]


def test_who_goes_back_after_a_long_silence_to_words_said_before_it_was_not_prompted() -> None:
    r = said("no letter came at all", "no letter came [5.0] low rent was asked no letter came at all")
    assert kinds(r) == ["repeated"]


def test_a_speech_that_ends_with_the_word_line_and_is_said_twice_asks_for_no_line() -> None:
    script = verse("we wait for the bus in the rain", "and nobody is ever first in line")
    whole = "we wait for the bus in the rain and nobody is ever first in line"
    r = hear_said(script, f"{whole} [2.0] {whole}")
    assert [(n.kind, n.first, n.last) for n in r.notes] == [("repeated", 0, 14)]
    r = hear_said(script, f"{whole.replace('in line', 'in')} [1.0] line [1.0] {whole}")
    assert kinds(r) == ["repeated"], "the pause before the speech's own last word makes it no call"
    r = hear_said(script, f"we wait for [1.0] line [1.0] {whole}")
    assert kinds(r) == ["prompted"]


def test_words_added_after_a_long_silence_are_a_prompt_only_if_they_are_the_line() -> None:
    r = said("no rent was", "[5.0] we never had our heating [0.6] no rent was")
    assert kinds(r) == ["added"]


def test_two_words_said_later_are_swapped_even_if_one_is_half_heard() -> None:
    """Of a swapped word only the end was heard, and it sounds like the word: pan, ban."""
    r = said("copper pan and left the window", "and left the window copper ban")
    assert [n.kind for n in r.notes if n.kind != "unsure"] == ["swapped"]


@pytest.mark.parametrize(
    "before, kind",
    [
        ("the house clearance", "title"),
        ("this is the house clearance", "title"),
        ("my name is sparrow and i'm reading for the part of the daughter", "slate"),
        ("okay are we ready to go now", "before"),
        ("they carried down the", "restart"),
    ],
)
def test_talk_before_the_speech_is_recognised_as_talk_and_never_added(before: str, kind: str) -> None:
    r = perform(SCRIPT, f"{before} [1.0] {WHOLE}")
    assert [a.kind for a in r.asides] == [kind]
    assert r.added == ()


def test_a_false_start_with_pauses_in_it_is_one_restart() -> None:
    """However long it was, it is not taken for talk before the speech."""
    for lines in (2, 5, len(LINES)):
        began = " [0.8] ".join(
            " ".join(" ".join(w.spoken[0]) for w in words_of(verse(x))) for x in LINES[:lines]
        )
        r = hear_said(SCRIPT, f"{began} [3.0] {WHOLE}")
        assert [(a.kind, a.words) for a in r.asides] == [("restart", (0, len(began.split()) - lines))], lines
        assert (kinds(r), r.added, r.run.accuracy) == (["repeated"], (), 1.0)
    assert r.notes[0].detail == "you said it all, then began again: the last time counts"


def test_a_call_for_the_line_among_repeats_after_the_end_keeps_its_note_inside_the_script() -> None:
    """The speech is said in pieces to its end, and the line is asked for once more after it."""
    again = "rent was asked no letter came at all and spring by spring she brought us back the proof"
    began = f"the stair for any bird that knew us to come in {again} [2.0] they carried down the table"
    r = hear_said(SCRIPT, f"{began} [0.3] {WHOLE} [0.8] um line sorry house two where [0.8] {again} [0.3]")
    assert all(0 <= n.first <= n.last < len(r.run.words) for n in r.notes)
    assert r.run.accuracy == 1.0


def test_a_false_start_interrupted_by_talk_is_still_a_false_start_after_the_talk() -> None:
    lines = [" ".join(" ".join(w.spoken[0]) for w in words_of(verse(x))) for x in LINES]
    began = f"{lines[0]} [0.8] where is my water [0.8] {lines[1]} [0.8] {lines[2]}"
    r = hear_said(SCRIPT, f"{began} [3.0] {WHOLE}")
    assert [a.kind for a in r.asides] == ["restart", "before", "restart"]
    assert (r.added, r.run.accuracy) == ((), 1.0)


def test_a_performer_who_stops_or_begins_in_the_middle_of_a_line_gets_one_note() -> None:
    """The report counts the dropped lines and does not report a phrase in addition."""
    words = WHOLE.split()
    r = perform(SCRIPT, " ".join(words[:28]))
    assert [(n.kind, n.first, n.last) for n in r.notes] == [("dropped", 28, len(words) - 1)]
    assert r.notes[0].detail == "you stopped after “For any bird that”: the rest was not said"
    assert [d.line for d in r.dropped_lines] == [5, 6, 7, 8]
    r = perform(SCRIPT, " ".join(words[28:]))
    assert [(n.kind, n.first, n.last) for n in r.notes] == [("dropped", 0, 27)]
    assert r.notes[0].detail.startswith("you began at “")
    assert [d.line for d in r.dropped_lines] == [1, 2, 3]
    assert len(r.places) == 1


@pytest.mark.heavy
def test_saying_the_whole_speech_and_then_beginning_again_drops_nothing() -> None:
    for some in (9, 20, 40):
        r = hear_said(SCRIPT, f"{WHOLE} [2.0] {' '.join(WHOLE.split()[:some])}")
        assert (kinds(r), r.dropped_lines, r.run.accuracy) == (["repeated"], (), 1.0), some


def test_a_word_said_directly_before_the_first_word_is_added() -> None:
    r = perform(SCRIPT, f"and {WHOLE}")
    assert [(x.before_word, x.heard) for x in r.added] == [(0, "and")]


def test_talk_after_the_speech_is_recognised_as_talk() -> None:
    r = perform(SCRIPT, f"{WHOLE} [1.0] thank you shall i do it again")
    assert [a.kind for a in r.asides] == ["after"]
    assert (r.added, r.notes) == ((), ())


SCENE = """\
BRAMBLE: We're closed. The sign says so, and I painted it.
PIM: The sign says open.
BRAMBLE: That's the wrong side of the sign. It says closed to me.
PIM: I only want the one. Anywhere. I'll stand at the back behind the post.
BRAMBLE: There's no back.
PIM: My brother's in it.
BRAMBLE: Which brother?
"""


@pytest.mark.parametrize("misheard", [False, True])
def test_cues_read_by_another_person_are_not_added_words(misheard: bool) -> None:
    scene = parse_script(SCENE, title="the last ticket", part="PIM")
    said = SCENE.replace("BRAMBLE:", "[0.5]").replace("PIM:", "[0.5]").replace("\n", " ")
    if misheard:
        said = said.replace("painted", "pain did").replace("side", "sight").replace("Which", "witch")
    r = perform(scene, said)
    assert {a.kind for a in r.asides} == {"cue"} if not misheard else "cue" in {a.kind for a in r.asides}
    assert (r.added, r.notes) == ((), ())


def test_a_half_heard_cue_is_recognised_and_other_words_in_its_place_are_added() -> None:
    """The reader is farther off: hardly a word of it comes through as it is written."""
    scene = parse_script(SCENE, title="the last ticket", part="PIM")
    said = SCENE.replace("BRAMBLE:", "[0.5]").replace("PIM:", "[0.5]").replace("\n", " ")
    cue = "That's the wrong side of the sign. It says closed to me."
    for heard in (
        "at the rung sight off this sign is says close two knee",
        "wrong cider this sigh ned says clothes",
    ):
        r = perform(scene, said.replace(cue, heard))
        assert (r.added, r.notes) == ((), ()), heard
    r = perform(scene, said.replace(cue, "nobody told me that there was a queue and I have walked all night"))
    assert len(r.added) == 14


def test_a_line_dropped_between_cues_is_dropped_and_not_changed_into_the_cues() -> None:
    scene = parse_script(SCENE, title="the last ticket", part="PIM")
    said = SCENE.replace("BRAMBLE:", "[0.5]").replace("PIM:", "[0.5]").replace("\n", " ")
    r = perform(scene, said.replace("My brother's in it.", ""))
    assert [(n.kind, n.script) for n in r.notes] == [("dropped", "My brother's in it")]
    assert (r.added, len(r.dropped_lines)) == ((), 1)


def test_starting_again_from_the_top_adds_and_drops_nothing() -> None:
    r = perform(SCRIPT, f"they carried down the table [0.5] sorry can i start again [1.0] {WHOLE}")
    assert r.added == ()
    assert r.run.accuracy == 1.0


def test_a_dry_is_reported_with_its_place_and_length() -> None:
    r = said("underneath our roof", "underneath [3.4] our roof")
    (dry,) = r.dries
    assert words_of(SCRIPT)[dry.before_word].text == "our"
    assert dry.seconds == pytest.approx(3.4)
    assert r.places[0].dries == (dry,)


def test_a_pause_at_the_end_of_a_sentence_is_not_a_dry() -> None:
    r = said("come in i'm told", "come in [3.0] i'm told")
    assert r.dries == ()
    assert r.longest_pause is not None
    assert r.longest_pause.seconds == pytest.approx(3.0)


def test_unsure_words_are_noted_with_a_reason_and_count_as_said() -> None:
    words = words_of(SCRIPT)
    run = heard_run(words, timed(WHOLE))
    marked = list(run.words)
    marked[3] = replace(marked[3], verdict="unsure", heard="a", confidence=0.5)
    marked[4] = replace(marked[4], verdict="unsure")
    r = notes_on(SCRIPT, words, replace(run, words=tuple(marked)))
    assert [(n.kind, n.script) for n in r.notes] == [("unsure", "the table")]
    assert r.run.accuracy == 1.0
    assert r.run.accuracy_low == pytest.approx(1 - 2 / len(words))


def test_a_recording_of_another_speech_is_refused() -> None:
    other = (
        "six years ago the ferry stopped running and kind people told us that the house would not last"
        " the winter i should like to thank them for the copper and for the chair they left"
    )
    with pytest.raises(RecordingError, match="does not sound like “The House Clearance”"):
        perform(SCRIPT, other)


def test_a_performer_who_drops_half_the_speech_is_still_scored() -> None:
    kept = " ".join(w for w in WHOLE.split()[:31])
    assert len(perform(SCRIPT, kept).dropped_lines) >= 3


def test_a_recording_of_the_first_line_alone_is_scored() -> None:
    r = perform(SCRIPT, " ".join(WHOLE.split()[:8]))
    assert len(r.dropped_lines) == 7


@pytest.mark.heavy
def test_an_added_word_is_never_lost_among_the_asides() -> None:
    """A word of the script taken out of it, so that the performer "adds" it, is reported for every word."""
    words = WHOLE.split()
    missed = []
    for i, word in enumerate(words):
        if word in words[max(0, i - 1) : i] + words[i + 1 : i + 2]:
            continue
        lines = list(LINES)
        for n, line in enumerate(lines):
            inside = [w.i for w in words_of(SCRIPT) if w.line == n + 1]
            if i in inside:
                parts = line.split()
                del parts[i - inside[0]]
                lines[n] = " ".join(parts)
        shorter = verse(*lines)
        r = perform(shorter, WHOLE)
        if not any(abs(x.before_word - i) <= 1 for x in r.added):
            missed.append(word)
    assert missed == []


def test_if_a_stanza_with_a_refrain_is_left_out_exactly_its_lines_are_dropped() -> None:
    stanza = "Row the boat and row it {},\nRow it where the {}.\nWho will light the lamp tonight?\nNot I.\n"
    made = [
        stanza.format(*each) for each in (("slow", "rushes grow"), ("fast", "anchors cast"), ("on", "herons"))
    ]
    script = parse_script("\n".join(made))
    said = [" ".join(" ".join(w.spoken[0]) for w in words_of(parse_script(each))) for each in made]
    r = hear_said(script, f"{said[0]} [0.8] {said[2]}")
    assert [d.line for d in r.dropped_lines] == [5, 6, 7, 8]


def test_a_refrain_is_not_taken_for_a_restart() -> None:
    """Dickens, A Tale of Two Cities, its opening (public domain): "it was the" comes ten times over.

    Any one word put in before any of its words is added, whatever the lines around it repeat.
    """
    lines = TWO_CITIES.strip().split("\n")[:5]
    script = verse(*lines)
    forms = [w.spoken[0][0] for w in words_of(script)]
    for i in range(1, len(forms)):
        r = perform(script, " ".join([*forms[:i], "truly", *forms[i:]]))
        assert [x.heard for x in r.added] == ["truly"]
        assert kinds(r) == ["added"]


def test_dropping_a_line_of_a_refrain_makes_no_note_but_dropped_words() -> None:
    lines = TWO_CITIES.strip().split("\n")[:7]
    script = verse(*lines)
    for n in range(len(lines)):
        said = " ".join(w.spoken[0][0] for w in words_of(script) if w.line != n + 1)
        r = perform(script, said)
        assert not {"repeated", "swapped", "added", "prompted"} & set(kinds(r))


@given(st.integers(0, 10_000))
def test_any_run_through_has_a_verdict_for_every_word_and_notes_only_on_words_of_the_script(
    seed: int,
) -> None:
    """Whatever is said, every slip is covered by a note and every note is on words of the script."""
    rnd = random.Random(seed)
    out: list[str] = []
    for word in WHOLE.split():
        fate = rnd.random()
        if fate < 0.05:
            continue
        if fate < 0.10:
            out.append(rnd.choice(SAID))
        elif fate < 0.15:
            out += [rnd.choice([*SAID, "um", "line", "sorry"]), word]
        else:
            out.append(word)
        if rnd.random() < 0.05:
            out.append(f"[{rnd.uniform(0.1, 5):.1f}]")
    r = perform(SCRIPT, " ".join(out))
    assert len(r.run.words) == len(SAID)
    covered = {i for n in r.notes for i in range(n.first, n.last + 1)}
    assert all(w.i in covered for w in r.run.words if w.verdict in ("changed", "dropped"))
    assert all(0 <= n.first <= n.last < len(SAID) and n.detail for n in r.notes)
    assert set(r.added) <= set(heard_run(words_of(SCRIPT), timed(" ".join(out))).extras)


@pytest.mark.parametrize(
    "script, heard, same",
    [
        ("I'm", "i am", True),
        ("I am", "i'm", True),
        ("’Tis", "it is", True),
        ("can't", "cannot", True),
        ("he'd", "he had", True),
        ("he'd", "he would", True),
        ("ne'er", "never", True),
        ("o'er the hill", "over the hill", True),
        ("it was", "twas", True),
        ("we're", "we were", False),
        ("am", "am", False),
    ],
)
def test_a_contraction_and_its_full_form_are_recognised_as_the_same(
    script: str, heard: str, same: bool
) -> None:
    assert contraction(script, heard) is same


HESITANT = verse("Um, I would rather not be taken again.", "Er, well, uh, you see, they kicked us out.")


def test_a_written_hesitation_counts_as_said_whatever_hesitation_was_heard() -> None:
    r = hear_said(HESITANT, "uh i would rather not be taken again um well er you see they kicked us out")
    assert (r.notes, r.added, r.asides) == ((), (), ())
    assert r.run.accuracy == 1.0


def test_a_written_hesitation_not_heard_is_unsure_and_an_unwritten_one_is_a_filler() -> None:
    """Neither ear makes out every um that is said, so none is called dropped or changed."""
    r = hear_said(HESITANT, "i would rather not be um taken again well uh you see they kicked us out")
    assert [(n.kind, n.script) for n in r.notes] == [("unsure", "Um"), ("unsure", "Er")]
    assert ([x.kind for x in r.asides], r.added) == (["filler"], ())


def test_another_word_said_for_a_hesitation_is_unsure_but_said_for_a_word_it_is_changed() -> None:
    r = hear_said(HESITANT, "um i would rather not be taken away er well and you see they kicked us out")
    assert [(n.kind, n.script) for n in r.notes] == [("changed", "again"), ("unsure", "uh")]


NUMBERED = verse(
    "In 1999 there were 555 of us, not 1,250,", "and in 2024, at half past 10, I owed £1,250.50."
)
SHORTLY = (
    "in nineteen ninety nine there were five fifty five of us not twelve hundred and fifty and in twenty"
    " twenty four at half past ten i owed one thousand two hundred and fifty pounds fifty"
)
FULLY = (
    "in nineteen hundred and ninety nine there were five hundred and fifty five of us not one thousand"
    " two hundred and fifty and in two thousand and twenty four at half past ten i owed one thousand two"
    " hundred and fifty pounds and fifty pence"
)


@pytest.mark.parametrize("said", [SHORTLY, FULLY])
def test_a_number_may_be_said_in_as_many_words_as_it_takes(said: str) -> None:
    r = hear_said(NUMBERED, said)
    assert (r.notes, r.added, r.run.accuracy) == ((), (), 1.0)


@pytest.mark.parametrize(
    ("figures", "as_written", "said"),
    [
        ("2024", "two thousand and twenty four", "two thousand and thirty four"),
        ("555", "five hundred and fifty five", "six hundred and fifty"),
    ],
)
def test_a_wrong_number_is_changed_however_many_words_it_takes(
    figures: str, as_written: str, said: str
) -> None:
    r = hear_said(NUMBERED, FULLY.replace(as_written, said))
    assert ([w.text for w in r.run.words if w.verdict != "said"], r.added) == ([figures], ())


@pytest.mark.parametrize(
    "line",
    [
        "At 12:45 on 3rd June 1999, 1,234,567 people paid £1,250.50 each.",
        "It was 3.14 and 2½ and 25% more; room 101, 9/11, 007.",
        "It cost $3m, or £40, or 60p, in the 1980s, on July 4, 1776.",
        "King Henry V and Louis XIV at 10.30 a.m. in Act III, scene 2, on page 394, etc.",
        "Dr. Lamb, Mrs. Carver and Mr. Weir of No. 12, e.g. at 3:15 p.m.",
        "I weigh 70kg & I'm 5ft 11, born on the 21st of March, 2026, vs. a 100,000-to-1 chance.",
    ],
)
def test_every_way_to_say_a_number_or_an_abbreviation_counts_as_said(line: str) -> None:
    script = verse(line)
    words = words_of(script)
    usual = [" ".join(w.spoken[0]) for w in words]
    for i, word in enumerate(words):
        for way in word.spoken:
            r = hear_said(script, " ".join([*usual[:i], *way, *usual[i + 1 :]]))
            assert (r.notes, r.added) == ((), ()), (word.text, way)


def test_a_prompt_that_the_partner_gave_is_noted_with_its_words() -> None:
    heard = heard_run(words_of(SCRIPT), timed(WHOLE))
    given = Aside("prompt", 8, "The clock", 4.0, 4.0, (8, 9), given=True)
    r = notes_on(SCRIPT, words_of(SCRIPT), heard, [given])
    assert [(n.kind, n.script, n.detail) for n in r.notes] == [
        ("prompted", "The clock", "after a silence you were given “The clock”")
    ]
    asked = notes_on(SCRIPT, words_of(SCRIPT), heard, [replace(given, asked=True)])
    assert asked.notes[0].detail == "you asked for the line and were given “The clock”"


def test_a_call_heard_just_before_a_known_prompt_makes_only_one_note() -> None:
    heard = heard_run(words_of(SCRIPT), timed(WHOLE.replace("the clock", "[6.0] line [3.0] the clock")))
    called = notes_on(SCRIPT, words_of(SCRIPT), heard)
    [note] = [n for n in called.notes if n.kind == "prompted"]
    assert note.at is not None
    given = Aside("prompt", 8, "The clock", note.at + 1.0, note.at + 1.0, (8, 9), True, given=True)
    both = notes_on(SCRIPT, words_of(SCRIPT), heard, [given])
    assert [n.detail for n in both.notes] == ["you asked for the line and were given “The clock”"]
