"""The tables of the journal, the same for SQLite and PostgreSQL.

A run-through is one row: its verdicts are packed (see `packing`), and the counts that a list shows have
columns of their own. A row for each word was measured too: see `bench/journal_cost.py`. Keys are random
texts, so an archive from one machine can be imported into the journal of another without new numbers.
Everything that belongs to a performer refers to the performer's row, and is deleted with it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

from offbook.moment import utc_from, utc_text

# Days that are remembered, because the same few are in most rows: more than ten years have. Set by hand.
_DAYS_REMEMBERED = 4096
# Widths of columns in characters, from what they hold: `uuid.uuid4().hex`; an IANA name (the longest has 32);
# a name that a person gives; a path from the folder of recordings; a moment as `moment.utc_text` writes it;
# an ISO 8601 day; a hash in hexadecimal (SHA-256); the longest verdict; a drill's kind. The migrations that
# have shipped have the same numbers written out.
_KEY, _ZONE, _NAME, _PATH, _MOMENT, _DAY, _HASH, _VERDICT, _KIND = 32, 64, 200, 400, 27, 10, 64, 8, 16


@lru_cache(maxsize=_DAYS_REMEMBERED)
def _day(value: str | None) -> date | None:
    return None if value is None else date.fromisoformat(value)


def _moment(value: str | None) -> datetime | None:
    return None if value is None else utc_from(value)


class Moment(TypeDecorator[datetime]):
    """A moment with its time zone, stored as ISO 8601 text in UTC, as SQLite has no type with a zone."""

    impl = String(_MOMENT)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        return None if value is None else utc_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        return _moment(value)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], datetime | None]:
        """The plain function: over thousands of rows it is twice as fast as SQLAlchemy's wrapper."""
        return _moment


class Day(TypeDecorator[date]):
    """A calendar day, stored as ISO 8601 text."""

    impl = String(_DAY)
    cache_ok = True

    def process_bind_param(self, value: date | None, dialect: Dialect) -> str | None:
        return None if value is None else value.isoformat()

    def process_result_value(self, value: Any, dialect: Dialect) -> date | None:
        return _day(value)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], date | None]:
        """The plain function, for the same reason as `Moment` does it."""
        return _day


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _key() -> Column[str]:
    return Column("id", String(_KEY), primary_key=True)


def _owner(table: str) -> Column[str]:
    return Column(
        f"{table}_id", String(_KEY), ForeignKey(f"{table}.id", ondelete="CASCADE"), nullable=False, index=True
    )


def _when() -> list[Column[Any]]:
    return [
        Column("at", Moment, nullable=False),
        Column("day", Day, nullable=False),
        Column("zone", String(_ZONE), nullable=False),
    ]


def _settled() -> Column[str | None]:
    """The moments at which the values that a person sets were last changed; see `settling`. Revision 0006."""
    return Column("settled", Text)


performer = Table(
    "performer",
    metadata,
    _key(),
    Column("name", String(_NAME), nullable=False, unique=True),
    Column("zone", String(_ZONE), nullable=False),
    Column("minutes_a_day", Float, nullable=False),
    Column("voice_minutes", Float, nullable=False),
    Column("added_at", Moment, nullable=False),
    _settled(),
)

piece = Table(
    "piece",
    metadata,
    _key(),
    _owner("performer"),
    Column("name", String(_NAME), nullable=False),
    Column("part", String(_NAME)),
    Column("limit_seconds", Float),
    Column("due_day", Day),
    Column("keep_recordings", Boolean, nullable=False),
    Column("added_at", Moment, nullable=False),
    _settled(),
    UniqueConstraint("performer_id", "name"),
)

