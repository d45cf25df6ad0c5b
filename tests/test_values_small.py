"""The small stages, value by value: the entry, errors, moments, counts, scratch folders, the gate."""

from __future__ import annotations

import io
import os
import runpy
import tempfile
import zipfile
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from types import SimpleNamespace

import pytest

from offbook.brief import brief_in_words, parse_brief
from offbook.errors import ModelError, OffbookError, ScriptError, visible
from offbook.intake import (
    BRIEF,
    MEGABYTE,
    Kind,
    allowing,
    at_least,
    check_contents,
    most_of,
    read_bytes,
    read_text,
)
from offbook.moment import local_day, system_zone, utc_from, utc_text, zone_named
from offbook.records import RunRow
from offbook.scratch import clear_left, is_running, scratch

SMALL = Kind("note", 10, "name the note inside it")


def test_the_main_module_runs_the_command_only_if_it_is_run_as_a_program(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    called: list[str] = []
    monkeypatch.setattr("offbook.cli.main", lambda: called.append("main"))
    runpy.run_module("offbook.__main__", run_name="imported")
    assert called == []
    runpy.run_module("offbook", run_name="__main__")
    assert called == ["main"]


def test_an_error_keeps_its_two_lines_and_escapes_control_characters() -> None:
    error = OffbookError("no \x1b[1mfile", "look\nagain")
    assert (error.what, error.do) == (r"no \x1b[1mfile", r"look\nagain")
    assert str(error) == "no \\x1b[1mfile\nlook\\nagain"
    assert visible("a\u202eb é “c” 日") == r"a\u202eb é “c” 日"
    assert visible("\x00\x9f\u2028\ud800 \xa0") == "\\x00\\x9f\\u2028\\ud800 \xa0"
    assert issubclass(ModelError, OffbookError) and issubclass(ScriptError, OffbookError)


def test_a_moment_is_stored_in_utc_with_microseconds_and_read_back_unchanged() -> None:
    at = datetime(2026, 3, 2, 1, 2, 3, 4, tzinfo=timezone(timedelta(hours=2)))
    assert utc_text(at) == "2026-03-01T23:02:03.000004Z"
    assert utc_from(utc_text(at)) == at
    assert utc_from(utc_text(at)).tzinfo is UTC
    with pytest.raises(ValueError, match="aware"):
        utc_text(at.replace(tzinfo=None))
    with pytest.raises(ValueError, match="aware"):
        local_day(at.replace(tzinfo=None), "UTC")


def test_the_time_zone_of_the_machine_is_a_known_name_or_else_utc(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tzlocal.get_localzone_name", lambda: "Asia/Kolkata")
    assert system_zone() == "Asia/Kolkata"
    monkeypatch.setattr("tzlocal.get_localzone_name", lambda: "Nowhere/At_All")
    assert system_zone() == "UTC"
    assert zone_named("Asia/Kolkata").key == "Asia/Kolkata"
    assert local_day(datetime(2026, 3, 2, 18, 30, tzinfo=UTC), "Asia/Kolkata") == date(2026, 3, 3)
    assert local_day(datetime(2026, 3, 2, 18, 29, tzinfo=UTC), "Asia/Kolkata") == date(2026, 3, 2)


def run_row(words: int, said: int, unsure: int, dropped: int, seconds: float) -> RunRow:
    """A run-through with these counts."""
    at = datetime(2026, 3, 2, 18, tzinfo=UTC)
    return RunRow(
        "r", "p", "v", None, at, at.date(), "UTC", None, seconds, 50, words, said, unsure, 0, dropped, 0, 0
    )


def test_accuracy_and_rate_are_computed_from_the_counts_of_words() -> None:
    """By hand: (70 + 10) / 100, 70 / 100, and (100 - 20) words in half a minute."""
    one = run_row(100, 70, 10, 20, 30.0)
    assert (one.accuracy, one.accuracy_low, one.rate_wpm) == (0.8, 0.7, 160.0)
    nothing = run_row(0, 0, 0, 0, 0.0)
    assert (nothing.accuracy, nothing.accuracy_low, nothing.rate_wpm) == (0.0, 0.0, 0.0)
    assert run_row(1, 1, 0, 0, 60.0).accuracy == 1.0
    assert run_row(1, 1, 0, 0, 60.0).rate_wpm == 1.0


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The machine's place for scratch folders, empty."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def dead_process() -> int:
    """The number of a process that is no more."""
    child = os.fork()
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
    return child


@pytest.mark.skipif(os.name != "posix", reason="elsewhere nothing is cleared")
def test_folders_left_by_a_killed_process_are_deleted_and_nothing_else_is(
    place: Path, tmp_path: Path
) -> None:
    gone = dead_process()
    left, other = place / f"offbook-{gone}-abc", place / f"offbook-{gone}"
    alive, named = place / f"offbook-{os.getpid()}-abc", place / f"mine-{gone}-abc"
    for folder in (left, other, alive, named):
        (folder / "inside").mkdir(parents=True)
    file = place / f"offbook-{gone}-file"
    file.write_text("kept")
    target = tmp_path / "elsewhere"
    target.mkdir()
    link = place / f"offbook-{gone}-link"
    link.symlink_to(target)
    with scratch() as made:
        assert Path(made).name.startswith(f"offbook-{os.getpid()}-")
        assert Path(made).stat().st_mode & 0o777 == 0o700
        kept = {p.name for p in place.iterdir()} - {Path(made).name}
    assert kept == {other.name, alive.name, named.name, file.name, link.name, "elsewhere"}
    assert not Path(made).exists()


@pytest.mark.skipif(os.name != "posix", reason="elsewhere nobody asks")
def test_a_running_process_is_recognised_even_if_it_belongs_to_another_user(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert is_running(os.getpid())
    assert not is_running(dead_process())
    assert not is_running(2**70)

    def refused(process: int, signal: int) -> None:
        raise PermissionError

    monkeypatch.setattr("os.kill", refused)
    assert is_running(1)


def test_on_a_system_without_posix_no_leftover_folder_is_deleted(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone = dead_process()
    (place / f"offbook-{gone}-abc").mkdir()
    monkeypatch.setattr("offbook.scratch.os", SimpleNamespace(name="nt"))
    assert is_running(gone)
    clear_left()
    assert (place / f"offbook-{gone}-abc").is_dir()


def test_a_file_of_exactly_the_size_limit_is_read_and_one_byte_more_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "note.txt"
    path.write_bytes(b"0123456789")
    assert read_bytes(path, SMALL, ScriptError) == b"0123456789"
    path.write_bytes(b"0123456789a")
    with pytest.raises(ScriptError, match="may have up to"):
        read_bytes(path, SMALL, ScriptError)
    with allowing(1):
        assert (most_of(SMALL), at_least(2 * MEGABYTE), at_least(5)) == (MEGABYTE, 2 * MEGABYTE, MEGABYTE)
        assert read_bytes(path, SMALL, ScriptError) == b"0123456789a"
    assert (most_of(SMALL), most_of(BRIEF), at_least(5)) == (10, MEGABYTE, 5)


def test_a_text_is_read_with_line_feeds_and_without_its_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "note.txt"
    path.write_bytes(b"\xef\xbb\xbfa\r\nb\rc")
    assert read_text(path, SMALL, ScriptError) == "a\nb\nc"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ScriptError, match="UTF-8"):
        read_text(path, SMALL, ScriptError)


def test_a_zip_with_one_member_or_one_table_byte_too_many_is_refused() -> None:
    """PKWARE APPNOTE 6.3.10, 4.3.12: a member of a name of one letter takes 46 + 1 bytes of the table."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name in "abc":
            archive.writestr(name, "x" * 100)
    size = len(out.getvalue())
    check_contents(out, size, 3, 3 * 47)
    assert out.tell() == 0
    for most, most_bytes in ((2, 1000), (3, 3 * 47 - 1)):
        with pytest.raises(zipfile.BadZipFile, match="too many"):
            check_contents(out, size, most, most_bytes)
    with pytest.raises(zipfile.BadZipFile, match="no end"):
        check_contents(io.BytesIO(b"PK\x05\x06" + bytes(17)), 21, 3, 1000)
    check_contents(io.BytesIO(b"PK\x05\x06" + bytes(18)), 22, 0, 0)


def test_every_point_of_a_full_brief_is_shown() -> None:
    text = """name = "Players"
deadline = 2026-12-14T17:00:00
send_to = "their page"
confirm_days = 1
takes = 4
file_name = "{piece} {take}"
by_eye = ["a plain wall", "no hat"]
"""
    points = brief_in_words(parse_brief(text, UTC))
    assert ("send to", "their page") in points
    assert ("confirmed", "within 1 day of sending") in points
    assert points[-2:] == [("by eye", "a plain wall"), ("by eye", "no hat")]
    more = brief_in_words(parse_brief(text.replace("confirm_days = 1", "confirm_days = 3"), UTC))
    assert ("confirmed", "within 3 days of sending") in more
