"""The first ear: turns sound into words with times.

This is the only place that knows the speech recogniser (vosk). The rest of the project sees `Recogniser`, a
small protocol that another recogniser could implement too, as a fake one does in the tests. It opens a
`Decoder` for a stream of sound, decodes a stretch of sound with a preference for given phrases, and weighs
given phrases against each other. Sound is 16-bit mono PCM at `SAMPLE_RATE`.

What the recogniser does with a list of phrases (from its own source, `language_model.cc`): it trains a model
of word pairs on them, with a discount of one half. So phrases are preferred, but any word of the list may
follow any other. That costs about two steps of falling back, and the logarithm of the length of the list.
"""

from __future__ import annotations

import json
import math
import shutil
import weakref
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from offbook.errors import ModelError
from offbook.sampling import BYTES_PER_SECOND, FULL_SCALE, LARGEST_SAMPLE, SAMPLE_RATE, whole_samples
from offbook.scratch import scratch

_CHUNK = BYTES_PER_SECOND // 5  # bytes that are fed at once: 0.2 s, as the recogniser itself takes it in
UNKNOWN = "[unk]"  # the recogniser's word for a sound that is none of its words
MOST_ALTERNATIVES = 8  # that are asked for if nothing else is said; set by hand
_PHRASE_WEIGHT = 0.9  # with which the recogniser counts the model of phrases in the score of an alternative
_DISCOUNT = 0.5  # in that model: the share that is left for what was seen, the rest being for falling back


