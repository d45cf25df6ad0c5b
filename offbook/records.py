"""What the journal hands out: frozen records, one for each kind of row."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from offbook.phrasing import MINUTE
from offbook.script import Script
from offbook.words import Word


@dataclass(frozen=True, slots=True)
class Performer:
    """One person who learns. minutes_a_day: what they want to work; voice_minutes: cap of full voice."""

    id: str
    name: str
    zone: str
    minutes_a_day: float
    voice_minutes: float
    added_at: datetime


@dataclass(frozen=True, slots=True)
class Piece:
    """One speech to learn. limit_seconds: the time allowed; due_day: the performer's local day."""

    id: str
    performer_id: str
    performer: str
    zone: str
    name: str
    part: str | None
    limit_seconds: float | None
    due_day: date | None
    keep_recordings: bool
    added_at: datetime


@dataclass(frozen=True, slots=True)
class Unit:
    """One thought, the piece in which a speech is learnt. first, last: word numbers, inclusive.

    key: kept from draft to draft while most of its words stay. opening: its first words, to name it.
    parent: the key of the thought it was split from, whose past it shares.
    """

    n: int
    key: int
    first: int
    last: int
    opening: str
    parent: int | None = None

    @property
    def words(self) -> int:
        """How many words it holds."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class Version:
    """One draft of a piece. slots: for each word the number it keeps while it stays in the speech."""

    id: str
    piece_id: str
    n: int
    made_at: datetime
    script: Script
    words: tuple[Word, ...]
    slots: tuple[int, ...]
    units: tuple[Unit, ...]


@dataclass(frozen=True, slots=True)
class RunRow:
    """One run-through in the journal, without its words. The counts have hand corrections in them."""

    id: str
    piece_id: str
    version_id: str
    recording_id: str | None
    at: datetime
    day: date
    zone: str
    model: str | None
    seconds: float
    speaking_seconds: float
    words: int
    said: int
    unsure: int
    changed: int
    dropped: int
    added: int
    prompts: int

    @property
    def accuracy(self) -> float:
        """Words said / words of the script; an unsure word counts as said."""
        return (self.said + self.unsure) / self.words if self.words else 0.0

    @property
    def accuracy_low(self) -> float:
        """The same with unsure words counted as missed."""
        return self.said / self.words if self.words else 0.0

    @property
    def rate_wpm(self) -> float:
        """Words of the script a minute, from the first word to the last."""
        return (self.words - self.dropped) * MINUTE / self.seconds if self.seconds else 0.0


@dataclass(frozen=True, slots=True)
class PromptGiven:
    """Words that the performer was given. first, last: script words, inclusive; at: seconds in the recording.

    asked: they called for them, rather than fell silent.
    """

    first: int
    last: int
    text: str
    at: float
    asked: bool


@dataclass(frozen=True, slots=True)
class CuePickedUp:
    """How soon a cue was picked up. text: its last words; word: the performer's first; seconds: after it."""

    text: str
    word: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Reason:
    """One step on the way to the verdict of script word `word`. by: what decided; told: why, in words."""

    word: int
    by: str
    verdict: str
    told: str


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What is known of a run-through besides what was heard.

    prompts, pick_ups: of the partner, in order. reasons: for the words that were not plainly said.
    """

    prompts: tuple[PromptGiven, ...] = ()
    pick_ups: tuple[CuePickedUp, ...] = ()
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class DayTotal:
    """The run-throughs of one local day, summed. clean: how many were good enough to count as off book."""

    day: date
    runs: int
    words: int
    said: int
    unsure: int
    prompts: int
    seconds: float
    clean: int


@dataclass(frozen=True, slots=True)
class Recall:
    """How a run-through rated one thought. predicted: the recall foretold before it, None for a new one."""

    unit: int
    rating: int
    predicted: float | None


@dataclass(frozen=True, slots=True)
class Correction:
    """A verdict the performer contested. was: as it stood before; the original stays in the run."""

    id: str
    run_id: str
    word: int
    at: datetime
    was: str
    now: str
    note: str


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording on disk. path: below the journal's recordings folder."""

    id: str
    piece_id: str
    at: datetime
    day: date
    zone: str
    path: str
    sha256: str
    bytes: int


