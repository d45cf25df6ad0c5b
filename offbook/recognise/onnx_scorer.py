"""A second ear that runs with onnxruntime: an encoder of sound, and a decoder of word pieces.

The decoder is given the text piece by piece, as in the training of such models ("teacher forcing"), and at
each step its probabilities of the next piece are read. To try another wording, only its own pieces and a few
after them are computed again; what the model has computed for the sound and for the text before is kept.
Everything runs on one thread. So the first ear can have the other core, and the same sound and text always
give the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook.errors import ModelError
from offbook.recognise.word_pieces import BEGIN, END, SPACE, read_pieces
from offbook.recognise.wordings import Passage, Rival
from offbook.sampling import FULL_SCALE, whole_samples

ENCODER, DECODER, PIECES = "encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"
FILES = (ENCODER, DECODER, PIECES)
_LAYERS, _HEADS, _WIDTH = 6, 8, 36  # of the decoder; the shapes of its inputs say so
# Pieces after a wording that are computed with it; set by hand, as later ones only add noise.
_PIECES_AFTER = 5
_LIKELIEST = 12  # pieces among which rivals are looked for; set by hand
_ANCHOR = 2  # words of the text that must follow before free words count as ended; set by hand
_PIECES_A_WORD = 3  # at most, so that a model that repeats itself is stopped; set by hand
_SHORTEST = 3200  # samples, 0.2 s: silence is added to a shorter sound; set by hand
_FATAL_ONLY = 4  # onnxruntime's level of logging at which only fatal errors are written

Numbers = NDArray[np.float32]
_EMPTY = {
    f"past_key_values.{layer}.{side}.{part}": np.zeros((1, _HEADS, 0, _WIDTH), np.float32)
    for layer in range(_LAYERS)
    for side in ("decoder", "encoder")
    for part in ("key", "value")
}


class OnnxScorer:
    """A second ear whose model is read from `folder`. Raises ModelError if that is not possible."""

    def __init__(self, folder: str | Path) -> None:
        import onnxruntime

        self._folder = Path(folder)
        missing = [name for name in FILES if not (self._folder / name).is_file()]
        if missing:
            raise ModelError(
                f"{folder} cannot be the second ear: {missing[0]} is missing", "fetch it with: offbook setup"
            )
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = _FATAL_ONLY
        try:
            self.pieces = read_pieces(self._folder / PIECES)
            self.encoder, self.decoder = (
                onnxruntime.InferenceSession(
                    str(self._folder / name), options, providers=["CPUExecutionProvider"]
                )
                for name in (ENCODER, DECODER)
            )
        except Exception as e:  # onnxruntime's exceptions have no common class
            raise ModelError(
                f"the second ear's model at {folder} cannot be read", "fetch it again with: offbook setup"
            ) from e
        self.outputs = [o.name for o in self.decoder.get_outputs()]

    @property
    def name(self) -> str:
        """The name of the model's folder."""
        return self._folder.name

    def follow(self, pcm: bytes, words: Sequence[str]) -> Passage:
        """Take in a sound and the words that may be said in it; see `WordingScorer`."""
        samples = np.frombuffer(whole_samples(pcm), "<i2").astype(np.float32) / np.float32(FULL_SCALE)
        if samples.size < _SHORTEST:
            samples = np.pad(samples, (0, _SHORTEST - samples.size)).astype(np.float32)
        mask = np.ones((1, samples.size), np.int64)
        encoded = self.encoder.run(None, {"input_values": samples[None], "attention_mask": mask})[0]
        sound = {"encoder_attention_mask": mask, "encoder_hidden_states": encoded}
        return _OnnxPassage(self, sound, words)


