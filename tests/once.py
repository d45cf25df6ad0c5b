"""What takes long and comes out the same every time, worked out once in a process of tests.

Each of these runs offbook's own code the first time, and gives back what that made when it is asked again.
Tests of the measuring itself, of the migrations and of the sound do without.
"""

from __future__ import annotations

import hashlib
import sqlite3
from dataclasses import replace
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from sqlalchemy import URL, Connection, Engine, create_engine, inspect, text

from offbook.delivery import pitch
from offbook.journal import opening
from offbook.takes import RecordingFacts, facts_of
from tests.sounds import voice, write

_FACTS: dict[str, RecordingFacts] = {}
_PITCH: dict[str, pitch.PitchTrack] = {}
_SCHEMA: list[str] = []
_FIRST: list[Engine] = []
_usual_upgrade = opening._upgrade
_usual_pragmas = opening._sqlite_pragmas


def spoken_recording(path: Path, seconds: float, rate: int = 16_000) -> Path:
    """A recording that rises and falls as a voice does (`tests.sounds.voice`), written to `path`."""
    path.write_bytes(_wav(seconds, rate))
    return path


def spoken_anew(path: Path) -> Path:
    """The recording at `path` as if it had been made again: a byte more, which no reader of WAV looks at.

    The same bytes twice are one reading for the journal.
    """
    with path.open("ab") as file:
        file.write(b"\0")
    return path


@cache
def _wav(seconds: float, rate: int) -> bytes:
    with TemporaryDirectory() as made:
        return write(Path(made) / "voice.wav", voice(seconds, rate), rate).read_bytes()


def measure_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on recordings with the same sound are measured once, and so is the pitch of a sound."""
    monkeypatch.setattr("offbook.takes.facts_of", _facts)
    monkeypatch.setattr("offbook.delivery.take_review.pitch_track", _pitch)


def _facts(path: Path | str) -> RecordingFacts:
    path = Path(path)
    if not path.is_file():
        return facts_of(path)
    key = hashlib.sha256(path.read_bytes().rstrip(b"\0")).hexdigest() + path.suffix
    if key not in _FACTS:
        _FACTS[key] = facts_of(path)
    return replace(_FACTS[key], path=path)


def _pitch(samples: NDArray[np.float32], rate: int) -> pitch.PitchTrack:
    key = f"{rate} {hashlib.sha256(samples.tobytes()).hexdigest()}"
    if key not in _PITCH:
        _PITCH[key] = pitch.pitch_track(samples, rate)
    return _PITCH[key]


def keys_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on a journal's keys are the same in every run: what is sorted by them stays put."""
    numbers = count()

    def key() -> SimpleNamespace:
        return SimpleNamespace(hex=hashlib.sha256(str(next(numbers)).encode()).hexdigest()[:32])

    monkeypatch.setattr("offbook.journal.connection.uuid.uuid4", key)


def upgrade_once(conn: Connection, to: str) -> None:
    """A new SQLite journal is given the tables that the migrations made for the first one of this process."""
    new = conn.dialect.name == "sqlite" and to == opening.HEAD and not inspect(conn).get_table_names()
    if not new or not _SCHEMA:
        _usual_upgrade(conn, to)
    if not new:
        return
    if not _SCHEMA:
        rows = conn.execute(text("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL"))
        _SCHEMA.extend(str(sql) for (sql,) in rows)
        return
    for statement in _SCHEMA:
        conn.exec_driver_sql(statement)
    conn.execute(text("INSERT INTO alembic_version VALUES (:revision)"), {"revision": to})


def engine_with_known_queries(address: URL, **named: Any) -> Engine:
    """An engine that shares with the first one of this process the SQL that queries were written as."""
    made = create_engine(address, **named)
    if made.dialect.name == "sqlite":
        first = _FIRST[0] if _FIRST else made
        _FIRST[:] = [first]
        made.dialect, made._compiled_cache = first.dialect, first._compiled_cache
    return made


def pragmas_without_waiting(raw: sqlite3.Connection) -> None:
    """A journal set up as usual, but for waiting until each commit is on the disk."""
    _usual_pragmas(raw)
    raw.execute("PRAGMA synchronous=OFF")
