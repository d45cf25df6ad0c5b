"""Opening the journal: where it is, how it is locked, and how an older one is brought up to date.

The journal is one SQLite file in the platform's data folder (or in `OFFBOOK_HOME`). It is in WAL mode, with
foreign keys on and every commit synchronised, so a process that is killed at any moment loses nothing that
was committed. A writer takes the write lock when its transaction begins (BEGIN IMMEDIATE), and others wait
for it. `OFFBOOK_JOURNAL=postgresql+psycopg://…` puts the tables on a server instead.

An older journal is copied first, then brought up to date by the numbered Alembic migrations, all of them in
one transaction. A newer journal is not opened and not changed.
"""

from __future__ import annotations

import atexit
import logging
import os
import shutil
import sqlite3
import traceback
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from types import NoneType

import platformdirs
from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from offbook.errors import JournalError
from offbook.journal.private import make_private, private_file
from offbook.scratch import scratch

HEAD = "0007"  # the newest numbered migration; a test holds it to the migrations folder
BUSY_SECONDS = 20.0  # how long a writer waits for another one; set by hand, far longer than any write takes
_GROUP_AND_OTHERS = 0o077  # POSIX: the rights of everybody but a file's owner
_OWNER = 0o700  # POSIX: the rights of its owner
# PostgreSQL's advisory locks have a number each. Chosen by hand; any two that no other program uses would do.
_MIGRATION_LOCK, _WRITE_LOCK = 662_665, 662_666


def home_folder() -> Path:
    """The folder of the journal: `OFFBOOK_HOME`, or the platform's data folder. It is not created here."""
    named = os.environ.get("OFFBOOK_HOME")
    return Path(named).expanduser() if named else Path(platformdirs.user_data_dir("offbook", appauthor=False))


def has_journal() -> bool:
    """Whether there is a journal, on a server or in the home folder. It is not created here."""
    return bool(os.environ.get("OFFBOOK_JOURNAL")) or (home_folder() / "journal.sqlite3").is_file()


def make_engine(home: Path, url: str | None) -> Engine:
    """A database engine for the SQLite file in `home`, or for the server at `url`.

    Creates the folder and an empty file that only their owner can read. Raises JournalError if it cannot.
    """
    if url is not None:
        try:
            return create_engine(url, pool_pre_ping=True)
        except (
            ArgumentError,
            NoSuchModuleError,
            ImportError,
            ValueError,
        ) as e:  # ValueError: a port that is not a number
            raise JournalError(
                f"OFFBOOK_JOURNAL has an address that offbook cannot open ({type(e).__name__})",
                "write it as postgresql+psycopg://USER@HOST/DATABASE and install offbook[postgresql]",
            ) from e
    file = home / "journal.sqlite3"
    try:
        make_private(home)
        if not os.path.lexists(file) and os.access(home, os.W_OK):
            with suppress(FileExistsError), private_file(file):  # SQLite gives its logs the same rights
                pass
    except OSError as e:
        raise JournalError(
            f"cannot make the folder {home}: {e.strerror}", "set OFFBOOK_HOME to a folder you can write in"
        ) from e
    if file.is_dir():
        raise JournalError(
            f"there is a folder where the journal should be: {file}",
            "move it away, or set OFFBOOK_HOME to another folder",
        )
    _tighten(home)
    address = URL.create("sqlite", database=str(file))  # a path may hold ? and #
    engine = create_engine(address, creator=lambda: _connection(file))
    event.listen(engine, "begin", _sqlite_begin)
    return engine


# What offbook keeps in its folder. Where there is anything else, the folder is not offbook's alone.
_OURS = (
    *("journal.sqlite3", "recordings", "copies", "models", "downloads"),
    *("scripts", "spoken", "coming-in", "page.json", "open-offbook.html", ".offbook-"),  # the page's
)


