"""The journal: everything that a performer has done. Nothing that was committed is ever lost.

`open_journal` gives a `Journal`. `with journal.writing() as conn:` is one transaction, and inside it the
functions of this package add and change rows: `people` (performers, pieces, drafts), `run_throughs`
(recordings, run-throughs, corrections), `practice` (sittings of drills, answers, the scheduler's memory,
timed readings), `sending` (briefs, takes) and `archive` (export, import). They return frozen records
(`offbook.records`). The clock and the function that makes random keys are given when the journal is opened.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, Engine

from offbook.errors import JournalError
from offbook.journal.files import delete_marked_files
from offbook.journal.opening import (
    as_journal_errors,
    bring_up_to_date,
    home_folder,
    make_engine,
    take_write_lock,
)

__all__ = ["Connection", "Journal", "open_journal"]


class Journal:
    """An open journal.

    engine: of the database. home: the folder of the journal. clock: gives the present moment, with its time
    zone. key: makes a new key for a row.
    """

    def __init__(
        self, engine: Engine, home: Path, clock: Callable[[], datetime], key: Callable[[], str]
    ) -> None:
        self.engine = engine
        self.home = home
        self.clock = clock
        self.key = key

    @property
    def recordings(self) -> Path:
        """The folder of the recordings that are kept."""
        return self.home / "recordings"

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction for reading.

        It sees the journal as it is at its start, whatever others write meanwhile.
        """
        with as_journal_errors(self.engine, self.home), self.engine.connect() as conn, conn.begin():
            yield conn

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction for writing, which holds the write lock.

        At its end everything is committed; if there is an error, nothing is. Raises JournalError.
        """
        with (
            as_journal_errors(self.engine, self.home),
            self.engine.connect().execution_options(writes=True) as conn,
            conn.begin(),
        ):
            take_write_lock(conn)
            yield conn

    def close(self) -> None:
        """Close the connections to the file or the server."""
        self.engine.dispose()


def random_key() -> str:
    """A random key (UUID version 4, 32 hexadecimal digits), which no other journal has."""
    return uuid.uuid4().hex


def open_journal(
    clock: Callable[[], datetime],
    *,
    home: Path | None = None,
    url: str | None = None,
    key: Callable[[], str] = random_key,
) -> Journal:
    """Open the journal. It is created if there is none, and migrated if it is older than this program.

    home: its folder; by default `OFFBOOK_HOME`, or the platform's data folder. url: the address of a
    database as SQLAlchemy writes it; by default `OFFBOOK_JOURNAL`, or the SQLite file in `home`. Raises
    JournalError if it cannot be opened, is damaged, or was written by a newer offbook.
    """
    folder = home_folder() if home is None else home
    engine = make_engine(folder, url or os.environ.get("OFFBOOK_JOURNAL") or None)
    with as_journal_errors(engine, folder):
        bring_up_to_date(engine, folder, clock())
    journal = Journal(engine, folder, clock, key)
    with suppress(JournalError, OSError):  # if the disk is full or read-only, the next opening tries again
        delete_marked_files(journal)
    return journal
