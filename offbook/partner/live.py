"""A rehearsal with an ear, and the performer's sound without the partner's voice.

A terminal, a page or a test uses this: it passes sound in and is told what to do now. `own` returns the same
sound with silence where the partner was speaking; the line notes are made from it.
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

# Set by hand.
_PIECE = BYTES_PER_SECOND // 10  # bytes that are taken in at a time: 0.1 s of sound
# Seconds after the partner's voice in which the room still sounds of it; a quick performer needs 0.2.
_TAIL = 0.1
_HELD = 3.0  # s of sound held back while the partner speaks, in case the performer comes in early
_EARLY = 1.0  # s before an early entry was noticed from which the performer's sound is kept
_STILL_SPEAKING = 1e6  # s: later than the end of any rehearsal


@dataclass(frozen=True, slots=True)
class Manners:
    """How the partner behaves.

    aloud: prompts are spoken, and not only shown; held, usual: see `Prompter`.
    """

    patience: Patience = field(default_factory=Patience)
    aloud: bool = True
    held: frozenset[int] = frozenset()
    usual: Mapping[int, float] | None = None


class Partner:
    """Plays `scene` with the performer. Times are seconds of the sound fed in.

    places: the performer's words as the ear can hear them.
    """

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
        """Take in 16-bit mono sound at 16 kHz, any length; return what is to be done now, in order."""
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
        """The performer's sound since the last call.

        What may still be the partner's is kept back until `last`.
        """
        return self._own.take(self.rehearsal.played, last=last)


def prompts_given(partner: Partner) -> tuple[Aside, ...]:
    """The prompts as `notes.review` needs them: one for each place, however many were given there."""
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
    """A partner for the performer who says `words` of `script`. Takes about a second."""
    scene = scene_of(script, words)
    places = places_of(words, recogniser.knows, script.lines)
    ear = LiveEar(recogniser, phrases_for(scene, places, recogniser.knows))
    return Partner(scene, places, ear, manners)


class OwnSound:
    """The microphone's sound, with silence where the partner was speaking."""

    def __init__(self) -> None:
        self._waiting = b""
        self._given = 0  # bytes handed out

    def feed(self, pcm: bytes) -> None:
        """Take in the microphone's sound."""
        self._waiting += pcm

    def take(self, played: Sequence[Played], *, last: bool = False) -> bytes:
        """The sound that is certain by now.

        played: what the partner has said so far; last: no more sound will come.
        """
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
    end = _STILL_SPEAKING if played.end is None else played.end + _TAIL
    return end if played.early is None else min(end, max(played.start, played.early - _EARLY))


def _samples(seconds: float) -> int:
    return int(seconds * BYTES_PER_SECOND) // 2
