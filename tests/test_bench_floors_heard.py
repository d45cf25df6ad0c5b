"""Small seeded parts of the benches that hear, each with a floor.

The first two or four lines of `tests.recordings.TWO_CITIES`, both ears. The whole benches and their figures
are in docs/results.md; floors are set by hand, a little below what each part gives.
"""

from __future__ import annotations

from pathlib import Path

import conditions
import following
import hearing as H
import numpy as np
import pytest
import spliced
import unknown_words
from spliced_sound import Spoken, spoken

from offbook.audio import pcm
from offbook.models import model_folder
from offbook.recognise import Recogniser, VoskRecogniser, WordingScorer
from offbook.sampling import SAMPLE_RATE
from tests.recordings import TWO_CITIES, two_cities

pytestmark = [pytest.mark.model, pytest.mark.heavy]

TWO, FOUR = 8.5, 17.2  # seconds up to the pause after so many lines


def tell(line: str) -> None:
    """What a bench would print about each slip; nobody reads it here."""


def beginning(lines: int, seconds: float) -> H.Reading:
    sound = b"".join(pcm(two_cities()[0]))[: int(seconds * SAMPLE_RATE) * 2]
    return H.Reading("two_cities", sound, [H.tokens(row) for row in TWO_CITIES.splitlines()[:lines]])


@pytest.fixture(scope="module")
def first_ear() -> Recogniser:
    return H.installed(None)


@pytest.fixture(scope="module")
def second_ear(first_ear: Recogniser) -> WordingScorer:
    found = H.installed_second(first_ear)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def reading() -> H.Reading:
    return beginning(2, TWO)


@pytest.fixture(scope="module")
def said(reading: H.Reading, first_ear: Recogniser) -> Spoken:
    return spoken(reading, first_ear)


def test_slips_planted_in_a_reading_are_found_and_nothing_else_is_reported(
    reading: H.Reading, first_ear: Recogniser, second_ear: WordingScorer
) -> None:
    kinds = ("near", "dropped")
    total = H.measure([reading], first_ear, kinds, range(1), tell, scorer=second_ear)
    slips = sum(c.slips for c in total.values())
    assert slips >= 3
    assert sum(c.found for c in total.values()) == slips
    assert sum(c.alarms for c in total.values()) == 0


def test_edits_of_the_sound_are_reported(
    said: Spoken, first_ear: Recogniser, second_ear: WordingScorer
) -> None:
    total = spliced.measure([said], first_ear, ("line twice", "word out"), range(1), (), tell, second_ear)
    assert sum(c.edits for c in total.values()) == 3
    assert sum(c.noticed for c in total.values()) == 3
    assert sum(c.right for c in total.values()) >= 2


def test_words_unknown_to_the_recogniser_are_verified_and_never_called_wrong(
    first_ear: Recogniser, second_ear: WordingScorer
) -> None:
    """Some words of the reading are hidden from the recogniser, and strange ones are put in the script."""
    four = beginning(4, FOUR)
    case = unknown_words.case_of(four, first_ear, hide=True, plant=True, seed=9)
    run = H.listen(four, case.planted, unknown_words.Hiding(first_ear, case.hidden), second_ear)
    found: dict[str, set[str]] = {}
    for word, kind in zip(run.words, case.kinds, strict=True):
        found.setdefault(kind, set()).add(word.verdict)
    assert found["hidden"] <= {"said", "unsure"}
    assert found["planted"] <= {"changed", "dropped", "unsure"}
    assert found["others"] == {"said"}


def test_the_partner_keeps_the_place_and_prompts_in_time_at_a_dry(said: Spoken) -> None:
    ear = VoskRecogniser(model_folder())
    live = following.KeptLive(None, lambda: ear, ear.knows)
    found = following.session(said, "speech", 1, [said], live, 3.0, tell)
    assert found.right >= 0.95 * found.steps
    assert len(found.prompted) == found.dries
    assert (found.into, found.astray) == (0, 0)


def test_with_a_crowd_10_db_below_the_voice_no_word_is_called_wrong(
    reading: H.Reading, first_ear: Recogniser, second_ear: WordingScorer, tmp_path: Path
) -> None:
    sound = np.frombuffer(reading.sound, "<i2").astype(np.float64)[None, :] / 32768
    fine = np.repeat(sound, conditions.RATE // SAMPLE_RATE, axis=1)  # the bench works at its own rate
    noisy = conditions.CONDITIONS["noise10"](fine, tmp_path / "noisy")
    heard = H.Reading("noisy", b"".join(pcm(noisy)), reading.lines)
    total = H.measure([heard], first_ear, ("perfect",), range(1), tell, scorer=second_ear)
    assert total["perfect"].alarms == 0
