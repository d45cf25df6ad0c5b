"""Which published method measures pitch best: on sounds whose pitch is known, and against Praat on people.

    python bench/pitch.py FOLDER

FOLDER has recordings of people. Three methods are compared: SwiftF0 as offbook uses it (MIT licence; its
frames are moved to the nearest peak of the sound's autocorrelation), YAAPT from the package `AMFM-decompy`
(MIT), and Harvest with StoneMask from the package `pyworld` (MIT, uses WORLD, modified BSD). offbook does
not depend on the last two: run `pip install AMFM-decompy pyworld` first; one that is missing is left out,
and the bench says so. Praat (GPL) runs as a program of its own: autocorrelation, 60 to 600 Hz, a frame
every 10 ms.

For each method it prints the largest error in cents on steady and gliding tones, in the middle of each
sound. For each recording it prints the share of the frames that both call voiced in which the pitch is at
most half a semitone from Praat's, the share of Praat's voiced frames that the method also calls voiced, and
the processor time for each second of sound.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from offbook import audio
from offbook.delivery.pitch import HIGHEST_HZ, LOWEST_HZ, pitch_track
from offbook.sampling import SAMPLE_RATE
from tests.praat import harmonic_tone, pitch_by_praat

Track = tuple[NDArray[np.float64], NDArray[np.float64]]  # s, and semitones above 1 Hz, NaN where unvoiced
Method = Callable[[NDArray[np.float32]], Track]
SOUNDS = (".wav", ".flac", ".mp3", ".ogg", ".m4a")
TONES = (70.0, 82.41, 110.0, 146.83, 196.0, 261.63, 349.23, 440.0, 523.25)  # Hz, equal temperament, ISO 16
GLIDES = ((90.0, 180.0), (220.0, 110.0), (150.0, 300.0), (400.0, 200.0))  # Hz, in one second


def swift(samples: NDArray[np.float32]) -> Track:
    """The method that offbook uses."""
    track = pitch_track(samples, SAMPLE_RATE)
    return track.at, track.semitones


def yaapt(samples: NDArray[np.float32]) -> Track:
    """YAAPT (S. Zahorian & H. Hu, J. Acoust. Soc. Am. 123, 2008), with the package's own settings."""
    from amfm_decompy import basic_tools, pYAAPT

    signal = basic_tools.SignalObj(samples.astype(np.float64), SAMPLE_RATE)
    found = pYAAPT.yaapt(signal, f0_min=LOWEST_HZ, f0_max=HIGHEST_HZ)
    return np.asarray(found.frames_pos / SAMPLE_RATE), semitones(np.asarray(found.samp_values))


def harvest(samples: NDArray[np.float32]) -> Track:
    """Harvest (M. Morise, Interspeech 2017), refined by StoneMask; voiced according to D4C's love train."""
    import pyworld

    sound = samples.astype(np.float64)
    rough, at = pyworld.harvest(sound, SAMPLE_RATE, f0_floor=LOWEST_HZ, f0_ceil=HIGHEST_HZ, frame_period=10.0)
    exact = pyworld.stonemask(sound, rough, at, SAMPLE_RATE)
    silent = (
        pyworld.d4c(sound, exact, at, SAMPLE_RATE).mean(axis=1) > 0.999
    )  # D4C gives 1 where it finds no voice
    return np.asarray(at), semitones(np.where(silent, 0.0, exact))


def semitones(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Semitones above 1 Hz; NaN without a pitch."""
    with np.errstate(divide="ignore"):
        return np.where(hz > 0, 12 * np.log2(np.where(hz > 0, hz, 1.0)), np.nan)


METHODS: dict[str, tuple[Method, str | None]] = {
    "SwiftF0": (swift, None),
    "YAAPT": (yaapt, "amfm_decompy"),
    "Harvest": (harvest, "pyworld"),
}


def samples_of(path: Path) -> NDArray[np.float32]:
    """A recording as offbook hears it."""
    return (np.frombuffer(b"".join(audio.pcm(path)), "<i2") / 32768).astype(np.float32)


def cents_off(method: Method, begin: float, end: float) -> float:
    """The largest error in cents on a sound of 1 s that glides evenly between two pitches.

    It is measured from 0.15 to 0.85 s.
    """
    steps = np.linspace(0, 1, SAMPLE_RATE)
    at, found = method(harmonic_tone(begin * (end / begin) ** steps))
    inside = (at > 0.15) & (at < 0.85)
    expected = 12 * math.log2(begin) + 12 * math.log2(end / begin) * at[inside]
    off = 100 * np.abs(found[inside] - expected)
    return float(np.nanmax(off)) if np.isfinite(off).any() else math.inf


def _praat(samples: NDArray[np.float32], folder: Path) -> Track:
    """The pitch that Praat measures: the middle of each frame, s, and semitones above 1 Hz, or NaN."""
    at, hz = pitch_by_praat(samples, folder)
    return at, semitones(np.nan_to_num(hz))


def against(track: Track, theirs: Track) -> tuple[float, float]:
    """The share of frames within half a semitone, of those that both call voiced; and the share of Praat's
    that are voiced.

    Praat's pitch is interpolated between its frames, if both neighbours are voiced, to the times of the
    method's frames.
    """
    mine = np.isfinite(track[1])
    there = np.interp(track[0], *theirs)  # NaN where a neighbour is
    both = mine & np.isfinite(there)
    close = np.abs(track[1][both] - there[both]) <= 0.5
    return float(close.mean()), float(both.sum() / np.isfinite(there).sum())


def main() -> None:
    """Print the figures."""
    warnings.simplefilter("ignore")  # of the packages about their own arithmetic
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("folder", type=Path)
    sounds = sorted(p for p in asked.parse_args().folder.iterdir() if p.suffix in SOUNDS)
    people = {p.stem: samples_of(p) for p in sounds}
    with tempfile.TemporaryDirectory() as folder:
        theirs = {name: _praat(samples, Path(folder)) for name, samples in people.items()}
    for name, (method, package) in METHODS.items():
        if package is not None and importlib.util.find_spec(package) is None:
            print(f"{name}: not installed, left out")
            continue
        tones = max(cents_off(method, hz, hz) for hz in TONES)
        glides = max(cents_off(method, a, b) for a, b in GLIDES)
        print(f"{name}: tones within {tones:.1f} cents, glides within {glides:.1f} cents")
        began, seconds = time.process_time(), 0.0
        tracks = {}
        for person, samples in people.items():
            tracks[person] = method(samples)
            seconds += len(samples) / SAMPLE_RATE
        spent = time.process_time() - began
        for person, track in tracks.items():
            close, found = against(track, theirs[person])
            print(f"  {person:10} within half a semitone {close:.1%}, of Praat's voiced frames {found:.0%}")
        print(f"  {1000 * spent / seconds:.0f} ms of processor time for each second of sound")


if __name__ == "__main__":
    main()
