"""Where a journal is, what is deleted with a file, and how long a plan expects a run-through to take."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook.desk.agendas import LEAST_RATE, PLAIN_RATE, _clean_days, _rate, _seconds
from offbook.errors import JournalError
from offbook.journal import open_journal
from offbook.journal.files import _unlink
from offbook.plan.days import CLEAN_DAYS
from tests.journals import Clock, open_at


def test_the_journals_place_is_the_given_one_else_the_environments_else_the_home_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere, at_home = tmp_path / "elsewhere.sqlite3", tmp_path / "home"
    monkeypatch.setenv("OFFBOOK_JOURNAL", "nonsense://nowhere")
    with pytest.raises(JournalError):
        open_journal(Clock(), home=at_home)
    given = open_journal(Clock(), home=at_home, url=f"sqlite:///{elsewhere}")
    assert given.engine.url.database == str(elsewhere)
    given.close()
    monkeypatch.setenv("OFFBOOK_JOURNAL", "")
    usual = open_journal(Clock(), home=at_home)
    assert usual.engine.url.database == str(at_home / "journal.sqlite3")
    usual.close()


def test_deleting_the_last_recording_of_a_piece_deletes_its_folder_but_not_the_one_above(
    tmp_path: Path,
) -> None:
    journal = open_at(tmp_path, Clock())
    folder = journal.recordings / "piece"
    folder.mkdir(parents=True)
    one, two, loose = folder / "one.wav", folder / "two.wav", journal.recordings / "loose.wav"
    for file in (one, two, loose):
        file.write_bytes(b"sound")
    assert _unlink(journal, one) and folder.is_dir() and two.is_file()
    assert _unlink(journal, two) and not folder.exists()
    assert _unlink(journal, two)  # it is gone already
    assert _unlink(journal, loose) and journal.recordings.is_dir()
    folder.mkdir()
    assert not _unlink(journal, folder)  # no file
    journal.close()


def stand(*runs: tuple[float, float], clean_days: int = 0) -> Any:
    """How a piece stands after run-throughs of so many words a minute and so many seconds."""
    made = tuple(SimpleNamespace(rate_wpm=rate, seconds=seconds) for rate, seconds in runs)
    return SimpleNamespace(runs=made, clean_days=clean_days)


def test_run_throughs_below_the_least_rate_do_not_count_for_a_performers_own_rate() -> None:
    assert _rate([stand((LEAST_RATE, 1.0)), stand((LEAST_RATE + 60, 1.0))]) == LEAST_RATE + 30
    assert _rate([stand((LEAST_RATE - 1, 1.0)), stand((LEAST_RATE + 60, 1.0))]) == LEAST_RATE + 60
    assert _rate([stand((LEAST_RATE - 1, 1.0))]) == _rate([]) == PLAIN_RATE


def test_the_length_of_a_run_through_is_foreseen_from_earlier_ones_or_from_its_words() -> None:
    items: Any = [SimpleNamespace(unit=SimpleNamespace(words=n)) for n in (100, 50)]
    assert _seconds(stand((120.0, 60.0), (120.0, 90.0), (120.0, 0.0)), items, 100.0) == 75.0
    assert _seconds(stand((120.0, 0.0)), items, 100.0) == _seconds(stand(), items, 100.0) == 90.0


def test_after_an_unclean_run_through_a_piece_needs_one_more_clean_day(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for clean, given, counted in (
        (True, CLEAN_DAYS + 1, CLEAN_DAYS + 1),
        (False, CLEAN_DAYS + 1, CLEAN_DAYS - 1),
        (False, 0, 0),
    ):
        monkeypatch.setattr("offbook.desk.agendas.is_clean", lambda run, clean=clean: clean)
        assert _clean_days(stand((120.0, 60.0), clean_days=given)) == counted
    assert _clean_days(stand(clean_days=3)) == 3
