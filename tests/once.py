"""Things that take long and are always the same are worked out once in a process of tests.

Each of these runs offbook's own code the first time, and returns the same result when it is asked again.
Tests of measuring itself, of the migrations and of the sound do not use them.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import pytest
from numpy.typing import NDArray
from sqlalchemy import URL, Connection, Engine, create_engine, text

from offbook import models, recognise
from offbook.delivery import pitch
from offbook.desk import model_loading
from offbook.journal import opening
from offbook.takes import RecordingFacts, facts_of
from offbook.thoughts import parse
from tests.sounds import voice, write

if TYPE_CHECKING:
    from spacy.language import Language
    from spacy.tokens import Doc

_K = TypeVar("_K")
_V = TypeVar("_V")

_FACTS: dict[str, RecordingFacts] = {}
_PITCH: dict[str, pitch.PitchTrack] = {}
_FIRST_EARS: dict[tuple[Path, type], recognise.VoskRecogniser] = {}
_SECOND_EARS: dict[tuple[Path | None, type], recognise.WordingScorer | None] = {}
_SCHEMA: list[str] = []
_FIRST: list[Engine] = []
_usual_pipeline = parse.pipeline
_usual_first = model_loading.Loading._read_first
_usual_second = model_loading.Loading._read_second
_usual_upgrade = opening._upgrade
_usual_pragmas = opening._sqlite_pragmas


def spoken_recording(path: Path, seconds: float, rate: int = 16_000) -> Path:
    """A recording that grows and fades like a voice (`tests.sounds.voice`), written to `path`."""
    path.write_bytes(_wav(seconds, rate))
    return path


def spoken_anew(path: Path) -> Path:
    """The recording at `path` as if it had been made again: with one more byte, which no reader of WAV
    looks at.

    The same bytes twice would be one reading for the journal.
    """
    with path.open("ab") as file:
        file.write(b"\0")
    return path


@cache
def _wav(seconds: float, rate: int) -> bytes:
    with TemporaryDirectory() as made:
        return write(Path(made) / "voice.wav", voice(seconds, rate), rate).read_bytes()


def measure_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on recordings with the same sound are measured once."""
    monkeypatch.setattr("offbook.takes.facts_of", _facts)


def _facts(path: Path | str) -> RecordingFacts:
    path = Path(path)
    if not path.is_file():
        return facts_of(path)
    key = hashlib.sha256(path.read_bytes().rstrip(b"\0")).hexdigest() + path.suffix
    return replace(_kept(_FACTS, key, lambda: facts_of(path)), path=path)


def _kept(known: dict[_K, _V], key: _K, make: Callable[[], _V]) -> _V:
    """What is kept under a key, made when it is first asked for."""
    if key not in known:
        known[key] = make()
    return known[key]


def pitch_once(samples: NDArray[np.float32], rate: int) -> pitch.PitchTrack:
    """The pitch of a sound, as `offbook.delivery` measures it."""
    key = f"{rate} {hashlib.sha256(samples.tobytes()).hexdigest()}"
    return _kept(_PITCH, key, lambda: pitch.pitch_track(samples, rate))


def first_ear_once(loading: model_loading.Loading) -> recognise.VoskRecogniser:
    """The first ear's model, read once for each folder: many commands begin to load it, few need it."""
    key = (models.model_folder(loading._name), recognise.VoskRecogniser)
    return _kept(_FIRST_EARS, key, lambda: _usual_first(loading))


def second_ear_once(loading: model_loading.Loading) -> recognise.WordingScorer | None:
    """The second ear's model, in the same way."""
    key = (models.second_folder(loading._name), recognise.OnnxScorer)
    return _kept(_SECOND_EARS, key, lambda: _usual_second(loading))


class ParsesOnce:
    """spaCy's pipeline, which parses what it is given once: the same words, blanks and starts of sentences
    have the same parse. What offbook makes of the parse is made each time."""

    def __init__(self, nlp: Language) -> None:
        self.vocab, self.tokenizer, self._nlp = nlp.vocab, nlp.tokenizer, nlp
        self._parsed: dict[tuple[object, ...], Doc] = {}

    def pipe(self, docs: Iterable[tuple[Doc, list[int]]], as_tuples: bool) -> Iterator[tuple[Doc, list[int]]]:
        """Like spaCy's own `pipe`, for pairs."""
        asked = [(tuple((t.text, t.whitespace_, t.is_sent_start) for t in doc), doc, of) for doc, of in docs]
        new = {key: doc for key, doc, _ in asked if key not in self._parsed}
        self._parsed.update(zip(new, self._nlp.pipe(new.values()), strict=True))
        return ((self._parsed[key], of) for key, _, of in asked)


@cache
def pipeline_once() -> ParsesOnce:
    """offbook's pipeline, loaded when it is first needed."""
    return ParsesOnce(_usual_pipeline())


def keys_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on a journal's keys are the same in every run, and so is the order of its rows."""
    numbers = count()

    def key() -> SimpleNamespace:
        return SimpleNamespace(hex=hashlib.sha256(str(next(numbers)).encode()).hexdigest()[:32])

    monkeypatch.setattr("offbook.journal.connection.uuid.uuid4", key)


def upgrade_once(conn: Connection, to: str) -> None:
    """A new SQLite journal gets the tables that the migrations made for the first one of this process."""
    new = conn.dialect.name == "sqlite" and to == opening.HEAD and not _has_tables(conn)
    if not new or not _SCHEMA:
        _usual_upgrade(conn, to)
    if not new:
        return
    if not _SCHEMA:
        rows = conn.execute(text("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL"))
        _SCHEMA.extend(str(sql) for (sql,) in rows)
        return
    raw = conn.connection.cursor()  # the driver's own: forty statements are not worth SQLAlchemy's care
    for statement in _SCHEMA:
        raw.execute(statement)
    raw.execute("INSERT INTO alembic_version VALUES (?)", (to,))
    raw.close()


def _has_tables(conn: Connection) -> bool:
    return bool(conn.scalar(text("SELECT count(*) FROM sqlite_master")))


def engine_with_known_queries(address: URL, **named: Any) -> Engine:
    """An engine that shares with the first one of this process the SQL that queries were written as."""
    made = create_engine(address, **named)
    if made.dialect.name == "sqlite":
        first = _FIRST[0] if _FIRST else made
        _FIRST[:] = [first]
        made.dialect, made._compiled_cache = first.dialect, first._compiled_cache
    return made


def pragmas_without_waiting(raw: sqlite3.Connection) -> None:
    """A journal that is set up as usual but does not wait until each commit is on the disk."""
    _usual_pragmas(raw)
    raw.execute("PRAGMA synchronous=OFF")
