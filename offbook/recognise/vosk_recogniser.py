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
from offbook.sampling import BYTES_PER_SECOND, SAMPLE_RATE
from offbook.scratch import scratch

_CHUNK = BYTES_PER_SECOND // 5  # fed so much at a time, as the recogniser itself takes it in
UNKNOWN = "[unk]"  # the recogniser's own word for sound that is no word it knows


@dataclass(frozen=True, slots=True)
class HeardWord:
    """One word as heard. start, end: seconds from the beginning of the sound; confidence: 0 to 1.

    weighed: the confidence is the chance by which its place was decided, and not what a hearing claims.
    """

    word: str
    start: float
    end: float
    confidence: float
    weighed: bool = False


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way a stretch of sound was heard.

    score: log likelihood of the sound given the words, natural units, higher is likelier; what the
    phrase list itself made of the words is taken out.
    """

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


class LiveDecoder(Protocol):
    """A decoding that is asked while somebody speaks."""

    def feed(self, pcm: bytes) -> bool:
        """Take in sound. True when the utterance under way has ended: it is cut there."""
        ...

    def words(self) -> tuple[str, ...]:
        """The words of the utterance as they seem now; after one has ended, the words it is left with."""
        ...


class LiveRecogniser(Protocol):
    """What somebody who follows a speaker asks of a speech recogniser."""

    def knows(self, word: str) -> bool:
        """True where `word` (lower case) is in the vocabulary."""
        ...

    def follow(self, phrases: Sequence[str]) -> LiveDecoder:
        """A decoder with a lean to `phrases` of known words, to be asked while the sound arrives."""
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


class _Pairs:
    """The word-pair model that the recogniser makes of a phrase list, for what it charges for words.

    Source: the estimator in the recogniser's own code (`language_model.cc`): a pair's probability is
    half its share of what follows its first word, half is left for falling back to the words' own
    shares, again halved; phrases begin from the fall-back and end with a word of their own.
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

    def _cost(self, before: str | None, word: str) -> float:
        alone = -math.log(0.5 * self._word[word] / self._all)
        if before is None:
            return alone
        fallen = math.log(2) + alone
        count = self._pair[before, word]
        return min(fallen, -math.log(0.5 * count / self._after[before])) if count else fallen

    def cost(self, words: Sequence[str]) -> float:
        """Negative log probability of `words`."""
        total, before = 0.0, None
        for word in [*words, self._END]:
            total += self._cost(before, word)
            before = word
        return total


_GRAPH_SCALE = 0.9  # the weight that the recogniser gives the phrase model in an alternative's score


def _words(found: dict[str, Any]) -> tuple[HeardWord, ...]:
    return tuple(
        HeardWord(w["word"], float(w["start"]), float(w["end"]), float(w.get("conf", 1.0)))
        for w in found.get("result", ())
    )


def _let_go_in_time(owner: object) -> None:
    """Empty `owner` when the program ends, if not before.

    The recogniser's own objects free themselves by calling their library; left to the very end of the
    interpreter they find it gone, and say so on standard error.
    """
    weakref.finalize(owner, vars(owner).clear)


class _VoskDecoder:
    def __init__(self, handle: Any) -> None:
        self._handle = handle
        _let_go_in_time(self)

    def feed(self, pcm: bytes) -> bool:
        return bool(self._handle.AcceptWaveform(_over_noise(pcm)))

    def cut(self) -> tuple[HeardWord, ...]:
        return _words(json.loads(self._handle.Result()))

    def finish(self) -> tuple[HeardWord, ...]:
        return _words(json.loads(self._handle.FinalResult()))


class _VoskLiveDecoder:
    def __init__(self, handle: Any) -> None:
        self._handle = handle
        self._words: tuple[str, ...] = ()
        _let_go_in_time(self)

    def feed(self, pcm: bytes) -> bool:
        ended = bool(self._handle.AcceptWaveform(_over_noise(pcm)))
        told = json.loads(self._handle.Result() if ended else self._handle.PartialResult())
        self._words = tuple(told["text" if ended else "partial"].split())
        return ended

    def words(self) -> tuple[str, ...]:
        return self._words


