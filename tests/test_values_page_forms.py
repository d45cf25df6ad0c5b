"""What is typed into the forms of the page and what comes in through it: briefs, drafts and sound."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from werkzeug.datastructures import MultiDict

from offbook.brief import Brief, Limit, parse_brief
from offbook.errors import JournalError, OffbookError, RecordingError, ScriptError
from offbook.notes import Aside
from offbook.page import capture, drafts, uploads
from offbook.page.brief_form import BriefFields, as_text, changed_lines, fields_of, given_in
from offbook.page.capture import Capture, Spell
from offbook.page.forms import FieldError, limit_in, limit_shown, name_in, title_of_file, typed_day
from offbook.page.left_behind import delete_old_drafts
from offbook.page.text import _word
from offbook.partner import Played

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
DUE = datetime(2026, 5, 1, 17, 30, tzinfo=UTC)


def refused(what: Any, *given: Any, **named: Any) -> tuple[str, str]:
    """The two lines with which a call is refused."""
    with pytest.raises(OffbookError) as caught:
        what(*given, **named)
    return caught.value.what, caught.value.do


# Fields -----------------------------------------------------------------------------------------------


def test_a_limit_a_day_and_a_name_are_read_from_their_fields() -> None:
    assert [limit_in(typed) for typed in ("", " ", "2:00", "2.00", "90")] == [None, None, 120.0, 120.0, 90.0]
    assert [limit_shown(seconds) for seconds in (None, 0.0, 125.4)] == ["", "0:00", "2:05"]
    assert [typed_day(typed) for typed in ("", "  ", " 2026-05-01 ")] == [None, None, date(2026, 5, 1)]
    assert refused(typed_day, "soon") == (
        "“soon” is not a day",
        "write year, month and day, such as 2026-05-01",
    )
    assert name_in("  The \n lamp ") == "The lamp"
    assert (name_in("x" * 120), name_in("x" * 121)) == ("x" * 120, "x" * 120)


def test_a_script_is_called_as_its_file_without_folders_and_ending() -> None:
    names = ("my_play-two.txt", "C:\\plays\\the_lamp.docx", "/a/b/c.d.pdf", "", "noending")
    assert [title_of_file(name) for name in names] == ["my play two", "the lamp", "c.d", "", "noending"]


def test_a_word_is_named_by_its_number_within_the_speech() -> None:
    version: Any = type("V", (), {"words": (1, 2, 3)})()
    assert [_word(value, version) for value in ("0", "2")] == [0, 2]
    for value in ("3", "-1", "x", ""):
        assert refused(_word, value, version) == (
            "there is no such word in this speech",
            "load the page again",
        )


# A brief as a form ------------------------------------------------------------------------------------

FULL = BriefFields(
    name="Quay",
    deadline="2026-05-01",
    clock="17:30",
    pieces=("The lamp", "The ferry"),
    shortest="0:30",
    longest="1:30",
    slate="true",
    picture="landscape",
    kinds=".MP4, mov",
    megabytes="200",
    by_eye=" One  person \n\n Look up ",
    together="3:00",
    unbroken="false",
    confirm_days="3",
    limits={"The lamp": "0:50 to 1:10", "The ferry": "1:20"},
    from_list=("The lamp",),
    free=("The ferry",),
)
TEXT = """name = "Quay"
deadline = 2026-05-01T17:30:00
shortest = "0:30"
longest = "1:30"
together = "3:00"
picture = "landscape"
pieces = ["The lamp", "The ferry"]
limits = { "The lamp" = ["0:50", "1:10"], "The ferry" = "1:20" }
set_list = ["The lamp"]
free = ["The ferry"]
unbroken = false
confirm_days = 3
slate = true
kinds = ["mp4", "mov"]
megabytes = 200
by_eye = ["One person", "Look up"]
"""


def test_the_fields_of_a_brief_are_written_as_its_file_has_them() -> None:
    assert as_text(FULL) == TEXT
    bare = BriefFields(name='The "quay"', deadline="2026-05-01", slate="maybe", unbroken="")
    assert as_text(bare) == 'name = "The \\"quay\\""\ndeadline = 2026-05-01\n'


def test_a_brief_is_shown_in_the_fields_that_it_was_written_from() -> None:
    read = parse_brief(TEXT, UTC)
    shown = fields_of(read, ["THE LAMP", "The ferry"])
    assert shown == replace(
        FULL,
        pieces=("THE LAMP", "The ferry"),
        kinds="mp4, mov",
        by_eye="One person\nLook up",
        limits={"THE LAMP": "0:50 to 1:10", "The ferry": "1:20"},
        from_list=("THE LAMP",),
    )
    assert changed_lines(shown, shown) == ([], [])
    bare = fields_of(Brief("Quay", DUE, limits=(Limit("x", 30.0, None),), megabytes=2.5), [])
    assert bare == BriefFields(
        name="Quay", deadline="2026-05-01", clock="17:30", limits={"x": "0:30 to "}, megabytes="2.5"
    )


def test_only_the_lines_that_were_changed_or_emptied_are_written_again() -> None:
    changed = replace(FULL, longest="1:45", slate="", megabytes="200.5", clock="")
    assert changed_lines(FULL, changed) == (
        ["deadline = 2026-05-01", 'longest = "1:45"', "megabytes = 200.5"],
        ["slate"],
    )


def test_a_field_of_a_brief_that_cannot_be_read_is_refused() -> None:
    assert refused(as_text, replace(FULL, deadline="")) == (
        "a brief needs the day by which it must be there",
        "choose it",
    )
    assert refused(as_text, replace(FULL, clock="soon")) == (
        "“2026-05-01 soon” is not a day and time",
        "choose them in the fields",
    )
    for many in (replace(FULL, megabytes="many"), replace(FULL, confirm_days="many")):
        assert refused(as_text, many) == (
            "“many” is not a number",
            "write it in figures, such as 200",
        )


def test_twenty_points_to_look_at_of_200_characters_each_are_kept() -> None:
    points = "\n".join(["x" * 201, *(f"point {n}" for n in range(25))])
    (line,) = [row for row in as_text(replace(FULL, by_eye=points)).splitlines() if row.startswith("by_eye")]
    kept = json.loads(line.removeprefix("by_eye = "))
    assert (len(kept), kept[0], kept[19]) == (20, "x" * 200, "point 18")


def test_the_form_of_a_brief_is_read_with_the_limits_and_origins_of_the_chosen_pieces() -> None:
    form = MultiDict(
        [
            ("name", f"  {'q' * 201}"), ("deadline", " 2026-05-01 "), ("by_eye", " look up "),
            ("piece", "The ferry"), ("piece", "elsewhere"), ("piece", "The pier"),
            ("known", "1"), ("known", "1"), ("known", "1"),
            ("name-0", "The lamp"), ("limit-0", "9:00"), ("from-0", "list"),
            ("name-1", "The ferry"), ("limit-1", " 1:20 "), ("from-1", "list"),
            ("name-2", "The pier"), ("limit-2", " "), ("from-2", "free"),
        ]
    )  # fmt: skip
    assert given_in(form) == BriefFields(
        name="q" * 200,
        deadline="2026-05-01",
        by_eye="look up",
        pieces=("The ferry", "elsewhere", "The pier"),
        limits={"The ferry": "1:20"},
        from_list=("The ferry",),
        free=("The pier",),
    )


# Drafts and recordings that come in -------------------------------------------------------------------


def test_a_draft_is_kept_under_a_name_of_our_own_with_a_known_ending(tmp_path: Path) -> None:
    for name, file in (("My Play.DOCX", "script.docx"), ("../x.exe", "script.txt"), ("", "script.txt")):
        made = drafts.save(tmp_path, b"text", name, "Title", "p")
        assert (made.file, (made.folder / file).read_bytes()) == (file, b"text")
        assert len(made.key) == 24 and made.folder == tmp_path / made.key
        assert drafts.load_draft(tmp_path, made.key) == made
    drafts.drop(made)
    gone = ("this script was kept or thrown away already", "add it again")
    assert refused(drafts.load_draft, tmp_path, made.key) == gone
    for key in ("x", "../" + "0" * 21, "0" * 25):
        assert refused(drafts.load_draft, tmp_path, key) == ("there is no such script", "add it again")


def test_a_script_that_is_too_large_or_has_no_room_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drafts, "at_least", lambda size: 3_000_000 if size == 20_000_000 else 0)
    drafts.save(tmp_path, bytes(3_000_000), "", "")
    with pytest.raises(ScriptError) as caught:
        drafts.save(tmp_path, bytes(3_000_001), "", "")
    assert caught.value.what == "this file is larger than 3 MB"
    assert caught.value.do == (
        "give the script alone, without pictures, or begin the page with offbook page --largest MB"
    )
    (tmp_path / "file").write_bytes(b"")
    no_room = ("cannot keep the script: Not a directory", "free some space on the disk")
    assert refused(drafts.save, tmp_path / "file", b"x", "", "") == no_room
    made = drafts.save(tmp_path, b"x", "", "")
    drafts.drop(made)
    assert refused(drafts.write, made)[0] == "cannot keep the script: No such file or directory"


def test_a_recording_comes_in_slice_by_slice_in_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uploads, "at_least", lambda size: 2_000_010)
    made = uploads.begin_upload(tmp_path, "p", "C:\\a\\My Take.WAV")
    assert (made.name, made.path.name, made.slices, len(made.key)) == ("My Take.WAV", "recording.wav", 0, 32)
    assert [made.add(0, b"ab"), made.add(0, b"ab"), made.add(2, b"x"), made.add(1, b"cd")] == [1, 1, 1, 2]
    assert uploads.open_upload(tmp_path, made.key) == made and made.path.read_bytes() == b"abcd"
    made.add(2, bytes(2_000_006))
    assert refused(made.add, 3, b"x") == (
        "this recording is larger than 2 MB",
        "cut out the speech and give that, or begin the page with offbook page --largest MB",
    )
    for name, shown, file in (("x.exe", "x.exe", "recording"), ("", "the recording", "recording")):
        other = uploads.begin_upload(tmp_path, "p", name)
        assert (other.name, other.path.name) == (shown, file)
    assert uploads.begin_upload(tmp_path, "p", "n" * 130).name == "n" * 120
    made.path.unlink()
    no_room = "cannot keep the recording: No such file or directory"
    assert refused(made.add, 3, b"x") == (no_room, "free some space on the disk")
    made.drop()
    received = "this recording was already received, or is gone"
    assert refused(uploads.open_upload, tmp_path, made.key) == (received, "choose it again")
    assert refused(uploads.open_upload, tmp_path, "x") == ("there is no such recording", "choose it again")
    (tmp_path / "file").write_bytes(b"")
    assert refused(uploads.begin_upload, tmp_path / "file", "p", "") == (
        "cannot keep the recording: Not a directory",
        "free some space on the disk",
    )


def test_drafts_and_uploads_untouched_for_thirty_days_are_deleted(tmp_path: Path) -> None:
    now, month = 1_800_000_000.0, 30 * 86_400
    old = dict.fromkeys(("0" * 24, "1" * 32, "3" * 25, "other"), month + 1) | {"2" * 24: month}
    for name, age in old.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "file").write_bytes(b"")
        for path in (tmp_path / name / "file", tmp_path / name):
            os.utime(path, (now - age, now - age))
    (tmp_path / ("4" * 24)).write_bytes(b"")
    fresh = tmp_path / ("5" * 24)
    fresh.mkdir()
    (fresh / "file").write_bytes(b"")
    os.utime(fresh / "file", (now, now))
    os.utime(fresh, (now - month - 1, now - month - 1))
    delete_old_drafts(tmp_path, now)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "2" * 24, "3" * 25, "4" * 24, "5" * 24, "other"
    ]  # fmt: skip
    delete_old_drafts(tmp_path / "nowhere", now)


# Sound that is spoken into the page -------------------------------------------------------------------


@pytest.fixture
def spoken(tmp_path: Path) -> Capture:
    return capture.begin(tmp_path, "piece", "version", NOW)


PIECE = bytes([1, 0]) * 2_000  # a quarter of a second at 8000 samples a second


def test_a_capture_takes_rates_from_8_to_192_kilohertz(spoken: Capture) -> None:
    for rate in (7_999, 192_001):
        assert refused(spoken.begin_spell, rate) == (
            f"a microphone at {rate} samples a second cannot be used",
            "choose another microphone",
        )
    assert [spoken.begin_spell(rate) for rate in (8_000, 192_000)] == [Spell(0, 8_000), Spell(1, 192_000)]
    assert [spell.piece for spell in spoken.about.spells] == [4_000, 96_000]
    assert spoken.about.at == NOW and len(spoken.about.key) == 32


def test_pieces_of_sound_are_written_once_and_in_order(spoken: Capture) -> None:
    spoken.begin_spell(8_000)
    assert spoken.add(0, 0, PIECE) == (1, True)
    assert spoken.add(0, 0, PIECE) == (1, False)
    assert spoken.add(0, 2, PIECE) == (1, False)
    assert spoken.add(0, 1, PIECE * 16) == (17, True)
    assert spoken.seconds == 17 / 4 and not spoken.about.ended
    assert spoken.add(0, 17, PIECE[:100], last=True) == (18, True)
    assert spoken.about.ended and spoken.seconds == 17 / 4 + 50 / 8_000
    assert spoken.add(0, 17, PIECE) == (18, False), "after a short piece nothing can follow"
    sounds = [len(sound) for _, sound in spoken.sound()]
    assert sounds == [4_000] * 17 + [100]


def test_what_is_no_piece_of_sound_is_refused(spoken: Capture) -> None:
    again = "load the page again"
    assert refused(spoken.add, 0, 0, PIECE) == ("this recording has no such part", again)
    spoken.begin_spell(8_000)
    for number in (-1, 1):
        assert refused(spoken.add, number, 0, PIECE) == ("this recording has no such part", again)
    no_piece = ("this is not a piece of sound", again)
    assert refused(spoken.add, 0, 0, b"") == no_piece
    assert refused(spoken.add, 0, 0, PIECE[:100]) == no_piece
    assert refused(spoken.add, 0, 0, PIECE[:101], last=True) == no_piece
    assert refused(spoken.add, 0, 0, PIECE * 17) == no_piece
    assert refused(spoken.add, 0, 0, PIECE * 16 + PIECE[:2], last=True) == no_piece
    assert spoken.seconds == 0.0


def test_a_capture_lasts_at_most_ninety_minutes(spoken: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    spoken.begin_spell(8_000)
    monkeypatch.setattr("offbook.page.capture.LONGEST_SECONDS", 0.25)
    assert spoken.add(0, 0, PIECE) == (1, True)
    assert spoken.add(0, 1, PIECE) == (2, True)
    assert refused(spoken.add, 0, 2, PIECE) == (
        "a run-through takes up to 90 minutes",
        "stop, and hear what is there",
    )


def test_sound_that_the_disk_does_not_take_leaves_the_file_as_it_was(
    spoken: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoken.begin_spell(8_000)
    spoken.add(0, 0, PIECE)

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert refused(spoken.add, 0, 1, PIECE) == (
        "the sound cannot be written to the disk: No space left on device",
        "free some space on it; what was said is kept",
    )
    assert spoken.seconds == 0.25


def test_what_the_partner_did_is_read_back_and_an_open_line_lasts_to_the_end_of_the_sound(
    spoken: Capture,
) -> None:
    assert spoken.partner() == ((), ())
    spoken.begin_spell(8_000)
    spoken.add(0, 0, PIECE * 8)
    prompt = Aside("prompt", 4, "the lamp", 3.25, 3.5, (4, 5), True, given=True)
    shown = Aside("prompt", 4, "the lamp", 3.25, 3.5, None, True, given=True)
    done, going = Played(1, "cue", ("who", "goes"), 0.0, 1.0), Played(2, "cue", ("go",), 1.5)
    spoken.keep_partner([prompt, shown], [done, going])
    assert spoken.partner() == ((prompt, shown), (done, replace(going, end=2.0)))


def test_captures_are_found_again_mended_and_the_oldest_first(tmp_path: Path) -> None:
    late = capture.begin(tmp_path, "p", "v", NOW.replace(hour=19))
    first, ended = (
        capture.begin(tmp_path, "p", "v", NOW),
        capture.begin(tmp_path, "q", "v", NOW.replace(hour=20)),
    )
    for each in (late, first, ended):
        each.begin_spell(8_000)
        each.add(0, 0, PIECE)
        with (each.folder / "spell-0.pcm").open("ab") as file:
            file.write(PIECE[:1_000])
    ended.end()
    (tmp_path / "p" / ("0" * 32)).mkdir()
    (tmp_path / "p" / "other").mkdir()
    found = capture.there(tmp_path)
    assert [c.about.key for c in found] == [c.about.key for c in (first, late, ended)]
    assert [c.seconds for c in found] == [0.25, 0.25, 0.25 + 500 / 8_000]
    for each in found:
        each.drop()
    assert not (tmp_path / "q").exists() and (tmp_path / "p").exists(), "another folder is left in it"


def test_a_capture_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    assert refused(capture.begin, tmp_path / "file", "p", "v", NOW) == (
        f"cannot keep what is spoken in {tmp_path / 'file'}: Not a directory",
        "free some space there, and allow offbook to write to it",
    )


def test_the_errors_of_the_page_have_their_own_kinds(spoken: Capture) -> None:
    with pytest.raises(RecordingError):
        spoken.begin_spell(1)
    with pytest.raises(FieldError):
        typed_day("x")
    with pytest.raises(JournalError):
        capture.begin(spoken.folder / "about.json", "p", "v", NOW)
