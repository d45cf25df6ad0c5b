"""The journal: everything a performer has done, kept so that nothing committed is ever lost.

`open_journal` gives a `Journal`; `with journal.writing() as conn:` is one transaction, in which the
functions of this package add and change rows: `people` (performers, pieces, drafts), `runs`
(recordings, run-throughs, corrections), `practice` (drill sessions, answers, the scheduler's memory,
timed readings), `sending` (briefs, takes) and `archive` (export, import). What comes out is a frozen
record (`records`). The clock and the random keys are passed in when the journal is opened.
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
from offbook.journal.files import delete_doomed
from offbook.journal.opening import bring_up_to_date, home_folder, make_engine, one_writer, plain_errors

__all__ = ["Connection", "Journal", "open_journal"]


class Journal:
    """An open journal. home: its folder; clock: gives the present moment (aware); key: a fresh key."""

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
        """One consistent view, which no writer disturbs."""
        with plain_errors(self.engine, self.home), self.engine.connect() as conn, conn.begin():
            yield conn

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction that holds the write lock: all of it is committed at its end, or none."""
        with (
            plain_errors(self.engine, self.home),
            self.engine.connect().execution_options(writes=True) as conn,
            conn.begin(),
        ):
            one_writer(conn)
            yield conn

    def close(self) -> None:
        """Let go of the file or the server."""
        self.engine.dispose()


def random_key() -> str:
    """A key that no other journal has."""
    return uuid.uuid4().hex


def open_journal(
    clock: Callable[[], datetime],
    *,
    home: Path | None = None,
    url: str | None = None,
    key: Callable[[], str] = random_key,
) -> Journal:
    """Open the journal, making or migrating it where needed.

    home: its folder, `OFFBOOK_HOME` or the platform's data folder by default. url: a SQLAlchemy
    address, `OFFBOOK_JOURNAL` by default, else the SQLite file in `home`. Raises JournalError.
    """
    folder = home_folder() if home is None else home
    engine = make_engine(folder, url or os.environ.get("OFFBOOK_JOURNAL") or None)
    with plain_errors(engine, folder):
        bring_up_to_date(engine, folder, clock())
    journal = Journal(engine, folder, clock, key)
    with suppress(JournalError, OSError):  # on a full disk, or one that is only read, there is another time
        delete_doomed(journal)
    return journal
