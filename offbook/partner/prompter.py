"""The prompter: when to give the performer words, and which.

After a silence as long as the performer chose, the prompter gives the next word. If that does not help, it
gives the phrase, and then nothing more until they speak or call. It answers a call ("line", or a key) at
once, and a second call at the same place with the phrase. In a pause that the performer has marked it answers
only a call. Where they always pause, the silence counts from the end of their longest pause there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from offbook.partner.scene import PlayedScene, Turn

# Set by hand: the follower's place is seldom wrong by more.
_ABOUT = 1  # words by which the place may be off when the performer is at a pause
_MORE_ABOUT = 2  # words by which it may be further off after words that are not the script's
_PROMPTS = 2  # prompts for one silence: the next word, then the phrase


@dataclass(frozen=True, slots=True)
class Patience:
    """How long the prompter waits, in seconds; set by hand, and the performer can choose the first.

    silence: before the next word is given; None for only when called. more: after that word, before the
    phrase.
    """

    silence: float | None = 4.0
    more: float = 2.5


@dataclass(frozen=True, slots=True)
class Prompt:
    """Words that were given.

    at: when (s); first, end: the script words [first, end); asked: the performer called for them; again: at
    the same place as the prompt before, so that both count as one.
    """

    at: float
    first: int
    end: int
    asked: bool
    again: bool


@dataclass(slots=True)
class Prompter:
    """Decides on prompts.

    held: the script words before which the performer has marked a pause; usual: for each word before which
    they pause every time, their longest pause there (s).
    """

    scene: PlayedScene
    patience: Patience
    held: frozenset[int] = frozenset()
    usual: Mapping[int, float] = field(default_factory=dict)
    given: list[Prompt] = field(default_factory=list)
    _steps: int = 0  # prompts given since the performer last said a word of the script
    _reached: int = 0  # the furthest place since the last prompt

    def spoke(self, place: int) -> None:
        """Note that the performer has spoken and is now at `place`."""
        self._reached = max(self._reached, place)
        past = not self.given or place >= self.given[-1].end
        self._steps = 0 if past else min(self._steps, 1)

    @property
    def all_given(self) -> bool:
        """Whether word and phrase were both given, and nothing has been said since."""
        return self._steps >= _PROMPTS

    def waits(self, place: int, astray: int = 0) -> float | None:
        """After how many seconds of silence words are given at `place`; None for never.

        astray: how many of the last words heard are not the script's.
        """
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
        """Make the prompt that is due at `place` of `turn` now, and count it."""
        place = min(max(place, turn.first), turn.end - 1)
        last = self.given[-1] if self.given else None
        stuck = last is not None and last.first <= place <= last.end and self._reached <= last.end
        end = self.scene.phrase_from(place, turn) if stuck else place + 1
        again = last is not None and stuck and (place == last.first or last.end == last.first + 1)
        self._steps, self._reached = (2 if stuck else 1), place
        self.given.append(Prompt(at, place, end, asked, again))
        return self.given[-1]
