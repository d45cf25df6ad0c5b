"""What the notes are made of: notes, asides, dries, places to work on, and the review that holds them all.

Nothing is computed here. `notes.line_notes` makes a review; the other modules of this package are its steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from offbook.phrasing import MINUTE
from offbook.score import Extra, Run

Kind = Literal["dropped", "changed", "added", "swapped", "repeated", "prompted", "unsure"]

# What a screen reader says before the marked words, because it cannot show the mark itself.
SAID_BEFORE: dict[Kind, str] = {
    "dropped": "not said:",
    "changed": "script:",
    "added": "added:",
    "swapped": "said in another order:",
    "repeated": "said twice:",
    "prompted": "prompted:",
    "unsure": "not sure:",
}

# What heard words can be that the script does not have at that place, if they are not words added to it.
# filler: an "um"; restart: words of the script said again; cut short: a word begun and broken off;
# correction: a wrong word that was corrected at once; title and slate: what is said before a speech begins;
# before, talk and after: talk before the speech, inside it and after it; prompt: a call for the line, or the
# line that was given; cue: another part's line, read by somebody else.
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
    """Heard words that are not the script's at that place, and not words added to it either.

    before_word: the script word they come before (the number of words where they follow the last one).
    words: the first and last script word that they repeat or prompt, None where there are none. start, end:
    seconds in the recording. asked: the performer asked for the line (kind "prompt"). given: the prompt was
    reported by whoever gave it, not found in the sound.
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
    """One line note. first, last: its script words, inclusive (for an added word: the word next to it).

    script, heard: what the script has and what was heard, empty where there is nothing. at: where to listen,
    in seconds; None where nothing was heard nearby. line: `Line.n` of the first word. detail: one sentence
    for the performer. before_word: the script word that an added word comes before; None for other kinds.
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
    """A silence in which the performer did not know how to go on.

    before_word: the script word after it. at: where it begins (s). seconds: how long it is.
    """

    before_word: int
    line: int
    at: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Pause:
    """A silence between two heard words.

    before_word: the script word after it. at: where it begins (s). seconds: how long it is.
    """

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
    """A place to work on, and what to try there.

    lines: its first and last line; first, last: its script words, inclusive. at: where to listen, in seconds;
    None where nothing was heard nearby. weight: how much its slips would disturb somebody who follows in the
    book. notes, dries: those that are here. what: the heaviest of them, in a sentence; do: what to try.
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
    """A run-through as somebody who follows in the book would report it.

    run: with its verdicts as the notes change them (a word that was corrected at once counts as said). added:
    heard words that the script does not have at that place. notes: in the order of the script. longest_pause:
    None where there is no pause. places: the places to work on, the most important one first.
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
        """How many words could not be judged."""
        return sum(w.verdict == "unsure" for w in self.run.words)
