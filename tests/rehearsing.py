"""A simulated performer, loudspeaker and microphone, so that a scene takes milliseconds."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from offbook.hear import places_of
from offbook.notes import SMALL
from offbook.partner import Act, Follower, Hush, Patience, Rehearsal, Say, Utterance, scene_of
from offbook.script import Script, parse_script
from offbook.words import words_of

STEP = 0.1  # s
WORD = 4  # steps that a word takes
LATE = 3  # steps after a word's end in which the ear tells of it
PAUSE = 5  # steps of quiet that end an utterance

_RANDOM = np.random.default_rng(7)
VOICE = (3000 * _RANDOM.standard_normal(int(STEP * 16_000))).astype("<i2").tobytes()
ROOM = (5 * _RANDOM.standard_normal(int(STEP * 16_000))).astype("<i2").tobytes()


def every_word(word: str) -> bool:
    """A recogniser that knows every word."""
    return True


def script_of(text: str, part: str | None = None) -> Script:
    """A script in plain text."""
    return parse_script(text, part=part)


def rehearsal_of(script: Script, patience: Patience | None = None, **manners: object) -> Rehearsal:
    """A rehearsal of `script`."""
    words = words_of(script)
    places = places_of(words, every_word, script.lines)
    follower = Follower(places, SMALL)
    return Rehearsal(scene_of(script, words), follower, patience or Patience(), **manners)  # type: ignore[arg-type]


class Stage:
    """Runs a rehearsal: it is told what the performer does, and what the partner does is kept, and when.

    loud: the partner is heard in the microphone. spoken: what the ear hears when the partner speaks. room:
    a tenth of a second in which nobody speaks.
    """

    def __init__(
        self,
        rehearsal: Rehearsal,
        *,
        loud: bool = True,
        spoken: Callable[[str], str] = str.lower,
        room: bytes = ROOM,
    ) -> None:
        self.rehearsal, self.loud, self._spoken, self._room = rehearsal, loud, spoken, room
        self.done: list[tuple[float, Act]] = []
        self.steps = 0
        self._utterance: list[str] = []
        self._coming: list[tuple[int, str]] = []
        self._quiet = 0
        self._playing: tuple[int, int, list[str]] | None = None  # id, step of its end, its words
        self._take(rehearsal.start())

    @property
    def now(self) -> float:
        """The seconds that have passed."""
        return self.steps * STEP

    def said(self) -> list[str]:
        """What the partner said or showed, in order."""
        return [act.text for _, act in self.done if isinstance(act, Say)]

    def prompts(self) -> list[tuple[float, str]]:
        """The prompts, and when they were given."""
        return [(round(at, 1), act.text) for at, act in self.done if isinstance(act, Say) and act.prompt]

    def say(self, text: str, heard: str | None = None) -> None:
        """The performer says `text`, a word every 0.4 s; heard: what the ear hears, word for word."""
        for word in (text if heard is None else heard).split():
            for _ in range(WORD):
                self._step(voiced=True)
            self._coming.append((self.steps + LATE, word))

    def quiet(self, seconds: float) -> None:
        """The performer is silent."""
        for _ in range(round(seconds / STEP)):
            self._step(voiced=False)

    def noise(self, seconds: float) -> None:
        """The performer makes a sound that is not a word."""
        for _ in range(round(seconds / STEP)):
            self._step(voiced=True)

    def wait(self) -> None:
        """Wait until the partner has said everything that is to be said now."""
        while self._playing is not None:
            self._step(voiced=False)

    def _step(self, voiced: bool) -> None:
        loudspeaker = self.loud and self._playing is not None
        self.steps += 1
        self._take(self.rehearsal.sound(VOICE if voiced or loudspeaker else self._room))
        if self._playing is not None:
            self._play(*self._playing)
        self._quiet = 0 if voiced or loudspeaker else self._quiet + 1
        told = [word for due, word in self._coming if due <= self.steps]
        self._coming = [(due, word) for due, word in self._coming if due > self.steps]
        self._utterance += told
        if self._utterance and self._quiet >= PAUSE and not self._coming:
            self._hear(ended=True)
            self._utterance = []
        elif told:
            self._hear(ended=False)

    def _play(self, id: int, end: int, words: list[str]) -> None:
        if self.loud and words and (end - self.steps) % WORD == 0:
            self._coming.append((self.steps + LATE, words.pop(0)))
        if self.steps >= end:
            self._playing = None
            self._take(self.rehearsal.said(id))

    def _hear(self, ended: bool) -> None:
        self._take(self.rehearsal.heard(Utterance(tuple(self._utterance), self.now, ended)))

    def _take(self, acts: list[Act]) -> None:
        for act in acts:
            self.done.append((self.now, act))
            if isinstance(act, Say) and act.aloud:
                words = [self._spoken("".join(c for c in w if c.isalpha())) for w in act.text.split()]
                self._playing = (act.id, self.steps + WORD * len(words), words)
                self._take(self.rehearsal.playing(act.id))
            elif isinstance(act, Hush) and self._playing is not None and self._playing[0] == act.id:
                self._playing = None