@dataclass(frozen=True, slots=True)
class HeardWord:
    """One word as it was heard.

    start, end: seconds from the beginning of the sound. confidence: 0 to 1. weighed: whether the confidence
    is the chance with which its place was decided, and not what a recogniser states.
    """

    word: str
    start: float
    end: float
    confidence: float
    weighed: bool = False


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to hear a stretch of sound.

    score: natural logarithm of the likelihood of the sound, given the words; a higher one is likelier. How
    likely the list of phrases makes the words is not part of it.
    """

    words: tuple[HeardWord, ...]
    score: float

    @property
    def text(self) -> str:
        """Only the words, with a space between them."""
        return " ".join(w.word for w in self.words)


class Decoder(Protocol):
    """A stream of sound that is being decoded."""

    def feed(self, pcm: bytes) -> bool:
        """Take in sound. Returns whether the recogniser found the end of an utterance there."""
        ...

    def cut(self) -> tuple[HeardWord, ...]:
        """End the utterance and return its words; the decoding goes on with the next one."""
        ...

    def finish(self) -> tuple[HeardWord, ...]:
        """Return the words since the last cut, up to the very end of the sound."""
        ...


class LiveDecoder(Protocol):
    """A decoding whose words can be asked for while somebody is speaking."""

    def feed(self, pcm: bytes) -> bool:
        """Take in sound. Returns whether the utterance has ended there; then the next one begins."""
        ...

    def words(self) -> tuple[str, ...]:
        """The words of the utterance as they seem so far; after its end, its final words."""
        ...


class LiveRecogniser(Protocol):
    """What a speech recogniser must do so that a speaker can be followed live."""

    def knows(self, word: str) -> bool:
        """Whether `word` (lower case) is in the vocabulary."""
        ...

    def follow(self, phrases: Sequence[str]) -> LiveDecoder:
        """A decoder that prefers `phrases` of known words, to be asked while the sound comes in."""
        ...


class Recogniser(Protocol):
    """What a speech recogniser must do for the hearing."""

    @property
    def name(self) -> str:
        """The name of the model, for reports."""
        ...

    def knows(self, word: str) -> bool:
        """Whether `word` (lower case) is in the vocabulary."""
        ...

    def open(self) -> Decoder:
        """A free decoder: it knows no script, only its vocabulary and how English goes."""
        ...

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        """The words of a stretch of sound, with a preference for `phrases` of known words.

        Times are seconds from the beginning of the stretch.
        """
        ...

    def weigh(
        self, pcm: bytes, phrases: Sequence[str], most: int = MOST_ALTERNATIVES
    ) -> tuple[Alternative, ...]:
        """The likeliest ways to hear a short stretch of sound among `phrases`, best first, at most `most`."""
        ...


class _PhraseModel:
    """The model of word pairs that the recogniser makes of a list of phrases, to know what words cost in it.

    Source: the estimator in the recogniser's own code (`language_model.cc`). The probability of a pair is
    half of its share of all that follows its first word. The other half is left for falling back to the
    shares of single words, which are halved again. A phrase begins by falling back, and ends with an end
    mark.
    """

    _END = ""

    def __init__(self, phrases: Sequence[str], knows: Callable[[str], bool]) -> None:
        self._pair: Counter[tuple[str, str]] = Counter()
        self._after: Counter[str] = Counter()
        self._word: Counter[str] = Counter()
        for phrase in phrases:
            words = [w for w in phrase.split() if knows(w)]
            self._word.update([*words, self._END])
            for a, b in zip(words, [*words[1:], self._END], strict=True):
                self._pair[a, b] += 1
                self._after[a] += 1
        self._all = sum(self._word.values())

    def _cost_of_word(self, before: str | None, word: str) -> float:
        """Negative log probability of a word after another one; None for the beginning."""
        alone = -math.log(_DISCOUNT * self._word[word] / self._all)
        if before is None:
            return alone
        fallen_back = alone - math.log(1 - _DISCOUNT)
        count = self._pair[before, word]
        if not count:
            return fallen_back
        return min(fallen_back, -math.log(_DISCOUNT * count / self._after[before]))

    def cost(self, words: Sequence[str]) -> float:
        """The negative natural logarithm of the probability of `words`."""
        total, before = 0.0, None
        for word in [*words, self._END]:
            total += self._cost_of_word(before, word)
            before = word
        return total


def _words(found: dict[str, Any]) -> tuple[HeardWord, ...]:
    """The words in an answer of the recogniser."""
    return tuple(
        HeardWord(w["word"], float(w["start"]), float(w["end"]), float(w.get("conf", 1.0)))
        for w in found.get("result", ())
    )


def _free_before_exit(owner: object) -> None:
    """Remove the attributes of `owner` at the end of the program, if it still exists then.

    The recogniser's objects call their library to free themselves. If they lived on to the very end of the
    interpreter, the library would be gone, and an error would be written.
    """
    weakref.finalize(owner, vars(owner).clear)


class _VoskDecoder:
    """A `Decoder` of vosk."""

    def __init__(self, handle: Any) -> None:
        self._handle = handle
        _free_before_exit(self)

    def feed(self, pcm: bytes) -> bool:
        return bool(self._handle.AcceptWaveform(_with_noise(pcm)))

    def cut(self) -> tuple[HeardWord, ...]:
        return _words(json.loads(self._handle.Result()))

    def finish(self) -> tuple[HeardWord, ...]:
        return _words(json.loads(self._handle.FinalResult()))


class _VoskLiveDecoder:
    """A `LiveDecoder` of vosk."""

    def __init__(self, handle: Any) -> None:
        self._handle = handle
        self._words: tuple[str, ...] = ()
        _free_before_exit(self)

    def feed(self, pcm: bytes) -> bool:
        ended = bool(self._handle.AcceptWaveform(_with_noise(pcm)))
        answer = json.loads(self._handle.Result() if ended else self._handle.PartialResult())
        self._words = tuple(answer["text" if ended else "partial"].split())
        return ended

    def words(self) -> tuple[str, ...]:
        return self._words


# The recogniser adds random noise to the sound, so that two hearings of the same sound are never quite the
# same. That is turned off, and here the same noise is added every time. Without any noise, digital silence
# would be unlike everything that the models were trained on.
_SETTINGS_OF_SOUND = Path("conf", "mfcc.conf")
_NOISE = np.rint(np.random.default_rng(0).normal(size=SAMPLE_RATE)).astype(np.int16)


def _with_noise(pcm: bytes) -> bytes:
    """`pcm` with noise whose standard deviation is one step of 16 bits; an odd last byte is left out."""
    samples = np.frombuffer(whole_samples(pcm), "<i2")
    noise = np.resize(_NOISE, samples.size)
    return bytes(np.clip(samples.astype(np.int32) + noise, -FULL_SCALE, LARGEST_SAMPLE).astype("<i2").data)


# How much less likely than the best wording another may be (natural logarithm) and still be given. The models
# are delivered with 2, which is too little to tell a slightly less likely wording from one that was never
# said. Up to 8 the free hearing takes no longer, from 10 on it does.
_LATTICE_BEAM = 8.0
# How many frames of 10 ms the acoustic network takes at once. The recogniser's own 20 are for voice commands,
# which must not wait. With 60, a hearing among phrases takes six tenths of the time and the verdicts are no
# worse; from 100 on more of what is said is heard wrong.
_FRAMES_AT_ONCE = 60
_SETTINGS = Path("conf", "model.conf")


@contextmanager
def _with_settings(folder: Path) -> Iterator[Path]:
    """A temporary copy of a model's folder with the settings above: links to its parts, and new settings.

    A model without the file of settings (those before 2020) is used as it is.
    """
    if not (folder / _SETTINGS).is_file():
        yield folder
        return
    with scratch() as made:
        copy = Path(made)
        for part in folder.iterdir():
            if part.name != _SETTINGS.parent.name:
                _link(part.resolve(), copy / part.name)
        (copy / _SETTINGS.parent).mkdir()
        for part in (folder / _SETTINGS.parent).iterdir():
            if part.is_file():
                shutil.copyfile(part, copy / _SETTINGS.parent / part.name)
        _set(copy / _SETTINGS, "--lattice-beam", _LATTICE_BEAM)
        _set(copy / _SETTINGS, "--frames-per-chunk", _FRAMES_AT_ONCE)
        _set(copy / _SETTINGS_OF_SOUND, "--dither", 0.0)
        yield copy


def _set(settings: Path, option: str, value: float) -> None:
    """Write an option into a file of settings, in the place of its old value."""
    lines = settings.read_text(encoding="utf-8").splitlines() if settings.is_file() else []
    kept = [line for line in lines if line.split("=")[0].strip() != option]
    settings.write_text("\n".join([*kept, f"{option}={value}", ""]), encoding="utf-8")


def _link(part: Path, place: Path) -> None:
    """Link to a part of a model at `place`, or copy it."""
    try:
        place.symlink_to(part, target_is_directory=part.is_dir())
    except OSError:  # some systems do not let ordinary users make links
        shutil.copytree(part, place) if part.is_dir() else shutil.copy2(part, place)


_ACOUSTIC_MODELS = (
    "am/final.mdl",
    "final.mdl",
)  # where newer and older model folders have the acoustic model


class VoskRecogniser:
    """The first ear, whose vosk model is read from `folder`. Raises ModelError if that is not possible."""

    def __init__(self, folder: str | Path) -> None:
        import vosk

        vosk.SetLogLevel(-1)
        self._vosk = vosk
        self._folder = Path(folder)
        if not self._folder.is_dir():
            raise ModelError(f"no speech model at {folder}", "fetch it with: offbook setup")
        try:
            if not any((self._folder / place).exists() for place in _ACOUSTIC_MODELS):
                raise FileNotFoundError(self._folder)  # vosk itself would write to standard error
            with _with_settings(self._folder) as folder:
                self._model = vosk.Model(str(folder))
        except Exception as e:  # vosk raises plain Exception
            raise ModelError(
                f"the speech model at {folder} cannot be read", "fetch it again with: offbook setup"
            ) from e
        _free_before_exit(self)

    @property
    def name(self) -> str:
        """The name of the model's folder."""
        return self._folder.name

    def knows(self, word: str) -> bool:
        """Whether `word` (lower case) is in the vocabulary."""
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def open(self) -> Decoder:
        """A free decoder; see `Recogniser`."""
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        handle.SetWords(True)
        return _VoskDecoder(handle)

    def follow(self, phrases: Sequence[str]) -> LiveDecoder:
        """A decoder that prefers `phrases`; see `LiveRecogniser`."""
        # It gives no times of words, because for these the last words would be held back for about a second.
        return _VoskLiveDecoder(
            self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        )

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        """The words of a stretch of sound, with a preference for `phrases`; see `Recogniser`."""
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        handle.SetWords(True)
        for at in range(0, len(pcm), _CHUNK):
            handle.AcceptWaveform(_with_noise(pcm[at : at + _CHUNK]))
        return _words(json.loads(handle.FinalResult()))

    def weigh(
        self, pcm: bytes, phrases: Sequence[str], most: int = MOST_ALTERNATIVES
    ) -> tuple[Alternative, ...]:
        """The likeliest ways to hear a stretch of sound among `phrases`; see `Recogniser`."""
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        handle.SetWords(True)
        handle.SetMaxAlternatives(most)
        handle.AcceptWaveform(_with_noise(pcm))
        model = _PhraseModel(phrases, self.knows)
        found = []
        for each in json.loads(handle.FinalResult()).get("alternatives", ()):
            words = _words(each)
            phrase_cost = _PHRASE_WEIGHT * model.cost([w.word for w in words]) if words else 0.0
            found.append(Alternative(words, float(each["confidence"]) + phrase_cost))
        return tuple(sorted(found, key=lambda f: -f.score))
