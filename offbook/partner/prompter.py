"""The prompter: when words are given, and which.

After a silence of the performer's choosing comes the next word; if that did not help, the phrase; then
nothing more until they speak or call. A call ("line", or a key) is answered at once, a second call at the
same place with the phrase. Through a pause that the performer has marked no silence is answered, only a
call; where they always pause, the silence counts from the end of their longest pause there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from offbook.partner.scene import PlayedScene, Turn

_ABOUT = 1  # words by which the place of a pause may be missed
_MORE_ABOUT = 2  # and so many more where words were heard that are not the script's
_PROMPTS = 2  # given for one silence: the next words, then the rest of the line


@dataclass(frozen=True, slots=True)
class Patience:
    """How long the prompter waits. Seconds.

    silence: before the next word is given, None: only when called. more: after that before the phrase is.
    """

    silence: float | None = 4.0
    more: float = 2.5


@dataclass(frozen=True, slots=True)
class Prompt:
    """Words given. at: when (s); first, end: the script words; asked: they were called for.

    again: it came at the same place as the one before, so that both count as one.
    """

    at: float
    first: int
    end: int
    asked: bool
    again: bool


@dataclass(slots=True)
class Prompter:
    """Decides on prompts. held: words before which the performer has marked a pause; usual: by word, the
    longest pause (s) that they make before it every time.
    """

    scene: PlayedScene
    patience: Patience
    held: frozenset[int] = frozenset()
    usual: Mapping[int, float] = field(default_factory=dict)
    given: list[Prompt] = field(default_factory=list)
    _steps: int = 0  # prompts given since the performer last said a word of the script
    _reached: int = 0  # the furthest place since the last prompt

    def spoke(self, place: int) -> None:
        """The performer has spoken, and is at `place` now."""
        self._reached = max(self._reached, place)
        past = not self.given or place >= self.given[-1].end
        self._steps = 0 if past else min(self._steps, 1)

    @property
    def all_given(self) -> bool:
        """The word and the phrase were given, and nothing was said since."""
        return self._steps >= _PROMPTS

    def waits(self, place: int, astray: int = 0) -> float | None:
        """Seconds of silence before words are given at `place`, None for never."""
        silence = self.patience.silence
        if silence is None or self.all_given:
            return None
        if self._steps == 1:
            return self.patience.more
        about = range(place - _ABOUT, place + _ABOUT + 1 + min(astray, _MORE_ABOUT))
        if any(i in self.held for i in about):
            return None
        return silence + max((self.usual.get(i, 0.0) for i in about), default=0.0)

    def give(self, at: float, place: int, turn: Turn, asked: bool) -> Prompt:
        """The prompt that is due at `place` of `turn` now, counted."""
        place = min(max(place, turn.first), turn.end - 1)
        last = self.given[-1] if self.given else None
        stuck = last is not None and last.first <= place <= last.end and self._reached <= last.end
        end = self.scene.phrase_from(place, turn) if stuck else place + 1
        again = last is not None and stuck and (place == last.first or last.end == last.first + 1)
        self._steps, self._reached = (2 if stuck else 1), place
        self.given.append(Prompt(at, place, end, asked, again))
        return self.given[-1]
