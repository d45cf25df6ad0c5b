"""The partner's ear: sound goes in, and the words that it seems to hear so far come out.

The recogniser is told to expect the script, the others' lines, what people say when they have lost the
thread, and sounds that are not words. Listening to a minute takes about two seconds of work, and the words
come a third of a second after they were said: bench/following.py.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from offbook.align import AlignedWord
from offbook.hear import phrases_to_follow
from offbook.partner.scene import PlayedScene
from offbook.recognise import LiveRecogniser
from offbook.sampling import BYTES_PER_SECOND

CALLS = frozenset(["line", "lines", "prompt"])  # "line" is the call for a prompt: common practice, no source
# Words from outside the script, so that the recogniser does not have to turn them into words of the script:
# what performers say when they have lost the thread, and some very common words. Chosen by hand.
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
_PIECE = BYTES_PER_SECOND // 10  # bytes given to the recogniser at a time, 0.1 s of sound; set by hand


@dataclass(frozen=True, slots=True)
class Utterance:
    """All words of the utterance in progress, as they are heard by now.

    at: seconds of sound taken in; ended: the utterance is over.
    """

    words: tuple[str, ...]
    at: float
    ended: bool = False


class Ear(Protocol):
    """What the partner needs from an ear."""

    def feed(self, pcm: bytes) -> list[Utterance]:
        """Take in 16-bit mono sound at 16 kHz, any length; return each change in what is heard, in order."""
        ...


class LiveEar:
    """An ear that uses a recogniser. phrases: what it expects, as `phrases_for` returns it."""

    def __init__(self, recogniser: LiveRecogniser, phrases: Sequence[str]) -> None:
        self._decoder = recogniser.follow(phrases)
        self._left = b""
        self._taken = 0
        self._reported: tuple[str, ...] = ()

    def feed(self, pcm: bytes) -> list[Utterance]:
        """See `Ear`."""
        self._left += pcm
        found: list[Utterance] = []
        while len(self._left) >= _PIECE:
            piece, self._left = self._left[:_PIECE], self._left[_PIECE:]
            self._taken += _PIECE
            ended = self._decoder.feed(piece)
            words = self._decoder.words()
            if ended or words != self._reported:
                found.append(Utterance(words, self._taken / BYTES_PER_SECOND, ended))
                self._reported = () if ended else words
        return found


def phrases_for(scene: PlayedScene, places: Sequence[AlignedWord], knows: Callable[[str], bool]) -> list[str]:
    """What an ear for `scene` is told to expect.

    places: the performer's words as the recogniser can hear them; knows: whether it has a word in its
    vocabulary.
    """
    others = (" ".join(w for w in turn.heard_as if knows(w)) for turn in scene.turns)
    return phrases_to_follow(places, [*(line for line in others if line), *(w for w in _TALK if knows(w))])
