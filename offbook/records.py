"""What the journal gives to the rest of the program: frozen records, one class for each kind of row.

In every record `id` is the row's key, `at` is a moment in UTC, `zone` is the IANA name of the time zone that
the performer was in, and `day` is the local day there. Times and lengths are in seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from offbook.phrasing import MINUTE
from offbook.script import Script
from offbook.words import Word


@dataclass(frozen=True, slots=True)
class Performer:
    """One person who learns speeches.

    minutes_a_day: how long they want to work each day. voice_minutes: how many minutes a day they may use
    their full voice.
    """

    id: str
    name: str
    zone: str
    minutes_a_day: float
    voice_minutes: float
    added_at: datetime


@dataclass(frozen=True, slots=True)
class Piece:
    """One speech to learn.

    performer, zone: the name and the time zone of the person it belongs to. part: whose lines they are in the
    script, None if nobody is named there. limit_seconds: how long the speech may take, None without a limit.
    due_day: the performer's local day on which it must be known.
    """

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
    """One thought: a speech is learnt thought by thought.

    n: its place in the speech, from 0. key: the number that identifies it; it keeps this number in new drafts
    as long as at least half of its words stay. first, last: the numbers of its first and its last word.
    opening: its first words, by which it is called on the screen. parent: if it was split off from another
    thought, the key of that one, whose history it shares.
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
    """One draft of a piece.

    n: its number, from 1. slots: for each word, the number that it keeps in all drafts while it stays in the
    speech.
    """

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
    """One run-through in the journal, without the verdicts of its words.

    model: the speech model that heard it, None if none did. seconds: from the first word to the last;
    speaking_seconds: the same without the pauses. words: how many the script has; said, unsure, changed,
    dropped: how many of them were judged so, corrections by hand included. added: words that were spoken and
    are not in the script. prompts: how many were given.
    """

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
        """The share of the script's words that were said, 0 to 1; an unsure word counts as said."""
        return (self.said + self.unsure) / self.words if self.words else 0.0

    @property
    def accuracy_low(self) -> float:
        """The share of the script's words that were said, 0 to 1; an unsure word counts as missed."""
        return self.said / self.words if self.words else 0.0

    @property
    def rate_wpm(self) -> float:
        """The words of the script that were spoken in a minute, pauses included."""
        return (self.words - self.dropped) * MINUTE / self.seconds if self.seconds else 0.0


@dataclass(frozen=True, slots=True)
class PromptGiven:
    """A prompt: words that the performer was given.

    first, last: the numbers of the first and the last of these script words. at: seconds from the start of
    the recording. asked: true if the performer called for the prompt, false if they fell silent.
    """

    first: int
    last: int
    text: str
    at: float
    asked: bool


@dataclass(frozen=True, slots=True)
class CuePickedUp:
    """How soon the performer answered a cue.

    text: the last words of the cue. word: the number of the first script word of the answer. seconds: from
    the end of the cue to that word.
    """

    text: str
    word: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Reason:
    """One step that led to the verdict of a word.

    word: the number of the script word. by: which part of the program decided. verdict: what it decided.
    told: why, in words.
    """

    word: int
    by: str
    verdict: str
    told: str


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What is known about a run-through besides the words that were heard.

    prompts, pick_ups: the prompts that the partner gave and the cues that were answered, in order. reasons:
    why each word that was not clearly said was judged as it was.
    """

    prompts: tuple[PromptGiven, ...] = ()
    pick_ups: tuple[CuePickedUp, ...] = ()
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class DayTotal:
    """The run-throughs of one local day, added up.

    words, said, unsure, prompts: sums over the day. seconds: the mean length of a run-through. clean: how
    many run-throughs were good enough to count as off book.
    """

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
    """How well one thought was recalled in a run-through.

    unit: the key of the thought. rating: FSRS's, 0 if nothing was shown. predicted: the chance of recall that
    was predicted before the run-through, 0 to 1; None for a thought that had never been asked.
    """

    unit: int
    rating: int
    predicted: float | None


@dataclass(frozen=True, slots=True)
class Correction:
    """A verdict that was corrected by hand.

    word: the number of the script word. was, now: the verdict before and after the correction. The verdict
    that was given first stays in the run-through.
    """

    id: str
    run_id: str
    word: int
    at: datetime
    was: str
    now: str
    note: str


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording on disk. path: from the journal's folder of recordings. bytes: the size of the file."""

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
    """One sitting of drills. minutes: how long it was meant to take. ended_at: None if it was interrupted."""

    id: str
    piece_id: str
    at: datetime
    day: date
    zone: str
    minutes: float
    ended_at: datetime | None


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer in a drill.

    kind: of the drill. unit: the key of the thought that was asked. help: how much of the text was shown, 0
    (nothing) to 3 (nearly all). first, last: the numbers of the words that were asked for. given: what was
    answered, None for "don't know". right: how many of the `words` were right. seconds: how long the answer
    took; pick_up: seconds until the first key or sound. rating: FSRS's, 0 if it does not count. predicted:
    the chance of recall that was predicted before, 0 to 1.
    """

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
    """What the scheduler knows about one thought of a piece.

    unit: the key of the thought. state, step, difficulty (1 to 10): as FSRS has them. stability: in days.
    due: when it should be asked next. times: how often it was asked; lapses: how often it failed. help: how
    much of its text the next drill shows, 0 (nothing) to 3 (nearly all).
    """

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
    """A reading that was timed, from which the performer's pace is worked out: `text` took `seconds`."""

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
    """A brief: what somebody asks the performer to send.

    text: the brief as its file has it. deadline: the moment in UTC, worked out from that text. sent_at: None
    until it is sent. file: the name of the file, None if the brief came from no file.
    """

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
    """One take: a recording that is meant to be sent.

    n: its number among the takes of its piece, from 1. recording_id: None if the recording is not kept.
    run_id: the run-through with the verdicts of its words. intention: what the performer wanted to try.
    file: where the recording was when the take was logged. checks: the results of the checks as JSON, None
    until they are made. chosen: whether it is the take that will be sent.
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
    """A note that a coach wrote beside a line.

    n: its number among the notes of its piece, from 1. slot: the word it is beside, by the number that the
    word keeps in all drafts. quote: the line as it was when the note was written. take: the number of the
    take that the note is about, None if it is about none. done_at: when it was worked on, None until then.
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
    """The files that were packed for a brief.

    folder: where they are. files: what was packed, as JSON. sent_at: None until it is sent; sent_to: where it
    went. confirm_by: the performer's local day by which the person who receives it should have confirmed it.
    confirmation: what they answered.
    """

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
    """The verdicts of one run-through, a letter for each word, corrections by hand included.

    letters: s said, u unsure, c changed, d dropped. heard: what was heard, by the number of the word, for
    each word at which it was not the script's; None if nothing was heard.
    """

    run_id: str
    version_id: str
    at: datetime
    letters: str
    heard: dict[int, str | None]


@dataclass(frozen=True, slots=True)
class Summary:
    """What has been done for a piece so far.

    runs: the newest run-throughs, oldest first. run_days: how many days had a run-through; clean_days: how
    many had a clean one. asked: how many thoughts were ever asked. last_work: the last day with a drill or a
    run-through, None if there was none.
    """

    runs: tuple[RunRow, ...]
    run_days: int
    clean_days: int
    asked: int
    last_work: date | None


NOTHING_YET = Summary((), 0, 0, 0, None)
