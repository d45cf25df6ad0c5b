"""Words that neither ear understood are neither quoted nor worked on; clear words are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from offbook.audio import pcm
from offbook.hear.listener import hear
from offbook.models import model_folder, second_folder
from offbook.notes import Review, notes_on
from offbook.recognise import OnnxScorer, VoskRecogniser
from offbook.sampling import SAMPLE_RATE
from offbook.score import SOMETHING_ELSE, Extra, HeardLikelihood, Run, Verdict, WordVerdict
from offbook.script import parse_script
from offbook.words import words_of
from tests.recordings import TWO_CITIES, librivox_sentences, two_cities

SPEECH = "I lit the lamp at six.\nThe wind was in the east.\nNobody came up the stair."
WORDS = words_of(parse_script(SPEECH))
CLEAR, MUDDLED = -0.02, -6.0


def said(slips: dict[int, tuple[Verdict, str | None]], extras: Sequence[tuple[int, str]] = ()) -> Run:
    """A word a second; `slips` by word, `extras` half a second before theirs."""
    found = []
    for w in WORDS:
        verdict, heard = slips.get(w.i, ("said", w.text.lower()))
        at = None if heard is None else float(w.i)
        found.append(WordVerdict(w.i, w.text, verdict, heard, at, None if at is None else at + 0.4, 0.9))
    put_in = tuple(Extra(i, heard, i - 0.5, i - 0.1, 0.9) for i, heard in extras)
    return Run(tuple(found), put_in, float(len(WORDS)), float(len(WORDS)))


def with_likelihoods(run: Run, unlikely: float, *, clear: frozenset[int] = frozenset()) -> Run:
    """Words said are clear to the second ear, the others `unlikely` but for those in `clear`."""
    found = [
        HeardLikelihood(w.start, w.end, CLEAR if w.verdict == "said" or w.i in clear else unlikely)
        for w in run.words
        if w.start is not None and w.end is not None
    ]
    return replace(
        run, likelihoods=(*found, *(HeardLikelihood(e.start, e.end, unlikely) for e in run.extras))
    )


def reviewed(run: Run) -> Review:
    return notes_on(parse_script(SPEECH), WORDS, run)


def heard_in(run: Run) -> list[str | None]:
    return [w.heard for w in run.words]


EAST: dict[int, tuple[Verdict, str | None]] = {
    7: ("changed", "zoo"),
    8: ("changed", "ottomans"),
    9: ("dropped", None),
    10: ("unsure", "suzuki"),
}


def test_words_that_the_second_ear_finds_very_unlikely_are_never_quoted_in_notes_or_advice() -> None:
    run = said(EAST, [(9, "element")])
    review = reviewed(with_likelihoods(run, MUDDLED))
    assert [w.verdict for w in review.run.words] == [w.verdict for w in run.words], (
        "verdicts stay as they are"
    )
    assert [review.run.words[i].heard for i in (7, 8, 10)] == [SOMETHING_ELSE] * 3
    assert (review.run.extras, review.added) == ((), ()), "it was said instead of the script's words"
    assert review.run.words[7].steps[-1].by == "second ear"
    notes = {n.kind: n for n in review.notes}
    assert notes["changed"].detail.startswith("what was said here was not understood; the script has “wind")
    assert notes["unsure"].detail == "“the”: what was said here was not understood"
    (place,) = review.places
    assert place.do.startswith("Listen to this place: the words could not be understood.")
    told = " ".join(n.detail + n.heard for n in review.notes) + place.do
    assert not any(word in told for word in ("zoo", "ottomans", "suzuki", "element", "Ask what"))


def test_a_run_through_kept_in_the_journal_gives_the_same_notes_again() -> None:
    review = reviewed(with_likelihoods(said(EAST, [(9, "element")]), MUDDLED))
    again = reviewed(replace(review.run, likelihoods=()))
    assert (again.notes, again.places, again.added) == (review.notes, review.places, review.added)


def test_other_words_said_clearly_are_quoted_as_they_were_heard() -> None:
    run = said(EAST, [(9, "element")])
    for known in (with_likelihoods(run, CLEAR), run, with_likelihoods(run, MUDDLED, clear=frozenset(EAST))):
        assert heard_in(reviewed(known).run) == heard_in(run)


def test_a_single_changed_word_is_still_quoted_even_if_the_second_ear_finds_it_unlikely() -> None:
    one = said({7: ("changed", "zoo")})
    assert heard_in(reviewed(with_likelihoods(one, MUDDLED)).run) == heard_in(one)
    for_a_line = said(dict.fromkeys(range(6, 12), ("dropped", None)) | {8: ("changed", "zoo")})
    review = reviewed(with_likelihoods(for_a_line, MUDDLED))
    assert review.run.words[8].heard == SOMETHING_ELSE
    assert "not understood" in " ".join(n.detail for n in review.notes)


def test_a_call_for_the_line_is_recognised_however_unlikely_the_second_ear_finds_it() -> None:
    run = said({}, [(6, "sorry")])
    call = (*run.extras, Extra(6, "line", 5.95, 5.99, 0.9))
    (note,) = reviewed(with_likelihoods(replace(run, extras=call), MUDDLED)).notes
    assert note.kind == "prompted"


def test_added_words_that_neither_ear_understood_are_noted_without_quoting_them() -> None:
    told = ((5.5, "zoo"), (5.6, "um"), (5.7, "suzuki"))
    put_in = tuple(Extra(6, heard, at, at + 0.1, 0.9) for at, heard in told)
    review = reviewed(with_likelihoods(replace(said({}), extras=put_in), MUDDLED))
    assert [e.heard for e in review.added] == [SOMETHING_ELSE] * 2
    (note,) = review.notes
    assert note.detail == "after “six”, something was said that was not understood and is not in the script"
    assert review.places[0].do == "Listen to this place: the words could not be understood."
    one = reviewed(with_likelihoods(replace(said({}), extras=put_in[:2]), MUDDLED))
    assert one.notes[0].detail == "“zoo”, after “six”, is not in the script"


def test_the_advice_for_other_lines_said_in_place_of_the_script_does_not_compare_wordings() -> None:
    other = ["men", "were", "sure", "that", "they", "were"]
    run = said({i: ("changed", word) for i, word in enumerate(other, 6)})
    (place,) = reviewed(run).places
    assert place.do == (
        "Take “the lamp at six” as the cue and go straight on to “The wind was in the”, three times: you "
        "said other lines here."
    )


@pytest.mark.model
def test_a_line_played_backwards_is_not_quoted_and_a_line_of_another_book_is() -> None:
    """The second of three lines of a real reading, replaced by its own sound backwards, then by a sentence of
    another reader; where it lies was heard once."""
    sound = b"".join(pcm(two_cities()[0]))
    begin, end, stop = (2 * int(seconds * SAMPLE_RATE) for seconds in (4.9, 8.4, 13.1))
    backwards = np.frombuffer(sound[begin:end], "<i2")[::-1].tobytes()
    another = b"".join(pcm(librivox_sentences()[0][0]))
    script = parse_script("\n".join(TWO_CITIES.splitlines()[:3]))
    words, second = words_of(script), second_folder()
    assert second is not None
    first_ear, second_ear = VoskRecogniser(model_folder()), OnnxScorer(second)
    reviews = []
    for put_in in (backwards, another):
        heard = [sound[:begin], put_in, sound[end:stop]]
        run = hear(words, heard, first_ear, lines=script.lines, scorer=second_ear)
        reviews.append(notes_on(script, words, run))
    muddle, clear = ([n for n in r.notes if n.kind in ("changed", "added")] for r in reviews)
    assert muddle and all("not understood" in n.detail for n in muddle)
    assert any("leisure to consider how much" in n.heard for n in clear)
    for review in reviews:
        assert sum(w.verdict != "said" for w in review.run.words[:12]) == 0
        assert not any("Ask what" in place.do for place in review.places)
