"""Privacy: nobody else on the machine can read the journal, and what is deleted is gone."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from offbook.errors import JournalError
from offbook.journal import add_performer, opening, performers
from offbook.scratch import clear_left, scratch
from tests.journals import Clock, desk_at, full_desk, open_at

pytestmark = pytest.mark.skipif(os.name != "posix", reason="other systems have no such rights")


@pytest.fixture(autouse=True)
def no_umask() -> Iterator[None]:
    """A process that takes nothing away."""
    before = os.umask(0)
    yield
    os.umask(before)


def open_to_others(folder: Path) -> list[str]:
    """The files and folders in a folder, itself included, that somebody else could read or enter."""
    return [str(p.relative_to(folder)) for p in (folder, *folder.rglob("*")) if p.stat().st_mode & 0o077]


def test_only_the_owner_can_read_a_journal_its_logs_and_its_recordings(tmp_path: Path) -> None:
    desk = full_desk(tmp_path / "home", tmp_path / "take.wav")
    assert (tmp_path / "home" / "journal.sqlite3-wal").exists()
    assert open_to_others(tmp_path / "home") == []
    desk.journal.close()
    assert open_to_others(tmp_path / "home") == []


def test_only_the_owner_can_read_a_copy_made_before_an_update(tmp_path: Path) -> None:
    engine = opening.make_engine(tmp_path / "home", None)
    now = datetime(2026, 3, 1, tzinfo=UTC)
    opening.bring_up_to_date(engine, tmp_path / "home", now, "0001")
    engine.dispose()
    open_at(tmp_path / "home", Clock()).close()
    assert list((tmp_path / "home" / "copies").iterdir())
    assert open_to_others(tmp_path / "home") == []


def test_an_older_folder_that_others_can_read_is_made_private_with_one_warning(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    desk_at(tmp_path / "home").journal.close()
    for name in ("scripts", "spoken", "coming-in"):  # the page's, and the home is still offbook's alone
        (tmp_path / "home" / name).mkdir(0o700)
    os.chmod(tmp_path / "home" / "spoken", 0o750)
    os.chmod(tmp_path / "home", 0o755)
    os.chmod(tmp_path / "home" / "journal.sqlite3", 0o644)
    open_at(tmp_path / "home", Clock()).close()
    assert open_to_others(tmp_path / "home") == []
    assert [r.getMessage() for r in caplog.records] == [
        "offbook: other users could read home, journal.sqlite3, spoken in "
        f"{tmp_path / 'home'}; now only you can"
    ]
    caplog.clear()
    open_at(tmp_path / "home", Clock()).close()
    assert caplog.records == []


def test_a_folder_that_also_holds_other_files_keeps_its_permissions(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").touch(0o644)
    os.chmod(tmp_path, 0o755)
    desk_at(tmp_path).journal.close()
    assert tmp_path.stat().st_mode & 0o777 == 0o755
    assert (tmp_path / "journal.sqlite3").stat().st_mode & 0o777 == 0o600


@pytest.mark.heavy
def test_only_the_owner_can_read_files_that_the_command_writes(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("The lamp was lit before the tide came in.\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "offbook", "mark", "a.txt", "--html", "page.html"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "page.html").stat().st_mode & 0o777 == 0o600


def test_the_next_process_deletes_the_temporary_folders_of_a_killed_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    dead, alive, other = (
        tmp_path / n for n in (f"offbook-{gone.pid}-x", f"offbook-{os.getppid()}-x", "mine")
    )
    for folder in (dead, alive, other):
        folder.mkdir()
        (folder / "heard.wav").touch()
    with scratch() as made:
        assert Path(made).stat().st_mode & 0o777 == 0o700
    clear_left()
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([alive.name, other.name])


# A disk that is full, or is only read ---------------------------------------------------------------


@pytest.mark.heavy
@pytest.mark.parametrize(
    "message", ["database or disk is full", "unable to open database file", "disk I/O error"]
)
@pytest.mark.parametrize("log", ["a log", "no log"])
def test_the_journal_can_be_read_on_a_disk_that_cannot_be_written_to(
    message: str, log: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite keeps shared memory on the disk even to read; without a place for it, it is read without."""
    home = tmp_path / "home"
    desk = desk_at(home)
    if log == "a log":  # as a killed process leaves it: what was committed last is in the log alone
        with desk.journal.writing() as conn:
            add_performer(desk.journal, conn, "Nora", "UTC")
        kept = {p.name: p.read_bytes() for p in home.glob("journal.sqlite3*")}
        desk.journal.close()
        for name in ("journal.sqlite3", "journal.sqlite3-wal"):
            (home / name).write_bytes(kept[name])
    else:
        desk.journal.close()

    def full(raw: sqlite3.Connection) -> None:
        raise sqlite3.OperationalError(message)

    monkeypatch.setattr(opening, "_sqlite_pragmas", full)
    journal = open_at(home, Clock())
    with journal.reading() as conn:
        assert [p.name for p in performers(conn)] == ["Mara", "Nora"][: 2 if log == "a log" else 1]
    with pytest.raises(JournalError, match=r"cannot write|could be written to"), journal.writing() as conn:
        add_performer(journal, conn, "Ada", "UTC")
    journal.close()


def test_an_invalid_stored_value_is_reported_as_an_error(tmp_path: Path) -> None:
    """A damaged file with intact pages: bytes that are not UTF-8, and an invalid moment."""
    desk = desk_at(tmp_path)
    desk.journal.close()
    for value in (b"20\xff6", b"yesterday"):
        with closing(sqlite3.connect(tmp_path / "journal.sqlite3")) as raw:
            raw.execute("UPDATE performer SET added_at = CAST(? AS TEXT)", (value,))
            raw.commit()
        journal = open_at(tmp_path, Clock())
        with pytest.raises(JournalError) as caught, journal.reading() as conn:
            performers(conn)
        assert "journal.sqlite3" in caught.value.what
        journal.close()


@pytest.mark.parametrize("port", ["port", "99999999", "-1"])
def test_a_server_address_with_a_bad_port_is_refused(port: str, tmp_path: Path) -> None:
    with pytest.raises(JournalError):
        open_at(tmp_path, Clock(), f"postgresql+psycopg://mara@127.0.0.1:{port}/none")