# The recogniser adds a random noise of its own to the sound, so that no two hearings of the same sound are
# quite the same. It is turned off, and the same noise added here every time: without any, digital silence
# is like nothing the models were trained on.
_SETTINGS_OF_SOUND = Path("conf", "mfcc.conf")
_NOISE = np.rint(np.random.default_rng(0).normal(size=SAMPLE_RATE)).astype(np.int16)


def _over_noise(pcm: bytes) -> bytes:
    """`pcm` with a noise of one step of 16 bit added."""
    samples = np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2")
    noise = np.resize(_NOISE, samples.size)
    return bytes(np.clip(samples.astype(np.int32) + noise, -32768, 32767).astype("<i2").data)


# How far behind the best wording, in natural log units, another may lie and still come back. The models come
# set to 2, too near to tell a wording that is a little less likely from one that was never said; from 10
# on the free hearing takes longer, up to 8 it does not.
_SIGHT = 8.0
# How many frames of 10 ms the acoustic network takes at a time. The recogniser's own 20 keep a voice command
# from waiting; with 60 a hearing among phrases takes six tenths of the time and is judged no worse. From 100
# on more of what is said is heard wrong.
_FRAMES = 60
_SETTINGS = Path("conf", "model.conf")


@contextmanager
def _set_up(folder: Path) -> Iterator[Path]:
    """`folder` as it is but for these settings: links to its parts, and its settings written again.

    A model without the file of settings (those before 2020) is taken as it is.
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
        _set(copy / _SETTINGS, "--lattice-beam", _SIGHT)
        _set(copy / _SETTINGS, "--frames-per-chunk", _FRAMES)
        _set(copy / _SETTINGS_OF_SOUND, "--dither", 0.0)
        yield copy


def _set(settings: Path, option: str, value: float) -> None:
    lines = settings.read_text(encoding="utf-8").splitlines() if settings.is_file() else []
    kept = [line for line in lines if line.split("=")[0].strip() != option]
    settings.write_text("\n".join([*kept, f"{option}={value}", ""]), encoding="utf-8")


def _link(part: Path, place: Path) -> None:
    try:
        place.symlink_to(part, target_is_directory=part.is_dir())
    except OSError:  # a system that keeps links from ordinary users
        shutil.copytree(part, place) if part.is_dir() else shutil.copy2(part, place)


_HEART = ("am/final.mdl", "final.mdl")  # where a model folder, newer or older, has its sounds


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
            if not any((self._folder / place).exists() for place in _HEART):
                raise FileNotFoundError(self._folder)  # vosk would write to standard error about it
            with _set_up(self._folder) as folder:
                self._model = vosk.Model(str(folder))
        except Exception as e:  # vosk raises the bare class
            raise ModelError(
                f"the speech model at {folder} cannot be read", "fetch it again with: offbook setup"
            ) from e
        _let_go_in_time(self)

    @property
    def name(self) -> str:
        return self._folder.name

    def knows(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def open(self) -> Decoder:
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        handle.SetWords(True)
        return _VoskDecoder(handle)

    def follow(self, phrases: Sequence[str]) -> LiveDecoder:
        # Without the times of words, which would hold the last ones back for about a second.
        return _VoskLiveDecoder(
            self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        )

    def among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        handle.SetWords(True)
        for at in range(0, len(pcm), _CHUNK):
            handle.AcceptWaveform(_over_noise(pcm[at : at + _CHUNK]))
        return _words(json.loads(handle.FinalResult()))

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        handle = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps(list(phrases)))
        handle.SetWords(True)
        handle.SetMaxAlternatives(most)
        handle.AcceptWaveform(_over_noise(pcm))
        pairs = _Pairs(phrases, self.knows)
        found = []
        for each in json.loads(handle.FinalResult()).get("alternatives", ()):
            words = _words(each)
            made = _GRAPH_SCALE * pairs.cost([w.word for w in words]) if words else 0.0
            found.append(Alternative(words, float(each["confidence"]) + made))
        return tuple(sorted(found, key=lambda f: -f.score))
