"""The partner's ear: sound in, words as they seem just now out.

The recogniser is made to expect the script, the others' lines, what people say when they have lost the
thread, and sound that is no word. It costs about a thirtieth of the time it listens to and is a third
of a second behind the speaker: bench/following.py.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from offbook.align import AlignedWord
from offbook.hear import expecting
from offbook.partner.scene import PlayedScene
from offbook.recognise import LiveRecogniser
from offbook.sampling import BYTES_PER_SECOND

CALLS = frozenset(["line", "lines", "prompt"])  # "line" is the call for a prompt: common practice, no source
# What is said beside the script, so that the recogniser need not make script of it: talk of a performer who
# has lost the thread, and the commonest words of English.
_TALK = [
    "sorry",
    "okay",
    "wait",
    "line",
    "lines",
    "prompt",
    "again",
    "oh",
    "god",
    "what",
    "no",
    "start",
    "let",
    "me",
    "um",
    "uh",
    "yes",
    "hang",
    "on",
    "right",
    "so",
    "the",
    "a",
    "and",
    "i",
    "you",
    "it",
    "that",
    "is",
    "was",
    "to",
    "of",
    "in",
    "not",
    "he",
    "she",
    "they",
    "we",
    "my",
    "your",
    "go",
    "one",
    "more",
    "time",
    "can't",
    "remember",
    "forgot",
    "please",
    "thank",
    "well",
    "now",
    "then",
    "but",
    "do",
    "don't",
    "know",
    "think",
]
_PIECE = BYTES_PER_SECOND // 10  # bytes given to the recogniser at a time


@dataclass(frozen=True, slots=True)
class Utterance:
    """The utterance under way, whole, as heard now. at: seconds of sound taken in; ended: it is over."""

    words: tuple[str, ...]
    at: float
    ended: bool = False


class Ear(Protocol):
    """What the partner asks of an ear."""

    def feed(self, pcm: bytes) -> list[Utterance]:
        """Take in 16-bit mono sound at 16 kHz, any length; what is heard otherwise than before, in order."""
        ...


class LiveEar:
    """An ear on a recogniser. phrases: what it expects, as `phrases_for` gives it."""

    def __init__(self, recogniser: LiveRecogniser, phrases: Sequence[str]) -> None:
        self._decoder = recogniser.follow(phrases)
        self._left = b""
        self._taken = 0
        self._told: tuple[str, ...] = ()

    def feed(self, pcm: bytes) -> list[Utterance]:
        """As `Ear` says."""
        self._left += pcm
        found: list[Utterance] = []
        while len(self._left) >= _PIECE:
            piece, self._left = self._left[:_PIECE], self._left[_PIECE:]
            self._taken += _PIECE
            ended = self._decoder.feed(piece)
            words = self._decoder.words()
            if ended or words != self._told:
                found.append(Utterance(words, self._taken / BYTES_PER_SECOND, ended))
                self._told = () if ended else words
        return found


def phrases_for(scene: PlayedScene, places: Sequence[AlignedWord], knows: Callable[[str], bool]) -> list[str]:
    """What an ear for `scene` expects. places: its words as the recogniser can hear them."""
    others = (" ".join(w for w in turn.heard_as if knows(w)) for turn in scene.turns)
    return expecting(places, [*(line for line in others if line), *(w for w in _TALK if knows(w))])
