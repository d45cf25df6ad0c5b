"""Opening a journal: what each error of a database is told as, which folders are private, and its copies."""

from __future__ import annotations

import json
import os
import sqlite3
import zlib
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from sqlalchemy import create_engine

from offbook.errors import JournalError
from offbook.journal import opening

HOME = Path("/home/mara/offbook")
FILE = HOME / "journal.sqlite3"
SQLITE: Any = SimpleNamespace(dialect=SimpleNamespace(name="sqlite"))
SERVER: Any = SimpleNamespace(
    dialect=SimpleNamespace(name="postgresql"),
    url=SimpleNamespace(render_as_string=lambda: "postgresql://mara@school/offbook"),
)
AT = "postgresql://mara@school/offbook"
NO_ROOM = "its disk is full or does not work"
FULL = "free some space and do it again; everything saved before is safe"
WRITABLE = "make the folder writable, or set OFFBOOK_HOME to a folder that is"
PUT_BACK = f"move it away, then put back a copy from {HOME / 'copies'} or import your last export"
LOGIN = "ask somebody who is, such as a coach or the person who runs the server; nothing was changed"


@pytest.fixture
def roomy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "_is_full", lambda home: False)


@pytest.mark.usefixtures("roomy")
@pytest.mark.parametrize(
    ("engine", "message", "what", "do"),
    [
        *(
            (SQLITE, told, f"nothing could be written to {FILE}: {NO_ROOM} ({told})", FULL)
            for told in ("database or disk is full", "disk I/O error", "No space left on device")
        ),
        (SERVER, "No space left", f"nothing could be written to {AT}: {NO_ROOM} (No space left)", FULL),
        (SERVER, "permission denied for table piece", "your login is not allowed to do this on the journal's "
         "server (permission denied for table piece)", LOGIN),
        *(
            (SQLITE, told, f"cannot write {FILE} ({told})", WRITABLE)
            for told in (
                "attempt to write a readonly database", "a read-only file system", "permission denied",
                "Unable to open database file",
            )
        ),
        (SERVER, "read-only transaction", f"cannot write {AT} (read-only transaction)", WRITABLE),
        *(
            (SQLITE, told, f"{FILE} is damaged ({told})", PUT_BACK)
            for told in ("database disk image is malformed", "file is not a database", "Corrupt page")
        ),
        *(
            (SQLITE, told, f"another program has been writing to {FILE} for 20 seconds",
             "let it finish or close it, then try again")
            for told in ("database is locked", "the device is busy")
        ),
        (SERVER, "connection refused", "cannot reach the journal's server (connection refused)",
         "start it, or unset OFFBOOK_JOURNAL"),
        *(
            (engine, told, f"the database {where} reported an error ({first})",
             "run again with --debug and report what it shows")
            for engine, where, told, first in (
                (SQLITE, FILE, "connection refused", "connection refused"),
                (SQLITE, FILE, "\n  no such column\nat line 5", "no such column"),
                (SERVER, AT, " \n", "no reason given"),
            )
        ),
    ],
)  # fmt: skip
def test_each_error_of_a_database_is_told_with_what_to_do(
    engine: Any, message: str, what: str, do: str
) -> None:
    error = opening._as_journal_error(message, engine, HOME)
    assert (error.what, error.do) == (what, do)


def test_sqlite_calls_a_full_disk_read_only_and_it_is_told_as_full(monkeypatch: pytest.MonkeyPatch) -> None:
    free = 199_999

    def usage(home: Path) -> Any:
        assert home == HOME
        return SimpleNamespace(free=free)

    monkeypatch.setattr("offbook.journal.opening.shutil.disk_usage", usage)
    error = opening._as_journal_error("attempt to write a readonly database", SQLITE, HOME)
    assert error.what == f"nothing could be written to {FILE}: {NO_ROOM} (the disk is full)"
    assert opening._as_journal_error("malformed", SQLITE, HOME).what == f"{FILE} is damaged (malformed)"
    free = 200_000
    error = opening._as_journal_error("attempt to write a readonly database", SQLITE, HOME)
    assert error.what == f"cannot write {FILE} (attempt to write a readonly database)"

    def fails(home: Path) -> Any:
        raise OSError

    monkeypatch.setattr("offbook.journal.opening.shutil.disk_usage", fails)
    assert not opening._is_full(HOME)


def test_an_error_within_a_transaction_is_told_and_one_of_the_program_is_not(tmp_path: Path) -> None:
    def told(error: BaseException) -> str:
        with pytest.raises(JournalError) as caught, opening.as_journal_errors(SQLITE, HOME):
            raise error
        return caught.value.what

    malformed = sqlite3.DatabaseError("file is not a database")
    assert told(malformed) == f"{FILE} is damaged (file is not a database)"
    try:
        "\udce9".encode()
    except UnicodeEncodeError as e:
        assert told(e) == "a name or a text that was given is not in UTF-8"
    for error in (ValueError("x"), zlib.error("x"), KeyError("x")):
        with pytest.raises(type(error)), opening.as_journal_errors(SQLITE, HOME):
            raise error  # raised by a test, not by what reads stored values


def test_only_what_lacks_an_attribute_of_ours_is_a_mistake_of_the_program() -> None:
    def raised(value: Any) -> BaseException:
        try:
            return value.nothing  # type: ignore[no-any-return]
        except AttributeError as e:
            return e

    stored_values: list[Any] = ["x", b"x", 1, 1.0, [], {}, (), datetime(2026, 3, 2).date(), None]
    for stored in stored_values:
        assert not opening._is_ours(raised(stored))
    assert opening._is_ours(raised(SQLITE))
    assert not opening._is_ours(ValueError("x"))


