"""The review of a take on a synthesiser's voice (Debian's `espeak-ng`), told to be flat, to pause, or to
rise.

Every word is spoken by itself and trimmed, so that its times are known and nothing but what the test asks
for marks a shift. Human readings are in `bench/delivery.py`.
"""

from __future__ import annotations

import io
import subprocess
import wave
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray

from offbook.delivery import MarkedShift, SpokenWord, TakeReview, review_delivery
from offbook.sampling import SAMPLE_RATE
from offbook.timing import seconds_of, token_syllables

SAID = (
    "nobody came that night and still we kept the lamp alight until the morning "
    "my father wrote it in the book he never told us what he saw out there "
    "now every winter someone asks me why we carry all that oil for no one "
    "tell them the harbour is a promise and a promise must be kept"
)
TEXT = SAID.split()
SHIFTS = [14, 29, 43]  # where a thought begins
USUAL_PITCH, HIGHER = 20, 85  # of espeak-ng's scale from 0 to 99
PAUSE = 0.5  # s


@lru_cache(maxsize=256)
def said(word: str, pitch: int) -> NDArray[np.float32]:
    """One word on one level tone, without the silence around it."""
    level = f'<speak><prosody range="0">{word}</prosody></speak>'
    call = ["espeak-ng", "-v", "en-gb", "-p", str(pitch), "-m", "-z", "--stdout", level]
    data = subprocess.run(call, check=True, capture_output=True).stdout
    with wave.open(io.BytesIO(data)) as file:
        spoken_at = file.getframerate()
        given = np.frombuffer(file.readframes(1 << 24), "<i2") / 32768
    at = np.arange(0, len(given), spoken_at / SAMPLE_RATE)
    sound = np.interp(at, np.arange(len(given)), given).astype(np.float32)
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    return sound[loud[0] : loud[-1] + 1]


def spoken(pauses: Sequence[int] = (), rises: Sequence[int] = ()) -> TakeReview:
    """The text said with a pause before these words, or with the pitch up there and coming down in four
    words."""
    parts: list[NDArray[np.float32]] = [np.zeros(SAMPLE_RATE // 4, np.float32)]
    words, at, up = [], 0.25, 0
    for i, word in enumerate(TEXT):
        if i in pauses:
            parts.append(np.zeros(round(PAUSE * SAMPLE_RATE), np.float32))
            at += PAUSE
        up = HIGHER - USUAL_PITCH if i in rises else max(0, up - 16)
        sound = said(word, USUAL_PITCH + up)
        end = at + len(sound) / SAMPLE_RATE
        words.append(SpokenWord(i, at, end, seconds_of(word, False), token_syllables(word)))
        parts.append(sound)
        at = end
    parts.append(np.zeros(SAMPLE_RATE // 4, np.float32))
    shifts = [MarkedShift(i, 2, "a new thought") for i in SHIFTS]
    return review_delivery(np.concatenate(parts), SAMPLE_RATE, words, shifts, word_count=len(TEXT))


@pytest.mark.heavy
def test_in_flat_synthesised_speech_without_pauses_no_shift_is_heard() -> None:
    assert [s.audible for s in spoken().shifts] == ["not heard"] * 3


@pytest.mark.heavy
def test_synthesised_shifts_marked_only_by_pauses_are_heard_by_their_pauses() -> None:
    found = spoken(pauses=SHIFTS).shifts
    assert [s.audible for s in found] == ["heard"] * 3
    assert [s.carried_by[0] for s in found] == ["pause"] * 3
    assert all("pitch" not in s.carried_by for s in found)


@pytest.mark.heavy
def test_synthesised_shifts_marked_only_by_pitch_are_reported_by_their_pitch() -> None:
    found = spoken(rises=SHIFTS).shifts
    assert all(s.audible in ("heard", "slight") for s in found)
    assert [s.carried_by[:1] for s in found] == [("pitch",)] * 3
    assert all(s.cues is not None and s.cues.pause < 0.1 for s in found)
