"""A rehearsal with an ear on it, and the performer's sound without the partner's voice.

What a terminal, a page or a test has of the partner: sound in, what to do now out. `own` gives the same sound
with silence where the partner was speaking, for the hearing that makes the line notes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from offbook.align import AlignedWord
from offbook.hear import places_of
from offbook.notes import SMALL, Aside
from offbook.partner.ear import Ear, LiveEar, phrases_for
from offbook.partner.follower import Follower
from offbook.partner.loudspeaker import Played
from offbook.partner.prompter import Patience
from offbook.partner.rehearsal import Act, Rehearsal
from offbook.partner.scene import PlayedScene, scene_of
from offbook.recognise import LiveRecogniser
from offbook.sampling import BYTES_PER_SECOND
from offbook.script import Script
from offbook.words import Word

_PIECE = BYTES_PER_SECOND // 10  # bytes that are taken in at a time
_TAIL = 0.1  # s after the partner's voice that are the room's; a quick performer is in after 0.2
_HELD = 3.0  # s of sound held back while the partner speaks, in case the performer comes in early
_EARLY = 1.0  # s before the performer was found to have come in, from which their sound is kept


@dataclass(frozen=True, slots=True)
class Manners:
    """How the partner behaves. aloud: prompts are spoken, else shown. held, usual: see `Prompter`."""

    patience: Patience = field(default_factory=Patience)
    aloud: bool = True
    held: frozenset[int] = frozenset()
    usual: Mapping[int, float] | None = None


class Partner:
    """A scene, an ear and manners. Times are seconds of the sound fed in."""

    def __init__(
        self, scene: PlayedScene, places: tuple[AlignedWord, ...], ear: Ear, manners: Manners
    ) -> None:
        self.rehearsal = Rehearsal(
            scene,
            Follower(places, SMALL),
            manners.patience,
            aloud=manners.aloud,
            held=manners.held,
            usual=manners.usual,
        )
        self._ear, self._own = ear, OwnSound()
        self._left = b""

    def feed(self, pcm: bytes) -> list[Act]:
        """Take in 16-bit mono sound at 16 kHz, any length; what is to be done now, in order."""
        self._left += pcm
        acts: list[Act] = []
        while len(self._left) >= _PIECE:
            piece, self._left = self._left[:_PIECE], self._left[_PIECE:]
            self._own.feed(piece)
            acts += self.rehearsal.sound(piece)
            for heard in self._ear.feed(piece):
                acts += self.rehearsal.heard(heard)
        return acts

    def own(self, *, last: bool = False) -> bytes:
        """The performer's sound since this was last asked; what may still be either's waits until `last`."""
        return self._own.take(self.rehearsal.played, last=last)


def prompts_told(partner: Partner) -> tuple[Aside, ...]:
    """The prompts given, as `notes.review` takes them: one for each place, however often it was prompted."""
    found: list[Aside] = []
    scene = partner.rehearsal.scene
    for p in partner.rehearsal.prompts:
        first, asked = p.first, p.asked
        if p.again and found and found[-1].words is not None:
            before = found.pop()
            first, asked = min(before.before_word, first), before.asked or asked
        words, text = (first, p.end - 1), scene.wording(first, p.end)
        found.append(Aside("prompt", first, text, p.at, p.at, words, asked, given=True))
    return tuple(found)


def partner_for(
    script: Script, words: Sequence[Word], recogniser: LiveRecogniser, manners: Manners
) -> Partner:
    """A partner for the performer whose `words` of `script` these are. Takes about a second."""
    scene = scene_of(script, words)
    places = places_of(words, recogniser.knows, script.lines)
    ear = LiveEar(recogniser, phrases_for(scene, places, recogniser.knows))
    return Partner(scene, places, ear, manners)


class OwnSound:
    """The performer's sound: the microphone's, silent where the partner was speaking."""

    def __init__(self) -> None:
        self._waiting = b""
        self._given = 0  # bytes handed out

    def feed(self, pcm: bytes) -> None:
        """Take in the microphone's sound."""
        self._waiting += pcm

    def take(self, played: Sequence[Played], *, last: bool = False) -> bytes:
        """What is certain by now. played: what the partner said so far; last: nothing more comes."""
        size = len(self._waiting)
        if not last and any(each.end is None for each in played):
            size = max(0, size - int(_HELD * BYTES_PER_SECOND)) // 2 * 2
        sound = np.frombuffer(self._waiting[:size], "<i2").copy()
        at = self._given // 2
        for each in played:
            a, b = _samples(each.start) - at, _samples(_until(each)) - at
            sound[max(0, a) : max(0, b)] = 0
        self._waiting, self._given = self._waiting[size:], self._given + size
        return sound.tobytes()


def _until(played: Played) -> float:
    """When the sound is the performer's again (s)."""
    end = 1e6 if played.end is None else played.end + _TAIL
    return end if played.early is None else min(end, max(played.start, played.early - _EARLY))


def _samples(seconds: float) -> int:
    return int(seconds * BYTES_PER_SECOND) // 2
