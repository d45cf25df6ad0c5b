"""What the desk says in words and figures: cues, parcels, values that differ, days, clocks and file names."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.brief import Brief
from offbook.desk import differences, overdue, parcel_in_words
from offbook.desk.as_read import shown_rows
from offbook.desk.bundle import file_name
from offbook.desk.cues import cues_in_words, cues_picked_up
from offbook.desk.finding import day_in
from offbook.desk.journal_open import process_clock
from offbook.desk.run_json import note_as_json, run_as_json
from offbook.desk.run_throughs import spoken_at
from offbook.desk.voices import NoVoice
from offbook.errors import JournalError
from offbook.journal import Differing
from offbook.notes import Note
from offbook.records import CuePickedUp, Parcel
from offbook.script import parse_script
from offbook.words import words_of
from tests.journals import desk_at
from tests.test_run import SAID, SCRIPT, SOUND, heard_as

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)

# Cues -------------------------------------------------------------------------------------------------


def cues(*seconds: float) -> list[CuePickedUp]:
    return [CuePickedUp(f"cue {n}", n, s) for n, s in enumerate(seconds)]


def test_the_cues_are_summed_up_by_their_median_and_the_three_slowest_are_named() -> None:
    assert cues_in_words([]) == []
    assert cues_in_words(cues(0.64)) == ["The cue was picked up after 0.6 s."]
    assert cues_in_words(cues(0.4, 0.6)) == ["Cues picked up: 2, half of them within 0.5 s."]
    assert cues_in_words(cues(0.3, 0.3, 0.3, 0.3, 0.3, 1.5, 2.5, 1.2, 1.1)) == [
        "Cues picked up: 9, half of them within 0.3 s.",
        "2.5 s after “cue 6”",
        "1.5 s after “cue 5”",
        "1.2 s after “cue 7”",
    ]


def test_a_cue_is_slow_from_one_second_and_twice_the_median() -> None:
    assert cues_in_words(cues(0.3, 0.3, 1.0))[1:] == ["1.0 s after “cue 2”"]
    assert cues_in_words(cues(0.3, 0.3, 0.99))[1:] == []
    assert cues_in_words(cues(0.75, 0.75, 1.5))[1:] == ["1.5 s after “cue 2”"]
    assert cues_in_words(cues(0.75, 0.75, 1.49))[1:] == []


def test_a_cue_is_kept_with_its_last_six_words_and_two_decimals() -> None:
    lines = [
        SimpleNamespace(text="one two three four five six"),
        SimpleNamespace(text="so one two three four five six"),
    ]
    rehearsal: Any = SimpleNamespace(
        scene=SimpleNamespace(lines=lines),
        pick_ups=[SimpleNamespace(line=n, word=10 + n, seconds=0.4567) for n in (0, 1)],
    )
    assert cues_picked_up(rehearsal) == (
        CuePickedUp("one two three four five six", 10, 0.46),
        CuePickedUp("… one two three four five six", 11, 0.46),
    )


# Parcels ----------------------------------------------------------------------------------------------

PACKED = Parcel("k", "b", NOW, NOW.date(), "Asia/Tokyo", "/sent/here", "[]", None, "", None, None, "")
SENT = replace(PACKED, sent_at=NOW, sent_to="the box", confirm_by=date(2026, 3, 6))


def test_a_parcel_is_overdue_on_the_day_after_its_confirmation_was_due() -> None:
    assert [overdue(SENT, date(2026, 3, day)) for day in (5, 6, 7)] == [False, False, True]
    late = date(2026, 3, 9)
    assert not overdue(PACKED, late)
    assert not overdue(replace(SENT, sent_at=None), late)
    assert not overdue(replace(SENT, confirmed_at=NOW), late)
    assert not overdue(replace(SENT, confirm_by=None), late)


def test_a_sentence_says_where_a_parcel_is_by_the_performers_own_days() -> None:
    def told(parcel: Parcel, day: int = 6) -> str:
        return parcel_in_words(parcel, date(2026, 3, day))

    assert told(PACKED) == "packed 2026-03-02 in /sent/here, not sent yet"
    assert told(SENT) == "sent 2026-03-03 to the box; not confirmed yet, ask after 2026-03-06"
    assert told(SENT, 7) == "sent 2026-03-03 to the box; NOT CONFIRMED by 2026-03-06: ask whether it arrived"
    assert told(replace(SENT, confirm_by=None)) == "sent 2026-03-03 to the box; no confirmation noted"
    answered = replace(SENT, sent_to="", confirmed_at=NOW + timedelta(days=1))
    assert told(answered, 9) == "sent 2026-03-03; confirmed 2026-03-04"
    assert (
        told(replace(answered, confirmation="thanks"), 9) == "sent 2026-03-03; confirmed 2026-03-04: thanks"
    )


def test_the_name_of_a_file_follows_the_briefs_pattern_and_is_at_most_150_characters_long() -> None:
    plain = Brief("Quay", NOW)
    assert file_name(plain, "Mara Lind", "The lamp", 3, 2, ".wav") == "3_Mara_Lind_The_lamp.wav"
    assert file_name(plain, "._Mara-L.", "A/B", 1, 2, ".mp4") == "1_Mara-L_A_B.mp4"
    named = replace(plain, file_name="{take}{brief}{piece}")
    assert file_name(named, "Mara", "x" * 200, 1, 7, ".wav") == "7Quay" + "x" * 145 + ".wav"


# Values that differ -----------------------------------------------------------------------------------


def differing(table: str, column: str, here: object, there: object, **more: Any) -> Differing:
    return Differing(table, "The lamp", column, here, there, **more)


@pytest.mark.parametrize(
    ("found", "said", "command"),
    [
        (("piece", "name", "The lamp", "Lamp"), "name The lamp here, Lamp there", ("--name", "Lamp")),
        (("piece", "part", None, "IVE"), "part all here, IVE there", ("--part", "IVE")),
        (("piece", "limit_seconds", 62.5, None), "limit 1:02.5 here, none there", ("--limit", "none")),
        (
            ("piece", "due_day", None, date(2026, 5, 1)),
            "date none here, 2026-05-01 there",
            ("--date", "2026-05-01"),
        ),
        (("piece", "keep_recordings", True, False), "recordings kept here, not kept there", ("--no-keep",)),
        (("piece", "keep_recordings", False, True), "recordings not kept here, kept there", ("--keep",)),
    ],
)
def test_a_value_of_a_piece_that_differs_is_said_with_the_command_that_takes_the_other(
    found: tuple[str, str, object, object], said: str, command: tuple[str, ...]
) -> None:
    (each,) = differences(differing(*found))
    assert each.said == f"The lamp: {said}. Yours was changed later, and stays."
    assert each.command == ("piece", "set", "The lamp", *command) and each.theirs and each.can_be_taken


def test_values_of_a_performer_that_differ_are_set_with_the_command_performer() -> None:
    for column, option, what in (
        ("zone", "--zone", "time zone"),
        ("minutes_a_day", "--minutes", "minutes of practice a day"),
        ("voice_minutes", "--voice-minutes", "minutes of full voice a day"),
    ):
        values: tuple[object, object] = ("UTC", "Asia/Tokyo") if column == "zone" else (20.0, 12.5)
        (each,) = differences(differing("performer", column, *values))
        assert each.what == f"The lamp: {what}"
        assert each.command == ("performer", "set", "The lamp", option, f"{values[1]}")
        assert (each.here, each.there) == (("UTC", "Asia/Tokyo") if column == "zone" else ("20", "12.5"))


def test_of_a_value_that_was_taken_the_command_takes_back_the_one_before() -> None:
    (each,) = differences(differing("piece", "name", "The lamp", "Lamp", taken=True))
    assert each.command == ("piece", "set", "The lamp", "--name", "The lamp") and not each.theirs
    assert each.which == "Theirs was changed later, and is taken."
    (unknown,) = differences(differing("piece", "name", "a", "b", together=True))
    assert unknown.which == "Neither is known to be later: yours stays."
    (used,) = differences(differing("piece", "name", "a", "b", later_there=True))
    assert used.which == "Theirs was changed later, but another one here has that name: yours stays."


def test_what_was_sent_confirmed_done_or_chosen_is_noted_or_undone_with_its_own_command() -> None:
    found = [
        differing("brief", "sent_at", None, NOW),
        differing("brief", "sent_at", NOW, None),
        differing("parcel", "confirmed_at", None, NOW, taken=True),
        differing("margin_note", "done_at", None, NOW, number=3),
        differing("margin_note", "done_at", NOW, None, number=3),
        differing("take", "chosen", "2", "1", number=2),
        differing("take", "chosen", "2", None),
        differing("take", "checks", None, "{}", number=4),
        differing("take", "checks", "{}", None, number=4),
    ]
    told = [differences(each)[0] for each in found]
    assert [each.command for each in told] == [
        ("brief", "sent", "The lamp"),
        ("brief", "sent", "The lamp", "--undo"),
        ("brief", "confirmed", "The lamp", "--undo"),
        ("margin", "done", "The lamp", "3"),
        ("margin", "done", "The lamp", "3", "--undo"),
        ("take", "choose", "The lamp", "1"),
        (),
        ("take", "judge", "The lamp", "4"),
        ("take", "judge", "The lamp", "4"),
    ]
    assert [each.what for each in told[2:]] == [
        "The lamp: confirmed",
        "The lamp, note 3: done",
        "The lamp, note 3: done",
        "The lamp: take chosen",
        "The lamp: take chosen",
        "The lamp, take 4: what was checked",
        "The lamp, take 4: what was checked",
    ]
    assert [(each.here, each.there) for each in told] == [
        ("not yet", "2026-03-02"),
        ("2026-03-02", "not yet"),
        ("not yet", "2026-03-02"),
        ("not yet", "2026-03-02"),
        ("2026-03-02", "not yet"),
        ("2", "1"),
        ("2", "none"),
        ("not judged", "judged"),
        ("judged", "not judged"),
    ]
    assert [each.can_be_taken for each in told] == [True] * 8 + [False], "a judged take stays judged"


# Days and clocks --------------------------------------------------------------------------------------


def test_a_day_is_typed_as_a_date_or_as_so_many_days_from_today() -> None:
    today = date(2026, 2, 27)
    assert day_in(None, today) is None
    assert [day_in(typed, today) for typed in ("+0", "+2", "2026-05-01")] == [
        today, date(2026, 3, 1), date(2026, 5, 1)
    ]  # fmt: skip
    for typed in ("soon", "+x", "+99999999", "20"):
        with pytest.raises(JournalError) as caught:
            day_in(typed, today)
        assert caught.value.what == f"{typed!r} is not a day"
        assert caught.value.do == "write it as 2026-05-01, or +20 for twenty days from now"


def test_the_clock_that_is_set_goes_on_by_its_step_at_each_look(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OFFBOOK_NOW", "2026-03-02T18:00:00+00:00 10")
    look = process_clock()
    assert [look() - NOW for _ in range(3)] == [timedelta(seconds=s) for s in (0, 10, 20)]
    monkeypatch.setenv("OFFBOOK_NOW", "2026-03-02T18:00:00+00:00")
    still = process_clock()
    assert (still(), still()) == (NOW, NOW)
    monkeypatch.delenv("OFFBOOK_NOW")
    assert abs(process_clock()() - datetime.now(UTC)) < timedelta(seconds=60)


@pytest.mark.parametrize(
    ("typed", "what"),
    [
        ("soon", "OFFBOOK_NOW is not a moment: Invalid isoformat string: 'soon'"),
        (
            "2026-03-02T18:00:00+00:00 x",
            "OFFBOOK_NOW is not a moment: could not convert string to float: 'x'",
        ),
        ("1969-12-31T00:00:00+00:00", "OFFBOOK_NOW is too early or too late: 1969-12-31T00:00:00+00:00"),
        ("3000-01-01T00:00:00+00:00", "OFFBOOK_NOW is too early or too late: 3000-01-01T00:00:00+00:00"),
        ("2026-03-02T18:00:00", "OFFBOOK_NOW has no offset from UTC"),
    ],
)
def test_a_clock_that_cannot_be_set_is_refused(
    typed: str, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OFFBOOK_NOW", typed)
    with pytest.raises(JournalError) as caught:
        process_clock()
    assert caught.value.what == what


def test_a_clock_may_be_set_from_1970_to_2999_and_step_by_at_most_366_days(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for typed in (
        "1970-01-01T00:00:00+00:00",
        "2999-12-31T00:00:00+00:00 31622400",
        "2026-03-02T18:00:00+00:00 -31622400",
    ):
        monkeypatch.setenv("OFFBOOK_NOW", typed)
        assert process_clock()() == datetime.fromisoformat(typed.split()[0])
    for step in ("31622401", "-31622401"):
        monkeypatch.setenv("OFFBOOK_NOW", f"2026-03-02T18:00:00+00:00 {step}")
        with pytest.raises(JournalError, match="too early or too late") as caught:
            process_clock()
        assert caught.value.do == "give a moment from 1970 to 2999, and seconds that pass at each look"


def test_a_recording_was_spoken_at_its_files_time_unless_that_is_before_the_piece_or_to_come(
    tmp_path: Path,
) -> None:
    desk = desk_at(tmp_path / "home")
    added, now = desk.clock.now, desk.clock.on(hours=2)
    file = tmp_path / "one.wav"
    file.write_bytes(b"")
    for moment, spoken in (
        (added - timedelta(seconds=1), now),
        (added, added),
        (added + timedelta(hours=1), added + timedelta(hours=1)),
        (now, now),
        (now + timedelta(seconds=1), now),
    ):
        os.utime(file, (moment.timestamp(), moment.timestamp()))
        assert spoken_at(desk.journal, desk.piece, file) == spoken
    assert spoken_at(desk.journal, desk.piece, tmp_path / "gone.wav") == now


# Speeches ---------------------------------------------------------------------------------------------


def shown(text: str, part: str | None = None) -> list[tuple[str, str, str, int]]:
    """The rows of a script: number, text, what they stand for in the script, and the paragraph."""
    script = parse_script(text, part=part)
    rows = shown_rows(script, words_of(script))
    return [(r.number, r.text, script.text[r.start : r.end], r.paragraph) for r in rows]


def test_the_sentences_of_prose_are_shown_with_the_quotation_marks_before_them() -> None:
    assert shown("… he said (low) “Go.” “(Now) run!” And we did. …\n\n“Nobody” came.\n") == [
        ("1", "he said (low) “Go.”", "… he said (low) “Go.”", 1),
        ("2", "“(Now) run!”", "“(Now) run!”", 1),
        ("3", "And we did.", "And we did. …", 1),
        ("4", "“Nobody” came.", "“Nobody” came.", 2),
    ]
    assert shown("… he went away and was never seen there again.")[0][2][:4] == "… he"


def test_a_sentence_of_a_part_ends_before_the_cue_that_follows_it() -> None:
    scene = "MARA: “Who goes? I have seen\n\nOSK: What?\n\nMARA: the tide come in.” I saw it. “Go.”\n"
    assert shown(scene, "MARA") == [
        ("1", "“Who goes?", "“Who goes?", 1),
        ("2", "I have seen", "I have seen", 1),
        ("3", "the tide come in.”", "the tide come in.”", 3),
        ("4", "I saw it.", "I saw it.", 3),
        ("5", "“Go.”", "“Go.”", 3),
    ]


# The run-through for other programs -------------------------------------------------------------------


def test_a_note_for_other_programs_has_its_time_in_thousandths_of_a_second() -> None:
    told = note_as_json(Note("changed", 3, 4, "the lamp", "a lamp", 1.23456, 2, "detail"))
    assert (told["words"], told["at"], told["line"], told["script"], told["heard"]) == (
        [3, 4], 1.235, 2, "the lamp", "a lamp"
    )  # fmt: skip
    assert note_as_json(Note("dropped", 3, 4, "the lamp", "", None, 2, ""))["at"] is None


@pytest.mark.parametrize(
    ("loudness", "snr", "told"),
    [(-20.04, 39.96, (-20.0, 40.0)), (float("-inf"), float("inf"), (None, None)), (0.0, 0.05, (0.0, 0.1))],
)
def test_a_level_without_a_finite_value_is_null(loudness: float, snr: float, told: Any) -> None:
    heard = replace(heard_as(SCRIPT, SAID), sound=replace(SOUND, loudness=loudness, snr=snr))
    sound = run_as_json(heard)["sound"]
    assert (sound["loudness_lufs"], sound["snr_db"]) == told


# The voice that only shows ----------------------------------------------------------------------------


def test_a_line_that_is_only_shown_is_over_when_it_could_have_been_read() -> None:
    now = [100.0]
    voice = NoVoice(lambda: now[0])
    assert voice.over()
    voice.begin("one two three four five", 3)
    now[0] = 101.99
    assert not voice.over()
    now[0] = 102.0
    assert voice.over()
    voice.begin("one two three four five", None)
    assert voice.over()
    voice.begin("one two three four five", 3)
    voice.stop()
    assert voice.over()
