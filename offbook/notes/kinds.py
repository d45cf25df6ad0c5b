"""What the notes are made of: a note, an aside, a dry, a place to work on, and the review holding them.

Nothing is worked out here. `notes.quoting` says where things are in the script, `notes.asides` sorts
what was heard beside the script, `notes.swaps` finds what came in the other order, `notes.slips`
words the notes, `notes.to_work_on` chooses what to work on, and `notes.review` leads through them all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from offbook.phrasing import MINUTE
from offbook.score import Extra, Run

Kind = Literal["dropped", "changed", "added", "swapped", "repeated", "prompted", "unsure"]

# What a screen reader says before the marked words; the eye sees the mark itself.
SAID_BEFORE: dict[Kind, str] = {
    "dropped": "not said:",
    "changed": "script:",
    "added": "put in:",
    "swapped": "said in another order:",
    "repeated": "said twice:",
    "prompted": "prompted:",
    "unsure": "not sure:",
}

# What a stretch of heard words can be that is nowhere in the script at that place and still is no
# added word. before, after: talk outside the speech; talk: inside it; correction: a wrong word corrected;
# cue: another part's line, read by somebody else.
AsideKind = Literal[
    "filler",
    "restart",
    "cut short",
    "correction",
    "title",
    "slate",
    "before",
    "after",
    "talk",
    "prompt",
    "cue",
]


@dataclass(frozen=True, slots=True)
class Aside:
    """Heard words that are neither the script's at that place nor added to it.

    before_word: the script word they come before (the number of words for what follows the last).
    words: first and last script word that they repeat or prompt, None where they repeat none.
    start, end: seconds in the recording. asked: the performer asked for the line (kind "prompt"). given: the
    prompt was not found by ear, whoever gave it reported it.
    """

    kind: AsideKind
    before_word: int
    heard: str
    start: float
    end: float
    words: tuple[int, int] | None = None
    asked: bool = False
    given: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """One line note. first, last: script words, inclusive (for an added word: the word it is by).

    script, heard: the wording of both sides, empty where there is none. at: seconds in the recording,
    where to listen; None where nothing near was heard. line: `Line.n` of the first word. detail: one
    sentence for the performer. before_word: the script word an added word comes before, else None.
    """

    kind: Kind
    first: int
    last: int
    script: str
    heard: str
    at: float | None
    line: int
    detail: str
    before_word: int | None = None


@dataclass(frozen=True, slots=True)
class Dry:
    """A silence in which the performer had lost the words.

    before_word: the script word after it; at: its start; seconds: its length.
    """

    before_word: int
    line: int
    at: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Pause:
    """A silence between two heard words. before_word: the script word that follows it. Seconds."""

    before_word: int
    line: int
    at: float
    seconds: float


@dataclass(frozen=True, slots=True)
class DroppedLine:
    """A line of which no word was said. first, last: its words, inclusive."""

    line: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class PlaceToWorkOn:
    """A place to work on. lines: first and last line; notes and dries found there; do: what to try.

    weight: how much it would trouble somebody listening with the book; at: seconds, where to listen.
    """

    lines: tuple[int, int]
    first: int
    last: int
    at: float | None
    weight: float
    notes: tuple[Note, ...]
    dries: tuple[Dry, ...]
    what: str
    do: str


@dataclass(frozen=True, slots=True)
class Review:
    """A run-through as somebody on book would report it.

    run: the run with its verdicts as the notes leave them (a word corrected at once counts as
    said). added: the words that are nowhere in the script at that place. Notes are in the order of
    the script.
    """

    run: Run
    added: tuple[Extra, ...]
    asides: tuple[Aside, ...]
    notes: tuple[Note, ...]
    dropped_lines: tuple[DroppedLine, ...]
    dries: tuple[Dry, ...]
    longest_pause: Pause | None
    places: tuple[PlaceToWorkOn, ...]

    @property
    def rate_wpm(self) -> float:
        """Words of the script per minute of the speech, with its pauses; 0 if nothing was heard."""
        heard = sum(w.start is not None for w in self.run.words)
        return MINUTE * heard / self.run.seconds if self.run.seconds > 0 else 0.0

    @property
    def unsure(self) -> int:
        """How many words could not be judged either way."""
        return sum(w.verdict == "unsure" for w in self.run.words)