def _tighten(home: Path) -> None:
    """Let only their owner read offbook's files and, if nothing else is in it, the folder `home`.

    If other users could read something until now, a warning says so once.
    """
    if os.name != "posix":
        return
    done = []
    try:
        alone = all(name.startswith(_OURS) for name in os.listdir(home))
        for path in [home] * alone + [home / name for name in _PRIVATE]:
            found = os.stat(path) if path.exists() else None
            if found is not None and found.st_mode & _GROUP_AND_OTHERS and found.st_uid == os.getuid():
                os.chmod(path, found.st_mode & _OWNER)
                done.append(path.name)
    except OSError:  # somebody else owns it, and only they may change it
        return
    if done:
        _LOG.warning("offbook: other users could read %s in %s; now only you can", ", ".join(done), home)


_PRIVATE = (
    *("journal.sqlite3", "journal.sqlite3-wal", "journal.sqlite3-shm", "recordings", "copies"),
    *("scripts", "spoken", "coming-in"),
)
_LOG = logging.getLogger("offbook")


def _connection(file: Path) -> sqlite3.Connection:
    """A connection to the journal. If the disk is full or read-only, it can only read.

    Raises sqlite3.Error if the file cannot be read either.
    """
    try:
        raw = sqlite3.connect(file, timeout=BUSY_SECONDS, check_same_thread=False)
        try:
            _sqlite_pragmas(raw)
        except sqlite3.Error:
            raw.close()
            raise
    except sqlite3.OperationalError as e:
        if not file.is_file() or not _cannot_write(str(e)):
            raise
        return _reading_only(file, e)
    return raw


def _cannot_write(message: str) -> bool:
    low = message.lower()
    return any(sign in low for sign in ("readonly", "read-only", "unable to open", "full", "disk i/o"))


def _reading_only(file: Path, first: sqlite3.OperationalError) -> sqlite3.Connection:
    """A connection that can only read. first: the error of the usual connection, raised if this fails too.

    To read a write-ahead log SQLite needs shared memory, which is a file on the disk. If there is a log and
    that file cannot be written, the journal and its log are copied into a temporary folder and read there;
    the folder is deleted when the process ends.
    """
    log = file.with_name(file.name + "-wal")
    try:
        if log.is_file() and log.stat().st_size:
            folder = scratch()
            atexit.register(folder.cleanup)
            copy = Path(folder.name) / file.name
            shutil.copyfile(file, copy)
            shutil.copyfile(log, copy.with_name(copy.name + "-wal"))
            raw = sqlite3.connect(copy, check_same_thread=False)
        else:
            address = f"{file.absolute().as_uri()}?immutable=1"
            raw = sqlite3.connect(address, uri=True, check_same_thread=False)
        raw.isolation_level = None
        raw.execute("PRAGMA query_only=ON")
        raw.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except (sqlite3.Error, OSError):
        raise first from None
    return raw


def _sqlite_pragmas(raw: sqlite3.Connection) -> None:
    raw.isolation_level = None  # this code begins the transactions, not the driver
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        _execute(raw, f"PRAGMA {pragma}")
    _execute(raw, "SELECT count(*) FROM sqlite_master")  # fails if the file cannot be read


def _execute(raw: sqlite3.Connection, sql: str) -> None:
    """Execute `sql`.

    Raises sqlite3.Error, even if SQLite's message quotes damaged bytes and is not valid text.
    """
    try:
        raw.execute(sql).fetchone()
    except UnicodeDecodeError as e:
        raise sqlite3.DatabaseError("its description of the tables is malformed") from e


def _sqlite_begin(conn: Connection) -> None:
    conn.exec_driver_sql("BEGIN IMMEDIATE" if conn.get_execution_options().get("writes") else "BEGIN")


def take_write_lock(conn: Connection) -> None:
    """Let only one transaction write at a time on a server too, as SQLite does by itself.

    Otherwise two writers could read the same row, and the second would overwrite what the first had written.
    """
    if conn.dialect.name == "postgresql":
        conn.execute(text(f"SELECT pg_advisory_xact_lock({_WRITE_LOCK})"))


