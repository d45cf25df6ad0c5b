"""Packing: every word verdict of a run-through in a few bytes, and back.

Ten years of daily run-throughs are some 20 million verdicts. Kept as a row each they make a file
that is slow to copy; kept as one letter a word, the words that were heard otherwise, and a
compressed block of times they take about five bytes each and a whole run-through is read at once.
Times are kept to the millisecond and confidence to the thousandth, finer than the recogniser gives.
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
_NONE_TIME = np.iinfo(np.int32).min
_NONE_CONFIDENCE = 65535


def pack_verdicts(words: Sequence[WordVerdict]) -> tuple[str, str, bytes]:
    """`words` as (letters, heard as JSON, compressed times)."""
    letters = "".join(LETTER[w.verdict] for w in words)
    heard = {str(i): w.heard for i, w in enumerate(words) if w.heard != _as_script(w)}
    starts = _milliseconds([w.start for w in words])
    ends = _milliseconds([w.end for w in words])
    confidence = np.array(
        [_NONE_CONFIDENCE if w.confidence is None else round(w.confidence * 1000) for w in words], np.uint16
    )
    # Differences are small numbers, and small numbers compress well; overflow wraps there and back.
    with np.errstate(over="ignore"):
        block = np.diff(starts, prepend=np.int32(0)).tobytes() + (ends - starts).tobytes()
    return letters, json.dumps(heard, ensure_ascii=False), zlib.compress(block + confidence.tobytes(), 6)


def unpack(texts: Sequence[str], letters: str, heard: str, times: bytes) -> tuple[WordVerdict, ...]:
    """The verdicts again. texts: the script words of the version that was run."""
    n = len(letters)
    block = zlib.decompress(times)
    if len(block) != 10 * n or len(texts) != n:
        raise JournalError(
            "the times of a run-through do not fit its words",
            "the journal is damaged: restore a copy or import your last export",
        )
    with np.errstate(over="ignore"):
        starts = np.cumsum(np.frombuffer(block[: 4 * n], np.int32), dtype=np.int32)
        ends = starts + np.frombuffer(block[4 * n : 8 * n], np.int32)
    confidence = np.frombuffer(block[8 * n :], np.uint16)
    other: dict[str, str | None] = json.loads(heard)
    return tuple(
        WordVerdict(
            i,
            text,
            VERDICT[letter],
            other[str(i)] if str(i) in other else plain_spelling(text),
            _seconds(starts[i]),
            _seconds(ends[i]),
            None if confidence[i] == _NONE_CONFIDENCE else float(confidence[i]) / 1000,
        )
        for i, (text, letter) in enumerate(zip(texts, letters, strict=True))
    )


def pack_extras(extras: Sequence[Extra]) -> str:
    """Heard words that stand for no script word, as JSON rows."""
    rows = [[e.before_word, e.heard, e.start, e.end, e.confidence] for e in extras]
    return json.dumps(rows, ensure_ascii=False)


def unpack_extras(text: str) -> tuple[Extra, ...]:
    """What `pack_extras` wrote."""
    return tuple(Extra(*row) for row in json.loads(text))


def pack_told(told: Circumstances) -> str | None:
    """What is known of a run-through besides its words, as JSON; None for nothing."""
    if told == Circumstances():
        return None
    rows = {
        "prompts": [astuple(p) for p in told.prompts],
        "pick_ups": [astuple(p) for p in told.pick_ups],
        "reasons": [astuple(r) for r in told.reasons],
    }
    return json.dumps(rows, ensure_ascii=False)


def unpack_told(text: str | None) -> Circumstances:
    """What `pack_told` wrote."""
    rows = {} if text is None else json.loads(text)
    return Circumstances(
        tuple(PromptGiven(*row) for row in rows.get("prompts", ())),
        tuple(CuePickedUp(*row) for row in rows.get("pick_ups", ())),
        tuple(Reason(*row) for row in rows.get("reasons", ())),
    )


def _as_script(w: WordVerdict) -> str | None:
    return plain_spelling(w.text)


def _milliseconds(times: list[float | None]) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    return np.array([_NONE_TIME if t is None else round(t * 1000) for t in times], np.int32)


def _seconds(ms: np.int32) -> float | None:
    return None if ms == _NONE_TIME else int(ms) / 1000
