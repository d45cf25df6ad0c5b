"""Whose words were heard: the performer's, or the partner's own from a loudspeaker.

Told apart by what was played and when. While a line is played, and for as long after it as the recogniser is
late, what was heard of it is the partner's; anything heard meanwhile that is no part of it is taken for the
same line, badly heard, unless the performer has come in early with the first words of their own line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

_ECHO = 0.35  # s after the end of what was played in which any word heard is still it
_LATE = 1.0  # s after it in which its last words may still be reported
_AHEAD = 6  # words of a played line that may be missed between two that were heard
EARLY = 2  # of the performer's first words in a row that tell that they have come in early


@dataclass(slots=True)
class Played:
    """Something the partner said. words: as spoken, lower case; start, end: seconds.

    end: None while it lasts. early: when the performer was found to have come in before its end.
    """

    id: int
    kind: str
    words: tuple[str, ...]
    start: float
    end: float | None = None
    early: float | None = None


@dataclass(slots=True)
class OwnWords:
    """Sifts the words of the utterance under way."""

    played: list[Played] = field(default_factory=list)
    _words: list[tuple[str, float]] = field(default_factory=list)

    def of(
        self, words: Sequence[str], at: float, ended: bool, opening: Sequence[str] = ()
    ) -> tuple[tuple[int, str], ...]:
        """The performer's words among `words`, the utterance as heard at `at` (s), each with its number.

        opening: the first words of the line they have next, as spoken.
        """
        same = 0
        for (a, _), b in zip(self._words, words, strict=False):
            if a != b:
                break
            same += 1
        self._words = [*self._words[:same], *((w, at) for w in words[same:])]
        own = self._sifted(opening)
        if ended:
            self._words = []
        return own

    def _sifted(self, opening: Sequence[str]) -> tuple[tuple[int, str], ...]:
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
            # A prompt is short and in the performer's own words: what is no part of it is theirs.
            during = line.kind == "cue" and (line.end is None or at <= line.end + _ECHO)
            if not self._of_line(line, [word], reached, 1) and not during:
                own.append((k, word))
            k += 1
        return tuple(own)

    def _line_at(self, at: float) -> Played | None:
        """What was played when a word heard at `at` was said, the latest of it."""
        for line in reversed(self.played):
            if line.start < at and (line.end is None or at <= line.end + _LATE):
                return line
        return None

    def _of_line(self, line: Played, heard: Sequence[str], reached: dict[int, int], take: int) -> bool:
        """Whether all of `heard` come next in `line`; one word alone that does is passed by."""
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
    """Whether `heard` begins with two of the first words of a line in a row."""
    pair = tuple(heard[:EARLY])
    return len(pair) == EARLY and any(
        tuple(opening[i : i + EARLY]) == pair for i in range(max(0, len(opening) - EARLY + 1))
    )