@pytest.mark.parametrize(
    ("message", "read_only"),
    [
        *((each, True) for each in ("ReadOnly database", "a read-only disk", "unable to open database file")),
        *((each, True) for each in ("disk is full", "disk I/O error")),
        *((each, False) for each in ("database is locked", "malformed", "")),
    ],
)
def test_only_a_disk_that_cannot_be_written_makes_a_journal_read_only(message: str, read_only: bool) -> None:
    assert opening._cannot_write(message) is read_only


def test_a_journal_is_there_if_a_server_is_named_or_its_file_exists(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path))
    monkeypatch.delenv("OFFBOOK_JOURNAL", raising=False)
    assert opening.home_folder() == tmp_path and not opening.has_journal()
    (tmp_path / "journal.sqlite3").mkdir()
    assert not opening.has_journal()  # a folder is none
    (tmp_path / "journal.sqlite3").rmdir()
    (tmp_path / "journal.sqlite3").touch()
    assert opening.has_journal()
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "none"))
    monkeypatch.setenv("OFFBOOK_JOURNAL", "postgresql://somewhere")
    assert opening.has_journal()
    monkeypatch.setenv("OFFBOOK_HOME", "~/plays")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert opening.home_folder() == tmp_path / "plays"
    monkeypatch.setenv("OFFBOOK_HOME", "")
    assert opening.home_folder().name == "offbook"


def test_an_address_or_a_folder_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    for url, kind in (("nonsense", "ArgumentError"), ("nonsense://x", "NoSuchModuleError"),
                      ("postgresql+psycopg://h:port/d", "ValueError")):  # fmt: skip
        with pytest.raises(JournalError) as caught:
            opening.make_engine(tmp_path, url)
        assert caught.value.what == f"OFFBOOK_JOURNAL has an address that offbook cannot open ({kind})"
        assert caught.value.do == (
            "write it as postgresql+psycopg://USER@HOST/DATABASE and install offbook[postgresql]"
        )
    (tmp_path / "file").touch()
    with pytest.raises(JournalError) as caught:
        opening.make_engine(tmp_path / "file" / "home", None)
    assert caught.value.what.startswith(f"cannot make the folder {tmp_path / 'file' / 'home'}: ")
    assert caught.value.do == "set OFFBOOK_HOME to a folder you can write in"
    (tmp_path / "home" / "journal.sqlite3").mkdir(parents=True)
    with pytest.raises(JournalError) as caught:
        opening.make_engine(tmp_path / "home", None)
    assert caught.value.what == (
        f"there is a folder where the journal should be: {tmp_path / 'home' / 'journal.sqlite3'}"
    )
    assert caught.value.do == "move it away, or set OFFBOOK_HOME to another folder"


@pytest.mark.skipif(os.name != "posix", reason="other systems have no such rights")
@pytest.mark.parametrize(
    ("beside", "private"),
    [
        *((name, True) for name in ("models", "downloads", "page.json", "open-offbook.html")),
        *((name, True) for name in (".offbook-lock", "scripts", "spoken", "coming-in", "")),
        *((name, True) for name in ("journal.sqlite3-wal", "recordings", "copies")),
        *((name, False) for name in ("letters.txt", "my journal.sqlite3")),
    ],
)
def test_a_home_is_made_private_only_if_nothing_else_is_in_it(
    beside: str, private: bool, tmp_path: Path
) -> None:
    (tmp_path / "journal.sqlite3").touch(0o644)
    os.chmod(tmp_path / "journal.sqlite3", 0o644)
    if beside:
        (tmp_path / beside).touch()
    os.chmod(tmp_path, 0o755)
    opening._tighten(tmp_path)
    assert (tmp_path.stat().st_mode & 0o777 == 0o700) is private
    assert (tmp_path / "journal.sqlite3").stat().st_mode & 0o777 == 0o600


def test_the_copy_of_a_servers_journal_has_a_line_for_each_row_and_bytes_in_base_64(tmp_path: Path) -> None:
    engine = create_engine("sqlite://")
    target = tmp_path / "copy.jsonl"
    with engine.connect() as conn:
        conn.exec_driver_sql("CREATE TABLE lamp (n INTEGER, oil TEXT, raw BLOB)")
        conn.exec_driver_sql("INSERT INTO lamp VALUES (1, 'käfer', x'00ff'), (2, NULL, NULL)")
        conn.commit()
        opening._dump(engine, target)
    engine.dispose()
    text = target.read_text(encoding="utf-8")
    assert "käfer" in text and text.endswith("\n")
    assert [json.loads(row) for row in text.splitlines()] == [
        {"table": "lamp", "row": {"n": 1, "oil": "käfer", "raw": {"base64": "AP8="}}},
        {"table": "lamp", "row": {"n": 2, "oil": None, "raw": None}},
    ]


def test_a_journal_of_a_newer_offbook_is_refused_before_anything_is_copied(tmp_path: Path) -> None:
    for stands in ("0008", "9999", "abcd"):
        engine = create_engine("sqlite://")
        with engine.connect() as conn:
            conn.exec_driver_sql("CREATE TABLE alembic_version (version_num TEXT)")
            assert opening.revision_of(conn) is None
            conn.exec_driver_sql(f"INSERT INTO alembic_version VALUES ('{stands}')")
            conn.commit()
            assert opening.revision_of(conn) == stands
        with pytest.raises(JournalError) as caught:
            opening.bring_up_to_date(engine, tmp_path, datetime(2026, 3, 1, tzinfo=UTC))
        assert caught.value.what == (
            f"this journal was written by a newer offbook (revision {stands}, this one knows {opening.HEAD})"
        )
        assert caught.value.do == "install the newer offbook; nothing was changed"
        assert list(tmp_path.iterdir()) == []
        engine.dispose()
