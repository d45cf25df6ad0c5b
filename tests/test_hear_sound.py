"""With bad sound a slip that one hearing contradicts is unsure; with good sound it stays a slip."""

from __future__ import annotations

from dataclasses import replace

import pytest

from offbook.audio import SoundReport
from offbook.hear import soften_for_poor_sound
from offbook.hear.decide import WeighedPlace
from offbook.hear.rescore import SettledSegment
from offbook.score import Run, Verdict, WordVerdict


def sound(snr: float, decay: float | None = None) -> SoundReport:
    return SoundReport(
        seconds=9.0,
        claimed=None,
        loudness=-20.0,
        peak=-3.0,
        clipped=0.0,
        noise=-60.0,
        snr=snr,
        bandwidth=8000.0,
        decay=decay,
        channels=1,
        mix=(1.0,),
        dead=(),
        gain=0.0,
        line=None,
        poor=False,
    )


def word(i: int, text: str, verdict: Verdict, heard: str | None) -> WordVerdict:
    at = None if heard is None else i / 2
    return WordVerdict(i, text, verdict, heard, at, None if at is None else at + 0.4, 0.95 if heard else None)


# The lamp [had] stood [in the] garden: three places, weighed with different outcomes.
RUN = Run(
    (
        word(0, "lamp", "said", "lamp"),
        word(1, "had", "changed", "have"),
        word(2, "stood", "changed", "fell"),
        word(3, "in", "changed", "on"),
        word(4, "the", "dropped", None),
    ),
    (),
    3.0,
    2.0,
)


def weighed(first: int, last: int, script: str, hearings: tuple[str, str, str]) -> WeighedPlace:
    return WeighedPlace(first, last, script, "", -2.5, *hearings, 0.0, 1.0)


SETTLED = (
    SettledSegment((), (weighed(1, 2, "had", ("have", "had", "have")),)),
    SettledSegment((), (weighed(2, 3, "stood", ("fell", "fell", "fell")),)),
    SettledSegment((), (weighed(3, 5, "in the", ("on", "in the", "in the")),)),
)


def verdicts(run: Run) -> list[str]:
    return [w.verdict for w in run.words]


def test_with_good_sound_every_verdict_stays() -> None:
    assert soften_for_poor_sound(RUN, SETTLED, sound(35.0, 0.2)) == RUN
    assert soften_for_poor_sound(RUN, SETTLED, sound(35.0, None)) == RUN


@pytest.mark.parametrize("bad", [sound(16.0), sound(35.0, 0.4)])
def test_with_noise_or_echo_a_slip_that_one_hearing_had_as_written_is_unsure(bad: SoundReport) -> None:
    after = soften_for_poor_sound(RUN, SETTLED, bad)
    assert verdicts(after) == ["said", "unsure", "changed", "unsure", "unsure"]
    assert [w.heard for w in after.words] == [w.heard for w in RUN.words]
    assert after.accuracy > RUN.accuracy
    assert after.accuracy_low == RUN.accuracy_low


def test_a_word_that_no_hearing_had_as_written_stays_a_slip_with_any_sound() -> None:
    assert soften_for_poor_sound(RUN, SETTLED[1:2], sound(5.0, 0.9)) == RUN


@pytest.mark.parametrize(
    ("hearings", "chance", "verdict"),
    [
        (("have", "had", "have"), 0.3, "changed"),
        (("have", "had", "had"), 0.3, "unsure"),
        (("have", "had", "had"), 0.11, "unsure"),
        (("have", "had", "had"), 0.1, "changed"),
        (("had", "had", "had"), 0.001, "unsure"),
    ],
)
def test_where_the_second_ear_compared_the_words_two_hearings_and_a_chance_must_speak_for_the_script(
    hearings: tuple[str, str, str], chance: float, verdict: Verdict
) -> None:
    """Two of the three hearings and a chance of more than 0.1, or all three, for the word "had"."""
    place = replace(weighed(1, 2, "had", hearings), by_second=True, chance=chance)
    found = soften_for_poor_sound(RUN, (SettledSegment((), (place,)),), sound(16.0))
    assert found.words[1].verdict == verdict


def test_a_word_that_all_hearings_had_is_unsure_even_if_its_neighbours_stay_slips() -> None:
    """All three had "stood"; "had" beside it was "have" for one of them, and the chance of both is small."""
    hearings = ("have stood on", "had stood on", "had stood")
    place = replace(weighed(1, 3, "had stood", hearings), by_second=True, chance=0.001)
    found = soften_for_poor_sound(RUN, (SettledSegment((), (place,)),), sound(16.0))
    assert verdicts(found) == ["said", "changed", "unsure", "changed", "dropped"]
    assert "all three hearings had the script's words" in found.words[2].steps[-1].told
    spelled = replace(place, script="had been stood")
    assert soften_for_poor_sound(RUN, (SettledSegment((), (spelled,)),), sound(16.0)) == RUN


def test_a_softened_verdict_has_a_confidence_no_higher_than_a_tie() -> None:
    after = soften_for_poor_sound(RUN, SETTLED, sound(16.0))
    assert after.words[1].confidence is not None
    assert after.words[1].confidence <= 0.6
