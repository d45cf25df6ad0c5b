"""Verdicts in a bad sound: where one hearing had the script's words, a slip does not count.

In noise or an echoing room the weighing of a doubtful place loses its edge: the script's wording often
does not come back from it at all, and the rival wins by default. A false note on a word that was said
costs more trust than one word left unsure, so such slips become unsure there. What no hearing had as
written stays a slip. Figures in `docs/sound.md`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from offbook.audio import ECHO_SECONDS, SoundReport
from offbook.hear.decide import Weighed, same
from offbook.hear.rescore import Settled
from offbook.score import TIE, Run, WordVerdict, decided

# Measured ratio, dB, below which verdicts are softened. Readings with 10 dB of noise by ITU-T P.56 measure
# 16 to 17 in a crowd, 18 in a hall and up to 20 in traffic; a crowd 20 dB below measures 24.
DOUBTFUL_SNR_DB = 22.0
_LITTLE = 0.5  # confidence of a tie


def doubtful(sound: SoundReport) -> bool:
    """Whether the background or the room is in the way of the verdicts."""
    return sound.snr < DOUBTFUL_SNR_DB or (sound.decay is not None and sound.decay > ECHO_SECONDS)


def doubt(run: Run, settled: Sequence[Settled], sound: SoundReport, votes: int = 1) -> Run:
    """`run` with the slips unsure that only a bad sound speaks for; in a good sound it is left as it is.

    settled: what was weighed on the way. votes: of the three hearings of a place, how many must have
    had the script's words for its slips to become unsure.
    """
    if not doubtful(sound):
        return run
    open_words = {
        i
        for each in settled
        for w in each.weighed
        if _votes(w) >= votes
        for i in range(w.script_from, w.script_to)
    }
    return replace(run, words=tuple(_softened(w) if w.i in open_words else w for w in run.words))


def _votes(place: Weighed) -> int:
    return sum(bool(h) and same(h, place.script) for h in (place.free, place.lean, place.contest))


def _softened(word: WordVerdict) -> WordVerdict:
    if word.verdict not in ("changed", "dropped"):
        return word
    sure = _LITTLE if word.confidence is None else min(word.confidence, TIE)
    told = "the background or the room is too loud to be sure, and one hearing had the script's word"
    confidence = sure if word.heard is not None else None
    return decided(word, "poor sound", told, verdict="unsure", confidence=confidence)
