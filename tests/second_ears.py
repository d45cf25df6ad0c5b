"""A second ear for the tests: it knows what was said, or gives the scores that it is told to give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from offbook.recognise import Rival


class TableEar:
    """Gives each wording the score that a table has for it, and each word the rivals it has.

    scores: log probability by wording, lower case; what is not in it gets `otherwise`. rivals: by word.
    asked: what it was given and asked.
    """

    name = "table"

    def __init__(
        self,
        scores: Mapping[str, float] | None = None,
        rivals: Mapping[str, Sequence[Rival]] | None = None,
        otherwise: float = -20.0,
        free: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        self.scores, self.beginnings, self.otherwise = dict(scores or {}), dict(rivals or {}), otherwise
        self.free = dict(free or {})
        self.followed: list[tuple[int, tuple[str, ...]]] = []
        self.asked: list[tuple[tuple[str, ...], ...]] = []

    def follow(self, pcm: bytes, words: Sequence[str]) -> TablePassage:
        """A passage of these words; how long the sound was, in bytes, is kept."""
        self.followed.append((len(pcm), tuple(words)))
        return TablePassage(self, tuple(words))


class TablePassage:
    """One passage of a `TableEar`."""

    def __init__(self, ear: TableEar, words: tuple[str, ...]) -> None:
        self._ear, self._words = ear, words

    @property
    def log_probabilities(self) -> tuple[float, ...]:
        return tuple(self._score((w,)) for w in self._words)

    def rivals(self, word: int, most: int) -> tuple[Rival, ...]:
        return tuple(self._ear.beginnings.get(self._words[word].lower(), ()))[:most]

    def reworded(self, start: int, end: int, words: Sequence[str]) -> TablePassage:
        return TablePassage(self._ear, (*self._words[:start], *words, *self._words[end:]))

    def free_words(self, start: int, end: int, most: int) -> tuple[str, ...] | None:
        found = self._ear.free.get(" ".join(self._words[start:end]).lower())
        return None if found is None else tuple(found)

    def weigh(self, start: int, end: int, wordings: Sequence[Sequence[str]]) -> tuple[float, ...]:
        self._ear.asked.append(tuple(tuple(w) for w in wordings))
        return tuple(self._score(w) for w in wordings)

    def _score(self, wording: Sequence[str]) -> float:
        return self._ear.scores.get(" ".join(wording).lower(), self._ear.otherwise)
