"""A second ear that runs with onnxruntime: an encoder of sound and a decoder of word pieces.

The decoder is never let go by itself: it is given the text piece by piece, as teachers of such models do it
("teacher forcing"), and its probabilities for the next piece are read off. Where another wording is tried,
only the pieces from its beginning to a few behind it are gone over again; what the model has made of the
sound and of the text before is kept. Everything runs on one thread, so that the first ear has the other core
and the same sound and text always give the same numbers.
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

ENCODER, DECODER, PIECES = "encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"
FILES = (ENCODER, DECODER, PIECES)
_LAYERS, _HEADS, _WIDTH = 6, 8, 36  # of the decoder, as its inputs have them
# Pieces behind a wording that are gone over with it: what comes later says no more of it than noise.
_BEHIND = 5
# Beginnings looked at for rivals: so many of the likeliest pieces.
_LIKELIEST = 12
_ANCHOR = 2  # words behind a place by which its own free words are known to have ended
_PIECES_A_WORD = 3  # at most, so that a model that goes round in circles is stopped
_SHORTEST = 3200  # samples, 0.2 s: shorter sound is filled up with silence

Numbers = NDArray[np.float32]
_EMPTY = {
    f"past_key_values.{layer}.{side}.{part}": np.zeros((1, _HEADS, 0, _WIDTH), np.float32)
    for layer in range(_LAYERS)
    for side in ("decoder", "encoder")
    for part in ("key", "value")
}


class OnnxScorer:
    """A model of three files read from `folder`. Raises ModelError where it cannot be read."""

    def __init__(self, folder: str | Path) -> None:
        import onnxruntime

        self._folder = Path(folder)
        missing = [name for name in FILES if not (self._folder / name).is_file()]
        if missing:
            raise ModelError(
                f"{folder} cannot be the second ear: it lacks {missing[0]}", "fetch it with: offbook setup"
            )
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 4
        try:
            self.pieces = read_pieces(self._folder / PIECES)
            self.encoder, self.decoder = (
                onnxruntime.InferenceSession(
                    str(self._folder / name), options, providers=["CPUExecutionProvider"]
                )
                for name in (ENCODER, DECODER)
            )
        except Exception as e:  # the runtime raises classes of its own, outside any one root
            raise ModelError(
                f"the second ear's model at {folder} cannot be read", "fetch it again with: offbook setup"
            ) from e
        self.outputs = [o.name for o in self.decoder.get_outputs()]

    @property
    def name(self) -> str:
        return self._folder.name

    def follow(self, pcm: bytes, words: Sequence[str]) -> Passage:
        samples = np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2").astype(np.float32) / np.float32(32768)
        if samples.size < _SHORTEST:
            samples = np.pad(samples, (0, _SHORTEST - samples.size)).astype(np.float32)
        mask = np.ones((1, samples.size), np.int64)
        encoded = self.encoder.run(None, {"input_values": samples[None], "attention_mask": mask})[0]
        sound = {"encoder_attention_mask": mask, "encoder_hidden_states": encoded}
        return _OnnxPassage(self, sound, words)


class _OnnxPassage:
    def __init__(self, ear: OnnxScorer, sound: dict[str, Any], words: Sequence[str]) -> None:
        self._ear = ear
        self._always = sound  # what the encoder makes of it
        pieces = [ear.pieces.numbers_of(w) for w in words]
        self._starts = [1, *(1 + n for n in np.cumsum([len(p) for p in pieces], dtype=int).tolist())]
        self._text = [BEGIN, *(n for p in pieces for n in p), ear.pieces.full_stop, END]
        self._words = tuple(words)
        self._all = self._first()

    def _first(self) -> Numbers:
        """Go over the whole text: the log probability of every piece at every step, (steps, pieces)."""
        given = {
            **self._always,
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
    def sure(self) -> tuple[float, ...]:
        steps = np.arange(len(self._text) - 1)
        each = self._all[steps, self._text[1:]]
        ends = zip(self._starts, self._starts[1:], strict=False)
        return tuple(float(each[a - 1 : b - 1].sum()) for a, b in ends)

    def rivals(self, word: int, most: int) -> tuple[Rival, ...]:
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
        return _OnnxPassage(self._ear, self._always, (*self._words[:start], *words, *self._words[end:]))

    def freely(self, start: int, end: int, most: int) -> tuple[str, ...] | None:
        anchor = [_letters(w) for w in self._words[end : end + _ANCHOR]]
        at = self._starts[start]
        before = {k: v[:, :, : at - 1] for k, v in self._before.items()}
        piece, text = self._text[at - 1], ""
        for _ in range(_PIECES_A_WORD * (most + len(anchor))):
            given = {
                **self._always,
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
            # The last word may still be growing, so the anchor counts once another word has begun behind it.
            if anchor and words[-1 - len(anchor) : -1] == tuple(anchor):
                return words[: -1 - len(anchor)]
        return None

    def weigh(self, start: int, end: int, wordings: Sequence[Sequence[str]]) -> tuple[float, ...]:
        behind = self._text[self._starts[end] :][:_BEHIND]
        return tuple(self._one(self._starts[start], wording, behind) for wording in wordings)

    def _one(self, at: int, wording: Sequence[str], behind: Sequence[int]) -> float:
        new = [n for w in wording for n in self._ear.pieces.numbers_of(w)] + list(behind)
        given = {
            **self._always,
            **self._sound,
            **{k: v[:, :, : at - 1] for k, v in self._before.items()},
            "input_ids": np.array([[self._text[at - 1], *new[:-1]]], np.int64),
            "use_cache_branch": np.array([True]),
        }
        likely = _log_softmax(self._ear.decoder.run(["logits"], given)[0][0])
        return float(likely[np.arange(len(new)), new].sum())


def _letters(word: str) -> str:
    return "".join(c for c in word.lower() if c.isalnum() or c == "'")


def _words_in(text: str) -> tuple[str, ...]:
    return tuple(filter(None, (_letters(w) for w in text.split(SPACE))))


def _log_softmax(scores: Numbers) -> Numbers:
    """Log probabilities of scores, row by row."""
    top = scores.max(-1, keepdims=True)
    found: Numbers = scores - top - np.log(np.exp(scores - top).sum(-1, keepdims=True))
    return found
