"""Word times, against a recording whose times are known because it was put together word by word."""

from __future__ import annotations

import shutil
import statistics
import subprocess
import wave
from pathlib import Path

import numpy as np
import pytest

from offbook.audio import pcm as pcm_of
from offbook.hear.decide import slice_of
from offbook.hear.listener import hear
from offbook.models import model_folder
from offbook.recognise import VoskRecogniser
from offbook.sampling import SAMPLE_RATE
from offbook.script import parse_script
from offbook.words import words_of
from tests.recordings import two_cities

TEXT = """The river ran behind the silver mill
and every candle in the window burned
until the morning came across the field
with bread and letters from the harbour wall
"""
_AUDIBLE = 300  # of 32,767: where a word begins and ends
_MOST = 0.060  # s


def spoken(word: str, folder: Path) -> np.ndarray:
    """One word by the synthesiser, its silences cut off, at the recogniser's rate."""
    if shutil.which("espeak-ng") is None:
        pytest.fail("espeak-ng is missing: apt-get install espeak-ng")
    path = folder / f"{word}.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-s", "140", "-w", str(path), word], check=True)
    with wave.open(str(path)) as found:
        rate, samples = found.getframerate(), np.frombuffer(found.readframes(found.getnframes()), "<i2")
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > _AUDIBLE)
    samples = samples[loud[0] : loud[-1] + 1].astype(np.float64)
    at = np.arange(0, len(samples) - 1, rate / SAMPLE_RATE)
    resampled: np.ndarray = np.interp(at, np.arange(len(samples)), samples).astype("<i2")
    return resampled


@pytest.mark.model
def test_the_median_error_of_the_start_of_a_word_is_at_most_sixty_milliseconds(tmp_path: Path) -> None:
    """A synthesised recording with 0.12 s between words and 0.5 s between lines."""
    script = parse_script(TEXT)
    words = words_of(script)
    parts, begins, at = [], [], 0.0
    for k, word in enumerate(words):
        gap = 0.5 if k == 0 or words[k - 1].line != word.line else 0.12
        sound = spoken(word.text.lower(), tmp_path)
        parts += [np.zeros(int(gap * SAMPLE_RATE), "<i2"), sound]
        begins.append(at + gap)
        at += int(gap * SAMPLE_RATE) / SAMPLE_RATE + len(sound) / SAMPLE_RATE
    pcm = np.concatenate([*parts, np.zeros(SAMPLE_RATE, "<i2")]).tobytes()
    run = hear(words, [pcm], VoskRecogniser(model_folder()), lines=script.lines)
    errors = [abs(w.start - b) for w, b in zip(run.words, begins, strict=True) if w.start is not None]
    assert len(errors) > 0.8 * len(words)
    assert statistics.median(errors) <= _MOST


@pytest.mark.model
def test_the_first_and_the_last_word_of_a_tightly_cut_recording_are_heard() -> None:
    """A real reading cut where each of its lines was heard to begin and to end, no silence left."""
    recording, text = two_cities()
    script = parse_script(text)
    words, recogniser = words_of(script), VoskRecogniser(model_folder())
    sound = b"".join(pcm_of(recording))
    whole = hear(words, [sound], recogniser, lines=script.lines)
    for line in script.lines:
        said = [w for w, word in zip(whole.words, words, strict=True) if word.line == line.n]
        begins, ends = said[0].start, said[-1].end
        assert begins is not None and ends is not None
        alone = parse_script(" ".join(w.text for w in said) + "\n")
        cut = slice_of(sound, begins, ends)
        run = hear(words_of(alone), [cut], recogniser, lines=alone.lines)
        assert (run.words[0].verdict, run.words[-1].verdict) == ("said", "said"), line.text
