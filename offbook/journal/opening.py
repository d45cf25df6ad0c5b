"""Opening the journal: where it lies, how it is locked, how it is brought up to date.

The journal is one SQLite file in the platform's data folder (`OFFBOOK_HOME` moves it), in WAL mode
with foreign keys on and every commit synchronised, so that a process killed at any moment loses
nothing that was committed. Writers take the write lock at their first word (BEGIN IMMEDIATE) and
wait for each other. `OFFBOOK_JOURNAL=postgresql+psycopg://…` puts the tables on a server instead.

An older journal is copied, then brought up to date by the numbered Alembic migrations, all in one
transaction; a newer one is refused untouched.
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
BUSY_SECONDS = 20.0  # how long a writer waits for another


def home_folder() -> Path:
    """The folder of the journal: `OFFBOOK_HOME`, or the platform's data folder. Not made here."""
    named = os.environ.get("OFFBOOK_HOME")
    return Path(named).expanduser() if named else Path(platformdirs.user_data_dir("offbook", appauthor=False))


def has_journal() -> bool:
    """Whether there is a journal to open: on a server, or in the home folder. None is made."""
    return bool(os.environ.get("OFFBOOK_JOURNAL")) or (home_folder() / "journal.sqlite3").is_file()


def make_engine(home: Path, url: str | None) -> Engine:
    """An engine on the SQLite file in `home`, or on the server at `url`."""
    if url is not None:
        try:
            return create_engine(url, pool_pre_ping=True)
        except (ArgumentError, NoSuchModuleError, ImportError, ValueError) as e:  # the last: a bad port
            raise JournalError(
                f"OFFBOOK_JOURNAL is not an address this program can open ({type(e).__name__})",
                "write it as postgresql+psycopg://USER@HOST/DATABASE and install offbook[postgresql]",
            ) from e
    file = home / "journal.sqlite3"
    try:
        make_private(home)
        if not os.path.lexists(file) and os.access(home, os.W_OK):
            with suppress(FileExistsError), private_file(file):  # SQLite makes its logs with the same rights
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
    """Make what is here readable by its owner alone, and say so once if other users could read it.

    Only offbook's own files change: a folder with other things in it stays as it is.
    """
    if os.name != "posix":
        return
    done = []
    try:
        alone = all(name.startswith(_OURS) for name in os.listdir(home))
        for path in [home] * alone + [home / name for name in _PRIVATE]:
            found = os.stat(path) if path.exists() else None
            if found is not None and found.st_mode & 0o077 and found.st_uid == os.getuid():
                os.chmod(path, found.st_mode & 0o700)
                done.append(path.name)
    except OSError:  # it is not ours to change
        return
    if done:
        _LOG.warning("offbook: other users could read %s in %s; now only you can", ", ".join(done), home)


_PRIVATE = (
    *("journal.sqlite3", "journal.sqlite3-wal", "journal.sqlite3-shm", "recordings", "copies"),
    *("scripts", "spoken", "coming-in"),
)
_LOG = logging.getLogger("offbook")


def _connection(file: Path) -> sqlite3.Connection:
    """A connection to the journal; one that can only read where the disk is full or cannot be written."""
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
    """The journal as it is, to be read alone. Raises `first` where it cannot be read either.

    Without its shared memory, which needs a place on the disk, SQLite cannot read a log that is not yet in
    the file: then a copy of both is read, in a folder of its own that is gone with the process.
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
    raw.isolation_level = None  # transactions begin where this code says, not where the driver guesses
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        _execute(raw, f"PRAGMA {pragma}")
    _execute(raw, "SELECT count(*) FROM sqlite_master")  # fails if the file cannot be read


def _execute(raw: sqlite3.Connection, sql: str) -> None:
    """Raises sqlite3.Error, also when its message is not valid text because it quotes what is damaged."""
    try:
        raw.execute(sql).fetchone()
    except UnicodeDecodeError as e:
        raise sqlite3.DatabaseError("its description of the tables is malformed") from e


def _sqlite_begin(conn: Connection) -> None:
    conn.exec_driver_sql("BEGIN IMMEDIATE" if conn.get_execution_options().get("writes") else "BEGIN")


def one_writer(conn: Connection) -> None:
    """Let only one transaction write at a time, on a server too: SQLite does so anyway.

    Otherwise two writers could read the same memory, and the second would overwrite what the first wrote.
    """
    if conn.dialect.name == "postgresql":
        conn.execute(text("SELECT pg_advisory_xact_lock(662666)"))


@contextmanager
def plain_errors(engine: Engine, home: Path) -> Iterator[None]:
    """Turn what the database driver raises into two clear lines."""
    try:
        yield
    except DBAPIError as e:
        raise _told(str(e.orig), engine, home) from e
    except sqlite3.Error as e:
        raise _told(str(e), engine, home) from e
    except UnicodeEncodeError as e:  # half a surrogate pair: a byte of a name that is no UTF-8
        raise JournalError(
            "a name or a text that was given is not in UTF-8", "give it another name, and do it again"
        ) from e
    except (*_MEANINGLESS, zlib.error) as e:
        if not _is_stored(e) or _is_ours(e):
            raise
        where = home / "journal.sqlite3" if engine.dialect.name == "sqlite" else engine.url.render_as_string()
        raise JournalError(
            f"something in {where} cannot be read ({type(e).__name__})",
            f"export what can be read, or put back a copy from {home / 'copies'}; --debug shows where it is",
        ) from e


# The errors that come up when a stored value is read back from a damaged file.
_MEANINGLESS = (ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError, ArithmeticError)
_STORED = (str, bytes, int, float, list, dict, tuple, date, NoneType)  # the types that stored values come in


def _is_stored(e: BaseException) -> bool:
    """Whether an error came up in the journal's own code, where stored values are read."""
    last = None
    for frame, _ in traceback.walk_tb(e.__traceback__):
        name = frame.f_globals.get("__name__", "")
        if name.startswith("offbook."):
            last = name
    if last is None or not last.startswith(("offbook.journal.", "offbook.moment")):
        return False
    return last != __name__ or isinstance(e, UnicodeDecodeError)  # nothing else is read back here


