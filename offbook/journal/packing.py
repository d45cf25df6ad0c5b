"""The verdicts of a run-through, packed into a few bytes for each word, and unpacked again.

Ten years of daily run-throughs have about 20 million verdicts. With a row for each of them the file would
be slow to copy. So a run-through is stored as one letter for each word, the words that were heard
differently, and a compressed block of times: about five bytes for each word, and all of it is read at once.
Times are rounded to the millisecond and confidences to the thousandth, which is finer than what the
recogniser gives.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Sequence
from dataclasses import astuple

import numpy as np

from offbook.errors import JournalError
from offbook.records import Circumstances, CuePickedUp, PromptGiven, Reason
from offbook.score import Extra, Verdict, WordVerdict
from offbook.spelling import plain_spelling

LETTER: dict[Verdict, str] = {"said": "s", "unsure": "u", "changed": "c", "dropped": "d"}
VERDICT: dict[str, Verdict] = {letter: verdict for verdict, letter in LETTER.items()}
_NONE_TIME = np.iinfo(np.int32).min  # stands for no time: the least value of its type
_NONE_CONFIDENCE = np.iinfo(np.uint16).max  # stands for no confidence: the greatest value of its type
_MILLISECONDS = 1000  # in a second
_THOUSANDTHS = 1000  # the confidence of 1
_TIME_BYTES, _CONFIDENCE_BYTES = 4, 2  # of one stored value: int32 and uint16
_WORD_BYTES = 2 * _TIME_BYTES + _CONFIDENCE_BYTES  # a start, a length and a confidence
_ZLIB_LEVEL = 6  # zlib's own default; a change would alter the bytes by which a run-through is recognised


def pack_verdicts(words: Sequence[WordVerdict]) -> tuple[str, str, bytes]:
    """The verdicts, packed: their letters, what was heard as JSON, and the compressed times and confidences.

    The JSON has an entry, under the number of the word, only if something else than the word was heard.
    """
    letters = "".join(LETTER[w.verdict] for w in words)
    heard = {str(i): w.heard for i, w in enumerate(words) if w.heard != _as_script(w)}
    starts = _milliseconds([w.start for w in words])
    ends = _milliseconds([w.end for w in words])
    confidence = np.array(
        [_NONE_CONFIDENCE if w.confidence is None else round(w.confidence * _THOUSANDTHS) for w in words],
        np.uint16,
    )
    # Differences between times are small numbers, which compress well. If one overflows, unpacking reverses
    # it.
    with np.errstate(over="ignore"):
        block = np.diff(starts, prepend=np.int32(0)).tobytes() + (ends - starts).tobytes()
    return (
        letters,
        json.dumps(heard, ensure_ascii=False),
        zlib.compress(block + confidence.tobytes(), _ZLIB_LEVEL),
    )


def unpack(texts: Sequence[str], letters: str, heard: str, times: bytes) -> tuple[WordVerdict, ...]:
    """The verdicts that `pack_verdicts` packed. texts: the words of the draft that was run through.

    Raises JournalError if they do not belong together, zlib.error if the block is damaged.
    """
    n = len(letters)
    block = zlib.decompress(times)
    if len(block) != _WORD_BYTES * n or len(texts) != n:
        raise JournalError(
            "the stored times of a run-through do not match its words",
            "the journal is damaged: put back a copy of it, or import your last export",
        )
    lengths_at = _TIME_BYTES * n
    confidence_at = lengths_at + _TIME_BYTES * n
    with np.errstate(over="ignore"):
        starts = np.cumsum(np.frombuffer(block[:lengths_at], np.int32), dtype=np.int32)
        ends = starts + np.frombuffer(block[lengths_at:confidence_at], np.int32)
    confidence = np.frombuffer(block[confidence_at:], np.uint16)
    other: dict[str, str | None] = json.loads(heard)
    return tuple(
        WordVerdict(
            i,
            text,
            VERDICT[letter],
            other[str(i)] if str(i) in other else plain_spelling(text),
            _seconds(starts[i]),
            _seconds(ends[i]),
            None if confidence[i] == _NONE_CONFIDENCE else float(confidence[i]) / _THOUSANDTHS,
        )
        for i, (text, letter) in enumerate(zip(texts, letters, strict=True))
    )


def pack_extras(extras: Sequence[Extra]) -> str:
    """The words that were heard and belong to no script word, as JSON."""
    rows = [[e.before_word, e.heard, e.start, e.end, e.confidence] for e in extras]
    return json.dumps(rows, ensure_ascii=False)


def unpack_extras(text: str) -> tuple[Extra, ...]:
    """The words that `pack_extras` packed."""
    return tuple(Extra(*row) for row in json.loads(text))


def pack_told(told: Circumstances) -> str | None:
    """What is known about a run-through besides its words, as JSON; None if nothing is."""
    if told == Circumstances():
        return None
    rows = {
        "prompts": [astuple(p) for p in told.prompts],
        "pick_ups": [astuple(p) for p in told.pick_ups],
        "reasons": [astuple(r) for r in told.reasons],
    }
    return json.dumps(rows, ensure_ascii=False)


def unpack_told(text: str | None) -> Circumstances:
    """What `pack_told` packed; nothing is known if `text` is None."""
    rows = {} if text is None else json.loads(text)
    return Circumstances(
        tuple(PromptGiven(*row) for row in rows.get("prompts", ())),
        tuple(CuePickedUp(*row) for row in rows.get("pick_ups", ())),
        tuple(Reason(*row) for row in rows.get("reasons", ())),
    )


def _as_script(w: WordVerdict) -> str | None:
    return plain_spelling(w.text)


def _milliseconds(times: list[float | None]) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    return np.array([_NONE_TIME if t is None else round(t * _MILLISECONDS) for t in times], np.int32)


def _seconds(ms: np.int32) -> float | None:
    return None if ms == _NONE_TIME else int(ms) / _MILLISECONDS
