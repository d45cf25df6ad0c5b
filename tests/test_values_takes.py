"""The points of a take, each at its bound: what was found, whether it is met, and what to do."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from offbook.audio import EARLIEST, LATEST, FilmFacts, Light, Loudness, Picture, Playing
from offbook.audio.joins import Join, Likelihood
from offbook.brief import Brief
from offbook.takes import (
    Check,
    HeardTake,
    RecordingFacts,
    TakeStanding,
    asked_for,
    best_take,
    checks_of,
    facts_of,
    film_checks,
    unmet_checks,
)

PICTURE = Picture(1920, 1080, 25.0, "h264", 60.0, 0.45, still=False)
EVEN = Light(None, 0.0, 0.0, "left")
SOUND: Any = type("Clear", (), {"line": None, "seconds": 60.0})()
BRIEF = Brief("Players", datetime(2026, 12, 14, 17, tzinfo=UTC))
FACTS = RecordingFacts(
    Path("take.mp4"), "mp4", 40.0, 60.0, Loudness(-20.0, -3.0, -3.1, 0.0, 60.0), SOUND, PICTURE
)
SPOKEN = HeardTake(34, 1.0, 1.0, missed=0, prompts=0, slate=False, first=2.0, last=58.0)
BETTER = "record it again, nearer to the microphone, in a quieter and softer room"


def film(*joins: Join, light: Light = EVEN, late: float | None = None, whole: bool = True) -> RecordingFacts:
    return replace(FACTS, film=FilmFacts(joins, light, late, whole))


def the(what: str, facts: RecordingFacts, *, spoken: HeardTake | None = None, **asked: Any) -> Check:
    """The one point of this name, of a take compared with a brief that asks for these things."""
    [found] = [c for c in checks_of(facts, replace(BRIEF, **asked), spoken=spoken) if c.what == what]
    return found


def join(at: float, likelihood: Likelihood) -> Join:
    return Join(at, likelihood, f"it jumps ({likelihood})")


def test_a_film_without_a_join_is_one_take_as_far_as_it_was_watched() -> None:
    one = "one unbroken take"
    assert film_checks(film())[0] == Check("one take", one, "no jump seen", True)
    assert film_checks(film(), True)[0] == Check("one take", one, "no jump seen", True, asked=True)
    assert film_checks(film(), False)[0] == Check(
        "one take", "cuts are allowed", "no jump seen", True, asked=True
    )
    assert film_checks(film(whole=False))[0].found == "no jump seen in the part that was watched"


def test_of_the_joins_of_a_film_the_likely_ones_are_told_and_three_at_most() -> None:
    likely, possible = join(61.0, "likely"), join(4.0, "possible")
    do = "look there; film it in one go if it is cut"
    found = "possibly not: at 0:04 it jumps (possible)"
    assert film_checks(film(possible))[0] == Check("one take", "one unbroken take", found, None, do)
    found = "likely not: at 1:01 it jumps (likely)"
    assert film_checks(film(possible, likely), True)[0] == Check(
        "one take", "one unbroken take", found, None, do, asked=True
    )
    cuts = Check("one take", "cuts are allowed", found, True, asked=True)
    assert film_checks(film(likely), False)[0] == cuts
    three = film_checks(film(*(join(n, "possible") for n in (1, 2, 3))))[0].found
    assert three == "possibly not: " + "; ".join(f"at 0:0{n} it jumps (possible)" for n in (1, 2, 3))
    assert film_checks(film(*(join(n, "possible") for n in (1, 2, 3, 4))))[0].found == (
        three + " and 1 places more"
    )


@pytest.mark.parametrize(
    ("light", "found", "met", "do"),
    [
        (Light(None, 0.149, 1.99, "left"), "even", True, ""),
        (
            Light(100.4, 0.5, 5.0, "left"),
            "flickering 100 times a second",
            False,
            "switch off the lamp that flickers, or set the camera's shutter to the mains",
        ),
        (
            Light(None, 0.15, 5.0, "left"),
            "blown out: 15% is white",
            False,
            "turn away from the window, or set the exposure lower",
        ),
        (
            Light(None, 0.149, 2.0, "left"),
            "patchy: the left half is 2.0 stops darker",
            None,
            "look whether the face is half in the dark",
        ),
    ],
)
def test_light_is_told_by_its_worst_fault(light: Light, found: str, met: bool | None, do: str) -> None:
    assert film_checks(film(light=light))[1] == Check("even light", "even", found, met, do)


def test_sound_and_picture_are_in_step_within_the_limits_of_the_standard() -> None:
    assert len(film_checks(film())) == 2  # it could not be told
    wanted, together = "sound and picture together", "together, as far as one can tell"
    for late in (EARLIEST, 0.0, LATEST):
        assert film_checks(film(late=late))[2] == Check("in step", wanted, together, True)
    for late, found, shift in ((0.19, "0.2 s late", "-0.19"), (-0.25, "0.2 s early", "0.25")):
        assert film_checks(film(late=late))[2] == Check(
            "in step",
            wanted,
            f"the sound comes {found}, as far as one can tell",
            None,
            f"look yourself; this would put it right: ffmpeg -i take.mp4 -itsoffset {shift} "
            "-i take.mp4 -map 0:v -map 1:a -c copy take_new.mp4",
        )


def test_a_file_that_not_everybody_can_play_is_told_with_the_command_that_helps() -> None:
    def playing(told: Playing, **more: Any) -> Check:
        [found] = film_checks(replace(FACTS, playing=told, **more))
        return found

    assert film_checks(FACTS) == []
    yes = Check("in a browser", "plays in any", "yes", True)
    assert playing(Playing(None, True)) == playing(Playing(None, None)) == yes
    late = playing(Playing(None, False))
    assert (late.wanted, late.found, late.met) == ("plays in any, at once", "its header is at the end", None)
    assert late.do == (
        "it plays only when all of it has arrived; this corrects it: "
        "ffmpeg -i take.mp4 -c copy -movflags +faststart take_new.mp4"
    )
    film = playing(Playing("hevc", False), path=Path("-my take.mov"))
    assert (film.wanted, film.found, film.met) == ("plays in any", "not everywhere: hevc", None)
    assert film.do == (
        "ask whether they take it, or: ffmpeg -i './-my take.mov' -c:v libx264 -pix_fmt yuv420p "
        "-c:a aac -movflags +faststart './-my take_new.mp4'"
    )
    sound = playing(Playing("flac", None), picture=None, path=Path("a.flac"))
    assert sound.do == (
        "ask whether they take it, or: ffmpeg -i a.flac -vn -c:a aac -movflags +faststart a_new.mp4"
    )


def test_a_files_ending_is_one_of_those_asked_for_or_another_name_for_one() -> None:
    for kind, asked in (("mp4", "m4v"), ("m4v", "mp4"), ("mov", "qt"), ("jpg", "jpeg")):
        assert the("file", replace(FACTS, kind=kind), kinds=("wav", asked)) == Check(
            "file", f"wav or {asked}", kind, True, asked=True
        )
    assert the("file", replace(FACTS, kind=""), kinds=("mov",)) == Check(
        "file", "mov", "no ending", False, "export it as mov", asked=True
    )


def test_a_file_is_small_enough_at_its_bound_and_the_bit_rate_told_has_two_figures() -> None:
    """Of 20 MB for 60 s 95 in 100 are sound and picture: 2533 kbit/s, rounded down."""
    assert the("size", FACTS, megabytes=40.0) == Check("size", "at most 40 MB", "40.0 MB", True, asked=True)
    assert the("size", FACTS, megabytes=20.0) == Check(
        "size", "at most 20 MB", "40.0 MB", False,
        "export it again at 2500 kbit/s or less, picture and sound together", asked=True,
    )  # fmt: skip

    def rate(seconds: float, megabytes: float) -> str:
        return the("size", replace(FACTS, seconds=seconds), megabytes=megabytes).do.split()[4]

    assert rate(7600.0, 10.0) == "10"
    assert rate(7700.0, 10.0) == "9.9"
    assert rate(0.5, 0.001) == rate(1.0, 0.001) == "7.6"  # shorter than a second counts as one


def test_a_length_may_be_half_a_second_beyond_its_bound() -> None:
    def length(seconds: float, limit: float | None = None, **asked: Any) -> Check:
        found = checks_of(replace(FACTS, seconds=seconds), replace(BRIEF, **asked), limit)
        [point] = [c for c in found if c.what == "length"]
        return point

    assert length(61.2) == Check("length", "not asked", "1:01.2", True)
    ends = "trim the ends, or `offbook fit` the speech"
    assert length(60.5, longest=60.0) == Check("length", "at most 1:00", "1:00.5", True, asked=True)
    assert length(60.6, longest=60.0) == Check(
        "length", "at most 1:00", "1:00.6", False, f"0.6 s over: {ends}", asked=True
    )
    assert length(60.6, 60.0) == Check("length", "at most 1:00", "1:00.6", False, f"0.6 s over: {ends}")
    assert length(59.5, shortest=60.0) == Check("length", "at least 1:00", "0:59.5", True, asked=True)
    assert length(59.4, shortest=60.0) == Check(
        "length", "at least 1:00", "0:59.4", False, "0.6 s short: take a longer piece", asked=True
    )
    assert length(70.0, 65.0, longest=80.0).met  # the brief's own length counts


def test_a_take_that_is_too_long_is_trimmed_if_the_speech_alone_fits_or_else_cut() -> None:
    def do(**spoken: Any) -> str:
        return the("length", FACTS, spoken=replace(SPOKEN, **spoken), longest=56.0).do

    assert do() == "4.0 s over: trim the ends, the speech alone takes 0:56"
    assert do(first=1.9) == "4.0 s over: the speech alone takes 0:56.1; `offbook fit` proposes cuts"
    ends = "4.0 s over: trim the ends, or `offbook fit` the speech"
    assert do(first=None) == do(last=None) == ends


def loud(integrated: float = -20.0, peak: float = -3.0) -> RecordingFacts:
    return replace(FACTS, loudness=Loudness(integrated, peak, -3.1, 0.0, 60.0))


def test_the_loudness_is_right_at_both_bounds_and_the_change_is_told() -> None:
    def level(integrated: float) -> Check:
        return the("loudness", loud(integrated), lufs=(-24.0, -14.0))

    for at in (-24.0, -14.0):
        assert level(at) == Check("loudness", "-24 to -14 LUFS", f"{at:.1f} LUFS", True, asked=True)
    assert (level(-24.1).met, level(-24.1).do) == (False, "make it 0.1 dB louder on export")
    assert (level(-12.0).met, level(-12.0).do) == (False, "make it 2.0 dB softer on export")
    assert (level(-100.0).found, level(-100.0).do) == ("silence", BETTER)
    assert level(-99.9).found == "-99.9 LUFS"
    assert the("loudness", loud(-30.0)) == Check("loudness", "not asked", "-30.0 LUFS", True)


def test_a_true_peak_may_be_at_most_one_decibel_below_full_scale() -> None:
    do = "set the recorder lower, or export it a little softer: players may distort it"
    for peak, met in ((-1.0, True), (-0.9, False)):
        facts = replace(FACTS, loudness=replace(FACTS.loudness, true_peak=peak))
        found = f"{peak:.1f} dBTP"
        assert the("true peak", facts) == Check("true peak", "at most -1 dBTP", found, met, "" if met else do)


def test_sound_with_a_fault_is_told_by_its_line() -> None:
    assert the("sound", FACTS) == Check("sound", "clear enough to judge", "clear", True)
    noisy: Any = type("Noisy", (), {"line": "it hums", "seconds": 60.0})()
    assert the("sound", replace(FACTS, sound=noisy)) == Check(
        "sound", "clear enough to judge", "it hums", False, BETTER
    )


def points(facts: RecordingFacts, **asked: Any) -> list[Check]:
    """What is said about the picture."""
    names = ("picture", "sharpness", "motion", "light")
    return [c for c in checks_of(facts, replace(BRIEF, **asked)) if c.what in names]


def test_a_recording_of_sound_alone_is_right_unless_a_picture_is_asked_for() -> None:
    alone = replace(FACTS, picture=None)
    assert points(alone) == []
    assert points(alone, picture="none") == [Check("picture", "sound alone", "sound alone", True, asked=True)]
    assert points(alone, picture="portrait") == [
        Check("picture", "portrait", "sound alone", False, "film it: a picture is asked for", asked=True)
    ]
    assert points(FACTS, picture="none") == [
        Check("picture", "sound alone", "1920 × 1080", False, "export the sound alone", asked=True)
    ]


def test_a_picture_has_the_shape_and_the_resolution_that_are_asked_for() -> None:
    assert points(FACTS)[0] == Check("picture", "any", "landscape, 1920 × 1080", True)
    assert points(FACTS, picture="either")[0] == Check(
        "picture", "any", "landscape, 1920 × 1080", True, asked=True
    )
    upright = replace(FACTS, picture=replace(PICTURE, width=1080, height=1920))
    assert points(upright, picture="portrait")[0].met
    do = "turn the camera and film it again"
    assert points(upright, picture="landscape")[0] == Check(
        "picture", "landscape", "portrait, 1080 × 1920", False, do, asked=True
    )
    for facts in (FACTS, upright):
        assert points(facts, lines=1080)[1] == Check(
            "sharpness", "at least 1080 pixels", "1080 pixels", True, asked=True
        )
        assert points(facts, lines=1081)[1] == Check(
            "sharpness", "at least 1081 pixels", "1080 pixels", False,
            "film it at a higher resolution; making it larger afterwards does not help", asked=True,
        )  # fmt: skip


def test_a_picture_is_bright_enough_from_twelve_hundredths_and_must_move() -> None:
    def light(brightness: float) -> Check:
        return the("light", replace(FACTS, picture=replace(PICTURE, brightness=brightness)))

    assert light(0.12) == Check("light", "a face can be seen", "12 % bright", True)
    do = "put a lamp or a window in front of you"
    assert light(0.119) == Check("light", "a face can be seen", "12 % bright", False, do)
    assert the("motion", replace(FACTS, picture=replace(PICTURE, still=True))) == Check(
        "motion", "a moving picture", "one still picture", False, "check the camera; film it again"
    )


@pytest.mark.parametrize(("rate", "met"), [(30.0, True), (29.97, True), (29.9605, True), (29.959, False)])
def test_a_rate_is_met_a_thousandth_below_and_a_hundredth_for_rounding(rate: float, met: bool) -> None:
    facts = replace(FACTS, picture=replace(PICTURE, frames_a_second=rate))
    do = "" if met else "set the camera to more pictures a second"
    assert the("motion", facts, frames=30.0) == Check(
        "motion", "at least 30 a second", f"{rate:.4g} a second", met, do, asked=True
    )
    unknown = replace(FACTS, picture=replace(PICTURE, frames_a_second=None))
    assert the("motion", unknown, frames=30.0) == Check(
        "motion", "at least 30 a second", "the file does not say", None, asked=True
    )


def test_the_silence_around_the_speech_is_told_from_three_and_four_seconds_on() -> None:
    def at(what: str, **spoken: Any) -> Check:
        return the(what, FACTS, spoken=replace(SPOKEN, **spoken))

    assert at("beginning", first=3.0) == Check("beginning", "speech within 3 s", "after 3.0 s", True)
    assert at("beginning", first=3.1) == Check(
        "beginning", "speech within 3 s", "after 3.1 s", False, "trim about 2 s from the beginning"
    )
    wanted = "at most 4 s after the last word"
    assert at("end", last=56.0) == Check("end", wanted, "4.0 s", True)
    assert at("end", last=55.9) == Check("end", wanted, "4.1 s", False, "trim about 2 s from the end")
    names = [c.what for c in checks_of(FACTS, spoken=replace(SPOKEN, slate=True, first=9.0))]
    assert "beginning" not in names and "end" in names
    for unheard in (replace(SPOKEN, first=None), replace(SPOKEN, last=None)):
        names = [c.what for c in checks_of(FACTS, spoken=unheard)]
        assert "words" in names and not {"beginning", "end"} & {*names}


def test_the_words_of_a_take_are_right_from_ninety_eight_in_a_hundred_and_without_a_prompt() -> None:
    do = "see its notes, drill the words that went wrong, and record it again"
    assert the("words", FACTS, spoken=replace(SPOKEN, accuracy=0.98)) == Check(
        "words", "at least 98 %", "98.0 % of 34", True
    )
    low = the("words", FACTS, spoken=replace(SPOKEN, accuracy=0.979))
    assert (low.met, low.do) == (False, do)
    assert the("prompts", FACTS, spoken=replace(SPOKEN, prompts=1)) == Check(
        "prompts", "none", "1", False, "take it again without the book"
    )
    assert "prompts" not in [c.what for c in checks_of(FACTS, spoken=SPOKEN)]


def test_a_slate_is_compared_with_what_is_asked_for() -> None:
    with_one = replace(SPOKEN, slate=True)
    told = "a name or title is said first"
    wanted = Check("slate", "wanted", told, True, asked=True)
    assert the("slate", FACTS, spoken=with_one, slate=True) == wanted
    assert the("slate", FACTS, spoken=SPOKEN, slate=True) == Check(
        "slate", "wanted", "none heard", None,
        "say your name and the piece first, or listen yourself whether it is there", asked=True,
    )  # fmt: skip
    assert the("slate", FACTS, spoken=SPOKEN, slate=False) == Check(
        "slate", "not wanted", "none heard", True, asked=True
    )
    assert the("slate", FACTS, spoken=with_one, slate=False) == Check(
        "slate", "not wanted", told, False, "trim the beginning", asked=True
    )


def test_what_only_a_person_can_see_comes_last_and_is_never_met_or_unmet() -> None:
    checks = checks_of(FACTS, replace(BRIEF, by_eye=("plain wall", "no hat")), spoken=SPOKEN)
    assert list(checks[-2:]) == [
        Check("by eye", each, "look yourself", None, asked=True) for each in ("plain wall", "no hat")
    ]
    assert unmet_checks(checks) == []
    bad = replace(checks[0], met=False)
    assert unmet_checks([bad, *checks]) == [bad]


def test_whether_a_point_was_asked_for_is_worked_out_for_older_journals() -> None:
    assert asked_for({"asked": 1, "what": "sound"}) and not asked_for({"asked": 0, "what": "file"})
    assert asked_for({"what": "file", "wanted": "mp4"})
    for what in ("sound", "true peak", "light", "words", "prompts", "beginning", "end", "one take"):
        assert not asked_for({"what": what, "wanted": "x"})
    for what in ("even light", "in step", "in a browser"):
        assert not asked_for({"what": what, "wanted": "x"})
    for wanted in ("not asked", "any", "a moving picture"):
        assert not asked_for({"what": "picture", "wanted": wanted})


def test_the_best_take_has_the_fewest_faults_and_of_equal_ones_it_is_the_latest() -> None:
    def best(*takes: tuple[int, int | None, int | None]) -> int | None:
        found = best_take([TakeStanding(n, *each) for n, each in enumerate(takes, 1)])
        return None if found is None else found.n

    assert best((1, 0, 0), (0, 9, 9)) == 2
    assert best((0, 0, 1), (0, 9, 0)) == 2
    assert best((0, 1, 0), (0, 0, 0), (0, 2, 0)) == 2
    assert best((0, 1, 1), (0, 1, 1)) == 2
    assert best((0, 0, None), (0, 1, 0)) == 1
    assert best((0, None, None), (5, 3, 0)) == 2
    assert best((0, None, None)) is best() is None


def test_a_recording_is_as_long_as_its_sound_or_its_picture_whichever_is_longer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "Take.MP4"
    path.write_bytes(bytes(500))

    def facts(picture: Picture | None) -> RecordingFacts:
        for name, found in (
            *(("moving_picture", picture), ("survey", SOUND), ("loudness_of", FACTS.loudness)),
            *(("film_facts_of", film().film), ("playing_of", Playing(None, True))),
        ):
            monkeypatch.setattr(f"offbook.takes.{name}", lambda *given, found=found: found)
        return facts_of(path)

    whole = facts(replace(PICTURE, seconds=61.5))
    assert (whole.kind, whole.megabytes, whole.seconds) == ("mp4", 0.0005, 61.5)
    assert (whole.film, whole.playing) == (film().film, Playing(None, True))
    assert (
        facts(replace(PICTURE, seconds=59.0)).seconds == facts(replace(PICTURE, seconds=None)).seconds == 60.0
    )
    alone = facts(None)
    assert (alone.seconds, alone.film, alone.picture) == (60.0, None, None)