@dataclass(frozen=True, slots=True)
class Session:
    """One sitting of drills. ended_at is None where it was interrupted."""

    id: str
    piece_id: str
    at: datetime
    day: date
    zone: str
    minutes: float
    ended_at: datetime | None


@dataclass(frozen=True, slots=True)
class Answer:
    """One drill answer. given is None for "don't know"; pick_up: seconds until the first key or sound."""

    id: str
    piece_id: str
    version_id: str
    session_id: str
    at: datetime
    day: date
    zone: str
    kind: str
    unit: int
    help: int
    first: int
    last: int
    given: str | None
    right: int
    words: int
    seconds: float
    pick_up: float | None
    spoken: bool
    rating: int
    predicted: float | None


@dataclass(frozen=True, slots=True)
class Memory:
    """What the scheduler knows of one thought. stability in days; help: the drill's present cue level."""

    piece_id: str
    unit: int
    state: int
    step: int | None
    stability: float | None
    difficulty: float | None
    due: datetime
    last_review: datetime | None
    times: int
    lapses: int
    help: int


@dataclass(frozen=True, slots=True)
class TimedReading:
    """A timed reading that calibrates a performer's pace: this text took `seconds`."""

    id: str
    performer_id: str
    at: datetime
    day: date
    zone: str
    title: str
    text: str
    seconds: float


@dataclass(frozen=True, slots=True)
class BriefRow:
    """What somebody asks for, as it was taken in. text: what its file says; sent_at: None until it is sent;
    file: the name of that file, None where it came from none."""

    id: str
    performer_id: str
    name: str
    text: str
    deadline: datetime
    added_at: datetime
    sent_at: datetime | None
    file: str | None = None


@dataclass(frozen=True, slots=True)
class TakeRow:
    """One take: a recording meant to be sent. n: its number among the takes of its piece, from 1.

    file: where the recording was when it was logged. checks: what was checked, as JSON, None until then.
    run_id: the run-through that its words were judged as.
    """

    id: str
    piece_id: str
    recording_id: str | None
    run_id: str | None
    brief_id: str | None
    at: datetime
    day: date
    zone: str
    n: int
    intention: str
    file: str
    checks: str | None
    chosen: bool


@dataclass(frozen=True, slots=True)
class MarginNote:
    """A coach's words beside a line. n: its number among the notes of its piece, from 1.

    slot: the word it is beside, by the number that the word keeps from draft to draft. quote: the line as
    it was. take: the number of the take it is about, None for none. done_at: when it was worked on.
    """

    id: str
    piece_id: str
    at: datetime
    day: date
    zone: str
    n: int
    slot: int
    quote: str
    take: int | None
    author: str
    text: str
    done_at: datetime | None


@dataclass(frozen=True, slots=True)
class Parcel:
    """What was packed for a brief. files: what it holds, as JSON. confirm_by: the performer's local day by
    which whoever receives it should have confirmed it; confirmation: what they said."""

    id: str
    brief_id: str
    at: datetime
    day: date
    zone: str
    folder: str
    files: str
    sent_at: datetime | None
    sent_to: str
    confirm_by: date | None
    confirmed_at: datetime | None
    confirmation: str


@dataclass(frozen=True, slots=True)
class VerdictLetters:
    """The verdicts of one run-through as letters (s, u, c, d), corrections counted in.

    heard: what was heard at a word, where it was not the script's word.
    """

    run_id: str
    version_id: str
    at: datetime
    letters: str
    heard: dict[int, str | None]


@dataclass(frozen=True, slots=True)
class Summary:
    """What a piece has come to. runs: the newest few, oldest first. run_days: days with a run-through;
    clean_days: those with a clean one. asked: thoughts that were ever asked. last_work: the last day with a
    drill or a run-through."""

    runs: tuple[RunRow, ...]
    run_days: int
    clean_days: int
    asked: int
    last_work: date | None


NOTHING_YET = Summary((), 0, 0, 0, None)