def _is_ours(e: BaseException) -> bool:
    """Whether an error is a slip in offbook's own code: a name that some object of the program lacks. What
    was stored comes as plain values, so where one of those lacks the name the journal is damaged."""
    return isinstance(e, AttributeError) and not isinstance(e.obj, _STORED)


def _told(message: str, engine: Engine, home: Path) -> JournalError:
    where = home / "journal.sqlite3" if engine.dialect.name == "sqlite" else engine.url.render_as_string()
    low = message.lower()
    first = message.strip().splitlines()[0] if message.strip() else "no reason given"
    if "readonly" in low and _is_full(home):
        low = first = "the disk is full"
    if "full" in low or "disk i/o" in low or "no space" in low:
        return JournalError(
            f"the disk would not take what was to be written to {where} ({first})",
            "free some space and do it again; everything saved before is safe",
        )
    if "permission denied" in low and engine.dialect.name != "sqlite":
        return JournalError(
            f"your login may not do this on the journal's server ({first})",
            "ask somebody who may do it, such as a coach or whoever runs the server; nothing was changed",
        )
    if "readonly" in low or "read-only" in low or "permission" in low or "unable to open" in low:
        return JournalError(
            f"cannot write {where} ({first})",
            "make the folder writable, or set OFFBOOK_HOME to one that is",
        )
    if "malformed" in low or "not a database" in low or "corrupt" in low:
        return JournalError(
            f"{where} is damaged ({first})",
            f"move it away, then put back a copy from {home / 'copies'} or import your last export",
        )
    if "locked" in low or "busy" in low:
        return JournalError(
            f"another program has kept {where} busy for {BUSY_SECONDS:.0f} seconds",
            "let it finish or close it, then try again",
        )
    if "connection" in low and engine.dialect.name != "sqlite":
        return JournalError(
            f"cannot reach the journal's server ({first})", "start it, or unset OFFBOOK_JOURNAL"
        )
    return JournalError(
        f"{where} would not do it ({first})", "run again with --debug and report what it shows"
    )


def _is_full(home: Path) -> bool:
    try:
        return shutil.disk_usage(home).free < _LEAST_ROOM
    except OSError:
        return False


_LEAST_ROOM = 200_000  # bytes: SQLite's shared memory and a few pages of its log


def revision_of(conn: Connection) -> str | None:
    """The migration the journal is at; None for an empty database."""
    if not inspect(conn).has_table("alembic_version"):
        return None
    found: str | None = conn.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found


def bring_up_to_date(engine: Engine, home: Path, now: datetime, to: str = HEAD) -> None:
    """Migrate the journal to revision `to`, keeping a copy first. Raises JournalError for a newer one."""
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
            conn.execute(text("SELECT pg_advisory_xact_lock(662665)"))
        if revision_of(conn) != to:  # another process may have been here first
            _upgrade(conn, to)


def _upgrade(conn: Connection, to: str) -> None:
    # Alembic takes half a second to import, and is needed once in a journal's life for each release.
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = conn
    command.upgrade(config, to)


def keep_copy(engine: Engine, home: Path, stands: str, now: datetime) -> Path:
    """Keep the journal as it is before a migration, under `copies`; complete, or not there at all."""
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
    """Every table as it is on the server, a JSON line for each row (bytes in base 64)."""
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
