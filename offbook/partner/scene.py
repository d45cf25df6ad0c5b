"""The scene as the partner plays it: whose turn comes after whose.

A turn is what the others say, and then what the performer says until somebody else speaks again. A speech
that nobody interrupts is one turn without cues. Where somebody else has the last word, the performer has no
words in the last turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from offbook.notes import SpokenScript, cue_words
from offbook.script import Script
from offbook.words import Word

# Set by hand: a prompter gives as much as helps somebody on.
_SHORTEST = 2  # words of a phrase at least: a shorter one is joined to the next
_LONGEST = 8  # words of a phrase at most


@dataclass(frozen=True, slots=True)
class PartnerLine:
    """Somebody else's line. n: counted from 0 over the scene; text: as printed; speaker: who says it."""

    n: int
    text: str
    speaker: str


@dataclass(frozen=True, slots=True)
class Turn:
    """The others' lines, and then the performer's words [first, end), which may be none in the last turn.

    heard_as: the words of all these lines of the others, as they are spoken, in lower case.
    """

    n: int
    lines: tuple[PartnerLine, ...]
    first: int
    end: int
    heard_as: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        """How many words the performer has."""
        return self.end - self.first


@dataclass(frozen=True)
class PlayedScene:
    """A scene for one performer: its words, its turns in order, and the words at which phrases begin."""

    words: tuple[Word, ...]
    turns: tuple[Turn, ...]
    phrases: frozenset[int]
    page: SpokenScript

    @property
    def lines(self) -> tuple[PartnerLine, ...]:
        """Everybody else's lines, in order."""
        return tuple(line for turn in self.turns for line in turn.lines)

    def turn_at(self, place: int) -> Turn:
        """The turn that has script word `place`; after the last word, the last turn that has words."""
        mine = [turn for turn in self.turns if turn.size]
        return next((turn for turn in mine if place < turn.end), mine[-1])

    def phrase_from(self, place: int, turn: Turn) -> int:
        """The end (exclusive) of the phrase that begins at, or goes on from, word `place` of `turn`."""
        most = min(turn.end, place + _LONGEST)
        ends = (k for k in range(place + _SHORTEST, most) if k in self.phrases)
        return min(next(ends, most), turn.end)

    def wording(self, first: int, end: int) -> str:
        """Words [first, end) as printed."""
        return self.page.wording(first, end - 1)


def scene_of(script: Script, words: Sequence[Word]) -> PlayedScene:
    """The scene that `script`, read for one part, makes of the performer's `words`."""
    page = SpokenScript.of(script, words)
    first_of: dict[int, int] = {}
    for word in words:
        first_of.setdefault(word.line, word.i)
    spoken, said = cue_words(script), dict[int, list[PartnerLine]]()
    of_line: dict[int, int | None] = {}
    for n, cue in enumerate(c for c in script.cues if any(ch.isalnum() for ch in c.text)):
        at = len(words) if cue.before_line is None else _first_from(first_of, cue.before_line, len(words))
        said.setdefault(at, []).append(PartnerLine(n, " ".join(cue.text.split()), cue.speaker))
        of_line[at] = cue.before_line
    starts = sorted({0, *said, len(words)} if len(words) in said else {0, *said})
    ends = [*starts[1:], len(words)]
    turns = tuple(
        Turn(n, tuple(said.get(a, ())), a, b, tuple(spoken.get(of_line[a], ())) if a in said else ())
        for n, (a, b) in enumerate(zip(starts, ends, strict=True))
    )
    phrases = frozenset(w.i for w in words if page.stop_before(w.i))
    return PlayedScene(tuple(words), turns, phrases, page)


def _first_from(first_of: dict[int, int], line: int, size: int) -> int:
    """The first word of `line`, or of the next line that has words; `size` where none has."""
    return min((word for n, word in first_of.items() if n >= line), default=size)