version = Table(
    "version",
    metadata,
    _key(),
    _owner("piece"),
    Column("n", Integer, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("script", Text, nullable=False),  # the Script as JSON
    Column("words", Text, nullable=False),  # the Words as JSON
    Column("slots", Text, nullable=False),  # for each word, the number that it keeps in all drafts
    Column("units", Text, nullable=False),  # the thoughts as JSON
    UniqueConstraint("piece_id", "n"),
)
# How many values the list in a column has. Revision 0007 has an index on it for slots and units of version:
# without that, counting them would read every script, which comes before them in the row.
LENGTH_ON_SQLITE = "CASE WHEN json_valid({0}) THEN json_array_length({0}) END"

recording = Table(
    "recording",
    metadata,
    _key(),
    _owner("piece"),
    *_when(),
    Column("path", String(_PATH), nullable=False),  # below the recordings folder
    Column("sha256", String(_HASH), nullable=False),
    Column("bytes", Integer, nullable=False),
)

run = Table(
    "run",
    metadata,
    _key(),
    Column(
        "piece_id", String(_KEY), ForeignKey("piece.id", ondelete="CASCADE"), nullable=False
    ),  # it has an index with `at`, below
    Column("version_id", String(_KEY), ForeignKey("version.id", ondelete="CASCADE"), nullable=False),
    Column("recording_id", String(_KEY), ForeignKey("recording.id", ondelete="SET NULL")),
    *_when(),
    Column("model", String(_NAME)),
    Column("seconds", Float, nullable=False),
    Column("speaking_seconds", Float, nullable=False),
    Column("words", Integer, nullable=False),
    Column("said", Integer, nullable=False),  # these four include corrections by hand
    Column("unsure", Integer, nullable=False),
    Column("changed", Integer, nullable=False),
    Column("dropped", Integer, nullable=False),
    Column("added", Integer, nullable=False),
    Column("prompts", Integer, nullable=False),
    Column("letters", Text, nullable=False),  # one letter for each word, as it was judged first
    Column("heard", Text, nullable=False),
    Column("times", LargeBinary, nullable=False),
    Column("extras", Text, nullable=False),
    Column("ratings", Text, nullable=False),  # one digit for each thought, "0" for no rating
    Column("predicted", Text, nullable=False),  # two digits for each thought: per cent, or "--"
    Column("told", Text),  # revision 0005: prompts, cues, and why a word was judged so, as JSON
    Index("ix_run_piece_id_at", "piece_id", "at"),
    # It has all columns of the sums by day; without it they would read a page of the file for each
    # run-through.
    Index("ix_run_day_totals", "piece_id", "day", "words", "said", "unsure", "prompts", "seconds"),
)

correction = Table(
    "correction",
    metadata,
    _key(),
    _owner("run"),
    Column("word", Integer, nullable=False),
    Column("at", Moment, nullable=False),
    Column("was", String(_VERDICT), nullable=False),
    Column("now", String(_VERDICT), nullable=False),
    Column("note", Text, nullable=False),
)

session = Table(
    "session",
    metadata,
    _key(),
    _owner("piece"),
    *_when(),
    Column("minutes", Float, nullable=False),
    Column("ended_at", Moment),
)

answer = Table(
    "answer",
    metadata,
    _key(),
    Column("piece_id", String(_KEY), ForeignKey("piece.id", ondelete="CASCADE"), nullable=False),
    Column("version_id", String(_KEY), ForeignKey("version.id", ondelete="CASCADE"), nullable=False),
    _owner("session"),
    *_when(),
    Column("kind", String(_KIND), nullable=False),
    Column("unit", Integer, nullable=False),
    Column("help", Integer, nullable=False),  # 0 nothing shown … 3 nearly all shown
    Column("first", Integer, nullable=False),
    Column("last", Integer, nullable=False),
    Column("given", Text),  # None for "don't know"
    Column("right", Integer, nullable=False),
    Column("words", Integer, nullable=False),
    Column("seconds", Float, nullable=False),
    Column("pick_up", Float),
    Column("spoken", Boolean, nullable=False),
    Column("rating", Integer, nullable=False),  # 0: it does not count for the memory
    Column("predicted", Float),
    Index("ix_answer_piece_id_at", "piece_id", "at"),
    Index("ix_answer_piece_id_day", "piece_id", "day"),
    Index("ix_answer_piece_id_unit", "piece_id", "unit"),
)

memory = Table(
    "memory",
    metadata,
    Column("piece_id", String(_KEY), ForeignKey("piece.id", ondelete="CASCADE"), primary_key=True),
    Column("unit", Integer, primary_key=True),
    Column("state", Integer, nullable=False),
    Column("step", Integer),
    Column("stability", Float),  # days
    Column("difficulty", Float),  # 1 to 10
    Column("due", Moment, nullable=False),
    Column("last_review", Moment),
    Column("times", Integer, nullable=False),
    Column("lapses", Integer, nullable=False),
    Column("help", Integer, nullable=False),
)

doomed = Table("doomed", metadata, Column("path", String(_PATH), primary_key=True))

# Revision 0002.
reading = Table(
    "reading",
    metadata,
    _key(),
    _owner("performer"),
    *_when(),
    Column("title", String(_NAME), nullable=False),
    Column("text", Text, nullable=False),
    Column("seconds", Float, nullable=False),
)

# Revision 0003.
brief = Table(
    "brief",
    metadata,
    _key(),
    _owner("performer"),
    Column("name", String(_NAME), nullable=False),
    Column("text", Text, nullable=False),  # the brief as it is in its file
    Column("deadline", Moment, nullable=False),
    Column("added_at", Moment, nullable=False),
    Column("sent_at", Moment),
    _settled(),
    Column("file", Text),  # revision 0007: the name of the file it came from
    UniqueConstraint("performer_id", "name"),
)

take = Table(
    "take",
    metadata,
    _key(),
    Column("piece_id", String(_KEY), ForeignKey("piece.id", ondelete="CASCADE"), nullable=False),
    Column("recording_id", String(_KEY), ForeignKey("recording.id", ondelete="SET NULL")),
    Column("run_id", String(_KEY), ForeignKey("run.id", ondelete="SET NULL")),
    Column("brief_id", String(_KEY), ForeignKey("brief.id", ondelete="SET NULL")),
    *_when(),
    Column("n", Integer, nullable=False),
    Column("intention", Text, nullable=False),
    Column("file", Text, nullable=False),  # where the recording was when the take was logged
    Column("checks", Text),  # what was checked, as JSON; None until the take is judged
    Column("chosen", Boolean, nullable=False),
    _settled(),
    UniqueConstraint("piece_id", "n"),  # its index serves the piece too
)

# Revision 0004.
margin_note = Table(
    "margin_note",
    metadata,
    _key(),
    Column("piece_id", String(_KEY), ForeignKey("piece.id", ondelete="CASCADE"), nullable=False),
    *_when(),
    Column("n", Integer, nullable=False),
    Column("slot", Integer, nullable=False),  # the word it is beside, by the number that the word keeps
    Column("quote", Text, nullable=False),  # the line as it was when the note was written
    Column("take", Integer),  # the number of the take it is about
    Column("author", String(_NAME), nullable=False),
    Column("text", Text, nullable=False),
    Column("done_at", Moment),
    _settled(),
    UniqueConstraint("piece_id", "n"),  # its index serves the piece too
)

parcel = Table(
    "parcel",
    metadata,
    _key(),
    _owner("brief"),
    *_when(),
    Column("folder", Text, nullable=False),
    Column("files", Text, nullable=False),  # what was packed, as JSON
    Column("sent_at", Moment),
    Column("sent_to", Text, nullable=False),
    Column("confirm_by", Day),
    Column("confirmed_at", Moment),
    Column("confirmation", Text, nullable=False),
    _settled(),
)


def columns_of(table: Table, record: type[Any]) -> tuple[Column[Any], ...]:
    """The columns of a table for the fields of its record, in the order of the fields."""
    return tuple(table.c[each.name] for each in fields(record))


# The order in which an archive is written and read: a row comes after the rows that it refers to.
IN_ORDER: tuple[Table, ...] = (
    performer,
    piece,
    version,
    recording,
    run,
    correction,
    session,
    answer,
    memory,
    reading,
    brief,
    take,
    margin_note,
    parcel,
)