@contextmanager
def as_journal_errors(engine: Engine, home: Path) -> Iterator[None]:
    """Raise the errors of the database, and of damaged values, as JournalError: what failed, what to do."""
    try:
        yield
    except DBAPIError as e:
        raise _as_journal_error(str(e.orig), engine, home) from e
    except sqlite3.Error as e:
        raise _as_journal_error(str(e), engine, home) from e
    except UnicodeEncodeError as e:  # half a surrogate pair: the name has a byte that is not UTF-8
        raise JournalError(
            "a name or a text that was given is not in UTF-8", "give it another name, and do it again"
        ) from e
    except (*_BAD_VALUE_ERRORS, zlib.error) as e:
        if not _is_stored(e) or _is_ours(e):
            raise
        where = home / "journal.sqlite3" if engine.dialect.name == "sqlite" else engine.url.render_as_string()
        raise JournalError(
            f"something in {where} cannot be read ({type(e).__name__})",
            f"export what can be read, or put back a copy from {home / 'copies'}; --debug shows where it is",
        ) from e


# The errors that Python raises if a stored value was damaged.
_BAD_VALUE_ERRORS = (
    ValueError,
    KeyError,
    TypeError,
    IndexError,
    AttributeError,
    OverflowError,
    ArithmeticError,
)
_STORED = (str, bytes, int, float, list, dict, tuple, date, NoneType)  # the types of stored values


def _is_stored(e: BaseException) -> bool:
    """Whether an error was raised by the code that reads stored values."""
    last = None
    for frame, _ in traceback.walk_tb(e.__traceback__):
        name = frame.f_globals.get("__name__", "")
        if name.startswith("offbook."):
            last = name
    if last is None or not last.startswith(("offbook.journal.", "offbook.moment")):
        return False
    return last != __name__ or isinstance(
        e, UnicodeDecodeError
    )  # this module itself reads no other stored values


def _is_ours(e: BaseException) -> bool:
    """Whether an error is a mistake in offbook's own code: one of its objects lacks an attribute.

    Stored values have plain types. If one of those does not have the attribute, the journal is damaged.
    """
    return isinstance(e, AttributeError) and not isinstance(e.obj, _STORED)


def _as_journal_error(message: str, engine: Engine, home: Path) -> JournalError:
    where = home / "journal.sqlite3" if engine.dialect.name == "sqlite" else engine.url.render_as_string()
    low = message.lower()
    first = message.strip().splitlines()[0] if message.strip() else "no reason given"
    if "readonly" in low and _is_full(home):
        low = first = "the disk is full"
    if "full" in low or "disk i/o" in low or "no space" in low:
        return JournalError(
            f"nothing could be written to {where}: its disk is full or does not work ({first})",
            "free some space and do it again; everything saved before is safe",
        )
    if "permission denied" in low and engine.dialect.name != "sqlite":
        return JournalError(
            f"your login is not allowed to do this on the journal's server ({first})",
            "ask somebody who is, such as a coach or the person who runs the server; nothing was changed",
        )
    if "readonly" in low or "read-only" in low or "permission" in low or "unable to open" in low:
        return JournalError(
            f"cannot write {where} ({first})",
            "make the folder writable, or set OFFBOOK_HOME to a folder that is",
        )
    if "malformed" in low or "not a database" in low or "corrupt" in low:
        return JournalError(
            f"{where} is damaged ({first})",
            f"move it away, then put back a copy from {home / 'copies'} or import your last export",
        )
    if "locked" in low or "busy" in low:
        return JournalError(
            f"another program has been writing to {where} for {BUSY_SECONDS:.0f} seconds",
            "let it finish or close it, then try again",
        )
    if "connection" in low and engine.dialect.name != "sqlite":
        return JournalError(
            f"cannot reach the journal's server ({first})", "start it, or unset OFFBOOK_JOURNAL"
        )
    return JournalError(
        f"the database {where} reported an error ({first})", "run again with --debug and report what it shows"
    )


