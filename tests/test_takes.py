"""Takes: a recording compared with a brief, point by point, and takes compared by the text."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from offbook.audio import Loudness, Picture, survey
from offbook.brief import Brief
from offbook.errors import RecordingError
from offbook.notes import notes_on
from offbook.takes import (
    Check,
    HeardTake,
    RecordingFacts,
    TakeStanding,
    best_take,
    checks_of,
    facts_of,
    spoken_of,
    unmet_checks,
)
from tests.journals import LAMP, run_with, script_of
from tests.sounds import sine, voice, write

BRIEF = Brief("Saltmarrow Players", datetime(2026, 12, 14, 17, tzinfo=UTC))
PICTURE = Picture(1920, 1080, 25.0, "h264", 60.0, 0.45, still=False)
SPOKEN = HeardTake(
    words=34, accuracy=1.0, accuracy_low=1.0, missed=0, prompts=0, slate=True, first=2.0, last=58.0
)


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> RecordingFacts:
    """A clear voice of a minute in an mp4 with a picture that nothing is wrong with."""
    path = write(tmp_path_factory.mktemp("takes") / "voice.wav", voice(6, 16_000), 16_000)
    return RecordingFacts(
        Path("take.mp4"), "mp4", 40.0, 60.0, Loudness(-20.0, -3.0, -3.1, 0.0, 60.0), survey(path), PICTURE
    )


def the(what: str, checks: tuple[Check, ...]) -> Check:
    found = [c for c in checks if c.what == what]
    assert len(found) == 1, (what, checks)
    return found[0]


def test_a_take_that_meets_every_requirement_has_no_unmet_point(facts: RecordingFacts) -> None:
    asked = replace(
        BRIEF,
        shortest=50.0,
        longest=90.0,
        slate=True,
        kinds=("mp4", "mov"),
        megabytes=100.0,
        picture="landscape",
        lines=1080,
        frames=25.0,
        lufs=(-24.0, -14.0),
    )
    checks = checks_of(facts, asked, 90.0, SPOKEN)
    assert unmet_checks(checks) == []
    assert all(c.met for c in checks), "nothing is left open either"
    assert all(c.do == "" for c in checks), "what is met needs nothing done"


BAD: list[tuple[str, dict[str, object], dict[str, object]]] = [
    ("file", {"kinds": ("mov",)}, {}),
    ("size", {"megabytes": 39.9}, {}),
    ("length", {"longest": 59.0}, {}),
    ("length", {"shortest": 61.0}, {}),
    ("picture", {"picture": "portrait"}, {}),
    ("picture", {"picture": "none"}, {}),
    ("picture", {"picture": "either"}, {"picture": None}),
    ("picture", {"picture": "landscape"}, {"picture": replace(PICTURE, width=1080, height=1920)}),
    ("sharpness", {"lines": 1081}, {}),
    ("motion", {"frames": 30.0}, {}),
    ("motion", {}, {"picture": replace(PICTURE, still=True)}),
    ("light", {}, {"picture": replace(PICTURE, brightness=0.05)}),
    ("loudness", {"lufs": (-19.0, -14.0)}, {}),
    ("loudness", {"lufs": (-30.0, -21.0)}, {}),
    ("loudness", {"lufs": (-24.0, -14.0)}, {"loudness": Loudness(-float("inf"), -100, -100, 0.0, 60.0)}),
    ("true peak", {}, {"loudness": Loudness(-20.0, 0.2, -0.1, 0.0, 60.0)}),
]


@pytest.mark.parametrize(("what", "asked", "measured"), BAD)
def test_a_single_unmet_requirement_is_the_only_one_reported_and_says_what_to_do(
    what: str, asked: dict[str, object], measured: dict[str, object], facts: RecordingFacts
) -> None:
    checks = checks_of(replace(facts, **measured), replace(BRIEF, **asked))  # type: ignore[arg-type]
    (only,) = unmet_checks(checks)
    assert only.what == what
    assert only.do and only.found and only.wanted and "\n" not in only.do


def test_a_requirement_that_the_brief_does_not_name_is_not_checked(facts: RecordingFacts) -> None:
    names = [c.what for c in checks_of(facts, BRIEF)]
    assert not {"file", "size", "sharpness", "slate", "by eye"} & set(names)
    assert the("length", checks_of(facts)).wanted == "not asked"


def test_the_pieces_own_limit_counts_if_the_brief_gives_none(facts: RecordingFacts) -> None:
    assert the("length", checks_of(facts, BRIEF, 50.0)).met is False
    assert the("length", checks_of(facts, replace(BRIEF, longest=70.0), 50.0)).met is True


def test_for_a_take_that_is_too_long_the_advice_is_to_trim_the_ends_or_to_cut_the_text(
    facts: RecordingFacts,
) -> None:
    tight = replace(BRIEF, longest=57.0)
    assert (
        "trim the ends, the speech alone takes 0:56"
        in the("length", checks_of(facts, tight, None, SPOKEN)).do
    )
    tighter = replace(BRIEF, longest=50.0)
    assert "offbook fit" in the("length", checks_of(facts, tighter, None, SPOKEN)).do


def test_the_rounding_of_a_file_format_does_not_make_a_recording_too_long(facts: RecordingFacts) -> None:
    assert the("length", checks_of(replace(facts, seconds=90.3), None, 90.0)).met is True
    over = the("length", checks_of(replace(facts, seconds=93.4), None, 90.0))
    assert over.met is False and over.do.startswith("3.4 s over")


def test_the_advice_for_a_file_that_is_too_large_names_a_bit_rate_that_fits(facts: RecordingFacts) -> None:
    for most, seconds in itertools.product((0.5, 8.0, 25.0, 200.0), (20.0, 61.0, 300.0)):
        large = replace(facts, megabytes=500.0, seconds=seconds)
        do = the("size", checks_of(large, replace(BRIEF, megabytes=most))).do
        rate = float(do.split(" at ")[1].split()[0])
        # kbit/s of 1000 bits, MB of 10^6 bytes (IEC 80000-13)
        assert 0.8 * most <= rate * 1000 * seconds / 8 / 1e6 <= most


def test_a_television_frame_rate_counts_as_the_whole_number_it_is_called_by(
    facts: RecordingFacts,
) -> None:
    # 30000/1001 and 24000/1001 a second: SMPTE ST 12-1, from memory
    for rate, asked in ((30000 / 1001, 30.0), (24000 / 1001, 24.0), (60000 / 1001, 60.0)):
        shown = replace(facts, picture=replace(PICTURE, frames_a_second=rate))
        assert the("motion", checks_of(shown, replace(BRIEF, frames=asked))).met is True
    slow = replace(facts, picture=replace(PICTURE, frames_a_second=23.0))
    assert the("motion", checks_of(slow, replace(BRIEF, frames=24.0))).met is False
    untold = replace(facts, picture=replace(PICTURE, frames_a_second=None))
    assert the("motion", checks_of(untold, replace(BRIEF, frames=24.0))).met is None


def test_a_point_that_only_a_person_can_check_is_never_reported_as_met(facts: RecordingFacts) -> None:
    eye = replace(BRIEF, by_eye=("Plain wall behind", "Eyes beside the lens"))
    open_ = [c for c in checks_of(facts, eye) if c.met is None]
    assert [c.wanted for c in open_] == ["Plain wall behind", "Eyes beside the lens"]


def test_a_missing_slate_is_left_to_the_person_to_check_and_an_unwanted_slate_is_reported(
    facts: RecordingFacts,
) -> None:
    without = replace(SPOKEN, slate=False, first=1.0)
    wanted, not_wanted = replace(BRIEF, slate=True), replace(BRIEF, slate=False)
    assert the("slate", checks_of(facts, wanted, None, SPOKEN)).met is True
    assert the("slate", checks_of(facts, wanted, None, without)).met is None
    assert the("slate", checks_of(facts, not_wanted, None, SPOKEN)).met is False
    assert the("slate", checks_of(facts, not_wanted, None, without)).met is True


def test_the_advice_is_to_trim_silence_around_the_speech_but_not_a_slate(
    facts: RecordingFacts,
) -> None:
    slow = replace(SPOKEN, slate=False, first=6.0, last=50.0)
    checks = checks_of(facts, None, None, slow)
    assert the("beginning", checks).do == "trim about 5 s from the beginning"
    assert the("end", checks).do == "trim about 8 s from the end"
    assert "beginning" not in [c.what for c in checks_of(facts, None, None, replace(slow, slate=True))]


def test_words_are_compared_with_the_accuracy_of_actors_and_prompts_are_reported(
    facts: RecordingFacts,
) -> None:
    # about 98 % of the words in performance: Noice & Noice, Memory 7(3), 1999
    near = replace(SPOKEN, accuracy=0.98)
    assert the("words", checks_of(facts, None, None, near)).met is True
    short = replace(SPOKEN, accuracy=0.9799, prompts=1)
    checks = checks_of(facts, None, None, short)
    assert the("words", checks).met is False and the("words", checks).found == "97.9 % of 34"
    assert the("prompts", checks).met is False


def test_a_take_without_any_word_of_the_script_fails_by_its_words_alone(facts: RecordingFacts) -> None:
    none = HeardTake(
        words=34, accuracy=0.0, accuracy_low=0.0, missed=34, prompts=0, slate=False, first=None, last=None
    )
    checks = checks_of(facts, None, None, none)
    assert the("words", checks).met is False
    assert not {"beginning", "end"} & {c.what for c in checks}


def test_the_counts_of_a_take_are_those_of_its_review() -> None:
    script, words, _ = script_of(LAMP)
    run = run_with(words, {12: ("dropped", None), 20: ("changed", "sea"), 33: ("unsure", "more")})
    found = spoken_of(notes_on(script, words, run))
    assert (found.words, found.missed) == (34, 3), "one dropped, one changed, one put in"
    assert found.accuracy == pytest.approx(32 / 34) and found.accuracy_low == pytest.approx(31 / 34)
    assert found.first == run.words[0].start and found.last == run.words[33].end


@pytest.mark.heavy
def test_the_facts_of_a_recording_are_measured_on_the_unchanged_file(tmp_path: Path) -> None:
    tone = np.vstack([sine(1000, 20, 48_000, -23.0)] * 2)
    path = write(tmp_path / "tone.wav", tone, 48_000)
    found = facts_of(path)
    # EBU Tech 3341, test 1: a stereo sine of 1 kHz at -23 dBFS reads -23.0 LUFS, within 0.1
    assert found.loudness.integrated == pytest.approx(-23.0, abs=0.1)
    asked = replace(BRIEF, lufs=(-23.2, -22.8))
    assert the("loudness", checks_of(found, asked)).met is True
    assert found.megabytes == path.stat().st_size / 1e6
    assert (found.kind, found.picture) == ("wav", None)
    assert found.seconds == pytest.approx(20.0, abs=0.1)


def test_a_peak_between_the_samples_is_reported(tmp_path: Path) -> None:
    # EBU Tech 3341, signal 19 (from memory): a quarter of the sampling rate at 45 degrees with 1.41 of full
    # scale has its samples at full scale, and its true peak at +3.0 dBTP (+0.2, -0.4)
    tone = sine(12_000, 5, 48_000, 3.0, 45)
    ramp = np.minimum(1.0, np.minimum(np.arange(240_000), np.arange(240_000)[::-1]) / 24_000)
    found = facts_of(write(tmp_path / "hot.wav", tone * ramp, 48_000, "pcm_f32le"))
    peak = the("true peak", checks_of(found))
    assert peak.met is False
    assert 2.6 <= float(peak.found.split()[0]) <= 3.2


@pytest.mark.heavy
def test_the_picture_of_a_film_is_measured_too(tmp_path: Path) -> None:
    found = facts_of(write(tmp_path / "film.mp4", voice(3, 48_000), 48_000, "aac", picture=True))
    assert found.picture is not None and found.kind == "mp4"
    assert the("picture", checks_of(found)).met is True


def test_a_file_that_is_no_recording_is_refused_in_two_lines(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("The lamp was lit", encoding="utf-8")
    for name in ("notes.txt", "gone.mp4"):
        with pytest.raises(RecordingError) as refused:
            facts_of(tmp_path / name)
        assert "\n" not in refused.value.what and "\n" not in refused.value.do


def test_takes_are_compared_by_points_then_prompts_then_words_then_time() -> None:
    def first(*takes: TakeStanding) -> int:
        found = best_take(takes)
        assert found is not None
        return found.n

    assert first(TakeStanding(1, 1, 0, 0), TakeStanding(2, 0, 9, 2)) == 2
    assert first(TakeStanding(1, 0, 0, 1), TakeStanding(2, 0, 5, 0)) == 2
    assert first(TakeStanding(1, 0, 2, 0), TakeStanding(2, 0, 3, 0)) == 1
    assert first(TakeStanding(1, 0, 2, 0), TakeStanding(2, 0, 2, 0)) == 2
    assert first(TakeStanding(1, 0, None, None), TakeStanding(2, 3, 9, 4)) == 2, (
        "one not judged leads nothing"
    )
    assert best_take([TakeStanding(1, 0, None, None)]) is None and best_take([]) is None