class _OnnxPassage:
    """A sound with a text, as in `Passage`. sound: the output of the encoder, as inputs of the decoder."""

    def __init__(self, ear: OnnxScorer, sound: dict[str, Any], words: Sequence[str]) -> None:
        self._ear = ear
        self._encoded = sound
        pieces = [ear.pieces.numbers_of(w) for w in words]
        self._starts = [1, *(1 + n for n in np.cumsum([len(p) for p in pieces], dtype=int).tolist())]
        self._text = [BEGIN, *(n for p in pieces for n in p), ear.pieces.full_stop, END]
        self._words = tuple(words)
        self._all = self._decode_text()

    def _decode_text(self) -> Numbers:
        """The log probability of every piece at every step of the text, shape (steps, pieces).

        What the decoder has computed for the sound and for the text is kept for the other methods.
        """
        given = {
            **self._encoded,
            **_EMPTY,
            "input_ids": np.array([self._text[:-1]], np.int64),
            "use_cache_branch": np.array([False]),
        }
        made = dict(zip(self._ear.outputs, self._ear.decoder.run(None, given), strict=True))
        kept = {k.replace("present", "past_key_values"): v for k, v in made.items() if k != "logits"}
        self._sound = {k: v for k, v in kept.items() if ".encoder." in k}
        self._before = {k: v for k, v in kept.items() if ".decoder." in k}
        return _log_softmax(made["logits"][0])

    @property
    def log_probabilities(self) -> tuple[float, ...]:
        """The log probability of each word; see `Passage`."""
        steps = np.arange(len(self._text) - 1)
        each = self._all[steps, self._text[1:]]
        ends = zip(self._starts, self._starts[1:], strict=False)
        return tuple(float(each[a - 1 : b - 1].sum()) for a, b in ends)

    def rivals(self, word: int, most: int) -> tuple[Rival, ...]:
        """What may have been said in the place of a word; see `Passage`."""
        at = self._starts[word]
        row = self._all[at - 1]
        own = row[self._text[at]]
        found = []
        after = self._text[self._starts[word + 1]]
        likeliest = np.argpartition(-row, _LIKELIEST)[:_LIKELIEST].tolist()
        for number in sorted(likeliest, key=lambda n: (-row[n], n)):
            text = self._ear.pieces.text_of(number)
            if number == after != self._text[at]:
                found.append(Rival("", float(row[number] - own)))
            elif number != self._text[at] and text.startswith(SPACE) and text[1:].isalpha():
                found.append(Rival(text[1:], float(row[number] - own)))
        return tuple(found[:most])

    def reworded(self, start: int, end: int, words: Sequence[str]) -> Passage:
        """The same sound with another text; see `Passage`."""
        return _OnnxPassage(self._ear, self._encoded, (*self._words[:start], *words, *self._words[end:]))

    def free_words(self, start: int, end: int, most: int) -> tuple[str, ...] | None:
        """What the ear itself would write; see `Passage`."""
        anchor = [_letters(w) for w in self._words[end : end + _ANCHOR]]
        at = self._starts[start]
        before = {k: v[:, :, : at - 1] for k, v in self._before.items()}
        piece, text = self._text[at - 1], ""
        for _ in range(_PIECES_A_WORD * (most + len(anchor))):
            given = {
                **self._encoded,
                **self._sound,
                **before,
                "input_ids": np.array([[piece]], np.int64),
                "use_cache_branch": np.array([True]),
            }
            made = dict(zip(self._ear.outputs, self._ear.decoder.run(None, given), strict=True))
            before = {k.replace("present", "past_key_values"): v for k, v in made.items() if ".decoder." in k}
            piece = int(made["logits"][0, -1].argmax())
            if piece == END:
                words = _words_in(text)
                return words[:most] if not anchor else None
            text += self._ear.pieces.text_of(piece)
            words = _words_in(text)
            # The last word may still grow, so the anchor only counts once another word has begun after it.
            if anchor and words[-1 - len(anchor) : -1] == tuple(anchor):
                return words[: -1 - len(anchor)]
        return None

    def weigh(self, start: int, end: int, wordings: Sequence[Sequence[str]]) -> tuple[float, ...]:
        """How likely each wording is; see `Passage`."""
        after = self._text[self._starts[end] :][:_PIECES_AFTER]
        return tuple(self._log_probability(self._starts[start], wording, after) for wording in wordings)

    def _log_probability(self, at: int, wording: Sequence[str], after: Sequence[int]) -> float:
        """The log probability of a wording from piece `at` of the text on, with the pieces `after` it."""
        new = [n for w in wording for n in self._ear.pieces.numbers_of(w)] + list(after)
        given = {
            **self._encoded,
            **self._sound,
            **{k: v[:, :, : at - 1] for k, v in self._before.items()},
            "input_ids": np.array([[self._text[at - 1], *new[:-1]]], np.int64),
            "use_cache_branch": np.array([True]),
        }
        likely = _log_softmax(self._ear.decoder.run(["logits"], given)[0][0])
        return float(likely[np.arange(len(new)), new].sum())


def _letters(word: str) -> str:
    """A word in lower case, only with letters, figures and apostrophes."""
    return "".join(c for c in word.lower() if c.isalnum() or c == "'")


def _words_in(text: str) -> tuple[str, ...]:
    """The words of a text of pieces, without punctuation."""
    return tuple(filter(None, (_letters(w) for w in text.split(SPACE))))


def _log_softmax(scores: Numbers) -> Numbers:
    """The log probabilities of scores, row by row; they have the same shape."""
    top = scores.max(-1, keepdims=True)
    found: Numbers = scores - top - np.log(np.exp(scores - top).sum(-1, keepdims=True))
    return found