def _is_full(home: Path) -> bool:
    try:
        return shutil.disk_usage(home).free < _LEAST_ROOM
    except OSError:
        return False


# Bytes: SQLite needs 32 kB for its shared memory and room for a few pages of its log. Set by hand.
_LEAST_ROOM = 200_000


def revision_of(conn: Connection) -> str | None:
    """The number of the newest migration that the journal has had, such as "0007"; None if it is empty."""
    if not inspect(conn).has_table("alembic_version"):
        return None
    found: str | None = conn.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found


def bring_up_to_date(engine: Engine, home: Path, now: datetime, to: str = HEAD) -> None:
    """Migrate the journal to revision `to`, after a copy was made.

    now: the moment, for the name of the copy. Raises JournalError if the journal was written by a newer
    offbook, or if there is no room for the copy.
    """
    with engine.connect() as conn:
        stands = revision_of(conn)
    if stands == to:
        return
    if stands is not None and (not stands.isdecimal() or stands > HEAD):
        raise JournalError(
            f"this journal was written by a newer offbook (revision {stands}, this one knows {HEAD})",
            "install the newer offbook; nothing was changed",
        )
    if stands is not None:
        keep_copy(engine, home, stands, now)
    with engine.connect().execution_options(writes=True) as conn, conn.begin():
        if engine.dialect.name == "postgresql":
            conn.execute(text(f"SELECT pg_advisory_xact_lock({_MIGRATION_LOCK})"))
        if revision_of(conn) != to:  # another process may have done it meanwhile
            _upgrade(conn, to)


def _upgrade(conn: Connection, to: str) -> None:
    # Imported only here, because it takes half a second and is needed once for each release.
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = conn
    command.upgrade(config, to)


def keep_copy(engine: Engine, home: Path, stands: str, now: datetime) -> Path:
    """Copy the journal into the folder `copies` before a migration.

    stands: its revision, for the name of the copy. The copy is complete, or it is not there at all. Raises
    JournalError if it cannot be made.
    """
    folder = home / "copies"
    make_private(folder)
    ending = "sqlite3" if engine.dialect.name == "sqlite" else "jsonl"
    target = folder / f"journal-{stands}-{now:%Y%m%dT%H%M%SZ}.{ending}"
    part = target.with_suffix(f".{os.getpid()}.part")
    try:
        with private_file(part):
            pass
        if engine.dialect.name == "sqlite":
            source = sqlite3.connect(home / "journal.sqlite3", timeout=BUSY_SECONDS)
            with closing(source), closing(sqlite3.connect(part)) as copy:
                source.backup(copy)
        else:
            _dump(engine, part)
        with open(part, "rb") as f:
            os.fsync(f.fileno())
        part.replace(target)
    except OSError as e:
        raise JournalError(
            f"cannot keep a copy in {folder} before the journal is brought up to date: {e.strerror}",
            "free some space there; nothing was changed",
        ) from e
    finally:
        part.unlink(missing_ok=True)
    return target


def _dump(engine: Engine, path: Path) -> None:
    """Write every table of the server to `path`, a line of JSON for each row, bytes in base 64."""
    import base64
    import json

    from sqlalchemy import MetaData

    there = MetaData()
    with engine.connect() as conn, open(path, "w", encoding="utf-8") as out:
        there.reflect(conn)
        for table in there.sorted_tables:
            for row in conn.execute(table.select()).mappings():
                plain = {
                    k: {"base64": base64.b64encode(v).decode()} if isinstance(v, bytes) else v
                    for k, v in row.items()
                }
                out.write(json.dumps({"table": table.name, "row": plain}, ensure_ascii=False) + "\n")
