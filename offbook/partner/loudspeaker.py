"""Whose words were heard: the performer's, or the partner's own from a loudspeaker.

They are told apart by what was played, and when. While a line is played, and for as long afterwards as the
recogniser is late, its words belong to the partner. Other words heard in that time are taken for the same
line, badly heard, unless the performer has come in early with the first words of their own line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

# Set by hand; bench/following.py plays lines through a loudspeaker into the readings.
_ECHO = 0.35  # s after the end of a played line: every word heard until then still belongs to it
_LATE = 1.0  # s after it in which its last words may still be reported
_AHEAD = 6  # how many words further on in a played line the next word heard may be
EARLY = 2  # so many of the performer's first words in a row show that they have come in early


@dataclass(slots=True)
class Played:
    """Something the partner said aloud.

    kind: "cue" or "prompt"; words: as spoken, lower case; start, end: seconds of the performer's sound, `end`
    None while it is being said; early: when it was noticed that the performer had come in before its end (s).
    """

    id: int
    kind: str
    words: tuple[str, ...]
    start: float
    end: float | None = None
    early: float | None = None


@dataclass(slots=True)
class OwnWords:
    """Picks the performer's words out of the utterance in progress."""

    played: list[Played] = field(default_factory=list)
    _words: list[tuple[str, float]] = field(default_factory=list)

    def pick(
        self, words: Sequence[str], at: float, ended: bool, opening: Sequence[str] = ()
    ) -> tuple[tuple[int, str], ...]:
        """The performer's words among `words`, each with its place in `words`.

        words: the whole utterance as it was heard at `at` (s); ended: it is over; opening: the first words of
        the performer's next line, as spoken.
        """
        same = 0
        for (a, _), b in zip(self._words, words, strict=False):
            if a != b:
                break
            same += 1
        self._words = [*self._words[:same], *((w, at) for w in words[same:])]
        own = self._picked(opening)
        if ended:
            self._words = []
        return own

    def _picked(self, opening: Sequence[str]) -> tuple[tuple[int, str], ...]:
        own: list[tuple[int, str]] = []
        reached: dict[int, int] = {}
        k = 0
        while k < len(self._words):
            word, at = self._words[k]
            line = self._line_at(at)
            if line is None:
                own.append((k, word))
                k += 1
                continue
            heard = [w for w, _ in self._words[k:]]
            if not self._of_line(line, heard[:EARLY], reached, EARLY) and _opens(heard, opening):
                line.early = at if line.early is None else line.early
                own += enumerate(heard, k)
                break
            # A prompt is short and is in the performer's own words, so any other words are the performer's.
            during = line.kind == "cue" and (line.end is None or at <= line.end + _ECHO)
            if not self._of_line(line, [word], reached, 1) and not during:
                own.append((k, word))
            k += 1
        return tuple(own)

    def _line_at(self, at: float) -> Played | None:
        """What was being played when a word heard at `at` (s) was said; the latest, if there were several."""
        for line in reversed(self.played):
            if line.start < at and (line.end is None or at <= line.end + _LATE):
                return line
        return None

    def _of_line(self, line: Played, heard: Sequence[str], reached: dict[int, int], take: int) -> bool:
        """Whether all of `heard` come next in `line`.

        reached: how many words of each line, by its id, were heard already. It moves on only where one word
        is asked about (`take` is 1): more are only a look ahead.
        """
        at = reached.get(line.id, 0)
        for word in heard:
            ahead = line.words[at : at + _AHEAD]
            if word not in ahead:
                return False
            at += ahead.index(word) + 1
        if take == 1:
            reached[line.id] = at
        return True


def _opens(heard: Sequence[str], opening: Sequence[str]) -> bool:
    """Whether `heard` begins with two words that follow one another among the first words of a line."""
    pair = tuple(heard[:EARLY])
    return len(pair) == EARLY and any(
        tuple(opening[i : i + EARLY]) == pair for i in range(max(0, len(opening) - EARLY + 1))
    )
