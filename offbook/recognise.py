"""The recogniser: sound in, words with times out.

This is the one place that knows the speech recogniser (vosk). The rest of the project sees
`Recogniser`, a small protocol that a second recogniser could implement and a fake one does in the
tests: it opens a `Decoder` on a stream of sound, freely or among given phrases, and weighs short
stretches of sound between given phrases. Sound is 16-bit mono PCM at `SAMPLE_RATE`.

How the recogniser treats a list of phrases (its own source, `language_model.cc`): they train a model
of word pairs with a discount of one half, so a phrase is a lean, not a law: any word of the list may
follow any other at a price of about two steps back and the logarithm of the list's length.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from offbook.errors import ModelError

SAMPLE_RATE = 16_000  # Hz, what the models are trained on
BYTES_PER_SECOND = 2 * SAMPLE_RATE
_CHUNK = BYTES_PER_SECOND // 5  # fed so much at a time, as the recogniser itself takes it in
UNKNOWN = "[unk]"  # the recogniser's own word for sound that is no word it knows


@dataclass(frozen=True, slots=True)
class HeardWord:
    """One word as heard. start, end: seconds from the beginning of the sound; confidence: 0 to 1."""

    word: str
    start: float
    end: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way a stretch of sound was heard. score: log likelihood, natural units; higher is likelier."""

    words: tuple[HeardWord, ...]
    score: float

    @property
    def text(self) -> str:
        """The words alone, one space between."""
        return " ".join(w.word for w in self.words)


class Decoder(Protocol):
    """A decoding under way: feed sound, cut where it may be cut, take the words."""

    def feed(self, pcm: bytes) -> bool:
        """Take in sound. True when the recogniser itself found the end of an utterance."""
        ...

    def cut(self) -> tuple[HeardWord, ...]:
        """The words since the last cut; decoding goes on with what follows."""
        ...

    def finish(self) -> tuple[HeardWord, ...]:
        """The words since the last cut, the last of the sound included."""
        ...


class Recogniser(Protocol):
    """What the hearing asks of a speech recogniser."""

    @property
    def name(self) -> str:
        """The model's name, for reports."""
        ...

    def knows(self, word: str) -> bool:
        """True where `word` (lower case) is in the vocabulary."""
        ...

    def open(self) -> Decoder:
        """A free decoder: any word of the vocabulary may follow any other, as the language has it."""
        ...

    def among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        """A stretch of sound heard with a lean to `phrases` of known words; times from its beginning."""
        ...

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        """The likeliest ways to hear a short stretch among `phrases`, best first, at most `most`."""
        ...


def _words(found: dict[str, Any]) -> tuple[HeardWord, ...]:
    return tuple(
        HeardWord(w["word"], float(w["start"]), float(w["end"]), float(w.get("conf", 1.0)))
        for w in found.get("result", ())
    )


class _VoskDecoder:
    def __init__(self, handle: Any) -> None:
        self._handle = handle

    def feed(self, pcm: bytes) -> bool:
        return bool(self._handle.AcceptWaveform(pcm))

    def cut(self) -> tuple[HeardWord, ...]:
        return _words(json.loads(self._handle.Result()))

    def finish(self) -> tuple[HeardWord, ...]:
        return _words(json.loads(self._handle.FinalResult()))


class VoskRecogniser:
    """A vosk model read from `folder`. Raises ModelError where it cannot be read."""

    def __init__(self, folder: str | Path) -> None:
        import vosk

        vosk.SetLogLevel(-1)
        self._vosk = vosk
        self._folder = Path(folder)
        if not self._folder.is_dir():
            raise ModelError(f"no speech model at {folder}", "fetch it with: offbook setup")
        try:
            self._model = vosk.Model(str(self._folder))
        except Exception as e:  # vosk raises the bare class
            raise ModelError(
                f"the speech model at {folder} cannot be read", "fetch it again with: offbook setup"
            ) from e

    @property
    def name(self) -> str:
        return self._folder.name

    def knows(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def open(self) -> Decoder:
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        handle.SetWords(True)
        return _VoskDecoder(handle)

    def among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        handle.SetWords(True)
        for at in range(0, len(pcm), _CHUNK):
            handle.AcceptWaveform(pcm[at : at + _CHUNK])
        return _words(json.loads(handle.FinalResult()))

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        handle.SetWords(True)
        handle.SetMaxAlternatives(most)
        handle.AcceptWaveform(pcm)
        found = json.loads(handle.FinalResult())
        return tuple(Alternative(_words(a), float(a["confidence"])) for a in found.get("alternatives", ()))
